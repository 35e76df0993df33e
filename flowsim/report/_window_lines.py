"""Borders on the map of settings, each with its name beside it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS, HALO
from flowsim.report.window_result import Border, WindowMap

__all__ = ["FLIP_COLOUR", "SHOWN_COLOUR", "border_colours", "draw_borders"]

FLIP_COLOUR, SHOWN_COLOUR = COLOURS[2], COLOURS[8]
LIMIT_COLOURS = (COLOURS[0], COLOURS[4], COLOURS[6], COLOURS[5], COLOURS[1], COLOURS[9], COLOURS[7])
LETTER, LINE = 5.0, 12.0  # pixels of a letter and of a line of a label
BROKEN = 26  # letters of a line of a label
OFF = 0.62  # of its height, between a line and the middle of its label
HOPELESS = 260.0  # cost of a place, from which on no name is written
EDGE = 6.0  # pixels kept free at the edge of the map
STEPS = 24  # places tried along a line
CROWDED = 46.0  # pixels, from which on labels count as apart


@dataclass(frozen=True)
class _Place:
    """A place for a label: middle, direction of the line, and how good it is. [pixel]"""

    at: tuple[float, float]
    angle: float
    cost: float


def border_colours(borders: Sequence[Border]) -> list[str]:
    """Return one colour for each border.

    Parameters
    ----------
    borders : sequence of Border
        Borders of a map.
    """
    colours, used = [], 0
    for border in borders:
        if border.kind == "limit":
            colours.append(LIMIT_COLOURS[used % len(LIMIT_COLOURS)])
            used += 1
        else:
            colours.append(FLIP_COLOUR if border.kind == "flip" else SHOWN_COLOUR)
    return colours


def draw_borders(axes: Axes, found: WindowMap, marks: Sequence[tuple[float, float]]) -> None:
    """Draw all borders of a map in two directions, solved settings on them, and their names.

    Parameters
    ----------
    axes : Axes
        With its final limits, in shown units. [-]
    found : WindowMap
        The map. [SI]
    marks : sequence of tuple of float
        Places to keep names off. [shown units]
    """
    one, two = (axis.factor * values for axis, values in zip(found.axes, found.values, strict=True))
    taken = [tuple(axes.transData.transform(mark).tolist()) for mark in marks]
    paths = []
    for border, colour in zip(found.borders, border_colours(found.borders), strict=True):
        flip = border.kind == "flip"
        dashes = ":" if border.lacking else ("--" if border.kind == "shown" else "-")
        lines = axes.contour(
            one, two, border.level.T, levels=[0.0], colors=[colour],
            linewidths=2.6 if flip else 1.8, linestyles=[dashes], zorder=4,
        )  # fmt: skip
        factors = [axis.factor for axis in found.axes]
        axes.plot(
            *(border.verified * factors).T, ls="", marker="o", ms=3.2, color=colour, zorder=4.5
        )
        paths.append((border, colour, [np.asarray(part) for part in lines.allsegs[0]]))
    for border, colour, parts in paths:
        others = [part for other, _, segments in paths if other is not border for part in segments]
        _name(axes, border.name, colour, parts, others, taken)


def _name(
    axes: Axes,
    name: str,
    colour: str,
    parts: Sequence[FloatArray],
    others: Sequence[FloatArray],
    taken: list[tuple[float, ...]],
) -> None:
    """Write the name of a border along it."""
    text = textwrap.wrap(name.split(" (", 1)[0], BROKEN)
    whole = [part for part in parts if len(part) > 1]
    if not whole:
        return
    longest = max(whole, key=lambda part: _length(axes, part))
    size = (LETTER * max(map(len, text)), LINE * len(text))
    line = axes.transData.transform(longest)
    lines = [axes.transData.transform(part) for part in others if len(part)]
    rivals = np.concatenate(lines) if lines else np.empty((0, 2))
    places = _places(axes, line, size, rivals, taken)
    best = min(places, key=lambda place: place.cost)
    if best.cost > HOPELESS:
        return  # the legend has it
    taken.extend(_spots(best.at, best.angle, size[0]))
    place = axes.transData.inverted().transform(best.at)
    axes.text(
        float(place[0]), float(place[1]), "\n".join(text), color=colour,
        rotation=math.degrees(best.angle),
        rotation_mode="anchor", ha="center", va="center", fontsize=7.8, bbox=HALO, zorder=6,
        linespacing=1.05,
    )  # fmt: skip


def _length(axes: Axes, part: FloatArray) -> float:
    """Return the length of a line on the picture. [pixel]"""
    pixels = axes.transData.transform(part)
    return float(np.hypot(*np.diff(pixels, axis=0).T).sum())


def _spots(at: tuple[float, float], angle: float, width: float) -> list[tuple[float, ...]]:
    """Return places along a label, to keep others off it."""
    shifts = np.linspace(-0.5, 0.5, 5) * width
    return [(at[0] + s * math.cos(angle), at[1] + s * math.sin(angle)) for s in shifts.tolist()]


def _places(
    axes: Axes,
    line: FloatArray,
    size: tuple[float, float],
    rivals: FloatArray,
    taken: Sequence[tuple[float, ...]],
) -> list[_Place]:
    """Return places beside a line, on both sides of it."""
    canvas = axes.figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    frame = axes.get_window_extent(canvas.get_renderer())  # type: ignore[no-untyped-call]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    found = []
    for share in np.linspace(0.08, 0.92, STEPS).tolist():
        reach = [np.clip(share * along[-1] + k * 0.4 * size[0], 0.0, along[-1]) for k in (-1, 0, 1)]
        x, y = (np.interp(reach, along, line[:, k]) for k in (0, 1))
        angle = math.atan2(y[2] - y[0], x[2] - x[0])
        angle = (angle + math.pi / 2.0) % math.pi - math.pi / 2.0
        for side in (-1.0, 1.0):
            off = side * (OFF * size[1] + 3.0)
            at = (float(x[1] - off * math.sin(angle)), float(y[1] + off * math.cos(angle)))
            spots = np.array(_spots(at, angle, size[0]))
            inside = (spots >= [frame.x0 + 6, frame.y0 + 6]) & (
                spots <= [frame.x1 - 6, frame.y1 - 6]
            )
            cost = 40.0 * float((~inside).sum()) + 0.02 * abs(share - 0.5) * along[-1]
            cost += _crowd(spots, rivals, 0.6 * size[1] + 4.0)
            cost += 2.0 * _crowd(spots, np.array(taken).reshape(-1, 2), CROWDED)
            found.append(_Place(at, angle, cost))
    return found


def _crowd(spots: FloatArray, others: FloatArray, least: float) -> float:
    """Return by how much a label comes too close to others. [pixel]"""
    if not len(others):
        return 0.0
    apart = np.hypot(*(spots[:, None, :] - others[None, :, :]).transpose(2, 0, 1)).min(axis=1)
    return float(np.maximum(least - apart, 0.0).sum())
