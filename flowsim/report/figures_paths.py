"""Figure of the ways that vapour or particles take, and where they end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS, IN_COLOUR, Sheet
from flowsim.report._labels import Labels
from flowsim.report._panels import legend_below, panels
from flowsim.report._plan_parts import (
    Item,
    draw_openings,
    draw_places,
    draw_solids,
    label_places,
    place_handles,
    plan_axes,
)
from flowsim.report._section_parts import draw_section, section_axes, section_frame
from flowsim.report._share_map import percent
from flowsim.report._units import number
from flowsim.report._views import View, plan_view, section_view
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import ParticlePath, Transport

__all__ = ["particle_paths"]

BY_KIND = {"opening": IN_COLOUR, "plate": COLOURS[0], "slit": COLOURS[4], "edge": COLOURS[5]}
OTHERS = (COLOURS[2], COLOURS[6], COLOURS[8], COLOURS[7], COLOURS[3])
START: dict[str, Any] = {"marker": "o", "ls": "", "mfc": "white", "mec": "black", "ms": 4.0}


def _colours(transport: Transport) -> dict[str, str]:
    """Return a colour for each end, those reached most first."""
    names = [*transport.tracked, *(path.end for path in transport.paths)]
    ends = sorted(
        dict.fromkeys(names), key=lambda name: -transport.tracked.get(name, (0.0, 0.0))[0]
    )
    found: dict[str, str] = {}
    for name in ends:
        colour = BY_KIND.get(name.split(" ", 1)[0])
        if colour is None or colour in found.values():
            free = [item for item in OTHERS if item not in found.values()]
            colour = free[0] if free else OTHERS[-1]
        found[name] = colour
    return found


def _share_text(transport: Transport, name: str) -> str:
    """Return the share that ends somewhere, with its standard error."""
    if name not in transport.tracked:
        return "too few to tell"
    share, error = transport.tracked[name]
    if error == 0.0:
        return "every one" if share > 0.0 else "none"
    return f"{number(100.0 * share, 3)} ± {number(100.0 * error, 2)} %"


def _handles(transport: Transport, colours: dict[str, str]) -> list[Artist]:
    """Return what the legend says of each end."""
    total = len(transport.paths)
    handles: list[Artist] = []
    for name, colour in colours.items():
        drawn = sum(path.end == name for path in transport.paths)
        text = f"{name}: {_share_text(transport, name)} ({drawn} of {total} drawn)"
        handles.append(Line2D([], [], color=colour, lw=2.0, label=text))
    return [*handles, Line2D([], [], label="start", **START)]


def _draw_ways(
    axes: Axes, view: View, paths: Sequence[ParticlePath], colours: dict[str, str]
) -> None:
    """Draw the paths as seen in a view, those to rare ends on top."""
    seen = list(view.axes)
    for rank, (name, colour) in enumerate(colours.items()):
        lines = [path.points[:, seen] for path in paths if path.end == name]
        if not lines:
            continue
        ways = LineCollection(lines, colors=colour, linewidths=1.0, alpha=0.85)
        ways.set_zorder(4.0 + 0.1 * rank)
        axes.add_collection(ways, autolim=False)
        ends = np.array([line[-1] for line in lines])
        look: dict[str, Any] = {"color": colour, "markersize": 4.5, "clip_on": False, "zorder": 5}
        axes.plot(ends[:, 0], ends[:, 1], "s", **look)
    starts = np.array([path.points[0, seen] for path in paths])
    axes.plot(starts[:, 0], starts[:, 1], zorder=6, **START)


def _middle(paths: Sequence[ParticlePath]) -> tuple[float, float]:
    """Return where the paths start on the whole. [m]."""
    starts: FloatArray = np.median([path.points[0] for path in paths], axis=0)
    return float(starts[0]), float(starts[1])


def _from_above(
    axes: Axes, result: Result, transport: Transport, view: View, colours: dict[str, str]
) -> None:
    """Draw the ways from above."""
    plan_axes(axes, view)
    axes.set_title("from above")
    labels = Labels(axes, view.span)
    draw_openings(axes, result, view, labels)
    items: tuple[Item, ...] = (*transport.releases, *transport.workpieces)
    draw_places(axes, view, items, labels)
    label_places(view, items, labels)
    draw_solids(axes, result, view, labels)
    _draw_ways(axes, view, transport.paths, colours)
    axes.spines[:].set_visible(True)


def _reading(transport: Transport, starts: str) -> str:
    """Return one sentence on the ways."""
    shares = sorted(transport.tracked.items(), key=lambda item: -item[1][0])
    told = ", ".join(f"{_share_text(transport, name)} at {name}" for name, _ in shares)
    text = f"Of what starts at {starts} there end {told}" if told else f"Ways from {starts}"
    release = next((item for item in transport.releases if item.label == starts), None)
    if release is not None:
        text += f"; the map of shares gives {percent(release.escape.value)} to the room"
    return f"{text}; ± is one standard error of counting; arms and wakes are not in it."


def particle_paths(result: Result) -> Sheet | None:
    """Draw the ways of some particles from above and from the side.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without paths.
    """
    transport, field = result.transport, result.field
    if transport is None or field is None or not transport.paths:
        return None
    plan = plan_view(field.grid, transport.escape.in_use)
    side = section_view(result.case, field.grid, _middle(transport.paths))
    frame = section_frame(result.case, side)
    starts = " and ".join(dict.fromkeys(path.start for path in transport.paths))
    title = "Which way does it go, and where does it end?"
    note = (
        f"{len(transport.paths)} ways from {starts}, in use, with eddies of "
        f"{transport.eddy['in use']:.2g} m2/s, an assumption; squares are ends; arms and wakes "
        "are not in it."
    )
    colours = _colours(transport)
    items: tuple[Item, ...] = (*transport.releases, *transport.workpieces)
    handles = _handles(transport, colours)
    handles += place_handles(plan, items) if plan is not None else []
    spans = [frame.span] if plan is None else [plan.span, frame.span]
    columns = 1 if plan is None else 2
    rows = -(-len(handles) // columns)
    sheet = panels(spans, title, note, (False,) * len(spans), legend_rows=rows)
    if plan is not None:
        _from_above(sheet.maps[0], result, transport, plan, colours)
    axes = sheet.maps[-1]
    section_axes(axes, side, frame)
    draw_section(axes, result, side)
    _draw_ways(axes, side, transport.paths, colours)
    if plan is not None:
        axes.set_title("from the side")
    legend_below(sheet.figure, handles, columns)
    return Sheet("particle_paths", title, _reading(transport, starts), sheet.figure)
