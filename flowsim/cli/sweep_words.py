"""What a sweep found, for the morning after: counts, answers, the best points, the files."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path

from flowsim.batch.store import Store
from flowsim.batch.summary import table_of
from flowsim.cli.speak import printable
from flowsim.report.sweep_answers import answers
from flowsim.report.sweep_reading import SweepReading, read_sweep_table

__all__ = ["finished", "summary_lines"]

_WIDTH = 100
_MOST_BEST, _MOST_FIGURES, _MOST_ERRORS = 5, 4, 3


def finished(folder: Path) -> tuple[list[str], str]:
    """Return the morning summary of a sweep.

    Parameters
    ----------
    folder : Path
        Folder of the sweep. [-]

    Returns
    -------
    tuple
        Lines to print, and why the page could not be written, or nothing. [-]
    """
    with Store.read(folder) as store:
        reading = read_sweep_table(table_of(store))
    fault = ""
    return summary_lines(reading, folder), fault


def summary_lines(reading: SweepReading, folder: Path) -> list[str]:
    """Return the morning summary.

    Parameters
    ----------
    reading : SweepReading
        What the sweep found. [SI]
    folder : Path
        Folder of the sweep. [-]

    Returns
    -------
    list of str
        Lines to print. [-]
    """
    table = reading.table
    lines = [table.title, *textwrap.wrap(table.question, _WIDTH)]
    for question, answer in answers(reading):
        lines += ["", question, *_indented(answer)]
    lines += _best(reading) + _failed(reading) + _files(folder)
    return [printable(line) for line in lines]


def _indented(text: str) -> list[str]:
    """Return a paragraph, set in."""
    return textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="  ")


def _best(reading: SweepReading) -> list[str]:
    """Return the best points as a table."""
    rows = [int(row) for row in reading.best[:_MOST_BEST]]
    if len(rows) < 2:
        return []
    figures = reading.figures[:_MOST_FIGURES]
    head = ["point", *(axis.label for axis in reading.axes), *map(_plain, figures)]
    cells = [
        [
            str(reading.table.numbers[row]),
            *(axis.told(int(axis.place[row])) for axis in reading.axes),
            *(reading.told(name, row) for name in figures),
        ]
        for row in rows
    ]
    title = "Best points" if reading.any_meets else "Points that miss least"
    return ["", title, *_columns([head, *cells])]


def _plain(name: str) -> str:
    """Return the name of a figure in words."""
    return name.replace("_", " ")


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as columns."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]


def _failed(reading: SweepReading) -> list[str]:
    """Return what went wrong, the commonest first, each with a point to look at."""
    table = reading.table
    found: dict[str, list[int]] = {}
    for row, error in enumerate(table.errors):
        if not table.done[row]:
            what = f"{table.status[row]}: {' '.join(error.split())}"
            found.setdefault(what, []).append(int(table.numbers[row]))
    if not found:
        return []
    ranked = sorted(found.items(), key=lambda item: -len(item[1]))
    count = sum(map(len, found.values()))
    lines = ["", f"Failed: {count:,} (their errors stand in results.csv)"]
    for what, numbers in ranked[:_MOST_ERRORS]:
        more = f" and {len(numbers) - 1:,} more" if len(numbers) > 1 else ""
        lines += _indented(f"point {numbers[0]}{more}: {what}")
    rest = len(ranked) - _MOST_ERRORS
    return [*lines, f"  and {rest:,} other errors"] if rest > 0 else lines


def _files(folder: Path) -> list[str]:
    """Return where the results lie."""
    names = {"table": "results.csv", "pictures and answers": "sweep.html", "points": "points"}
    there = {what: folder / name for what, name in names.items() if (folder / name).exists()}
    return ["", "Files", *(f"  {what}: {path}" for what, path in there.items())]
