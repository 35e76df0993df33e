"""What the pictures of a sweep share: frames with notes, marks of points, limits."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._kit import COLOURS, WIDTH, new_figure
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._units import number, quantity_text, words
from flowsim.report.sweep_reading import SweepReading

__all__ = [
    "FAILED",
    "MET",
    "NOT_MET",
    "NOT_SHOWN",
    "SHADE",
    "framed",
    "handles",
    "held",
    "kinds",
    "legend_under",
    "limit_words",
    "set_axis",
    "shades",
    "thinned",
]

HEAD, LINE, LEGEND_ROW = 0.36, 0.18, 0.22  # inch
LETTERS = 14.5  # per inch of a note
UNIT = re.compile(r"(\d) (?=[%m]|um|Pa|Hz)")  # a number is not parted from its unit
MOST_TICKS = 9

MET: dict[str, Any] = {"marker": "o", "mfc": "#111111", "mec": "white", "mew": 0.7, "ms": 5.2}
NOT_SHOWN: dict[str, Any] = {
    "marker": "o", "mfc": "white", "mec": "#111111", "mew": 1.0, "ms": 5.0,
}  # fmt: skip
NOT_MET: dict[str, Any] = {"marker": "o", "mfc": "#777777", "mec": "none", "ms": 2.8}
FAILED: dict[str, Any] = {"marker": "x", "mec": COLOURS[2], "mew": 2.0, "ms": 7.0}
SHADE: dict[str, Any] = {"facecolor": "none", "edgecolor": "#333333", "hatch": "///", "lw": 0.0}


def framed(
    height: float, title: str, note: str, legend_rows: int = 0, width: float = WIDTH
) -> Figure:
    """Return a figure with a title and a note above, and room for a legend below.

    Parameters
    ----------
    height, width : float
        Of what is between note and legend; of all. [inch]
    title, note : str
        Question in bold, and what is below it. [text]
    legend_rows : int
        Rows kept free at the bottom. [-]

    Returns
    -------
    Figure
        Axes put into it are laid out by themselves.
    """
    lines = textwrap.wrap(UNIT.sub("\\1\u00a0", note), int(LETTERS * (width - 0.2)))
    top, low = HEAD + LINE * len(lines) + 0.06, LEGEND_ROW * legend_rows
    tall = top + height + low
    figure = new_figure(tall, width)
    engine = figure.get_layout_engine()
    assert engine is not None
    engine.set(rect=(0.0, low / tall, 1.0, height / tall))  # type: ignore[call-arg]
    figure.text(0.1 / width, 1.0 - 0.19 / tall, title, weight="bold", size=10.5, va="center")
    figure.text(
        0.1 / width, 1.0 - 0.34 / tall, "\n".join(lines), size=9.0, va="top", linespacing=1.25
    )
    return figure


def legend_under(figure: Figure, entries: Sequence[Artist], columns: int) -> None:
    """Draw a legend at the bottom, where `framed` has kept room.

    Parameters
    ----------
    figure : Figure
        The figure. [-]
    entries : sequence of Artist
        With their labels. [-]
    columns : int
        Side by side. [-]
    """
    legend = figure.legend(
        handles=list(entries),
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        ncols=columns,
        fontsize=8.5,
        handlelength=2.0,
        columnspacing=1.3,
        labelspacing=0.35,
        borderaxespad=0.25,
    )
    legend.set_in_layout(False)


def kinds(reading: SweepReading, rows: IntArray) -> dict[str, IntArray]:
    """Sort points by how they stand to the limits.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    rows : array, shape (m,)
        Points. [-]

    Returns
    -------
    dict of str to array
        Rows that are "met", "not shown" (none missed), "not met", "failed".
    """
    table = reading.table
    done, met, missed = table.done[rows], table.meets_all[rows], table.misses[rows] > 0
    return {
        "not met": rows[done & missed],
        "not shown": rows[done & ~missed & ~met],
        "met": rows[met],
        "failed": rows[~done],
    }


LOOKS = {"met": MET, "not shown": NOT_SHOWN, "not met": NOT_MET, "failed": FAILED}
TOLD = {
    "met": "meets every limit",
    "not shown": "no limit missed, but not all shown",
    "not met": "misses a limit",
    "failed": "failed",
}


def handles(reading: SweepReading, rows: IntArray, shaded: bool = False) -> list[Artist]:
    """Return entries of a legend for the kinds of points that occur.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    rows : array, shape (m,)
        Points that are drawn. [-]
    shaded : bool
        Whether the region where a limit is missed is shaded. [-]

    Returns
    -------
    list of Artist
        With labels.
    """
    found = kinds(reading, rows)
    told = TOLD if reading.has_limits else {**TOLD, "met": "point"}
    entries: list[Artist] = [
        Line2D([], [], ls="", label=told[kind], **LOOKS[kind])
        for kind in ("met", "not shown", "not met", "failed")
        if len(found[kind])
    ]
    return [*entries, Patch(label="a limit is missed", **SHADE)] if shaded else entries


def limit_words(reading: SweepReading, figure: str) -> list[str]:
    """Return the limits of a figure in words, such as "draw ratio at most 1.25"."""
    unit = reading.table.unit(figure)
    sides = zip(("at least", "at most"), reading.table.limit_of(figure), strict=True)
    return [
        f"{words(figure)} {side} {quantity_text(figure, value, unit)}"
        for side, value in sides
        if value is not None
    ]


def held(reading: SweepReading, free: Sequence[SweepAxis]) -> str:
    """Return at which values the other axes are held, in words; empty where there are none."""
    row = reading.reference
    others = [axis for axis in reading.axes if axis not in free]
    if row is None or not others:
        return ""
    told = ", ".join(f"{axis.label} = {axis.told(int(axis.place[row]))}" for axis in others)
    return f"At {told} (as at point {reading.table.numbers[row]})."


def shades(count: int) -> list[Any]:
    """Return colours for an ordered set of lines, dark to light, none too pale for paper."""
    ramp = mpl.colormaps["cividis"]
    return [ramp(0.85 * place / max(count - 1, 1)) for place in range(count)]


def set_axis(axes: Axes, axis: SweepAxis, along: str, label: bool = True) -> None:
    """Give one side of a picture the values of an axis of the sweep.

    Parameters
    ----------
    axes : Axes
        Where. [-]
    axis : SweepAxis
        The axis. [any]
    along : {"x", "y"}
        Which side. [-]
    label : bool
        Whether to name it. [-]
    """
    side = axes.xaxis if along == "x" else axes.yaxis
    if axis.by_ratio:
        (axes.set_xscale if along == "x" else axes.set_yscale)("log")
    if axis.is_text or (axis.by_ratio and len(axis.levels) <= MOST_TICKS):
        told = axis.words or tuple(f"{value:.4g}" for value in axis.levels)
        side.set_major_locator(FixedLocator(list(axis.levels)))
        side.set_major_formatter(FixedFormatter([word[:18] for word in told]))
        side.set_minor_locator(NullLocator())
    if label:
        side.set_label_text("\n".join(textwrap.wrap(axis.heading, 40)))


def thinned(rows: IntArray, most: int) -> IntArray:
    """Return at most so many of some rows, evenly picked.

    Parameters
    ----------
    rows : array, shape (m,)
        Rows. [-]
    most : int
        How many at most. [-]

    Returns
    -------
    array
        In their order.
    """
    if len(rows) <= most:
        return rows
    return np.asarray(rows[np.linspace(0, len(rows) - 1, most).round().astype(np.int64)])


def ends_of(values: FloatArray) -> tuple[str, str]:
    """Return the smallest and largest value as people write them."""
    return number(float(np.nanmin(values))), number(float(np.nanmax(values)))
