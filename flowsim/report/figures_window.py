"""Pictures of the window of settings: the map, the drifts as scales, the loading of the filter."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from flowsim.report._kit import COLOURS, HALO, Picture, Sheet, new_figure, png_bytes, style
from flowsim.report._window_lines import border_colours, draw_borders
from flowsim.report.window_result import Drift, Follow, SetPoint, Setting, Side, Window, WindowMap
from flowsim.report.window_words import beyond_text, end_text, kind_text, point_text, setting_text

__all__ = ["window_pictures", "window_sheets"]

MET, HIDDEN, DOTS = "#cfe4f7", "#f4eed2", "#b0a060"
DARK = "#222222"
NOW, BEST = "s", "D"
LETTERS = 30


def window_sheets(window: Window) -> tuple[Sheet, ...]:
    """Draw the window of settings.

    Parameters
    ----------
    window : Window
        The window. [SI]

    Returns
    -------
    tuple of Sheet
        The map, the drifts, the loading; those that would be empty are left out.
    """
    return tuple(_sheets(window))


def window_pictures(window: Window) -> tuple[Picture, ...]:
    """Draw the window of settings as PNG.

    Parameters
    ----------
    window : Window
        The window. [SI]

    Returns
    -------
    tuple of Picture
        The same window gives the same bytes.
    """
    with style():
        return tuple(
            Picture(sheet.name, sheet.title, sheet.reading, png_bytes(sheet.figure))
            for sheet in _sheets(window)
        )


def _sheets(window: Window) -> Iterator[Sheet]:
    """Yield the pictures that have something to show."""
    if len(window.axes) == 2:
        yield _map(window)
    else:
        yield _strips(window)
    if window.present.drift is not None or window.proposed.drift is not None:
        yield _drifts(window)
    if window.follow is not None:
        yield _loading(window, window.follow)


def _ends(axis: Setting) -> tuple[float, float]:
    """Return the ends of an axis in its shown unit."""
    return axis.factor * axis.low, axis.factor * axis.high


def _fill(axes: Axes, found: WindowMap) -> None:
    """Fill where every limit is met, and where verdicts are not shown."""
    one, two = (axis.factor * values for axis, values in zip(found.axes, found.values, strict=True))
    high = 1e30
    zone = axes.contourf(
        one, two, found.hidden.T, levels=[0.0, high], colors=[HIDDEN], hatches=["...."], zorder=1
    )
    zone.set(edgecolor=DOTS, linewidth=0.0)
    if (found.met >= 0.0).any():
        axes.contourf(one, two, found.met.T, levels=[0.0, high], colors=[MET], zorder=1.5)
    axes.set(xlim=_ends(found.axes[0]), ylim=_ends(found.axes[1]))


def _map_frame(title: str) -> tuple[Any, Axes, Axes]:
    """Return a figure with a place for a map and for its legend."""
    figure = new_figure(5.9, constrained=False)
    axes = figure.add_axes((0.075, 0.09, 0.615, 0.83))
    side = figure.add_axes((0.70, 0.09, 0.295, 0.83))
    side.axis("off")
    axes.set_title(title)
    axes.spines[:].set_visible(True)
    return figure, axes, side


def _legend(side: Axes, found: WindowMap, extra: Sequence[Any]) -> None:
    """Write what fills, lines and marks are."""
    handles: list[Any] = []
    if (found.met >= 0.0).any():
        handles.append(Patch(facecolor=MET, label="every mapped limit met"))
    if ((found.hidden >= 0.0) & (found.met < 0.0)).any():
        label = "a limit not shown,\nnone not met"
        handles.append(Patch(facecolor=HIDDEN, hatch="....", edgecolor=DOTS, label=label))
    handles.append(Patch(facecolor="white", edgecolor="#999999", label="a limit not met"))
    for border, colour in zip(found.borders, border_colours(found.borders), strict=True):
        dashes = ":" if border.lacking else ("--" if border.kind == "shown" else "-")
        width = 2.6 if border.kind == "flip" else 1.8
        name = border.name + (" (dotted: not within 1 % everywhere)" if border.lacking else "")
        label = "\n".join(textwrap.wrap(name, LETTERS))
        handles.append(Line2D([], [], color=colour, ls=dashes, lw=width, label=label))
    handles.append(
        Line2D([], [], ls="", marker="o", ms=3.2, color="#666666", label="solved, on a line")
    )
    side.legend(
        handles=[*handles, *extra], loc="upper left", borderaxespad=0.0, fontsize=7.8,
        labelspacing=0.75, handlelength=1.9,
    )  # fmt: skip


def _mark(axes: Axes, place: tuple[float, float], marker: str, filled: bool) -> None:
    """Mark a set point."""
    axes.plot(
        *place, ls="", marker=marker, ms=8, mec="white" if filled else DARK, mew=1.2,
        mfc=DARK if filled else "white", zorder=8,
    )  # fmt: skip


def _mark_entry(marker: str, filled: bool, label: str) -> Line2D:
    """Return the legend's entry of a mark."""
    return Line2D([], [], ls="", marker=marker, ms=7, mec=DARK, mfc=DARK if filled else "white",
                  label=label)  # fmt: skip


