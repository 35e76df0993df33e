"""Fluxes that walls, slits and gaps prescribe."""

from __future__ import annotations

import numpy as np
import pytest

from flowsim.chamber.boundary import (
    FaceFlux,
    Slit,
    add_rim_flux,
    add_slit_flux,
    add_wall_flux,
    slit_areas,
    wall_flux,
    zero_flux,
)
from flowsim.chamber.grid import WALLS, Box, Grid, with_boxes
from flowsim.errors import RangeError

TRAY = Box(0.2, 0.6, 0.1, 0.4, 0.0, 0.2)


def with_tray(box: Box = TRAY) -> Grid:
    grid = Grid(10, 5, 8, 1.0, 0.5, 0.8)
    return Grid(10, 5, 8, 1.0, 0.5, 0.8, with_boxes(grid, [box]))


def inflow(grid: Grid, flux: FaceFlux) -> float:
    """Return what all faces bring into the cells of air."""
    x, y, z = flux.axes
    net = x[:-1] - x[1:] + y[:, :-1] - y[:, 1:] + z[:, :, :-1] - z[:, :, 1:]
    return float(net[grid.fluid].sum())


@pytest.mark.parametrize("wall", WALLS)
@pytest.mark.parametrize("inward", [True, False])
def test_wall_flux_enters_or_leaves(wall: str, inward: bool) -> None:
    grid = Grid(3, 4, 5, 1.0, 1.0, 1.0)
    flux = zero_flux(grid)
    amount = np.full(wall_flux(flux, wall).shape, 0.01)
    assert add_wall_flux(flux, grid, wall, amount, inward) is flux
    total = 0.01 * amount.size
    assert inflow(grid, flux) == pytest.approx(total if inward else -total, rel=1e-12)


@pytest.mark.parametrize("side", ["left", "right", "front", "back", "top"])
def test_slit_takes_its_flow_out_of_the_chamber(side: str) -> None:
    grid = with_tray()
    spans = {"left": (0.1, 0.4), "right": (0.1, 0.4)}
    first = spans.get(side, (0.25, 0.55))
    second = (0.15, 0.35) if side == "top" else (0.12, 0.17)
    flux = add_slit_flux(zero_flux(grid), grid, Slit(TRAY, side, first, second), 0.004)
    assert inflow(grid, flux) == pytest.approx(-0.004, rel=1e-12)


def test_slit_is_spread_by_covered_area() -> None:
    index, areas = slit_areas(with_tray(), Slit(TRAY, "front", (0.2, 0.35), (0.0, 0.05)))
    assert index[1] == 1
    np.testing.assert_allclose(areas[:, 0], [0.005, 0.0025, 0.0, 0.0], atol=1e-15)
    assert not areas[:, 1].any()


def test_rim_takes_its_flow_from_the_lowest_row_of_all_sides() -> None:
    grid = with_tray()
    flux = add_rim_flux(zero_flux(grid), grid, TRAY, 0.002)
    assert inflow(grid, flux) == pytest.approx(-0.002, rel=1e-12)
    assert np.count_nonzero(flux.x) + np.count_nonzero(flux.y) == 2 * (4 + 3)
    assert not flux.x[:, :, 1:].any()


def test_rim_leaves_out_sides_on_a_wall() -> None:
    box = Box(0.0, 0.4, 0.0, 0.3, 0.0, 0.2)
    grid = with_tray(box)
    flux = add_rim_flux(zero_flux(grid), grid, box, 0.002)
    assert inflow(grid, flux) == pytest.approx(-0.002, rel=1e-12)
    assert not flux.y[:, 0].any()


@pytest.mark.parametrize(
    ("slit", "match"),
    [
        (Slit(TRAY, "bottom", (0.2, 0.3), (0.1, 0.2)), "unknown side"),
        (Slit(TRAY, "front", (0.7, 0.9), (0.0, 0.1)), "misses the front side"),
    ],
)
def test_wrong_slit_is_refused(slit: Slit, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        slit_areas(with_tray(), slit)


def test_slit_on_a_wall_or_behind_a_solid_is_refused() -> None:
    box = Box(0.0, 0.4, 0.0, 0.3, 0.0, 0.2)
    with pytest.raises(RangeError, match="lies on a wall"):
        slit_areas(with_tray(box), Slit(box, "front", (0.0, 0.2), (0.0, 0.1)))
    grid = with_tray(Box(0.2, 0.6, 0.0, 0.4, 0.0, 0.2))
    with pytest.raises(RangeError, match="another solid covers"):
        add_slit_flux(zero_flux(grid), grid, Slit(TRAY, "front", (0.2, 0.5), (0.0, 0.1)), 1e-3)


def test_wrong_wall_flux_is_refused() -> None:
    grid = with_tray()
    flux = zero_flux(grid)
    with pytest.raises(RangeError, match="has faces"):
        add_wall_flux(flux, grid, "floor", np.zeros((5, 10)))
    with pytest.raises(RangeError, match="must be finite"):
        add_wall_flux(flux, grid, "floor", np.full((10, 5), np.nan))
    with pytest.raises(RangeError, match="that a solid covers"):
        add_wall_flux(flux, grid, "floor", np.full((10, 5), 1e-3))
