"""The finished points of a sweep as one table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.case.units import in_unit
from flowsim.report._units import base_name
from flowsim.simulate.registry import FIGURES

__all__ = ["DONE", "Column", "Ranking", "SweepTable", "TextArray", "unit_of"]

DONE = "done"
TextArray = NDArray[np.str_]
Column = NDArray[Any]
"""What one axis key has at each point: numbers, or words."""

Range = tuple[float | None, float | None]
"""Smallest and largest value that is wanted; None where that side is free."""


def unit_of(name: str, units: Mapping[str, str]) -> str:
    """Return the SI unit of a key figure.

    Parameters
    ----------
    name : str
        Key figure, with or without a label. [text]
    units : mapping of str
        Units that are known beside those of the registry. [text]

    Returns
    -------
    str
        "-" for a pure number and for what nobody knows.
    """
    base = base_name(name)
    found = units.get(name) or units.get(base)
    return found or (FIGURES[base].unit if base in FIGURES else "-")


@dataclass(frozen=True)
class Ranking:
    """By what the points are ranked.

    Parameters
    ----------
    figure : str
        Key figure; empty = the balance margin, else the first one with a limit.
    largest : bool or None
        Whether the largest is best; None = the side that its limit wants.
    count : int
        Points that are listed. [-]
    """

    figure: str = ""
    largest: bool | None = None
    count: int = 10


@dataclass(frozen=True, eq=False)
class SweepTable:
    """Finished points of a sweep, with their figures and verdicts, sorted by number.

    Parameters
    ----------
    title, question : str
        As in the sweep file.
    keys, labels : tuple of str, length k
        Keys of the axes, and their names for people.
    units, shown : tuple of str, length k
        SI unit of each key, and the unit in which it was written; "" for words and numbers.
    values : tuple of array, length k, each of shape (n,)
        Numbers in SI, or words.
    numbers : array, shape (n,)
        Number of each point. [-]
    status : array of str, shape (n,)
        "done", or what went wrong.
    errors : tuple of str, length n
        What went wrong in words, empty where nothing did.
    figures : mapping of str to array, shape (n,)
        Key figures in SI; nan where a point has none.
    figure_units : mapping of str
        Their SI units, where the registry does not know them.
    states : mapping of str to array of str, shape (n,)
        Verdict for each limit: "met", "not met", "not shown", or "" where there is none.
    limits : mapping of str to tuple
        Smallest and largest value wanted of a key figure, in SI.
    ranking : Ranking
        By what points are ranked.
    planned, skipped : int
        Points of the plan, and points that a condition left out; 0 planned = as many as there
        are. [-]

    Raises
    ------
    ValueError
        If the arrays do not have one length.
    """

    title: str
    question: str
    keys: tuple[str, ...]
    labels: tuple[str, ...]
    units: tuple[str, ...]
    shown: tuple[str, ...]
    values: tuple[Column, ...]
    numbers: IntArray
    status: TextArray
    errors: tuple[str, ...]
    figures: Mapping[str, FloatArray]
    states: Mapping[str, TextArray] = field(default_factory=dict)
    limits: Mapping[str, Range] = field(default_factory=dict)
    figure_units: Mapping[str, str] = field(default_factory=dict)
    ranking: Ranking = field(default_factory=Ranking)
    planned: int = 0
    skipped: int = 0

    def __post_init__(self) -> None:
        """Refuse columns of different lengths."""
        per_key = {len(item) for item in (self.labels, self.units, self.shown, self.values)}
        per_point: list[Any] = [*self.values, self.status, self.errors]
        per_point += [*self.figures.values(), *self.states.values()]
        if per_key != {len(self.keys)} or {len(self), *map(len, per_point)} != {len(self)}:
            raise ValueError("a table needs one entry per key and one row per point")

    def __len__(self) -> int:
        return len(self.numbers)

    @cached_property
    def done(self) -> BoolArray:
        """Whether a point came to its end, shape (n,) [-]."""
        return np.asarray(self.status == DONE)

    @cached_property
    def meets_all(self) -> BoolArray:
        """Whether a point is done and every verdict is "met", shape (n,) [-]."""
        met = [states == "met" for states in self.states.values()]
        return self.done & np.logical_and.reduce(met, axis=0) if met else self.done.copy()

    @cached_property
    def misses(self) -> IntArray:
        """Number of verdicts "not met" of each point, shape (n,) [-]."""
        return self._count("not met")

    @cached_property
    def unshown(self) -> IntArray:
        """Number of verdicts "not shown" or missing of each point, shape (n,) [-]."""
        return self._count("not shown") + self._count("")

    def _count(self, state: str) -> IntArray:
        """Return how many verdicts of each point are in a state."""
        found = np.zeros(len(self), dtype=np.int64)
        for states in self.states.values():
            found += states == state
        return found

    def unit(self, figure: str) -> str:
        """Return the SI unit of a key figure [text]."""
        return unit_of(figure, self.figure_units)

    def limit_of(self, figure: str) -> Range:
        """Return the range wanted of a key figure, (None, None) without one [SI]."""
        return self.limits.get(figure, self.limits.get(base_name(figure), (None, None)))

    def is_text(self, axis: int) -> bool:
        """Return whether an axis holds words [-]."""
        return self.values[axis].dtype.kind not in "fiu"

    def in_shown_unit(self, axis: int, values: Any) -> FloatArray:
        """Return numbers of an axis in the unit people wrote.

        Parameters
        ----------
        axis : int
            Place of the key. [-]
        values : float or array, shape (m,)
            Numbers. [SI]

        Returns
        -------
        array, shape (m,)
            In `shown` of that axis.
        """
        unit = self.shown[axis]
        numbers = np.atleast_1d(np.asarray(values, dtype=np.float64))
        if not unit:
            return numbers
        zero = in_unit(0.0, unit)
        return zero + numbers * (in_unit(1.0, unit) - zero)
