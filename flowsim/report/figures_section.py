"""Figure of the chamber from the side: speed, streamlines and parts in one section."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.image import AxesImage
from matplotlib.patheffects import withStroke

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case, Compartment, Object
from flowsim.chamber.potential import Field
from flowsim.chamber.streamlines import section_flow, section_streamlines
from flowsim.chamber.velocity import cell_velocity
from flowsim.report._kit import HALO, SOLID, WALL, Sheet, add_box, colour_bar, map_axes, solid_parts
from flowsim.report._units import number
from flowsim.simulate.result import Result

__all__ = ["side_section"]

STREAMLINES = 14
OUTLINE = [withStroke(linewidth=2.4, foreground="#00000099")]


@dataclass(frozen=True)
class _Cut:
    """A section of the chamber: along y at one x (axis 1), or along x at one y (axis 0)."""

    axis: int
    place: float
    length: float
    height: float
    speed: FloatArray
    lines: list[FloatArray]
    step: float


def _telling_place(case: Case, axis: int, length: float) -> float:
    """Return where a section shows most: through the first tray or object, else the middle. [m]"""
    items: tuple[Compartment | Object, ...] = (*case.compartments, *case.objects)
    for item in items:
        if axis == 1:
            return item.offset_x + 0.5 * item.width
        return item.offset_y + 0.5 * item.depth
    return 0.5 * length


def _cut(case: Case, field: Field) -> _Cut:
    """Return the section through the first tray or object, or through the middle."""
    grid = field.grid
    axis = 0 if grid.ny == 1 else 1
    count = grid.nx if axis == 1 else grid.ny
    across = grid.width if axis == 1 else grid.depth
    station = min(int(_telling_place(case, axis, across) / across * count), count - 1)
    velocity = cell_velocity(field)
    pick = np.s_[station] if axis == 1 else np.s_[:, station]
    speed = np.sqrt(sum(part[pick] ** 2 for part in velocity))
    if grid.solid is not None:
        speed = np.where(grid.solid[pick], np.nan, speed)
    place = float(grid.centres[1 - axis][station])
    lines, step = section_streamlines(section_flow(field, axis, station), STREAMLINES)
    length = grid.depth if axis == 1 else grid.width
    return _Cut(axis, place, length, grid.height, speed, lines, step)


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


def _streamlines(axes: Axes, cut: _Cut) -> None:
    """Draw lines along the air, each with an arrow half way."""
    lines = LineCollection(cut.lines, colors="white", linewidths=1.1, path_effects=OUTLINE)
    lines.set_zorder(2)
    axes.add_collection(lines, autolim=False)
    for line in cut.lines:
        middle = line.shape[0] // 2
        axes.annotate(
            "",
            xy=tuple(line[middle]),
            xytext=tuple(line[max(middle - 2, 0)]),
            arrowprops={"arrowstyle": "-|>", "color": "white", "mutation_scale": 11},
            zorder=3,
        )


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
            at + shift * cut.length,
            0.5 * (bottom + top),
            f"opening\n{label}",
            ha=side,
            va="center",
            fontsize=8.5,
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
        axes,
        (start, cut.height),
        (end - start, thick),
        facecolor="#cfe3f5",
        edgecolor="#222222",
        hatch="||||",
        linewidth=0.8,
        clip_on=False,
    )
    axes.text(
        0.5 * (start + end),
        cut.height + 1.2 * thick,
        "supply filter",
        ha="center",
        va="bottom",
        fontsize=8.5,
    )


def _floor(axes: Axes, case: Case, cut: _Cut) -> None:
    """Draw the work surface and the plenum below it."""
    if case.plenum is None or case.work_surface is None:
        axes.plot([0.0, cut.length], [0.0, 0.0], **WALL)
        return
    zone = case.work_surface.zone
    start, size = 0.0, cut.length
    if zone is not None:
        start, size = (zone.offset_y, zone.depth) if cut.axis == 1 else (zone.offset_x, zone.width)
    axes.plot([0.0, cut.length], [0.0, 0.0], color="#222222", linewidth=0.8)
    axes.plot([start, start + size], [0.0, 0.0], color="#222222", lw=3.0, ls=(0, (2.0, 1.0)))
    depth = case.plenum.height
    axes.plot(
        [0.0, 0.0, cut.length, cut.length], [0.0, -depth, -depth, 0.0], color="#222222", lw=1.2
    )
    axes.text(
        0.5 * cut.length,
        -0.5 * depth,
        "plenum under the perforated work surface",
        ha="center",
        va="center",
        fontsize=8.5,
    )


def _boxes_in(case: Case, cut: _Cut) -> list[tuple[str, float, float, float, float]]:
    """Return label, start, size, bottom and height of what the section passes through."""
    found = []
    for item in solid_parts(case):
        across = (item.offset_x, item.width) if cut.axis == 1 else (item.offset_y, item.depth)
        along = (item.offset_y, item.depth) if cut.axis == 1 else (item.offset_x, item.width)
        if across[0] <= cut.place <= across[0] + across[1]:
            bottom = float(getattr(item, "bottom", 0.0))
            found.append((item.label, *along, bottom, item.height))
    return found


def _section_reading(result: Result, cut: _Cut) -> str:
    """Return one sentence on the section."""
    high = number(float(np.nanmax(cut.speed)), 2)
    where = "x" if cut.axis == 1 else "y"
    return (
        f"Section at {where} = {number(1000.0 * cut.place)} mm: speeds up to {high} m/s; between "
        f"two neighbouring streamlines {number(3600.0 * cut.step, 2)} m3/h enter per metre of "
        f"{'width' if cut.axis == 1 else 'depth'}; air that moves sideways out of the section "
        "is not drawn."
        + (" Near an inward front the lines are indicative." if _draws_in(result) else "")
    )


def _draws_in(result: Result) -> bool:
    """Return whether any part of an opening draws room air in."""
    return any(bool(np.any(item.inflow > 0.0)) for item in result.openings)


def side_section(result: Result) -> Sheet | None:
    """Draw a section: speed, streamlines, parts.

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
    cut = _cut(result.case, result.field)
    view = "side" if cut.axis == 1 else "front"
    title = f"Which way does the air go, seen from the {view}?"
    frame = _Frame.of(result.case, cut)
    per = "width" if cut.axis == 1 else "depth"
    where = f"cut at {1000 * cut.place:.0f} mm from the {'left' if cut.axis == 1 else 'front'}"
    share = f"{number(3600.0 * cut.step, 2)} m3/h per metre of {per}"
    note = f"{where}; {share} enter between two streamlines"
    figure, axes, bar = map_axes(frame.span, title, note)
    image = _section_image(axes, cut)
    _streamlines(axes, cut)
    for wall in ("front", "back") if cut.axis == 1 else ("left", "right"):
        _upright(axes, result.case, wall, cut)
    _ceiling(axes, result, cut)
    _floor(axes, result.case, cut)
    _section_boxes(axes, result.case, cut)
    colour_bar(bar, image, "speed [m/s]")
    along = "depth, front at 0" if cut.axis == 1 else "width, left at 0"
    axes.set(xlabel=f"{along} [m]", ylabel="height above the work surface [m]")
    for ticks, size in ((axes.xaxis, cut.length), (axes.yaxis, cut.height)):
        ticks.set_ticks([at for at in ticks.get_ticklocs() if 0.0 <= at <= 1.001 * size])
    axes.set(xlim=frame.x, ylim=frame.z)
    axes.spines[:].set_visible(False)
    return Sheet("side_section", title, _section_reading(result, cut), figure)


