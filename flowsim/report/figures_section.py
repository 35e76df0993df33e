"""Figure of the chamber from the side: speed, streamlines and parts in one section."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.image import AxesImage
from matplotlib.patheffects import withStroke

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.chamber.potential import Field
from flowsim.chamber.streamlines import section_flow, section_streamlines
from flowsim.chamber.velocity import cell_velocity
from flowsim.report._kit import Sheet, colour_bar, map_axes
from flowsim.report._section_parts import draw_section, section_axes, section_frame, section_place
from flowsim.report._units import number
from flowsim.report._views import View, section_view
from flowsim.simulate.result import Result

__all__ = ["side_section"]

STREAMLINES = 14
OUTLINE = [withStroke(linewidth=2.4, foreground="#00000099")]


@dataclass(frozen=True)
class _Cut:
    """A section of the chamber with the speed in it and lines along the air."""

    view: View
    speed: FloatArray
    lines: list[FloatArray]
    step: float


def _cut(case: Case, field: Field) -> _Cut:
    """Return the section through the first tray or object, or through the middle."""
    grid = field.grid
    view = section_view(case, grid)
    speed: FloatArray = np.sqrt(sum(view.of(part) ** 2 for part in cell_velocity(field)))
    if grid.solid is not None:
        speed = np.where(np.take(grid.solid, view.station, axis=view.across), np.nan, speed)
    flow = section_flow(field, 1 - view.across, view.station)
    lines, step = section_streamlines(flow, STREAMLINES)
    return _Cut(view, speed, lines, step)


def _section_image(axes: Axes, cut: _Cut) -> AxesImage:
    """Draw the speed."""
    return axes.imshow(
        cut.speed.T,
        origin="lower",
        extent=cut.view.extent,
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


def _section_reading(result: Result, cut: _Cut) -> str:
    """Return one sentence on the section."""
    high = number(float(np.nanmax(cut.speed)), 2)
    where, along = ("x", "width") if cut.view.across == 0 else ("y", "depth")
    place = number(1000.0 * cut.view.place)
    return (
        f"Section at {where} = {place} mm: speeds up to {high} m/s; between "
        f"two neighbouring streamlines {number(3600.0 * cut.step, 2)} m3/h enter per metre of "
        f"{along}; air that moves sideways out of the section "
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
    view = cut.view
    side = view.across == 0
    title = f"Which way does the air go, seen from the {'side' if side else 'front'}?"
    frame = section_frame(result.case, view)
    share = f"{number(3600.0 * cut.step, 2)} m3/h per metre of {'width' if side else 'depth'}"
    note = f"{section_place(view)}; {share} enter between two streamlines"
    figure, axes, bar = map_axes(frame.span, title, note)
    image = _section_image(axes, cut)
    _streamlines(axes, cut)
    section_axes(axes, view, frame)
    draw_section(axes, result, view)
    colour_bar(bar, image, "speed [m/s]")
    return Sheet("side_section", title, _section_reading(result, cut), figure)
