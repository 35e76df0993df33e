"""What a sweep found, as plain text."""

from __future__ import annotations

from flowsim.report._text import columns, wrapped
from flowsim.report._units import words
from flowsim.report.sweep_answers import answers
from flowsim.report.sweep_reading import SweepReading

__all__ = ["sweep_text"]

MOST_BEST, MOST_FIGURES = 5, 4


def _best(reading: SweepReading) -> list[str]:
    """Return the best points in columns."""
    figures = reading.figures[:MOST_FIGURES]
    rows = [("point", *(axis.label for axis in reading.axes), *map(words, figures))]
    for row in reading.best[:MOST_BEST]:
        values = [axis.told(int(axis.place[row])) for axis in reading.axes]
        told = [reading.told(name, int(row)) for name in figures]
        rows.append((str(reading.table.numbers[row]), *values, *told))
    if len(rows) < 3:
        return []
    heading = "Best points:" if reading.any_meets else "Points that miss least:"
    return ["", heading, *columns(rows, right=range(len(rows[0])))]


def sweep_text(reading: SweepReading) -> str:
    """Return what a sweep found as plain text.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    str
        Title, question, answers and the best points.
    """
    lines = [reading.table.title, *wrapped(reading.table.question)]
    for asked, text in answers(reading):
        lines += ["", asked, *wrapped(text, "  ")]
    return "\n".join([*lines, *_best(reading)]) + "\n"
