"""Figure of what the escape share of each release depends on."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from flowsim.report._kit import COLOURS, Sheet, new_figure
from flowsim.report._panels import legend_below
from flowsim.report._share_map import UNRESOLVED, percent
from flowsim.report._units import base_name
from flowsim.simulate.result import Result
from flowsim.simulate.shares import RESOLVED, ShareEstimate
from flowsim.simulate.transport_result import ReleaseResult, Transport

__all__ = ["escape_certainty"]

MOST = 10  # rows
ROOM = "into the room"
LOW = -6.0  # power of ten at the left edge
ROW = 0.62  # inch
IN_USE: dict[str, Any] = {"marker": "o", "color": "#222222", "ms": 7.0, "ls": ""}
REST: dict[str, Any] = {"marker": "s", "mfc": "white", "mec": "#222222", "ms": 6.0, "ls": ""}
MEAN: dict[str, Any] = {"marker": "D", "mfc": "white", "mec": "#222222", "ms": 6.0, "ls": ""}
EDDIES: dict[str, Any] = {"color": COLOURS[0], "lw": 6.0, "solid_capstyle": "butt"}
REVERSALS: dict[str, Any] = {"color": COLOURS[1], "lw": 6.0, "solid_capstyle": "butt"}
SCHEMES: dict[str, Any] = {"color": "#222222", "lw": 1.6, "solid_capstyle": "butt"}
LIMIT: dict[str, Any] = {"color": COLOURS[2], "lw": 1.6, "ls": (0, (5.0, 2.0))}


@dataclass(frozen=True)
class _Row:
    """One share, of which release, and to where."""

    label: str
    where: str
    share: ShareEstimate


def _rows(releases: Sequence[ReleaseResult]) -> list[_Row]:
    """Return the shares of the releases, those that escape most first."""
    rows = []
    for item in sorted(releases, key=lambda item: -item.escape.value)[:MOST]:
        if item.slit is not None:
            rows.append(_Row(item.label, "out of its compartment", item.slit))
        rows.append(_Row(item.label, ROOM, item.escape))
    return rows


def _at(share: float) -> float:
    """Return where a share stands; what is too small stands at the left edge."""
    return max(LOW, math.log10(share)) if share > 0.0 else LOW


def _bar(axes: Axes, level: float, ends: tuple[float, float], look: dict[str, Any]) -> None:
    """Draw the range between two shares, at least as wide as can be seen."""
    start, end = sorted(_at(end) for end in ends)
    wide = max(end - start, 0.03)
    axes.plot([start, start + wide], [level, level], zorder=3, **look)


def _told(share: ShareEstimate) -> str:
    """Return the share and the most it may be."""
    if share.highest < RESOLVED:
        return percent(share.highest)
    return f"{percent(share.value)}\nat most {percent(share.highest)}"


def _draw_row(axes: Axes, level: float, row: _Row) -> None:
    """Draw what one share depends on."""
    share = row.share
    _bar(axes, level - 0.22, share.eddy, EDDIES)
    _bar(axes, level + 0.22, share.reversal, REVERSALS)
    _bar(axes, level, (share.value - share.numerical, share.value + share.numerical), SCHEMES)
    axes.plot(_at(share.mean_flow), level, zorder=4, clip_on=False, **MEAN)
    axes.plot(_at(share.at_rest), level, zorder=5, clip_on=False, **REST)
    axes.plot(_at(share.value), level, zorder=6, clip_on=False, **IN_USE)
    axes.text(
        1.015,
        level,
        _told(share),
        transform=axes.get_yaxis_transform(),
        va="center",
        fontsize=8.5,
    )


def _limit(result: Result) -> float | None:
    """Return the largest escape share that the case allows. [-]."""
    found = [
        check.limit
        for check in result.checks
        if base_name(check.name) == "vapour_escape_share" and check.kind == "max"
    ]
    return min(found, default=None)


def _handles(transport: Transport, limit: float | None) -> list[Artist]:
    """Return what the legend says."""
    eddy = f"{transport.eddy['in use']:.2g} m2/s"
    handles: list[Artist] = [
        Line2D([], [], label="in use", **IN_USE),
        Line2D([], [], label="at rest (eddies of the supply alone)", **REST),
        Line2D([], [], label="mean flow alone", **MEAN),
        Line2D([], [], label=f"eddies in use ({eddy}, assumed) halved and doubled", **EDDIES),
        Line2D([], [], label="reversals S of the openings halved and doubled", **REVERSALS),
        Line2D([], [], label="difference of the two schemes", **SCHEMES),
        Patch(facecolor=UNRESOLVED, alpha=0.35, label="below 0.1 %: not resolved"),
    ]
    if limit is not None:
        handles.append(Line2D([], [], label=f"limit of the case: {percent(limit)}", **LIMIT))
    return handles


def _reading(rows: Sequence[_Row]) -> str:
    """Return one sentence on the share that is largest."""
    room = [row for row in rows if row.where == ROOM]
    worst = max(room, key=lambda row: row.share.value)
    share = worst.share
    half, double = (percent(value) for value in share.eddy)
    return (
        f"Of what {worst.label} gives off, {percent(share.value)} gets into the room in use, "
        f"{percent(share.at_rest)} at rest, {percent(share.mean_flow)} by the mean flow alone; "
        f"{half} with eddies halved, {double} doubled; "
        f"{percent(share.highest)} with everything at its worst; arms and wakes are not "
        "in it."
    )


def escape_certainty(result: Result) -> Sheet | None:
    """Draw what the escape share of each release depends on.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without releases; the ten that escape most where there are more.
    """
    transport = result.transport
    if transport is None or not transport.releases:
        return None
    rows, limit = _rows(transport.releases), _limit(result)
    title = "How sure is the share that gets into the room?"
    low, tall = 1.35, ROW * len(rows) + 0.2
    height = low + tall + 0.6
    figure = new_figure(height, constrained=False)
    axes = figure.add_axes((0.25, low / height, 0.61, tall / height))
    figure.text(0.012, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    note = "each of the model's assumptions on its own; arms and wakes are in none of them"
    figure.text(0.012, 1.0 - 0.40 / height, note, size=9.0, va="center")
    axes.set(xlim=(LOW, 0.0), ylim=(len(rows) - 0.45, -0.55), xlabel="share that gets out")
    axes.axvspan(LOW, math.log10(RESOLVED), color=UNRESOLVED, alpha=0.35, lw=0.0, zorder=0)
    if limit is not None:
        axes.axvline(_at(limit), zorder=2, **LIMIT)
    for level, row in enumerate(rows):
        _draw_row(axes, float(level), row)
    names = ["\n".join(textwrap.wrap(f"{row.label}: {row.where}", 26)[:3]) for row in rows]
    axes.set_yticks(range(len(rows)), names, fontsize=9.0)
    ticks = ("less", "1e-5", "1e-4", "0.1 %", "1 %", "10 %", "100 %")
    axes.set_xticks(range(round(LOW), 1), ticks)
    axes.grid(True, axis="x")
    legend_below(figure, _handles(transport, limit), 2)
    return Sheet("escape_certainty", title, _reading(rows), figure)
