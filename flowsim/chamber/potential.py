"""Potential flow in the chamber: face fluxes from what the walls and solids prescribe."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import largest_divergence
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.cuts import (
    Cuts,
    cell_sources,
    check_walls,
    close_faces,
    cut_sources,
    find_cuts,
    region_imbalance,
)
from flowsim.chamber.direct import (
    box_factors,
    fill_from_waves,
    solve_box,
    solve_stations,
    walls_to_waves,
)
from flowsim.chamber.grid import Grid
from flowsim.chamber.solids import make_window, solve_cut
from flowsim.chamber.stacked import solve_stacked_solids
from flowsim.chamber.walls import WallSources, wall_sources
from flowsim.errors import RangeError

__all__ = ["CLOSURES", "Field", "solve_field"]

CLOSURES = ("section", "stacked", "volume")

_IMBALANCE = 1e-10
"""Net inflow over the sum of all prescribed fluxes that passes for round-off. [-]"""


@dataclass(frozen=True, eq=False)
class Field:
    """Air flow in the chamber.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    flux : FaceFlux
        Flux through every face, prescribed ones exactly as given. [m3/s]
    closure : str
        section, stacked or volume. [-]
    solver : str
        How it was solved, in words. [-]
    iterations : int
        Iterations of the solver, 0 for a direct one. [-]
    """

    grid: Grid
    flux: FaceFlux
    closure: str
    solver: str
    iterations: int

    @cached_property
    def divergence(self) -> float:
        """Largest net outflow of a cell over the largest face flux. [-]."""
        largest = max(float(np.abs(axis).max()) for axis in self.flux.axes)
        if largest == 0.0:
            return 0.0
        solid = self.grid.solid
        mask = np.zeros((1, 1, 1), dtype=np.bool_) if solid is None else solid
        return largest_divergence(*self.flux.axes, mask, solid is not None) / largest


def solve_field(grid: Grid, boundary: FaceFlux, closure: str) -> Field:
    """Return the potential flow that carries the prescribed fluxes.

    Parameters
    ----------
    grid : Grid
        The cells; solids are blocked. [-]
    boundary : FaceFlux
        Fluxes prescribed on the outer faces and on faces that touch a solid; values on other
        faces are ignored. [m3/s]
    closure : str
        ``section`` (nx = 1 or ny = 1), ``stacked`` (every x station is a y-z section, coupled by
        an even lateral flow) or ``volume``. [-]

    Returns
    -------
    Field
        Face fluxes whose divergence is round-off in every cell.

    Raises
    ------
    RangeError
        If a shape is wrong, a flux is not finite, inflow and outflow differ by more than
        round-off, or the closure is unknown or does not suit the grid.

    Notes
    -----
    Cell-centred finite volumes for ``laplace phi = 0``, flux = -grad phi times the face area;
    a round-off remainder of the balance is spread evenly over the cells. Stacked closure:
    ``d(A u_x)/dx`` = imbalance of the station, ``laplace_yz phi = -d u_x/dx``. Common practice,
    no source.
    """
    _check(grid, boundary, closure)
    boundary = FaceFlux(*(np.ascontiguousarray(axis, dtype=np.float64) for axis in boundary.axes))
    walls = wall_sources(boundary)
    if grid.solid is not None:
        return _solve_solids(grid, boundary, closure, walls)
    _check_balance(walls.net, float(walls.sizes.sum()))
    factors = box_factors(grid.shape, _weights(grid, closure), closure != "stacked")
    flux = _empty_flux(grid)
    if closure == "stacked":
        gain = walls.per_station() - walls.net / grid.nx
        section = grid.ny * grid.nz
        flux.x[1:-1] = (np.cumsum(gain)[:-1] / section)[:, np.newaxis, np.newaxis]
        solve_stations(factors, walls, gain * (-1.0 / section), flux)
    else:
        solve_box(factors, walls, np.array([-walls.net / grid.cells]), flux)
    return Field(grid, flux, closure, "direct", 0)


def _solve_solids(grid: Grid, boundary: FaceFlux, closure: str, walls: WallSources) -> Field:
    """Return the field of a grid with solids."""
    assert grid.solid is not None
    check_walls(grid.solid, walls)
    cuts = find_cuts(grid.solid)
    inner = cut_sources(cuts, boundary)
    net = walls.net + float(inner.sum())
    _check_balance(net, float(walls.sizes.sum() + np.abs(inner).sum()))
    factors = box_factors(grid.shape, _weights(grid, closure), closure != "stacked")
    flux = _empty_flux(grid)
    iterations, solver = 0, "direct"
    if closure == "stacked":
        waves, flux.x[1:-1] = solve_stacked_solids(grid, factors, walls, boundary)
    else:
        solver = "conjugate gradients on the direct solver"
        _check_regions(grid, cuts, walls, inner)
        window = make_window(cuts, factors)
        waves = walls_to_waves(factors, walls, np.array([-net / cuts.air_cells]))
        scale = max(walls.largest, float(np.abs(inner).max(initial=0.0)))
        amount = np.asarray(np.bincount(window.owner, inner), dtype=np.float64)
        waves, iterations = solve_cut(window, waves, amount, scale)
    fill_from_waves(factors, waves, walls, flux)
    close_faces(cuts, boundary, flux)
    return Field(grid, flux, closure, solver, iterations)


def _check_regions(grid: Grid, cuts: Cuts, walls: WallSources, inner: FloatArray) -> None:
    """Refuse a region of air that solids enclose and that does not balance by itself."""
    if cuts.regions == 1:
        return
    sources = walls.in_cells().ravel() + cell_sources(cuts, inner)
    net, _, _ = region_imbalance(cuts, sources)
    wrong = np.flatnonzero(np.abs(net) > _IMBALANCE * np.abs(sources).sum())
    if wrong.size:
        cell = int(np.flatnonzero(cuts.labels == wrong[0] + 1)[0])
        place = [int(index) for index in np.unravel_index(cell, grid.shape)]
        raise RangeError(
            f"solids part the air into {cuts.regions} regions; into the one at cell {place} flow "
            f"{net[wrong[0]]:.3g} m3/s net, which cannot leave it"
        )


def _check(grid: Grid, boundary: FaceFlux, closure: str) -> None:
    """Refuse what cannot be solved."""
    if closure not in CLOSURES:
        raise RangeError(f"unknown closure '{closure}', expected one of {', '.join(CLOSURES)}")
    if closure == "section" and min(grid.nx, grid.ny) > 1:
        raise RangeError(f"a section needs nx = 1 or ny = 1, got {grid.shape}")
    nx, ny, nz = grid.shape
    shapes = ((nx + 1, ny, nz), (nx, ny + 1, nz), (nx, ny, nz + 1))
    for axis, (values, expected) in enumerate(zip(boundary.axes, shapes, strict=True)):
        if values.shape != expected:
            raise RangeError(
                f"face fluxes along {'xyz'[axis]} must have shape {expected}, got {values.shape}"
            )


def _weights(grid: Grid, closure: str) -> tuple[float, float, float]:
    """Return the flux per potential difference across a face normal to x, y, z, in m."""
    area, step = grid.face_areas, grid.spacing
    lateral = 0.0 if closure == "stacked" else area[0] / step[0]
    return (lateral, area[1] / step[1], area[2] / step[2])


def _check_balance(net: float, gross: float) -> None:
    """Refuse an imbalance beyond round-off."""
    if not abs(net) <= _IMBALANCE * gross:
        raise RangeError(
            f"inflow and outflow of the chamber differ by {net:.6g} m3/s where "
            f"{gross / 2:.6g} m3/s pass; they must balance"
        )


def _empty_flux(grid: Grid) -> FaceFlux:
    """Return new face fluxes in one block, not yet filled."""
    nx, ny, nz = grid.shape
    x_end = (nx + 1) * ny * nz
    y_end = x_end + nx * (ny + 1) * nz
    block = np.empty(y_end + nx * ny * (nz + 1))
    return FaceFlux(
        block[:x_end].reshape(nx + 1, ny, nz),
        block[x_end:y_end].reshape(nx, ny + 1, nz),
        block[y_end:].reshape(nx, ny, nz + 1),
    )
