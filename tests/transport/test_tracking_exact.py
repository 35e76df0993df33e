"""The walk against exact solutions, 100,000 particles each, seeds fixed once."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from reference_data import rows
from scipy.special import k0e

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import zero_flux
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.transport.faces import wall_faces
from flowsim.transport.tracking import Record, track
from flowsim.transport.tracking_model import Walk

PARTICLES = 100_000
ERRORS = 3.0  # standard errors
ABSORBS = math.inf
WIND = 0.45  # m/s, of the plumes

Row = dict[str, str]


def even_flow(grid: Grid, speed: float) -> Field:
    """Return the same velocity along x everywhere."""
    flux = zero_flux(grid)
    flux.x[:] = speed * grid.face_areas[0]
    return Field(grid, flux, "volume", "direct", 0)


def same(point: tuple[float, float, float]) -> FloatArray:
    """Return one start for all particles."""
    return np.tile(np.array(point), (PARTICLES, 1))


def within(share: float, exact: float) -> bool:
    """Return whether a share lies within three standard errors of the exact one."""
    return abs(share - exact) <= ERRORS * math.sqrt(exact * (1.0 - exact) / PARTICLES)


@pytest.mark.parametrize("row", rows("aerosol_exact_hitting.csv"))
def test_plate_is_hit_as_often_as_it_must(row: Row) -> None:
    height, drift, spread, time = (float(row[k]) for k in ("h_m", "v_m_s", "D_m2_s", "t_s"))
    grid = Grid(16, 1, 1, 0.16, 1.0, 1.0)
    plate = wall_faces(grid, "left", ABSORBS)
    walk = Walk(spread, deposition=plate, step_time=time / 50, time_limit=time)
    found = track(even_flow(grid, drift), same((height, 0.5, 0.5)), walk, seed=1)
    # own derivation, two methods (aerosol_exact_hitting.csv)
    assert within(found.shares["left"], float(row["P_hit_by_t"]))
    assert found.counts["left"] + found.counts["airborne"] == PARTICLES


@pytest.mark.parametrize("row", rows("aerosol_exact_hitting.csv"))
def test_looking_at_the_ends_of_steps_only_fails(row: Row) -> None:
    height, drift, spread, time = (float(row[k]) for k in ("h_m", "v_m_s", "D_m2_s", "t_s"))
    random = np.random.default_rng(1)
    place, hit = np.full(PARTICLES, height), np.zeros(PARTICLES, dtype=np.bool_)
    for _ in range(50):
        place += drift * time / 50 + math.sqrt(2.0 * spread * time / 50) * random.normal(
            size=PARTICLES
        )
        hit |= place <= 0.0
    assert not within(float(hit.mean()), float(row["P_hit_by_t"]))


# towards the plate or without drift every particle hits it, the latter after an endless time
AWAY = [row for row in rows("aerosol_exact_hitting.csv") if float(row["v_m_s"]) > 0.0]
# below, an end that is far enough takes too long to be reached; the short slit has those rows
STRONG = [row for row in rows("aerosol_exact_back_diffusion.csv") if float(row["Pe"]) >= 1.0]


def test_rows_left_out_of_the_two_long_walks_are_the_certain_ones() -> None:
    certain = [row for row in rows("aerosol_exact_hitting.csv") if row not in AWAY]
    assert len(AWAY) >= 2
    assert len(STRONG) >= 3
    assert all(float(row["P_hit_ever"]) == 1.0 for row in certain)


@pytest.mark.parametrize("row", AWAY)
def test_plate_is_hit_in_the_end_as_often_as_it_must(row: Row) -> None:
    height, drift, spread = (float(row[k]) for k in ("h_m", "v_m_s", "D_m2_s"))
    grid = Grid(30, 1, 1, height + 8.0 * spread / drift, 1.0, 1.0)
    plate = wall_faces(grid, "left", ABSORBS)
    walk = Walk(spread, deposition=plate, step_time=0.08 * spread / drift**2)
    found = track(even_flow(grid, drift), same((height, 0.5, 0.5)), walk, seed=2)
    # own derivation, two methods (aerosol_exact_hitting.csv)
    assert within(found.shares["left"], float(row["P_hit_ever"]))


@pytest.mark.parametrize("tau", ["0.5", "1"])
@pytest.mark.parametrize("floor", ["flux", "absorbing"])
@pytest.mark.parametrize("row", rows("aerosol_exact_settling.csv"))
def test_settling_in_a_closed_box(row: Row, floor: str, tau: str) -> None:
    grid = Grid(1, 1, 20, 1.0, 1.0, 1.0)
    starts = same((0.5, 0.5, 0.0))
    starts[:, 2] = (np.arange(PARTICLES) + 0.5) / PARTICLES
    taken = wall_faces(grid, "floor", ABSORBS) if floor == "absorbing" else None
    time = float(tau)
    walk = Walk(1.0 / float(row["Pe"]), 1.0, taken, step_time=time / 32, time_limit=time)
    found = track(even_flow(grid, 0.0), starts, walk, seed=8)
    # own derivation, two methods (aerosol_exact_settling.csv)
    exact = float(row[f"{floor}_floor_tau{tau}"])
    assert within(found.shares["airborne"], exact)


@pytest.mark.parametrize("row", rows("aerosol_exact_taylor.csv"))
def test_eddies_that_last_spread_as_taylor_says(row: Row) -> None:
    grid = Grid(9, 9, 9, 900.0, 900.0, 900.0)
    walk = Walk(1.0, eddy_time=1.0, time_limit=float(row["theta"]))
    found = track(even_flow(grid, 0.0), same((450.0, 450.0, 450.0)), walk, seed=4)
    variance = float(((found.end_positions - 450.0) ** 2).mean())
    # Taylor 1921 (aerosol_exact_taylor.csv)
    exact = float(row["sigma2_over_u2TL2"])
    assert abs(variance - exact) <= ERRORS * exact * math.sqrt(2.0 / (3 * PARTICLES))


@pytest.mark.parametrize("row", rows("aerosol_exact_back_diffusion.csv"))
def test_way_up_a_slit_against_the_flow(row: Row) -> None:
    number = float(row["Pe"])
    grid = Grid(10, 1, 1, 1.0, 1.0, 1.0)
    ends = wall_faces(grid, "left", ABSORBS)
    ends.x[-1] = ABSORBS
    walk = Walk(1.0, deposition=ends, step_time=4e-3 if number < 3.0 else 1.5e-3)
    field = even_flow(grid, number)
    found = track(field, same((0.5, 0.5, 0.5)), walk, seed=5)
    # own derivation, two methods (aerosol_exact_back_diffusion.csv)
    assert within(found.shares["left"], float(row["P_hit_upstream_from_mid"]))
    mean = float(row["v*Tmean/L_from_mid"]) / number
    error = float(found.residence_time.std()) / math.sqrt(PARTICLES)
    assert abs(float(found.residence_time.mean()) - mean) <= ERRORS * error
    near = track(field, same((0.8, 0.5, 0.5)), walk, seed=6)
    # from the same derivation: P(0 first) from 0.8 L times Pe/(exp(0.2 Pe) - 1) is the inflow
    share = float(row["flux_JL_over_DC_room"]) * math.expm1(0.2 * number) / number
    assert within(near.shares["left"], share)


@pytest.mark.parametrize("row", STRONG)
def test_way_up_a_long_slit(row: Row) -> None:
    number = float(row["Pe"])
    grid = Grid(30, 1, 1, 1.0 + 8.0 / number, 1.0, 1.0)
    walk = Walk(1.0, deposition=wall_faces(grid, "left", ABSORBS), step_time=0.12 / number**2)
    found = track(even_flow(grid, number), same((1.0, 0.5, 0.5)), walk, seed=7)
    # own derivation, two methods (aerosol_exact_back_diffusion.csv)
    assert within(found.shares["left"], float(row["exp(-Pe)"]))


@pytest.mark.parametrize("row", rows("aerosol_exact_plume_fraction.csv"))
def test_share_of_a_plume_through_a_disc(row: Row) -> None:
    spread, plane, radius = (float(row[k]) for k in ("D_m2_s", "x_m", "R_m"))
    wide = 0.5 if spread < 5e-3 else 1.6
    before = 12.0 * spread / WIND
    grid = Grid(24, 16, 16, before + plane, wide, wide)
    walk = Walk(spread, deposition=wall_faces(grid, "right", ABSORBS), step_time=plane / 40.0)
    start = (before, 0.5 * wide, 0.5 * wide)
    found = track(even_flow(grid, WIND), same(start), walk, seed=8)
    lateral = found.end_positions[:, 1:] - 0.5 * wide
    inside = np.hypot(lateral[:, 0], lateral[:, 1]) < radius
    # own derivation, two methods (aerosol_exact_plume_fraction.csv)
    assert within(float(inside.mean()), float(row["fraction_exact"]))


def _point(spread: float) -> Callable[[FloatArray, FloatArray], FloatArray]:
    def concentration(x: FloatArray, lateral: FloatArray) -> FloatArray:
        away = np.hypot(x, lateral)
        return np.exp(-WIND * (away - x) / (2 * spread)) / (4 * math.pi * spread * away)

    return concentration


def _line(spread: float) -> Callable[[FloatArray, FloatArray], FloatArray]:
    def concentration(x: FloatArray, lateral: FloatArray) -> FloatArray:
        away = np.hypot(x, lateral)
        scaled = k0e(WIND * away / (2 * spread))
        return scaled * np.exp(WIND * (x - away) / (2 * spread)) / (2 * math.pi * spread)

    return concentration


def _mean(law: Callable[[FloatArray, FloatArray], FloatArray], box: FloatArray) -> float:
    """Return the mean of a law over a box, limits (3, 2)."""
    nodes, weights = np.polynomial.legendre.leggauss(8)
    axes = [low + (high - low) * 0.5 * (nodes + 1.0) for low, high in box]
    x, y, z = np.meshgrid(*axes, indexing="ij")
    share = 0.125 * np.einsum("i,j,k->ijk", weights, weights, weights)
    return float((law(x, np.hypot(y, z)) * share).sum())


@pytest.mark.parametrize("source", ["point", "line2d"])
@pytest.mark.parametrize("row", rows("aerosol_exact_plume.csv"))
def test_concentration_of_a_plume(row: Row, source: str) -> None:
    spread, x, lateral = (float(row[k]) for k in ("D_m2_s", "x_m", "r_lateral_m"))
    law = _point(spread) if source == "point" else _line(spread)
    exact = float(law(np.array(x), np.array(lateral)))
    # own derivation, two methods (aerosol_exact_plume.csv)
    assert exact == pytest.approx(float(row[f"{source}_exact"]), rel=1e-8)

    size = 0.3 * max(abs(x), lateral)
    after = 6.0 * spread / WIND
    counts = (math.ceil((after - min(x, 0.0)) / size + 0.5), math.ceil(after / size))
    before = size * (counts[0] - 0.5) + min(x, 0.0)
    span = max(lateral + 6.0 * math.sqrt(2 * spread * (max(x, 0.0) + after) / WIND), 4 * size)
    half = math.ceil(span / size)
    cells_x = counts[0] + math.ceil(max(x, 0.0) / size) + counts[1]
    deep = 2 * half + 1 if source == "point" else 1
    grid = Grid(cells_x, deep, 2 * half + 1, cells_x * size, deep * size, (2 * half + 1) * size)
    start = np.array([before, 0.5 * grid.depth, 0.5 * grid.height])
    step = min(0.25 * size / WIND, (0.45 * size) ** 2 / (2 * spread))
    walk = Walk(spread, step_time=step)
    found = track(even_flow(grid, WIND), same(tuple(start)), walk, record=Record(residence=True))
    assert found.cell_time is not None
    where = start + np.array([x, 0.0, lateral])
    index = np.floor(where / size + 1e-9).astype(np.int64)
    box = np.stack([index, index + 1], axis=1) * size - start[:, np.newaxis]
    if source == "line2d":
        box[1] = (-1e-9, 1e-9)
    expected = _mean(law, box) * (size**3 if source == "point" else size**2)
    measured = float(found.cell_time[tuple(index)]) / PARTICLES
    # the walk visits a cell about size/U at a time: that many visits set the error
    visits = expected * PARTICLES / max(size / WIND, size**2 / (6 * spread))
    assert abs(measured / expected - 1.0) <= ERRORS / math.sqrt(visits)


def test_uptake_by_a_wall_follows_its_velocity() -> None:
    """Well mixed air between two walls loses k A/V per time where k is small against D/L."""
    grid = Grid(4, 1, 1, 1.0, 1.0, 1.0)
    wall = wall_faces(grid, "left", 0.1)
    walk = Walk(1.0, deposition=wall, step_time=0.05, time_limit=5.0)
    starts = same((0.0, 0.5, 0.5))
    starts[:, 0] = (np.arange(PARTICLES) + 0.5) / PARTICLES
    found = track(even_flow(grid, 0.0), starts, walk, seed=9)
    # own derivation: lowest root of b tan b = k L/D, coefficient (2 sin b/b)^2/(2 + sin 2b/b)
    root = 0.0
    for _ in range(60):
        root = math.sqrt(0.1 * root / math.tan(root)) if root else math.sqrt(0.1)
    first = (2 * math.sin(root) / root) ** 2 / (2 + math.sin(2 * root) / root)
    assert within(found.shares["airborne"], first * math.exp(-(root**2) * 5.0))
