"""The points of a sweep, made one by one when asked for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, IntArray
from flowsim.batch.case_keys import CaseKey
from flowsim.batch.columns import Column
from flowsim.batch.sampling import grid_places
from flowsim.batch.skipping import Condition, holds

__all__ = ["Operand", "Point", "Points", "kept_places"]

_AT_ONCE = 500_000

Operand = float | str | tuple[int, int]
"""One side of a condition: a value, or which column and which of its keys."""


@dataclass(frozen=True)
class Point:
    """One point of a sweep.

    Parameters
    ----------
    number : int
        Counted from 1 in the order of the sweep: ``sweep.points[number - 1]``. [-]
    values : tuple
        One per key of the axes: as written, or a computed number. [as written, or SI]
    changes : mapping
        Key path -> value, what `flowsim.case.read.change_case` takes. [as written, or SI]
    """

    number: int
    values: tuple[object, ...]
    changes: Mapping[str, object] = field(hash=False)


@dataclass(frozen=True, eq=False)
class Points(Sequence[Point]):
    """All points of a sweep: the draws, and around each the grid, the last axis fastest.

    Parameters
    ----------
    columns : tuple of Column
        The axes; all drawn ones have the same length. [-]
    kept : array, shape (n,), or None
        Places in the full order that are not skipped; None = all. [-]
    """

    columns: tuple[Column, ...]
    kept: IntArray | None = field(default=None, repr=False)

    def __len__(self) -> int:
        return self.full_length if self.kept is None else len(self.kept)

    @overload
    def __getitem__(self, index: int) -> Point: ...

    @overload
    def __getitem__(self, index: slice) -> tuple[Point, ...]: ...

    def __getitem__(self, index: int | slice) -> Point | tuple[Point, ...]:
        if isinstance(index, slice):
            return tuple(self[place] for place in range(len(self))[index])
        place = range(len(self))[index]
        full = place if self.kept is None else int(self.kept[place])
        return Point(place + 1, *self._at(full))

    def __iter__(self) -> Iterator[Point]:
        return (self[place] for place in range(len(self)))

    @property
    def keys(self) -> tuple[str, ...]:
        """Key paths of all axes, in order [-]."""
        return tuple(key.name for column in self.columns for key in column.keys)

    @property
    def full_length(self) -> int:
        """Points before any is skipped [-]."""
        length = 1
        for size in self._sizes():
            length *= size
        return length

    def places(self, index: IntArray) -> tuple[IntArray, ...]:
        """Return the place of points on each axis.

        Parameters
        ----------
        index : array, shape (n,)
            Places in the full order, nothing skipped. [-]

        Returns
        -------
        tuple of array, shape (n,)
            One per column, from 0. [-]
        """
        draw, *rest = grid_places(self._sizes(), index)
        grid = iter(rest)
        return tuple(draw if column.drawn else next(grid) for column in self.columns)

    def _sizes(self) -> tuple[int, ...]:
        """Return the number of draws and the sizes of the grid."""
        draws = next((len(column) for column in self.columns if column.drawn), 1)
        return (draws, *(len(column) for column in self.columns if not column.drawn))

    def _at(self, full: int) -> tuple[tuple[object, ...], dict[str, object]]:
        """Return values and changes at a place in the full order."""
        grid: list[int] = []
        for size in reversed(self._sizes()):
            full, place = divmod(full, size)
            grid.append(place)
        draw = grid.pop()
        values: list[object] = []
        for column in self.columns:
            values += column.at(draw if column.drawn else grid.pop())
        return tuple(values), dict(zip(self.keys, values, strict=True))


def kept_places(
    points: Points, conditions: Sequence[tuple[Condition, Operand, Operand]]
) -> IntArray | None:
    """Find the points that no condition leaves out.

    Parameters
    ----------
    points : Points
        All points. [-]
    conditions : sequence of tuple of Condition and two operands
        Each with where its sides stand. [-]

    Returns
    -------
    array, shape (n,), or None
        Places in the full order; None without conditions. [-]
    """
    if not conditions:
        return None
    kept = []
    for start in range(0, points.full_length, _AT_ONCE):
        index = np.arange(start, min(start + _AT_ONCE, points.full_length))
        places = points.places(index)
        left_out: BoolArray = np.zeros(len(index), dtype=bool)
        for condition, left, right in conditions:
            sides = [_side(points, places, operand) for operand in (left, right)]
            left_out |= holds(condition, sides[0], sides[1])
        kept.append(index[~left_out])
    return np.concatenate(kept)


def _side(points: Points, places: tuple[IntArray, ...], operand: Operand) -> NDArray[Any]:
    """Return the values of one side of a condition at points."""
    if not isinstance(operand, tuple):
        return np.full(len(places[0]), operand)
    column, key = operand
    return np.asarray(points.columns[column].numbers[key][places[column]])


def operand_of(key: CaseKey, columns: Sequence[Column]) -> tuple[int, int] | None:
    """Return where a key stands among the axes.

    Parameters
    ----------
    key : CaseKey
        The key. [-]
    columns : sequence of Column
        The axes. [-]

    Returns
    -------
    tuple of int, or None
        Column and key in it; None if no axis varies it. [-]
    """
    for number, column in enumerate(columns):
        for place, own in enumerate(column.keys):
            if own.path == key.path:
                return number, place
    return None
