"""Escape shares: duality, sums, bounds, and the spread of the two schemes."""

from __future__ import annotations

import numpy as np
import pytest
from chamber_flows import BENCH_BOXES
from transport_flows import bench_field, bench_problem, filter_and_hole, one_cell, rich_problem

from flowsim.errors import RangeError
from flowsim.transport.adjoint import (
    all_escape_shares,
    escape_shares,
    numerical_spread,
    residence_time,
    share_with_spread,
)
from flowsim.transport.faces import wall_faces
from flowsim.transport.operator import ELSEWHERE, SCHEMES, TransportProblem
from flowsim.transport.scalar import exit_flows, steady


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("closure", ["volume", "stacked", "section"])
def test_duality_of_random_releases(scheme: str, closure: str) -> None:
    problem = rich_problem(scheme, closure=closure)
    assert problem.field.grid.solid is not None
    shares = all_escape_shares(problem)
    assert ELSEWHERE in shares  # what deposits on walls and solids
    random = np.random.default_rng(7)
    cells = np.argwhere(problem.field.grid.fluid)
    for _ in range(100):
        cell = tuple(cells[random.integers(len(cells))])
        name = random.choice(list(shares))
        left = exit_flows(problem, steady(problem, 0.0, one_cell(problem, cell)))[name]
        assert left == pytest.approx(shares[name][cell], abs=1e-10)


def test_duality_of_a_spread_release_without_solids() -> None:
    problem = rich_problem("linear", ())
    source = np.random.default_rng(3).random(problem.shape)
    source /= source.sum()
    flows = exit_flows(problem, steady(problem, 0.0, source))
    for name, share in all_escape_shares(problem).items():
        assert flows[name] == pytest.approx(float((share * source).sum()), abs=1e-10)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("closure", ["volume", "stacked", "section"])
@pytest.mark.parametrize("spread", [0.0, 1e-4, 5e-3, 0.1])
def test_shares_of_all_exits_add_up(scheme: str, closure: str, spread: float) -> None:
    cells = (1 if closure == "section" else 16, 10, 12)
    problem = bench_problem(bench_field(cells, closure), spread, scheme=scheme)
    total = sum(all_escape_shares(problem).values())
    assert np.abs(total - 1.0).max() < 1e-9


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("closure", ["volume", "stacked", "section"])
def test_shares_add_up_with_solids_settling_and_collecting_walls(scheme: str, closure: str) -> None:
    problem = rich_problem(scheme, closure=closure)
    total = sum(all_escape_shares(problem).values())
    fluid = problem.field.grid.fluid
    assert np.abs(total[fluid] - 1.0).max() < 1e-9
    assert np.isnan(total[~fluid]).all()


@pytest.mark.parametrize("spread", [0.0, 1e-4, 5e-3])
def test_monotone_shares_stay_within_zero_and_one(spread: float) -> None:
    field = bench_field((16, 10, 12), boxes=BENCH_BOXES)
    problem = bench_problem(field, spread, settling=1e-3, scheme="monotone")
    for share in all_escape_shares(problem).values():
        assert np.nanmin(share) >= -1e-10
        assert np.nanmax(share) <= 1.0 + 1e-10


def test_shared_faces_share_what_leaves() -> None:
    field = bench_field((10, 8, 9))
    part = wall_faces(field.grid, "front", 0.25)
    rest = wall_faces(field.grid, "front", 0.75)
    problem = TransportProblem(field, 2e-3, exits={"part": part, "rest": rest})
    one, other = escape_shares(problem, "part"), escape_shares(problem, "rest")
    assert 3.0 * one == pytest.approx(other, abs=1e-11)


def test_residence_time_is_dual_to_what_a_release_leaves_behind() -> None:
    problem = rich_problem("linear")
    cell = (15, 9, 9)
    held = steady(problem, 0.0, one_cell(problem, cell)) * problem.volume
    assert residence_time(problem)[cell] == pytest.approx(float(np.nansum(held)), rel=1e-9)


def plate_share(count: int, scheme: str) -> float:
    """Return the share by the floor of a release in the middle, at cell Peclet 8 for 16 cells."""
    field = filter_and_hole(count)
    floor = {"floor": wall_faces(field.grid, "floor")}
    problem = TransportProblem(field, 1.0 / (8.0 * 16.0), exits=floor, scheme=scheme)
    share = escape_shares(problem, "floor")[0]
    half = count // 2
    return float(share[half - 1 : half + 1, half - 1 : half + 1].mean())


def test_linear_scheme_is_far_closer_than_the_monotone_one() -> None:
    fine = plate_share(128, "linear")
    errors = {scheme: abs(plate_share(16, scheme) - fine) for scheme in SCHEMES}
    assert errors["linear"] < 0.3 * errors["monotone"]
    assert abs(plate_share(64, "linear") - fine) < 0.2 * errors["linear"]


def protected_spot(count: int) -> tuple[float, float, float]:
    """Return linear and monotone share by the front of a release deep in the bench, and spread."""
    field = bench_field((1, count, count), "section")
    problem = bench_problem(field, 0.3 * 0.75 / 24 / 8.0)
    found = share_with_spread(problem, "front")
    cell = (0, count // 2, count // 2)
    return float(found.value[cell]), float(found.monotone[cell]), float(found.spread[cell])


def test_spread_covers_the_refined_answer_at_a_protected_spot() -> None:
    value, monotone, spread = protected_spot(24)
    truth = protected_spot(192)[0]
    assert monotone > 5.0 * truth  # false diffusion lets it out
    assert abs(value - truth) <= spread
    assert spread >= abs(value - monotone)


def test_spread_is_the_largest_difference_of_a_cell_and_its_neighbours() -> None:
    linear, monotone = np.zeros((5, 1, 5)), np.zeros((5, 1, 5))
    linear[1, 0, 1], monotone[4, 0, 4], linear[0, 0, 4] = -0.2, 0.1, np.nan
    spread = numerical_spread(linear, monotone)
    assert (spread[:3, 0, :3] == 0.2).all()
    assert (spread[3:, 0, 3:] == 0.1).all()
    assert np.isnan(spread[0, 0, 4])
    assert np.count_nonzero(spread == 0.0) == 25 - 9 - 4 - 1


def test_unknown_exit_is_refused() -> None:
    problem = bench_problem(bench_field((4, 4, 4)), 1e-3)
    with pytest.raises(RangeError, match="unknown exit 'door', expected one of front, floor"):
        escape_shares(problem, "door")
