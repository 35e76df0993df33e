"""Potential flow in the chamber: face fluxes from what the walls and solids prescribe."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import face_fluxes, largest_divergence
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.direct import (
    BoxFactors,
    WallSources,
    box_factors,
    solve_walls,
    wall_sources,
)
from flowsim.chamber.grid import Grid
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
        return largest_divergence(*self.flux.axes) / largest


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
    walls = wall_sources(boundary)
    remainder = _balance(walls)
    if closure == "stacked":
        return _solve_stacked(grid, boundary, walls, remainder)
    factors = box_factors(grid.shape, _weights(grid), True)
    spread = np.full(1, -remainder / grid.cells)
    potential = solve_walls(factors, walls, spread)
    flux = _prescribed(grid, boundary)
    _fill(flux, potential, factors, _weights(grid))
    return Field(grid, flux, closure, "direct", 0)


def _check(grid: Grid, boundary: FaceFlux, closure: str) -> None:
    """Refuse what cannot be solved."""
    if closure not in CLOSURES:
        raise RangeError(f"unknown closure '{closure}', expected one of {', '.join(CLOSURES)}")
    if closure == "section" and min(grid.nx, grid.ny) > 1:
        raise RangeError(f"a section needs nx = 1 or ny = 1, got {grid.shape}")
    for axis, values in enumerate(boundary.axes):
        expected = tuple(n + (a == axis) for a, n in enumerate(grid.shape))
        if values.shape != expected:
            raise RangeError(
                f"face fluxes along {'xyz'[axis]} must have shape {expected}, got {values.shape}"
            )


def _weights(grid: Grid) -> tuple[float, float, float]:
    """Return the flux per potential difference across a face normal to x, y, z, in m."""
    area, step = grid.face_areas, grid.spacing
    return (area[0] / step[0], area[1] / step[1], area[2] / step[2])


def _balance(walls: WallSources) -> float:
    """Return the net inflow, which must be round-off. [m3/s]."""
    net = sum(float(wall.sum()) for wall in walls.arrays)
    gross = sum(float(np.abs(wall).sum()) for wall in walls.arrays)
    if not abs(net) <= _IMBALANCE * gross:
        raise RangeError(
            f"inflow and outflow of the chamber differ by {net:.6g} m3/s where "
            f"{gross / 2:.6g} m3/s pass; they must balance"
        )
    return net


def _prescribed(grid: Grid, boundary: FaceFlux) -> FaceFlux:
    """Return new face fluxes with the outer faces set and the inner ones not yet filled."""
    nx, ny, nz = grid.shape
    x, y, z = np.empty((nx + 1, ny, nz)), np.empty((nx, ny + 1, nz)), np.empty((nx, ny, nz + 1))
    x[0], x[-1] = boundary.x[0], boundary.x[-1]
    y[:, 0], y[:, -1] = boundary.y[:, 0], boundary.y[:, -1]
    z[:, :, 0], z[:, :, -1] = boundary.z[:, :, 0], boundary.z[:, :, -1]
    return FaceFlux(x, y, z)


def _fill(
    flux: FaceFlux,
    potential: FloatArray,
    factors: BoxFactors,
    weights: tuple[float, float, float],
) -> None:
    """Fill the inner faces from the potential."""
    no, nt, nz = potential.shape
    strides = (1, nt) if factors.swapped else (nt, 1)
    face_fluxes(potential.reshape(no * nt, nz), strides, weights, flux.x, flux.y, flux.z)


def _solve_stacked(
    grid: Grid, boundary: FaceFlux, walls: WallSources, remainder: float
) -> Field:
    """Solve every x station as a section that an even lateral flow feeds."""
    gain = walls.per_station() - remainder / grid.nx
    section = grid.ny * grid.nz
    weights = (0.0, *_weights(grid)[1:])
    factors = box_factors(grid.shape, weights, False)
    potential = solve_walls(factors, walls, -gain / section)
    flux = _prescribed(grid, boundary)
    flux.x[1:-1] = (np.cumsum(gain)[:-1] / section)[:, np.newaxis, np.newaxis]
    _fill(flux, potential, factors, weights)
    return Field(grid, flux, "stacked", "direct", 0)
