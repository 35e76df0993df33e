"""Parallel coordinates: each point of a sweep as a line across all its axes and figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._kit import COLOURS, Sheet
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._sweep_kit import framed, legend_under, thinned
from flowsim.report._sweep_pairs import colours_of
from flowsim.report._units import number, words
from flowsim.report.sweep_reading import SweepReading

__all__ = ["parallel_sheet"]

MOST_LINES = 250  # of each kind
MOST_COLUMNS = 9
LETTERS = 13  # of a line of a label


@dataclass(frozen=True, eq=False)
class _Column:
    """One upright of parallel coordinates: its name, ends, limits, and each point's height."""

    label: str
    ends: tuple[str, str]
    height: FloatArray
    limits: tuple[float | None, float | None] = (None, None)


def _axis_column(axis: SweepAxis) -> _Column:
    """Return the upright of an axis."""
    last = len(axis.levels) - 1
    levels = np.log(axis.levels) if axis.by_ratio else axis.levels
    share = (levels - levels[0]) / (levels[-1] - levels[0])
    return _Column(axis.heading, (axis.told(0), axis.told(last)), np.asarray(share[axis.place]))


def _figure_column(reading: SweepReading, name: str) -> _Column:
    """Return the upright of a figure, with its limits."""
    values = reading.drawn(name)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    span = high - low or 1.0
    sides = reading.drawn_limits(name)
    places = [None if side is None else (side - low) / span for side in sides]
    return _Column(
        reading.heading(name),
        (number(low), number(high)),
        (values - low) / span,
        (places[0], places[1]),
    )


def _upright(axes: Axes, place: int, column: _Column) -> None:
    """Draw one upright with its ends and limits."""
    axes.plot([place, place], [0.0, 1.0], color="#222222", lw=1.2, zorder=6)
    axes.text(place, 1.11, _broken(column.label), ha="center", va="bottom", fontsize=8.2)
    axes.text(place, 1.03, column.ends[1], ha="center", fontsize=8.2)
    axes.text(place, -0.03, column.ends[0], ha="center", va="top", fontsize=8.2)
    for side, limit in enumerate(column.limits):
        if limit is None:
            continue
        inside = min(max(limit, 0.0), 1.0)
        bad = (0.0, inside) if side == 0 else (inside, 1.0)
        axes.fill_between([place - 0.06, place + 0.06], *bad, color=COLOURS[2], alpha=0.25,
                          lw=0, zorder=5)  # fmt: skip
        if 0.0 <= limit <= 1.0:
            axes.plot([place - 0.09, place + 0.09], [limit] * 2, color=COLOURS[2], lw=2.2, zorder=7)


def _broken(label: str) -> str:
    """Return a label on several short lines, a key path broken at its dots."""
    lines: list[str] = []
    for piece in label.replace(".", ". ").split():
        joined = f"{lines[-1]}{'' if lines[-1].endswith('.') else ' '}{piece}" if lines else piece
        if lines and len(joined) <= LETTERS:
            lines[-1] = joined
        else:
            lines.append(piece)
    return "\n".join(lines)


def _strands(
    axes: Axes, heights: FloatArray, rows: IntArray, colours: Any, look: dict[str, Any]
) -> None:
    """Draw one line per point across all uprights."""
    if not len(rows):
        return
    places = np.broadcast_to(np.arange(heights.shape[1]), (len(rows), heights.shape[1]))
    lines = LineCollection(list(np.stack([places, heights[rows]], axis=-1)), **look)
    lines.set_color(colours)
    axes.add_collection(lines)


def parallel_sheet(reading: SweepReading) -> Sheet | None:
    """Draw each point as a line across all axes and figures.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    Sheet or None
        None with fewer than two axes, or without a figure.
    """
    if len(reading.axes) < 2 or not reading.leading:
        return None
    figures = reading.figures[: max(MOST_COLUMNS - len(reading.axes), 1)]
    shown = reading.order()[: MOST_COLUMNS - len(figures)]
    columns = [_axis_column(axis) for axis in shown]
    columns += [_figure_column(reading, name) for name in figures]
    heights = np.column_stack([column.height for column in columns])
    whole = np.flatnonzero(reading.table.done & np.isfinite(heights).all(axis=1))
    met = thinned(whole[reading.table.meets_all[whole]], MOST_LINES)
    rest = thinned(whole[~reading.table.meets_all[whole]], MOST_LINES)
    title = "Which combinations meet every limit?"
    if not reading.has_limits:
        title = f"Which combinations give which {words(reading.leading)}?"
    figure = framed(3.9, title, _strand_note(reading, len(met) + len(rest), len(whole)), 1)
    axes = figure.subplots()
    norm = colours_of(reading)
    bar = ScalarMappable(norm, "cividis")
    _strands(axes, heights, rest, "#b8b8b8", {"lw": 0.6, "alpha": 0.45, "zorder": 2})
    colours = bar.to_rgba(reading.drawn(reading.leading)[met])
    _strands(axes, heights, met, colours, {"lw": 1.1, "alpha": 0.85, "zorder": 3})
    best = reading.best[:1] if reading.any_meets else reading.best[:0]
    _strands(axes, heights, best, COLOURS[2], {"lw": 2.4, "zorder": 4})
    for place, column in enumerate(columns):
        _upright(axes, place, column)
    axes.set(xlim=(-0.5, len(columns) - 0.5), ylim=(-0.12, 1.5))
    axes.set_axis_off()
    figure.colorbar(bar, ax=axes, pad=0.01, fraction=0.03).set_label(
        reading.heading(reading.leading)
    )
    legend_under(figure, _strand_entries(reading, met, rest), 4)
    return Sheet("parallel", title, _strand_reading(reading), figure)


def _strand_note(reading: SweepReading, drawn: int, whole: int) -> str:
    """Return how the picture is read and how much of the sweep is in it."""
    parts = ["One line per point."]
    if reading.has_limits:
        parts.append("Red on an upright: values that miss a limit.")
    if drawn < whole:
        parts.append(f"{drawn} of {whole} points are drawn, at most {MOST_LINES} of each kind.")
    return " ".join(parts)


def _strand_entries(reading: SweepReading, met: IntArray, rest: IntArray) -> list[Artist]:
    """Return what the legend of the parallel coordinates says."""
    told = "meets every limit" if reading.has_limits else "point"
    entries: list[Artist] = []
    if len(met):
        entries.append(Line2D([], [], color="#6b6d76", lw=1.6, label=f"{told}, by colour"))
    if len(rest):
        entries.append(Line2D([], [], color="#b8b8b8", lw=1.2, label="other points"))
    if reading.any_meets:
        entries.append(Line2D([], [], color=COLOURS[2], lw=2.4, label="best point"))
    return entries


def _strand_reading(reading: SweepReading) -> str:
    """Return one sentence on the best point."""
    if not reading.any_meets:
        return "No point meets every limit; each line is one point."
    row = int(reading.best[0])
    value = reading.told(reading.leading, row)
    number_ = reading.table.numbers[row]
    return f"The best point, {number_}, has a {words(reading.leading)} of {value}."
