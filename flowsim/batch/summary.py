"""The rows of a store as the table that reports read."""

from __future__ import annotations

import json
import math
import re
import sys
from array import array
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from flowsim.batch.plan_points import Sweep
from flowsim.batch.store import About, Store, StoredRow
from flowsim.case.units import in_unit, parse_quantity
from flowsim.case.units_table import DIMENSIONS, PLAIN
from flowsim.report.sweep_table import Column, Ranking, SweepTable
from flowsim.simulate.registry import FIGURES

__all__ = ["table_of"]

STATE = "U9"  # letters of the longest verdict and fewer
NUMBER = re.compile(r"^[-+\u2212]?[\d.,/ ½¼¾⅛⅜⅝⅞]*(?:[eE][-+]?\d+)?[ -]?")


def _reader(dimension: str) -> Callable[[Any], float | str]:
    """Return what turns a value as written into a number in SI, or into words."""

    @lru_cache(maxsize=10_000)
    def from_text(value: str) -> float | str:
        try:
            return parse_quantity(value, dimension) if dimension else value
        except ValueError:
            return value

    def read(value: Any) -> float | str:
        if isinstance(value, str):
            return from_text(value)
        if isinstance(value, int | float) and not isinstance(value, bool):
            return float(value)
        return json.dumps(value, ensure_ascii=False)

    return read


def _column(values: Sequence[float | str]) -> Column:
    """Return the values of one key as numbers, or all as words if one of them is a word."""
    if all(isinstance(value, float) for value in values):
        return np.array(values, dtype=np.float64)
    texts = [value if isinstance(value, str) else f"{value:g}" for value in values]
    return np.array(texts, dtype=np.str_)


@lru_cache(maxsize=1000)
def _unit_in(text: str) -> str:
    """Return the unit in which a quantity is written, empty if it is none we know."""
    unit = NUMBER.sub("", text).strip()
    try:
        in_unit(1.0, unit)
    except ValueError:
        return ""
    return unit


def _shown(units: set[str], dimension: str, column: Column) -> str:
    """Return the unit in which people read a key: as written, else a usual one."""
    if column.dtype.kind != "f" or dimension not in DIMENSIONS:
        return ""
    alone = units.pop() if len(units) == 1 else ""
    return alone or ("" if dimension in PLAIN else DIMENSIONS[dimension].example)


class _Gathered:
    """The columns of a table while they grow, row by row.

    Parameters
    ----------
    about : About
        What the sweep is. [-]
    """

    def __init__(self, about: About) -> None:
        self.numbers = array("q")
        self.status: list[str] = []
        self.errors: list[str] = []
        self.figures: dict[str, array[float]] = {}
        self.states: dict[str, list[str]] = {}
        self.values: dict[str, list[float | str]] = {key: [] for key in about.keys}
        self.units: dict[str, set[str]] = {key: set() for key in about.keys}
        self._read = {key: _reader(about.dimensions.get(key, "")) for key in about.keys}

    def add(self, row: StoredRow) -> None:
        """Add one row."""
        count = len(self.numbers)
        self.numbers.append(row.number)
        self.status.append(sys.intern(row.status))
        self.errors.append(row.error)
        for key, values in self.values.items():
            written = row.point.get(key)
            values.append(self._read[key](written))
            self.units[key].add(_unit_in(written) if isinstance(written, str) else "")
        for name, value in row.figures.items():
            if name not in self.figures:
                self.figures[name] = array("d", [math.nan]) * count
            self.figures[name].append(math.nan if value is None else value)
        for name, state in row.checks.items():
            if name not in self.states:
                self.states[name] = [""] * count
            self.states[name].append(sys.intern(state))
        self._fill_up()

    def _fill_up(self) -> None:
        """Give the row a gap in the columns that it lacks."""
        count = len(self.numbers)
        for numbers in self.figures.values():
            if len(numbers) < count:
                numbers.append(math.nan)
        for texts in self.states.values():
            if len(texts) < count:
                texts.append("")


def _in_order(names: Iterable[str], about: About) -> list[str]:
    """Return the key figures that any point has, in the order asked for."""
    found = list(names)
    asked = [name for name in about.figures if name in found]
    return [*asked, *(name for name in found if name not in asked)]


def _limits(case: Mapping[str, Any]) -> dict[str, tuple[float | None, float | None]]:
    """Return the ranges that the base case wants."""
    wanted = case.get("limits") or {}
    return {
        name: (item.get("min"), item.get("max"))
        for name, item in wanted.items()
        if isinstance(item, Mapping)
    }


def _ranking(output: Mapping[str, Any]) -> Ranking:
    """Return by what the points are ranked."""
    figure = str(output.get("best_by") or "")
    largest = output.get("best", "largest") == "largest" if figure else None
    return Ranking(figure, largest, int(output.get("best_count") or 10))


def _axes(about: About, found: _Gathered) -> dict[str, tuple[Any, ...]]:
    """Return labels, units and columns of the axis keys."""
    columns = tuple(_column(found.values[key]) for key in about.keys)
    kinds = [about.dimensions.get(key, "") for key in about.keys]
    units = [found.units[key] for key in about.keys]
    return {
        "labels": tuple(about.labels or about.keys),
        "units": tuple(about.units.get(key, "") for key in about.keys),
        "shown": tuple(_shown(*item) for item in zip(units, kinds, columns, strict=True)),
        "values": columns,
    }


def table_of(store: Store, sweep: Sweep | None = None) -> SweepTable:
    """Return the finished points that a sweep asks for now.

    Parameters
    ----------
    store : Store
        Its store, open to read or to write. [-]
    sweep : Sweep or None
        The sweep; None = as it was when it last ran. [-]

    Returns
    -------
    SweepTable
        Sorted by number; points not run yet are not in it. [SI]
    """
    about = store.about()
    case, output = about.case, about.output
    if sweep is not None:
        case, output = sweep.base.model_dump(mode="json"), sweep.output.model_dump(mode="json")
    found = _Gathered(about)
    for row in store.rows():
        found.add(row)
    return SweepTable(
        title=about.title or about.case.get("title", "Sweep"),
        question=about.question,
        keys=about.keys,
        numbers=np.array(found.numbers, dtype=np.int64),
        status=np.array(found.status, dtype=np.str_),
        errors=tuple(found.errors),
        figures={name: np.array(found.figures[name]) for name in _in_order(found.figures, about)},
        states={name: np.array(column, STATE) for name, column in found.states.items()},
        limits=_limits(case),
        figure_units={**{name: item.unit for name, item in FIGURES.items()}, **about.figure_units},
        ranking=_ranking(output),
        planned=about.total,
        skipped=about.skipped,
        **_axes(about, found),
    )