def _place(window: Window, point: SetPoint) -> tuple[float, ...]:
    """Return a set point in shown units."""
    pairs = zip(window.axes, point.values, strict=True)
    return tuple(axis.factor * value for axis, value in pairs)


def _reach(axes: Axes, window: Window, point: SetPoint, dashes: str) -> None:
    """Draw how far both settings may drift together, and each alone."""
    if point.drift is None:
        return
    (x, y), shares = _place(window, point), point.drift.together.shares
    corner = (x * (1.0 - shares[0]), y * (1.0 - shares[1]))
    size = (2.0 * shares[0] * x, 2.0 * shares[1] * y)
    axes.add_patch(Rectangle(corner, *size, fill=False, ec=DARK, lw=1.3, ls=dashes, zorder=7))
    (left, right), (low, high) = point.drift.alone
    one, two = window.axes
    look: dict[str, Any] = {"color": DARK, "lw": 1.0, "ls": dashes, "zorder": 7}
    axes.plot([one.factor * left.value, one.factor * right.value], [y, y], marker="|", ms=7, **look)
    axes.plot([x, x], [two.factor * low.value, two.factor * high.value], marker="_", ms=7, **look)


def _map(window: Window) -> Sheet:
    """Draw the map of both settings."""
    title = "Where is every limit met, and what shall I set?"
    figure, axes, side = _map_frame(title)
    _fill(axes, window.map)
    now, best = _place(window, window.present), _place(window, window.proposed)
    draw_borders(axes, window.map, [(now[0], now[1]), (best[0], best[1])])
    _reach(axes, window, window.present, ":")
    _reach(axes, window, window.proposed, "-")
    _mark(axes, (now[0], now[1]), NOW, False)
    _mark(axes, (best[0], best[1]), BEST, True)
    for label, axis in zip(("x", "y"), window.axes, strict=True):
        axes.set(**{f"{label}label": f"{axis.name} [{axis.unit}]"})
    kind = kind_text(window)
    extra = [
        _mark_entry(BEST, True, f"{kind}:\n{_lines_of(window, window.proposed)}"),
        _mark_entry(NOW, False, f"as stated:\n{_lines_of(window, window.present)}"),
    ]
    if window.proposed.drift is not None or window.present.drift is not None:
        extra.append(
            Line2D([], [], color=DARK, lw=1.2, label="cross: may drift alone\nbox: both together")
        )
    _legend(side, window.map, extra)
    return Sheet("window_map", title, _map_reading(window), figure)


def _lines_of(window: Window, point: SetPoint) -> str:
    """Return a set point on one line for each setting."""
    return point_text(window.axes, point.values).replace(" and ", "\n")


def _map_reading(window: Window) -> str:
    """Return what the map shows."""
    place = point_text(window.axes, window.proposed.values)
    if window.proposed.drift is None:
        return f"No setting is shown to meet every limit; least bad: {place}."
    return (
        f"Diamond: the set point from which both may drift most at once, {place}. Its cross and "
        "box end at the last solved settings at which every mapped limit is met."
    )


