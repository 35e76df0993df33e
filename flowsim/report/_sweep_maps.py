"""Filled maps of figures over two axes of a sweep, limits as lines, what misses them shaded."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colorbar import Colorbar
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator, ScalarFormatter

from flowsim._arrays import FloatArray, IntArray
from flowsim.report._kit import COLOURS, Sheet, add_box
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._sweep_kit import (
    LOOKS,
    SHADE,
    framed,
    handles,
    held,
    kinds,
    legend_under,
    limit_words,
    set_axis,
)
from flowsim.report._sweep_plane import (
    MISSED,
    Plane,
    edges_of,
    fine_places,
    least_margin,
    margins_of,
    plane_of,
)
from flowsim.report._units import words
from flowsim.report.sweep_reading import SweepReading

__all__ = ["limits_map", "map_axes_of", "maps_sheet"]

MOST_MARKS = 450
MOST_MAPS = 6
SEEN = 0.01  # relative range of a figure that is worth a map
MOST_LIMITS = 6
STYLES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)), (0, (8, 2)))
LINE_COLOURS = (COLOURS[2], COLOURS[6], COLOURS[4], COLOURS[0], COLOURS[5], COLOURS[9])
EDGE: dict[str, Any] = {"colors": "white", "linewidths": 3.4, "alpha": 0.85}
ALL = ("met", "not shown", "not met", "failed")
SPARSE = ("not shown", "failed")  # what is marked on a dense map
FAILED_ONLY = ("failed",)
BEST: dict[str, Any] = {
    "marker": "*", "ms": 15.0, "mfc": "white", "mec": "#111111", "mew": 1.3, "ls": "",
}  # fmt: skip


def map_axes_of(reading: SweepReading) -> tuple[SweepAxis, SweepAxis] | None:
    """Return the two axes over which a map says most.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    tuple of SweepAxis or None
        None for draws and for a single axis.
    """
    ranked = reading.order()
    if not reading.grid or len(ranked) < 2:
        return None
    fine = [axis for axis in ranked if len(axis.levels) > 2 and not axis.is_text]
    return (fine[0], fine[1]) if len(fine) > 1 else (ranked[0], ranked[1])


def _shade(axes: Axes, plane: Plane, worst: FloatArray | None) -> None:
    """Hatch where a limit is missed."""
    if worst is None:
        return
    if plane.by_cells:
        _shade_cells(axes, plane, worst)
        return
    missed = np.where(np.isnan(worst), 1.0, worst)
    axes.contourf(
        fine_places(plane.across), fine_places(plane.up), missed.T, levels=[-1e30, -MISSED],
        colors=["#ffffff"], alpha=0.38, hatches=["////"], zorder=2,
    )  # fmt: skip


def _shade_cells(axes: Axes, plane: Plane, worst: FloatArray) -> None:
    """Hatch the cells of points that miss a limit."""
    across, up = edges_of(plane.across), edges_of(plane.up)
    for i, j in np.argwhere(worst < 0.0):
        size = (across[i + 1] - across[i], up[j + 1] - up[j])
        add_box(axes, (across[i], up[j]), size, facecolor="#ffffff", alpha=0.38, lw=0, zorder=2)
        add_box(axes, (across[i], up[j]), size, zorder=2.1, **SHADE)


def _filled(axes: Axes, plane: Plane, values: FloatArray) -> ScalarMappable:
    """Draw the colours of a figure."""
    layer = np.ma.masked_invalid(plane.of(values))
    low, high = float(layer.min()), float(layer.max())
    room = 1e-6 * max(abs(low), abs(high), 1e-30) if high <= low else 0.0
    if plane.by_cells:
        norm = Normalize(low - room, high + room)
        edges = (edges_of(plane.across), edges_of(plane.up))
        return axes.pcolormesh(*edges, layer.T, norm=norm, cmap="cividis", zorder=1)
    steps = MaxNLocator(14).tick_values(low - room, high + room)
    return axes.contourf(
        plane.across.levels, plane.up.levels, layer.T, levels=steps, cmap="cividis", zorder=1,
        corner_mask=False,
    )  # fmt: skip


def _crosses(plane: Plane, margin: FloatArray) -> bool:
    """Return whether a limit is just met somewhere in the map."""
    layer = plane.of(margin)
    return not plane.by_cells and bool(np.nanmin(layer) < 0.0 < np.nanmax(layer))


def _limit_line(axes: Axes, plane: Plane, margin: FloatArray, look: dict[str, Any]) -> None:
    """Draw where one limit is just met."""
    layer = np.ma.masked_invalid(plane.of(margin)).T
    grid = (plane.across.levels, plane.up.levels, layer)
    axes.contour(*grid, levels=[0.0], zorder=3, corner_mask=False, **EDGE)
    axes.contour(*grid, levels=[0.0], zorder=3.1, corner_mask=False, linewidths=2.0, **look)


def _crossing(plane: Plane, reading: SweepReading) -> list[tuple[FloatArray, Line2D]]:
    """Return the limits that are just met somewhere in the map, each with its legend."""
    found = [(text, one) for text, one in margins_of(reading).items() if _crosses(plane, one)]
    return [
        (margin, Line2D([], [], color=LINE_COLOURS[i], ls=STYLES[i], lw=2.0, label=text))
        for i, (text, margin) in enumerate(found[:MOST_LIMITS])
    ]


def _over_the_edge(axes: Axes, plane: Plane, rows: IntArray, look: dict[str, Any]) -> None:
    """Draw marks whole, also where they stand on the edge of the map."""
    places = plane.across.values[rows], plane.up.values[rows]
    for line in axes.plot(*places, clip_on=False, **look):
        line.set_in_layout(False)


def _points(axes: Axes, plane: Plane, reading: SweepReading, marked: tuple[str, ...]) -> None:
    """Mark the points of some kinds."""
    for kind, rows in kinds(reading, plane.points).items():
        if len(rows) and kind in marked:
            size = 0.55 if marked == SPARSE and kind == "not shown" else 1.0
            look = {"ls": "", "zorder": 5, **LOOKS[kind], "ms": size * LOOKS[kind]["ms"]}
            _over_the_edge(axes, plane, rows, look)


def _marks(
    reading: SweepReading, plane: Plane, shaded: bool, marked: tuple[str, ...]
) -> list[Artist]:
    """Return the legend's entries for points and shading."""
    found = kinds(reading, plane.points)
    rows = np.concatenate([found[kind] for kind in marked])
    return handles(reading, rows, shaded)


