"""What the walk reads of the chamber: velocities, free cells, wall uptake and steps, by cell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError
from flowsim.transport.faces import FaceArrays, Faces, face_shapes

__all__ = ["Cells", "damped_diffusivity", "face_means", "free_cells", "normal_strips", "side_rates"]

_FREE = 4  # free cells looked for round a cell
_RADIUS = 3.6541528853610088  # start of the tail with 256 strips of equal area


@dataclass(frozen=True, eq=False)
class Cells:
    """Arrays by cell, as the compiled walk reads them.

    Parameters
    ----------
    rates : array, shape (cells, 8)
        Velocity of the six sides over the cell size [1/s], step time [s], free cells round [-].
    clear : array of int, shape (cells, 6)
        Free cells beside it, towards each side. [-]
    transfer : array, shape (cells, 6)
        Uptake velocity of each side beside advection. [m/s]
    faces : array, shape (cells, 6) or (0, 6)
        Diffusivity of each side, where it is uneven. [m2/s]
    strides : tuple of int
        Step in cell number across each side. [-]
    """

    rates: FloatArray
    clear: NDArray[np.int16]
    transfer: NDArray[np.float32]
    faces: FloatArray
    strides: tuple[int, int, int, int, int, int]


def _pairs(faces: Faces) -> list[NDArray[np.float64]]:
    """Return six views: the values on the low and high sides of each cell."""
    x, y, z = faces.axes
    return [x[:-1], x[1:], y[:, :-1], y[:, 1:], z[:, :, :-1], z[:, :, 1:]]


def by_side(faces: Faces, grid: Grid) -> FloatArray:
    """Return face values by the sides of the cells.

    Parameters
    ----------
    faces : FaceArrays or FaceFlux
        One value per face. [-]
    grid : Grid
        The cells. [-]

    Returns
    -------
    array, shape (cells, 6)
        In the unit of the values.
    """
    out = np.empty((grid.cells, 6))
    for side, values in enumerate(_pairs(faces)):
        out[:, side] = values.ravel()
    return out


def side_rates(field: Field, settling: float) -> FloatArray:
    """Return the velocities of the sides of the cells over the cell size.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]
    settling : float
        Downward. [m/s]

    Returns
    -------
    array, shape (cells, 6)
        Along the axes; settling included. [1/s]
    """
    grid = field.grid
    rates = by_side(field.flux, grid) / (grid.width / grid.nx * grid.dy * grid.dz)
    rates[:, 4:] -= settling / grid.dz
    return rates


def free_cells(grid: Grid) -> tuple[NDArray[np.int16], FloatArray]:
    """Return how many cells of air lie beside each cell, and round it.

    Parameters
    ----------
    grid : Grid
        The cells. [-]

    Returns
    -------
    beside : array of int, shape (cells, 6)
        Before the next solid or wall, towards each side. [-]
    around : array, shape (cells,)
        In all directions, slanting ones too; at most 4. [-]
    """
    fluid = grid.fluid
    beside = np.zeros((*grid.shape, 6), dtype=np.int16)
    for axis in range(3):
        air = np.moveaxis(fluid, axis, 0)
        low = np.moveaxis(beside[..., 2 * axis], axis, 0)
        high = np.moveaxis(beside[..., 2 * axis + 1], axis, 0)
        for place in range(1, grid.shape[axis]):
            low[place] = np.where(air[place - 1], low[place - 1] + 1, 0)
            high[-1 - place] = np.where(air[-place], high[-place] + 1, 0)
    around = np.zeros(grid.shape)
    shrunk = fluid
    for _ in range(_FREE):
        shrunk = _shrink(shrunk)
        around += shrunk
    return beside.reshape(-1, 6), around.ravel()


def _shrink(mask: BoolArray) -> BoolArray:
    """Return the cells whose 26 neighbours all lie in a mask."""
    for axis in range(3):
        wide = np.pad(mask, [(1, 1) if along == axis else (0, 0) for along in range(3)])
        low, middle, high = (
            np.take(wide, range(start, start + mask.shape[axis]), axis) for start in range(3)
        )
        mask = low & middle & high
    return mask


def face_means(grid: Grid, values: FloatArray) -> FaceArrays:
    """Return on each face the mean of its cells of air.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    values : array, shape (nx, ny, nz)
        One value per cell, in the unit of the quantity. [-]

    Returns
    -------
    FaceArrays
        The value of the one cell at walls and solids, 0 inside solids.
    """
    arrays = []
    for axis, shape in enumerate(face_shapes(grid.shape)):
        total, count = np.zeros(shape), np.zeros(shape)
        for start in (0, 1):
            part: list[slice] = [slice(None)] * 3
            part[axis] = slice(start, start + grid.shape[axis])
            total[tuple(part)] += np.where(grid.fluid, values, 0.0)
            count[tuple(part)] += grid.fluid
        arrays.append(total / np.maximum(count, 1.0))
    return FaceArrays(*arrays)


def damped_diffusivity(
    field: Field, diffusivity: FloatArray | float, molecular: float
) -> FaceArrays:
    """Return diffusivities of the faces that fall to the molecular one at closed walls.

    Parameters
    ----------
    field : Field
        Air flow; faces at walls and solids that it passes are not damped. [m3/s]
    diffusivity : array, shape (nx, ny, nz), or float
        Molecular and eddy diffusivity together away from walls. [m2/s]
    molecular : float
        What is left at a wall. [m2/s]

    Returns
    -------
    FaceArrays
        To be used as the diffusivity of a walk; the fall takes place within the last cell,
        across the wall only. [m2/s]

    Raises
    ------
    RangeError
        If the molecular diffusivity is negative or above the whole one.

    Notes
    -----
    Eddies fade towards a wall; a linear fall over one cell is common practice, no source.
    """
    grid = field.grid
    values = np.broadcast_to(np.asarray(diffusivity, dtype=np.float64), grid.shape)
    if not 0.0 <= molecular <= float(values[grid.fluid].min()):
        raise RangeError(
            f"the molecular diffusivity must lie from 0 to the whole one, got {molecular} m2/s"
        )
    faces = face_means(grid, values)
    closed = closed_faces(field)
    for mean, wall in zip(faces.axes, closed.axes, strict=True):
        mean[wall] = molecular
    return faces


def closed_faces(field: Field) -> FaceArrays:
    """Return the mask of faces at walls and solids that no air passes.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]

    Returns
    -------
    FaceArrays
        True on closed faces. [-]
    """
    fluid, masks = field.grid.fluid, []
    for axis, flux in enumerate(field.flux.axes):
        wide = np.pad(fluid, [(1, 1) if along == axis else (0, 0) for along in range(3)])
        count = fluid.shape[axis] + 1
        low, high = np.take(wide, range(count), axis), np.take(wide, range(1, count + 1), axis)
        masks.append((low != high) & (flux == 0.0))
    return FaceArrays(*masks)


def cells_of(grid: Grid, points: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return cell number and share of the cell of points in the air.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    points : array, shape (n, 3)
        Places. [m]

    Returns
    -------
    cell : array of int, shape (n,)
        Number in C order. [-]
    share : array, shape (n, 3)
        Place within it. [-]

    Raises
    ------
    RangeError
        If a point lies outside the chamber or inside an object, or the array has another shape.
    """
    where = np.array(points, dtype=np.float64)
    if where.ndim != 2 or where.shape[1] != 3:
        raise RangeError(f"starts must have shape (n, 3), got {where.shape}")
    size = np.array(grid.size)
    outside = ~((where >= 0.0) & (where <= size)).all(axis=1)
    if outside.any():
        first = int(np.flatnonzero(outside)[0])
        raise RangeError(f"start {first} at {where[first]} m lies outside the chamber of {size} m")
    scaled = where / np.array(grid.spacing)
    index = np.minimum(scaled.astype(np.int64), np.array(grid.shape) - 1)
    if grid.solid is not None:
        inside = grid.solid[tuple(index.T)]
        if inside.any():
            first = int(np.flatnonzero(inside)[0])
            raise RangeError(f"start {first} at {where[first]} m lies inside an object")
    _, ny, nz = grid.shape
    cell = (index[:, 0] * ny + index[:, 1]) * nz + index[:, 2]
    return cell, np.clip(scaled - index, 0.0, 1.0)


