"""Figures of where room air gets in, and of where the air is stale."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.report._divide import Divide, divide_handles, divide_of, draw_divide
from flowsim.report._kit import Sheet
from flowsim.report._labels import Labels, round_box
from flowsim.report._panels import legend_below, panels
from flowsim.report._plan_parts import (
    draw_openings,
    draw_places,
    draw_solids,
    label_places,
    opening_handle,
    place_handles,
    plan_axes,
    plan_place,
    solid_stretches,
)
from flowsim.report._section_parts import (
    Frame,
    draw_section,
    section_axes,
    section_frame,
    section_place,
)
from flowsim.report._share_map import (
    INGRESS,
    draw_shares,
    power,
    ramp_bar,
    share_bar,
)
from flowsim.report._units import number
from flowsim.report._views import View, plan_view, section_view
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import Transport, WorkpieceResult

__all__ = ["ingress_plan", "ingress_section"]

PARTS = "room air, or supply air"
WORDS = "arms, wakes and the jet of an inward front are not in this map"
SHOWN = 99.5  # percent of the cells that the scale of the age covers


def _worst(view: View, values: FloatArray) -> float:
    """Return the largest share in the layer. [-]."""
    return float(np.nanmax(view.of(values)))


def _middle(view: View, values: FloatArray) -> float:
    """Return the median share of the layer. [-]."""
    return float(np.nanmedian(view.of(values)))


def _eddies(transport: Transport, view: View, what: str) -> str:
    """Return the assumption and what it does, in words."""
    maps = transport.ingress
    half, double = power(_middle(view, maps.half_eddy)), power(_middle(view, maps.double_eddy))
    return (
        f"In use: eddies of {transport.eddy['in use']:.2g} m2/s, an assumption. Room air in the "
        f"median cell of the {what}: {power(_middle(view, maps.in_use))} (with eddies halved "
        f"{half}, doubled {double}); in the worst cell: {power(_worst(view, maps.in_use))}."
    )


def _air_text(item: WorkpieceResult) -> str:
    """Return the share of room air over a workpiece."""
    return f": {power(item.room_air.value)}"


def _age_text(item: WorkpieceResult) -> str:
    """Return the age of the air over a workpiece."""
    return f": {number(item.age, 2)} s"


def _shares(axes: Axes, bar: Axes | None, transport: Transport, view: View, divide: Divide) -> None:
    """Draw the share, the line between room air and supply air, and its band."""
    assert bar is not None
    share_bar(bar, INGRESS)
    draw_shares(axes, view, transport.ingress.in_use, INGRESS)
    draw_divide(axes, divide)


def _reading(transport: Transport, view: View, where: str) -> str:
    """Return one sentence on room air in a layer."""
    maps = transport.ingress
    text = f"{where} the share of room air is {power(_worst(view, maps.in_use))} at its worst"
    if transport.workpieces:
        worst = max(transport.workpieces, key=lambda item: item.room_air.value)
        air = worst.room_air
        text += (
            f" and {power(air.value)} over the worst workpiece, {worst.label} "
            f"({power(air.highest)} with all that is assumed at its worst)"
        )
    return f"{text}; arms, wakes and the jet of an inward front are not in it."


def ingress_plan(result: Result) -> Sheet | None:
    """Draw the share of room air in the air over the work surface.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without transport and for a single section.
    """
    transport, field = result.transport, result.field
    if transport is None or field is None:
        return None
    view = plan_view(field.grid, transport.ingress.in_use)
    if view is None:
        return None
    title = "Where on the work surface does room air get in?"
    divide = divide_of(result.case, view, transport.ingress.mean_flow)
    items = transport.workpieces
    handles = [
        *divide_handles(divide, PARTS),
        INGRESS.below_patch,
        *place_handles(view, items),
        opening_handle(),
    ]
    note = f"{plan_place(view)}. {_eddies(transport, view, 'layer')}"
    sheet = panels([view.span], title, note, legend_rows=(len(handles) + 1) // 2)
    axes = sheet.maps[0]
    _shares(axes, sheet.bars[0], transport, view, divide)
    plan_axes(axes, view)
    labels = Labels(axes, view.span)
    draw_openings(axes, result, view, labels)
    draw_places(axes, view, items, labels)
    labels.words(WORDS, solid_stretches(result))
    label_places(view, items, labels, _air_text)
    draw_solids(axes, result, view, labels)
    legend_below(sheet.figure, handles, 2)
    reading = _reading(transport, view, "At the work surface")
    return Sheet("ingress_plan", title, reading, sheet.figure)


def _age(axes: Axes, bar: Axes | None, view: View, age: FloatArray) -> None:
    """Draw the age of the air and mark where it is oldest."""
    assert bar is not None
    layer = view.of(age)
    high = max(float(np.nanpercentile(layer, SHOWN)), 1e-9)
    axes.imshow(
        np.ma.masked_invalid(layer).T,
        origin="lower",
        extent=view.extent,
        interpolation="nearest",
        vmin=0.0,
        vmax=high,
        zorder=1,
    )
    ramp_bar(bar, high, "mean age of the air [s]")


def _oldest(view: View, age: FloatArray) -> tuple[float, float, float]:
    """Return where the air of the layer is oldest [m], and its age [s]."""
    layer = view.of(age)
    i, j = np.unravel_index(int(np.nanargmax(layer)), layer.shape)
    return float(view.centres[0][i]), float(view.centres[1][j]), float(layer[i, j])


def _mark_oldest(axes: Axes, labels: Labels, view: View, age: FloatArray) -> None:
    """Mark where the air is oldest."""
    x, y, value = _oldest(view, age)
    axes.plot(x, y, "v", color="white", markeredgecolor="black", markersize=8.0, zorder=6)
    gap = 0.025 * max(view.span)
    labels.block((x - gap, x + gap), (y - gap, y + gap))
    spots = list(round_box((x - gap, x + gap), (y - gap, y + gap), 0.2 * gap))
    labels.add(f"oldest {number(value, 2)} s", spots)


def _age_reading(transport: Transport, view: View) -> str:
    """Return one sentence on the age of the air."""
    x, y, value = _oldest(view, transport.age)
    along = "from the front" if view.across == 0 else "from the left"
    text = (
        f" The oldest air of the section, {number(value, 2)} s, stands {1000 * x:.0f} mm {along} "
        f"at a height of {1000 * y:.0f} mm"
    )
    recovery = transport.recovery
    if recovery is not None and recovery.piston_time is not None:
        text += f"; the supply fills the chamber once in {number(recovery.piston_time, 2)} s"
    return f"{text}."


def _section_panel(axes: Axes, result: Result, view: View, frame: Frame) -> Labels:
    """Draw the workpieces of a section; return what keeps labels apart."""
    section_axes(axes, view, frame)
    labels = Labels(axes, view.span)
    assert result.transport is not None
    draw_places(axes, view, result.transport.workpieces, labels)
    return labels


def ingress_section(result: Result) -> Sheet | None:
    """Draw the share of room air and the age of the air in a section.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without transport.
    """
    transport, field = result.transport, result.field
    if transport is None or field is None:
        return None
    view = section_view(result.case, field.grid)
    frame = section_frame(result.case, view)
    title = "How high does room air reach in, and where is the air stale?"
    place = section_place(view)
    note = f"{place[0].upper()}{place[1:]}. {_eddies(transport, view, 'section')}"
    divide = divide_of(result.case, view, transport.ingress.mean_flow)
    places = place_handles(view, transport.workpieces)
    handles = [*divide_handles(divide, PARTS), INGRESS.below_patch, *places]
    rows = (len(handles) + 1) // 2
    sheet = panels([frame.span, frame.span], title, note, (True, True), legend_rows=rows)
    share, stale = sheet.maps
    _shares(share, sheet.bars[0], transport, view, divide)
    labels = _section_panel(share, result, view, frame)
    labels.words(WORDS)
    label_places(view, transport.workpieces, labels, _air_text)
    draw_section(share, result, view, labels)
    _age(stale, sheet.bars[1], view, transport.age)
    labels = _section_panel(stale, result, view, frame)
    _mark_oldest(stale, labels, view, transport.age)
    label_places(view, transport.workpieces, labels, _age_text)
    draw_section(stale, result, view, labels)
    legend_below(sheet.figure, handles, 2)
    reading = _reading(transport, view, "In the section") + _age_reading(transport, view)
    return Sheet("ingress_section", title, reading, sheet.figure)
