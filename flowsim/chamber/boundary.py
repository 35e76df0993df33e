"""Volume fluxes through the faces of cells, and what openings prescribe there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim.chamber.grid import Box, Grid, box_cells, overlap, wall_axes
from flowsim.errors import RangeError

__all__ = [
    "FaceFlux",
    "Slit",
    "add_rim_flux",
    "add_slit_flux",
    "add_wall_flux",
    "slit_areas",
    "wall_flux",
    "zero_flux",
]

_LOW_WALLS = ("left", "front", "floor")
_SIDES = {"left": (0, 0), "right": (0, 1), "front": (1, 0), "back": (1, 1), "top": (2, 1)}


@dataclass(frozen=True)
class FaceFlux:
    """Volume flux through every cell face, positive along the axis.

    Parameters
    ----------
    x : array, shape (nx + 1, ny, nz)
        Flux through the faces normal to x. [m3/s]
    y : array, shape (nx, ny + 1, nz)
        Flux through the faces normal to y. [m3/s]
    z : array, shape (nx, ny, nz + 1)
        Flux through the faces normal to z. [m3/s]
    """

    x: FloatArray
    y: FloatArray
    z: FloatArray

    @property
    def axes(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The three arrays in the order of the axes. [m3/s]."""
        return (self.x, self.y, self.z)


@dataclass(frozen=True)
class Slit:
    """A rectangle on one side of a solid box through which air leaves the chamber.

    Parameters
    ----------
    box : Box
        The solid block. [m]
    side : str
        left, right, front, back or top. [-]
    first, second : tuple of float
        Start and end along the first and second axis of that side (left, right: y, z; front,
        back: x, z; top: x, y), in chamber coordinates. [m]
    """

    box: Box
    side: str
    first: tuple[float, float]
    second: tuple[float, float]


def zero_flux(grid: Grid) -> FaceFlux:
    """Return fluxes that are zero on every face.

    Parameters
    ----------
    grid : Grid
        The cells. [-]

    Returns
    -------
    FaceFlux
        Arrays that may be filled in place. [m3/s]
    """
    nx, ny, nz = grid.shape
    return FaceFlux(
        np.zeros((nx + 1, ny, nz)), np.zeros((nx, ny + 1, nz)), np.zeros((nx, ny, nz + 1))
    )


def wall_flux(flux: FaceFlux, wall: str) -> FloatArray:
    """Return the faces of one outer wall as a view that may be written to.

    Parameters
    ----------
    flux : FaceFlux
        Fluxes of all faces. [m3/s]
    wall : str
        left, right, front, back, floor or ceiling. [-]

    Returns
    -------
    array, shape (n first, n second)
        Flux along the axis normal to the wall, so inward at a low wall and outward at a high
        one. [m3/s]

    Raises
    ------
    RangeError
        If there is no such wall.
    """
    normal = wall_axes(wall)[0]
    index: list[slice | int] = [slice(None)] * 3
    index[normal] = 0 if wall in _LOW_WALLS else -1
    return flux.axes[normal][tuple(index)]


def add_wall_flux(
    flux: FaceFlux, grid: Grid, wall: str, amount: FloatArray, inward: bool = True
) -> FaceFlux:
    """Add a flux to the faces of an outer wall, in place.

    Parameters
    ----------
    flux : FaceFlux
        Changed in place. [m3/s]
    grid : Grid
        The cells. [-]
    wall : str
        left, right, front, back, floor or ceiling. [-]
    amount : array, shape (n first, n second) of the wall
        Flux through each face. [m3/s]
    inward : bool
        True if a positive amount enters the chamber, False if it leaves. [-]

    Returns
    -------
    FaceFlux
        The same object. [m3/s]

    Raises
    ------
    RangeError
        If the wall is unknown, the shape is wrong, a value is not finite, or air is to pass a
        wall face behind which a solid lies.
    """
    faces = wall_flux(flux, wall)
    values = np.asarray(amount, dtype=np.float64)
    if values.shape != faces.shape:
        raise RangeError(f"wall '{wall}' has faces {faces.shape}, got an array {values.shape}")
    if not np.isfinite(values).all():
        raise RangeError(f"the flux on wall '{wall}' must be finite")
    if grid.solid is not None and np.any(values[_wall_layer(grid.solid, wall)] != 0.0):
        raise RangeError(f"wall '{wall}': air is to pass faces that a solid covers")
    faces += values if inward == (wall in _LOW_WALLS) else -values
    return flux


def _wall_layer(solid: BoolArray, wall: str) -> BoolArray:
    """Return the mask of the layer of cells along a wall."""
    layer: BoolArray = np.take(solid, 0 if wall in _LOW_WALLS else -1, axis=wall_axes(wall)[0])
    return layer


