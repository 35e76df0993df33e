"""Published limits as horizontal lines, their labels beside the axes without overlap."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS
from flowsim.simulate.transport_result import LimitCheck

__all__ = ["LimitLine", "draw_limits", "limit_lines", "ppm_text"]

COLOUR = {"met": "#555555", "not shown": COLOURS[6], "not met": COLOURS[2]}
WORSE = ("not met", "not shown", "met")
LETTERS = 38
LINE_HEIGHT = 0.145  # inch
GAP = 0.05  # inch between two labels


def ppm_text(value: float) -> str:
    """Return a concentration over many powers of ten.

    Parameters
    ----------
    value : float
        Concentration. [ppm]

    Returns
    -------
    str
        Two digits, as 0.0012 or 3e-6, without the unit.
    """
    if value == 0.0 or 1e-3 <= value < 1e5:
        return f"{float(f'{value:.1e}'):.6g}"
    mantissa, _, exponent = f"{value:.0e}".partition("e")
    return f"{mantissa}e{int(exponent)}"


@dataclass(frozen=True)
class LimitLine:
    """All limits at one concentration.

    Parameters
    ----------
    ppm : float
        The limit. [ppm]
    text : str
        Publisher, kind, averaging and year of each, broken into lines.
    state : {"met", "not met", "not shown"}
        The worst verdict of them.
    """

    ppm: float
    text: str
    state: str


def _publisher(name: str) -> str:
    """Return the short name of a publisher: without the number of its list."""
    words = [word for word in name.split() if word != "CFR"]
    return " ".join(word for word in words if not any(letter.isdigit() for letter in word))


def _one(check: LimitCheck) -> str:
    """Return one limit in words."""
    time = "" if check.averaging in ("", "instant") else f" {check.averaging}"
    year = check.year.split(" (", 1)[0]
    return f"{_publisher(check.publisher)} {check.kind}{time} ({year})"


def limit_lines(checks: Sequence[LimitCheck]) -> list[LimitLine]:
    """Gather limits of the same concentration.

    Parameters
    ----------
    checks : sequence of LimitCheck
        All published limits that apply. [ppm]

    Returns
    -------
    list of LimitLine
        From the lowest up.
    """
    lines = []
    for ppm in sorted({check.limit for check in checks}):
        same = [check for check in checks if check.limit == ppm]
        state = next(name for name in WORSE if any(item.state == name for item in same))
        told = "; ".join(dict.fromkeys(_one(item) for item in same))
        text = f"{ppm_text(ppm)} ppm, {state}: {told}"
        lines.append(LimitLine(ppm, "\n".join(textwrap.wrap(text, LETTERS)), state))
    return lines


def _spread(wanted: FloatArray, heights: FloatArray, room: tuple[float, float]) -> FloatArray:
    """Return places that keep labels apart and as near as may be to where they belong. [inch]."""
    order = np.argsort(wanted)
    offset = np.cumsum(heights[order]) - 0.5 * heights[order]
    # labels that touch move together: the best common shift is the mean (pool adjacent violators)
    groups: list[list[float]] = []
    for shift in wanted[order] - offset:
        groups.append([float(shift), 1.0])
        while len(groups) > 1 and groups[-2][0] > groups[-1][0]:
            last, count = groups.pop()
            total = groups[-1][1] + count
            groups[-1] = [(groups[-1][0] * groups[-1][1] + last * count) / total, total]
    shifts = np.concatenate([np.full(int(count), value) for value, count in groups])
    highest = room[1] - float(heights.sum())
    shifts = np.clip(shifts, room[0], max(highest, room[0]))
    placed = np.empty_like(wanted)
    placed[order] = shifts + offset
    return placed


def draw_limits(axes: Axes, lines: Sequence[LimitLine]) -> None:
    """Draw limits across the axes, each with a label to the right and a leader to it.

    Parameters
    ----------
    axes : Axes
        Its vertical axis is the decimal logarithm of ppm; place and limits are final. [-]
    lines : sequence of LimitLine
        From `limit_lines`. [ppm]
    """
    if not lines:
        return
    low, high = axes.get_ylim()
    tall = axes.get_window_extent().height / axes.figure.dpi
    at = (np.log10([line.ppm for line in lines]) - low) / (high - low) * tall
    rows = np.array([line.text.count("\n") + 1.0 for line in lines])
    placed = _spread(at, LINE_HEIGHT * rows + GAP, (-0.4, tall + 0.1))
    beside: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False}
    for line, level, label in zip(lines, at / tall, placed / tall, strict=True):
        look: dict[str, Any] = {"color": COLOUR[line.state], "zorder": 2}
        axes.axhline(np.log10(line.ppm), lw=1.1, ls="--", **look)
        axes.plot([1.0, 1.01, 1.03], [level, level, label], lw=0.8, **look, **beside)
        axes.text(
            1.036, label, line.text, va="center", fontsize=8.0, linespacing=1.15, **look, **beside
        )
