"""Lines of figures along one axis of a sweep, one line per value of a second axis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import ScalarFormatter

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._kit import COLOURS, HALO, Sheet
from flowsim.report._sweep_axes import SweepAxis, cut
from flowsim.report._sweep_kit import (
    FAILED,
    MET,
    NOT_MET,
    NOT_SHOWN,
    SHADE,
    framed,
    handles,
    held,
    kinds,
    legend_under,
    set_axis,
    shades,
    thinned,
)
from flowsim.report._units import number, words
from flowsim.report.sweep_reading import SweepReading

__all__ = ["line_axes", "lines_sheet"]

MOST_LINES = 6
MOST_PANELS = 6
MOST_MARKS = 60  # points of a line that are marked
MOST_POINTS = 600  # points of a line that are drawn
PANEL = 2.35  # inch
FLAT = 0.02  # range of values over their size, at least
REACH = 1.5  # a limit is drawn in if that many times the range of the values away, or nearer
STYLES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (8, 2)))


def line_axes(reading: SweepReading) -> tuple[SweepAxis, SweepAxis | None]:
    """Return along which axis lines are drawn best, and which one tells them apart.

    Parameters
    ----------
    reading : SweepReading
        A sweep with at least one axis. [SI]

    Returns
    -------
    tuple of SweepAxis and SweepAxis or None
        The axis that matters most and has three values or more, and the next one.
    """
    ranked = reading.order()
    along = next((axis for axis in ranked if len(axis.levels) > 2 and not axis.is_text), None)
    along = along or max(ranked, key=lambda axis: len(axis.levels))
    rest = [axis for axis in ranked if axis is not along]
    return along, (rest[0] if rest and reading.grid else None)


def _chosen(by: SweepAxis, rows: IntArray, reference: int) -> IntArray:
    """Return the places of the second axis that get a line, the best point's among them."""
    found = np.unique(by.place[rows])
    if len(found) <= MOST_LINES:
        return np.asarray(found)
    even = thinned(found, MOST_LINES)
    own = by.place[reference]
    even[np.argmin(np.abs(even - own))] = own
    return even


def _limit(axes: Axes, value: float, above: bool, span: tuple[float, float]) -> None:
    """Draw a limit and shade the side that is not wanted, or say that it is out of sight."""
    low, high = span
    reach = REACH * (high - low)
    if not low - reach <= value <= high + reach:
        at, arrow = (0.98, "above") if value > high else (0.02, "below")
        axes.text(
            0.02, at, f"limit {number(value)}: {arrow} this picture", fontsize=8.0, bbox=HALO,
            transform=axes.transAxes, va="top" if value > high else "bottom", zorder=6,
        )  # fmt: skip
        return
    axes.axhline(value, color="#222222", ls=(0, (6, 2)), lw=1.5, zorder=3)
    far = 1e3 * max(abs(high), abs(low), abs(value), 1e-30)
    bounds = (value, value + far) if above else (value - far, value)
    axes.axhspan(*bounds, zorder=0.5, **{**SHADE, "edgecolor": "#c4c4c4"})


def _range(values: FloatArray) -> tuple[float, float]:
    """Return the range of values, wide enough that what hardly changes looks flat."""
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    largest = max(abs(low), abs(high))
    lacking = max(FLAT * largest, 1e-9 if largest else 0.1) - (high - low)
    wider = 0.5 * max(lacking, 0.0)
    return low - wider, high + wider


def _span(axes: Axes, span: tuple[float, float], limits: Sequence[float]) -> None:
    """Set the range of values so that limits near it are in it."""
    low, high = span
    room = high - low
    near = [item for item in limits if low - REACH * room <= item <= high + REACH * room]
    low, high = min([low, *near]), max([high, *near])
    pad = 0.09 * (high - low)
    axes.set_ylim(low - pad, high + pad)


def _marks(axes: Axes, reading: SweepReading, rows: IntArray, place: Any, value: Any) -> None:
    """Mark the points of one line by how they stand to the limits."""
    found = kinds(reading, rows)
    for kind, look in (("not met", NOT_MET), ("not shown", NOT_SHOWN), ("met", MET)):
        axes.plot(place[found[kind]], value[found[kind]], ls="", zorder=5, **look)


def _panel(
    axes: Axes, reading: SweepReading, figure: str, along: SweepAxis, lines: Sequence[_Line]
) -> None:
    """Draw one figure along the axis."""
    place, value = along.values, reading.drawn(figure)
    for line in lines:
        shown_rows = thinned(line.rows, MOST_POINTS)
        axes.plot(place[shown_rows], value[shown_rows], lw=1.8, zorder=4, **line.look)
        if len(line.rows) <= MOST_MARKS:
            _marks(axes, reading, line.rows, place, value)
        failed = line.rows[~reading.table.done[line.rows]]
        base = axes.get_xaxis_transform()
        axes.plot(place[failed], np.full(len(failed), 0.035), ls="", transform=base, zorder=6,
                  **FAILED)  # fmt: skip
    every = np.concatenate([value[line.rows] for line in lines])
    low, high = reading.drawn_limits(figure)
    if np.isfinite(every).any():
        span = _range(every)
        _span(axes, span, [item for item in (low, high) if item is not None])
        for limit, above in ((low, False), (high, True)):
            if limit is not None:
                _limit(axes, limit, above, span)
    axes.yaxis.set_major_formatter(ScalarFormatter(useOffset=False))
    axes.set_title(reading.heading(figure), fontsize=9.5)
    axes.grid(True)


