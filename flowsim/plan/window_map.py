"""The map of settings: solved where its borders lie, until every border is known to 1 %."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from scipy.ndimage import label as parts_of

from flowsim._arrays import BoolArray, FloatArray
from flowsim.plan.window_fields import FLIP_IN, FLIP_OUT, Levels, Surfaces, trust_name
from flowsim.plan.window_solve import Bench, Limit, Point
from flowsim.report.window_result import Border, Setting, Values, WindowMap

__all__ = ["ACCURACY", "FINE", "Plane", "crossings", "draw_map", "explore", "flat", "next_points"]

Kind = Literal["limit", "shown", "flip"]
ACCURACY = 0.01
"""How far a solved setting may lie from the border that it stands for, of the setting. [-]"""
AIMED = 0.004  # the same, at which it counts as solved: between such settings 1 % is kept
COARSE = {1: 9, 2: 5}  # points along each axis at first
FINE = {1: 801, 2: 121}  # points along each axis of the map
LOOKED = {1: 401, 2: 81}  # the same while it is explored
NEAR, FLIP, FAR = (
    0.075,
    0.12,
    0.2,
)  # of the map, between verified points: rim of the met region, flip line, rest
CARRIED_NEAR = 0.15  # the same on the rim, for limits on what the air carries
APART = 0.03  # of the map, between points that are solved in one round
MISSED = 1.5  # of these, from which on a border counts as lacking solves
ROUND = 5  # points solved between two new fits
PROBE = 1e-3  # of the map, for slopes


@dataclass
class Plane:
    """Settings along one or two axes, all else fixed, and what was solved there.

    Parameters
    ----------
    bench : Bench
        Solves.
    axes : tuple of Setting
        What varies. [SI]
    fixed : mapping of str to float
        What else differs from the case. [SI]
    full : bool
        Whether drifts must also meet the limits on what the air carries.
    near : float
        Of the map, between verified points on the rim of the met region. [-]
    points : list of Point
        What was solved.
    """

    bench: Bench
    axes: tuple[Setting, ...]
    fixed: Mapping[str, float] = field(default_factory=dict)
    full: bool = False
    near: float = NEAR
    points: list[Point] = field(default_factory=list)

    def solve(self, values: Values, full: bool = False) -> Point:
        """Return what a solve shows, and keep it for the map.

        Parameters
        ----------
        values : tuple of float
            Settings. [SI]
        full : bool
            Whether limits on what the air carries are judged too.
        """
        keys = [axis.key for axis in self.axes]
        settings = tuple(float(value) for value in values)
        point = self.bench.at(keys, settings, self.fixed, full)
        same = [k for k, other in enumerate(self.points) if other.values == settings]
        if not same:
            self.points.append(point)
        elif full:
            self.points[same[0]] = point
        return point

    def judge(self, values: Values) -> Point:
        """Return what a solve shows; where it is met and more is asked, the full one."""
        point = self.solve(values)
        return self.solve(values, True) if self.full and point.state == "met" else point

    @property
    def limits(self) -> list[Limit]:
        """Limits that have a figure."""
        return list(self.bench.limits.values())

    @property
    def never_shown(self) -> frozenset[str]:
        """Limits whose figure shows only the trend at every setting."""
        sets = [point.hidden for point in self.points if not point.error]
        return frozenset.intersection(*sets) if sets else frozenset()

    def surfaces(self) -> Surfaces:
        """Return surfaces through all that was solved."""
        return Surfaces(self.axes, self.limits, self.points, self.never_shown)

    def grid(self, count: int) -> tuple[FloatArray, ...]:
        """Return settings along the axes, in equal ratios. [SI]"""
        return tuple(np.geomspace(axis.low, axis.high, count) for axis in self.axes)


def flat(values: Sequence[FloatArray]) -> FloatArray:
    """Return all points of a grid, shape (n, d)."""
    return np.stack([part.ravel() for part in np.meshgrid(*values, indexing="ij")], axis=1)


def crossings(level: FloatArray, values: Sequence[FloatArray]) -> FloatArray:
    """Return where a level passes zero on the lines of a grid.

    Parameters
    ----------
    level : array, shape (n,) or (n, m)
        Level at the points of the grid. [any]
    values : sequence of array
        Settings along its axes. [SI]

    Returns
    -------
    array, shape (k, d)
        Settings. [SI]
    """
    found = []
    for axis in range(level.ndim):
        count = level.shape[axis]
        low, high = np.take(level, range(count - 1), axis), np.take(level, range(1, count), axis)
        places = np.argwhere(((low >= 0.0) != (high >= 0.0)) & np.isfinite(low + high))
        if not len(places):
            continue
        one, two = low[tuple(places.T)], high[tuple(places.T)]
        share = one / (one - two)
        columns = [values[k][places[:, k]] for k in range(level.ndim)]
        columns[axis] = columns[axis] + share * (values[axis][places[:, axis] + 1] - columns[axis])
        found.append(np.stack(columns, axis=1))
    return np.concatenate(found) if found else np.empty((0, level.ndim))


@dataclass(frozen=True)
class _Line:
    """A border as it is looked for: its level between solved settings, and where it matters."""

    name: str
    kind: str
    places: FloatArray  # crossings, 0 to 1 along the map
    rim: BoolArray  # which of them are on the rim of the met region


def explore(
    plane: Plane, most: int, extra: Sequence[Values] = (), coarse: Sequence[int] | None = None
) -> None:
    """Solve where the borders are, until each is known to 1 % or the solves are used up.

    Parameters
    ----------
    plane : Plane
        What is mapped; gains the solved points.
    most : int
        Solves that may have been made on the bench by the end. [-]
    extra : sequence of tuple of float
        Settings to solve first. [SI]
    coarse : sequence of int or None
        Points along each axis that are solved then. [-]
    """
    counts = coarse or (COARSE[len(plane.axes)],) * len(plane.axes)
    pairs = zip(plane.axes, counts, strict=True)
    first = [np.geomspace(axis.low, axis.high, count) for axis, count in pairs]
    for values in (*extra, *map(tuple, flat(first).tolist())):
        plane.solve(values)
    while plane.bench.total < most:
        wanted = next_points(plane)
        if not wanted:
            return
        for values in wanted[: most - plane.bench.total]:
            plane.solve(values)


def _named(levels: Levels) -> dict[tuple[str, str], FloatArray]:
    """Return the level of each border by kind and name."""
    named = {("limit", name): level for name, level in levels.shown_limits.items()}
    named |= {("shown", name): level for name, level in levels.trust.items()}
    return named | {("flip", name): level for name, level in levels.flips.items()}


def _wanted_flip(plane: Plane) -> str:
    """Return which turning of the front is a border: out of the direction wanted, else present."""
    if any(limit.turning for limit in plane.limits):
        return FLIP_IN
    inward = [p.fields.get(FLIP_OUT, -1.0) > 0.0 for p in plane.points[:1] if not p.error]
    return FLIP_OUT if any(inward) else FLIP_IN


def _lines(plane: Plane, surfaces: Surfaces, count: int) -> list[_Line]:
    """Return all borders between the solved settings."""
    values = plane.grid(count)
    shape = tuple(len(part) for part in values)
    levels = surfaces.levels(flat(values))
    flip = _wanted_flip(plane)
    lines = []
    for (kind, name), level in _named(levels).items():
        if kind == "flip" and name != flip:
            continue
        found = crossings(level.reshape(shape), values)
        if not len(found):
            continue
        rim = _on_rim(surfaces, found)
        lines.append(_Line(name, kind, surfaces.unit(found), rim))
    return lines


def _on_rim(surfaces: Surfaces, found: FloatArray) -> BoolArray:
    """Return which settings have the met region within 1 %."""
    near = np.zeros(len(found), dtype=np.bool_)
    steps = itertools.product((-ACCURACY, 0.0, ACCURACY), repeat=found.shape[1])
    for step in steps:
        near |= surfaces.levels(found * np.exp(step)).met >= 0.0
    return near


def next_points(plane: Plane, carried: bool = False) -> list[Values]:
    """Return settings on borders that have no solved setting near them, the most needed first.

    Parameters
    ----------
    plane : Plane
        What was solved.
    carried : bool
        Whether only the borders of what the air carries count.
    """
    surfaces = plane.surfaces()
    solved = surfaces.unit(np.array([point.values for point in plane.points]))
    verified = _verified(plane, surfaces)
    low, span = surfaces._low, surfaces._span
    found: list[tuple[float, FloatArray]] = []
    for line in _lines(plane, surfaces, LOOKED[len(plane.axes)]):
        known = surfaces.unit(verified[line.kind, line.name])
        if carried and not _is_carried(plane, line.name):
            continue
        near = CARRIED_NEAR if carried else plane.near
        rest = FLIP if line.kind == "flip" else FAR
        gap = _gaps(line.places, known) / np.where(line.rim, near, rest)
        if gap.max() > 1.0:
            found.append((float(gap.max() + line.rim[gap.argmax()]), line.places[gap.argmax()]))
    chosen: list[FloatArray] = []
    for _, place in sorted(found, key=lambda pair: -pair[0]):
        others = np.array([*chosen, *([] if not len(solved) else solved)])
        least = APART if chosen else 0.0
        if chosen and np.abs(np.array(chosen) - place).max(axis=1).min() < least:
            continue
        if np.abs(others - place).max(axis=1).min() < PROBE:
            continue
        chosen.append(place)
    return [tuple(np.exp(low + span * place)) for place in chosen[:ROUND]]


def _is_carried(plane: Plane, name: str) -> bool:
    """Return whether a border is that of a limit on what the air carries."""
    return name in plane.bench.limits and plane.bench.limits[name].carried


def _gaps(places: FloatArray, known: FloatArray) -> FloatArray:
    """Return how far each place is from the nearest known one, along the map."""
    if not len(known):
        return np.full(len(places), 10.0)
    apart = np.abs(places[:, None, :] - known[None, :, :]).max(axis=2)
    return np.asarray(apart.min(axis=1))


def _verified(plane: Plane, surfaces: Surfaces) -> dict[tuple[str, str], FloatArray]:
    """Return the solved settings that lie within 1 % of each border."""
    values = np.array([point.values for point in plane.points if not point.error])
    here = _named(surfaces.levels(values))
    slopes = {name: np.zeros(len(values)) for name in here}
    for axis in range(values.shape[1]):
        step = np.zeros(values.shape[1])
        step[axis] = PROBE
        over = _named(surfaces.levels(values * np.exp(step)))
        under = _named(surfaces.levels(values * np.exp(-step)))
        for name in here:
            slopes[name] += np.abs(over[name] - under[name]) / (2.0 * PROBE)
    return {name: values[np.abs(level) <= AIMED * slopes[name]] for name, level in here.items()}


def draw_map(plane: Plane, inside: Values | None = None) -> WindowMap:
    """Return the map of what was solved.

    Parameters
    ----------
    plane : Plane
        What was solved.
    inside : tuple of float or None
        Settings in the part of the met region that counts. [SI]

    Returns
    -------
    WindowMap
        Levels on a fine grid, borders, and what was solved.
    """
    count = FINE[len(plane.axes)]
    values = plane.grid(count)
    shape = tuple(len(part) for part in values)
    surfaces = plane.surfaces()
    levels = surfaces.levels(flat(values))
    met = np.where(levels.solvable, levels.met, -1.0).reshape(shape)
    hidden = np.where(levels.solvable, levels.hidden, -1.0).reshape(shape)
    never = bool(plane.never_shown)
    return WindowMap(
        axes=plane.axes,
        values=values,
        met=np.minimum(met, -1e-9) if never else met,
        hidden=np.maximum(hidden, met),
        borders=_borders(plane, surfaces, levels, values, shape),
        solved=np.array([point.values for point in plane.points]),
        states=tuple(point.state for point in plane.points),
        others=_other_parts(met, inside),
    )


def _borders(
    plane: Plane,
    surfaces: Surfaces,
    levels: Levels,
    values: Sequence[FloatArray],
    shape: tuple[int, ...],
) -> tuple[Border, ...]:
    """Return the borders that are on the map."""
    verified = _verified(plane, surfaces)
    flip = _wanted_flip(plane)
    turning = [limit.label for limit in plane.limits if limit.turning]
    borders = []
    for (kind, name), level in _named(levels).items():
        shaped = level.reshape(shape)
        found = crossings(shaped, values)
        if not len(found) or (kind == "flip" and name != flip):
            continue
        if kind == "limit" and name in turning:
            continue  # it is the line at which the front turns
        known = verified[kind, name]
        gaps = _gaps(surfaces.unit(found), surfaces.unit(known))
        rest = FLIP if kind == "flip" else FAR
        spacing = np.where(_on_rim(surfaces, found), plane.near, rest)
        borders.append(
            Border(
                _border_name(kind, name, turning), _KINDS[kind], shaped, known,
                bool((gaps > MISSED * spacing).any()),
            )
        )  # fmt: skip
    return tuple(borders)


_KINDS: dict[str, Kind] = {"limit": "limit", "shown": "shown", "flip": "flip"}


def _border_name(kind: str, name: str, turning: Sequence[str]) -> str:
    """Return a border in words."""
    if kind == "limit":
        return name
    if kind == "shown":
        return trust_name(name)
    if name == FLIP_OUT:
        return "flip line: part of the front begins to blow out"
    also = f" ({turning[0]})" if turning else ""
    return f"flip line: part of the front begins to draw in{also}"


def _other_parts(met: FloatArray, inside: Values | None) -> int:
    """Return how many parts of the met region hang apart from the one that counts."""
    marks, count = parts_of(met >= 0.0)
    sizes = [int((marks == k).sum()) for k in range(1, count + 1)]
    large = sum(size > 3 * met.ndim for size in sizes)
    return max(large - 1, 0) if inside is not None else large
