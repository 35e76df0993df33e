"""Fans: from a table or two numbers, several together, and where they meet a system."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from flowsim.errors import ConvergenceError, RangeError
from flowsim.physics._ranges import positive
from flowsim.physics.fan_curve import FanCurve
from flowsim.physics.fan_group import Fan, FansInParallel, FansInSeries

__all__ = [
    "Fan",
    "FanCurve",
    "FansInParallel",
    "FansInSeries",
    "OperatingPoint",
    "fan_from_two_points",
    "operating_points",
    "parallel",
    "series",
]

ROOT_STEPS = 200


@dataclass(frozen=True)
class OperatingPoint:
    """A flow at which fan and system agree.

    Parameters
    ----------
    flow : float
        Flow. [m3/s]
    pressure : float
        Pressure rise of the fan. [Pa]
    stable : bool
        Whether the fan's curve falls below the system's to the right.

    Notes
    -----
    Valid as the curve and the system are.
    """

    flow: float
    pressure: float
    stable: bool


def fan_from_two_points(shut_off_pressure: float, free_flow: float) -> FanCurve:
    """Return the straight-line fan between shut-off pressure and free flow.

    Parameters
    ----------
    shut_off_pressure : float
        Pressure rise at no flow. [Pa]
    free_flow : float
        Flow at no pressure rise. [m3/s]

    Returns
    -------
    FanCurve
        A curve of two points.

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    A straight line (common practice, no source). Valid as a first estimate: real curves lie above
    or below it, those of axial fans with a stall dip.
    """
    positive(shut_off_pressure=shut_off_pressure, free_flow=free_flow)
    return FanCurve((0.0, free_flow), (shut_off_pressure, 0.0), False)


def series(curves: Sequence[FanCurve]) -> FanCurve | FansInSeries:
    """Return fans one behind the other.

    Parameters
    ----------
    curves : sequence of FanCurve
        At least one; equal curves give a curve again.

    Returns
    -------
    FanCurve or FansInSeries
        Pressures added at the same flow.

    Raises
    ------
    RangeError
        If there is no curve.

    Notes
    -----
    Continuity. Valid while nothing leaks between the fans and none disturbs the next.
    """
    first = _first(curves)
    count = len(curves)
    if any(curve != first for curve in curves):
        return FansInSeries(tuple(curves))
    pressure = tuple(p * count for p in first.pressure)
    return FanCurve(first.flow, pressure, first.smooth, first._curvature * count)


def parallel(curves: Sequence[FanCurve]) -> FanCurve | FansInParallel:
    """Return fans side by side.

    Parameters
    ----------
    curves : sequence of FanCurve
        At least one; equal curves give a curve again.

    Returns
    -------
    FanCurve or FansInParallel
        Flows added at the same pressure.

    Raises
    ------
    RangeError
        If there is no curve, or unequal curves have a dip.

    Notes
    -----
    Continuity: equal fans share the flow equally. Valid while all see the same inlet and outlet;
    with a dip, equal fans may share it unequally, which is not modelled.
    """
    first = _first(curves)
    count = len(curves)
    if any(curve != first for curve in curves):
        return FansInParallel(tuple(curves))
    flow = tuple(q * count for q in first.flow)
    return FanCurve(flow, first.pressure, first.smooth, first._curvature / count**2)


def operating_points(
    curve: Fan, system_drop: Callable[[float], float], per_segment: int = 32
) -> list[OperatingPoint]:
    """Return all flows at which a fan and a system agree.

    Parameters
    ----------
    curve : Fan
        Fan or group of fans.
    system_drop : callable
        Pressure drop of the system [Pa] at a flow [m3/s].
    per_segment : int
        Samples between two points of the curve; crossings closer together are missed. [-]

    Returns
    -------
    list of OperatingPoint
        By rising flow; at least one.

    Raises
    ------
    ConvergenceError
        If no crossing exists, as with a system drop that falls with the flow.

    Notes
    -----
    A point is stable where the fan's curve falls below the system's to the right (Ledinegg, from
    memory [Ledinegg1938]_). Valid for slow changes; surge is not modelled.
    """

    def excess(flow: float) -> float:
        return curve.pressure_at(flow)[0] - system_drop(flow)

    grid = _search_grid(curve.flow, excess, per_segment)
    values = [excess(q) for q in grid]
    found: list[OperatingPoint] = []
    for a, b, low, high in zip(grid, grid[1:], values, values[1:], strict=False):
        if low == 0.0 or low * high >= 0.0:
            if low != 0.0 or (found and found[-1].flow == a):
                continue
            root = a
        else:
            root = _bisect(excess, a, b, low)
        found.append(OperatingPoint(root, curve.pressure_at(root)[0], high < 0.0))
    if values[-1] == 0.0:
        found.append(OperatingPoint(grid[-1], curve.pressure_at(grid[-1])[0], True))
    if not found:
        raise ConvergenceError("no operating point: fan and system do not meet at any flow")
    return found


def _search_grid(
    flows: tuple[float, ...], excess: Callable[[float], float], per_segment: int
) -> list[float]:
    """Return sample flows that reach from above the system's curve to below it."""
    reach = max(flows[-1], 1e-6)
    knots = sorted({*flows, 0.0})
    grid = [knots[0]]
    for a, b in pairwise(knots):
        grid += [a + (b - a) * (k + 1) / per_segment for k in range(per_segment)]
    for _ in range(60):
        if excess(grid[-1]) <= 0.0:
            break
        grid.append(grid[-1] + reach)
        reach *= 2.0
    reach = max(flows[-1], 1e-6)
    for _ in range(60):
        if excess(grid[0]) >= 0.0:
            break
        grid.insert(0, grid[0] - reach)
        reach *= 2.0
    return grid


def _bisect(function: Callable[[float], float], low: float, high: float, at_low: float) -> float:
    """Return the root between two flows where the function changes sign."""
    for _ in range(ROOT_STEPS):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        if (function(middle) < 0.0) == (at_low < 0.0):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _first(curves: Sequence[FanCurve]) -> FanCurve:
    if not curves:
        raise RangeError("no fan given")
    return curves[0]
