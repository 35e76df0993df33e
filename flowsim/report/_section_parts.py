"""What every section shows: walls with their openings, filter, work surface, plenum, solids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes

from flowsim.case.schema import Case
from flowsim.report._kit import HALO, SOLID, WALL, add_box, solid_parts
from flowsim.report._labels import Labels, round_box, shorter
from flowsim.report._views import View, open_gaps
from flowsim.simulate.result import Result

__all__ = ["Frame", "draw_section", "section_axes", "section_frame", "section_place"]

SMALL = 8.5
NARROW = 290.0  # pixels


@dataclass(frozen=True)
class Frame:
    """Limits of a section's picture.

    Parameters
    ----------
    x, z : tuple of float
        Along the horizontal and the vertical. [m]
    """

    x: tuple[float, float]
    z: tuple[float, float]

    @property
    def span(self) -> tuple[float, float]:
        """Size. [m]"""
        return self.x[1] - self.x[0], self.z[1] - self.z[0]


def section_frame(case: Case, view: View) -> Frame:
    """Return limits within which walls, filter, plenum and openings show.

    Parameters
    ----------
    case : Case
        The case. [SI]
    view : View
        The section. [m]

    Returns
    -------
    Frame
        Limits.
    """
    length, height = view.span
    below = case.plenum.height if case.plenum is not None else 0.0
    gaps = [line for _, line in open_gaps(case, view)]
    sides = [
        (0.16 if any((line[:, 0] == at).all() for line in gaps) else 0.02) * max(length, 0.6)
        for at in (0.0, length)
    ]
    return Frame((-sides[0], length + sides[1]), (-below - 0.02 * height, 1.12 * height))


def section_place(view: View) -> str:
    """Return in words where a section cuts."""
    return f"cut at {1000 * view.place:.0f} mm from the {'left' if view.across == 0 else 'front'}"


def _upright(axes: Axes, case: Case, view: View, at: float) -> None:
    """Draw a side wall with its openings."""
    length, height = view.span
    level = 0.0
    gaps = [(line, item.label) for item, line in open_gaps(case, view) if (line[:, 0] == at).all()]
    for line, label in sorted(gaps, key=lambda gap: float(gap[0][0, 1])):
        bottom, top = line[:, 1]
        axes.plot([at, at], [level, bottom], **WALL)
        shift, side = (-0.012, "right") if at == 0.0 else (0.012, "left")
        axes.text(
            at + shift * length,
            0.5 * (bottom + top),
            f"opening\n{label}",
            ha=side,
            va="center",
            fontsize=SMALL,
        )
        level = top
    axes.plot([at, at], [level, height], **WALL)


def _ceiling(axes: Axes, result: Result, view: View) -> None:
    """Draw the ceiling with the filter in it."""
    length, height = view.span
    axes.plot([0.0, length], [height, height], **WALL)
    patch = result.filter_patch
    if patch is None:
        return
    start, end = (patch[2], patch[3]) if view.across == 0 else (patch[0], patch[1])
    thick = 0.045 * height
    add_box(
        axes,
        (start, height),
        (end - start, thick),
        facecolor="#cfe3f5",
        edgecolor="#222222",
        hatch="||||",
        linewidth=0.8,
        clip_on=False,
    )
    middle, top = 0.5 * (start + end), height + 1.2 * thick
    axes.text(middle, top, "supply filter", ha="center", va="bottom", fontsize=SMALL)


def _floor(axes: Axes, case: Case, view: View) -> None:
    """Draw the work surface and the plenum below it."""
    length = view.span[0]
    if case.plenum is None or case.work_surface is None:
        axes.plot([0.0, length], [0.0, 0.0], **WALL)
        return
    zone = case.work_surface.zone
    start, size = 0.0, length
    if zone is not None:
        side = view.across == 0
        start, size = (zone.offset_y, zone.depth) if side else (zone.offset_x, zone.width)
    axes.plot([0.0, length], [0.0, 0.0], color="#222222", linewidth=0.8)
    axes.plot([start, start + size], [0.0, 0.0], color="#222222", lw=3.0, ls=(0, (2.0, 1.0)))
    depth = case.plenum.height
    axes.plot([0.0, 0.0, length, length], [0.0, -depth, -depth, 0.0], color="#222222", lw=1.2)
    ends = axes.transData.transform([(0.0, 0.0), (length, 0.0)])
    narrow = ends[1, 0] - ends[0, 0] < NARROW
    text = "plenum" if narrow else "plenum under the perforated work surface"
    axes.text(0.5 * length, -0.5 * depth, text, ha="center", va="center", fontsize=SMALL)


def _boxes_in(case: Case, view: View) -> list[tuple[str, float, float, float, float]]:
    """Return label, start, size, bottom and height of what the section passes through."""
    found = []
    for item in solid_parts(case):
        across, along = (item.offset_x, item.width), (item.offset_y, item.depth)
        if view.across == 1:
            across, along = along, across
        if view.holds(across[0], across[0] + across[1]):
            bottom = float(getattr(item, "bottom", 0.0))
            found.append((item.label, *along, bottom, item.height))
    return found


def _section_boxes(axes: Axes, case: Case, view: View, labels: Labels | None) -> None:
    """Draw compartments and objects in the section."""
    for label, start, size, bottom, height in _boxes_in(case, view):
        add_box(axes, (start, bottom), (size, height), zorder=3, **SOLID)
        middle, level = start + 0.5 * size, bottom + 0.5 * height
        if labels is None:
            look: dict[str, Any] = {"fontsize": 8.0, "bbox": HALO, "zorder": 4}
            axes.text(middle, level, label, ha="center", va="center", **look)
            continue
        edge = 0.03 * view.span[1]
        spots = [
            (middle, level, "center", "center"),
            (middle, bottom + height - edge, "center", "top"),
        ]
        around = round_box((start, start + size), (bottom, bottom + height), 0.3 * edge)
        labels.add(shorter(label), [*spots, *around])


def section_axes(axes: Axes, view: View, frame: Frame) -> None:
    """Set labels, ticks and limits of a section.

    Parameters
    ----------
    axes : Axes
        Section in metres. [m]
    view : View
        The section. [m]
    frame : Frame
        Its limits. [m]
    """
    along = "depth, front at 0" if view.across == 0 else "width, left at 0"
    axes.set(xlabel=f"{along} [m]", ylabel="height above the work surface [m]")
    axes.set(xlim=frame.x, ylim=frame.z)
    for ticks, size in ((axes.xaxis, view.span[0]), (axes.yaxis, view.span[1])):
        ticks.set_ticks([at for at in ticks.get_ticklocs() if 0.0 <= at <= 1.001 * size])
    axes.set(xlim=frame.x, ylim=frame.z)
    axes.spines[:].set_visible(False)


def draw_section(axes: Axes, result: Result, view: View, labels: Labels | None = None) -> None:
    """Draw walls, openings, filter, work surface, plenum and solids of a section.

    Parameters
    ----------
    axes : Axes
        Section in metres, its limits set. [m]
    result : Result
        Result of one case. [SI]
    view : View
        The section. [m]
    labels : Labels or None
        Where the names of solids go; None puts them into their middle. [-]
    """
    for at in (0.0, view.span[0]):
        _upright(axes, result.case, view, at)
    _ceiling(axes, result, view)
    _floor(axes, result.case, view)
    _section_boxes(axes, result.case, view, labels)
