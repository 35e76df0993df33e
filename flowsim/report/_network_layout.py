"""Where the boxes of the network sketch go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from flowsim.simulate.result import BranchState

__all__ = ["BOUNDARIES", "BranchPlace", "NodePlace", "SketchPlan", "plan_sketch"]

BOUNDARIES = ("room", "outdoors", "outlet")


@dataclass(frozen=True)
class NodePlace:
    """A node of the sketch; a boundary such as the room shows once per branch.

    Parameters
    ----------
    name : str
        Node of the network.
    row, lane : int
        Row from the top and lane, 0 = middle, positive to the right. [-]
    """

    name: str
    row: int
    lane: int


@dataclass(frozen=True)
class BranchPlace:
    """A branch of the sketch between two placed nodes.

    Parameters
    ----------
    branch : BranchState
        The branch.
    upper, lower : NodePlace
        The nodes it joins, upper one first.
    row, lane : int
        Place of its label. [-]
    downward : bool
        Whether the branch starts at the upper node. [-]
    """

    branch: BranchState
    upper: NodePlace
    lower: NodePlace
    row: int
    lane: int
    downward: bool


@dataclass(frozen=True)
class SketchPlan:
    """The whole sketch.

    Parameters
    ----------
    nodes : tuple of NodePlace
        Boxes.
    branches : tuple of BranchPlace
        Arrows with labels.
    rows : int
        Number of rows. [-]
    lanes : tuple of int
        Least and largest lane. [-]
    """

    nodes: tuple[NodePlace, ...]
    branches: tuple[BranchPlace, ...]
    rows: int
    lanes: tuple[int, int]


def _inner(branches: Sequence[BranchState]) -> list[str]:
    """Return the nodes that are no boundary, in order of appearance."""
    names = [name for branch in branches for name in (branch.start, branch.end)]
    return [name for name in dict.fromkeys(names) if name not in BOUNDARIES]


def _levels(branches: Sequence[BranchState], nodes: Sequence[str]) -> dict[str, int]:
    """Return each node's level: the longest way to it from a boundary, loops broken."""
    level = dict.fromkeys(nodes, 0)
    inner = [branch for branch in branches if branch.start in level and branch.end in level]
    for _ in nodes:
        moved = False
        for branch in inner:
            wanted = level[branch.start] + 1
            if level[branch.end] < wanted <= len(nodes):
                level[branch.end] = wanted
                moved = True
        if not moved:
            return level
    ranks = {value: rank for rank, value in enumerate(sorted(set(level.values())))}
    return {name: ranks[value] for name, value in level.items()}


def _main_line(branches: Sequence[BranchState], level: dict[str, int]) -> set[str]:
    """Return the nodes on the way that most air takes."""
    carried = dict.fromkeys(level, 0.0)
    for branch in branches:
        for name in (branch.start, branch.end):
            if name in carried:
                carried[name] = max(carried[name], abs(branch.flow))
    best: dict[int, str] = {}
    for name, value in level.items():
        if value not in best or carried[name] > carried[best[value]]:
            best[value] = name
    widest = max(carried.values(), default=0.0)
    return {name for name in best.values() if carried[name] >= 0.5 * widest}


class _Lanes:
    """Free lanes row by row."""

    def __init__(self) -> None:
        self._taken: set[tuple[int, int]] = set()

    def take(self, rows: Iterable[int], prefer: int, outer: bool) -> int:
        """Take the lane nearest to the preferred one that is free in all rows."""
        wanted = list(rows)
        side = -1 if outer else 1
        for step in range(1000):
            for lane in (prefer + side * step, prefer - side * step):
                if all((row, lane) not in self._taken for row in wanted):
                    self._taken.update((row, lane) for row in wanted)
                    return lane
        raise AssertionError("no lane is free")


def _place_nodes(
    branches: Sequence[BranchState], lanes: _Lanes, level: dict[str, int], shift: int
) -> dict[str, NodePlace]:
    """Place the inner nodes, the main line in the middle lane."""
    main = _main_line(branches, level)
    order = sorted(level, key=lambda name: (name not in main, level[name]))
    places = {}
    for name in order:
        row = 2 * (level[name] + shift)
        prefer = 0 if name in main else 1
        places[name] = NodePlace(name, row, lanes.take((row,), prefer, False))
    return places


