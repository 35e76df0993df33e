"""Figure of the network: nodes with pressures, branches with flow and drop."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from flowsim.report._kit import COLOURS, Sheet, new_figure
from flowsim.report._network_layout import (
    BOUNDARIES,
    BranchPlace,
    NodePlace,
    SketchPlan,
    plan_sketch,
)
from flowsim.report._units import number
from flowsim.simulate.result import BranchState, Result

__all__ = ["network_sketch"]

LANE = 1.95  # inch
NODE_ROW = 0.42  # inch
BRANCH_ROW = 0.66  # inch
LETTERS = 22
NODE_LOOK = {"boxstyle": "round,pad=0.35", "facecolor": "#dbe9f6", "edgecolor": COLOURS[0]}
EDGE_LOOK = {"boxstyle": "round,pad=0.35", "facecolor": "#eeeeee", "edgecolor": "#777777"}
LABEL_LOOK = {"boxstyle": "round,pad=0.15", "facecolor": "white", "edgecolor": "none"}


def _wrap(text: str) -> str:
    """Return a name on at most two lines."""
    lines = textwrap.wrap(text, LETTERS, break_long_words=True) or [""]
    if len(lines) > 2:
        lines = [lines[0], lines[1][: LETTERS - 3] + "..."]
    return "\n".join(lines)


def _level(row: int) -> float:
    """Return the height of a row, 0 for the first and falling. [inch]."""
    full, odd = divmod(row, 2)
    pitch = NODE_ROW + BRANCH_ROW
    return -(full * pitch + odd * 0.5 * pitch)


def _flow_text(branch: BranchState) -> str:
    """Return flow and drop of a branch."""
    flow = number(3600.0 * abs(branch.flow))
    if branch.drop < 0.0 and branch.kind in ("fan", "fixed"):
        return f"{flow} m3/h, +{number(-branch.drop)} Pa"
    return f"{flow} m3/h, {number(abs(branch.drop))} Pa"


def _path(place: BranchPlace) -> list[tuple[float, float]]:
    """Return the line of a branch from its upper to its lower node."""
    x = place.lane * LANE
    bottom = _level(place.lower.row)
    points = [(place.upper.lane * LANE, _level(place.upper.row)), (x, _level(place.row) + 0.1)]
    above = bottom + 0.5 * (NODE_ROW + BRANCH_ROW) - 0.1
    if above < _level(place.row):
        points.append((x, above))
    points.append((place.lower.lane * LANE, bottom))
    return points


def _draw_lines(axes: Axes, plan: SketchPlan) -> None:
    """Draw all branches, wider where more air goes, and an arrow head on each."""
    most = max((abs(place.branch.flow) for place in plan.branches), default=0.0)
    paths, widths, heads = [], [], []
    for place in plan.branches:
        share = abs(place.branch.flow) / most if most > 0.0 else 0.0
        path = _path(place)
        paths.append(path)
        widths.append(1.0 + 3.0 * share)
        down = (place.branch.flow >= 0.0) == place.downward
        if place.branch.flow != 0.0:
            heads.append(_head(path, down))
    axes.add_collection(LineCollection(paths, linewidths=widths, colors="#8a8a8a", zorder=1))
    if heads:
        at = np.array(heads)
        axes.quiver(
            at[:, 0],
            at[:, 1],
            at[:, 2],
            at[:, 3],
            color="#333333",
            zorder=2,
            pivot="mid",
            angles="xy",
            scale_units="xy",
            scale=1.0,
            units="xy",
            width=0.035,
            headwidth=4.2,
            headlength=5.0,
            headaxislength=5.0,
            minlength=0.0,
        )


def _head(path: list[tuple[float, float]], down: bool) -> tuple[float, float, float, float]:
    """Return place and direction of an arrow head, in the free part before the node it enters."""
    (x0, y0), (x1, y1) = path[-2:] if down else (path[1], path[0])
    length = float(np.hypot(x1 - x0, y1 - y0))
    unit = ((x1 - x0) / length, (y1 - y0) / length)
    part = 0.42
    return (x0 + part * (x1 - x0), y0 + part * (y1 - y0), 0.18 * unit[0], 0.18 * unit[1])


def _draw_nodes(axes: Axes, plan: SketchPlan, pressures: Mapping[str, float]) -> None:
    """Draw the nodes with their pressures."""
    for node in plan.nodes:
        edge = node.name in BOUNDARIES
        axes.text(
            node.lane * LANE,
            _level(node.row),
            _node_text(node, pressures.get(node.name)),
            ha="center",
            va="center",
            fontsize=8.5,
            weight="normal" if edge else "bold",
            bbox=EDGE_LOOK if edge else NODE_LOOK,
            zorder=4,
        )


def _node_text(node: NodePlace, pressure: float | None) -> str:
    """Return the words in the box of a node."""
    name = _wrap(node.name)
    return name if pressure is None else f"{name}: {number(pressure)} Pa"


def _draw_labels(axes: Axes, plan: SketchPlan) -> None:
    """Draw the labels of the branches."""
    for place in plan.branches:
        axes.text(
            place.lane * LANE,
            _level(place.row),
            f"{_wrap(place.branch.name)}\n{_flow_text(place.branch)}",
            ha="center",
            va="center",
            fontsize=8.0,
            linespacing=1.1,
            bbox=LABEL_LOOK,
            zorder=3,
        )


def _reading(result: Result) -> str:
    """Return one sentence on the network."""
    movers = [item for item in result.branches if item.kind in ("fan", "fixed") and item.flow]
    parts = [f"{item.name} moves {number(3600.0 * abs(item.flow))} m3/h" for item in movers]
    fronts = [item for item in result.branches if item.kind == "opening"]
    for item in fronts:
        way = "out of" if item.flow >= 0.0 else "in through"
        parts.append(f"{number(3600.0 * abs(item.flow))} m3/h go {way} {item.name}")
    return ("; ".join(parts) or "Nothing moves") + "."


def network_sketch(result: Result) -> Sheet | None:
    """Draw the network: boxes with pressures, arrows with flows and drops.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no branch.
    """
    if not result.branches:
        return None
    plan = plan_sketch(result.branches)
    title = "How much air moves where, and at which pressure?"
    low, high = plan.lanes
    width = max((high - low + 1) * LANE, 5.0) + 0.2
    depth = -_level(plan.rows - 1)
    height = depth + 1.1
    figure = new_figure(height, width, constrained=False)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    middle = 0.5 * (low + high) * LANE
    axes.set_xlim(middle - 0.5 * width, middle + 0.5 * width)
    axes.set_ylim(-depth - 0.3, 0.8)
    axes.set_axis_off()
    _draw_lines(axes, plan)
    _draw_nodes(axes, plan, result.nodes)
    _draw_labels(axes, plan)
    left = middle - 0.5 * width + 0.12
    axes.text(left, 0.62, title, weight="bold", fontsize=10.5, va="center")
    axes.text(
        left, 0.4, "total pressure against the room; + : raised by a fan", fontsize=8.5, va="center"
    )
    return Sheet("network_sketch", title, _reading(result), figure)
