"""The discrete operator: judged by a direct sparse solve, exact identities, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from chamber_flows import BENCH_BOXES
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.linalg import spsolve
from transport_flows import (
    bench_field,
    bench_problem,
    circling,
    closed_box,
    even_flow,
    matrix,
    one_cell,
    rich_problem,
)

from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import solve_field
from flowsim.errors import ConvergenceError, RangeError
from flowsim.transport import system as system_module
from flowsim.transport.faces import FaceArrays, faces_of_solids, outer_faces, wall_faces
from flowsim.transport.operator import ELSEWHERE, SCHEMES, TransportProblem
from flowsim.transport.scalar import steady
from flowsim.transport.system import solve


@pytest.mark.parametrize("scheme", SCHEMES)
def test_solver_meets_a_direct_solve(scheme: str) -> None:
    problem = rich_problem(scheme)
    source = np.random.default_rng(1).random(problem.shape) * problem.field.grid.fluid
    for system in (problem.forward, problem.adjoint):
        found = solve(system, source)
        direct = spsolve(matrix(system).tocsc(), system.vector(source)[:-1])
        assert system.vector(found.values)[:-1] == pytest.approx(direct, rel=1e-10)
        assert found.residual <= 1e-13


@pytest.mark.parametrize("scheme", SCHEMES)
def test_adjoint_is_the_exact_transpose(scheme: str) -> None:
    problem = rich_problem(scheme)
    assert abs(matrix(problem.forward).T - matrix(problem.adjoint)).max() == 0.0


@pytest.mark.parametrize("scheme", SCHEMES)
def test_columns_sum_to_what_leaves_through_outer_faces(scheme: str) -> None:
    problem = rich_problem(scheme)
    column = np.asarray(matrix(problem.forward).sum(axis=0)).ravel()
    out = np.zeros(problem.field.grid.cells)
    np.add.at(out, problem.boundary.faces.cell, problem.boundary.out)
    expected = out[problem.forward.order.cells]
    assert column == pytest.approx(expected, abs=1e-14 * np.abs(problem.forward.rows).max())


def test_monotone_matrix_has_no_positive_neighbour() -> None:
    entries = matrix(rich_problem("monotone").forward).tocoo()
    assert (entries.data[entries.row != entries.col] <= 0.0).all()
    assert (entries.diagonal() > 0.0).all()


def test_plain_formula_of_one_inner_face() -> None:
    field = even_flow((5, 1, 1), (1.0, 1.0, 1.0), 2.0)
    upwind = matrix(TransportProblem(field, 0.3, scheme="monotone").forward).toarray()
    third = matrix(TransportProblem(field, 0.3).forward).toarray()
    # flux 2 m3/s, conductance 0.3 * 5; own derivation: 5/6, 1/3, -1/6 of the face values
    assert upwind[2] == pytest.approx([0.0, -3.5, 5.0, -1.5, 0.0])
    assert third[2] == pytest.approx([2.0 / 6, -3.5, 4.0, -1.5 + 2.0 / 3, 0.0])


@pytest.mark.parametrize("closure", ["volume", "stacked"])
@pytest.mark.parametrize("settling", [0.0, 0.05])
def test_potential_flow_forms_no_cycle(closure: str, settling: float) -> None:
    field = bench_field((20, 10, 12), closure, BENCH_BOXES if closure == "volume" else ())
    order = bench_problem(field, 1e-3, settling=settling).forward.order
    assert order.ordered == order.cells.size == np.count_nonzero(field.grid.fluid)
    assert order.largest_cycle == 1


def test_pure_advection_takes_one_sweep() -> None:
    problem = bench_problem(bench_field((20, 10, 12)), 0.0, scheme="monotone")
    found = solve(problem.forward, one_cell(problem, (8, 4, 9)))
    assert found.iterations <= 1


def test_each_cell_comes_after_those_that_feed_it() -> None:
    system = bench_problem(bench_field((12, 8, 9)), 0.0, scheme="monotone").forward
    rows, near = system.rows, system.near
    fed_by = near[(rows[:, 1:7] > 0.0)]
    owner = np.repeat(np.arange(len(rows)), (rows[:, 1:7] > 0.0).sum(axis=1))
    assert (fed_by < owner).all()


def test_circling_air_is_ordered_by_components() -> None:
    problem = TransportProblem(circling(12), 0.01)
    order = problem.forward.order
    assert 0 <= order.ordered < order.cells.size == 144
    assert order.largest_cycle > 10
    assert np.array_equal(np.sort(order.cells), np.arange(144))
    direct = spsolve(matrix(problem.forward).tocsc(), np.ones(144))
    found = solve(problem.forward, np.ones(problem.shape))
    assert problem.forward.vector(found.values)[:-1] == pytest.approx(direct, rel=1e-10)


@given(seed=st.integers(0, 10**6), spread=st.floats(1e-4, 1e-2), scheme=st.sampled_from(SCHEMES))
@settings(deadline=None, max_examples=10, derandomize=True)
def test_any_release_is_solved(seed: int, spread: float, scheme: str) -> None:
    problem = bench_problem(bench_field((9, 7, 8)), spread, scheme=scheme)
    source = np.random.default_rng(seed).random(problem.shape)
    residual = (
        matrix(problem.forward) @ problem.forward.vector(solve(problem.forward, source).values)[:-1]
    )
    expected = problem.forward.vector(source)[:-1]
    assert np.linalg.norm(residual - expected) <= 2e-13 * np.linalg.norm(expected)


def test_outer_faces_are_counted_with_solids() -> None:
    field = bench_field((13, 13, 15), boxes=BENCH_BOXES[2:])
    faces = outer_faces(field.grid)
    masks = faces_of_solids(field.grid)
    inside = sum(int(mask.sum()) for mask in masks.axes)
    assert faces.cell.size == 2 * (13 * 15 + 13 * 15 + 13 * 13) + inside
    assert field.grid.fluid.ravel()[faces.cell].all()
    assert np.count_nonzero(faces.read(masks)) == inside


def test_what_no_exit_takes_is_gathered() -> None:
    field = bench_field((8, 6, 7))
    named = TransportProblem(field, 1e-3, exits={"front": wall_faces(field.grid, "front")})
    assert named.exit_names == ("front", ELSEWHERE)
    assert bench_problem(field, 1e-3).exit_names == ("front", "floor")


def _bad(**more: object) -> TransportProblem:
    values: dict[str, object] = {"field": bench_field((4, 4, 4)), "diffusivity": 1e-3, **more}
    return TransportProblem(**values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"scheme": "best"}, "unknown scheme 'best'"),
        ({"settling": -1.0}, "settling velocity must not be negative"),
        ({"settling": float("nan")}, "settling velocity"),
        ({"diffusivity": -1.0}, "not negative everywhere"),
        ({"diffusivity": np.ones((2, 2, 2))}, "must have shape"),
        ({"exits": {ELSEWHERE: None}}, "kept for what leaves"),
        ({"exits": {"a": FaceArrays(*[np.ones((1, 1, 1))] * 3)}}, "exit 'a': faces along x"),
        ({"exchange": FaceArrays(*[np.ones((1, 1, 1))] * 3)}, "exchange: faces along x"),
    ],
)
def test_impossible_problems_are_refused(more: dict[str, object], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        _bad(**more)


def test_negative_deposition_is_refused() -> None:
    field = bench_field((4, 4, 4))
    with pytest.raises(RangeError, match="deposition: values must be finite and not negative"):
        TransportProblem(field, 1e-3, deposition=wall_faces(field.grid, "left", -1.0))


def test_overlapping_exits_are_refused() -> None:
    field = bench_field((4, 4, 4))
    front = wall_faces(field.grid, "front")
    with pytest.raises(RangeError, match="exits overlap"):
        _ = TransportProblem(field, 1e-3, exits={"a": front, "b": front}).exit_shares


def test_air_that_rests_and_does_not_mix_is_refused() -> None:
    field = closed_box((3, 3, 3), (1.0, 1.0, 1.0))
    drain = wall_faces(field.grid, "left", 1.0)
    problem = TransportProblem(field, 0.0, exchange=drain)
    with pytest.raises(RangeError, match=r"around cell .* or a diffusivity above 0"):
        steady(problem, 0.0, problem.volume)


def test_a_closed_box_has_no_steady_state() -> None:
    problem = TransportProblem(closed_box((3, 4, 5), (1.0, 1.0, 1.0)), 1e-3)
    with pytest.raises(RangeError, match="no steady state"):
        steady(problem, 0.0, problem.volume)
    with pytest.raises((RangeError, ConvergenceError), match=r"in cell \[|around cell \["):
        solve(problem.forward, problem.volume)


def test_a_pocket_shut_in_by_solids_has_no_steady_state() -> None:
    grid = Grid(6, 6, 6, 1.0, 1.0, 1.0)
    solid = np.zeros(grid.shape, dtype=np.bool_)
    solid[1:4, 1:4, 1:4] = True
    solid[2, 2, 2] = False
    grid = Grid(6, 6, 6, 1.0, 1.0, 1.0, solid)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0, 1, 0, 1))
    add_wall_flux(flux, grid, "floor", wall_patch(grid, "floor", 0, 1, 0, 1), inward=False)
    problem = TransportProblem(solve_field(grid, flux, "volume"), 1e-3)
    with pytest.raises(RangeError, match=r"around cell \[2, 2, 2\]"):
        steady(problem, 1.0)


def test_too_few_iterations_are_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system_module, "_MOST_ITERATIONS", 1)
    problem = bench_problem(bench_field((12, 8, 9)), 1e-2)
    with pytest.raises(ConvergenceError, match=r"did not converge: residual .* worst in cell \["):
        steady(problem, 0.0, problem.volume)