def _strips(window: Window) -> Sheet:
    """Draw the range of a single setting in which each limit is met."""
    axis, found = window.axes[0], window.map
    title = f"At which setting of the {axis.name} is every limit met?"
    colours = border_colours(found.borders)
    pairs = zip(found.borders, colours, strict=True)
    rows = [(border.name, border.level, colour) for border, colour in pairs]
    rows.append(("every mapped limit met", found.met, DARK))
    figure = new_figure(1.35 + 0.5 * len(rows))
    axes = figure.add_subplot()
    values = axis.factor * found.values[0]
    for place, (_, level, colour) in enumerate(rows):
        inside = np.ma.masked_where(level < 0.0, np.full(level.shape, float(place)))
        axes.plot(values, inside, color=colour, lw=9.0, solid_capstyle="butt")
    for point, marker, filled in ((window.present, NOW, False), (window.proposed, BEST, True)):
        at = axis.factor * point.values[0]
        axes.axvline(at, color=DARK, lw=0.9, ls="-" if filled else ":", zorder=1)
        _mark(axes, (at, len(rows) - 1.0), marker, filled)
    axes.set_yticks(
        range(len(rows)), ["\n".join(textwrap.wrap(row[0], 34)) for row in rows], fontsize=8.5
    )
    axes.invert_yaxis()
    axes.set(
        xlim=_ends(axis), xlabel=f"{axis.name} [{axis.unit}]; square: as stated, diamond: proposed"
    )
    axes.set_title(title)
    axes.tick_params(axis="y", length=0)
    reading = "Bars: where each limit is met; limits that are met all along are left out."
    return Sheet("window_map", title, reading, figure)


def _drifts(window: Window) -> Sheet:
    """Draw how far each setting may drift, as a scale with what breaks at its ends."""
    title = "How far may each setting drift, and what breaks first?"
    points = [("proposed", window.proposed), ("as stated", window.present)]
    rows = [(name, point, point.drift) for name, point in points if point.drift is not None]
    count = len(window.axes)
    figure = new_figure(0.75 + count * (0.62 + 0.72 * len(rows)))
    figure.suptitle(title, x=0.01, ha="left", weight="bold", size=10.5)
    panels = figure.subplots(count, 1, squeeze=False)[:, 0]
    for index, (axes, axis) in enumerate(zip(panels, window.axes, strict=True)):
        for place, (_, point, drift) in enumerate(rows):
            _scale(axes, axis, index, float(place), point, drift)
        axes.set_yticks(range(len(rows)), [row[0] for row in rows], fontsize=8.5)
        axes.set(ylim=(len(rows) - 0.45, -0.6), xlabel=f"{axis.name} [{axis.unit}]")
        low, high = _span(axis, index, rows)
        axes.set_xlim(low, high)
        axes.spines["left"].set_visible(False)
        axes.tick_params(axis="y", length=0)
    reading = (
        "Light bar: this setting alone; dark bar: all settings at once; black line: what can be "
        "held. Words at the ends: what is found just beyond."
    )
    return Sheet("drifts", title, reading, figure)


def _span(
    axis: Setting, index: int, rows: Sequence[tuple[str, SetPoint, Drift]]
) -> tuple[float, float]:
    """Return the ends of a scale, with room for words beyond its bars."""
    low = min(drift.alone[index][0].value for _, _, drift in rows) * axis.factor
    high = max(drift.alone[index][1].value for _, _, drift in rows) * axis.factor
    room = 0.42 * (high - low)
    return low - room, high + room


def _scale(
    axes: Axes, axis: Setting, index: int, place: float, point: SetPoint, drift: Drift
) -> None:
    """Draw one scale."""
    value, factor = point.values[index], axis.factor
    share = drift.together.shares[index]
    low, high = drift.alone[index]
    bars = (
        (low.value, high.value, MET, 0.42),
        (value * (1 - share), value * (1 + share), COLOURS[0], 0.24),
    )
    for start, end, colour, tall in bars:
        axes.barh(place, factor * (end - start), tall, left=factor * start, color=colour,
                  edgecolor=COLOURS[0], lw=0.8)  # fmt: skip
    ends = [factor * value * (1.0 - axis.hold), factor * value * (1.0 + axis.hold)]
    axes.plot(ends, [place, place], color=DARK, lw=1.6, marker="|", ms=9, zorder=5)
    axes.plot([factor * value], [place], marker=BEST, ms=5, color=DARK, zorder=6)
    axes.text(
        factor * value,
        place - 0.29,
        setting_text(axis, value),
        ha="center",
        va="bottom",
        fontsize=8.2,
    )
    _end(axes, axis, low, min(factor * low.value, ends[0]), place, "right")
    _end(axes, axis, high, max(factor * high.value, ends[1]), place, "left")


