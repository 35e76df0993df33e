"""A cut through a sweep along two axes: its points by place, and how far they are from limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._sweep_axes import SweepAxis, cut
from flowsim.report._sweep_kit import limit_words
from flowsim.report.sweep_reading import SweepReading

__all__ = ["MISSED", "Plane", "edges_of", "fine_places", "least_margin", "margins_of", "plane_of"]

FEWEST = 6  # points of a map
FILLED = 0.5  # share of its places that must hold a point
MISSED = 1e-6  # relative margin that only round-off misses
LEAST = 1e-6  # of the scale of margins
FINE = 240  # places of the shading along each axis


@dataclass(frozen=True, eq=False)
class Plane:
    """A cut through the sweep along two axes: rows of the table by place, -1 = no point there."""

    across: SweepAxis
    up: SweepAxis
    rows: IntArray

    @property
    def points(self) -> IntArray:
        """Rows of all its points."""
        return np.asarray(self.rows[self.rows >= 0])

    @property
    def by_cells(self) -> bool:
        """Whether nothing lies between two values of an axis."""
        return self.across.is_text or self.up.is_text or min(self.rows.shape) < 2

    def of(self, values: FloatArray) -> FloatArray:
        """Return values by place, shape (m, n), nan where there is no point."""
        return np.where(self.rows >= 0, values[self.rows], np.nan)


def plane_of(reading: SweepReading, across: SweepAxis, up: SweepAxis) -> Plane | None:
    """Return the cut through the best point, None where too few points lie in it."""
    reference = reading.reference
    if reference is None:
        return None
    rows = np.full((len(across.levels), len(up.levels)), -1, dtype=np.int64)
    found = cut(reading.axes, reference, (across, up))
    rows[across.place[found], up.place[found]] = found
    filled = int((rows >= 0).sum())
    return Plane(across, up, rows) if filled >= max(FEWEST, FILLED * rows.size) else None


def edges_of(axis: SweepAxis) -> FloatArray:
    """Return the edges of cells around the values of an axis."""
    levels = np.log(axis.levels) if axis.by_ratio else axis.levels
    inner = 0.5 * (levels[1:] + levels[:-1])
    half = 0.5 if len(levels) < 2 else 0.0
    first = levels[0] - (inner[0] - levels[0] if len(inner) else half)
    last = levels[-1] + (levels[-1] - inner[-1] if len(inner) else half)
    edges = np.concatenate([[first], inner, [last]])
    return np.asarray(np.exp(edges) if axis.by_ratio else edges)


def margins_of(reading: SweepReading) -> dict[str, FloatArray]:
    """Return for each limit how far each point is from missing it.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    dict of str to array, shape (n,)
        By the words of the limit; over the range of its figure, negative where it is missed, what
        only round-off misses is 0. [-]
    """
    margins: dict[str, FloatArray] = {}
    for name in reading.figures:
        values, told = reading.drawn(name), limit_words(reading, name)
        limits = [side for side in reading.drawn_limits(name) if side is not None]
        largest = float(np.nanmax(np.abs(np.append(values, limits))))
        scale = max(float(np.nanmax(values) - np.nanmin(values)), LEAST * largest, LEAST)
        signs = (1.0, -1.0) if len(limits) == 2 else (1.0 if "at least" in told[0] else -1.0,)
        for text, sign, limit in zip(told, signs, limits, strict=True):
            margin = sign * (values - limit) / scale
            margins[text] = np.where(np.abs(margin) < MISSED, 0.0, margin)
    return margins


def fine_places(axis: SweepAxis) -> FloatArray:
    """Return places between the values of an axis, as fine as the shading [any]."""
    if axis.by_ratio:
        return np.asarray(np.geomspace(axis.levels[0], axis.levels[-1], FINE))
    return np.linspace(axis.levels[0], axis.levels[-1], FINE)


def _between(plane: Plane, values: FloatArray) -> FloatArray:
    """Return values between the points, linear along both axes, shape (FINE, FINE)."""
    grid = (plane.across.levels, plane.up.levels)
    linear = RegularGridInterpolator(grid, plane.of(values))
    places = np.meshgrid(fine_places(plane.across), fine_places(plane.up), indexing="ij")
    return np.asarray(linear(np.stack(places, axis=-1)))


def least_margin(plane: Plane, reading: SweepReading) -> FloatArray | None:
    """Return the least margin between the points, or None where no limit is missed."""
    if plane.by_cells:
        missed = reading.table.done & (reading.table.misses > 0)
        return plane.of(-missed.astype(np.float64)) if missed[plane.points].any() else None
    margins = list(margins_of(reading).values())
    if not margins:
        return None
    worst = np.fmin.reduce([_between(plane, margin) for margin in margins])
    return worst if (worst < -MISSED).any() else None
