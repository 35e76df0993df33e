"""Figures of a plan of holes: evenness against suction, the draw along the plate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from scipy.interpolate import PchipInterpolator

from flowsim._arrays import FloatArray
from flowsim.report._kit import (
    COLOURS,
    Picture,
    Sheet,
    new_figure,
    png_bytes,
    style,
)
from flowsim.report.figures_plate import plate_plan
from flowsim.report.holes_result import HolePlan, HolePoint, Proposal
from flowsim.report.holes_words import KINDS, flow_text, millimetres, wanted_text

__all__ = ["hole_pictures", "hole_sheets"]

TODAY, CHOSEN, GRADED, TUBE, RULE, SIZES = (
    COLOURS[2],
    COLOURS[0],
    COLOURS[4],
    COLOURS[6],
    COLOURS[8],
    COLOURS[3],
)
OTHERS = {"graded": GRADED, "tube": TUBE}
MARKERS = {"graded": "s", "tube": "D"}
WANTED = "#222222"
LINE = 200  # points of the curve
TOP = 2.5  # most draw ratio shown over 1, in units of the largest point that matters
MM = 1000.0


def _marker(axes: Axes, point: HolePoint, label: str, **look: Any) -> None:
    """Mark a solved plate."""
    if point.draw_ratio is not None:
        axes.plot([point.suction], [point.draw_ratio], ls="none", label=label, **look)


def _proposals(plan: HolePlan) -> Iterator[Proposal]:
    yield plan.chosen
    yield from plan.others


def _curve(axes: Axes, plan: HolePlan) -> None:
    """Draw the even plates from tight to open with their doubt."""
    points = [point for point in plan.curve if point.draw_ratio is not None]
    points = list({point.suction: point for point in points}.values())
    points.sort(key=lambda point: point.suction)
    suction, ratio, doubt = _smooth(points)
    band: dict[str, Any] = {
        "color": CHOSEN,
        "alpha": 0.18,
        "lw": 0.0,
        "label": "doubt of plate and cells",
    }
    axes.fill_between(suction, ratio - doubt, ratio + doubt, **band)
    size = millimetres(plan.chosen.pattern.diameter, 3)
    axes.plot(suction, ratio, color=CHOSEN, lw=1.8, label=f"even plates with\n{size} mm holes")


def _smooth(points: list[HolePoint]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return suction, draw ratio and doubt on a smooth line through solved plates."""
    suction = np.array([point.suction for point in points])
    excess = np.array([(point.draw_ratio or 1.0) - 1.0 for point in points])
    doubt = np.array([point.spread for point in points])
    if len(points) < 3 or excess.min() <= 0.0 or suction.min() <= 0.0:
        return suction, 1.0 + excess, doubt
    line = np.geomspace(suction[0], suction[-1], LINE)
    known = np.log(suction)
    ratio = 1.0 + np.exp(PchipInterpolator(known, np.log(excess))(np.log(line)))
    return line, ratio, PchipInterpolator(known, doubt)(np.log(line))


def trade_off(plan: HolePlan) -> Sheet:
    """Draw evenness against suction.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    Sheet
        The curve with today's plate, the proposals and the rules on it.
    """
    title = "What does an even draw cost in suction?"
    figure = new_figure(4.4)
    axes = figure.add_subplot()
    _curve(axes, plan)
    axes.axhline(plan.wanted, color=WANTED, lw=1.1, ls="--", label=f"wanted, {wanted_text(plan)}")
    if plan.ceiling is not None:
        axes.axvline(plan.ceiling, color=WANTED, lw=1.1, ls=":", label="most suction allowed")
    for row in plan.sizes:
        if row.proposal is not None and row.proposal.pattern is not plan.chosen.pattern:
            look = {"marker": "o", "ms": 4.5, "color": SIZES, "zorder": 4}
            first = row is next(item for item in plan.sizes if item.proposal is not None)
            _marker(axes, row.proposal.point, "other diameters at hand" if first else "_", **look)
    signs = ("v", "<", ">", "p")
    for rule, sign in zip(plan.rules, signs, strict=False):
        if rule.point is not None:
            name = rule.name.split(",")[0]
            look = {"marker": sign, "ms": 7.0, "mfc": "white", "mec": RULE, "zorder": 5}
            _marker(axes, rule.point, f"{name},\nsolved", **look)
    now = f"today, {100.0 * plan.today.free_area_ratio:.2f} % open"
    _marker(axes, plan.today, now, marker="o", ms=9.0, color=TODAY, zorder=6)
    look = {"marker": "*", "ms": 14.0, "color": CHOSEN, "mec": "#222222", "zorder": 7}
    drill = f"{KINDS['even']} to drill,\n{100.0 * plan.chosen.point.free_area_ratio:.2f} % open"
    _marker(axes, plan.chosen.point, drill, **look)
    for item in plan.others:
        look = {"marker": MARKERS[item.kind], "ms": 8.0, "color": OTHERS[item.kind], "zorder": 6}
        _marker(axes, item.point, KINDS[item.kind], **look)
    axes.set(
        xlabel=f"suction behind the port at today's {flow_text(plan.today.exhaust_flow)} [Pa]",
        ylabel="draw ratio, largest over smallest [-]",
    )
    axes.set_xlim(left=0.0)
    axes.set_ylim(1.0, _top(plan))
    axes.grid(True)
    figure.legend(loc="outside right upper", labelspacing=0.7)
    axes.set_title(title)
    return Sheet("trade_off", title, _trade_off_reading(plan), figure)


