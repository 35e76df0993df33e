"""Ranked bars: which axis of a sweep each figure depends on."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from flowsim.report._kit import COLOURS, Sheet
from flowsim.report._sweep_kit import framed, legend_under
from flowsim.report._units import words
from flowsim.report.sweep_answers import ALONE
from flowsim.report.sweep_reading import SweepReading
from flowsim.report.sweep_sensitivity import Sensitivity

__all__ = ["bars_sheet"]

MOST_PANELS = 6
MOST_BARS = 8
BAR, HEAD = 0.42, 0.62  # inch
BY_ITSELF, JOINT, RANKS = COLOURS[0], "#bcd7f2", COLOURS[3]


def _percent(value: float, error: float) -> str:
    """Return a share and its error in percent."""
    told = f"{100.0 * value:.0f} %"
    return told if error < 5e-4 else f"{told} ± {max(100.0 * error, 1.0):.0f}"


def _bar(axes: Axes, level: float, found: Sensitivity, axis: int) -> None:
    """Draw the share of one axis, its error and its value."""
    value, error = float(found.leading[axis]), float(found.leading_error[axis])
    first = float(found.first[axis])
    if found.total is None:
        axes.barh(level, value, height=0.42, color=RANKS, zorder=2)
    else:
        axes.barh(level, value, height=0.42, color=JOINT, zorder=2)
        axes.barh(level, min(first, value), height=0.42, color=BY_ITSELF, zorder=3)
    if error > 5e-4:
        ends = max(value - error, 0.0), min(value + error, 1.15)
        axes.plot(ends, (level, level), color="#222222", lw=1.4, zorder=4)
    end = max(value, min(value + error, 1.15) if error > 5e-4 else 0.0)
    axes.text(end + 0.02, level, _percent(value, error), va="center", fontsize=8.5)


def _panel(axes: Axes, reading: SweepReading, name: str, found: Sensitivity, rows: int) -> None:
    """Draw the axes of one figure, the one that matters most on top."""
    for level, axis in enumerate(found.order[:MOST_BARS]):
        _bar(axes, level, found, axis)
        axes.text(0.0, level - 0.42, reading.axes[axis].label, va="center", fontsize=8.5)
    axes.set(xlim=(0.0, 1.28), ylim=(rows - 0.45, -0.75), yticks=[])
    axes.set_xticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0", "25 %", "50 %", "75 %", "100 %"])
    axes.spines["left"].set_visible(True)
    axes.set_title(words(name), fontsize=9.5)


def _legend(shown: Sequence[Sensitivity]) -> list[Artist]:
    """Return the entries for the bars that occur."""
    entries: list[Artist] = []
    if any(found.total is not None for found in shown):
        entries.append(Patch(color=BY_ITSELF, label="share of the variance by this axis alone"))
        entries.append(Patch(color=JOINT, label="and together with other axes"))
    if any(found.method == "means of groups" for found in shown):
        entries.append(Patch(color=RANKS, label="by this axis alone, from means of groups"))
    elif any(found.total is None for found in shown):
        entries.append(Patch(color=RANKS, label="squared rank correlation"))
    if any(np.nanmax(found.leading_error) > 5e-4 for found in shown):
        entries.append(Line2D([], [], color="#222222", lw=1.4, label="error at 95 %"))
    return entries


def bars_sheet(reading: SweepReading, figures: Sequence[str] = ()) -> Sheet | None:
    """Draw what each axis has of the variance of the figures, ranked.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    figures : sequence of str
        Key figures, at most six; empty = those that the sweep shows. [text]

    Returns
    -------
    Sheet or None
        None where nothing can be told, or there is one axis only.
    """
    wanted = figures or reading.found
    shown = {name: reading.found[name] for name in wanted if reading.found[name].order}
    if not figures and len(shown) > MOST_PANELS:  # the last one is whether every limit is met
        kept = [*list(shown)[: MOST_PANELS - 1], list(shown)[-1]]
        shown = {name: shown[name] for name in kept}
    names = list(shown)[:MOST_PANELS]
    if len(reading.axes) < 2 or not names:
        return None
    columns = 1 if len(names) == 1 else 2
    lines = math.ceil(len(names) / columns)
    rows = min(len(reading.axes), MOST_BARS)
    title = "Which axis matters most?"
    leading = shown[names[0]]
    note = f"{words(names[0])}: {leading.note}."
    entries = _legend([shown[name] for name in names])
    figure = framed(lines * (HEAD + BAR * rows), title, note, math.ceil(len(entries) / 2))
    panels = figure.subplots(lines, columns, squeeze=False)
    for axes, name in zip(panels.flat, names, strict=False):
        _panel(axes, reading, name, shown[name], rows)
    for axes in panels.flat[len(names) :]:
        axes.set_visible(False)
    legend_under(figure, entries, 2)
    return Sheet("sensitivity", title, _reading(reading, shown), figure)


def _reading(reading: SweepReading, shown: dict[str, Sensitivity]) -> str:
    """Return one sentence on the axis that leads each figure."""
    leaders: dict[str, list[str]] = {}
    for name, found in shown.items():
        top = float(found.leading[found.order[0]])
        if top < ALONE:
            continue
        leaders.setdefault(reading.axes[found.order[0]].label, []).append(words(name))
    told = "; ".join(f"{label} for {', '.join(names)}" for label, names in leaders.items())
    return f"Most important axis: {told or 'none alone'}."
