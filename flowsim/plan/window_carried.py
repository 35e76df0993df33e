"""Limits on vapour and dust: far dearer solves, made at few settings of the met region."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.plan.window_choice import Choice, ridge, rounded
from flowsim.plan.window_map import FINE, Plane, flat, next_points
from flowsim.plan.window_solve import Point
from flowsim.report.window_result import Values

__all__ = ["agreeing", "sample_region"]

FIRST, REFINED = 12, 12  # full solves inside the met region, and on the borders found in it
HALVINGS = 2
STRAIGHT = 17  # settings on a straight way
LEAST_TIMES = 0.5  # of the largest margin, for a setting on the ridge


def sample_region(plane: Plane) -> None:
    """Solve in full at settings spread over the met region, then where a border lies in it.

    Parameters
    ----------
    plane : Plane
        What was solved for the limits on the flow; gains the full solves.
    """
    surfaces = plane.surfaces()
    places = flat(plane.grid(FINE[len(plane.axes)]))
    levels = surfaces.levels(places)
    inside = places[(levels.met >= 0.0) & levels.solvable]
    if not len(inside):
        return
    for values in _spread(surfaces.unit(inside), inside, FIRST):
        plane.solve(values, True)
    for _ in range(REFINED // 2):
        wanted = next_points(plane, carried=True)[:2]
        if not wanted:
            return
        for found in wanted:
            plane.solve(found, True)


def _spread(units: FloatArray, places: FloatArray, count: int) -> list[Values]:
    """Return settings as far from each other as may be, beginning near the middle."""
    apart = np.abs(units - units.mean(axis=0)).max(axis=1)
    chosen = [int(apart.argmin())]
    gaps = np.abs(units - units[chosen[0]]).max(axis=1)
    while len(chosen) < min(count, len(places)):
        chosen.append(int(gaps.argmax()))
        gaps = np.minimum(gaps, np.abs(units - units[chosen[-1]]).max(axis=1))
    return [tuple(places[k].tolist()) for k in chosen]


def agreeing(
    plane: Plane, first: Choice, judge: Callable[[Values], Point]
) -> tuple[Values, tuple[Point, ...]]:
    """Return the setting with the largest margin found at which all limits are met.

    Parameters
    ----------
    plane : Plane
        What was solved for the limits on the flow.
    first : Choice
        Setting with the largest margin as to these.
    judge : callable
        Solves in full. [-]

    Returns
    -------
    values : tuple of float
        Settings; those that miss fewest limits where none was found that meets all. [SI]
    passed_over : tuple of Point
        What was solved and does not meet all: the best margin first, or the settings returned.

    Notes
    -----
    Looked for on the ridge of the margin next to the present setting, at its far end, and at the
    present setting itself; then halfway back to the best one, twice: six full solves at most.
    """
    best = rounded(plane.axes, first.values)
    begin = judge(best)
    if begin.state == "met":
        return best, ()
    failed = [begin]
    for way in _ways(plane, first):
        if judge(way[-1]).state == "met":
            return _halfway(way, judge), tuple(failed)
        failed.append(judge(way[-1]))
    least = min(failed, key=_unmet)
    return least.values, (least, *(point for point in failed if point is not least))


def _unmet(point: Point) -> tuple[int, int]:
    """Return how many limits are not met, and how many not shown."""
    found = list(point.states.values())
    missing = 1000 if point.error else 0
    return missing + found.count("not met"), found.count("not shown")


def _ways(plane: Plane, first: Choice) -> list[list[Values]]:
    """Return ways away from the best setting, each with its end last."""
    present = tuple(axis.present for axis in plane.axes)
    line = [item.values for item in ridge(plane, LEAST_TIMES * first.times)]
    ways = []
    if line:
        logs = np.log(np.array(line))
        best, near = (
            int(np.abs(logs - np.log(point)).max(axis=1).argmin())
            for point in (first.values, present)
        )
        ends = dict.fromkeys((near, len(line) - 1))
        ways = [line[min(best, end) : max(best, end) + 1] for end in ends if end != best]
        ways = [way if way[-1] != line[best] else way[::-1] for way in ways]
    if plane.solve(present).state == "met":
        shares = np.linspace(0.0, 1.0, STRAIGHT)[:, None]
        steps = np.exp((1.0 - shares) * np.log(first.values) + shares * np.log(present))
        ways.append([tuple(row) for row in steps.tolist()])
        ways[-1][-1] = present
    return [[rounded(plane.axes, values) for values in way[:-1]] + [_end(plane, way, present)]
            for way in ways]  # fmt: skip


def _end(plane: Plane, way: list[Values], present: Values) -> Values:
    """Return the end of a way as it would be set; the present setting as it is."""
    return present if way[-1] == present else rounded(plane.axes, way[-1])


def _halfway(way: list[Values], judge: Callable[[Values], Point]) -> Values:
    """Return the setting nearest to the start of a way that halving finds to meet all limits."""
    low, high = 0, len(way) - 1
    for _ in range(HALVINGS):
        middle = (low + high) // 2
        if middle in (low, high):
            break
        if judge(way[middle]).state == "met":
            high = middle
        else:
            low = middle
    return way[high]
