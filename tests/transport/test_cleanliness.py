"""Causes of dust add up, and what leaves is what entered."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from transport_flows import bench_field, bench_problem, one_cell, rich_problem

from flowsim.chamber.grid import wall_patch
from flowsim.transport.cleanliness import AirParts, air_parts, flux_mean
from flowsim.transport.faces import FaceArrays, wall_faces
from flowsim.transport.operator import SCHEMES, TransportProblem
from flowsim.transport.release import release_weights
from flowsim.transport.scalar import entering, steady


def parts_of(problem: TransportProblem) -> tuple[AirParts, FaceArrays, FaceArrays]:
    """Return the parts of a bench with one source, and the faces of supply and room."""
    grid = problem.field.grid
    supply, room = wall_faces(grid, "ceiling"), wall_faces(grid, "front")
    weights = release_weights(grid, (1.0, 1.2, 0.1, 0.2, 0.0, 0.1))
    return air_parts(problem, supply, room, (weights,)), supply, room


@pytest.mark.parametrize("scheme", SCHEMES)
def test_parts_add_up_to_the_concentration(scheme: str) -> None:
    problem = rich_problem(scheme)
    parts, supply, room = parts_of(problem)
    weights = release_weights(problem.field.grid, (1.0, 1.2, 0.1, 0.2, 0.0, 0.1))
    inflow = FaceArrays(*(2.0 * s + 5.0 * r for s, r in zip(supply.axes, room.axes, strict=True)))
    whole = steady(problem, inflow, 0.3 * weights)
    added = 2.0 * parts.filter + 5.0 * parts.room + 0.3 * parts.sources[0]
    assert added == pytest.approx(whole, rel=1e-9, abs=1e-9, nan_ok=True)


def test_air_is_from_the_filter_or_from_the_room() -> None:
    field = bench_field((20, 12, 14))
    exchange = wall_faces(
        field.grid, "front", 0.02 * wall_patch(field.grid, "front", 0.05, 1.25, 0.4, 0.56)
    )
    parts, _, _ = parts_of(bench_problem(field, 2e-3, exchange=exchange))
    assert parts.filter + parts.room == pytest.approx(np.ones(field.grid.shape), rel=1e-9)
    assert 0.01 < parts.room.max() < 1.0


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("closure", ["volume", "stacked", "section"])
def test_flux_mean_of_room_air_is_what_entered_over_what_left(scheme: str, closure: str) -> None:
    cells = (1, 16, 18) if closure == "section" else (16, 12, 14)
    field = bench_field(cells, closure)
    open_area = wall_patch(field.grid, "front", 0.05, 1.25, 0.4, 0.56)
    exchange = wall_faces(field.grid, "front", 0.03 * open_area)
    problem = bench_problem(field, 5e-3, exchange=exchange, scheme=scheme)
    room = wall_faces(field.grid, "front")
    share = steady(problem, room)
    came = float(entering(problem, room).sum())
    assert came == pytest.approx(0.03 * open_area.sum())
    expected = came / float(problem.boundary.out.sum())
    assert flux_mean(problem, share) == pytest.approx(expected, rel=1e-9)


def test_monotone_concentration_stays_below_what_comes_in() -> None:
    problem = rich_problem("monotone")
    inflow = wall_faces(problem.field.grid, "ceiling", 3.0)
    inflow.y[:, 0, :] = 1.0  # the room, by exchange
    found = steady(problem, inflow)
    assert np.nanmax(found) <= 3.0 * (1.0 + 1e-12)
    assert np.nanmin(found) >= 0.0


def test_linear_concentration_passes_what_comes_in_by_its_spread_at_most() -> None:
    problem = rich_problem("linear")
    problem = replace(problem, diffusivity=1e-5)  # cell Peclet number of thousands
    inflow = wall_faces(problem.field.grid, "ceiling")
    inflow.z[:10] = 0.0  # clean on the left: a step that the scheme overshoots
    linear = steady(problem, inflow)
    monotone = steady(replace(problem, scheme="monotone"), inflow)
    over = np.nan_to_num(np.maximum(linear - 1.0, -linear))
    assert over.max() > 1e-3  # so that the test can fail
    assert (over <= np.nan_to_num(np.abs(linear - monotone)) + 1e-12).all()
    assert np.nanmax(monotone) <= 1.0 + 1e-12


def test_loose_tolerance_changes_little() -> None:
    problem = rich_problem("linear")
    source = one_cell(problem, (15, 9, 9))
    tight, loose = steady(problem, 0.0, source), steady(problem, 0.0, source, tolerance=1e-6)
    off = np.nanmax(np.abs(tight - loose)) / np.nanmax(tight)
    assert 0.0 < off < 1e-5
