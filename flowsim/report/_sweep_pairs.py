"""Pictures of drawn points: a figure along each axis, and pairs of axes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._kit import COLOURS, Sheet
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._sweep_kit import FAILED, framed, legend_under, set_axis, thinned
from flowsim.report._units import words
from flowsim.report.sweep_reading import SweepReading

__all__ = ["colours_of", "pairs_sheet", "trends_sheet"]

MOST_AXES = 4  # in pairs
MOST_TRENDS = 6
MOST_DOTS = 1200
BINNED = 80  # points from which the median is drawn
BEST: dict[str, Any] = {
    "marker": "*", "ms": 14.0, "mfc": "white", "mec": "#111111", "mew": 1.3, "ls": "",
}  # fmt: skip


def _sorted_out(reading: SweepReading, most: int) -> tuple[IntArray, IntArray, str]:
    """Return the rows that are drawn, those that meet every limit and the others, and a note."""
    usable = reading.table.done & np.isfinite(reading.drawn(reading.leading))
    met = np.flatnonzero(usable & reading.table.meets_all)
    rest = np.flatnonzero(usable & ~reading.table.meets_all)
    few = thinned(met, most // 2), thinned(rest, most - min(len(met), most // 2))
    drawn, count = len(few[0]) + len(few[1]), len(met) + len(rest)
    note = ""
    if drawn < count:
        note = (
            f"Drawn are {len(few[0])} of {len(met)} points that meet every limit and "
            f"{len(few[1])} of {len(rest)} others, evenly picked."
        )
    return few[0], few[1], note


def colours_of(reading: SweepReading) -> Normalize:
    """Return the range of colours of the leading figure.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    Normalize
        From its smallest to its largest value.
    """
    values = reading.drawn(reading.leading)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    return Normalize(low, high if high > low else low + 1.0)


def _dots(
    axes: Axes, reading: SweepReading, place: FloatArray, value: FloatArray, norm: Normalize,
    rows: tuple[IntArray, IntArray],
) -> None:  # fmt: skip
    """Draw points coloured by the leading figure."""
    colour = reading.drawn(reading.leading)
    for chosen, look in zip(rows, _looks(sum(map(len, rows))), strict=True):
        axes.scatter(
            place[chosen], value[chosen], c=colour[chosen], norm=norm, cmap="cividis", **look
        )


def _kind_entries(
    reading: SweepReading, rows: tuple[IntArray, IntArray], colour: str
) -> list[Artist]:
    """Return the legend's entries for points that meet every limit and for others."""
    dot: dict[str, Any] = {"marker": "o", "ls": "", "mfc": colour}
    told = "meets every limit" if reading.has_limits else "point"
    entries: list[Artist] = []
    if len(rows[0]):
        entries.append(Line2D([], [], ms=5.5, mec="#111111", label=told, **dot))
    if len(rows[1]):
        others = "misses a limit, or not shown"
        entries.append(Line2D([], [], ms=3.4, mec="none", label=others, **dot))
    return entries


