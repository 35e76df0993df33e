"""Streamlines and walks in the chamber: where they end, what must not happen, bad input."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from chamber_flows import BENCH_BOXES, bench
from scipy.integrate import solve_ivp

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import wall_flux, zero_flux
from flowsim.chamber.grid import Box, Grid, with_boxes
from flowsim.chamber.potential import Field, solve_field
from flowsim.errors import ConvergenceError, RangeError
from flowsim.transport.faces import FaceArrays, Faces, wall_faces
from flowsim.transport.tracking import Ends, Record, track
from flowsim.transport.tracking_cells import damped_diffusivity
from flowsim.transport.tracking_ends import Patch, box_faces
from flowsim.transport.tracking_lines import exact_streamline, exact_streamlines
from flowsim.transport.tracking_model import Walk

IN_USE = 5e-3  # m2/s


def bench_field(boxes: tuple[Box, ...] = BENCH_BOXES) -> Field:
    """Return the field of a bench with objects in it."""
    grid, flux = bench((39, 20, 25), boxes)
    return solve_field(grid, flux, "volume")


def still(grid: Grid) -> Field:
    """Return a chamber without flow."""
    return Field(grid, zero_flux(grid), "volume", "direct", 0)


def starts_in(field: Field, count: int, seed: int = 1) -> FloatArray:
    """Return points spread evenly over the air."""
    grid = field.grid
    points = np.random.default_rng(seed).random((3 * count, 3)) * np.array(grid.size)
    index = np.minimum((points / np.array(grid.spacing)).astype(int), np.array(grid.shape) - 1)
    return points[grid.fluid[tuple(index.T)]][:count]


def bench_exits(field: Field) -> dict[str, Faces]:
    """Return the front opening and the plate by name."""
    front = wall_flux(field.flux, "front") != 0.0
    return {
        "front": wall_faces(field.grid, "front", front.astype(float)),
        "plate": wall_faces(field.grid, "floor"),
    }


def velocity_in(field: Field, cell: tuple[int, ...], point: FloatArray) -> FloatArray:
    """Return the velocity linear between the sides of one cell, also beyond them."""
    out = np.empty(3)
    for axis, flux in enumerate(field.flux.axes):
        high = list(cell)
        high[axis] += 1
        share = point[axis] / field.grid.spacing[axis] - cell[axis]
        low = flux[cell]
        out[axis] = (low + (flux[tuple(high)] - low) * share) / field.grid.face_areas[axis]
    return out


def test_streamline_agrees_with_an_integrator_cell_by_cell() -> None:
    field = bench_field()
    grid = field.grid
    point, time = np.array([0.61, 0.33, 0.7]), 0.0
    cell = [int(p / h) for p, h in zip(point, grid.spacing, strict=True)]
    line = exact_streamline(field, point)
    while True:
        sides = [
            (axis, (cell[axis] + up) * grid.spacing[axis], up) for axis in range(3) for up in (0, 1)
        ]
        events = []
        for axis, place, up in sides:

            def leaves(_: float, p: FloatArray, a: int = axis, x: float = place) -> float:
                return float(p[a] - x)

            leaves.terminal = True  # type: ignore[attr-defined]
            leaves.direction = 1.0 if up else -1.0  # type: ignore[attr-defined]
            events.append(leaves)
        where = tuple(cell)
        solved = solve_ivp(
            lambda _, p, c=where: velocity_in(field, c, p), (0.0, 100.0), point,
            events=events, rtol=1e-10, atol=1e-12,
        )  # fmt: skip
        met = next(number for number, times in enumerate(solved.t_events) if times.size)
        point, time = solved.y[:, -1].copy(), time + float(solved.t[-1])
        axis, place, up = sides[met]
        point[axis] = place
        cell[axis] += 1 if up else -1
        if not 0 <= cell[axis] < grid.shape[axis]:
            break
    assert line.exit == "floor"
    assert line.end == pytest.approx(point, abs=1e-8)
    assert line.time == pytest.approx(time, rel=1e-8)


def test_streamlines_end_in_the_right_exit_and_lead_back() -> None:
    field = bench_field(())
    starts = starts_in(field, 400)
    ends = Ends(bench_exits(field))
    found = exact_streamlines(field, starts, ends=ends)
    assert found.counts["front"] + found.counts["plate"] == 400
    assert found.counts["front"] >= 10
    back = exact_streamlines(field, starts, backward=True)
    assert back.counts["ceiling"] == 400
    again = exact_streamlines(field, back.end_positions)
    assert again.end_positions == pytest.approx(found.end_positions, abs=1e-9)
    total = back.residence_time + found.residence_time
    assert again.residence_time == pytest.approx(total, rel=1e-9)


def test_even_downflow_is_crossed_in_a_straight_line() -> None:
    grid = Grid(4, 4, 8, 1.0, 1.0, 0.8)
    flux = zero_flux(grid)
    flux.z[:] = -0.4 * grid.face_areas[2]
    field = Field(grid, flux, "volume", "direct", 0)
    line = exact_streamline(field, np.array([0.3, 0.6, 0.7]), settling=0.1)
    assert line.exit == "floor"
    assert line.end == pytest.approx([0.3, 0.6, 0.0], abs=1e-12)
    assert line.time == pytest.approx(0.7 / 0.5)
    assert line.points[:, 2] == pytest.approx(sorted(line.points[:, 2], reverse=True))


def test_a_particle_that_does_not_move_is_reported() -> None:
    field = still(Grid(3, 3, 3, 1.0, 1.0, 1.0))
    found = exact_streamlines(field, np.full((1, 3), 0.5))
    assert found.unfinished == 1
    assert exact_streamline(field, np.full(3, 0.5)).exit == "unfinished"


@pytest.mark.parametrize("spread", ["even", "uneven", "eddies"])
def test_order_and_parts_do_not_matter(spread: str) -> None:
    field = bench_field()
    diffusivity = IN_USE if spread != "uneven" else damped_diffusivity(field, IN_USE, 1e-4)
    life = 0.02 if spread == "eddies" else 0.0
    walk = Walk(diffusivity, 1e-3, 2e-3, eddy_time=life)
    starts = starts_in(field, 1500)
    whole = track(field, starts, walk, seed=5)
    order = np.random.default_rng(2).permutation(1500)
    parts = [
        track(field, starts[part], walk, seed=5, record=Record(numbers=part))
        for part in np.split(order, [1, 130, 700])
    ]
    points = np.concatenate([part.end_positions for part in parts])
    times = np.concatenate([part.residence_time for part in parts])
    assert np.array_equal(points, whole.end_positions[order])
    assert np.array_equal(times, whole.residence_time[order])
    other = track(field, starts, walk, seed=6)
    assert not np.array_equal(other.end_positions, whole.end_positions)


def test_counts_add_up_and_carry_their_errors() -> None:
    field = bench_field()
    count = 2000
    patch = Patch("mirror", 0.15, 0.45, 0.25, 0.45, height=0.2)
    exits = {**bench_exits(field), "block": box_faces(field.grid, BENCH_BOXES[1])}
    walk = Walk(IN_USE, 5e-3, 3e-3, time_limit=4.0)
    found = track(field, starts_in(field, count), walk, Ends(exits, (patch,)), seed=1)
    assert sum(found.counts.values()) == count
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert min(found.counts[name] for name in ("front", "plate", "block", "mirror")) > 0
    assert found.counts["unfinished"] == 0
    share = found.shares["plate"]
    error = math.sqrt(share * (1.0 - share) / count)
    assert found.standard_errors["plate"] == pytest.approx(error)
    on_it = found.end_positions[found.end_names == found.names.index("mirror")]
    assert on_it[:, 2] == pytest.approx(np.full(len(on_it), 0.21), abs=1e-9)  # the cell's face


def test_a_face_shared_by_two_exits_is_counted_by_its_shares() -> None:
    grid = Grid(1, 1, 4, 1.0, 1.0, 1.0)
    exits = {"a": wall_faces(grid, "floor", 0.25), "b": wall_faces(grid, "floor", 0.75)}
    walk = Walk(settling=1.0)
    starts = np.full((4000, 3), 0.5)
    found = track(still(grid), starts, walk, Ends(exits))
    assert found.shares["a"] == pytest.approx(0.25, abs=3 * 0.00685)
    assert found.counts["a"] + found.counts["b"] == 4000
    exits["b"] = wall_faces(grid, "floor", 0.8)
    with pytest.raises(RangeError, match="exits overlap"):
        track(still(grid), starts, walk, Ends(exits))


def test_particles_never_enter_solids() -> None:
    field = bench_field()
    solid = field.grid.solid
    assert solid is not None
    record = Record(paths=200, path_points=4096, residence=True)
    walk = Walk(2.5e-2, 2e-3, time_limit=3.0)
    found = track(field, starts_in(field, 2000), walk, record=record)
    assert found.cell_time is not None
    assert found.cell_time[solid].max() == 0.0
    assert found.cell_time.sum() == pytest.approx(found.residence_time.sum(), rel=0.02)
    points = np.concatenate(found.paths)
    inner = Box(0.1335, 0.4995, 0.196, 0.4865, 0.0, 0.2095)  # cells of the first box, less a hair
    inside = np.ones(len(points), dtype=np.bool_)
    for axis, (low, high) in enumerate(inner.limits):
        inside &= (points[:, axis] > low) & (points[:, axis] < high)
    assert not inside.any()
    assert (points >= 0.0).all()
    assert (points <= np.array(field.grid.size)).all()


def test_long_paths_are_thinned_and_keep_both_ends() -> None:
    field = bench_field(())
    starts = starts_in(field, 5)
    starts[:, 2] = 0.7
    full = track(field, starts, Walk(IN_USE), record=Record(paths=3, path_points=5000))
    thin = track(field, starts, Walk(IN_USE), record=Record(paths=3, path_points=8))
    assert len(thin.paths) == 3
    for long, short, start, end in zip(
        full.paths, thin.paths, starts, full.end_positions, strict=False
    ):
        assert len(long) > 9 >= len(short)
        assert short[0] == pytest.approx(start)
        assert np.array_equal(short[-1], end)
        assert all((long == point).all(axis=1).any() for point in short)


def uneven(grid: Grid) -> FloatArray:
    """Return a diffusivity that varies fiftyfold over the height."""
    z = grid.centres[2] / grid.height
    profile = 0.02 + np.sin(math.pi * z) ** 2
    return np.broadcast_to(profile, grid.shape).copy()


def spread_of(places: FloatArray) -> float:
    """Return chi square per degree of freedom of an even distribution over 20 slices."""
    counts = np.histogram(places, 20, (0.0, 1.0))[0]
    expected = places.size / 20
    return float(((counts - expected) ** 2).sum() / expected / 19)


@pytest.mark.parametrize("damped", [False, True])
def test_air_mixed_well_stays_so_with_varying_diffusivity(damped: bool) -> None:
    grid = Grid(1, 1, 20, 1.0, 1.0, 1.0)
    field, count = still(grid), 100_000
    given: FloatArray | FaceArrays = uneven(grid)
    if damped:
        given = damped_diffusivity(field, 0.3, 0.003)
    starts = np.full((count, 3), 0.5)
    starts[:, 2] = (np.arange(count) + 0.5) / count
    found = track(field, starts, Walk(given, time_limit=0.03), seed=1)
    assert found.counts["airborne"] == count
    # 99.9 % of chi square with 19 degrees of freedom is 2.3 times them; with the discrete step
    # the slices are even within 2 % besides
    assert spread_of(found.end_positions[:, 2]) < 4.0


def test_air_mixed_well_does_not_stay_so_without_the_drift() -> None:
    grid = Grid(1, 1, 20, 1.0, 1.0, 1.0)
    profile, count = uneven(grid)[0, 0], 100_000
    random = np.random.default_rng(1)
    place = (np.arange(count) + 0.5) / count
    for _ in range(300):
        spread = np.interp(place, grid.centres[2], profile)
        place += np.sqrt(2.0 * spread * 1e-4) * random.standard_normal(count)
        place = 1.0 - np.abs(1.0 - np.abs(place))
    assert spread_of(place) > 100.0


def test_exchange_lets_particles_out_against_the_flow() -> None:
    field = bench_field(())
    turned = replace(field, grid=field.grid)
    k = np.full((39, 25), 0.2 * field.grid.face_areas[1])
    opening = wall_faces(field.grid, "back", k)
    starts = np.tile([0.6, 0.64, 0.3], (2000, 1))
    shut = track(turned, starts, Walk(IN_USE))
    open_ = track(turned, starts, Walk(IN_USE, exchange=opening))
    assert shut.counts["back"] == 0
    assert 0.2 < open_.shares["back"] < 1.0


def test_deposition_counts_settling_only_once() -> None:
    grid = Grid(1, 1, 10, 1.0, 1.0, 1.0)
    starts = np.full((2000, 3), 0.5)
    floor = wall_faces(grid, "floor", 0.05)
    walk = Walk(0.02, 0.05, time_limit=5.0)
    plain = track(still(grid), starts, walk)
    with_it = track(still(grid), starts, replace(walk, deposition=floor))
    assert with_it.counts == plain.counts


BAD_WALKS = [
    ({"settling": -1e-3}, "settling velocity must be finite and not negative"),
    ({"diffusivity": -1.0}, "diffusivity must be finite and not negative"),
    ({"diffusivity": math.nan}, "diffusivity must be finite"),
    ({"eddy_time": -1.0}, "eddy time"),
    ({"cell_fraction": 0.0}, "cell fraction"),
    ({"step_time": 0.0}, "step time must be positive"),
    ({"time_limit": 0.0}, "time limit must be positive"),
    ({"step_limit": 0}, "step limit"),
    ({"diffusivity": np.ones((2, 2, 2)), "eddy_time": 0.1}, "one diffusivity"),
]


@pytest.mark.parametrize(("given", "said"), BAD_WALKS)
def test_impossible_walks_are_refused(given: dict[str, object], said: str) -> None:
    with pytest.raises(RangeError, match=said):
        Walk(**given)  # type: ignore[arg-type]


def test_impossible_input_is_refused() -> None:
    field = bench_field()
    grid, walk, starts = field.grid, Walk(IN_USE), np.full((1, 3), 0.6)
    with pytest.raises(RangeError, match=r"start 1 at .* lies inside an object"):
        track(field, np.array([[0.6, 0.6, 0.6], [0.3, 0.3, 0.1]]), walk)
    with pytest.raises(RangeError, match=r"start 0 at .* lies outside the chamber"):
        track(field, np.array([[1.4, 0.3, 0.3]]), walk)
    with pytest.raises(RangeError, match="lies outside"):
        track(field, np.array([[math.nan, 0.3, 0.3]]), walk)
    with pytest.raises(RangeError, match="shape"):
        track(field, np.zeros(3), walk)
    with pytest.raises(RangeError, match="at least one start"):
        track(field, np.zeros((0, 3)), walk)
    with pytest.raises(RangeError, match="diffusivity must have shape"):
        track(field, starts, Walk(np.ones((2, 2, 2))))
    with pytest.raises(RangeError, match="deposition velocity must not be negative"):
        track(field, starts, Walk(IN_USE, deposition=-1.0))
    with pytest.raises(RangeError, match="eddies bring"):
        track(field, starts, Walk(IN_USE, deposition=9.0, eddy_time=0.1))
    with pytest.raises(RangeError, match="numbers must have shape"):
        track(field, starts, walk, record=Record(numbers=np.arange(2)))
    with pytest.raises(RangeError, match="molecular"):
        damped_diffusivity(field, 1e-3, 2e-3)
    with pytest.raises(RangeError, match="lies on no surface"):
        track(field, starts, walk, Ends(patches=(Patch("p", 0.1, 0.2, 0.1, 0.2, 0.5),)))
    with pytest.raises(RangeError, match="is taken"):
        track(field, starts, walk, Ends(patches=(Patch("floor", 0.1, 0.2, 0.1, 0.2),)))
    with pytest.raises(RangeError, match="x1 > x0"):
        Patch("p", 0.2, 0.2, 0.1, 0.2)
    with pytest.raises(RangeError, match="shape"):
        exact_streamline(field, np.zeros((1, 3)))
    assert with_boxes(Grid(4, 4, 4, 1.0, 1.0, 1.0), ()).sum() == 0
    assert grid.solid is not None


def test_too_many_unfinished_particles_are_an_error() -> None:
    field = still(Grid(3, 3, 3, 1.0, 1.0, 1.0))
    starts = np.full((10, 3), 0.5)
    with pytest.raises(ConvergenceError, match="10 of 10 particles had not ended after 50 steps"):
        track(field, starts, Walk(0.1, step_limit=50))
    found = track(field, starts, Walk(0.1, step_limit=50, unfinished_limit=1.0))
    assert found.unfinished == found.counts["unfinished"] == 10
