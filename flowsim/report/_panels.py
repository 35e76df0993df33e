"""Figures made of one or two maps of equal scale, with notes above and a legend below."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from flowsim.report._kit import LEAST_WIDTH, WIDTH, new_figure

__all__ = ["Panels", "legend_below", "panels"]

LEFT, RIGHT, LOW = 0.75, 1.15, 0.62
BAR, AFTER = 0.17, 0.14
BARE = 0.4  # beside a map without a bar: the label of an opening
LINE, TITLE_ROOM = 0.19, 0.36
HEAD = 0.24  # over a panel that has its own heading
MOST = 4.7  # height of all maps together
UNIT = re.compile(r"(\d) (?=[%m]|um)")  # a number is not parted from its unit
LETTERS = 14.0  # per inch of a note
LEGEND_ROW = 0.2


@dataclass(frozen=True)
class Panels:
    """A figure with places for maps.

    Parameters
    ----------
    figure : Figure
        The figure.
    maps : tuple of Axes
        One per map.
    bars : tuple of Axes or None
        Place for a colour bar beside each, None where it has none.
    """

    figure: Figure
    maps: tuple[Axes, ...]
    bars: tuple[Axes | None, ...]


@dataclass(frozen=True)
class _Layout:
    """Scale [inch/m] and the lower left corners of the maps [inch], from the left and top."""

    scale: float
    corners: tuple[tuple[float, float], ...]
    size: tuple[float, float]


def _row(spans: Sequence[tuple[float, float]], bars: Sequence[bool], head: float) -> _Layout:
    """Return the maps beside each other."""
    fixed = sum(LEFT + (RIGHT if bar else BARE) for bar in bars)
    tallest = max(span[1] for span in spans)
    scale = min((WIDTH - fixed) / sum(span[0] for span in spans), MOST / tallest)
    corners, at = [], 0.0
    for span, bar in zip(spans, bars, strict=True):
        corners.append((at + LEFT, head + scale * tallest))
        at += LEFT + scale * span[0] + (RIGHT if bar else BARE)
    return _Layout(scale, tuple(corners), (at, head + scale * tallest + LOW))


def _column(spans: Sequence[tuple[float, float]], head: float) -> _Layout:
    """Return the maps below each other."""
    widest = max(span[0] for span in spans)
    scale = min((WIDTH - LEFT - RIGHT) / widest, MOST / sum(span[1] for span in spans))
    corners, at = [], 0.0
    for span in spans:
        corners.append((LEFT, at + head + scale * span[1]))
        at += head + scale * span[1] + LOW
    return _Layout(scale, tuple(corners), (LEFT + scale * widest + RIGHT, at))


def panels(
    spans: Sequence[tuple[float, float]],
    title: str,
    note: str,
    bars: Sequence[bool] = (True,),
    legend_rows: int = 0,
) -> Panels:
    """Return a figure for maps of one scale: beside or below each other, whichever is larger.

    Parameters
    ----------
    spans : sequence of tuple of float
        Width and height of what each map shows. [m]
    title, note : str
        Question in bold, and what is below it, broken into lines. [text]
    bars : sequence of bool
        Which map has a colour bar. [-]
    legend_rows : int
        Rows kept free at the bottom for a legend. [-]

    Returns
    -------
    Panels
        Figure and axes.
    """
    head = HEAD if len(spans) > 1 else 0.05
    layouts = [_row(spans, bars, head), _column(spans, head)]
    layout = max(layouts, key=lambda item: item.scale)
    width = max(layout.size[0], LEAST_WIDTH)
    lines = textwrap.wrap(UNIT.sub("\\1\u00a0", note), int(LETTERS * (width - 0.2)))
    top = TITLE_ROOM + LINE * len(lines)
    height = top + layout.size[1] + LEGEND_ROW * legend_rows
    figure = new_figure(height, width, constrained=False)
    figure.text(0.1 / width, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    figure.text(
        0.1 / width, 1.0 - 0.32 / height, "\n".join(lines), size=9.0, va="top", linespacing=1.3
    )
    maps: list[Axes] = []
    places: list[Axes | None] = []
    for span, corner, bar in zip(spans, layout.corners, bars, strict=True):
        wide, tall = layout.scale * span[0], layout.scale * span[1]
        bottom = height - top - corner[1]
        box = (corner[0] / width, bottom / height, wide / width, tall / height)
        maps.append(figure.add_axes(box))
        at = corner[0] + wide + AFTER
        beside = (at / width, bottom / height, BAR / width, tall / height)
        places.append(figure.add_axes(beside) if bar else None)
    return Panels(figure, tuple(maps), tuple(places))


def legend_below(figure: Figure, handles: Sequence[Artist], columns: int) -> None:
    """Draw a legend at the bottom of a figure.

    Parameters
    ----------
    figure : Figure
        Made with rows kept free. [-]
    handles : sequence of Artist
        With their labels. [-]
    columns : int
        Side by side. [-]
    """
    figure.legend(
        handles=list(handles),
        loc="lower left",
        bbox_to_anchor=(0.0, 0.0),
        ncols=columns,
        fontsize=8.5,
        handlelength=2.2,
        columnspacing=1.4,
        labelspacing=0.35,
        borderaxespad=0.25,
    )
