"""One picture of several cases side by side."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from flowsim.report._kit import COLOURS, HALO, png_bytes, style
from flowsim.report._units import number, shown, words
from flowsim.report.comparison import Comparison, ComparisonRow
from flowsim.report.figures_front import opening_steps

__all__ = ["comparison_figure", "comparison_picture"]

BARS = (
    "balance_margin",
    "front_velocity_min",
    "front_velocity_mean",
    "draw_ratio",
    "compartment_pressure",
    "exhaust_fan_pressure",
    "downflow_rsd",
    "supply_flow",
)
MOST_BARS = 5
MOST_COLUMNS = 5
LINES = ("-", "--", "-.", ":")
WIDTH, LINE_HEIGHT, BAR_HEIGHT, HEAD = 11.0, 3.4, 0.36, 1.2
LABEL_LETTERS = 26
PANEL_LETTERS = 16


def _short_labels(labels: Sequence[str]) -> tuple[str, list[str]]:
    """Return what all labels have before an equals sign, and what is left of each."""
    heads = {label.rpartition(" = ")[0] for label in labels}
    if len(heads) != 1 or "" in heads:
        return "", [_wrap(label, LABEL_LETTERS) for label in labels]
    rest = [label.rpartition(" = ")[2] for label in labels]
    return _wrap(heads.pop(), LABEL_LETTERS), [_wrap(label, LABEL_LETTERS) for label in rest]


def _colour(index: int) -> str:
    """Return the colour of a case."""
    return COLOURS[index % len(COLOURS)]


def _line(index: int) -> str:
    """Return the line style of a case."""
    return LINES[index % len(LINES)]


def _wrap(label: str, letters: int) -> str:
    """Return a label on at most two lines."""
    lines = textwrap.wrap(label, letters) or [""]
    if len(lines) > 2:
        lines = [lines[0], lines[1][: letters - 3] + "..."]
    return "\n".join(lines)


def _fronts(axes: Axes, comparison: Comparison) -> None:
    """Overlay the velocity through the first opening of each case."""
    for index, result in enumerate(comparison.results):
        if result.field is not None and result.openings:
            profile = result.openings[0]
            place, value = opening_steps(profile, profile.velocity)
            axes.plot(place, value, color=_colour(index), ls=_line(index), lw=1.7)
    axes.axhline(0.0, color="#222222", lw=1.0)
    axes.set(xlabel="place along the opening [m]", ylabel="velocity, out > 0 [m/s]")
    axes.set_title("Which way does the front blow?")
    axes.grid(True, axis="y")


def _draws(axes: Axes, comparison: Comparison) -> None:
    """Overlay the draw of the plate over its mean."""
    for index, result in enumerate(comparison.results):
        plate = result.plate
        if plate is not None and np.any(np.isfinite(plate.station_velocity)):
            relative = plate.station_velocity / float(np.nanmean(plate.station_velocity))
            axes.plot(plate.x, relative, color=_colour(index), ls=_line(index), lw=1.7)
    axes.axhline(1.0, color="#222222", lw=0.8)
    axes.set(xlabel="width, left at 0 [m]", ylabel="draw over its mean [-]")
    axes.set_title("How evenly does the work surface draw?")
    axes.grid(True, axis="y")


def _legend(part: Figure, comparison: Comparison) -> None:
    """Name the lines of all cases once, below both panels."""
    labels = _short_labels(comparison.labels)[1]
    lines = [
        Line2D([], [], color=_colour(index), ls=_line(index), lw=2.0)
        for index in range(len(labels))
    ]
    part.legend(lines, labels, loc="outside lower center", ncols=min(len(labels), MOST_COLUMNS))


def _bar_rows(comparison: Comparison) -> list[ComparisonRow]:
    """Return the few key figures that are drawn as bars."""
    rows = {row.name: row for row in comparison.rows}
    found = [rows[name] for name in BARS if name in rows]
    return [row for row in found if any(value is not None for value in row.values)][:MOST_BARS]


def _limits(comparison: Comparison, name: str) -> list[float]:
    """Return the limits of a key figure in all cases. [SI]."""
    found = {check.limit for checks in comparison.checks for check in checks if check.name == name}
    return sorted(found)


def _bars(axes: Axes, comparison: Comparison, row: ComparisonRow) -> None:
    """Draw one key figure as bars, its limits as dashed lines."""
    factor, unit = shown(row.name, row.unit)
    values = [np.nan if value is None else factor * value for value in row.values]
    places = np.arange(len(values))
    axes.barh(
        places, np.nan_to_num(values), height=0.7, color=[_colour(i) for i in range(len(values))]
    )
    limits = [factor * limit for limit in _limits(comparison, row.name)]
    for limit in limits:
        axes.axvline(limit, color="#222222", ls="--", lw=1.2)
    for place, value in zip(places, values, strict=True):
        side = "right" if value < 0.0 else "left"
        axes.annotate(
            number(float(value)),
            (0.0 if np.isnan(value) else float(value), float(place)),
            (-5 if side == "right" else 5, 0),
            textcoords="offset points",
            va="center",
            ha=side,
            fontsize=8.5,
            bbox=HALO,
            zorder=4,
        )
    _bar_frame(axes, [*np.nan_to_num(values), *limits, 0.0])
    axes.set_title(_wrap(words(row.name), PANEL_LETTERS), fontsize=9.5)
    axes.set_xlabel(f"[{unit or '-'}]")


def _bar_frame(axes: Axes, values: Sequence[float]) -> None:
    """Leave room beside the bars for their numbers."""
    low, high = min(values), max(values)
    room = 0.42 * max(high - low, 1e-12)
    axes.set_xlim(low - (room if low < 0.0 else 0.0), high + (room if high > 0.0 else 0.0))
    axes.axvline(0.0, color="#222222", lw=0.8)
    axes.locator_params(axis="x", nbins=3)
    axes.invert_yaxis()
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)


def _has_lines(comparison: Comparison) -> tuple[bool, bool]:
    """Return whether there is a front, and a draw, to be drawn as lines."""
    fronts = any(item.field is not None and item.openings for item in comparison.results)
    return fronts, any(item.plate is not None for item in comparison.results)


def comparison_figure(comparison: Comparison) -> Figure:
    """Draw fronts, draws and a few key figures of several cases.

    Parameters
    ----------
    comparison : Comparison
        The cases. [SI]

    Returns
    -------
    Figure
        Lines above, bars below; a legend between them names the lines.
    """
    tall = HEAD + BAR_HEIGHT * max(len(comparison.labels), 2)
    makers = [
        make for make, there in zip((_fronts, _draws), _has_lines(comparison), strict=True) if there
    ]
    line_height = LINE_HEIGHT if makers else 0.0
    figure = Figure(figsize=(WIDTH, line_height + tall + 0.5), dpi=110, layout="constrained")
    parts = np.atleast_1d(
        figure.subfigures(2, 1, height_ratios=(line_height, tall)) if makers else figure  # type: ignore[arg-type]
    )
    if makers:
        for axes, make in zip(
            parts[0].subplots(1, len(makers), squeeze=False)[0], makers, strict=True
        ):
            make(axes, comparison)
        _legend(parts[0], comparison)
    _draw_bars(parts[-1], comparison)
    return figure


def _draw_bars(part: Figure, comparison: Comparison) -> None:
    """Draw the bars side by side, the labels of the cases once."""
    rows = _bar_rows(comparison)
    if not rows:
        return
    panels = part.subplots(1, len(rows), sharey=True, squeeze=False)[0]
    for axes, row in zip(panels, rows, strict=True):
        _bars(axes, comparison, row)
    key, labels = _short_labels(comparison.labels)
    panels[0].set_yticks(np.arange(len(labels)), labels)
    panels[0].set_ylabel(key)
    if any(_limits(comparison, row.name) for row in rows):
        part.supxlabel("dashed: limit stated in a case", fontsize=9.0)


def comparison_picture(comparison: Comparison) -> bytes:
    """Draw several cases as PNG.

    Parameters
    ----------
    comparison : Comparison
        The cases. [SI]

    Returns
    -------
    bytes
        The file.
    """
    with style():
        return png_bytes(comparison_figure(comparison))
