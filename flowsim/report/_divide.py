"""The line that divides what the mean flow carries to either side, and the eddies round it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.path import Path
from matplotlib.patheffects import withStroke

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.report._views import View, open_gaps

__all__ = ["EDDY", "Divide", "divide_handles", "divide_of", "draw_divide"]

EDDY = 0.1  # m, one hand: what a hand moves, it moves about this far
LINE = [withStroke(linewidth=3.6, foreground="black")]
HATCH = "\\\\\\"
PASSES = 12


@dataclass(frozen=True)
class Divide:
    """Where the mean flow parts.

    Parameters
    ----------
    x, y : array, shape (n,), (m,)
        Cell centres, and the walls. [m]
    mean : array, shape (n, m)
        Share that the mean flow alone carries out; nan in solids. [-]
    distance : array, shape (n, m), or None
        To the parting line, or to an opening that nothing is carried to; None without either. [m]
    """

    x: FloatArray
    y: FloatArray
    mean: FloatArray
    distance: FloatArray | None

    @property
    def parts(self) -> bool:
        """Whether the line is in the picture."""
        over = self.mean[np.isfinite(self.mean)] >= 0.5
        return bool(over.any()) and not bool(over.all())


def _crossings(x: FloatArray, y: FloatArray, mean: FloatArray) -> FloatArray:
    """Return where the share passes one half between neighbours, shape (n, 2). [m]."""
    over = mean >= 0.5
    found = []
    for axis in (0, 1):
        low, high = (slice(None, -1), slice(None)), (slice(1, None), slice(None))
        if axis == 1:
            low, high = low[::-1], high[::-1]
        known = np.isfinite(mean[low]) & np.isfinite(mean[high])
        at = np.nonzero(known & (over[low] != over[high]))
        start, end = mean[low][at], mean[high][at]
        part = (0.5 - start) / (end - start)
        place = [x[at[0]], y[at[1]]]
        step = np.diff((x, y)[axis])[at[axis]]
        place[axis] = place[axis] + part * step
        found.append(np.stack(place, axis=1))
    return np.concatenate(found)


def _edges(case: Case, view: View, grid: tuple[FloatArray, FloatArray, FloatArray]) -> FloatArray:
    """Return points of open openings to which the mean flow leads nothing, shape (n, 2). [m]."""
    x, y, mean = grid
    points = [
        np.linspace(line[0], line[1], 41)
        for opening, line in open_gaps(case, view)
        if view.across != 2 or opening.bottom < view.place + EDDY
    ]
    place = np.concatenate([np.empty((0, 2)), *points])
    i = np.abs(place[:, :1] - x).argmin(axis=1)
    j = np.abs(place[:, 1:] - y).argmin(axis=1)
    apart: FloatArray = place[~(mean[i, j] >= 0.5)]
    return apart


def divide_of(case: Case, view: View, mean_flow: FloatArray) -> Divide:
    """Return the line that divides what the mean flow carries out from what stays.

    Parameters
    ----------
    case : Case
        The case. [SI]
    view : View
        What is seen. [m]
    mean_flow : array, shape (nx, ny, nz)
        Share that the mean flow alone carries out. [-]

    Returns
    -------
    Divide
        Line, and the distance to it.
    """
    (x, y), (wide, tall) = view.centres, view.span
    x, y = np.concatenate([[0.0], x, [wide]]), np.concatenate([[0.0], y, [tall]])
    mean = np.pad(view.of(mean_flow), 1, mode="edge")
    points = np.concatenate([_crossings(x, y, mean), _edges(case, view, (x, y, mean))])
    if not points.size:
        return Divide(x, y, mean, None)
    square = np.subtract.outer(x, points[:, 0])[:, None] ** 2
    square = square + np.subtract.outer(y, points[:, 1])[None] ** 2
    return Divide(x, y, mean, np.sqrt(square.min(axis=-1)))


def divide_handles(divide: Divide, parts: str) -> list[Artist]:
    """Return what a legend says of the dividing line and its band.

    Parameters
    ----------
    divide : Divide
        From `divide_of`. [m]
    parts : str
        What parts at the line. [text]

    Returns
    -------
    list of Artist
        Empty where nothing divides.
    """
    handles: list[Artist] = []
    if divide.parts:
        look: dict[str, Any] = {"color": "white", "lw": 1.8, "path_effects": LINE}
        handles.append(Line2D([], [], label=f"here the mean flow parts: {parts}", **look))
    if divide.distance is not None:
        where = "it or of an opening" if divide.parts else "an opening"
        text = f"within one hand-size eddy ({1000 * EDDY:.0f} mm) of {where}"
        handles.append(Patch(facecolor="#bbbbbb", edgecolor="black", hatch=HATCH, label=text))
    return handles


def _smooth(path: Path) -> None:
    """Take the steps of the cells out of a line; it moves by a cell at most, at corners."""
    starts = np.flatnonzero(path.codes == Path.MOVETO)
    for line in np.split(path.vertices, starts[1:]):
        for _ in range(PASSES):
            line[1:-1] = 0.25 * (line[:-2] + 2.0 * line[1:-1] + line[2:])


def draw_divide(axes: Axes, divide: Divide) -> None:
    """Draw the dividing line and the band of one hand-size eddy round it.

    Parameters
    ----------
    axes : Axes
        Map in metres. [m]
    divide : Divide
        From `divide_of`. [m]
    """
    x, y = divide.x, divide.y
    if divide.parts:
        mean = np.ma.masked_invalid(divide.mean).T
        look: dict[str, Any] = {"colors": "white", "linewidths": 1.8, "path_effects": LINE}
        for path in axes.contour(x, y, mean, [0.5], zorder=4, **look).get_paths():
            _smooth(path)
    if divide.distance is not None:
        known = np.ma.array(divide.distance, mask=~np.isfinite(divide.mean)).T
        axes.contourf(x, y, known, [-1.0, EDDY], colors="none", hatches=[HATCH], zorder=2)
        axes.contour(x, y, known, [EDDY], colors="white", linewidths=1.0, linestyles="--", zorder=4)
