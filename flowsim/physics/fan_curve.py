"""The curve of one fan: interpolation, continuation, speed and density.

Every curve falls without end: past its last point it goes on downwards, below zero flow upwards,
so that a network always finds a flow; `FanCurve.validity` tells when the points were left.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

from flowsim.errors import RangeError
from flowsim.physics._ranges import non_negative, positive

__all__ = ["FanCurve", "falling_root"]

ROOT_STEPS = 200


@dataclass(frozen=True)
class FanCurve:
    """Pressure rise of a fan over its flow.

    Parameters
    ----------
    flow : sequence of float, length n
        Flows, rising, at least two points. [m3/s]
    pressure : sequence of float, length n
        Pressure rise at each; the first above zero. [Pa]
    smooth : bool
        True: monotone cubic between the points; False: straight lines.
    resistance : float or None
        Curvature of the continuation outside the points and resistance of the stopped fan;
        None: first pressure over the square of the last flow. [Pa s2/m6]

    Raises
    ------
    RangeError
        If the points do not form a fan curve.

    Notes
    -----
    Monotone cubic of [FritschButland1984]_, whose slopes make no new peaks. Beyond the last point
    (p_n, Q_n) with slope s_n: ``p = p_n + s_n (Q - Q_n) - R (Q - Q_n)^2``, and upwards below the
    first (own choice, no source). Speed and density by the affinity laws [StoeckerJones1982]_.
    Valid between the first and the last point of the table; elsewhere `validity` says so.
    """

    flow: tuple[float, ...]
    pressure: tuple[float, ...]
    smooth: bool = True
    resistance: float | None = None
    _slope: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _curvature: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the points and find the slope at each."""
        object.__setattr__(self, "flow", tuple(float(q) for q in self.flow))
        object.__setattr__(self, "pressure", tuple(float(p) for p in self.pressure))
        stopped = self.resistance is not None and len(self.flow) == 1
        if not stopped:
            _check_points(self.flow, self.pressure)
        curvature = self.resistance
        if curvature is None:
            curvature = self.pressure[0] / self.flow[-1] ** 2
        positive(resistance=curvature)
        slope = (0.0,) if stopped else _knot_slopes(self.flow, self.pressure)
        object.__setattr__(self, "_curvature", curvature)
        object.__setattr__(self, "_slope", slope)

    @property
    def has_dip(self) -> bool:
        """Whether the pressure rises with the flow somewhere."""
        return any(b >= a for a, b in pairwise(self.pressure))

    def at(self, speed_ratio: float, density_ratio: float = 1.0) -> FanCurve:
        """Return the curve at another speed and gas density.

        Parameters
        ----------
        speed_ratio : float
            Speed over the speed of this curve, 0 for a stopped fan. [-]
        density_ratio : float
            Gas density over the density of this curve. [-]

        Returns
        -------
        FanCurve
            Flow scaled by the speed, pressure by its square and by the density.
        """
        non_negative(speed_ratio=speed_ratio)
        positive(density_ratio=density_ratio)
        resistance = self._curvature * density_ratio
        if speed_ratio == 0.0:
            return FanCurve((0.0,), (0.0,), self.smooth, resistance)
        scale = density_ratio * speed_ratio**2
        flow = tuple(q * speed_ratio for q in self.flow)
        return FanCurve(flow, tuple(p * scale for p in self.pressure), self.smooth, resistance)

    def pressure_at(self, flow: float) -> tuple[float, float]:
        """Return the pressure rise at a flow and its slope.

        Parameters
        ----------
        flow : float
            Flow through the fan, negative when it is driven backwards. [m3/s]

        Returns
        -------
        pressure : float
            Pressure rise. [Pa]
        slope : float
            Derivative of the pressure by the flow; at most zero where there is no dip. [Pa s/m3]
        """
        flows = self.flow
        if flow >= flows[-1]:
            return self._beyond(flow, -1, -1.0)
        if flow < flows[0]:
            return self._beyond(flow, 0, 1.0)
        i = bisect_right(flows, flow) - 1
        width = flows[i + 1] - flows[i]
        rise = (self.pressure[i + 1] - self.pressure[i]) / width
        t = flow - flows[i]
        if not self.smooth:
            return self.pressure[i] + rise * t, rise
        start, end = self._slope[i], self._slope[i + 1]
        square = (3.0 * rise - 2.0 * start - end) / width
        cube = (start + end - 2.0 * rise) / width**2
        value = self.pressure[i] + t * (start + t * (square + t * cube))
        return value, start + t * (2.0 * square + 3.0 * t * cube)

    def flow_at(self, pressure: float) -> tuple[float, float]:
        """Return the flow at a pressure rise and its slope.

        Parameters
        ----------
        pressure : float
            Pressure rise. [Pa]

        Returns
        -------
        flow : float
            Flow through the fan. [m3/s]
        slope : float
            Derivative of the flow by the pressure; minus infinity where the curve is
            level. [m3/(s Pa)]

        Raises
        ------
        RangeError
            If the curve has a dip, because the flow is then not unique.
        """
        if self.has_dip:
            raise RangeError("a fan curve with a dip has several flows at one pressure")
        first, last = self.pressure[0], self.pressure[-1]
        if pressure > first:
            flow = self.flow[0] - self._outside(pressure - first, 0)
        elif pressure <= last:
            flow = self.flow[-1] + self._outside(last - pressure, -1)
        else:
            flow = self._inside(pressure)
        slope = self.pressure_at(flow)[1]
        return flow, 1.0 / slope if slope < 0.0 else -math.inf

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful about this curve at a flow.

        Parameters
        ----------
        flow : float
            Flow through the fan. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        if len(self.flow) == 1:
            return ("fan: stands still; taken as a resistance that is only estimated",)
        found = []
        if self.has_dip:
            found.append("fan: the curve has a dip; several operating points are possible")
        if flow < 0.0:
            found.append(f"fan: driven backwards ({flow:.4g} m3/s); the curve is a guess there")
        elif not self.flow[0] <= flow <= self.flow[-1]:
            found.append(
                f"fan: {flow:.4g} m3/s is outside its curve, {self.flow[0]:.4g} to "
                f"{self.flow[-1]:.4g} m3/s; continued downwards"
            )
        return tuple(found)

    def _edge_slope(self, end: int) -> float:
        """Return the slope with which the curve is continued, never rising."""
        if len(self.flow) == 1:
            return 0.0
        if self.smooth:
            return min(self._slope[end], 0.0)
        i = 0 if end == 0 else len(self.flow) - 2
        rise = self.pressure[i + 1] - self.pressure[i]
        return min(rise / (self.flow[i + 1] - self.flow[i]), 0.0)

    def _beyond(self, flow: float, end: int, sign: float) -> tuple[float, float]:
        """Return pressure and slope outside the points; sign +1 below them, -1 above."""
        step = flow - self.flow[end]
        slope, bend = self._edge_slope(end), sign * self._curvature
        return self.pressure[end] + step * (slope + bend * step), slope + 2.0 * bend * step

    def _outside(self, distance: float, end: int) -> float:
        """Return how far beyond an end the pressure has changed by a distance."""
        if distance == 0.0:
            return 0.0
        slope = -self._edge_slope(end)
        return 2.0 * distance / (slope + math.sqrt(slope**2 + 4.0 * self._curvature * distance))

    def _inside(self, pressure: float) -> float:
        i = next(i for i, p in enumerate(self.pressure[1:]) if p < pressure)
        return falling_root(
            lambda q: _shifted(self.pressure_at(q), pressure), self.flow[i], self.flow[i + 1]
        )


