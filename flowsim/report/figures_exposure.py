"""Figures of what a person breathes over time, against the published limits."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS, Sheet, new_figure
from flowsim.report._limit_lines import draw_limits, limit_lines, ppm_text
from flowsim.report._units import number
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import LimitCheck, ReleaseResult, RoomExposure

__all__ = ["exposures"]

MOST_FIGURES = 4
LEAST = 1e-6  # of the lowest limit: what is less is of no interest
WINDOWS = {"15 min": 900.0, "10 min once per 8 h": 600.0}  # s, shorter than a shift
HOUR = 3600.0


def _same(first: ReleaseResult, second: ReleaseResult) -> bool:
    """Return whether two releases are breathed as one: the same vapour, the same course."""
    a, b = first.room, second.room
    if a is None or b is None or first.substance != second.substance:
        return False
    return np.array_equal(a.near, b.near) and np.array_equal(a.near_highest, b.near_highest)


def _groups(releases: Sequence[ReleaseResult]) -> list[list[ReleaseResult]]:
    """Gather releases that are breathed as one."""
    groups: list[list[ReleaseResult]] = []
    for item in releases:
        if item.room is None or item.room.times.size < 2:
            continue
        home = next((group for group in groups if _same(group[0], item)), None)
        if home is None:
            groups.append([item])
        else:
            home.append(item)
    return groups


def _span(room: RoomExposure, checks: Sequence[LimitCheck]) -> tuple[float, float]:
    """Return the ends of the axis, as decimal logarithms of ppm."""
    limits = [check.limit for check in checks]
    top = max([float(room.near_highest.max()), *limits, 1e-12])
    rising = float(room.near.max())
    low = 0.02 * rising if rising > 0.0 else 1e-3 * top
    if limits:
        low = min(max(low, LEAST * min(limits)), 0.1 * min(limits))
    return math.floor(math.log10(low)), math.log10(top) + 0.25


def _curves(axes: Axes, room: RoomExposure, unit: float) -> None:
    """Draw near and far field, and the band up to the highest."""
    low = axes.get_ylim()[0]
    times = room.times / unit

    def shown(values: FloatArray) -> FloatArray:
        logarithm: FloatArray = np.log10(np.maximum(values, 10.0 ** (low - 1.0)))
        return logarithm

    axes.fill_between(
        times,
        shown(room.near),
        shown(room.near_highest),
        color=COLOURS[0],
        alpha=0.22,
        lw=0.0,
        label="up to: everything uncertain at its worst",
        zorder=1,
    )
    axes.plot(times, shown(room.near), color=COLOURS[0], lw=2.0, label="at the person", zorder=3)
    axes.plot(
        times,
        shown(room.far),
        color=COLOURS[4],
        lw=1.6,
        ls="-.",
        label="rest of the room",
        zorder=3,
    )


def _worst_window(room: RoomExposure, length: float) -> tuple[float, float]:
    """Return start and end of the window in which most is breathed. [s]."""
    times, near = room.times, room.near
    steps = np.diff(times) * 0.5 * (near[1:] + near[:-1])
    dose = np.concatenate([[0.0], np.cumsum(steps)])
    starts = np.unique(np.concatenate([times, times - length]))
    starts = starts[(starts >= times[0]) & (starts <= times[-1] - length)]
    taken = np.interp(starts + length, times, dose) - np.interp(starts, times, dose)
    start = float(starts[int(np.argmax(taken))])
    return start, start + length


def _governing(checks: Sequence[LimitCheck]) -> LimitCheck | None:
    """Return the limit that is used up most."""
    return max(checks, key=lambda check: check.ratio, default=None)


def _mark_window(axes: Axes, room: RoomExposure, check: LimitCheck | None, unit: float) -> None:
    """Shade the worst window of the limit that is used up most, where it is a short one."""
    length = WINDOWS.get(check.averaging) if check is not None else None
    if float(room.near.max()) < 10.0 ** axes.get_ylim()[0]:
        return
    if length is None or room.times[-1] - room.times[0] <= length:
        return
    start, end = _worst_window(room, length)
    axes.axvspan(
        start / unit,
        end / unit,
        color=COLOURS[1],
        alpha=0.3,
        lw=0.0,
        zorder=0,
        label=f"worst {length / 60.0:.0f} min, which counts most",
    )


def _unit(end: float) -> tuple[float, str]:
    """Return the unit of the time axis and its name."""
    return (HOUR, "h") if end > 2.0 * HOUR else (60.0, "min")


def _end(room: RoomExposure, low: float) -> float:
    """Return where the time axis ends: soon after everything has fallen below it. [s]."""
    over = np.flatnonzero(room.near_highest > 10.0**low)
    last = float(room.times[-1])
    return last if not over.size else min(last, 1.25 * float(room.times[over[-1]]))


def _off_axis(axes: Axes, room: RoomExposure) -> None:
    """Say that the curve lies below the axis, where it does."""
    low = 10.0 ** axes.get_ylim()[0]
    if float(room.near.max()) >= low:
        return
    text = f"at the person: below {ppm_text(low)} ppm at all times"
    axes.text(0.5, 0.02, text, transform=axes.transAxes, ha="center", va="bottom", fontsize=9.0)


def _figure(title: str, note: str, limits: bool) -> tuple[Figure, Axes]:
    """Return an empty figure with room for labels at the right."""
    lines = textwrap.wrap(note, 116)
    height = 4.6 + 0.19 * len(lines)
    figure = new_figure(height, constrained=False)
    figure.text(0.012, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    figure.text(0.012, 1.0 - 0.32 / height, "\n".join(lines), size=9.0, va="top", linespacing=1.3)
    low, top = 0.95, 0.5 + 0.19 * len(lines)
    wide = 0.58 if limits else 0.88
    return figure, figure.add_axes((0.09, low / height, wide, 1.0 - (low + top) / height))


def _used(ratio: float) -> str:
    """Return how far a limit is used up, in words."""
    if ratio < 1e-4:
        return "less than 0.01 % of it"
    return f"{number(100.0 * ratio, 2)} % of it" if ratio < 1.0 else f"{ratio:.2g} times it"


def _reading(items: Sequence[ReleaseResult], check: LimitCheck | None) -> str:
    """Return one sentence on what is breathed."""
    room = items[0].room
    assert room is not None
    text = (
        f"The person breathes up to {ppm_text(float(room.near.max()))} ppm of "
        f"{items[0].substance}, at most {ppm_text(float(room.near_highest.max()))} ppm with "
        "everything uncertain at its worst"
    )
    if check is None:
        return f"{text}; no published limit is known here."
    time = "" if check.averaging in ("", "instant") else f" {check.averaging}"
    year = check.year.replace(" (", ", ").rstrip(")")
    return (
        f"{text}; the limit used up most is {ppm_text(check.limit)} ppm ({check.publisher} "
        f"{check.kind}{time}, {year}): {_used(check.ratio)}, {check.state}."
    )


def _sheet(items: Sequence[ReleaseResult], name: str) -> Sheet:
    """Draw one substance."""
    first = items[0]
    room = first.room
    assert room is not None
    title = f"How much {first.substance} does the person in front breathe?"
    labels = " and ".join(item.label for item in items)
    note = f"From {labels}: {first.liquid}."
    if len(items) > 1:
        note = f"From {labels} together."
    note += " Arms, wakes and draughts that carry more out are not in it."
    lines = limit_lines(first.checks)
    figure, axes = _figure(title, note, bool(lines))
    span = _span(room, first.checks)
    end = _end(room, span[0])
    unit, word = _unit(end)
    axes.set(xlim=(0.0, end / unit), ylim=span)
    axes.set(xlabel=f"time since the release began [{word}]", ylabel="concentration [ppm]")
    powers = range(math.ceil(axes.get_ylim()[0]), math.floor(axes.get_ylim()[1]) + 1)
    axes.set_yticks(powers, [ppm_text(10.0**power) for power in powers])
    axes.grid(True, axis="y")
    _curves(axes, room, unit)
    check = _governing(first.checks)
    _mark_window(axes, room, check, unit)
    draw_limits(axes, lines)
    _off_axis(axes, room)
    figure.legend(
        loc="lower left", bbox_to_anchor=(0.0, 0.0), ncols=4, fontsize=8.5, borderaxespad=0.3
    )
    return Sheet(name, title, _reading(items, check), figure)


def exposures(result: Result) -> tuple[Sheet, ...]:
    """Draw what a person breathes over time, one figure per vapour.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    tuple of Sheet
        Four at most, those that use up most of a limit; none where no room is stated.
    """
    if result.transport is None:
        return ()
    groups = _groups(result.transport.releases)
    groups = sorted(groups, key=lambda group: -(group[0].exposure_ratio or 0.0))[:MOST_FIGURES]
    return tuple(
        _sheet(group, "exposure" if index == 0 else f"exposure_{index + 1}")
        for index, group in enumerate(groups)
    )
