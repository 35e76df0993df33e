"""Figures of where vapour that is released gets out, from above and in section."""

from __future__ import annotations

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.report._divide import Divide, divide_handles, divide_of, draw_divide
from flowsim.report._kit import Sheet
from flowsim.report._labels import Labels
from flowsim.report._panels import legend_below, panels
from flowsim.report._plan_parts import (
    Item,
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
from flowsim.report._section_parts import draw_section, section_axes, section_frame, section_place
from flowsim.report._share_map import (
    ESCAPE,
    draw_shares,
    percent,
    share_bar,
)
from flowsim.report._units import number
from flowsim.report._views import View, open_gaps, plan_view, section_view
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import Transport, WorkpieceResult

__all__ = ["escape_plan", "escape_section"]

TOLD = 0.01  # share whose area and reach are put into words
WORDS = "arms and wakes are not in this map"
PARTS = "to the room, or to plate and trays"
MOST = 0.999


def _over(view: View, values: FloatArray) -> float:
    """Return the part of the layer from which more than the told share gets out. [-]."""
    layer = view.of(values)
    known = np.isfinite(layer)
    return float((layer[known] > TOLD).mean())


def _reach(result: Result, view: View, values: FloatArray) -> float | None:
    """Return how far from an opening more than the told share gets out; None without one. [m]."""
    gaps = [line for _, line in open_gaps(result.case, view)]
    i, j = np.nonzero(np.nan_to_num(view.of(values)) > TOLD)
    if not gaps or not i.size:
        return None
    points = np.concatenate([np.linspace(line[0], line[1], 81) for line in gaps])
    square = np.subtract.outer(view.centres[0][i], points[:, 0]) ** 2
    square += np.subtract.outer(view.centres[1][j], points[:, 1]) ** 2
    return float(np.sqrt(square.min(axis=1).max()))


def _eddies(transport: Transport, view: View, what: str) -> str:
    """Return the assumption and what it does, in words."""
    maps = transport.escape
    half, double = (f"{100 * _over(view, part):.0f} %" for part in (maps.half_eddy,
                                                                    maps.double_eddy))  # fmt: skip
    return (
        f"In use: eddies of {transport.eddy['in use']:.2g} m2/s, an assumption. More than "
        f"{100 * TOLD:.0f} % escapes from {100 * _over(view, maps.in_use):.0f} % of the {what}; "
        f"with eddies halved from {half}, doubled from {double}."
    )


def _particles(transport: Transport, view: View) -> str:
    """Return how far particles differ from vapour, in words."""
    if not transport.particle_escape:
        return ""
    vapour = view.of(transport.escape.in_use)
    sizes = ", ".join(f"{1e6 * size:g}" for size in sorted(transport.particle_escape))
    most = max(
        float(np.nanmax(np.abs(view.of(part) - vapour)))
        for part in transport.particle_escape.values()
    )
    if most < 0.0005:
        return f" Particles of {sizes} um: the same within 0.05 percentage points."
    points = number(100.0 * most, 2)
    return f" Particles of {sizes} um: shares differ by {points} percentage points at most."


def _words(result: Result, view: View, divide: Divide) -> str:
    """Return the words that stand on the map."""
    if divide.parts:
        return f"eddies carry vapour across the line; {WORDS}"
    if divide.mean[np.isfinite(divide.mean)].min() >= 0.5:
        return f"the mean flow carries everything from here to the room; {WORDS}"
    if any(open_gaps(result.case, view)):
        return f"the mean flow carries nothing from here to the room, eddies do; {WORDS}"
    return f"no opening in this section; {WORDS}"


def _place_text(item: Item) -> str:
    """Return what is written behind the name of a release."""
    return "" if isinstance(item, WorkpieceResult) else f": {percent(item.escape.value)}"


def _map_handles(view: View, values: FloatArray, divide: Divide) -> list[Artist]:
    """Return what the legend says of the map."""
    layer = view.of(values)
    below = [ESCAPE.below_patch] if bool((layer < ESCAPE.low).any()) else []
    return [*divide_handles(divide, PARTS), *below]


def _shares(axes: Axes, bar: Axes | None, transport: Transport, view: View, divide: Divide) -> None:
    """Draw the share, the dividing line and its band."""
    assert bar is not None
    share_bar(bar, ESCAPE)
    draw_shares(axes, view, transport.escape.in_use, ESCAPE)
    draw_divide(axes, divide)


def _reading(result: Result, view: View, place: str) -> str:
    """Return one sentence on the map."""
    transport = result.transport
    assert transport is not None
    maps = transport.escape
    share = _over(view, maps.in_use)
    text = f"More than {100 * TOLD:.0f} % of what is released {place} gets into the room "
    if share > MOST:
        text += "from everywhere"
    elif share == 0.0:
        text += "from nowhere"
    else:
        text += f"from {100 * share:.0f} % of it"
        reach = _reach(result, view, maps.in_use)
        if reach is not None:
            text += f", up to {1000 * reach:.0f} mm from an opening"
            others = [_reach(result, view, part) for part in (maps.half_eddy, maps.double_eddy)]
            half, double = (0.0 if item is None else 1000 * item for item in others)
            text += f" ({half:.0f} mm with eddies halved, {double:.0f} mm doubled)"
    spread = float(np.nanmax(np.abs(view.of(maps.spread))))
    return (
        f"{text}; the two schemes differ by {number(100.0 * spread, 2)} percentage points at "
        "most; arms and wakes are not in it."
    )


def escape_plan(result: Result) -> Sheet | None:
    """Draw which share of the vapour released on the work surface gets into the room.

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
    view = plan_view(field.grid, transport.escape.in_use)
    if view is None:
        return None
    title = "Where on the work surface does vapour get into the room?"
    note = f"{plan_place(view)}. {_eddies(transport, view, 'work surface')}"
    note += _particles(transport, view)
    divide = divide_of(result.case, view, transport.escape.mean_flow)
    items: tuple[Item, ...] = (*transport.releases, *transport.workpieces)
    handles = [
        *_map_handles(view, transport.escape.in_use, divide),
        *place_handles(view, items),
        opening_handle(),
    ]
    sheet = panels([view.span], title, note, legend_rows=(len(handles) + 1) // 2)
    axes = sheet.maps[0]
    _shares(axes, sheet.bars[0], transport, view, divide)
    plan_axes(axes, view)
    labels = Labels(axes, view.span)
    draw_openings(axes, result, view, labels)
    draw_places(axes, view, items, labels)
    labels.words(_words(result, view, divide), solid_stretches(result))
    label_places(view, items, labels, _place_text)
    draw_solids(axes, result, view, labels)
    legend_below(sheet.figure, handles, 2)
    return Sheet("escape_plan", title, _reading(result, view, "on the work surface"), sheet.figure)


def escape_section(result: Result) -> Sheet | None:
    """Draw which share of the vapour released in a section gets into the room.

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
    title = "From which height does vapour get into the room?"
    place = section_place(view)
    note = f"{place[0].upper()}{place[1:]}. {_eddies(transport, view, 'section')}"
    divide = divide_of(result.case, view, transport.escape.mean_flow)
    items: tuple[Item, ...] = (*transport.releases, *transport.workpieces)
    handles = [*_map_handles(view, transport.escape.in_use, divide), *place_handles(view, items)]
    sheet = panels([frame.span], title, note, legend_rows=len(handles))
    axes = sheet.maps[0]
    _shares(axes, sheet.bars[0], transport, view, divide)
    section_axes(axes, view, frame)
    labels = Labels(axes, view.span)
    draw_places(axes, view, items, labels)
    labels.words(_words(result, view, divide))
    label_places(view, items, labels, _place_text)
    draw_section(axes, result, view, labels)
    legend_below(sheet.figure, handles, 1)
    return Sheet("escape_section", title, _reading(result, view, "in the section"), sheet.figure)
