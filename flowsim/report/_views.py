"""Planes through the chamber: from above, and from the side where a section shows most."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case, Compartment, Object, Opening
from flowsim.chamber.grid import Grid

__all__ = ["View", "open_gaps", "plan_view", "section_view", "telling_place"]

WALL_OF = {"left": (0, 0), "right": (0, 1), "front": (1, 0), "back": (1, 1), "ceiling": (2, 1)}


@dataclass(frozen=True)
class View:
    """A layer of cells seen at right angles.

    Parameters
    ----------
    across : int
        Axis along which one looks: 2 from above, 0 from the side, 1 from the front. [-]
    station : int
        Number of the layer along this axis. [-]
    place : float
        Where its cell centres lie on this axis. [m]
    span : tuple of float
        Size of what is seen, horizontal and vertical. [m]
    centres : tuple of array
        Cell centres along the horizontal and the vertical. [m]
    """

    across: int
    station: int
    place: float
    span: tuple[float, float]
    centres: tuple[FloatArray, FloatArray]

    @property
    def axes(self) -> tuple[int, int]:
        """Axes of the chamber that are seen as horizontal and vertical."""
        return {0: (1, 2), 1: (0, 2), 2: (0, 1)}[self.across]

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, right, bottom and top. [m]"""
        return (0.0, self.span[0], 0.0, self.span[1])

    def of(self, values: FloatArray) -> FloatArray:
        """Return the layer of a field.

        Parameters
        ----------
        values : array, shape (nx, ny, nz)
            Any field. [any]

        Returns
        -------
        array
            Horizontal first, vertical second. [any]
        """
        layer: FloatArray = np.take(values, self.station, axis=self.across)
        return layer

    def holds(self, start: float, end: float) -> bool:
        """Return whether a stretch along the line of sight contains this layer."""
        return start <= self.place <= end


def _view(grid: Grid, across: int, station: int) -> View:
    """Return a layer."""
    seen = [axis for axis in range(3) if axis != across]
    centres = grid.centres
    return View(
        across,
        station,
        float(centres[across][station]),
        (grid.size[seen[0]], grid.size[seen[1]]),
        (centres[seen[0]], centres[seen[1]]),
    )


def plan_view(grid: Grid, values: FloatArray) -> View | None:
    """Return the lowest layer with air in it, seen from above.

    Parameters
    ----------
    grid : Grid
        Cells of the chamber. [m]
    values : array, shape (nx, ny, nz)
        A field that is nan in solids. [any]

    Returns
    -------
    View or None
        None for a single section, of which a plan says nothing, and without air.
    """
    if min(grid.nx, grid.ny) == 1:
        return None
    filled = np.flatnonzero(np.isfinite(values).any(axis=(0, 1)))
    return _view(grid, 2, int(filled[0])) if filled.size else None


def telling_place(case: Case, axis: int, length: float) -> float:
    """Return where a section shows most: through the first tray or object, else the middle.

    Parameters
    ----------
    case : Case
        The case. [SI]
    axis : int
        Axis along which one looks, 0 or 1. [-]
    length : float
        Size of the chamber along it. [m]

    Returns
    -------
    float
        Place on this axis. [m]
    """
    items: tuple[Compartment | Object, ...] = (*case.compartments, *case.objects)
    for item in items:
        if axis == 0:
            return item.offset_x + 0.5 * item.width
        return item.offset_y + 0.5 * item.depth
    return 0.5 * length


def section_view(case: Case, grid: Grid, at: tuple[float, float] | None = None) -> View:
    """Return the section through the first tray or object, or through the middle.

    Parameters
    ----------
    case : Case
        The case. [SI]
    grid : Grid
        Cells of the chamber. [m]
    at : tuple of float or None
        Point x, y through which it shall go instead. [m]

    Returns
    -------
    View
        From the side; from the front where the chamber is a single section along x.
    """
    across = 1 if grid.ny == 1 else 0
    count, size = grid.shape[across], grid.size[across]
    place = telling_place(case, across, size) if at is None else at[across]
    station = min(int(place / size * count), count - 1)
    return _view(grid, across, station)


def _bounds(opening: Opening) -> dict[int, tuple[float, float]]:
    """Return what an opening spans along the two axes of its wall. [m]."""
    along = (opening.offset, opening.offset + opening.width)
    up = (opening.bottom, opening.bottom + opening.height)
    if opening.wall == "ceiling":
        return {0: along, 1: up}
    return {1 if opening.wall in ("left", "right") else 0: along, 2: up}


def open_gaps(case: Case, view: View) -> Iterator[tuple[Opening, FloatArray]]:
    """Yield the open openings as lines at the edge of a view.

    Parameters
    ----------
    case : Case
        The case. [SI]
    view : View
        What is seen. [m]

    Yields
    ------
    Opening
        The opening. [SI]
    array, shape (2, 2)
        Both ends, horizontal and vertical. [m]
    """
    for opening in case.openings:
        normal, end = WALL_OF[opening.wall]
        if opening.state != "open" or normal == view.across:
            continue
        bounds: dict[int, Any] = _bounds(opening)
        seen = bounds[view.across]
        if view.across != 2 and not view.holds(*seen):
            continue
        at = end * view.span[view.axes.index(normal)]
        bounds[normal] = (at, at)
        yield opening, np.array([bounds[axis] for axis in view.axes]).T