def points_of(grid: Grid, cell: IntArray, share: FloatArray) -> FloatArray:
    """Return the points in the chamber of places in cells.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    cell : array of int, shape (n,)
        Number in C order. [-]
    share : array, shape (n, 3)
        Place within it. [-]

    Returns
    -------
    array, shape (n, 3)
        Places. [m]
    """
    index = np.stack(np.unravel_index(cell, grid.shape), axis=-1)
    points: FloatArray = (index + share) * np.array(grid.spacing)
    return points


def normal_strips() -> FloatArray:
    """Return 256 strips of equal area under the normal curve.

    Returns
    -------
    array, shape (2, 257)
        Half widths, widest first, and heights of the curve there. [-]

    Notes
    -----
    [Marsaglia2000]_; the widths are computed here from the equal areas.
    """
    tail = math.sqrt(math.pi / 2.0) * math.erfc(_RADIUS / math.sqrt(2.0))
    area = _RADIUS * math.exp(-0.5 * _RADIUS**2) + tail
    widths = [area / math.exp(-0.5 * _RADIUS**2), _RADIUS]
    for _ in range(254):
        height = math.exp(-0.5 * widths[-1] ** 2) + area / widths[-1]
        widths.append(math.sqrt(-2.0 * math.log(height)))
    half = np.array([*widths, 0.0])
    return np.stack([half, np.exp(-0.5 * half**2)])
