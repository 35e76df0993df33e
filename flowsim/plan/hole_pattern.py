"""Whole holes on a pattern that fits the perforated zone."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from flowsim._arrays import BoolArray, FloatArray
from flowsim.errors import RangeError
from flowsim.report.drill_result import Floor, Part, Pattern

__all__ = ["Grading", "Spacing", "draw_pattern", "hole_free_area", "most_free_area", "tray_holes"]

GRID = 1e-4  # m, to which pitches are rounded
LEAST_WEB = 3e-3  # m, between two holes
WEB_SHARE = 0.5  # of a hole's diameter
ASPECT_WORTH = 0.08  # share of holes given up for rows e times as far apart as columns
ASPECT = 1.25  # most that rows may lie wider apart than columns, or closer
COUNT_SPAN = 0.12  # share by which tried patterns may have fewer holes
TRAY_WORTH = 0.2  # share of holes given up for a tray that lacks all of its share
EDGE_WORTH = 0.05  # the same for a tray whose edge cuts as many holes as lie under it


@dataclass(frozen=True)
class Spacing:
    """How close holes may lie.

    Parameters
    ----------
    arrangement : {"square", "triangular"}
        Of the holes.
    least_pitch : float
        Centres are no closer. [m]
    most_pitch : float
        Neither columns nor rows are farther apart: the models take many small holes. [m]
    """

    arrangement: str = "square"
    least_pitch: float = 0.0
    most_pitch: float = math.inf

    def closest(self, diameter: float) -> float:
        """Return the least distance of two centres. [m]

        Parameters
        ----------
        diameter : float
            Of a hole. [m]
        """
        return max(self.least_pitch, diameter + max(LEAST_WEB, WEB_SHARE * diameter))


@dataclass(frozen=True)
class Grading:
    """Relative density of the holes along x.

    Parameters
    ----------
    x : array, shape (n,)
        Places, rising, over the whole zone. [m]
    density : array, shape (n,)
        Above zero. [-]
    """

    x: FloatArray
    density: FloatArray

    def places(self, count: int, start: float, end: float) -> FloatArray:
        """Return columns that lie as densely as asked, and the middle of each column's share.

        Parameters
        ----------
        count : int
            Columns. [-]
        start, end : float
            Of the zone. [m]

        Returns
        -------
        array, shape (count,)
            Places of the columns. [m]
        """
        inner = self.x[(self.x > start) & (self.x < end)]
        x = np.concatenate(([start], inner, [end]))
        density = np.interp(x, self.x, self.density)
        total = np.concatenate(([0.0], np.cumsum(0.5 * np.diff(x) * (density[1:] + density[:-1]))))
        places: FloatArray = np.interp((np.arange(count) + 0.5) / count * total[-1], total, x)
        return places


def most_free_area(diameter: float, spacing: Spacing) -> float:
    """Return the free area at which holes lie as close as they may.

    Parameters
    ----------
    diameter : float
        Of a hole. [m]
    spacing : Spacing
        How close they may lie.

    Returns
    -------
    float
        Hole area over perforated area. [-]
    """
    cell = spacing.closest(diameter) ** 2
    if spacing.arrangement == "triangular":
        cell *= math.sqrt(0.75)
    return 0.25 * math.pi * diameter**2 / cell


def _kept_free(floor: Floor) -> tuple[Part, ...]:
    return tuple(part for part in floor.parts if part.kept_free)


def hole_free_area(floor: Floor) -> float:
    """Return the area over which holes may be spread. [m2]

    Parameters
    ----------
    floor : Floor
        Zone and what covers it.
    """
    x0, x1, y0, y1 = floor.zone
    parts = _kept_free(floor)
    xs = np.unique(np.clip([x0, x1, *(v for p in parts for v in (p.x0, p.x1))], x0, x1))
    ys = np.unique(np.clip([y0, y1, *(v for p in parts for v in (p.y0, p.y1))], y0, y1))
    middle_x, middle_y = 0.5 * (xs[1:] + xs[:-1]), 0.5 * (ys[1:] + ys[:-1])
    free = np.ones((middle_x.size, middle_y.size), dtype=bool)
    for part in parts:
        across = (middle_x > part.x0) & (middle_x < part.x1)
        free &= ~np.outer(across, (middle_y > part.y0) & (middle_y < part.y1))
    return float((np.outer(np.diff(xs), np.diff(ys)) * free).sum())


def _touches(part: Part, x: FloatArray, y: FloatArray, radius: float) -> BoolArray:
    """Return which circles reach into a rectangle."""
    dx = np.maximum(np.maximum(part.x0 - x, x - part.x1), 0.0)
    dy = np.maximum(np.maximum(part.y0 - y, y - part.y1), 0.0)
    inside: BoolArray = np.hypot(dx, dy) < radius - 1e-9
    return inside


def _inside(part: Part, x: FloatArray, y: FloatArray, radius: float) -> BoolArray:
    """Return which circles lie wholly in a rectangle."""
    ends = (x - part.x0, part.x1 - x, y - part.y0, part.y1 - y)
    inside: BoolArray = np.minimum.reduce(ends) >= radius - 1e-9
    return inside


def _line(count: int, start: float, end: float) -> tuple[FloatArray, float]:
    """Return equally spaced places in the middle of a stretch, at a pitch in tenths of a mm."""
    pitch = (end - start) / count
    pitch = round(pitch / GRID) * GRID
    first = round((0.5 * (start + end) - 0.5 * (count - 1) * pitch) / (0.5 * GRID)) * 0.5 * GRID
    places: FloatArray = first + pitch * np.arange(count, dtype=np.float64)
    return places, pitch


def _lattice(
    floor: Floor, columns: int, rows: int, spacing: Spacing, grading: Grading | None
) -> tuple[FloatArray, FloatArray]:
    """Return the centres of all holes of a pattern, row by row from the front. [m]"""
    x0, x1, y0, y1 = floor.zone
    y, _ = _line(rows, y0, y1)
    if grading is not None:
        places = grading.places(columns, x0, x1)
        line = np.round(places / GRID) * GRID
        shift = np.zeros(rows)
    else:
        line, pitch = _line(columns, x0, x1)
        quarter = round(0.5 * pitch / GRID) * 0.5 * GRID
        turn = np.where(np.arange(rows) % 2 == 0, -quarter, quarter)
        shift = turn if spacing.arrangement == "triangular" else np.zeros(rows)
    x = line[None, :] + shift[:, None]
    across = np.asarray(np.round(x.ravel(), 9), dtype=np.float64)
    back = np.asarray(np.round(np.repeat(y, columns), 9), dtype=np.float64)
    return across, back


def _keep(floor: Floor, x: FloatArray, y: FloatArray, radius: float) -> BoolArray:
    """Return which holes are drilled."""
    keep = np.ones(x.size, dtype=bool)
    for part in _kept_free(floor):
        keep &= ~_touches(part, x, y, radius)
    return keep


def tray_holes(floor: Floor, x: FloatArray, y: FloatArray) -> dict[str, tuple[int, float]]:
    """Return how many holes have their centre under each tray, and how many are its share.

    Parameters
    ----------
    floor : Floor
        Zone and trays.
    x, y : array, shape (n,)
        Centres of all holes. [m]

    Returns
    -------
    dict of str to tuple
        Label -> holes drawn and holes that an evenly spread hole area gives it. [-]
    """
    x0, x1, y0, y1 = floor.zone
    density = x.size / hole_free_area(floor)
    found = {}
    for part in floor.parts:
        if part.kind == "tray":
            inside = (x > part.x0) & (x < part.x1) & (y > part.y0) & (y < part.y1)
            wide = max(min(part.x1, x1) - max(part.x0, x0), 0.0)
            deep = max(min(part.y1, y1) - max(part.y0, y0), 0.0)
            found[part.label] = int(inside.sum()), density * wide * deep
    return found


def _tray_cost(floor: Floor, x: FloatArray, y: FloatArray, radius: float) -> float:
    """Return what trays with too few, too many or cut holes are worth, as a share of holes. [-]"""
    cost = 0.0
    trays = tray_holes(floor, x, y) if x.size else {}
    for part in floor.parts:
        drawn, due = trays.get(part.label, (0, 0.0))
        if part.kind == "tray" and due > 0.0:
            touched = _touches(part, x, y, radius) & ~_inside(part, x, y, radius)
            cost += TRAY_WORTH * abs(drawn / due - 1.0)
            cost += EDGE_WORTH * min(float(touched.sum()) / due, 1.0)
    return min(cost, 0.5)


def _places(floor: Floor, x: FloatArray, y: FloatArray, radius: float) -> tuple[str, ...]:
    """Return what each hole lies under."""
    words = [""] * x.size
    for part in floor.parts:
        if part.kept_free:
            continue
        wholly = _inside(part, x, y, radius)
        for index in np.flatnonzero(_touches(part, x, y, radius)):
            words[index] = f"{'under' if wholly[index] else 'at the edge of'} {part.label}"
    return tuple(words)


def _web(x: FloatArray, y: FloatArray, diameter: float) -> float:
    """Return the least material between two holes. [m]"""
    if x.size < 2:
        return math.inf
    centres = np.column_stack((x, y))
    near = np.asarray(cKDTree(centres).query(centres, k=2)[0])
    return float(near[:, 1].min()) - diameter


def _sizes(
    target: float, floor: Floor, spacing: Spacing, graded: bool
) -> Iterator[tuple[int, int]]:
    """Yield columns and rows of patterns with nearly a number of places, cells near a square."""
    x0, x1, y0, y1 = floor.zone
    ratio = (x1 - x0) / (y1 - y0)
    if spacing.arrangement == "triangular" and not graded:
        ratio *= math.sqrt(0.75)
    middle = math.sqrt(target * ratio)
    least = math.floor(middle / math.sqrt(ASPECT))
    for columns in range(max(1, least), math.ceil(middle * math.sqrt(ASPECT)) + 1):
        for rows in {math.floor(target / columns), math.ceil(target / columns)}:
            if rows >= 1 and abs(math.log(max(columns / rows / ratio, 1e-9))) <= math.log(ASPECT):
                yield columns, rows


def draw_pattern(
    most: float,
    diameter: float,
    floor: Floor,
    spacing: Spacing,
    grading: Grading | None = None,
) -> Pattern:
    """Return the pattern with the most holes that has no more than a number of them.

    Parameters
    ----------
    most : float
        Holes at most. [-]
    diameter : float
        Of a hole. [m]
    floor : Floor
        Zone and what lies on it.
    spacing : Spacing
        How close holes may lie.
    grading : Grading or None
        Density along x; None for an even pattern.

    Returns
    -------
    Pattern
        Centres on a grid of 0.05 mm; holes in what must stay free are left out.

    Raises
    ------
    RangeError
        If no pattern of so few holes fits without holes that lie too close or too far apart.
    """
    radius = 0.5 * diameter
    x0, x1, y0, y1 = floor.zone
    target = most * (x1 - x0) * (y1 - y0) / hole_free_area(floor)
    best: tuple[float, int, int] | None = None
    for columns, rows in _candidates(target, floor, spacing, grading is not None):
        x, y = _lattice(floor, columns, rows, spacing, grading)
        if _closest(x, y, columns, rows) < spacing.closest(diameter) - 1e-4:
            continue
        keep = _keep(floor, x, y, radius)
        count = int(keep.sum())
        cost = _tray_cost(floor, x[keep], y[keep], radius) + _aspect_cost(x, y, columns, rows)
        worth = count * (1.0 - cost)
        if 0 < count <= most + 1e-9 and (best is None or worth > best[0]):
            best = worth, columns, rows
    if best is None:
        raise RangeError(
            f"no pattern of {math.floor(most)} holes of {1000 * diameter:g} mm fits the zone with "
            f"centres at least {1000 * spacing.closest(diameter):.1f} mm apart"
        )
    pattern = _pattern(best[1:], diameter, floor, spacing, grading)
    if max(pattern.pitch_x[1], pattern.pitch_y) > spacing.most_pitch:
        raise RangeError(
            f"{pattern.count} holes of {1000 * diameter:g} mm would lie farther apart than the "
            f"plenum is high ({1000 * spacing.most_pitch:g} mm), too few for an even draw; "
            "smaller holes do"
        )
    return pattern


def _closest(x: FloatArray, y: FloatArray, columns: int, rows: int) -> float:
    """Return the least distance of two centres of a pattern. [m]"""
    found = [math.inf]
    if columns > 1:
        found.append(float(np.diff(x[:columns]).min()))
    if rows > 1:
        shift = x[columns] - x[0]
        found.append(math.hypot(shift, y[columns] - y[0]))
    return min(found)


def _aspect_cost(x: FloatArray, y: FloatArray, columns: int, rows: int) -> float:
    """Return what rows farther apart than columns are worth, or closer, as a share. [-]"""
    if columns < 2 or rows < 2:
        return 0.0
    across = float(x[columns - 1] - x[0]) / (columns - 1)
    back = float(y[columns] - y[0])
    if x[columns] != x[0]:
        back /= math.sqrt(0.75)
    return ASPECT_WORTH * abs(math.log(across / back))


def _candidates(
    target: float, floor: Floor, spacing: Spacing, graded: bool
) -> Sequence[tuple[int, int]]:
    """Return patterns to try."""
    steps = np.linspace(1.0 - COUNT_SPAN, 1.0 + COUNT_SPAN, 25)
    return sorted(
        {size for step in steps for size in _sizes(target * step, floor, spacing, graded)}
    )


def _pattern(
    size: Sequence[int],
    diameter: float,
    floor: Floor,
    spacing: Spacing,
    grading: Grading | None,
) -> Pattern:
    """Return the drawn pattern."""
    columns, rows = size
    radius = 0.5 * diameter
    x, y = _lattice(floor, columns, rows, spacing, grading)
    keep = _keep(floor, x, y, radius)
    x0, x1, y0, y1 = floor.zone
    edge = float(min((x - x0).min(), (x1 - x).min(), (y - y0).min(), (y1 - y).min()))
    gaps = np.diff(x[:columns]) if columns > 1 else np.array([x1 - x0])
    rise = float(y[columns] - y[0]) if rows > 1 else y1 - y0
    left = x[keep], y[keep]
    return Pattern(
        *left,
        diameter,
        spacing.arrangement if grading is None else "graded",
        columns,
        rows,
        (float(gaps.min()), float(gaps.max())),
        rise,
        _web(*left, diameter),
        edge,
        _places(floor, *left, radius),
        int(x.size - keep.sum()),
        int(keep.sum()) * 0.25 * math.pi * diameter**2,
    )