def _between(branch: BranchState, places: dict[str, NodePlace], lanes: _Lanes) -> BranchPlace:
    """Place a branch between two inner nodes."""
    first, last = places[branch.start], places[branch.end]
    downward = first.row <= last.row
    upper, lower = (first, last) if downward else (last, first)
    rows = range(upper.row + 1, max(lower.row, upper.row + 2))
    through = [row for row in rows if row % 2 == 1 or row not in (upper.row, lower.row)]
    prefer = lower.lane if upper.lane == 0 else upper.lane
    lane = lanes.take(through, prefer, False)
    return BranchPlace(branch, upper, lower, upper.row + 1, lane, downward)


def _from_boundary(branch: BranchState, node: NodePlace, lanes: _Lanes) -> BranchPlace:
    """Place a branch from a boundary down to a node."""
    rows = (node.row - 2, node.row - 1)
    lane = lanes.take(rows, node.lane, False)
    return BranchPlace(
        branch, NodePlace(branch.start, node.row - 2, lane), node, node.row - 1, lane, True
    )


def _to_boundary(branch: BranchState, node: NodePlace, lanes: _Lanes, last: bool) -> BranchPlace:
    """Place a branch from a node down to a boundary."""
    rows = (node.row + 1, node.row + 2)
    prefer = node.lane if last else node.lane + (-1 if branch.kind == "opening" else 1)
    lane = lanes.take(rows, prefer, branch.kind == "opening")
    return BranchPlace(
        branch, node, NodePlace(branch.end, node.row + 2, lane), node.row + 1, lane, True
    )


def _only_boundaries(branch: BranchState, lanes: _Lanes, row: int) -> BranchPlace:
    """Place a branch that joins two boundaries, such as the leaks of the room."""
    lane = lanes.take((row, row + 1, row + 2), 2, False)
    return BranchPlace(
        branch,
        NodePlace(branch.start, row, lane),
        NodePlace(branch.end, row + 2, lane),
        row + 1,
        lane,
        True,
    )


def plan_sketch(branches: Sequence[BranchState]) -> SketchPlan:
    """Place nodes and branches on rows and lanes so that nothing lies on anything else.

    Parameters
    ----------
    branches : sequence of BranchState
        The network. [SI]

    Returns
    -------
    SketchPlan
        Supply on top, exhaust below; nodes on even rows, labels of branches on odd ones, each
        branch straight down its own lane.
    """
    level = _levels(branches, _inner(branches))
    shift = int(any(branch.start in BOUNDARIES for branch in branches))
    lanes = _Lanes()
    places = _place_nodes(branches, lanes, level, shift)
    deepest = max(level.values(), default=0)
    ordered = sorted(branches, key=lambda item: -abs(item.flow))
    inner = [item for item in ordered if item.start in places and item.end in places]
    done = [_between(branch, places, lanes) for branch in inner]
    for branch in ordered:
        if branch.start in BOUNDARIES and branch.end in places:
            done.append(_from_boundary(branch, places[branch.end], lanes))
        elif branch.start in places and branch.end in BOUNDARIES:
            last = level[branch.start] == deepest
            done.append(_to_boundary(branch, places[branch.start], lanes, last))
        elif branch.start in BOUNDARIES:
            done.append(_only_boundaries(branch, lanes, 0))
    return _collect(places, done)


def _collect(places: dict[str, NodePlace], done: Sequence[BranchPlace]) -> SketchPlan:
    """Return the sketch with its size."""
    ends = [item for place in done for item in (place.upper, place.lower)]
    nodes = tuple(dict.fromkeys([*places.values(), *ends]))
    rows = max((node.row for node in nodes), default=0) + 1
    lanes = [node.lane for node in nodes] + [place.lane for place in done]
    span = (min(lanes, default=0), max(lanes, default=0))
    return SketchPlan(nodes, tuple(done), rows, span)
