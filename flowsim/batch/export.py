"""The table of a sweep as a file for a spreadsheet: ``results.csv``."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

from flowsim.batch.files import TABLE, whole_file
from flowsim.batch.store import About, Store
from flowsim.case.units import parse_quantity

__all__ = ["OLD_TABLE", "export_results", "write_table"]

OLD_TABLE = "all_results.csv"
"""Name of the table that holds every row ever stored."""

_FORMULA = ("=", "+", "-", "@")


def export_results(folder: Path | str, old: bool = False) -> Path:
    """Write the table of a sweep, complete or not at all.

    Parameters
    ----------
    folder : Path or str
        Folder of the sweep. [-]
    old : bool
        Every row ever stored, also of points the sweep no longer asks for, into a file of its
        own. [-]

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        If there is no sweep or the disk refuses; an earlier table stays then.
    """
    with Store.read(folder) as store:
        return write_table(store, old)


def write_table(store: Store, old: bool = False) -> Path:
    """Write the table of an open store, complete or not at all.

    Parameters
    ----------
    store : Store
        The store. [-]
    old : bool
        As in `export_results`. [-]

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OutputError
        If the disk refuses; an earlier table stays then.

    Notes
    -----
    One line a point in the order of the numbers, SI units in the header, no times: the same
    points give the same bytes. Words that a spreadsheet would take for a formula get an
    apostrophe in front.
    """
    path = store.folder / (OLD_TABLE if old else TABLE)
    with store.still(), whole_file(path) as stream:
        about = store.about()
        keys, figures, checks = _names(store, old, about)
        readers = [(key, _reader(about.dimensions.get(key, ""))) for key in keys]
        table = csv.writer(stream, lineterminator="\n")
        table.writerow(_header(about, keys, figures, checks, old))
        for row in store.rows(old):
            table.writerow(
                [row.number, row.status]
                + [read(row.point.get(key)) for key, read in readers]
                + [_number(row.figures.get(name)) for name in figures]
                + [row.checks.get(name, "") for name in checks]
                + [_words(row.error)]
                + ([_words(row.version)] if old else [])
            )
    return path


def _names(store: Store, old: bool, about: About) -> tuple[list[str], list[str], list[str]]:
    """Return the axis keys, figures and limits that stand in any row."""
    keys: dict[str, None] = dict.fromkeys(about.keys)
    seen: set[tuple[tuple[str, ...], tuple[str, ...]]] = set()
    for row in store.rows(old):
        seen.add((tuple(row.figures), tuple(row.checks)))
        if old:
            keys.update(dict.fromkeys(row.point))
    figures = {name for names, _ in seen for name in names}
    checks = {name for _, names in seen for name in names}
    return list(keys), _in_order(figures, about.figures), _in_order(checks, about.figures)


def _in_order(names: Iterable[str], first: tuple[str, ...]) -> list[str]:
    """Return names in the order asked for, each followed by its labelled ones."""
    place = {name: number for number, name in enumerate(first)}

    def rank(name: str) -> tuple[int, str]:
        near = place.get(name.partition("[")[0], len(place))
        return place.get(name, near), name

    return sorted(names, key=rank)


def _header(
    about: About, keys: list[str], figures: list[str], checks: list[str], old: bool
) -> list[str]:
    """Return the names of the columns, with units."""
    axes = [f"{key} [{about.units[key]}]" if about.units.get(key) else key for key in keys]
    values = [f"{name} [{_unit(about, name)}]" for name in figures]
    limits = [f"limit of {name}" for name in checks]
    last = ["error", "version"] if old else ["error"]
    return [_words(name) for name in ["number", "status", *axes, *values, *limits, *last]]


def _unit(about: About, name: str) -> str:
    """Return the unit of a key figure."""
    return about.figure_units.get(name.partition("[")[0], "-")


def _reader(dimension: str) -> Callable[[Any], object]:
    """Return what turns a value as written into a cell: a number in SI where it has a size."""

    @lru_cache(maxsize=10_000)
    def from_text(value: str) -> object:
        try:
            return repr(parse_quantity(value, dimension)) if dimension else _words(value)
        except ValueError:
            return _words(value)

    def read(value: Any) -> object:
        if value is None or isinstance(value, bool):
            return "" if value is None else str(value).lower()
        if isinstance(value, str):
            return from_text(value)
        if isinstance(value, int | float):
            return repr(value)
        return _words(json.dumps(value, ensure_ascii=False))

    return read


def _number(value: float | None) -> str:
    """Return a number with all its digits, nothing where there is none."""
    return "" if value is None else repr(float(value))


def _words(text: str) -> str:
    """Return text on one line that no spreadsheet takes for a formula."""
    shown = (
        "".join(sign if sign.isprintable() else " " for sign in part).strip()
        for part in text.splitlines()
    )
    line = "; ".join(part for part in shown if part)
    return f"'{line}" if line.startswith(_FORMULA) else line
