"""Values on the faces of cells, and the faces through which something can leave the air."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.grid import Grid, wall_axes
from flowsim.errors import RangeError
from flowsim.transport._once import Beside

__all__ = [
    "FaceArrays",
    "Faces",
    "OuterFaces",
    "check_faces",
    "face_shapes",
    "faces_of_solids",
    "outer_faces",
    "wall_faces",
]


_KEPT: Beside[OuterFaces] = Beside(1)


class Faces(Protocol):
    """Anything with one array per axis, one value per face."""

    @property
    def axes(self) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """The arrays normal to x, y, z."""
        ...


@dataclass(frozen=True)
class FaceArrays:
    """One value per cell face: a mask, a share, a velocity, a concentration.

    Parameters
    ----------
    x : array, shape (nx + 1, ny, nz)
        Faces normal to x, in the unit of the quantity. [-]
    y : array, shape (nx, ny + 1, nz)
        Faces normal to y. [-]
    z : array, shape (nx, ny, nz + 1)
        Faces normal to z. [-]
    """

    x: NDArray[Any]
    y: NDArray[Any]
    z: NDArray[Any]

    @property
    def axes(self) -> tuple[NDArray[Any], NDArray[Any], NDArray[Any]]:
        """The three arrays in the order of the axes."""
        return (self.x, self.y, self.z)


@dataclass(frozen=True, eq=False)
class OuterFaces:
    """Faces between a cell of air and a wall, an opening or a solid.

    Parameters
    ----------
    cell : array, shape (faces,)
        Number of the cell of air, C order. [-]
    sign : array, shape (faces,)
        1 where the axis points out of the cell, else -1. [-]
    area : array, shape (faces,)
        Face area. [m2]
    upright : array, shape (faces,)
        Area of faces under their cell, minus that of faces above it, else 0. [m2]
    place : tuple of array
        Position of the faces in the flattened arrays normal to x, y, z, axis after axis. [-]
    """

    cell: IntArray
    sign: FloatArray
    area: FloatArray
    upright: FloatArray
    place: tuple[IntArray, IntArray, IntArray]

    def read(self, faces: Faces) -> FloatArray:
        """Return the values of some face arrays on these faces.

        Parameters
        ----------
        faces : FaceArrays or FaceFlux
            One value per face. [-]

        Returns
        -------
        array, shape (faces,)
            In the order of these faces.
        """
        parts = [
            values.ravel()[place] for values, place in zip(faces.axes, self.place, strict=True)
        ]
        return np.concatenate(parts).astype(np.float64, copy=False)


def wall_faces(grid: Grid, wall: str, values: NDArray[Any] | float = 1.0) -> FaceArrays:
    """Return face arrays that are zero but on one outer wall.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    wall : str
        left, right, front, back, floor or ceiling. [-]
    values : array, shape (n first, n second), or float
        Values on the faces of that wall, in the unit of the quantity. [-]

    Returns
    -------
    FaceArrays
        New arrays.

    Raises
    ------
    RangeError
        If there is no such wall.
    """
    normal = wall_axes(wall)[0]
    arrays = [np.zeros(shape) for shape in face_shapes(grid.shape)]
    index: list[slice | int] = [slice(None)] * 3
    index[normal] = 0 if wall in ("left", "front", "floor") else -1
    arrays[normal][tuple(index)] = values
    return FaceArrays(*arrays)


def faces_of_solids(grid: Grid) -> FaceArrays:
    """Return the mask of faces between a cell of air and a solid.

    Parameters
    ----------
    grid : Grid
        The cells. [-]

    Returns
    -------
    FaceArrays
        True on faces of solids inside the chamber.
    """
    masks = [np.zeros(shape, dtype=np.bool_) for shape in face_shapes(grid.shape)]
    for axis, mask in enumerate(masks):
        inner = [slice(None)] * 3
        inner[axis] = slice(1, -1)
        low, high = _sides(grid.fluid, axis)
        mask[tuple(inner)] = low != high
    return FaceArrays(*masks)


def face_shapes(shape: tuple[int, int, int]) -> list[tuple[int, int, int]]:
    """Return the shapes of the three face arrays.

    Parameters
    ----------
    shape : tuple of int
        Cells along x, y, z. [-]

    Returns
    -------
    list of tuple of int
        Faces normal to x, y, z.
    """
    nx, ny, nz = shape
    return [(nx + 1, ny, nz), (nx, ny + 1, nz), (nx, ny, nz + 1)]


def check_faces(grid: Grid, faces: Faces, name: str) -> None:
    """Refuse face arrays of another shape, or with values that are negative or not finite.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    faces : FaceArrays or FaceFlux
        One value per face. [-]
    name : str
        For the message. [-]

    Raises
    ------
    RangeError
        As said.
    """
    for axis, shape in enumerate(face_shapes(grid.shape)):
        values = faces.axes[axis]
        if values.shape != shape:
            raise RangeError(
                f"{name}: faces along {'xyz'[axis]} must have shape {shape}, got {values.shape}"
            )
        lowest = float(values.min()) if values.size else 0.0
        if not lowest >= 0.0 or not np.isfinite(float(values.max())):
            raise RangeError(f"{name}: values must be finite and not negative, got {lowest:g}")


def _sides(cells: BoolArray, axis: int) -> tuple[BoolArray, BoolArray]:
    """Return the cells on the low and on the high side of inner faces."""
    low: list[slice] = [slice(None)] * 3
    high: list[slice] = [slice(None)] * 3
    low[axis], high[axis] = slice(None, -1), slice(1, None)
    return cells[tuple(low)], cells[tuple(high)]


def outer_faces(grid: Grid) -> OuterFaces:
    """Return all faces through which something may enter or leave the air.

    Parameters
    ----------
    grid : Grid
        The cells. [-]

    Returns
    -------
    OuterFaces
        Faces of the outer walls and of solids.
    """
    if grid.solid is None:
        return _wall_faces(grid.shape, grid.size)
    return _KEPT.get(grid, None, lambda: _find_faces(grid))


@lru_cache(maxsize=8)
def _wall_faces(shape: tuple[int, int, int], size: tuple[float, float, float]) -> OuterFaces:
    """Return the faces of a box without solids."""
    return _find_faces(Grid(*shape, *size))


def _find_faces(grid: Grid) -> OuterFaces:
    """Return the faces with air on one side only."""
    cells, signs, places = [], [], []
    for axis in range(3):
        cell, sign, place = _axis_faces(grid.fluid, axis)
        cells.append(cell)
        signs.append(sign)
        places.append(place)
    counts = [cell.size for cell in cells]
    sign = np.concatenate(signs)
    area = np.repeat(np.array(grid.face_areas), counts)
    upright = np.where(np.arange(sign.size) >= counts[0] + counts[1], -sign * area, 0.0)
    return OuterFaces(np.concatenate(cells), sign, area, upright, tuple(places))  # type: ignore[arg-type]


def _axis_faces(fluid: BoolArray, axis: int) -> tuple[IntArray, FloatArray, IntArray]:
    """Return cell, sign and place of the faces normal to one axis with air on one side."""
    margin = [(1, 1) if along == axis else (0, 0) for along in range(3)]
    low, high = _sides(np.pad(fluid, margin), axis)
    place = np.flatnonzero(low != high)
    where = np.unravel_index(place, low.shape)
    outward = low[where]
    index = [along.astype(np.int64) for along in where]
    index[axis] = index[axis] - outward
    cell = np.ravel_multi_index(index, fluid.shape)
    sign = np.where(outward, 1.0, -1.0)
    return cell.astype(np.int64), sign, place.astype(np.int64)