class _Line:
    """One line: its points in order, and its look."""

    def __init__(self, rows: IntArray, look: dict[str, Any]) -> None:
        self.rows = rows
        self.look = look


def _lines(rows: IntArray, along: SweepAxis, by: SweepAxis | None, reference: int) -> list[_Line]:
    """Return the lines of a cut."""
    rows = rows[np.argsort(along.place[rows], kind="stable")]
    if by is None:
        return [_Line(rows, {"color": COLOURS[0], "label": None})]
    places = _chosen(by, rows, reference)
    colours = COLOURS if by.is_text else shades(len(places))
    return [
        _Line(
            rows[by.place[rows] == place],
            {
                "color": colours[index % len(colours)],
                "ls": STYLES[index % len(STYLES)],
                "label": by.told(int(place)),
            },
        )
        for index, place in enumerate(places)
    ]


def _legend(lines: Sequence[_Line], by: SweepAxis | None) -> list[Artist]:
    """Return the entries for the lines."""
    if by is None:
        return []
    return [
        Line2D([], [], lw=2.0, **{**line.look, "label": f"{by.label} = {line.look['label']}"})
        for line in lines
    ]


def _note(reading: SweepReading, free: Sequence[SweepAxis], lines: Sequence[_Line]) -> str:
    """Return what is held, what is left out, and what the shading means."""
    parts = [held(reading, free)]
    if len(free) == 2 and len(lines) < len(free[1].levels):
        parts.append(f"{len(lines)} of {len(free[1].levels)} values of {free[1].label} are drawn.")
    longest = max(len(line.rows) for line in lines)
    if longest > MOST_POINTS:
        parts.append(f"Of {longest} points of a line {MOST_POINTS} are drawn.")
    if reading.has_limits:
        parts.append("Dashed: a limit; hatched: the side that is not wanted.")
    return " ".join(part for part in parts if part)


def lines_sheet(
    reading: SweepReading,
    along: SweepAxis | None = None,
    by: SweepAxis | None = None,
    figures: Sequence[str] = (),
) -> Sheet | None:
    """Draw figures along one axis, one line per value of a second one.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    along, by : SweepAxis or None
        The axis along which, and the one that tells the lines apart; without the first one both
        are chosen. [any]
    figures : sequence of str
        Key figures, at most six; empty = those that the sweep shows. [text]

    Returns
    -------
    Sheet or None
        None without axes, figures or finished points.
    """
    reference = reading.reference
    names = list(figures or reading.figures)[:MOST_PANELS]
    if reference is None or not names or not reading.axes:
        return None
    if along is None:
        along, by = line_axes(reading)
    free = [along] if by is None else [along, by]
    rows = cut(reading.axes, reference, free)
    lines = _lines(rows, along, by, reference)
    columns = 1 if len(names) == 1 else 2
    height = (PANEL if len(names) > 1 else 3.4) * math.ceil(len(names) / columns) + 0.3
    drawn_rows = np.concatenate([line.rows for line in lines])
    few = max(len(line.rows) for line in lines) <= MOST_MARKS
    marks = handles(reading, drawn_rows) if few else []
    entries = [*_legend(lines, by), *marks]
    title = f"How do the figures follow {along.label}?"
    wide = 2 if max((len(str(item.get_label())) for item in entries), default=0) > 34 else 3
    figure = framed(height, title, _note(reading, free, lines), math.ceil(len(entries) / wide))
    panels = figure.subplots(math.ceil(len(names) / columns), columns, sharex=True, squeeze=False)
    for axes, name in zip(panels.flat, names, strict=False):
        _panel(axes, reading, name, along, lines)
        set_axis(axes, along, "x", label=False)
    for axes in panels.flat[len(names) :]:
        axes.set_visible(False)
    _name_lowest(panels, len(names), along)
    legend_under(figure, entries, wide)
    return Sheet("lines", title, _reading(reading, along, by), figure)


def _name_lowest(panels: Any, count: int, along: SweepAxis) -> None:
    """Name the axis under the lowest panel of each column."""
    for column in range(panels.shape[1]):
        last = [place for place in range(count) if place % panels.shape[1] == column][-1]
        axes = panels.flat[last]
        axes.tick_params(labelbottom=True)
        set_axis(axes, along, "x")


def _reading(reading: SweepReading, along: SweepAxis, by: SweepAxis | None) -> str:
    """Return one sentence on the leading figure along the axis."""
    row = reading.reference
    assert row is not None
    name = words(reading.leading)
    apart = f", one line per {by.label}" if by is not None else ""
    value = reading.told(reading.leading, row)
    where = along.told(int(along.place[row]))
    kind = "the best point" if reading.any_meets else "the point that misses least"
    return f"Along {along.label}{apart}: {kind} has a {name} of {value} at {where}."
