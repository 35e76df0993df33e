"""Pictures of a case under its tolerances: probabilities, spreads, inputs that matter."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

from flowsim.report._kit import COLOURS, Picture, Sheet, new_figure, png_bytes, style
from flowsim.report._units import by_ratio, number, shown, words
from flowsim.report.uncertain_text import chance_text, wanted_text
from flowsim.report.uncertainty import FigureSpread, LimitOdds, Uncertainty

__all__ = ["uncertain_pictures", "uncertain_sheets"]

MET, UNMET, HIDDEN = COLOURS[0], COLOURS[2], COLOURS[3]
DARK, BAD = "#222222", "#f3d9d4"
NAME_LETTERS, KEY_LETTERS = 30, 34
MOST_PANELS, MOST_INPUTS = 12, 6
DECADES_SHOWN = 1e6  # below the limit, on a scale of ratios


def uncertain_sheets(found: Uncertainty) -> tuple[Sheet, ...]:
    """Draw a case under its tolerances.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [SI]

    Returns
    -------
    tuple of Sheet
        Probabilities, spreads and influences; those that would be empty are left out.
    """
    return tuple(_sheets(found))


def uncertain_pictures(found: Uncertainty) -> tuple[Picture, ...]:
    """Draw a case under its tolerances as PNG.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [SI]

    Returns
    -------
    tuple of Picture
        The same case gives the same bytes.
    """
    with style():
        return tuple(
            Picture(sheet.name, sheet.title, sheet.reading, png_bytes(sheet.figure))
            for sheet in _sheets(found)
        )


def _sheets(found: Uncertainty) -> Iterator[Sheet]:
    """Yield the pictures that have something to show."""
    limits = sorted(found.limits, key=lambda item: item.met.share)
    if limits:
        yield _probabilities(found, limits)
    spreads = {item.name: item for item in found.figures}
    pairs = [(limit, spreads[limit.name]) for limit in limits if limit.name in spreads]
    if pairs:
        yield _spreads(pairs)
    moved = [limit for limit in limits if limit.named][:MOST_PANELS]
    if moved:
        yield _influences(moved)


def _wrap(text: str, letters: int = NAME_LETTERS) -> str:
    """Return a text on at most two lines."""
    lines = textwrap.wrap(text, letters, break_long_words=True) or [""]
    if len(lines) > 2:
        lines = [lines[0], lines[1][: letters - 3] + "..."]
    return "\n".join(lines)


def _key_lines(key: str) -> str:
    """Return a key path on lines that end at dots."""
    lines = [""]
    for part in key.replace(".", ".\n").split("\n"):
        if lines[-1] and len(lines[-1]) + len(part) > KEY_LETTERS:
            lines.append("")
        lines[-1] += part
    return "\n".join(lines)


def _probabilities(found: Uncertainty, limits: Sequence[LimitOdds]) -> Sheet:
    """Draw how often each limit is met, not shown and not met."""
    rows = [(limit.met, limit.not_shown, limit.not_met) for limit in limits]
    names = [f"{_wrap(words(limit.name), 38)}\n{wanted_text(limit)}" for limit in limits]
    if found.together:
        met, unmet, hidden = found.together
        rows.append((met, hidden, unmet))
        names.append("all limits at once")
    figure = new_figure(1.1 + 0.42 * len(rows))
    axes = figure.add_subplot()
    places = np.arange(len(rows))
    left = np.zeros(len(rows))
    for index, (label, colour) in enumerate(
        (("met", MET), ("not shown", HIDDEN), ("not met", UNMET))
    ):
        width = np.array([100.0 * row[index].share for row in rows])
        axes.barh(places, width, left=left, height=0.55, color=colour, label=label)
        left += width
    for place, (met, _, _) in zip(places, rows, strict=True):
        low, high = 100.0 * met.low, 100.0 * met.high
        axes.plot([low, high], [place, place], color=DARK, lw=1.4, marker="|", ms=8)
        axes.text(102.0, float(place), chance_text(met), va="center", fontsize=8.5)
    axes.set_yticks(places, names, fontsize=8.5)
    axes.set(xlim=(0.0, 100.0), xlabel="share of the draws [%]; line: 95 % interval of 'met'")
    axes.invert_yaxis()
    axes.tick_params(axis="y", length=0)
    title = "How probable is it that each limit is met?"
    axes.set_title(title, pad=24.0)
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderaxespad=0.2)
    worst = limits[0]
    reading = (
        f"Of {found.count} draws: {words(worst.name)} is least sure to be met, "
        f"{chance_text(worst.met)}."
    )
    return Sheet("probabilities", title, reading, figure)


def _spreads(pairs: Sequence[tuple[LimitOdds, FigureSpread]]) -> Sheet:
    """Draw the quantiles of each limited figure against its limit, each on a scale of its own."""
    title = "How far do the key figures spread, and where are their limits?"
    figure = new_figure(0.75 + 0.62 * len(pairs))
    figure.suptitle(title, x=0.01, ha="left", weight="bold", size=10.5)
    panels = figure.subplots(len(pairs), 1, squeeze=False)[:, 0]
    for axes, (limit, spread) in zip(panels, pairs, strict=True):
        _whisker(axes, limit, spread)
    reading = (
        "Line from the 5 % to the 95 % quantile, dot at the median, diamond: the case as stated; "
        "red side: limit not met; arrow: smaller than the scale shows."
    )
    return Sheet("spreads", title, reading, figure)


def _whisker(axes: Axes, limit: LimitOdds, spread: FigureSpread) -> None:
    """Draw one figure."""
    factor, unit = shown(limit.name, limit.unit)
    bounds = [factor * end for end in (limit.least, limit.most) if end is not None]
    low, middle, high = (factor * value for value in spread.quantiles)
    nominal = math.nan if limit.nominal is None else factor * limit.nominal
    floor = _scale(axes, limit.name, [low, middle, high, nominal], bounds)
    left, right = axes.get_xlim()
    for end, side in ((limit.least, left), (limit.most, right)):
        if end is not None:
            axes.axvspan(factor * end, side, color=BAD, lw=0.0)
            axes.axvline(factor * end, color=UNMET, lw=1.4)
    ends = [max(low, floor), max(high, floor)]
    axes.plot(ends, [0.0, 0.0], color=MET, lw=2.2, marker="|", ms=9)
    axes.plot([max(middle, floor)], [0.0], color=MET, marker="o", ms=6)
    axes.plot([max(nominal, floor)], [0.0], color=DARK, marker="D", ms=5, mfc="none")
    if low < floor:
        axes.plot([floor], [0.0], color=MET, marker="<", ms=8)
    axes.set_yticks([0.0], [_wrap(f"{words(limit.name)} [{unit or '-'}]")], fontsize=8.5)
    axes.set_ylim(-1.0, 1.0)
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.tick_params(axis="x", labelsize=8.0, which="both")


def _scale(axes: Axes, name: str, values: Sequence[float], bounds: Sequence[float]) -> float:
    """Set the scale of a figure; return below which value it is only said that it is smaller."""
    finite = [value for value in (*values, *bounds) if math.isfinite(value)]
    if by_ratio(name) and min(bounds) > 0.0:
        floor = min(bounds) / DECADES_SHOWN
        axes.set_xscale("log")
        axes.set_xlim(max(min(finite), floor) / 1.6, max(finite) * 1.6)
        axes.xaxis.set_major_locator(LogLocator(numticks=7))
        axes.xaxis.set_major_formatter(FuncFormatter(_tick))
        axes.xaxis.set_minor_locator(NullLocator())
        return floor
    room = 0.08 * (max(finite) - min(finite)) or 1.0
    axes.set_xlim(min(finite) - room, max(finite) + room)
    axes.locator_params(axis="x", nbins=6)
    return -math.inf


def _tick(value: float, _: object) -> str:
    """Return the number at a tick."""
    return number(value, 1)


def _influences(limits: Sequence[LimitOdds]) -> Sheet:
    """Draw the inputs that matter, one panel per limit."""
    title = "Which inputs move the limited figures most?"
    columns = 1 if len(limits) == 1 else 2
    rows = -(-len(limits) // columns)
    tallest = max(min(len(limit.named), MOST_INPUTS) for limit in limits)
    figure = new_figure(0.7 + rows * (0.75 + 0.27 * tallest), width=11.0)
    figure.suptitle(title, x=0.01, ha="left", weight="bold", size=10.5)
    panels = figure.subplots(rows, columns, squeeze=False).ravel()
    for axes, limit in zip(panels, limits, strict=False):
        _tornado(axes, limit, tallest)
    for axes in panels[len(limits) :]:
        axes.set_visible(False)
    _label_bottom(figure)
    first = limits[0]
    top = first.named[0]
    reading = (
        f"{words(first.name)} is moved most by {top.key}, rank correlation {top.rank:+.2f} "
        f"({top.low:+.2f} to {top.high:+.2f}). Grey band: what chance alone would give."
    )
    return Sheet("influences", title, reading, figure)


def _label_bottom(figure: Figure) -> None:
    """Say what the bars are, once."""
    figure.supxlabel(
        "rank correlation with the figure: right = it rises with the input; line: 95 % interval",
        fontsize=9.0,
    )


def _tornado(axes: Axes, limit: LimitOdds, tallest: int) -> None:
    """Draw the inputs of one limit, the strongest on top."""
    inputs = limit.named[:MOST_INPUTS]
    places = np.arange(len(inputs))
    ranks = [item.rank for item in inputs]
    colours = [MET if rank > 0.0 else COLOURS[1] for rank in ranks]
    axes.axvspan(-limit.chance_rank, limit.chance_rank, color="#ececec", lw=0.0, zorder=0)
    axes.barh(places, ranks, height=0.6, color=colours, zorder=2)
    for place, item in zip(places, inputs, strict=True):
        axes.plot([item.low, item.high], [place, place], color=DARK, lw=1.2, zorder=3)
    axes.set_yticks(places, [_key_lines(item.key) for item in inputs], fontsize=8.0)
    axes.set(xlim=(-1.0, 1.0), ylim=(tallest - 0.5, -0.5))
    axes.axvline(0.0, color=DARK, lw=0.8)
    axes.set_xticks([-1.0, -0.5, 0.0, 0.5, 1.0])
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    share = number(100.0 * limit.met.share)
    axes.set_title(_wrap(f"{words(limit.name)} (met in {share} %)", 48), fontsize=9.0)
