"""Figure of a plate with its holes, seen from above."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import EllipseCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS, HALO, Sheet, add_box, new_figure
from flowsim.report.drill_result import Floor, Part, Pattern
from flowsim.report.holes_result import HolePlan, Proposal
from flowsim.report.holes_words import pattern_words

__all__ = ["plate_plan"]

HOLE, UNDER, PORT, TUBE = "#22303c", COLOURS[6], COLOURS[0], COLOURS[6]
PLAN_WIDTH, PLAN_MARGINS = 8.6, (0.75, 0.35, 0.62, 0.95)  # inch: left, right, below, above
LETTER = 0.0085  # width of a letter of a label over that of the plate
EDGE = 0.03  # distance of a label to the edge of its part over the depth of the plate
MM = 1000.0


def _plate_axes(floor: Floor) -> tuple[Figure, Axes]:
    """Return a figure for the plate with equal scales."""
    left, right, low, high = PLAN_MARGINS
    scale = (PLAN_WIDTH - left - right) / floor.width
    tall = scale * floor.depth
    height = low + tall + high
    figure = new_figure(height, PLAN_WIDTH, constrained=False)
    axes = figure.add_axes(
        (
            left / PLAN_WIDTH,
            low / height,
            1.0 - (left + right) / PLAN_WIDTH,
            tall / height,
        )
    )
    return figure, axes


def _part_label(axes: Axes, part: Part, rows: FloatArray) -> None:
    """Write the name of what lies on the plate, between two rows of holes if there is room."""
    note = {"covered": "no holes", "piped": "no holes", "port": "below"}.get(part.kind, "")
    letters = max(int((part.x1 - part.x0) / (LETTER * axes.get_xlim()[1] / MM)), 8)
    lines = textwrap.wrap(f"{part.label} ({note})" if note else part.label, letters)
    axes.text(
        MM * 0.5 * (part.x0 + part.x1),
        MM * _label_height(part, rows),
        "\n".join(lines),
        ha="center",
        va="center",
        fontsize=8.2,
        bbox=HALO,
        zorder=6,
    )


def _label_height(part: Part, rows: FloatArray) -> float:
    """Return where the name of a part is written. [m]"""
    middle = 0.5 * (part.y0 + part.y1)
    between = 0.5 * (rows[1:] + rows[:-1])
    off = EDGE * (rows[-1] - rows[0])
    inside = between[(between > part.y0 + off) & (between < part.y1 - off)]
    return middle if part.kept_free or not inside.size else float(inside.max())


def _parts(axes: Axes, floor: Floor, rows: FloatArray) -> None:
    """Draw what lies on the plate, and the ports."""
    x0, x1, y0, y1 = floor.zone
    add_box(axes, (0.0, 0.0), (MM * floor.width, MM * floor.depth), fill=False, lw=1.6)
    if (x0, x1, y0, y1) != (0.0, floor.width, 0.0, floor.depth):
        add_box(
            axes, (MM * x0, MM * y0), (MM * (x1 - x0), MM * (y1 - y0)), fill=False, ls="--", lw=1.0
        )
    for part in (*floor.parts, *floor.bottom_ports):
        closed = part.kept_free
        look: dict[str, Any] = {"fill": closed, "facecolor": "#e8e8e8", "edgecolor": "#555555"}
        if part.kind == "port":
            look = {"fill": False, "edgecolor": PORT, "linestyle": "--", "linewidth": 1.6}
        size = (MM * (part.x1 - part.x0), MM * (part.y1 - part.y0))
        add_box(axes, (MM * part.x0, MM * part.y0), size, zorder=2, **look)
        _part_label(axes, part, rows)
    for wall, start, end in floor.port_walls:
        at = {"left": 0.0, "right": floor.width, "front": 0.0, "back": floor.depth}[wall]
        along, across = [MM * start, MM * end], [MM * at, MM * at]
        x, y = (across, along) if wall in ("left", "right") else (along, across)
        axes.plot(x, y, color=PORT, lw=5.0, solid_capstyle="butt", clip_on=False, zorder=5)


def _holes(axes: Axes, pattern: Pattern) -> None:
    """Draw every hole at its size."""
    under = np.array([bool(place) for place in pattern.place])
    places = MM * np.column_stack((pattern.x, pattern.y))
    size = MM * pattern.diameter
    for pick, colour in ((~under, HOLE), (under, UNDER)):
        count = int(pick.sum())
        if count:
            axes.add_collection(
                EllipseCollection(
                    [size] * count,
                    [size] * count,
                    [0.0] * count,
                    units="xy",
                    offsets=places[pick],
                    offset_transform=axes.transData,
                    facecolors=colour,
                    edgecolors="none",
                    zorder=4,
                )
            )


def plate_plan(plan: HolePlan, proposal: Proposal) -> Sheet:
    """Draw a plate with its holes, seen from above.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    proposal : Proposal
        The plate. [SI]

    Returns
    -------
    Sheet
        Every hole at its size.
    """
    floor, pattern = plan.floor, proposal.pattern
    title = {
        "even": "Where do the holes go?",
        "graded": "Where do the holes of the graded plate go?",
        "tube": "Where do the holes of the plate over the tube go?",
    }[proposal.kind]
    figure, axes = _plate_axes(floor)
    axes.set(xlim=(0.0, MM * floor.width), ylim=(0.0, MM * floor.depth))
    _holes(axes, pattern)
    _parts(axes, floor, np.unique(pattern.y))
    _tube(axes, floor, proposal)
    axes.set(xlabel="front side: from the left [mm]", ylabel="from the front [mm]")
    height = figure.get_size_inches()[1]
    at = 0.12 / PLAN_WIDTH
    figure.text(at, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    reading = f"{pattern_words(pattern)}."
    figure.text(at, 1.0 - 0.42 / height, reading, size=9.0, va="center")
    _plate_legend(figure, height, plan, proposal)
    names = {"even": "plate", "graded": "graded_plate", "tube": "plate_with_tube"}
    return Sheet(names[proposal.kind], title, f"{reading} Seen from above.", figure)


def _plate_legend(figure: Figure, height: float, plan: HolePlan, proposal: Proposal) -> None:
    """Say what the signs mean."""
    dot: dict[str, Any] = {"marker": "o", "ls": "none", "ms": 5.0}
    handles = [Line2D([], [], color=HOLE, label="hole", **dot)]
    if any(proposal.pattern.place):
        handles.append(
            Line2D([], [], color=UNDER, label="hole under a tray or an object: drill it too", **dot)
        )
    if plan.floor.port_walls:
        handles.append(Line2D([], [], color=PORT, lw=5.0, label="port below"))
    if proposal.tube is not None:
        handles.append(Line2D([], [], color=TUBE, lw=1.4, ls="--", label="tube below"))
    figure.legend(
        handles=handles,
        loc="center left",
        bbox_to_anchor=(0.02 / PLAN_WIDTH, 1.0 - 0.68 / height),
        ncols=4,
        handletextpad=0.4,
        columnspacing=1.4,
    )


def _tube(axes: Axes, floor: Floor, proposal: Proposal) -> None:
    """Draw the tube below the plate."""
    tube = proposal.tube
    if tube is None:
        return
    outer = tube.diameter + 2.0 * tube.wall_thickness
    left = any(wall == "left" for wall, _, _ in floor.port_walls) and not any(
        wall == "right" for wall, _, _ in floor.port_walls
    )
    start = 0.0 if left else floor.width - tube.length
    corner = (MM * start, MM * (tube.axis - 0.5 * outer))
    size = (MM * tube.length, MM * outer)
    add_box(axes, corner, size, fill=False, edgecolor=TUBE, linestyle="--", linewidth=1.4, zorder=5)
