"""Values that the case refuses at every point, found before the sweep starts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice

import numpy as np

from flowsim._arrays import IntArray
from flowsim.batch.case_keys import MARK
from flowsim.batch.columns import Column
from flowsim.batch.file_faults import shown
from flowsim.batch.points import Points
from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path, Problem
from flowsim.errors import CaseError

__all__ = ["refused_values"]

MOST_TRIALS = 400
"""Points tried for one value, fewer as soon as one is accepted. [-]"""
MOST_VALUES = 200
"""Values of one axis that are tried. [-]"""
MOST_FAULTS = 10
"""Refused values of one axis that are listed. [-]"""
_CANDIDATES = 8192


@dataclass
class _Trials:
    """Points tried so far, each once."""

    points: Points
    case: Case
    words: dict[int, str] = field(default_factory=dict)

    def refusal(self, index: int) -> str:
        """Return what the case says to a point, empty if it accepts it."""
        if index not in self.words:
            self.words[index] = ""
            try:
                change_case(self.case, self.points[index].changes)
            except CaseError as error:
                self.words[index] = error.lines()[0].removeprefix("case: ").removesuffix(MARK)
        return self.words[index]

    def all_refused(self, indices: Iterable[int]) -> list[str]:
        """Return what the case says to points, nothing if it accepts one of them."""
        words: list[str] = []
        for index in islice(indices, MOST_TRIALS):
            words.append(self.refusal(int(index)))
            if not words[-1]:
                return []
        return words

    def accepted(self) -> int:
        """Return a point that the case accepts; one is known."""
        return next(index for index, text in self.words.items() if not text)


def refused_values(points: Points, case: Case) -> tuple[int | None, list[Problem]]:
    """Find values that the case refuses at every point that has them.

    Parameters
    ----------
    points : Points
        The points, skipped ones left out. [-]
    case : Case
        Their case. [SI]

    Returns
    -------
    tuple of int or None and list of Problem
        A point that is accepted, and the values that never are. A value that is refused at some
        points only is no problem here: those points become faulty rows. [-]

    Notes
    -----
    Where a value stands at more points than can be tried, some drawn at random are.
    """
    trials = _Trials(points, case)
    words = trials.all_refused(_some(len(points), MOST_TRIALS))
    if words:
        return None, [Problem(("axes",), _every_point(len(points), len(words), words[0]))]
    problems: list[Problem] = []
    for number, column in enumerate(points.columns):
        if not column.drawn:
            problems += _column(trials, number, column)[:MOST_FAULTS]
    return trials.accepted(), problems


def _some(length: int, most: int) -> IntArray:
    """Return all indices where they are few, else the first and some at random."""
    if length <= most:
        return np.arange(length)
    return np.append(0, np.random.default_rng(1).integers(0, length, most - 1))


def _every_point(length: int, tried: int, words: str) -> str:
    """Return the words for a sweep of which no point is accepted."""
    share = f"all {length} points" if tried >= length else f"all {tried} points tried of {length}"
    return f"make the case faulty at {share}; the first: {words}"


def _column(trials: _Trials, number: int, column: Column) -> list[Problem]:
    """Find the values of one axis that are never accepted."""
    problems: list[Problem] = []
    for place in _spread(len(column)):
        words = trials.all_refused(_with_place(trials.points, number, int(place)))
        if words:
            message = _words(column, int(place), words)
            problems.append(Problem(_path(number, column, int(place)), message))
    return problems


def _spread(length: int) -> IntArray:
    """Return the places of an axis that are tried, both ends among them."""
    places = np.linspace(0, length - 1, min(length, MOST_VALUES)).round()
    return np.unique(places.astype(np.int64))


def _with_place(points: Points, number: int, place: int) -> IntArray:
    """Return some points that have a place on one axis."""
    size = len(points.columns[number])
    stride = 1
    for column in points.columns[number + 1 :]:
        stride *= 1 if column.drawn else len(column)
    before, behind = np.divmod(_some(points.full_length // size, _CANDIDATES), stride)
    full = (before * size + place) * stride + behind
    if points.kept is None:
        return full
    where = np.searchsorted(points.kept, full)
    inside = where < len(points.kept)
    there: IntArray = points.kept[where[inside]]
    return np.asarray(where[inside][there == full[inside]], dtype=np.int64)


def _path(number: int, column: Column, place: int) -> Path:
    """Return where a value stands in the file."""
    if column.written is None:
        return ("axes", number)
    if len(column.keys) > 1:
        return ("axes", number, "values", 0, place)
    return ("axes", number, "values", place)


def _words(column: Column, place: int, refusals: list[str]) -> str:
    """Return the words for a value that is never accepted."""
    pairs = zip(column.keys, column.at(place), strict=True)
    value = " with ".join(f"{key.name} = {shown(item)}" for key, item in pairs)
    tried = "its point" if len(refusals) == 1 else f"all {len(refusals)} points tried with it"
    return f"{value} makes the case faulty at {tried}: {refusals[0]}"
