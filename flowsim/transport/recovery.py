"""How the air gets clean after switching on, the chamber full of room air."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.transport.faces import Faces
from flowsim.transport.operator import TransportProblem, check_open
from flowsim.transport.scalar import inflow_source
from flowsim.transport.system import solve
from flowsim.transport.transient import Stepper, stages, stepper

__all__ = ["recovery"]

_SHARPNESS = 3.0
"""First steps in a turnover of the air over the root of its Peclet number. [-]"""
_FEWEST = 16.0
_CELLS = 40.0
"""First steps in a turnover: no fewer, nor more than cells along a mean axis or this. [-]"""
_GROWTH = 1.0 / 3.0
"""Time since the start over the length of a step, over the first steps; steps double. [-]"""
_TOLERANCE = 1e-4
"""Of the solver in each stage; the error of the steps is larger. [-]"""
_STEADY = 1e-6
"""Of the solver for the steady state. [-]"""
_MARGIN = 0.3
"""Share of the wanted level down to which the curve goes on. [-]"""


@dataclass
class _Curve:
    """Shares over time so far."""

    times: list[float] = field(default_factory=list)
    shares: list[FloatArray] = field(default_factory=list)

    def add(self, time: float, values: FloatArray) -> None:
        self.times.append(time)
        self.shares.append(values)


def recovery(
    problem: TransportProblem,
    weights: Sequence[FloatArray],
    *,
    room: Faces,
    longest: float,
    ratio: float = 100.0,
) -> tuple[FloatArray, FloatArray, float | None]:
    """Return the share of room air at some places over time, from a chamber full of it.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    weights : sequence of array, shape (nx, ny, nz)
        Weights of the cells of each place, summing to 1; 0 in solids. [-]
    room : FaceArrays
        1 on faces outside of which the room is; clean air enters through all others. [-]
    longest : float
        When to stop at the latest. [s]
    ratio : float
        By which the share must fall at the worst place. [-]

    Returns
    -------
    times : array, shape (nt,)
        From 0 on. [s]
    shares : array, shape (nt, places)
        Share of room air at each place. [-]
    time : float or None
        From when the worst place stays below 1/ratio; None if that is not reached, or the steady
        share is not below it. [s]

    Raises
    ------
    RangeError
        If an input is impossible, or air has no way out.
    ConvergenceError
        If a step does not reach its tolerance.

    Notes
    -----
    Steps of the two-stage method of `transient`, short while the clean air pushes the other out,
    then doubled as the slow remains decay. The time is interpolated in the logarithm.
    """
    if not weights:
        raise RangeError("recovery needs at least one place")
    if not (0.0 < longest < np.inf and ratio > 1.0):
        raise RangeError(f"needs longest > 0 s and ratio > 1, got {longest} s and {ratio}")
    check_open(problem)
    places = np.stack([problem.forward.vector(_checked(problem, part)) for part in weights])
    right = inflow_source(problem, room)
    final = places @ problem.forward.vector(solve(problem.forward, right, None, _STEADY).values)
    curve = _run(problem, right, places, longest, _goal(final, ratio))
    times, shares = np.array(curve.times), np.stack(curve.shares)
    reached = bool(final.max() < 1.0 / ratio)
    return times, shares, _crossing(times, shares.max(axis=1), 1.0 / ratio) if reached else None


def _checked(problem: TransportProblem, weights: FloatArray) -> FloatArray:
    """Return weights of the right shape that sum to 1."""
    values = np.asarray(weights, dtype=np.float64)
    if values.shape != problem.shape or not abs(float(values.sum()) - 1.0) < 1e-6:
        raise RangeError(f"weights of a place must have shape {problem.shape} and sum to 1")
    return values


def _goal(final: FloatArray, ratio: float) -> FloatArray:
    """Return the share at each place below which the curve may end."""
    return np.maximum(_MARGIN / ratio, 1.05 * final)


def _first_steps(problem: TransportProblem, turnover: float) -> float:
    """Return the number of steps for the first turnover: clean air comes as a front.

    The front is as wide as mixing makes it, and at least as wide as a cell.
    """
    counts = [count for count in problem.shape if count > 1]
    across = float(np.prod(counts) ** (1.0 / max(len(counts), 1)))
    mixing = np.broadcast_to(problem.diffusivity, problem.shape)[problem.field.grid.fluid]
    size = float(problem.volume.sum()) ** (1.0 / 3.0)
    reach = max(float(mixing.mean()) * turnover, 1e-9 * size**2)
    wanted = max(_SHARPNESS * size / reach**0.5, _FEWEST)
    return float(min(wanted, max(across, _CELLS)))


def _run(
    problem: TransportProblem,
    right: FloatArray,
    places: FloatArray,
    longest: float,
    goal: FloatArray,
) -> _Curve:
    """Step until all places are at their goals or the time is over."""
    turnover = float(problem.volume.sum() / problem.boundary.out.sum())
    count = _first_steps(problem, turnover)
    now = problem.forward.vector(np.ones(problem.shape))
    curve = _Curve()
    curve.add(0.0, places @ now)
    time, length = 0.0, min(turnover / count, longest)
    drive: Stepper = stepper(problem, right, length, _TOLERANCE)
    while time < longest * (1.0 - 1e-9) and np.any(curve.shares[-1] > goal):
        if 2.0 * _GROWTH * count * length <= time:
            length *= 2.0
        length = min(length, longest - time)
        if abs(length - drive.step) > 1e-9 * length:
            drive = stepper(problem, right, length, _TOLERANCE)
        _, now = stages(drive, now)
        time += length
        curve.add(time, places @ now)
    return curve


def _crossing(times: FloatArray, worst: FloatArray, level: float) -> float | None:
    """Return from when on a curve stays below a level, None if it ends above."""
    above = int(np.flatnonzero(worst >= level)[-1])
    if above == times.size - 1:
        return None
    high, low = worst[above], max(float(worst[above + 1]), 1e-3 * level)
    part = np.log(high / level) / np.log(high / low)
    return float(times[above] + part * (times[above + 1] - times[above]))