def _section_boxes(axes: Axes, case: Case, cut: _Cut) -> None:
    """Draw compartments and objects in the section."""
    for label, start, size, bottom, height in _boxes_in(case, cut):
        add_box(axes, (start, bottom), (size, height), zorder=3, **SOLID)
        axes.text(
            start + 0.5 * size,
            bottom + 0.5 * height,
            label,
            ha="center",
            va="center",
            fontsize=8.0,
            bbox=HALO,
            zorder=4,
        )


@dataclass(frozen=True)
class _Frame:
    """Limits of the section's picture."""

    x: tuple[float, float]
    z: tuple[float, float]

    @property
    def span(self) -> tuple[float, float]:
        """Size. [m]."""
        return self.x[1] - self.x[0], self.z[1] - self.z[0]

    @classmethod
    def of(cls, case: Case, cut: _Cut) -> _Frame:
        """Return limits within which walls, filter, plenum and openings show."""
        below = case.plenum.height if case.plenum is not None else 0.0
        low, high = ("front", "back") if cut.axis == 1 else ("left", "right")
        sides = [
            (0.16 if _wall_gaps(case, wall, cut) else 0.02) * max(cut.length, 0.6)
            for wall in (low, high)
        ]
        return cls(
            (-sides[0], cut.length + sides[1]), (-below - 0.02 * cut.height, 1.12 * cut.height)
        )
