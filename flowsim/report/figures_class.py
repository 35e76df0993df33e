"""Figure of how clean the air is at each workpiece, size by size, and what spoils it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from flowsim._arrays import FloatArray
from flowsim.physics.cleanroom_class import cleanliness
from flowsim.report._kit import COLOURS, Sheet, new_figure
from flowsim.report._panels import legend_below
from flowsim.report._units import base_name, number
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import WorkpieceResult

__all__ = ["class_bars"]

MOST = 8  # workpieces
PARTS = 2.1  # classes below the lowest bar that its parts may need
SHOWN = 0.01  # a smaller part of the concentration is not marked
FEW = 12  # bars whose numbers stand level
BAR, WORST = "#c9d6e6", "#8fb2dd"
MARKS = "DosvP^X*"
LIMIT: dict[str, Any] = {"color": COLOURS[2], "lw": 2.0, "ls": (0, (5.0, 2.0))}
WHISKER: dict[str, Any] = {"color": "#222222", "lw": 1.2}


@dataclass(frozen=True)
class _Scale:
    """Lower and upper end of the axis, in ISO classes. [-]"""

    low: float
    high: float


def _number(concentration: float, size: float) -> float:
    """Return the ISO class of a concentration at a size; minus infinity for none. [-]."""
    return cleanliness({size: concentration}).number


def _numbers(sizes: FloatArray, values: FloatArray) -> list[float]:
    """Return the ISO class of a concentration at each size. [-]."""
    return [_number(float(value), float(size)) for size, value in zip(sizes, values, strict=True)]


def _limit(result: Result) -> float | None:
    """Return the largest class that the case allows. [-]."""
    found = [
        check.limit
        for check in result.checks
        if base_name(check.name) == "iso_class" and check.kind == "max"
    ]
    return min(found, default=None)


def _scale(items: Sequence[WorkpieceResult], limit: float | None) -> _Scale:
    """Return an axis on which everything shows."""
    low = [value for item in items for value in _numbers(item.sizes, item.concentration)]
    high = [value for item in items for value in _numbers(item.sizes, item.concentration_highest)]
    known = [value for value in (*low, *high) if math.isfinite(value)]
    known = [*(known or [1.0, 2.0]), *([] if limit is None else [limit])]
    return _Scale(float(math.floor(min(known) - PARTS)), math.ceil(max(known) + 0.2) + 0.4)


def _bar(axes: Axes, item: WorkpieceResult, index: int, place: tuple[float, float]) -> None:
    """Draw the bar of one size with its whisker."""
    size = float(item.sizes[index])
    value = _number(float(item.concentration[index]), size)
    most = _number(float(item.concentration_highest[index]), size)
    low = axes.get_ylim()[0]
    middle, wide = place
    worst = item.worst_size is not None and math.isclose(size, item.worst_size)
    if not math.isfinite(value):
        return
    look: dict[str, Any] = {
        "facecolor": WORST if worst else BAR,
        "edgecolor": "#444444",
        "linewidth": 0.8,
    }
    axes.bar(middle, value - low, wide, bottom=low, zorder=2, **look)
    if most > value:
        axes.plot([middle, middle], [value, most], zorder=3, **WHISKER)
        cap = 0.12 * wide
        axes.plot([middle - cap, middle + cap], [most, most], zorder=3, **WHISKER)


def _marks(
    axes: Axes, item: WorkpieceResult, index: int, place: tuple[float, float], causes: Sequence[str]
) -> None:
    """Mark what each cause brings to one size."""
    total = float(item.concentration[index])
    shown = [
        name
        for name in causes
        if name in item.causes and float(item.causes[name][index]) >= SHOWN * total > 0.0
    ]
    middle, wide = place
    for rank, name in enumerate(shown):
        at = middle + wide * 0.8 * ((rank + 0.5) / len(shown) - 0.5)
        value = _number(float(item.causes[name][index]), float(item.sizes[index]))
        axes.plot(at, value, zorder=4, **_mark(causes, name))


def _mark(causes: Sequence[str], name: str) -> dict[str, Any]:
    """Return how a cause is marked."""
    rank = causes.index(name)
    return {
        "marker": MARKS[rank % len(MARKS)],
        "color": COLOURS[rank % len(COLOURS)],
        "markeredgecolor": "#222222",
        "markeredgewidth": 0.6,
        "markersize": 6.5,
        "ls": "",
    }


def _places(item: WorkpieceResult, at: float) -> list[tuple[float, float]]:
    """Return middle and width of the bars of one workpiece."""
    count = item.sizes.size
    wide = 0.84 / count
    return [(at + wide * (index - 0.5 * (count - 1)), 0.9 * wide) for index in range(count)]


def _size_text(item: WorkpieceResult, index: int, few: bool) -> str:
    """Return what stands under a bar: its size, and its particles where there is room."""
    size = f"{1e6 * item.sizes[index]:.3g}"
    value = float(item.concentration[index])
    return f"{size} um\n{number(float(f'{value:.1e}'), 2)}" if few else size


def _names(axes: Axes, items: Sequence[WorkpieceResult], few: bool) -> None:
    """Write sizes and numbers under the bars, and the workpieces under them."""
    bars = [
        (place, _size_text(item, index, few))
        for at, item in enumerate(items)
        for index, (place, _) in enumerate(_places(item, float(at)))
    ]
    axes.set_xticks([place for place, _ in bars], [text for _, text in bars])
    axes.tick_params(axis="x", length=0.0, labelsize=8.5)
    letters = int(100 / len(items))
    for at, item in enumerate(items):
        verdict = item.class_text.split(";", 1)[0]
        lines = [*textwrap.wrap(item.label, max(letters, 10))[:2], verdict]
        axes.annotate(
            "\n".join(lines),
            (at, 0.0),
            (0.0, -32.0 if few else -19.0),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=9.0 if len(items) < 6 else 8.0,
            annotation_clip=False,
        )


def _classes(axes: Axes, scale: _Scale, limit: float | None) -> None:
    """Draw a line for each class, and the limit of the case."""
    axes.set_ylim(scale.low, scale.high)
    whole = [step for step in range(1, 10) if scale.low <= step <= scale.high]
    axes.set_yticks(whole, [f"ISO {step}" for step in whole])
    axes.grid(True, axis="y")
    axes.set_ylabel("concentration, as the class\nit has in ISO 14644-1 [-]")
    if limit is not None:
        axes.axhline(limit, zorder=2.5, **LIMIT)


def _handles(causes: Sequence[str], limit: float | None) -> list[Artist]:
    """Return what the legend says."""
    handles: list[Artist] = [
        Patch(facecolor=WORST, edgecolor="#444444", label="size that decides the class"),
        Line2D([], [], label="with everything uncertain at its worst", **WHISKER),
    ]
    if limit is not None:
        handles.append(Line2D([], [], label=f"limit of the case: ISO {limit:g}", **LIMIT))
    return [
        *handles,
        *(Line2D([], [], label=f"part: {name}", **_mark(causes, name)) for name in causes),
    ]


def _shown_causes(items: Sequence[WorkpieceResult]) -> list[str]:
    """Return the causes that are marked anywhere."""
    names = dict.fromkeys(name for item in items for name in item.causes)
    return [
        name
        for name in names
        if any(
            bool(np.any(item.causes[name] >= SHOWN * np.fmax(item.concentration, 1e-300)))
            for item in items
            if name in item.causes
        )
    ]


def _reading(items: Sequence[WorkpieceResult], limit: float | None) -> str:
    """Return one sentence on the worst workpiece."""
    worst = max(items, key=lambda item: item.iso_class or -math.inf)
    text = f"{worst.label} is the worst workpiece, {worst.class_text.split(';', 1)[0]}"
    if worst.iso_class is not None and worst.iso_class_highest is not None:
        text += f" (class {worst.iso_class:.1f}, {worst.iso_class_highest:.1f} at the worst)"
    if limit is not None:
        text += f", limit of the case ISO {limit:g}"
    return f"{text}. {worst.why}".rstrip()


def class_bars(result: Result) -> Sheet | None:
    """Draw the concentration of particles at each workpiece against the ISO classes.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without workpieces or a statement on dust; the eight worst where there are more.
    """
    found = () if result.transport is None else result.transport.workpieces
    items = [item for item in found if item.sizes.size]
    if not items:
        return None
    worst = sorted(items, key=lambda item: -(item.iso_class or -math.inf))[:MOST]
    items = [item for item in items if item in worst]
    limit, causes = _limit(result), _shown_causes(items)
    handles = _handles(causes, limit)
    rows = -(-len(handles) // 3)
    title = "How clean is the air at each workpiece, and what decides it?"
    height = 4.5 + 0.2 * rows
    figure = new_figure(height, constrained=False)
    low = 1.15 + 0.2 * rows
    axes = figure.add_axes((0.11, low / height, 0.86, 1.0 - (low + 0.6) / height))
    _classes(axes, _scale(items, limit), limit)
    few = sum(item.sizes.size for item in items) <= FEW
    for at, item in enumerate(items):
        for index, place in enumerate(_places(item, float(at))):
            _bar(axes, item, index, place)
            _marks(axes, item, index, place, causes)
    axes.set_xlim(-0.55, len(items) - 0.45)
    _names(axes, items, few)
    figure.text(0.012, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    note = "under each bar: its size, and the particles per m3 of this size and larger"
    note = note if few else "under each bar: its size in um, which stands for this size and larger"
    figure.text(0.012, 1.0 - 0.40 / height, note, size=9.0, va="center")
    legend_below(figure, handles, 3)
    return Sheet("class_bars", title, _reading(items, limit), figure)
