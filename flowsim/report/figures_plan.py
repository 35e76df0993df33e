"""Figure of the chamber from above: the downflow at the measuring height."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case, Compartment, Object
from flowsim.report._kit import (
    COLOURS,
    HALO,
    IN_COLOUR,
    SOLID,
    Sheet,
    add_box,
    colour_bar,
    map_axes,
    new_figure,
    solid_parts,
)
from flowsim.report._units import NOTHING, number, quantity_text
from flowsim.simulate.result import Result

__all__ = ["downflow_plan", "plan_openings"]

BELOW: dict[str, Any] = {"fill": False, "edgecolor": "white", "linestyle": ":"}


def _plan_marks(axes: Axes, plan: FloatArray, size: tuple[float, float]) -> list[FloatArray]:
    """Mark where the downflow is least and most; return the two places. [m]."""
    places = []
    for find, word, sign in ((np.nanargmin, "least", "v"), (np.nanargmax, "most", "^")):
        index = np.array(np.unravel_index(int(find(plan)), plan.shape))
        place = (index + 0.5) * np.array(size) / plan.shape
        right = place[0] < 0.6 * size[0]
        axes.plot(
            *place,
            sign,
            color="white",
            markeredgecolor="black",
            markersize=8.5,
            zorder=5,
            clip_on=False,
        )
        axes.annotate(
            f"{word} {_speed(plan[tuple(index)])}",
            (place[0], place[1]),
            (9 if right else -9, 0),
            textcoords="offset points",
            ha="left" if right else "right",
            va="center",
            fontsize=8.5,
            bbox=HALO,
            zorder=6,
        )
        places.append(place)
    return places


def plan_openings(axes: Axes, case: Case) -> None:
    """Draw the open openings on the walls of a plan.

    Parameters
    ----------
    axes : Axes
        Plan in metres. [m]
    case : Case
        The case. [SI]
    """
    chamber = case.chamber
    for item in case.openings:
        if item.state != "open" or item.wall == "ceiling":
            continue
        along = [item.offset, item.offset + item.width]
        at = {"front": 0.0, "left": 0.0, "back": chamber.depth, "right": chamber.width}[item.wall]
        upright = item.wall in ("left", "right")
        x, y = ([at, at], along) if upright else (along, [at, at])
        axes.plot(x, y, color=IN_COLOUR, lw=4.5, solid_capstyle="butt", clip_on=False, zorder=4)


def _label_height(
    item: Compartment | Object, marks: list[FloatArray], depth: float
) -> tuple[float, str]:
    """Return height and alignment of a box's label, away from the marks inside the box. [m]."""
    inside = [mark[1] for mark in marks if item.offset_x <= mark[0] <= item.offset_x + item.width]
    low, high = item.offset_y, item.offset_y + item.depth
    near_top = [abs(high - y) for y in inside] + [depth]
    near_low = [abs(low - y) for y in inside] + [depth]
    shift = 0.02 * depth
    return (high - shift, "top") if min(near_top) >= min(near_low) else (low + shift, "bottom")


def _plan_parts(axes: Axes, result: Result, marks: list[FloatArray]) -> None:
    """Draw compartments and objects, and the filter's outline."""
    for item in solid_parts(result.case):
        bottom = float(getattr(item, "bottom", 0.0))
        reaches = bottom <= result.measure_height <= bottom + item.height
        look = SOLID if reaches else BELOW
        add_box(axes, (item.offset_x, item.offset_y), (item.width, item.depth), zorder=3, **look)
        height, side = _label_height(item, marks, result.case.chamber.depth)
        axes.text(
            item.offset_x + 0.5 * item.width,
            height,
            item.label + ("" if reaches else " (below)"),
            ha="center",
            va=side,
            fontsize=8.0,
            bbox=HALO,
            zorder=4,
        )
    if result.filter_patch is not None:
        x0, x1, y0, y1 = result.filter_patch
        add_box(
            axes,
            (x0, y0),
            (x1 - x0, y1 - y0),
            fill=False,
            edgecolor="white",
            linestyle="--",
            linewidth=1.1,
            zorder=2,
        )


def _speed(value: float) -> str:
    """Return a velocity with its unit."""
    return quantity_text("", float(value), "m/s")


def _plan_reading(result: Result, plan: FloatArray) -> str:
    """Return one sentence on the plan."""
    low, high = float(np.nanmin(plan)), float(np.nanmax(plan))
    text = (
        f"At {number(1000.0 * result.measure_height)} mm above the work surface the downflow lies "
        f"between {_speed(low)} and {_speed(high)}, mean {_speed(float(np.nanmean(plan)))}"
    )
    return text + (": somewhere the air rises." if low < -NOTHING else ".")


def _plan_line(result: Result, plan: FloatArray) -> Sheet:
    """Draw the downflow of a single section as a line."""
    case = result.case
    along_y = plan.shape[0] == 1
    values = plan.ravel()
    length = case.chamber.depth if along_y else case.chamber.width
    place = (np.arange(values.size) + 0.5) * length / values.size
    title = "How even is the downflow over the work surface?"
    figure = new_figure(3.6)
    axes = figure.add_subplot()
    axes.plot(place, values, color=COLOURS[0], lw=1.8, label="downward velocity")
    mean = float(np.nanmean(values))
    axes.axhline(mean, color="#555555", ls="--", lw=1.0, label=f"mean {_speed(mean)}")
    axes.axhline(0.0, color="#222222", lw=0.8)
    axes.set(
        xlabel="depth, front at 0 [m]" if along_y else "width, left at 0 [m]",
        ylabel="downward velocity [m/s]",
        xlim=(0.0, length),
    )
    axes.grid(True)
    axes.legend(loc="best")
    axes.set_title(title)
    return Sheet("downflow_plan", title, _plan_reading(result, plan), figure)


def downflow_plan(result: Result) -> Sheet | None:
    """Draw the downward velocity at the measuring height, seen from above.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no downflow; a line where the chamber is a single section.
    """
    plan = result.downflow
    if plan is None or not np.any(np.isfinite(plan)):
        return None
    if min(plan.shape) == 1:
        return _plan_line(result, plan)
    chamber = result.case.chamber
    size = (chamber.width, chamber.depth)
    title = "How even is the downflow over the work surface?"
    mean = _speed(float(np.nanmean(plan)))
    height = number(1000.0 * result.measure_height)
    note = f"mean {mean} at {height} mm above it; dashed: filter; orange: opening"
    figure, axes, bar = map_axes(size, title, note)
    image = axes.imshow(
        plan.T, origin="lower", extent=(0.0, size[0], 0.0, size[1]), interpolation="nearest"
    )
    _plan_parts(axes, result, _plan_marks(axes, plan, size))
    plan_openings(axes, result.case)
    colour_bar(bar, image, "downward velocity [m/s]")
    axes.set(xlabel="front side: width from the left [m]", ylabel="depth, front at 0 [m]")
    axes.set(xlim=(0.0, size[0]), ylim=(0.0, size[1]))
    return Sheet("downflow_plan", title, _plan_reading(result, plan), figure)