def _looks(count: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return how points are drawn, smaller the more there are."""
    size = float(np.clip(5000.0 / max(count, 1), 9.0, 24.0))
    edge = {"edgecolors": "#111111", "linewidths": 0.45 if size < 15.0 else 0.7}
    return {"s": size, "zorder": 4, **edge}, {
        "s": 7.0,
        "linewidths": 0.0,
        "alpha": 0.5,
        "zorder": 3,
    }


def _banded(axis: SweepAxis, values: FloatArray) -> FloatArray:
    """Return place, 10 %, median and 90 % of the values in groups along an axis, shape (4, m)."""
    usable = np.isfinite(values)
    place, values = axis.values[usable], values[usable]
    if len(axis.levels) <= 12:
        groups = axis.place[usable]
    else:
        groups = np.argsort(np.argsort(place, kind="stable")) * 12 // len(place)
    rows = [
        [np.median(place[groups == one]), *np.quantile(values[groups == one], [0.1, 0.5, 0.9])]
        for one in np.unique(groups)
    ]
    return np.array(rows).T


def _trend(
    axes: Axes, reading: SweepReading, axis: SweepAxis, rows: tuple[IntArray, IntArray]
) -> None:
    """Draw the leading figure along one axis."""
    values = reading.drawn(reading.leading)
    for chosen, look in zip(rows, _looks(sum(map(len, rows))), strict=True):
        plain = {**look, "s": 0.7 * look["s"], "alpha": 0.55}
        axes.scatter(axis.values[chosen], values[chosen], color=COLOURS[0], **plain)
    if np.isfinite(values).sum() >= BINNED and not axis.is_text:
        place, low, middle, high = _banded(axis, values)
        axes.fill_between(place, low, high, color="#222222", alpha=0.13, lw=0, zorder=2)
        axes.plot(place, middle, color="#222222", lw=2.0, zorder=5)
    failed = np.flatnonzero(~reading.table.done)
    base = np.full(len(failed), 0.03)
    look = {**FAILED, "ms": 5.0, "mew": 1.4}
    axes.plot(
        axis.values[failed], base, ls="", transform=axes.get_xaxis_transform(), zorder=6, **look
    )
    for limit in reading.drawn_limits(reading.leading):
        if limit is not None:
            axes.axhline(limit, color="#222222", ls=(0, (6, 2)), lw=1.3, zorder=4)
    set_axis(axes, axis, "x")
    axes.grid(True)


def trends_sheet(reading: SweepReading) -> Sheet | None:
    """Draw the leading figure of all points along each axis.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    Sheet or None
        None without axes or a figure.
    """
    axes_shown = reading.order()[:MOST_TRENDS]
    if not axes_shown or not reading.leading:
        return None
    met, rest, note = _sorted_out(reading, MOST_DOTS)
    columns = min(len(axes_shown), 3)
    lines = math.ceil(len(axes_shown) / columns)
    name = words(reading.leading)
    title = f"How does {name} follow each axis?"
    many = int(np.isfinite(reading.drawn(reading.leading)).sum()) >= BINNED
    entries = _trend_entries(reading, (met, rest), many)
    parts = ["Axes in the order in which they matter; at each place all others differ too.", note]
    figure = framed(2.6 * lines, title, " ".join(filter(None, parts)), math.ceil(len(entries) / 3))
    panels = figure.subplots(lines, columns, sharey=True, squeeze=False)
    for axes, axis in zip(panels.flat, axes_shown, strict=False):
        _trend(axes, reading, axis, (met, rest))
    for axes in panels.flat[len(axes_shown) :]:
        axes.set_visible(False)
    for row in panels:
        row[0].set_ylabel(reading.heading(reading.leading))
    legend_under(figure, entries, 3)
    reading_ = f"{name} of all points along {', '.join(axis.label for axis in axes_shown)}."
    return Sheet("trends", title, reading_[0].upper() + reading_[1:], figure)


def _trend_entries(
    reading: SweepReading, rows: tuple[IntArray, IntArray], many: bool
) -> list[Artist]:
    """Return what the legend of the trends says."""
    entries = _kind_entries(reading, rows, COLOURS[0])
    if many:
        entries.append(
            Line2D([], [], color="#222222", lw=2.0, label="median; grey: 8 of 10 points")
        )
    if any(limit is not None for limit in reading.drawn_limits(reading.leading)):
        entries.append(Line2D([], [], color="#222222", ls="--", lw=1.3, label="limit"))
    if not reading.table.done.all():
        entries.append(Line2D([], [], ls="", label="failed", **FAILED))
    return entries


def pairs_sheet(reading: SweepReading) -> Sheet | None:
    """Draw the points over each pair of the axes that matter most.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    Sheet or None
        None with fewer than two axes, or without a figure.
    """
    chosen = reading.order()[:MOST_AXES]
    if len(chosen) < 2 or not reading.leading:
        return None
    met, rest, note = _sorted_out(reading, MOST_DOTS)
    norm, size = colours_of(reading), len(chosen) - 1
    title = "Which pairs of values meet every limit?"
    if not reading.has_limits:
        title = f"How large is the {words(reading.leading)} over pairs of axes?"
    left = len(reading.axes) - len(chosen)
    parts = [
        f"The {len(chosen)} axes that matter most of {len(reading.axes)}." if left else "",
        note,
    ]
    parts.append("At each place the other axes differ too." if len(reading.axes) > 2 else "")
    entries = _kind_entries(reading, (met, rest), "#8a8a78")
    if reading.any_meets:
        entries.append(Line2D([], [], label="best", **{**BEST, "ms": 10.0}))
    tall = 4.4 if size == 1 else 2.25 * size + 0.4
    figure = framed(tall, title, " ".join(filter(None, parts)), 1)
    panels = figure.subplots(size, size, squeeze=False, sharex="col", sharey="row")
    for i in range(size):
        for j in range(size):
            if j > i:
                panels[i, j].set_visible(False)
                continue
            across, up = chosen[j], chosen[i + 1]
            _pair(panels[i, j], reading, (across, up), norm, (met, rest))
            set_axis(panels[i, j], across, "x", label=i == size - 1)
            set_axis(panels[i, j], up, "y", label=j == 0)
    bar = ScalarMappable(norm, "cividis")
    where = panels[0, 1:] if size > 1 else panels[0, 0]
    _pair_bar(figure, bar, where, reading)
    legend_under(figure, entries, 4)
    return Sheet("pairs", title, _pairs_reading(reading, chosen), figure)


def _pair_bar(figure: Figure, bar: ScalarMappable, where: Any, reading: SweepReading) -> None:
    """Draw the colour bar of the pairs."""
    place = list(np.ravel(where))
    figure.colorbar(bar, ax=place, pad=0.02, fraction=0.06).set_label(
        reading.heading(reading.leading)
    )


def _pair(
    axes: Axes, reading: SweepReading, pair: tuple[SweepAxis, SweepAxis], norm: Normalize,
    rows: tuple[IntArray, IntArray],
) -> None:  # fmt: skip
    """Draw the points over one pair of axes."""
    across, up = pair
    _dots(axes, reading, across.values, up.values, norm, rows)
    row = reading.reference
    if row is not None and reading.any_meets:
        axes.plot(across.values[row], up.values[row], zorder=6, **{**BEST, "ms": 11.0})


def _pairs_reading(reading: SweepReading, chosen: Sequence[SweepAxis]) -> str:
    """Return one sentence on the pairs."""
    names = ", ".join(axis.label for axis in chosen)
    met, done = int(reading.table.meets_all.sum()), int(reading.table.done.sum())
    told = f" {met} of {done} points meet every limit." if reading.has_limits else ""
    return f"Points over {names}, coloured by {words(reading.leading)}.{told}"