def _top(plan: HolePlan) -> float:
    """Return how far up the draw ratio is shown."""
    marked = [plan.today, plan.chosen.point, *(item.point for item in plan.others)]
    ratios = [point.draw_ratio - 1.0 for point in marked if point.draw_ratio is not None]
    most = max([plan.wanted - 1.0, *ratios])
    curve = max((point.excess for point in plan.curve), default=most)
    return 1.0 + min(TOP * most, max(1.08 * curve, 1.3 * most))


def _trade_off_reading(plan: HolePlan) -> str:
    chosen = plan.chosen.point
    text = (
        f"At today's exhaust flow a draw ratio of {chosen.draw_ratio or 0.0:.3f} takes "
        f"{chosen.suction:.0f} Pa behind the port; today's plate draws "
    )
    today = plan.today
    ratio = "backwards somewhere" if today.draw_ratio is None else f"{today.draw_ratio:.3f}"
    text += f"{ratio} at {today.suction:.0f} Pa."
    for item in plan.others:
        text += f" {KINDS[item.kind].capitalize()}: {item.point.suction:.0f} Pa."
    return text


def draw_along(plan: HolePlan) -> Sheet | None:
    """Draw the draw along the width, today and with each proposal.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    Sheet or None
        None where the models gave no stations.
    """
    if plan.today.stations is None or plan.chosen.point.stations is None:
        return None
    title = "How evenly does the plate draw along its width?"
    figure = new_figure(3.6)
    axes = figure.add_subplot()
    count = plan.today.stations.size
    x = (np.arange(count) + 0.5) * MM * plan.floor.width / count
    lines = [("today", plan.today, TODAY, "-")]
    lines += [
        (KINDS[item.kind], item.point, OTHERS.get(item.kind, CHOSEN), "-")
        for item in _proposals(plan)
    ]
    for name, point, colour, dash in lines:
        if point.stations is not None and point.stations.size == count:
            axes.plot(x, 100.0 * point.stations, color=colour, lw=1.8, ls=dash, label=name)
    axes.axhline(100.0, color="#777777", lw=0.8)
    axes.set(xlabel="from the left [mm]", ylabel="draw over its mean [%]")
    axes.set_xlim(0.0, MM * plan.floor.width)
    axes.grid(True)
    axes.legend(loc="best")
    axes.set_title(title)
    ratios = [point for _, point, _, _ in lines if point.draw_ratio is not None]
    words = ", ".join(
        f"{name} {point.draw_ratio:.3f}" for name, point, _, _ in lines if point in ratios
    )
    reading = f"Largest over smallest station: {words}."
    return Sheet("draw_along_width", title, reading, figure)


def hole_sheets(plan: HolePlan) -> list[Sheet]:
    """Draw all figures of a plan of holes.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    list of Sheet
        In the order of the page.
    """
    along = draw_along(plan)
    plates = [plate_plan(plan, item) for item in _proposals(plan)]
    return [trade_off(plan), plates[0], *([] if along is None else [along]), *plates[1:]]


def hole_pictures(plan: HolePlan) -> list[Picture]:
    """Return all figures of a plan of holes as PNG.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    list of Picture
        In the order of the page.
    """
    with style():
        return [
            Picture(sheet.name, sheet.title, sheet.reading, png_bytes(sheet.figure))
            for sheet in hole_sheets(plan)
        ]
