"""The axes of a sweep as pictures and tables need them: distinct values, linked keys as one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._units import number
from flowsim.report.sweep_table import Column, SweepTable

__all__ = ["SweepAxis", "axes_of", "cut", "is_grid"]

FILLED = 4.0  # a grid has at most that many places per point
EQUAL = 1e-6  # relative difference of two steps that count as equal
DECADES = 5.0  # ratio of the ends from which equal ratios are drawn as such
LETTERS = 34


@dataclass(frozen=True, eq=False)
class SweepAxis:
    """One axis that really varies.

    Parameters
    ----------
    keys : tuple of str
        Its key, or those that move together.
    label, unit : str
        For people; the unit is empty for words and plain numbers.
    levels : array, shape (m,)
        Distinct values, in the shown unit, rising; for words 0, 1, 2, ... [any]
    place : array, shape (n,)
        Which level each point has. [-]
    words : tuple of str
        The words, one per level; empty for numbers.
    first : int
        Place of its first key in the table. [-]
    """

    keys: tuple[str, ...]
    label: str
    unit: str
    levels: FloatArray
    place: IntArray
    words: tuple[str, ...] = ()
    first: int = field(default=0)

    @property
    def values(self) -> FloatArray:
        """Value of each point in the shown unit, shape (n,) [any]."""
        return np.asarray(self.levels[self.place])

    @property
    def is_text(self) -> bool:
        """Whether it holds words [-]."""
        return bool(self.words)

    @property
    def by_ratio(self) -> bool:
        """Whether its values stand at equal ratios [-]."""
        if self.is_text or len(self.levels) < 3 or self.levels[0] <= 0.0:
            return False
        if self.levels[-1] < DECADES * self.levels[0]:
            return False
        steps, ratios = np.diff(self.levels), np.diff(np.log(self.levels))
        return float(ratios.std() / ratios.mean()) < float(steps.std() / steps.mean())

    @property
    def heading(self) -> str:
        """Label with its unit in brackets [text]."""
        return f"{self.label} [{self.unit}]" if self.unit else self.label

    def told(self, place: int) -> str:
        """Return one level in words, with its unit."""
        if self.is_text:
            return self.words[place]
        return self.told_value(float(self.levels[place]))

    def told_value(self, value: float) -> str:
        """Return a value in the shown unit in words."""
        text = f"{value:.4g}" if 1e-3 <= abs(value) < 1e6 else number(value)
        return f"{text} {self.unit}".strip()

    def told_range(self, places: IntArray) -> str:
        """Return the levels that some points have, in words."""
        found = np.unique(places)
        if self.is_text:
            return ", ".join(self.words[place] for place in found)
        low, high = self.told(int(found[0])), self.told(int(found[-1]))
        return low if len(found) == 1 else f"{low.removesuffix(self.unit).strip()} to {high}"


def _coded(column: Column) -> tuple[Any, IntArray]:
    """Return the distinct values of a column, and which one each point has."""
    levels, place = np.unique(column, return_inverse=True)
    return levels, np.asarray(place, dtype=np.int64).reshape(-1)


def _move_together(one: IntArray, other: IntArray, numeric: bool) -> bool:
    """Return whether each value of one key goes with one value of the other."""
    count = len(one)
    levels = int(one.max()) + 1
    if levels != int(other.max()) + 1 or levels < 2 or count < 3:
        return False
    if levels == count:  # draws differ everywhere: only a common order tells
        return numeric and bool((one == other).all() or (one + other == levels - 1).all())
    return len(np.unique(one * levels + other)) == levels


def _short(text: str) -> str:
    """Return a label that fits beside a picture."""
    return text if len(text) <= LETTERS else f"{text[: LETTERS - 3]}..."


def _label(table: SweepTable, places: Sequence[int]) -> str:
    """Return the name of an axis."""
    names = dict.fromkeys(table.labels[place] or table.keys[place] for place in places)
    first = _short(next(iter(names)))
    return first if len(names) == 1 else f"{first} (+{len(names) - 1} linked)"


def _axis(table: SweepTable, places: Sequence[int], levels: Any, place: IntArray) -> SweepAxis:
    """Return the axis of one key or of linked ones."""
    first = places[0]
    keys = tuple(table.keys[item] for item in places)
    label = _label(table, places)
    if table.is_text(first):
        words = tuple(str(word) for word in levels)
        return SweepAxis(
            keys, label, "", np.arange(len(words), dtype=np.float64), place, words, first
        )
    numbers = table.in_shown_unit(first, levels)
    return SweepAxis(keys, label, table.shown[first], numbers, place, (), first)


def _linked(table: SweepTable, one: int, other: int, coded: Sequence[tuple[Any, IntArray]]) -> bool:
    """Return whether two keys belong to one axis."""
    if table.labels[one] == table.labels[other] and table.labels[one] not in ("", table.keys[one]):
        return True
    numeric = not (table.is_text(one) or table.is_text(other))
    return _move_together(coded[one][1], coded[other][1], numeric)


def axes_of(table: SweepTable) -> tuple[SweepAxis, ...]:
    """Return the axes that vary, keys that move together as one.

    Parameters
    ----------
    table : SweepTable
        Finished points. [SI]

    Returns
    -------
    tuple of SweepAxis
        In the order of the sweep; a key with one value is left out.
    """
    if not len(table):
        return ()
    coded = [_coded(column) for column in table.values]
    groups: list[list[int]] = []
    for place in range(len(table.keys)):
        if len(coded[place][0]) < 2:
            continue
        home = next((item for item in groups if _linked(table, item[0], place, coded)), None)
        if home is None:
            groups.append([place])
        else:
            home.append(place)
    return tuple(_axis(table, places, *coded[places[0]]) for places in groups)


def is_grid(axes: Sequence[SweepAxis]) -> bool:
    """Return whether the points lie on a grid, at least nearly filled.

    Parameters
    ----------
    axes : sequence of SweepAxis
        Axes that vary. [any]

    Returns
    -------
    bool
        False for draws, and for the first few points of a grid.
    """
    if not axes:
        return False
    places = math.prod(len(axis.levels) for axis in axes)
    return places <= FILLED * len(axes[0].place)


def cut(axes: Sequence[SweepAxis], through: int, free: Sequence[SweepAxis]) -> IntArray:
    """Return the points that differ from one point along the free axes only.

    Parameters
    ----------
    axes : sequence of SweepAxis
        Axes that vary. [any]
    through : int
        Row of that point. [-]
    free : sequence of SweepAxis
        Axes along which they may differ. [any]

    Returns
    -------
    array, shape (m,)
        Rows. [-]
    """
    same = np.ones(len(axes[0].place), dtype=bool)
    for axis in axes:
        if axis not in free:
            same &= axis.place == axis.place[through]
    return np.flatnonzero(same)
