"""The time after which a chamber full of room air is clean, between its two known limits."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from transport_flows import bench_field, bench_problem, even_flow

import flowsim.transport.recovery as module
from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import solve_field
from flowsim.errors import RangeError
from flowsim.transport.faces import wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.recovery import recovery
from flowsim.transport.release import face_weights, patch_weights
from flowsim.transport.scalar import steady

SPEED, HEIGHT = 0.4, 0.8
TURNOVER = HEIGHT / SPEED


def column(layers: int, diffusivity: float) -> TransportProblem:
    """Return even downflow from a filter above to a plate below."""
    field = even_flow((1, 1, layers), (1.0, 1.0, HEIGHT), -SPEED, axis=2)
    return TransportProblem(field, diffusivity)


def clean_after(problem: TransportProblem, longest: float = 1e3) -> float | None:
    """Return the 100:1 time of the air that leaves by the floor."""
    grid = problem.field.grid
    floor = wall_faces(grid, "floor")
    return recovery(problem, [face_weights(grid, floor)], room=floor, longest=longest)[2]


def times_of(problems: list[TransportProblem]) -> list[float]:
    """Return the 100:1 times, all of which must exist."""
    found = [clean_after(problem) for problem in problems]
    return [math.nan if time is None else time for time in found]


def test_mixed_column_takes_ln_100_turnovers() -> None:
    # common practice, no source: fully mixed air takes ln(100) V/Q
    assert clean_after(column(40, 20.0)) == pytest.approx(math.log(100.0) * TURNOVER, rel=0.01)


def test_column_without_mixing_tends_to_the_piston_time() -> None:
    layers = (20, 40, 80, 160, 320)
    times = times_of([column(count, 0.0) for count in layers])
    excess = [time / TURNOVER - 1.0 for time in times]
    # common practice, no source: a piston takes V/Q
    assert all(late > later > 0.0 for late, later in pairwise(excess))
    assert excess[-1] < 0.03
    assert excess[0] > 3.0 * excess[-1]


def test_time_grows_with_mixing_from_one_limit_to_the_other() -> None:
    times = times_of([column(80, spread) for spread in (1e-4, 1e-3, 1e-2, 0.1, 1.0)])
    assert all(before < after for before, after in pairwise(times))
    assert times[0] > TURNOVER
    assert times[-1] < math.log(100.0) * TURNOVER


def slow_chamber(front: float) -> TransportProblem:
    """Return 0.78 m3 with 0.05 m3/s from above, some of which leaves by the front."""
    grid = Grid(1, 24, 24, 1.3, 0.8, 0.75)
    flux = zero_flux(grid)
    level = wall_patch(grid, "floor", 0, 1.3, 0, 0.8)
    hole = wall_patch(grid, "front", 0, 1.3, 0, 0.15)
    add_wall_flux(flux, grid, "ceiling", 0.05 * level / level.sum())
    add_wall_flux(flux, grid, "front", front * hole / hole.sum(), inward=False)
    add_wall_flux(flux, grid, "floor", (0.05 - front) * level / level.sum(), inward=False)
    return TransportProblem(solve_field(grid, flux, "section"), 5e-3)


@pytest.mark.parametrize("front", [0.0, 0.02])
def test_practitioners_chamber_lies_between_piston_and_mixed(front: float) -> None:
    problem = slow_chamber(front)
    found = clean_after(problem)
    flow = float(problem.boundary.out.sum())
    # field.md F37: 0.78 m3 at 0.05 m3/s, 15.6 s as a piston, 71.8 s fully mixed
    assert float(problem.volume.sum()) == pytest.approx(0.78)
    assert 0.78 / flow == pytest.approx(15.6)
    assert found is not None
    assert 15.6 < found < 71.8


def bench(spread: float, exchange: float = 1e-3) -> tuple[TransportProblem, list[FloatArray]]:
    """Return a bench whose front lets room air in by exchange, and two places."""
    field = bench_field((16, 12, 14))
    open_area = wall_patch(field.grid, "front", 0.05, 1.25, 0.4, 0.56)
    faces = wall_faces(field.grid, "front", exchange * open_area)
    places = [
        patch_weights(field.grid, 0.2, 0.4, 0.3, 0.5, 0.0),
        patch_weights(field.grid, 0.9, 1.2, 0.05, 0.2, 0.0),
    ]
    return bench_problem(field, spread, exchange=faces), places


@pytest.mark.parametrize("spread", [5e-4, 5e-3, 2e-2])
def test_few_steps_are_within_five_percent_of_many(
    spread: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem, places = bench(spread)
    room = wall_faces(problem.field.grid, "front")
    times, _, quick = recovery(problem, places, room=room, longest=60.0)
    monkeypatch.setattr(module, "_FEWEST", 240.0)
    monkeypatch.setattr(module, "_CELLS", 240.0)
    monkeypatch.setattr(module, "_TOLERANCE", 1e-10)
    fine, _, slow = recovery(problem, places, room=room, longest=60.0)
    assert times.size < 60 < 5 * times.size < fine.size
    assert quick == pytest.approx(slow, rel=0.05)


def test_curve_starts_full_falls_and_tends_to_the_steady_share() -> None:
    problem, places = bench(5e-3, exchange=0.05)
    room = wall_faces(problem.field.grid, "front")
    times, shares, time = recovery(problem, places, room=room, longest=60.0, ratio=10.0)
    final = [float(np.sum(steady(problem, room) * place)) for place in places]
    assert 0.01 < max(final) < 0.1
    assert shares.shape == (times.size, 2)
    assert shares[0] == pytest.approx([1.0, 1.0])
    assert np.diff(shares, axis=0).max() < 1e-3  # what the linear scheme overshoots
    late = recovery(problem, places, room=room, longest=60.0, ratio=1e6)[1][-1]
    assert late == pytest.approx(final, rel=0.06)
    assert time is not None
    worst = shares.max(axis=1)
    assert (worst[times > time] < 0.1).all()
    assert (worst[times < time] >= 0.1).all()


def test_place_that_room_air_reaches_never_gets_clean() -> None:
    problem, places = bench(5e-3, exchange=0.3)
    room = wall_faces(problem.field.grid, "front")
    times, shares, time = recovery(problem, places, room=room, longest=60.0)
    assert time is None
    assert shares[-1].max() > 0.01
    assert times[-1] < 60.0  # it ends once the curve is flat


def test_time_over_is_no_time() -> None:
    problem = column(40, 0.1)
    assert clean_after(problem, longest=2.0 * TURNOVER) is None
    assert clean_after(problem, longest=5.0 * TURNOVER) is not None


def test_impossible_questions_are_refused() -> None:
    problem, places = bench(5e-3)
    room = wall_faces(problem.field.grid, "front")
    with pytest.raises(RangeError, match="at least one place"):
        recovery(problem, [], room=room, longest=60.0)
    with pytest.raises(RangeError, match="longest > 0 s and ratio > 1"):
        recovery(problem, places, room=room, longest=0.0)
    with pytest.raises(RangeError, match="ratio > 1"):
        recovery(problem, places, room=room, longest=60.0, ratio=1.0)
    with pytest.raises(RangeError, match="sum to 1"):
        recovery(problem, [2.0 * places[0]], room=room, longest=60.0)
