"""What a sweep found, for the morning after: answers, the best points, failures, the files."""

from __future__ import annotations

import textwrap
from pathlib import Path

from flowsim.batch.store import Store
from flowsim.batch.summary import table_of
from flowsim.cli.speak import printable
from flowsim.errors import OutputError
from flowsim.report.sweep_reading import SweepReading, read_sweep_table
from flowsim.report.sweep_text import sweep_text
from flowsim.report.write_sweep import write_sweep

__all__ = ["finished", "summary_lines"]

_WIDTH = 100
_MOST_ERRORS = 3


def finished(folder: Path) -> tuple[list[str], str]:
    """Write the page of a sweep and return the morning summary.

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
        table = table_of(store)
    try:
        reading, fault = write_sweep(table, folder), ""
    except OutputError as error:
        reading, fault = read_sweep_table(table), str(error)
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
    lines = sweep_text(reading).splitlines() + _failed(reading) + _files(folder)
    return [printable(line) for line in lines]


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
        text = f"point {numbers[0]}{more}: {what}"
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="  ")
    rest = len(ranked) - _MOST_ERRORS
    return [*lines, f"  and {rest:,} other errors"] if rest > 0 else lines


def _files(folder: Path) -> list[str]:
    """Return where the results lie."""
    names = {"table": "results.csv", "pictures and answers": "sweep.html", "points": "points"}
    there = {what: folder / name for what, name in names.items() if (folder / name).exists()}
    lines = [f"  {what}: {path}" for what, path in there.items()]
    return ["", "Files", *lines] if lines else []
