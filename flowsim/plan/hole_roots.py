"""Looks for the free area of a plate at which a figure has a size."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TypeVar

from flowsim.errors import ConvergenceError

__all__ = ["USUAL_SLOPE", "power_root", "tightened"]

Point = TypeVar("Point")

USUAL_SLOPE = 2.0
"""Draw ratio less one goes with the square of the free area. [-]"""
CLOSE = 3e-3  # of the excess that is looked for, well below a row of holes
STEPS = 12
LEAST_SLOPE, MOST_SLOPE = 0.4, 8.0
BACK = 0.6  # factor where a plate chokes
LEAST_FREE_AREA = 5e-4
HALVINGS, TIGHTER, BRACKET = 12, 0.62, 1.02  # on the way to a plate that breaks no limit


def power_root(
    solve: Callable[[float], Point | None],
    size: Callable[[Point], float],
    goal: float,
    guess: float,
    most: float,
    slope: float = USUAL_SLOPE,
) -> tuple[float, Point]:
    """Return the free area at which a figure of the plate has a size, or the most open plate.

    The figure goes about with a power of the free area, so that logarithms make a straight line.

    Parameters
    ----------
    solve : callable
        Solves a plate of a free area; None where the models find no solution.
    size : callable
        The figure of a solved plate, above 0. [any]
    goal : float
        Its wanted size. [any]
    guess, most : float
        Free area to begin with, and the most open one. [-]
    slope : float
        Power with which the figure goes. [-]

    Returns
    -------
    tuple of float and point
        Free area [-] and the plate solved.

    Raises
    ------
    ConvergenceError
        If no plate does.
    """
    known: list[tuple[float, float]] = []
    free, sign = min(guess, most), math.copysign(1.0, slope)
    for _ in range(STEPS):
        point = solve(free)
        value = math.inf if point is None else size(point)
        if point is not None and 0.0 < value < math.inf:
            off = math.log(value / goal)
            if abs(off) < CLOSE or (free >= most and off * sign < 0.0):
                return free, point
            known.append((math.log(free), off))
            free = min(math.exp(_next(known, slope)), most)
        else:
            free *= BACK
        if free < LEAST_FREE_AREA:
            break
    raise ConvergenceError(
        "no plate draws as evenly as wanted: not even holes of "
        f"{100 * LEAST_FREE_AREA:g} % of the plate come near"
    )


def _next(known: list[tuple[float, float]], slope: float) -> float:
    """Return the logarithm of the next free area: a secant through the last two, kept sane."""
    here, off = known[-1]
    if len(known) > 1 and known[-1][0] != known[-2][0]:
        steep = (off - known[-2][1]) / (here - known[-2][0])
        size = min(max(abs(steep), LEAST_SLOPE), MOST_SLOPE)
        slope = math.copysign(size, slope)
    return here - off / slope


def tightened(
    solve: Callable[[float], Point | None],
    accepts: Callable[[Point], bool],
    free: float,
    point: Point,
) -> tuple[float, Point]:
    """Return a plate, or the most open one below it that is accepted.

    Parameters
    ----------
    solve : callable
        Solves a plate of a free area; None where the models find no solution.
    accepts : callable
        Whether a solved plate will do.
    free : float
        Free area of the first plate. [-]
    point : Point
        That plate solved.

    Returns
    -------
    tuple of float and Point
        Free area [-], within 2 % of the most open one, and the plate solved.

    Raises
    ------
    ConvergenceError
        If none is accepted.
    """
    if accepts(point):
        return free, point
    bad, good = free, None
    for _ in range(HALVINGS):
        bad, tried = (free, free * TIGHTER) if good is None else (bad, math.sqrt(bad * good[0]))
        found = solve(tried)
        if found is not None and accepts(found):
            good = tried, found
        elif good is None:
            free = tried
        else:
            bad = tried
        if good is not None and bad < good[0] * BRACKET:
            break
    if good is None:
        raise ConvergenceError(
            "no plate draws as evenly as wanted without breaking another limit of the case"
        )
    return good
