"""Steady and transient concentration: what enters leaves, ages, symmetry, order in time."""

from __future__ import annotations

import numpy as np
import pytest
from chamber_flows import BENCH_BOXES, bench
from transport_flows import (
    absorbing,
    bench_field,
    bench_problem,
    even_flow,
    matrix,
    one_cell,
    orders,
    rich_problem,
)

from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.potential import solve_field
from flowsim.errors import RangeError
from flowsim.transport.faces import wall_faces
from flowsim.transport.operator import SCHEMES, TransportProblem
from flowsim.transport.scalar import entering, exit_flows, mean_age, steady
from flowsim.transport.transient import transient


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("boxes", [(), BENCH_BOXES])
def test_what_enters_leaves(scheme: str, boxes: tuple[object, ...]) -> None:
    problem = rich_problem(scheme, boxes)  # type: ignore[arg-type]
    source = one_cell(problem, (15, 9, 9))
    inflow = wall_faces(problem.field.grid, "ceiling", 3.0)
    left = sum(exit_flows(problem, steady(problem, inflow, source)).values())
    came = 1.0 + float(entering(problem, inflow).sum())
    assert left == pytest.approx(came, rel=1e-9)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("closure", ["volume", "stacked"])
def test_even_air_stays_even(scheme: str, closure: str) -> None:
    problem = bench_problem(bench_field((14, 10, 11), closure), 1e-3, scheme=scheme)
    assert steady(problem, 2.0) == pytest.approx(np.full(problem.shape, 2.0), rel=1e-9)


def test_air_comes_back_in_by_exchange_only() -> None:
    field = bench_field((14, 10, 11))
    room = wall_faces(field.grid, "front", 1.0)
    assert np.abs(steady(bench_problem(field, 1e-3), room)).max() == 0.0
    exchange = wall_faces(field.grid, "front", 1e-5)
    problem = bench_problem(field, 1e-3, exchange=exchange)
    share = steady(problem, room)
    flows = exit_flows(problem, share)
    # flux mean of room air over all exits: what entered over what left
    came = 1e-5 * 14 * 11
    out = problem.boundary.out.sum()
    assert sum(flows.values()) / out == pytest.approx(came / out, rel=1e-9)
    assert 0.0 < share.max() < 1.0


@pytest.mark.parametrize("scheme", SCHEMES)
def test_mean_age_of_what_leaves_is_volume_over_flow(scheme: str) -> None:
    field = bench_field((20, 12, 14), boxes=BENCH_BOXES)
    problem = bench_problem(field, 2e-3, scheme=scheme)
    age = mean_age(problem)
    flow = problem.boundary.out.sum()
    mean = sum(exit_flows(problem, age).values()) / flow
    assert mean == pytest.approx(problem.volume.sum() / flow, rel=1e-9)
    assert np.isnan(age[field.grid.solid]).all()


def test_age_in_even_downflow_tends_to_the_piston_time() -> None:
    errors = {}
    for spread in (1e-2, 1e-3, 1e-4):
        field = even_flow((1, 4, 200), (1.0, 1.0, 0.6), -0.45, axis=2)
        age = mean_age(TransportProblem(field, spread))[0, 2]
        # common practice, no source: what leaves is V/Q old; piston flow, age = way/v
        assert age[0] == pytest.approx(0.6 / 0.45, rel=1e-9)
        errors[spread] = abs(float(age[99:101].mean()) / (0.3 / 0.45) - 1.0)
    assert errors[1e-2] > errors[1e-3] > errors[1e-4]
    assert errors[1e-4] < 1e-3


@pytest.mark.parametrize("scheme", SCHEMES)
def test_mirrored_flow_gives_mirrored_concentration(scheme: str) -> None:
    grid, flux = bench((14, 10, 11))
    field = solve_field(grid, flux, "volume")
    turned = solve_field(grid, FaceFlux(-flux.x[::-1], flux.y[::-1], flux.z[::-1]), "volume")
    problem, mirror = (bench_problem(item, 1e-3, scheme=scheme) for item in (field, turned))
    one = steady(problem, 0.0, one_cell(problem, (3, 4, 5)))
    other = steady(mirror, 0.0, one_cell(mirror, (10, 4, 5)))
    assert other[::-1] == pytest.approx(one, abs=1e-10 * one.max())


def test_settling_takes_particles_down_through_still_air() -> None:
    problem = rich_problem("monotone")
    falling = TransportProblem(
        problem.field, problem.diffusivity, settling=0.2, exits=problem.exits, scheme="monotone"
    )
    still = TransportProblem(
        problem.field, problem.diffusivity, exits=problem.exits, scheme="monotone"
    )
    source = one_cell(problem, (18, 2, 8))
    flows = [exit_flows(item, steady(item, 0.0, source)) for item in (falling, still)]
    assert flows[0]["front"] < flows[1]["front"]
    assert flows[0]["elsewhere"] > 0.0  # tops of solids collect


def test_deposition_below_the_settling_velocity_is_raised_to_it() -> None:
    field = bench_field((6, 6, 6))
    grid = field.grid
    slow = TransportProblem(field, 1e-3, settling=0.01, deposition=wall_faces(grid, "back", 0.02))
    faces = slow.boundary.faces
    on_floor = faces.read(wall_faces(grid, "floor")) > 0.0
    on_back = faces.read(wall_faces(grid, "back")) > 0.0
    air = np.maximum(faces.read(field.flux) * faces.sign, 0.0)
    wall = slow.boundary.out - air
    assert wall[on_floor] == pytest.approx(0.01 * faces.area[on_floor])
    assert wall[on_back] == pytest.approx(0.02 * faces.area[on_back])


