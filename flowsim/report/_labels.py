"""Labels on a map that keep off each other."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from flowsim.report._kit import HALO

__all__ = ["Labels", "Spot", "round_box", "write_words"]

Spot = tuple[float, float, str, str]
"""Place [m] and the horizontal and vertical alignment of a text there."""

PAD = 3.0  # pixels between two labels
LETTER = 8.2  # pixels of a bold letter, and what is left beside the text
LEAST_LETTERS, MOST_LETTERS = 16, 44
OUTSIDE = 20.0  # what a pixel out of the picture weighs against one on another label


def round_box(x: tuple[float, float], y: tuple[float, float], gap: float) -> Iterator[Spot]:
    """Yield places for the label of a box: over, below, beside and in it.

    Parameters
    ----------
    x, y : tuple of float
        Where the box starts and ends. [m]
    gap : float
        Between box and label. [m]

    Yields
    ------
    Spot
        The best first.
    """
    middle, level = 0.5 * (x[0] + x[1]), 0.5 * (y[0] + y[1])
    yield middle, y[1] + gap, "center", "bottom"
    yield middle, y[0] - gap, "center", "top"
    yield x[1] + gap, level, "left", "center"
    yield x[0] - gap, level, "right", "center"
    yield x[0], y[1] + gap, "left", "bottom"
    yield x[1], y[1] + gap, "right", "bottom"
    yield x[0], y[0] - gap, "left", "top"
    yield x[1], y[0] - gap, "right", "top"
    yield middle, level, "center", "center"


class Labels:
    """Places labels one after another, each where it covers least.

    Parameters
    ----------
    axes : Axes
        With its final place and limits. [-]
    """

    def __init__(self, axes: Axes) -> None:
        self._axes = axes
        canvas = axes.figure.canvas
        assert isinstance(canvas, FigureCanvasAgg)
        self._renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        self._inside = axes.get_window_extent(self._renderer)
        self.taken: list[Bbox] = []

    def block(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Keep labels off a place.

        Parameters
        ----------
        x, y : tuple of float
            Where it starts and ends. [m]
        """
        corners = self._axes.transData.transform([(x[0], y[0]), (x[1], y[1])])
        self.taken.append(Bbox(corners).padded(0.0))

    def width(self, length: float) -> float:
        """Return how wide a length is on the picture.

        Parameters
        ----------
        length : float
            Along the horizontal. [m]

        Returns
        -------
        float
            In pixels. [-]
        """
        ends = self._axes.transData.transform([(0.0, 0.0), (length, 0.0)])
        return float(ends[1, 0] - ends[0, 0])

    def add(self, text: str, spots: Sequence[Spot], **look: Any) -> Text:
        """Write a label at the first place that is free, else where it covers least.

        Parameters
        ----------
        text : str
            The label. [text]
        spots : sequence of Spot
            Places, the best first. [m]
        **look : any
            Font and colours, as matplotlib names them. [-]

        Returns
        -------
        Text
            What was written.
        """
        look = {"fontsize": 8.0, "bbox": HALO, "zorder": 7, **look}
        label = self._axes.text(0.0, 0.0, text, **look)
        best: tuple[float, Spot, Bbox] | None = None
        for spot in spots:
            box = self._box(label, spot)
            cost = self._cost(box)
            if best is None or cost < best[0]:
                best = (cost, spot, box)
            if cost == 0.0:
                break
        assert best is not None
        self._put(label, best[1])
        self.taken.append(best[2])
        return label

    def _put(self, label: Text, spot: Spot) -> None:
        """Move a label."""
        x, y, across, up = spot
        label.set(position=(x, y), horizontalalignment=across, verticalalignment=up)

    def _box(self, label: Text, spot: Spot) -> Bbox:
        """Return what a label covers at a place. [pixel]."""
        self._put(label, spot)
        return label.get_window_extent(self._renderer).padded(PAD)

    def _cost(self, box: Bbox) -> float:
        """Return the area that is covered twice or lies out of the picture. [pixel^2]."""
        cost = 0.0
        for other in self.taken:
            shared = Bbox.intersection(box, other)
            cost += 0.0 if shared is None else shared.width * shared.height
        within = Bbox.intersection(box, self._inside)
        area = 0.0 if within is None else within.width * within.height
        out = box.width * box.height - area
        return cost + (OUTSIDE * out if out > 1e-6 * box.width * box.height else 0.0)


def write_words(labels: Labels, span: tuple[float, float], text: str) -> None:
    """Write what a map must not be read without, where there is room on it.

    Parameters
    ----------
    labels : Labels
        Of the map. [-]
    span : tuple of float
        Width and height of the map. [m]
    text : str
        The words; broken into lines. [text]
    """
    spots = [
        (across * span[0], up * span[1], side, level)
        for up, level in ((0.97, "top"), (0.75, "center"), (0.5, "center"), (0.03, "bottom"))
        for across, side in ((0.98, "right"), (0.5, "center"), (0.02, "left"))
    ]
    letters = int(min(MOST_LETTERS, labels.width(span[0]) / LETTER))
    lines = "\n".join(textwrap.wrap(text, max(letters, LEAST_LETTERS)))
    labels.add(lines, spots, weight="bold", fontsize=8.5, multialignment="left")