def slit_areas(grid: Grid, slit: Slit) -> tuple[tuple[slice | int, ...], FloatArray]:
    """Return the faces on one side of a solid box and the area of each that a slit covers.

    Parameters
    ----------
    grid : Grid
        The cells, with the box in its mask. [-]
    slit : Slit
        Where the slit lies. [m]

    Returns
    -------
    index : tuple of slice and int
        Where the faces of that side stand in the face array of its axis. [-]
    areas : array, shape of that side
        Covered area of each face. [m2]

    Raises
    ------
    RangeError
        If the side is unknown, lies on an outer wall, or the slit misses it.
    """
    if slit.side not in _SIDES:
        raise RangeError(f"unknown side '{slit.side}' of a box, expected {', '.join(_SIDES)}")
    normal, high = _SIDES[slit.side]
    cells = box_cells(grid, slit.box)
    place = cells[normal].stop if high else cells[normal].start
    if place in (0, grid.shape[normal]):
        raise RangeError(f"the {slit.side} side of the box lies on a wall of the chamber")
    index: list[slice | int] = list(cells)
    index[normal] = place
    lengths = [
        overlap(grid.edges[axis][cells[axis].start : cells[axis].stop + 1], *limits)
        for axis, limits in zip(
            (axis for axis in range(3) if axis != normal), (slit.first, slit.second), strict=True
        )
    ]
    areas = np.outer(*lengths)
    if not areas.any():
        raise RangeError(
            f"the slit {slit.first} x {slit.second} m misses the {slit.side} side of its box on "
            "this grid; use more cells or move it"
        )
    return tuple(index), areas


def add_slit_flux(flux: FaceFlux, grid: Grid, slit: Slit, flow: float) -> FaceFlux:
    """Let air leave the chamber evenly through a slit in a solid box, in place.

    Parameters
    ----------
    flux : FaceFlux
        Changed in place. [m3/s]
    grid : Grid
        The cells, with the box in its mask. [-]
    slit : Slit
        Where the slit lies. [m]
    flow : float
        Air that passes from the chamber into the box; negative blows out of it. [m3/s]

    Returns
    -------
    FaceFlux
        The same object. [m3/s]

    Raises
    ------
    RangeError
        As in `slit_areas`, or if another solid covers part of the slit.
    """
    index, areas = slit_areas(grid, slit)
    normal, high = _SIDES[slit.side]
    if grid.solid is not None:
        outside = list(index)
        outside[normal] = index[normal] if high else index[normal] - 1  # type: ignore[operator]
        if np.any(grid.solid[tuple(outside)] & (areas > 0.0)):
            raise RangeError(f"another solid covers part of the slit on side '{slit.side}'")
    share = areas * (flow / areas.sum())
    flux.axes[normal][index] += -share if high else share
    return flux


def add_rim_flux(flux: FaceFlux, grid: Grid, box: Box, flow: float) -> FaceFlux:
    """Let air leave the chamber evenly through a gap round the lower edge of a box, in place.

    The flow is spread over the faces of the lowest row of cells on the four upright sides, by
    face area; sides on an outer wall or against another solid take nothing.

    Parameters
    ----------
    flux : FaceFlux
        Changed in place. [m3/s]
    grid : Grid
        The cells, with the box in its mask. [-]
    box : Box
        The solid block. [m]
    flow : float
        Air that passes from the chamber under the box; negative blows out. [m3/s]

    Returns
    -------
    FaceFlux
        The same object. [m3/s]

    Raises
    ------
    RangeError
        If the box vanishes on this grid or no side of it is free.
    """
    fluid = grid.fluid
    rows = _rim_rows(grid, box)
    areas = [
        grid.face_areas[axis] * fluid[outside].astype(np.float64) for axis, _, outside, _ in rows
    ]
    total = sum(float(area.sum()) for area in areas)
    if total == 0.0:
        raise RangeError("no side of the box is free for the gap round its lower edge")
    for (axis, faces, _, sign), area in zip(rows, areas, strict=True):
        flux.axes[axis][faces] += sign * flow / total * area
    return flux


_Index = tuple[slice | int, ...]


def _rim_rows(grid: Grid, box: Box) -> list[tuple[int, _Index, _Index, float]]:
    """Return axis, faces, cells outside and inward sign of the lowest row on each free side."""
    cells = box_cells(grid, box)
    lowest = cells[2].start
    rows: list[tuple[int, _Index, _Index, float]] = []
    for axis in (0, 1):
        for high in (False, True):
            place = cells[axis].stop if high else cells[axis].start
            if place in (0, grid.shape[axis]):
                continue
            faces: list[slice | int] = [cells[0], cells[1], lowest]
            outside = list(faces)
            faces[axis] = place
            outside[axis] = place if high else place - 1
            rows.append((axis, tuple(faces), tuple(outside), -1.0 if high else 1.0))
    return rows