def _end(axes: Axes, axis: Setting, side: Side, at: float, place: float, align: str) -> None:
    """Write what is found beyond one end of a bar, clear of everything else on its line."""
    text = "\n".join(textwrap.wrap(beyond_text(side.beyond), 28))
    value = f"{end_text(axis, side.value, align == 'right')} {axis.unit}"
    shift = -6 if align == "right" else 6
    axes.annotate(
        f"{value}\n{text}", (at, place), (shift, 0),
        textcoords="offset points", ha=align, va="center", fontsize=7.8, linespacing=1.05,
    )  # fmt: skip


def _loading(window: Window, follow: Follow) -> Sheet:
    """Draw the setting against the loading of the filter."""
    loading, axis = follow.map.axes
    title = f"How must the {axis.name} follow the {follow.filter} as it loads?"
    figure, axes, side = _map_frame(title)
    _fill(axes, follow.map)
    able = [step for step in follow.steps if step.value is not None]
    line = [(step.loading, axis.factor * (step.value or 0.0)) for step in able]
    start = axis.factor * follow.start[follow.followed]
    end = follow.map.values[0][-1] if follow.breaks is None else follow.breaks
    kept_off = [*line, *((float(x), start) for x in np.linspace(follow.present, end, 5))]
    draw_borders(axes, follow.map, kept_off)
    axes.plot(*np.array(line).T, color=DARK, lw=1.6, marker=BEST, ms=5, zorder=7)
    for k, (x, y) in enumerate(line):
        align = "left" if k == 0 else "right" if x >= loading.high else "center"
        axes.annotate(f"{y:.3g} {axis.unit}", (x, y), (0, 9), textcoords="offset points",
                      ha=align, fontsize=8.2, bbox=HALO, zorder=7)  # fmt: skip
    axes.plot([follow.present, end], [start, start], color=DARK, lw=1.2, ls=":", zorder=7)
    if follow.breaks is not None:
        axes.plot([follow.breaks], [start], marker="x", ms=9, mew=2.0, color=DARK, zorder=8)
    axes.set(xlabel=f"loading of the {follow.filter} [times its clean drop]",
             ylabel=f"{axis.name} [{axis.unit}]")  # fmt: skip
    _legend(side, follow.map, _loading_entries(window, follow))
    return Sheet("loading", title, _loading_reading(follow), figure)


def _loading_entries(window: Window, follow: Follow) -> list[Line2D]:
    """Return the legend's entries of the ways that the setting may go."""
    others = [
        f"{one.name} at {setting_text(one, value)}"
        for k, (one, value) in enumerate(zip(window.axes, follow.start, strict=True))
        if k != follow.followed
    ]
    kept = f"keeps {3600.0 * follow.flow:.3g} m3/h" + "".join(f",\n{text}" for text in others)
    entries = [Line2D([], [], color=DARK, lw=1.6, marker=BEST, ms=5, label=kept),
               Line2D([], [], color=DARK, lw=1.2, ls=":", label="left as it is")]  # fmt: skip
    if follow.breaks is not None:
        entries.append(Line2D([], [], color=DARK, ls="", marker="x", mew=2.0, ms=8,
                              label=f"holds up to {follow.breaks:.3g}"))  # fmt: skip
    return entries


def _loading_reading(follow: Follow) -> str:
    """Return what the picture of the loading shows."""
    axis = follow.map.axes[1]
    able = [step for step in follow.steps if step.value is not None]
    last = able[-1]
    takes = setting_text(axis, last.value or 0.0)
    text = f"The same flow takes {takes} at a loading of {last.loading:g}."
    if follow.breaks is None:
        return f"{text} Left as it is, every mapped limit stays met."
    then = beyond_text(follow.beyond)
    return f"{text} Left as it is, it holds up to {follow.breaks:.3g}: then {then}."
