"""Figures of the chamber: the section from the side and the plan of the downflow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.image import AxesImage

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity, stream_function
from flowsim.report._kit import COLOURS, Sheet, add_box, colour_bar, new_figure
from flowsim.report._units import number, quantity_text
from flowsim.simulate.result import Result

__all__ = ["downflow_plan", "side_section"]

SOLID = {"facecolor": "#d9d9d9", "edgecolor": "#555555", "hatch": "////", "linewidth": 0.8}
WALL = {"color": "#222222", "linewidth": 2.4, "solid_capstyle": "butt"}
HALO = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "boxstyle": "round,pad=0.15"}
STREAMLINES = 14


@dataclass(frozen=True)
class _Cut:
    """A section of the chamber: along y at one x (axis 1), or along x at one y (axis 0)."""

    axis: int
    place: float
    length: float
    height: float
    speed: FloatArray
    stream: FloatArray
    edges: tuple[FloatArray, FloatArray]


def _cut(field: Field) -> _Cut:
    """Return the section at the middle station."""
    grid = field.grid
    axis = 0 if grid.ny == 1 else 1
    station = (grid.nx if axis == 1 else grid.ny) // 2
    velocity = cell_velocity(field)
    pick = np.s_[station] if axis == 1 else np.s_[:, station]
    speed = np.sqrt(sum(part[pick] ** 2 for part in velocity))
    if grid.solid is not None:
        speed = np.where(grid.solid[pick], np.nan, speed)
    edges = (grid.edges[axis], grid.edges[2])
    place = float(grid.centres[1 - axis][station])
    stream = stream_function(field, "x" if axis == 1 else "y", station)
    length = grid.depth if axis == 1 else grid.width
    return _Cut(axis, place, length, grid.height, speed, stream, edges)


def _section_image(axes: Axes, cut: _Cut) -> AxesImage:
    """Draw the speed."""
    return axes.imshow(
        cut.speed.T,
        origin="lower",
        extent=(0.0, cut.length, 0.0, cut.height),
        interpolation="nearest",
        vmin=0.0,
        zorder=1,
    )


def _streamlines(axes: Axes, cut: _Cut) -> float:
    """Draw streamlines; return the flow between neighbours. [m3/s per m]."""
    low, high = float(np.nanmin(cut.stream)), float(np.nanmax(cut.stream))
    step = (high - low) / STREAMLINES
    if step <= 0.0:
        return 0.0
    levels = low + step * np.arange(1, STREAMLINES)
    lines = axes.contour(
        *cut.edges, cut.stream.T, levels, colors="white", linewidths=0.9, linestyles="solid"
    )
    lines.set_zorder(2)
    shown = {level: number((level - low) * 3600.0) for level in levels[1::3]}
    for text in axes.clabel(lines, levels[1::3], fmt=shown, fontsize=7.5, inline=True):
        text.set_color("white")
    return step


def _wall_gaps(case: Case, wall: str, cut: _Cut) -> list[tuple[float, float, str]]:
    """Return bottom, top and label of what is cut into a wall at the section."""
    gaps = []
    for opening in case.openings:
        inside = opening.offset <= cut.place <= opening.offset + opening.width
        if opening.wall == wall and opening.state == "open" and inside:
            gaps.append((opening.bottom, opening.bottom + opening.height, opening.label))
    return sorted(gaps)


def _upright(axes: Axes, case: Case, wall: str, cut: _Cut) -> None:
    """Draw a side wall with its openings."""
    at = 0.0 if wall in ("front", "left") else cut.length
    level = 0.0
    for bottom, top, label in _wall_gaps(case, wall, cut):
        axes.plot([at, at], [level, bottom], **WALL)
        shift, side = (-0.012, "right") if at == 0.0 else (0.012, "left")
        axes.text(
            at + shift * cut.length, 0.5 * (bottom + top), f"opening\n{label}",
            ha=side, va="center", fontsize=8.5,
        )
        level = top
    axes.plot([at, at], [level, cut.height], **WALL)


def _ceiling(axes: Axes, result: Result, cut: _Cut) -> None:
    """Draw the ceiling with the filter in it."""
    axes.plot([0.0, cut.length], [cut.height, cut.height], **WALL)
    patch = result.filter_patch
    if patch is None:
        return
    start, end = (patch[2], patch[3]) if cut.axis == 1 else (patch[0], patch[1])
    thick = 0.045 * cut.height
    add_box(
        axes, (start, cut.height), (end - start, thick),
        facecolor="#cfe3f5", edgecolor="#222222", hatch="||||", linewidth=0.8, clip_on=False,
    )
    axes.text(
        0.5 * (start + end), cut.height + 1.2 * thick, "supply filter",
        ha="center", va="bottom", fontsize=8.5,
    )


def _floor(axes: Axes, case: Case, cut: _Cut) -> None:
    """Draw the work surface and the plenum below it."""
    if case.plenum is None or case.work_surface is None:
        axes.plot([0.0, cut.length], [0.0, 0.0], **WALL)
        return
    zone = case.work_surface.zone
    start, size = 0.0, cut.length
    if zone is not None:
        start, size = (
            (zone.offset_y, zone.depth) if cut.axis == 1 else (zone.offset_x, zone.width)
        )
    axes.plot([0.0, cut.length], [0.0, 0.0], color="#222222", linewidth=0.8)
    axes.plot([start, start + size], [0.0, 0.0], color="#222222", lw=3.0, ls=(0, (2.0, 1.0)))
    depth = case.plenum.height
    axes.plot(
        [0.0, 0.0, cut.length, cut.length], [0.0, -depth, -depth, 0.0], color="#222222", lw=1.2
    )
    axes.text(
        0.5 * cut.length, -0.5 * depth, "plenum under the perforated work surface",
        ha="center", va="center", fontsize=8.5,
    )


def _boxes_in(case: Case, cut: _Cut) -> list[tuple[str, float, float, float, float]]:
    """Return label, start, size, bottom and height of what the section passes through."""
    found = []
    for item in (*case.compartments, *case.objects):
        across = (item.offset_x, item.width) if cut.axis == 1 else (item.offset_y, item.depth)
        along = (item.offset_y, item.depth) if cut.axis == 1 else (item.offset_x, item.width)
        if across[0] <= cut.place <= across[0] + across[1]:
            bottom = float(getattr(item, "bottom", 0.0))
            found.append((item.label, *along, bottom, item.height))
    return found


def _section_reading(result: Result, cut: _Cut, step: float) -> str:
    """Return one sentence on the section."""
    high = number(float(np.nanmax(cut.speed)), 2)
    where = "x" if cut.axis == 1 else "y"
    return (
        f"Section at {where} = {number(1000.0 * cut.place)} mm: speeds up to {high} m/s; between "
        f"two neighbouring white lines {number(3600.0 * step)} m3/h pass per metre of "
        f"{'width' if cut.axis == 1 else 'depth'}."
        + (" Near an inward front the lines are indicative." if _draws_in(result) else "")
    )


def _draws_in(result: Result) -> bool:
    """Return whether any part of an opening draws room air in."""
    return any(bool(np.any(item.inflow > 0.0)) for item in result.openings)


def side_section(result: Result) -> Sheet | None:
    """Draw the section at the middle station: speed, streamlines, parts.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no field.
    """
    if result.field is None:
        return None
    cut = _cut(result.field)
    title = "Which way does the air go, seen from the side?"
    figure = new_figure(6.4, 8.0)
    axes = figure.add_subplot()
    image = _section_image(axes, cut)
    step = _streamlines(axes, cut)
    for wall in ("front", "back") if cut.axis == 1 else ("left", "right"):
        _upright(axes, result.case, wall, cut)
    _ceiling(axes, result, cut)
    _floor(axes, result.case, cut)
    for label, start, size, bottom, height in _boxes_in(result.case, cut):
        add_box(axes, (start, bottom), (size, height), zorder=3, **SOLID)
        axes.text(
            start + 0.5 * size, bottom + 0.5 * height, label,
            ha="center", va="center", fontsize=8.0, bbox=HALO, zorder=4,
        )
    _section_frame(axes, result.case, cut)
    colour_bar(axes, image, "speed [m/s]")
    along = "depth, front at 0" if cut.axis == 1 else "width, left at 0"
    axes.set(xlabel=f"{along} [m]", ylabel="height above the work surface [m]")
    axes.set_title(title + "\n", pad=8.0)
    per = "width" if cut.axis == 1 else "depth"
    axes.annotate(
        f"white: streamlines, {number(3600.0 * step)} m3/h per metre of {per} between two",
        (0.0, 1.0), (0.0, 26.0), xycoords="axes fraction", textcoords="offset points", fontsize=9.0,
    )
    return Sheet("side_section", title, _section_reading(result, cut, step), figure)


def _section_frame(axes: Axes, case: Case, cut: _Cut) -> None:
    """Set the limits so that walls, filter and plenum show."""
    below = case.plenum.height if case.plenum is not None else 0.0
    side = 0.02 * cut.length
    if any(_wall_gaps(case, wall, cut) for wall in ("front", "left")):
        side = 0.12 * cut.length
    axes.set_xlim(-side, 1.02 * cut.length)
    axes.set_ylim(-below - 0.02 * cut.height, 1.06 * cut.height)
    axes.set_aspect("equal")
    axes.spines[:].set_visible(False)


def _plan_marks(axes: Axes, plan: FloatArray, size: tuple[float, float]) -> None:
    """Mark where the downflow is least and most."""
    for find, word, sign in ((np.nanargmin, "least", "v"), (np.nanargmax, "most", "^")):
        ix, iy = np.unravel_index(int(find(plan)), plan.shape)
        x = (ix + 0.5) * size[0] / plan.shape[0]
        y = (iy + 0.5) * size[1] / plan.shape[1]
        right = x < 0.6 * size[0]
        axes.plot(x, y, sign, color="white", markeredgecolor="black", markersize=8.5, zorder=5)
        axes.annotate(
            f"{word} {number(float(plan[ix, iy]))} m/s", (x, y),
            (9 if right else -9, 0), textcoords="offset points",
            ha="left" if right else "right", va="center", fontsize=8.5, bbox=HALO, zorder=6,
        )


def _plan_parts(axes: Axes, result: Result) -> None:
    """Draw compartments and objects that reach the measuring height, and the filter's outline."""
    for item in (*result.case.compartments, *result.case.objects):
        bottom = float(getattr(item, "bottom", 0.0))
        reaches = bottom <= result.measure_height <= bottom + item.height
        look = SOLID if reaches else {"fill": False, "edgecolor": "white", "linestyle": ":"}
        add_box(axes, (item.offset_x, item.offset_y), (item.width, item.depth), zorder=3, **look)
        axes.text(
            item.offset_x + 0.5 * item.width, item.offset_y + 0.5 * item.depth,
            item.label + ("" if reaches else "\n(lower)"),
            ha="center", va="center", fontsize=8.0, bbox=HALO, zorder=4,
        )
    if result.filter_patch is not None:
        x0, x1, y0, y1 = result.filter_patch
        add_box(
            axes, (x0, y0), (x1 - x0, y1 - y0),
            fill=False, edgecolor="white", linestyle="--", linewidth=1.1, zorder=2,
        )