def _bar(axes: Axes, colours: ScalarMappable) -> Colorbar:
    """Draw a colour bar beside a map."""
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    bar = figure.colorbar(colours, ax=axes, pad=0.02, ticks=MaxNLocator(7))
    formatter = ScalarFormatter(useOffset=False)
    bar.ax.yaxis.set_major_formatter(formatter)
    return bar


def _star(axes: Axes, plane: Plane, reading: SweepReading, size: float) -> None:
    """Mark the best point."""
    row = reading.reference
    if row is not None and reading.any_meets:
        _over_the_edge(axes, plane, np.array([row]), {"zorder": 6, **BEST, "ms": size})


def _note(reading: SweepReading, plane: Plane, every: bool) -> str:
    """Return what is held and how the map is to be read."""
    parts = [held(reading, (plane.across, plane.up))]
    if not plane.by_cells:
        parts.append("Between the points values are taken to run straight.")
    if not every:
        parts.append(f"{len(plane.points)} points; marked are those failed or not all shown.")
    return " ".join(part for part in parts if part)


def _best_entry(reading: SweepReading) -> list[Artist]:
    """Return the legend's entry for the best point."""
    if not reading.any_meets:
        return []
    return [Line2D([], [], label=f"best: largest {words(reading.leading)}"
                   if reading.largest else f"best: smallest {words(reading.leading)}",
                   **{**BEST, "ms": 10.0})]  # fmt: skip


def _outline(axes: Axes, plane: Plane) -> None:
    """Set the ends of both axes and name them."""
    for axis, along in ((plane.across, "x"), (plane.up, "y")):
        set_axis(axes, axis, along)
        ends = edges_of(axis) if plane.by_cells else axis.levels
        (axes.set_xlim if along == "x" else axes.set_ylim)(ends[0], ends[-1])


