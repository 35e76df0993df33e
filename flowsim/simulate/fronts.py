"""Openings laid on the walls of the chamber grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.case.schema import Case, Opening
from flowsim.chamber.grid import Grid, wall_axes, wall_patch

__all__ = ["OpeningPlan", "fluid_faces", "opening_plan"]

WALL_AXES = {
    "front": ("x", "z"),
    "back": ("x", "z"),
    "left": ("y", "z"),
    "right": ("y", "z"),
    "ceiling": ("x", "y"),
}
NETWORK_LAYERS = 200
SLIVER = 1e-9  # of a whole face: an edge on a cell's edge but for round-off


@dataclass(frozen=True)
class OpeningPlan:
    """One open opening on the wall faces of the chamber grid.

    Parameters
    ----------
    opening : Opening
        What the case says.
    face_area : array, shape (na, nb)
        Open area of each face of the wall. [m2]
    stations : array of int, shape (n,)
        Rows of `face_area` that hold the opening's stations.
    layers : array of int, shape (m,)
        Columns of `face_area` that hold its layers.
    position, station_width : array, shape (n,)
        Centre and width of each station along the wall. [m]
    layer_height : array, shape (m,) or (1,)
        Height of each layer above the work surface. [m]
    head : array, shape (m,) or (1,)
        (rho_room - rho_chamber) g z of each layer. [Pa]
    area : array, shape (n, m) or (n, 1)
        Open area per station and layer. [m2]
    """

    opening: Opening
    face_area: FloatArray
    stations: IntArray
    layers: IntArray
    position: FloatArray
    station_width: FloatArray
    layer_height: FloatArray
    head: FloatArray
    area: FloatArray


def opening_plan(case: Case, grid: Grid, opening: Opening, heads: float) -> OpeningPlan:
    """Lay one opening on its wall.

    Parameters
    ----------
    case : Case
        The case.
    grid : Grid
        Grid of the chamber.
    opening : Opening
        The opening.
    heads : float
        Pressure that the chamber gains over the room per metre of height. [Pa/m]

    Returns
    -------
    OpeningPlan
        At fidelity "network" one station, in thin layers where temperatures differ.
    """
    if case.numerics.fidelity == "network":
        return _network_opening(case, opening, heads)
    low, high = opening.bottom, opening.bottom + opening.height
    area = wall_patch(grid, opening.wall, opening.offset, opening.offset + opening.width, low, high)
    area = area * fluid_faces(grid, opening.wall)
    area[area < SLIVER * area.max()] = 0.0
    stations = np.flatnonzero(area.sum(axis=1) > 0.0)
    layers = np.flatnonzero(area.sum(axis=0) > 0.0)
    first, second = WALL_AXES[opening.wall]
    size = {"x": grid.width, "y": grid.depth, "z": grid.height}
    across = np.linspace(0.0, size[first], area.shape[0] + 1)
    width = np.minimum(across[1:], opening.offset + opening.width) - np.maximum(
        across[:-1], opening.offset
    )
    middle = np.maximum(across[:-1], opening.offset) + 0.5 * width
    part = area[np.ix_(stations, layers)]
    if second == "z" and heads != 0.0:
        along = np.linspace(0.0, size[second], area.shape[1] + 1)
        height = 0.5 * (np.maximum(along[:-1], low) + np.minimum(along[1:], high))[layers]
    else:
        height = np.array([0.5 * (low + high) if second == "z" else grid.height])
        part = part.sum(axis=1, keepdims=True)
    return OpeningPlan(
        opening,
        area,
        stations,
        layers,
        middle[stations],
        width[stations],
        height,
        heads * height,
        part,
    )


def _network_opening(case: Case, opening: Opening, heads: float) -> OpeningPlan:
    """Return an opening as one station, in thin layers where temperatures differ."""
    vertical = opening.wall != "ceiling"
    count = NETWORK_LAYERS if vertical and heads != 0.0 else 1
    step = opening.height / count
    height: FloatArray = opening.bottom + (np.arange(count, dtype=np.float64) + 0.5) * step
    if not vertical:
        height = np.array([case.chamber.height])
    area = np.full((1, count), opening.width * step)
    return OpeningPlan(
        opening,
        area,
        np.array([0]),
        np.arange(count),
        np.array([opening.offset + 0.5 * opening.width]),
        np.array([opening.width]),
        height,
        heads * height,
        area,
    )


def fluid_faces(grid: Grid, wall: str) -> FloatArray:
    """Return 1 for each face of a wall with air behind it, else 0."""
    if grid.solid is None:
        return np.ones(())
    normal, _, _ = wall_axes(wall)
    last = wall in ("back", "right", "ceiling")
    blocked = np.take(grid.solid, -1 if last else 0, axis=normal)
    free: FloatArray = 1.0 - blocked.astype(np.float64)
    return free