def falling_root(
    function: Callable[[float], tuple[float, float]], low: float, high: float
) -> float:
    """Return the root of a falling function by guarded Newton steps.

    Parameters
    ----------
    function : callable
        Value and slope at a place.
    low, high : float
        The function is positive at the one, negative at the other. [any unit]

    Returns
    -------
    float
        Place of the root. [any unit]

    Notes
    -----
    Bisection where a Newton step would leave the bracket; valid for any falling function.
    """
    x = 0.5 * (low + high)
    for _ in range(ROOT_STEPS):
        value, slope = function(x)
        low, high = (x, high) if value > 0.0 else (low, x)
        trial = x - value / slope if -math.inf < slope < 0.0 else low
        following = trial if low < trial < high else 0.5 * (low + high)
        if abs(following - x) <= 2e-16 * max(abs(following), abs(high - low)):
            return following
        x = following
    return x


def _shifted(pair: tuple[float, float], target: float) -> tuple[float, float]:
    return pair[0] - target, pair[1]


def _check_points(flow: tuple[float, ...], pressure: tuple[float, ...]) -> None:
    if len(flow) < 2 or len(flow) != len(pressure):
        raise RangeError(
            f"a fan curve needs two or more points; got {len(flow)} flows "
            f"and {len(pressure)} pressures"
        )
    if not all(math.isfinite(x) for x in (*flow, *pressure)):
        raise RangeError("a fan curve must consist of finite numbers")
    if flow[0] < 0.0 or any(b <= a for a, b in pairwise(flow)):
        raise RangeError(f"the flows of a fan curve must rise from 0 or more; got {flow}")
    if not pressure[0] > 0.0 or pressure[-1] > max(pressure[:-1]):
        raise RangeError(f"a fan's pressure must begin above 0 and end falling; got {pressure}")


def _knot_slopes(flow: tuple[float, ...], pressure: tuple[float, ...]) -> tuple[float, ...]:
    """Return the slopes of the monotone cubic at the points."""
    width = [b - a for a, b in pairwise(flow)]
    rise = [(b - a) / h for a, b, h in zip(pressure, pressure[1:], width, strict=False)]
    if len(rise) == 1:
        return rise[0], rise[0]
    inner = [
        _mean_slope(h0, h1, r0, r1)
        for h0, h1, r0, r1 in zip(width, width[1:], rise, rise[1:], strict=False)
    ]
    first = _end_slope(width[0], width[1], rise[0], rise[1])
    last = _end_slope(width[-1], width[-2], rise[-1], rise[-2])
    return (first, *inner, last)


def _mean_slope(h0: float, h1: float, r0: float, r1: float) -> float:
    if r0 * r1 <= 0.0:
        return 0.0
    w0, w1 = 2.0 * h1 + h0, h1 + 2.0 * h0
    return (w0 + w1) / (w0 / r0 + w1 / r1)


def _end_slope(h0: float, h1: float, r0: float, r1: float) -> float:
    slope = ((2.0 * h0 + h1) * r0 - h0 * r1) / (h0 + h1)
    if slope * r0 <= 0.0:
        return 0.0
    if r0 * r1 <= 0.0 and abs(slope) > 3.0 * abs(r0):
        return 3.0 * r0
    return slope
