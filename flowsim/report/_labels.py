"""Labels on a map that keep off each other."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg

from flowsim.report._kit import HALO

__all__ = ["Labels", "Spot", "Stretch", "far_from", "round_box", "shorter"]

Spot = tuple[float, float, str, str]
"""Place [m] and the horizontal and vertical alignment of a text there."""

Stretch = tuple[tuple[float, float], tuple[float, float]]
"""Where a box starts and ends along x and along y. [m]"""
Pixels = tuple[float, ...]  # left, low, right, top

# which part of a label lies left of or below its place, and to which side its edge is padded
PART = {"left": 0.0, "bottom": 0.0, "center": 0.5, "right": 1.0, "top": 1.0}
SIGN = {"left": -1.0, "bottom": -1.0, "center": 0.0, "right": 1.0, "top": 1.0}
BROKEN, CUT = 22, 13  # letters of a line of a label that is broken, and of one that is cut
LOOK: dict[str, Any] = {"fontsize": 8.2, "bbox": HALO, "zorder": 7}
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


def far_from(x: tuple[float, float], y: tuple[float, float], gap: float) -> Iterator[Spot]:
    """Yield places for the label of a box where there is no room close to it.

    Parameters
    ----------
    x, y : tuple of float
        Where the box starts and ends. [m]
    gap : float
        Between a box and a label close to it. [m]

    Yields
    ------
    Spot
        The nearest first.
    """
    middle = 0.5 * (x[0] + x[1])
    for steps in (5.0, 9.0, 13.0, 17.0):
        for side in ("center", "left", "right"):
            yield middle, y[1] + steps * gap, side, "bottom"
            yield middle, y[0] - steps * gap, side, "top"


def shorter(name: str, rest: str = "") -> list[str]:
    """Return ways to write a label, the longest first: whole, in two lines, cut.

    Parameters
    ----------
    name, rest : str
        What may be broken and cut, and what must stay. [text]

    Returns
    -------
    list of str
        Texts.
    """
    lines = textwrap.wrap(name, BROKEN) or [""]
    cut = name if len(name) <= CUT else f"{name[: CUT - 1]}\u2026"
    broken = lines if len(lines) <= 2 else [lines[0], f"{lines[1]}\u2026"]
    return list(dict.fromkeys((f"{name}{rest}", "\n".join(broken) + rest, f"{cut}{rest}")))


@dataclass(frozen=True)
class _Trial:
    """A label as it would be at a place, and the area that it would cover. [pixel^2]"""

    text: str
    spot: Spot
    box: Pixels
    cost: float


class Labels:
    """Places labels one after another, each where it covers least.

    Parameters
    ----------
    axes : Axes
        With its final place and limits. [-]
    span : tuple of float
        Width and height of the map, which labels do not leave. [m]
    """

    def __init__(self, axes: Axes, span: tuple[float, float]) -> None:
        self._axes = axes
        canvas = axes.figure.canvas
        assert isinstance(canvas, FigureCanvasAgg)
        self._renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        self.span = span
        self._inside = self._pixels((0.0, span[0]), (0.0, span[1]))
        self._taken: list[Pixels] = []
        self._written: list[Pixels] = []

    def _pixels(self, x: tuple[float, float], y: tuple[float, float]) -> Pixels:
        """Return where a place is on the picture."""
        corners = self._axes.transData.transform([(x[0], y[0]), (x[1], y[1])])
        return tuple(corners.ravel().tolist())

    def block(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Keep labels off a place.

        Parameters
        ----------
        x, y : tuple of float
            Where it starts and ends. [m]
        """
        self._taken.append(self._pixels(x, y))

    def add(self, texts: str | Sequence[str], spots: Sequence[Spot], **look: Any) -> None:
        """Write a label at the first place that is free, else where it covers least.

        Parameters
        ----------
        texts : str or sequence of str
            The label, or ways to write it of which the first is best. [text]
        spots : sequence of Spot
            Places, the best first. [m]
        **look : any
            Font and colours, as matplotlib names them. [-]
        """
        texts = [texts] if isinstance(texts, str) else texts
        self._write(self._best(texts, spots, look), look)

    def beside(self, texts: Sequence[str], stretch: Stretch, gap: float, **look: Any) -> None:
        """Write the label of a box close to it, else farther off with a line to it.

        It is left out where it would cover another label.

        Parameters
        ----------
        texts : sequence of str
            Ways to write it, the best first. [text]
        stretch : Stretch
            Where the box is. [m]
        gap : float
            Between the box and a label close to it. [m]
        **look : any
            Font and colours, as matplotlib names them. [-]
        """
        best = self._best(texts, list(round_box(*stretch, gap)), look)
        if best.cost > 0.0:
            far = self._best(texts, list(far_from(*stretch, gap)), look)
            best = far if far.cost < best.cost else best
        if any(_shared(best.box, other) for other in self._written):
            return
        self._write(best, look)
        self._lead(best.spot, stretch, 2.0 * gap)

    def _lead(self, spot: Spot, stretch: Stretch, least: float) -> None:
        """Draw a line from a label that is far off to its box."""
        (x0, x1), (y0, y1) = stretch
        x, y = spot[:2]
        edge = (min(max(x, x0), x1), min(max(y, y0), y1))
        if max(abs(x - edge[0]), abs(y - edge[1])) < least:
            return
        line = ([x, edge[0]], [y, edge[1]])
        self._axes.plot(*line, color="white", lw=2.4, zorder=6)
        self._axes.plot(*line, color="#222222", lw=0.9, zorder=6.1)

    def _best(self, texts: Sequence[str], spots: Sequence[Spot], look: dict[str, Any]) -> _Trial:
        """Return the first way to write a label that covers nothing, else that covers least."""
        best: _Trial | None = None
        for text in texts:
            for trial in self._trials(text, spots, look):
                if best is None or trial.cost < best.cost:
                    best = trial
                if trial.cost == 0.0:
                    return trial
        assert best is not None
        return best

    def _write(self, trial: _Trial, look: dict[str, Any]) -> None:
        """Write a label where it was tried."""
        x, y, across, up = trial.spot
        self._axes.text(x, y, trial.text, ha=across, va=up, **LOOK, **look)
        self._taken.append(trial.box)
        self._written.append(trial.box)

    def words(self, text: str, avoid: Sequence[Stretch] = ()) -> None:
        """Write what a map must not be read without, where there is room on it.

        Parameters
        ----------
        text : str
            The words; broken into lines. [text]
        avoid : sequence of tuple
            Stretches along x and y that they, but not later labels, keep off. [m]
        """
        wide, tall = self.span
        spots = [
            (across * wide, up * tall, side, level)
            for up, level in ((0.97, "top"), (0.75, "center"), (0.5, "center"), (0.03, "bottom"))
            for across, side in ((0.98, "right"), (0.5, "center"), (0.02, "left"))
        ]
        letters = int(min(MOST_LETTERS, (self._inside[2] - self._inside[0]) / LETTER))
        lines = "\n".join(textwrap.wrap(text, max(letters, LEAST_LETTERS)))
        before = len(self._taken)
        self._taken += [self._pixels(*stretch) for stretch in avoid]
        self.add(lines, spots, weight="bold", multialignment="left")
        del self._taken[before:-1]

    def _trials(self, text: str, spots: Sequence[Spot], look: dict[str, Any]) -> Iterator[_Trial]:
        """Yield what a label covers at each place."""
        trial = self._axes.text(0.0, 0.0, text, **LOOK, **look)
        size = trial.get_window_extent(self._renderer)
        trial.remove()
        wide, tall = size.width + 2.0 * PAD, size.height + 2.0 * PAD
        for spot in spots:
            x, y = self._axes.transData.transform(spot[:2])
            left = x + PAD * SIGN[spot[2]] - wide * PART[spot[2]]
            low = y + PAD * SIGN[spot[3]] - tall * PART[spot[3]]
            box = (left, low, left + wide, low + tall)
            yield _Trial(text, spot, box, self._cost(box))

    def _cost(self, box: Pixels) -> float:
        """Return the area that is covered twice or lies out of the map. [pixel^2]."""
        cost = sum(_shared(box, other) for other in self._taken)
        out = (box[2] - box[0]) * (box[3] - box[1]) - _shared(box, self._inside)
        return cost + (OUTSIDE * out if out > 1e-6 else 0.0)


def _shared(a: Pixels, b: Pixels) -> float:
    """Return the area that two boxes share. [pixel^2]."""
    wide = min(a[2], b[2]) - max(a[0], b[0])
    tall = min(a[3], b[3]) - max(a[1], b[1])
    return wide * tall if wide > 0.0 and tall > 0.0 else 0.0