@pytest.mark.parametrize("scheme", SCHEMES)
def test_transient_keeps_count(scheme: str) -> None:
    problem = rich_problem(scheme)
    source = one_cell(problem, (15, 9, 9))
    found = transient(problem, 2.0, [0.0, 0.3, 1.0, 2.0], 1.0, source, longest_step=0.1)
    held = np.nansum(found.concentration * problem.volume, axis=(1, 2, 3))
    left = sum(found.left.values())
    assert held + left == pytest.approx(held[0] + found.entered, rel=1e-9)
    assert found.times.tolist() == [0.0, 0.3, 1.0, 2.0]


def test_transient_tends_to_the_steady_state() -> None:
    problem = bench_problem(bench_field((10, 8, 9)), 2e-3)
    source = one_cell(problem, (4, 4, 4))
    late = transient(problem, 0.0, [0.0, 200.0], 0.0, source, longest_step=2.0).concentration[-1]
    final = steady(problem, 0.0, source)
    assert late == pytest.approx(final, abs=1e-6 * final.max())


def test_washed_out_remains_do_not_stop_the_clock() -> None:
    problem = bench_problem(bench_field((6, 5, 6)), 5e-3)
    late = transient(problem, 1.0, [0.0, 400.0, 1200.0], longest_step=20.0).concentration[-1]
    assert np.abs(late).max() < 1e-30
    nothing = transient(problem, 0.0, [0.0, 1.0], longest_step=0.5)
    assert np.abs(nothing.concentration).max() == 0.0


def test_transient_is_second_order_in_time() -> None:
    field = even_flow((16, 1, 1), (1.0, 1.0, 1.0), 1.0)
    problem = TransportProblem(field, 0.05, exchange=absorbing(field, ("left",), 0.05))
    x = field.grid.centres[0][:, np.newaxis, np.newaxis]
    start = np.sin(np.pi * x) ** 2
    dense = matrix(problem.forward).toarray() / problem.volume.ravel()[0]
    values, vectors = np.linalg.eig(dense)
    first = problem.forward.vector(start)[:-1]
    exact = (vectors @ (np.exp(-0.3 * values) * np.linalg.solve(vectors, first))).real
    errors = {}
    for step in (0.02, 0.01, 0.005):
        found = transient(problem, start, [0.0, 0.3], longest_step=step).concentration[-1]
        errors[step] = float(np.abs(problem.forward.vector(found)[:-1] - exact).max())
    assert min(orders(errors)) > 1.9


def test_hundredfold_clearing_of_even_downflow() -> None:
    times = np.linspace(0.0, 8.0, 81)
    turnover = 0.6 / 0.45
    found = []
    for spread in (1e-4, 100.0):
        field = even_flow((1, 1, 160), (1.0, 1.0, 0.6), -0.45, axis=2)
        leaving = transient(TransportProblem(field, spread), 1.0, times).concentration[:, 0, 0, 0]
        place = int(np.argmax(leaving < 0.01))
        logs = np.log(np.maximum(leaving[place - 1 : place + 1], 1e-12))
        share = (np.log(0.01) - logs[0]) / (logs[1] - logs[0])
        found.append(times[place - 1] + share * 0.1)
    # common practice, no source: piston flow V/Q, mixed flow ln(100) V/Q
    assert found[0] == pytest.approx(turnover, rel=0.06)
    assert found[1] == pytest.approx(np.log(100.0) * turnover, rel=2e-3)


def test_monotone_concentration_is_never_negative() -> None:
    problem = rich_problem("monotone")
    found = steady(problem, 0.0, one_cell(problem, (2, 10, 12)))
    assert np.nanmin(found) >= -1e-12 * np.nanmax(found)


def test_impossible_releases_are_refused() -> None:
    problem = rich_problem("monotone")
    solid = np.argwhere(~problem.field.grid.fluid)[0]
    with pytest.raises(RangeError, match="released inside a solid"):
        steady(problem, 0.0, one_cell(problem, tuple(solid)))
    with pytest.raises(RangeError, match="source must have shape"):
        steady(problem, 0.0, np.ones((2, 2, 2)))
    with pytest.raises(RangeError, match="source must be finite"):
        steady(problem, 0.0, np.full(problem.shape, np.nan))
    with pytest.raises(RangeError, match="inflow must be finite and not negative"):
        steady(problem, -1.0)


@pytest.mark.parametrize(
    ("times", "step", "start", "message"),
    [
        ([0.0], None, 0.0, "times must be two or more"),
        ([0.0, 0.0], None, 0.0, "ascending"),
        ([0.0, 1.0], 0.0, 0.0, "longest_step must be positive"),
        ([0.0, 1.0], None, np.nan, "start must be finite"),
        ([0.0, 1.0], None, np.ones((2, 2, 2)), "start must have shape"),
    ],
)
def test_impossible_transients_are_refused(
    times: list[float], step: float | None, start: float, message: str
) -> None:
    problem = bench_problem(bench_field((4, 4, 4)), 1e-3)
    with pytest.raises(RangeError, match=message):
        transient(problem, start, times, longest_step=step)
