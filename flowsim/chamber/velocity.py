"""Velocities at cells, points, heights and walls, and stream functions, from face fluxes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import FloatArray
from flowsim.chamber.grid import Grid, wall_axes
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError

__all__ = [
    "cell_velocity",
    "downward_at_height",
    "stream_function",
    "velocity_at",
    "wall_tangential",
]


def cell_velocity(field: Field) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the velocity at the cell centres.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [-]

    Returns
    -------
    tuple of array, shape (nx, ny, nz) each
        Components along x, y, z; nan in solids. [m/s]

    Notes
    -----
    Mean of the two opposite faces, second order. Common practice, no source.
    """
    area = field.grid.face_areas
    flux = field.flux
    u = (flux.x[1:] + flux.x[:-1]) * (0.5 / area[0])
    v = (flux.y[:, 1:] + flux.y[:, :-1]) * (0.5 / area[1])
    w = (flux.z[:, :, 1:] + flux.z[:, :, :-1]) * (0.5 / area[2])
    if field.grid.solid is not None:
        for component in (u, v, w):
            component[field.grid.solid] = np.nan
    return u, v, w


def velocity_at(field: Field, points: FloatArray) -> FloatArray:
    """Return the velocity at points inside the chamber.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [-]
    points : array, shape (n, 3)
        Positions x, y, z. [m]

    Returns
    -------
    array, shape (n, 3)
        Components along x, y, z; nan in solids. [m/s]

    Raises
    ------
    RangeError
        If a point lies outside the chamber or the array has another shape.

    Notes
    -----
    Each component is interpolated linearly between its faces, along the other two axes between
    face centres, and continued linearly over the last half cell to a wall. Second order away
    from solids; next to one the zero flux of its faces enters. Common practice, no source.
    """
    grid = field.grid
    where = np.asarray(points, dtype=np.float64)
    _check_points(grid, where)
    out = np.empty_like(where)
    for axis, faces in enumerate(field.flux.axes):
        out[:, axis] = _interpolate(grid, where, faces, axis) / grid.face_areas[axis]
    if grid.solid is not None:
        out[grid.solid[_cell_of(grid, where)]] = np.nan
    return out


def _check_points(grid: Grid, points: FloatArray) -> None:
    """Refuse points outside the chamber."""
    if points.ndim != 2 or points.shape[1] != 3:
        raise RangeError(f"points must have shape (n, 3), got {points.shape}")
    size = np.array([grid.width, grid.depth, grid.height])
    slack = 1e-9 * size
    outside = ~((points >= -slack) & (points <= size + slack)).all(axis=1)
    if outside.any():
        raise RangeError(f"point {points[outside][0]} m lies outside the chamber of {size} m")


def _cell_of(grid: Grid, points: FloatArray) -> tuple[NDArray[np.intp], ...]:
    """Return the indices of the cells that hold the points."""
    return tuple(
        np.clip((points[:, axis] / step).astype(np.intp), 0, count - 1)
        for axis, (step, count) in enumerate(zip(grid.spacing, grid.shape, strict=True))
    )


def _interpolate(grid: Grid, points: FloatArray, faces: FloatArray, axis: int) -> FloatArray:
    """Return the flux of faces normal to an axis, trilinear at the points."""
    low, share = [], []
    for along in range(3):
        offset = 0.0 if along == axis else 0.5
        place = points[:, along] / grid.spacing[along] - offset
        first = np.clip(np.floor(place).astype(np.intp), 0, max(faces.shape[along] - 2, 0))
        low.append(first)
        share.append(place - first if faces.shape[along] > 1 else np.zeros(len(points)))
    total = np.zeros(len(points))
    for corner in np.ndindex(2, 2, 2):
        weight = np.ones(len(points))
        index = []
        for along, step in enumerate(corner):
            weight = weight * (share[along] if step else 1.0 - share[along])
            index.append(np.minimum(low[along] + step, faces.shape[along] - 1))
        total += weight * faces[tuple(index)]
    return total


def downward_at_height(field: Field, height: float) -> FloatArray:
    """Return the downward velocity over the plan at one height.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [-]
    height : float
        Above the floor of the chamber. [m]

    Returns
    -------
    array, shape (nx, ny)
        Downward positive; nan where a solid stands at that height. [m/s]

    Raises
    ------
    RangeError
        If the height lies outside the chamber.

    Notes
    -----
    Linear between the faces below and above. Common practice, no source.
    """
    grid = field.grid
    if not 0.0 <= height <= grid.height * (1.0 + 1e-12):
        raise RangeError(f"height must lie from 0 to {grid.height} m, got {height} m")
    layer = min(int(height / grid.dz), grid.nz - 1)
    share = height / grid.dz - layer
    flux = (1.0 - share) * field.flux.z[:, :, layer] + share * field.flux.z[:, :, layer + 1]
    down = -flux / grid.face_areas[2]
    if grid.solid is not None:
        down[grid.solid[:, :, layer]] = np.nan
    return down


def wall_tangential(field: Field, wall: str) -> tuple[FloatArray, FloatArray]:
    """Return the two velocity components along a wall, at its face centres.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [-]
    wall : str
        left, right (components along y, z), front, back (x, z), floor or ceiling (x, y). [-]

    Returns
    -------
    tuple of array, shape of the wall faces
        First and second component along the wall; nan on faces before a solid. [m/s]

    Raises
    ------
    RangeError
        If there is no such wall.

    Notes
    -----
    Continued linearly from the two layers of cells next to the wall, second order; with a solid
    in the second layer the first layer's value. Beside the edge of an opening the value grows
    without limit as cells shrink; means over the opening converge. Common practice, no source.
    """
    normal, *along = wall_axes(wall)
    first, second = (-1, -2) if wall in ("right", "back", "ceiling") else (0, 1)
    count = field.grid.shape[normal]
    components = cell_velocity(field)
    out = []
    for axis in along:
        near = np.take(components[axis], first, axis=normal)
        if count == 1:
            out.append(near)
            continue
        far = np.take(components[axis], second, axis=normal)
        out.append(np.where(np.isnan(far), near, 1.5 * near - 0.5 * far))
    return out[0], out[1]


def stream_function(field: Field, axis: str = "x", station: int = 0) -> FloatArray:
    """Return the stream function of one section at its cell corners.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [-]
    axis : str
        Normal of the section: ``x`` for a y-z, ``y`` for an x-z section. [-]
    station : int
        Cell index along that axis. [-]

    Returns
    -------
    array, shape (n along + 1, nz + 1)
        Zero in the lower corner at the origin; horizontal velocity = d psi/dz, upward
        velocity = -d psi/d(horizontal). [m2/s]

    Raises
    ------
    RangeError
        If the axis or the station does not exist.

    Notes
    -----
    Summed along the floor, then upwards. Exact for plane flow; where air also moves along the
    normal, lines of equal value follow the horizontal flux only. Common practice, no source.
    """
    grid = field.grid
    if axis not in ("x", "y"):
        raise RangeError(f"a section is normal to x or y, got '{axis}'")
    normal = "xy".index(axis)
    if not 0 <= station < grid.shape[normal]:
        raise RangeError(f"station must be 0 to {grid.shape[normal] - 1}, got {station}")
    if normal == 0:
        across, up = field.flux.y[station], field.flux.z[station]
    else:
        across, up = field.flux.x[:, station], field.flux.z[:, station]
    psi = np.zeros((across.shape[0], up.shape[1]))
    psi[1:, 0] = -np.cumsum(up[:, 0])
    psi[:, 1:] = psi[:, :1] + np.cumsum(across, axis=1)
    return psi / grid.spacing[normal]