def limits_map(
    reading: SweepReading, across: SweepAxis, up: SweepAxis, figure: str = ""
) -> Sheet | None:
    """Draw one figure over two axes, with the line on which each limit is just met.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    across, up : SweepAxis
        The axes. [any]
    figure : str
        Key figure; empty = the leading one. [text]

    Returns
    -------
    Sheet or None
        None where too few points lie in the cut through the best point.
    """
    plane = plane_of(reading, across, up)
    name = figure or reading.leading
    if plane is None or not name or np.isnan(plane.of(reading.drawn(name))).all():
        return None
    asked = "Where is every limit met" if reading.has_limits else f"How large is the {words(name)}"
    title = f"{asked}, over {across.label} and {up.label}?"
    every = len(plane.points) <= MOST_MARKS
    marked = ALL if every else SPARSE
    worst, lines = least_margin(plane, reading), _crossing(plane, reading)
    marks = _marks(reading, plane, worst is not None, marked)
    entries = [*(line for _, line in lines), *marks, *_best_entry(reading)]
    figure_ = framed(4.6, title, _note(reading, plane, every), math.ceil(len(entries) / 2))
    axes = figure_.subplots()
    colours = _filled(axes, plane, reading.drawn(name))
    _shade(axes, plane, worst)
    for margin, line in lines:
        look = {"colors": [line.get_color()], "linestyles": [line.get_linestyle()]}
        _limit_line(axes, plane, margin, look)
    _points(axes, plane, reading, marked)
    _star(axes, plane, reading, 15.0)
    _outline(axes, plane)
    _bar(axes, colours).set_label(reading.heading(name))
    legend_under(figure_, entries, 2)
    return Sheet("limits_map", title, _reading(reading, plane, name), figure_)


def _reading(reading: SweepReading, plane: Plane, figure: str) -> str:
    """Return one sentence on the map."""
    met = int(reading.table.meets_all[plane.points].sum())
    count = len(plane.points)
    start = f"Colour: {words(figure)}. "
    if not reading.has_limits:
        return f"{start}The case states no limits."
    if not met:
        return f"{start}No point of this map meets every limit."
    return f"{start}{met} of the {count} points of this map meet every limit."


def _small(axes: Axes, plane: Plane, reading: SweepReading, name: str) -> None:
    """Draw one of several maps, with its own limits."""
    colours = _filled(axes, plane, reading.drawn(name))
    _shade(axes, plane, least_margin(plane, reading))
    own = limit_words(reading, name)
    for index, (text, margin) in enumerate(margins_of(reading).items()):
        if text in own and _crosses(plane, margin):
            look = {"colors": [COLOURS[2]], "linestyles": [STYLES[index % 2]]}
            _limit_line(axes, plane, margin, look)
    _points(axes, plane, reading, FAILED_ONLY)
    _star(axes, plane, reading, 11.0)
    _outline(axes, plane)
    _bar(axes, colours)
    axes.set_title(reading.heading(name), fontsize=9.0)


def _varies(plane: Plane, reading: SweepReading, name: str) -> bool:
    """Return whether a figure changes over a map by more than nobody sees."""
    values = plane.of(reading.drawn(name))
    values = values[np.isfinite(values)]
    return len(values) > 0 and float(np.ptp(values)) > SEEN * float(np.abs(values).max())


def maps_sheet(
    reading: SweepReading, across: SweepAxis, up: SweepAxis, figures: Sequence[str] = ()
) -> Sheet | None:
    """Draw several figures over two axes, each with its own limit.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    across, up : SweepAxis
        The axes. [any]
    figures : sequence of str
        Key figures, at most six; empty = those shown beside the leading one. [text]

    Returns
    -------
    Sheet or None
        None where too few points lie in the cut, or no figure changes.
    """
    plane = plane_of(reading, across, up)
    if plane is None:
        return None
    wanted = figures or reading.figures[1:]
    names = [name for name in wanted if _varies(plane, reading, name)][:MOST_MAPS]
    if not names:
        return None
    title = f"How large are the other figures over {across.label} and {up.label}?"
    lines = math.ceil(len(names) / 2)
    note = _note(reading, plane, every=True)
    flat = [words(name) for name in wanted if not _varies(plane, reading, name)]
    note += f" Hardly any change, so no map: {', '.join(flat)}." if flat else ""
    figure = framed(2.75 * lines, title, note, 1)
    panels = figure.subplots(lines, 2 if len(names) > 1 else 1, squeeze=False)
    for axes, name in zip(panels.flat, names, strict=False):
        _small(axes, plane, reading, name)
    for axes in panels.flat[len(names) :]:
        axes.set_visible(False)
    entries: list[Artist] = []
    if any(_crosses(plane, one) for one in margins_of(reading).values()):
        entries.append(Line2D([], [], color=COLOURS[2], lw=2.0, label="limit of this figure"))
    marks = _marks(reading, plane, least_margin(plane, reading) is not None, FAILED_ONLY)
    legend_under(figure, [*entries, *marks, *_best_entry(reading)], 4)
    reading_ = f"Over {across.label} and {up.label}: {', '.join(map(words, names))}."
    return Sheet("maps", title, reading_, figure)
