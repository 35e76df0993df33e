"""Boxes with known flow, for the tests of the chamber field."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.grid import Box, Grid, wall_patch, with_boxes
from flowsim.chamber.potential import Field, solve_field

BOX_A = (1.0, 0.8)
BOX_B = (0.6, 0.8)


def plane_box(case: str, cells: tuple[int, int], axis: str = "yz", stations: int = 1) -> Field:
    """Return box A or B of the table as a y-z section (or x-z), unit size along the normal.

    With several stations the y-z box is repeated along x, solved as ``stacked``.
    """
    length, height = BOX_A if case == "A" else BOX_B
    if axis == "yz":
        grid = Grid(stations, cells[0], cells[1], 1.0, length, height)
    else:
        grid = Grid(cells[0], 1, cells[1], length, 1.0, height)
    flux = zero_flux(grid)
    for wall, start, end, speed in _plane_patches(case):
        side = "left" if wall == "front" and axis == "xz" else wall
        limits = (0.0, 1.0, start, end)
        if axis == "xz" and wall != "front":
            limits = (start, end, 0.0, 1.0)
        add_wall_flux(flux, grid, side, speed * wall_patch(grid, side, *limits))
    return solve_field(grid, flux, "section" if stations == 1 else "stacked")


def _plane_patches(case: str) -> list[tuple[str, float, float, float]]:
    """Return wall, start, end and inward speed of the patches of a box."""
    if case == "A":
        return [("ceiling", 0.0, 1.0, 1.0), ("floor", 0.55, 0.75, -5.0)]
    return [
        ("ceiling", 0.0, 0.6, 0.3),
        ("front", 0.0, 0.2, 0.5),
        ("floor", 0.0, 0.6, -(0.3 + 0.5 * 0.2 / 0.6)),
    ]


def volume_box(cells: tuple[int, int, int]) -> Field:
    """Return the 3D box of the table."""
    grid = Grid(*cells, 1.0, 0.6, 0.8)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0.0, 1.0, 0.0, 0.6))
    hole = 15.0 * wall_patch(grid, "floor", 0.7, 0.9, 0.2, 0.4)
    add_wall_flux(flux, grid, "floor", hole, inward=False)
    return solve_field(grid, flux, "volume")


BENCH_BOXES = (
    Box(0.1, 0.5, 0.2, 0.5, 0.0, 0.2),
    Box(0.7, 0.9, 0.1, 0.3, 0.0, 0.15),
    Box(1.0, 1.2, 0.3, 0.6, 0.1, 0.3),
)


def bench(
    cells: tuple[int, int, int], boxes: tuple[Box, ...] = (), front: float = 0.15
) -> tuple[Grid, FaceFlux]:
    """Return a bench: even supply, front outflow, uneven draw through the floor."""
    grid = Grid(*cells, 1.3, 0.65, 0.75)
    grid = Grid(*cells, 1.3, 0.65, 0.75, with_boxes(grid, boxes))
    flux = zero_flux(grid)
    supply = 0.45 * wall_patch(grid, "ceiling", 0.04, 1.26, 0.02, 0.63)
    out = front * wall_patch(grid, "front", 0.05, 1.25, 0.4, 0.56)
    draw = np.outer(1.0 + 0.2 * np.sin(3.0 * grid.centres[0]), np.ones(grid.ny))
    draw *= grid.fluid[:, :, 0]
    draw *= (supply.sum() - out.sum()) / draw.sum()
    add_wall_flux(flux, grid, "ceiling", supply)
    add_wall_flux(flux, grid, "front", out, inward=False)
    add_wall_flux(flux, grid, "floor", draw, inward=False)
    return grid, flux


def largest_difference(one: FaceFlux, other: FaceFlux) -> float:
    """Return the largest difference of two fluxes over the largest flux."""
    scale = max(float(np.abs(axis).max()) for axis in other.axes)
    pairs = zip(one.axes, other.axes, strict=True)
    return max(float(np.abs(a - b).max()) for a, b in pairs) / scale


def points_of(
    table: list[dict[str, str]], order: Mapping[int, str], fixed: float = 0.5
) -> FloatArray:
    """Return points from the columns of a table; axes without a column get a fixed value."""
    points = np.full((len(table), 3), fixed)
    for axis, column in order.items():
        points[:, axis] = [float(row[column]) for row in table]
    return points
