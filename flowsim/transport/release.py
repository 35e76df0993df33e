"""Where something is released or looked at: weights of the cells, from places in metres."""

from __future__ import annotations

import math

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.grid import Grid, overlap
from flowsim.errors import RangeError
from flowsim.transport.faces import Faces, outer_faces

__all__ = ["face_weights", "layer_above", "patch_weights", "release_weights"]

_SLACK = 1e-9
"""Share of a size by which a place may pass the walls, for round-off. [-]"""


def layer_above(grid: Grid, height: float) -> int:
    """Return the layer of cells that stands on a level surface.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    height : float
        Of the surface; on the grid it lies on the cell face that a solid box up to there gets. [m]

    Returns
    -------
    int
        Index along z; the number of layers for a surface at the ceiling. [-]
    """
    return int(np.searchsorted(grid.centres[2], height - _SLACK * grid.dz))


def release_weights(
    grid: Grid, limits: tuple[float, float, float, float, float, float]
) -> FloatArray:
    """Return the share of a release in each cell, spread evenly over the air in a block.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    limits : tuple of float
        x0, x1, y0, y1, z0, z1 of the block. A flat block in z takes the air right above it, one
        that is flat in x or y the cell it lies in, or both when it lies between two. [m]

    Returns
    -------
    array, shape (nx, ny, nz)
        Shares that sum to 1, 0 in solids. [-]

    Raises
    ------
    RangeError
        If the block ends before it starts, passes the walls or holds no air.

    Notes
    -----
    A block that lies in the last part of a cell that counts as solid, such as thin vapour over
    an object, takes the air right above its lower limit.
    """
    _check_limits(grid, limits)
    x0, x1, y0, y1, z0, z1 = limits
    edges = grid.edges
    ground = np.multiply.outer(_lengths(edges[0], x0, x1), _lengths(edges[1], y0, y1))
    if z1 > z0:
        weights = np.multiply.outer(ground, overlap(edges[2], z0, z1)) * grid.fluid
        if weights.any():
            return np.asarray(weights / weights.sum())
    return _on_level(grid, ground, z0, f"the release in {_words(limits)}")


def patch_weights(
    grid: Grid, x0: float, x1: float, y0: float, y1: float, height: float
) -> FloatArray:
    """Return weights of the air right above a level patch, such as a workpiece.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    x0, x1, y0, y1 : float
        Limits of the patch. [m]
    height : float
        Of its surface. [m]

    Returns
    -------
    array, shape (nx, ny, nz)
        Shares of its area above which each cell lies, summing to 1; 0 in solids. [-]

    Raises
    ------
    RangeError
        If the patch ends before it starts, passes the walls or has no air above it.
    """
    limits = (x0, x1, y0, y1, height, height)
    _check_limits(grid, limits)
    edges = grid.edges
    ground = np.multiply.outer(_lengths(edges[0], x0, x1), _lengths(edges[1], y0, y1))
    return _on_level(grid, ground, height, f"the patch in {_words(limits)}")


def face_weights(grid: Grid, faces: Faces) -> FloatArray:
    """Return weights of the cells of air that touch some outer faces.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    faces : FaceArrays
        Weight of each face, such as its open area; faces between two cells of air do not
        count. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        Shares that sum to 1, 0 in solids. [-]

    Raises
    ------
    RangeError
        If no face next to air has a weight.
    """
    outer = outer_faces(grid)
    values = outer.read(faces)
    total = float(values.sum())
    if not (math.isfinite(total) and total > 0.0 and values.min() >= 0.0):
        raise RangeError(f"faces must carry weights that are not negative, got a sum of {total:g}")
    weights = np.bincount(outer.cell, values / total, grid.cells)
    return np.asarray(weights, dtype=np.float64).reshape(grid.shape)


def _check_limits(grid: Grid, limits: tuple[float, ...]) -> None:
    """Refuse a block that ends before it starts or passes the walls."""
    for axis, size in enumerate(grid.size):
        low, high = limits[2 * axis : 2 * axis + 2]
        if not high >= low:
            raise RangeError(f"a place must not end before it starts, got {_words(limits)}")
        if not (low >= -_SLACK * size and high <= (1.0 + _SLACK) * size):
            raise RangeError(
                f"the place in {_words(limits)} passes the chamber, which is {size:g} m along "
                f"{'xyz'[axis]}"
            )


def _lengths(edges: FloatArray, start: float, end: float) -> FloatArray:
    """Return the length of each cell that an interval covers, or 1 in all where a point lies."""
    if end > start:
        return overlap(edges, start, end)
    slack = _SLACK * (edges[-1] - edges[0])
    touched = (edges[1:] >= start - slack) & (edges[:-1] <= start + slack)
    return np.asarray(touched, dtype=np.float64)


def _on_level(grid: Grid, ground: FloatArray, height: float, name: str) -> FloatArray:
    """Return weights of the layer of air above a level surface."""
    layer = min(layer_above(grid, height), grid.nz - 1)
    weights = np.zeros(grid.shape)
    weights[:, :, layer] = ground * grid.fluid[:, :, layer]
    total = float(weights.sum())
    if not total > 0.0:
        raise RangeError(f"{name} lies wholly inside a solid: there is no air in it")
    return np.asarray(weights / total)


def _words(limits: tuple[float, ...]) -> str:
    """Return limits as text."""
    pairs = zip("xyz", limits[::2], limits[1::2], strict=True)
    return ", ".join(f"{axis} {low:g} to {high:g} m" for axis, low, high in pairs)