def _plan_reading(result: Result, plan: FloatArray) -> str:
    """Return one sentence on the plan."""
    mean = float(np.nanmean(plan))
    low, high = float(np.nanmin(plan)), float(np.nanmax(plan))
    text = (
        f"At {number(1000.0 * result.measure_height)} mm above the work surface the downflow lies "
        f"between {number(low)} and {number(high)} m/s, mean {number(mean)} m/s"
    )
    return text + (": somewhere the air rises." if low < 0.0 else ".")


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
    axes.axhline(mean, color="#555555", ls="--", lw=1.0, label=f"mean {number(mean)} m/s")
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
    figure = new_figure(1.6 + 7.0 * min(size[1] / size[0], 1.0))
    axes = figure.add_subplot()
    image = axes.imshow(
        plan.T, origin="lower", extent=(0.0, size[0], 0.0, size[1]), interpolation="nearest"
    )
    _plan_parts(axes, result)
    _plan_marks(axes, plan, size)
    colour_bar(axes, image, "downward velocity [m/s]")
    axes.set(xlabel="width, front side below [m]", ylabel="depth, front at 0 [m]")
    axes.set_aspect("equal")
    axes.set_xlim(0.0, size[0])
    axes.set_ylim(0.0, size[1])
    mean = quantity_text("", float(np.nanmean(plan)), "m/s")
    height = number(1000.0 * result.measure_height)
    axes.set_title(f"{title}\nmean {mean} at {height} mm; dashed: filter above")
    return Sheet("downflow_plan", title, _plan_reading(result, plan), figure)
