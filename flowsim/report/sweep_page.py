"""A sweep as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from flowsim.report._kit import Picture
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._units import quantity_text, words
from flowsim.report.cautions import CAUTIONS, LIMITS_OF_MODEL
from flowsim.report.sweep_answers import answers, binding_limits, failures
from flowsim.report.sweep_reading import SweepReading
from flowsim.report.sweep_sensitivity import Sensitivity

__all__ = ["sweep_page"]

MOST_FIGURES = 6  # columns of the table of best points
MOST_ERRORS = 12


@lru_cache(maxsize=1)
def _template() -> Template:
    """Return the template; everything put into it is escaped."""
    environment = Environment(
        loader=PackageLoader("flowsim.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("sweep.html.jinja")


def _picture(picture: Picture) -> dict[str, str]:
    """Return one picture with its bytes in the page."""
    data = base64.b64encode(picture.png).decode("ascii")
    return {
        "uri": f"data:image/png;base64,{data}",
        "title": picture.title,
        "reading": picture.reading,
    }


def _best(reading: SweepReading) -> dict[str, Any]:
    """Return the table of the best points."""
    figures = reading.figures[:MOST_FIGURES]
    rows = [
        {
            "number": int(reading.table.numbers[row]),
            "values": [axis.told(int(axis.place[row])) for axis in reading.axes],
            "figures": [reading.told(name, int(row)) for name in figures],
            "missed": ", ".join(_missed(reading, int(row))),
        }
        for row in reading.best
    ]
    return {
        "heads": [*(axis.label for axis in reading.axes), *map(words, figures)],
        "rows": rows,
        "meet": reading.any_meets,
        "limits": reading.has_limits,
        "by": words(reading.leading),
        "side": "largest" if reading.largest else "smallest",
    }


def _missed(reading: SweepReading, row: int) -> list[str]:
    """Return the limits that a point does not meet."""
    return [
        f"{words(name)} {state[row]}"
        for name, state in reading.table.states.items()
        if state[row] not in ("met", "")
    ]


def _wanted(reading: SweepReading, name: str) -> str:
    """Return the range wanted of a figure in words."""
    unit, sides = reading.table.unit(name), ("at least", "at most")
    return ", ".join(
        f"{side} {quantity_text(name, limit, unit)}"
        for side, limit in zip(sides, reading.table.limit_of(name), strict=True)
        if limit is not None
    )


def _limits(reading: SweepReading) -> list[dict[str, str]]:
    """Return how often each limit is met, most often missed first."""
    table = reading.table
    return [
        {
            "name": words(name),
            "wanted": _wanted(reading, name),
            "met": str(int((table.done & (table.states[name] == "met")).sum())),
            "missed": str(missed),
            "unshown": str(unshown),
        }
        for name, missed, unshown in binding_limits(reading)
    ]


def _percent(value: float, error: float = 0.0) -> str:
    """Return a share in percent, with its error where it has one."""
    if not np.isfinite(value):
        return "-"
    told = f"{100.0 * value:.0f} %"
    return told if not error > 5e-4 else f"{told} ± {max(100.0 * error, 1.0):.0f}"


def _shares(axis: SweepAxis, found: Sensitivity, place: int) -> dict[str, str]:
    """Return the shares of one axis in words."""
    total = "-"
    if found.total is not None:
        total = _percent(float(found.total[place]), float(found.total_error[place]))
    trend = float(found.trend[place])
    return {
        "axis": axis.label,
        "first": _percent(float(found.first[place]), float(found.first_error[place])),
        "total": total,
        "trend": f"{trend:+.2f}" if np.isfinite(trend) else "-",
    }


def _sensitivity(reading: SweepReading) -> list[dict[str, Any]]:
    """Return what each figure depends on, for a table."""
    if len(reading.axes) < 2:
        return []
    return [
        {
            "name": words(name),
            "note": found.note,
            "rows": [_shares(reading.axes[place], found, place) for place in found.order],
        }
        for name, found in reading.found.items()
    ]


def _axes(reading: SweepReading) -> list[dict[str, str]]:
    """Return the axes in words."""
    return [
        {
            "label": axis.label,
            "keys": ", ".join(axis.keys),
            "range": axis.told_range(axis.place),
            "count": str(len(axis.levels)),
        }
        for axis in reading.axes
    ]


def _errors(reading: SweepReading) -> list[dict[str, str]]:
    """Return the errors that occurred, the commonest first, each with a point that has it."""
    table = reading.table
    found: dict[tuple[str, str], list[int]] = {}
    for row in np.flatnonzero(~table.done):
        what = str(table.status[row]), table.errors[row]
        found.setdefault(what, []).append(int(table.numbers[row]))
    ranked = sorted(found.items(), key=lambda item: (-len(item[1]), item[1][0]))
    return [
        {"status": status, "error": error, "count": str(len(numbers)), "point": str(numbers[0])}
        for (status, error), numbers in ranked[:MOST_ERRORS]
    ]


def sweep_page(reading: SweepReading, pictures: Sequence[Picture], version: str) -> str:
    """Return a sweep as one HTML page without scripts or links.

    Parameters
    ----------
    reading : SweepReading
        What the sweep found. [SI]
    pictures : sequence of Picture
        Figures in their order. [-]
    version : str
        Version of the package. [text]

    Returns
    -------
    str
        The page; text from the sweep is escaped.
    """
    return _template().render(
        title=reading.table.title,
        question=reading.table.question,
        version=version,
        answers=list(answers(reading)),
        pictures=[_picture(picture) for picture in pictures],
        best=_best(reading),
        limits=_limits(reading),
        sensitivity=_sensitivity(reading),
        axes=_axes(reading),
        failed=sum(count for _, count in failures(reading)),
        errors=_errors(reading),
        limits_of_model=LIMITS_OF_MODEL,
        cautions=CAUTIONS,
    )
