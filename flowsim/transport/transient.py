"""Concentration over time, second order and conservative."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.transport.faces import Faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.scalar import blank_solids, exit_flows, inflow_source, release
from flowsim.transport.system import TOLERANCE, System, solve_vector, with_storage

__all__ = ["Stepper", "Transient", "stages", "stepper", "transient"]

_GAMMA = 1.0 - 1.0 / sqrt(2.0)
_STEPS = 200


@dataclass(frozen=True, eq=False)
class Transient:
    """Concentration at some times, and what passed until then.

    Parameters
    ----------
    times : array, shape (nt,)
        The first is the start. [s]
    concentration : array, shape (nt, nx, ny, nz)
        At these times; nan in solids. [1/m3]
    left : dict of str to array, shape (nt,)
        Amount that has left by each exit since the start. [-]
    entered : array, shape (nt,)
        Amount that came in or was released since the start. [-]
    """

    times: FloatArray
    concentration: FloatArray
    left: dict[str, FloatArray]
    entered: FloatArray


@dataclass(frozen=True, eq=False)
class Stepper:
    """What advances a problem by steps of one length.

    Parameters
    ----------
    right : array, shape (n + 1,)
        What enters or is released in each cell, in the order of the rows. [1/s]
    step : float
        Length of a step. [s]
    storage : array, shape (n + 1,)
        Volume over the implicit part of the step, in the same order. [m3/s]
    system : System
        The matrix of both stages. [-]
    tolerance : float
        Residual over right-hand side at which the solver of a stage stops. [-]
    """

    right: FloatArray
    step: float
    storage: FloatArray
    system: System
    tolerance: float


def transient(
    problem: TransportProblem,
    start: FloatArray | float,
    times: Sequence[float] | FloatArray,
    inflow: Faces | float = 0.0,
    source: FloatArray | None = None,
    longest_step: float | None = None,
    tolerance: float = TOLERANCE,
) -> Transient:
    """Return the concentration over time in a steady flow.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    start : array, shape (nx, ny, nz), or float
        Concentration at the first time. [1/m3]
    times : sequence of float, shape (nt,)
        Ascending. [s]
    inflow : FaceArrays or float
        Concentration of the air outside each outer face, constant. [1/m3]
    source : array, shape (nx, ny, nz), or None
        Released amount per second in each cell, constant. [1/s]
    longest_step : float or None
        No step is longer; None for 1/200 of the whole time. [s]
    tolerance : float
        Residual over right-hand side at which the solver of a stage stops. [-]

    Returns
    -------
    Transient
        Concentrations and amounts that passed; what was there and what entered equals what is
        there and what left, to the tolerance of the solver.

    Raises
    ------
    RangeError
        If an input is impossible.
    ConvergenceError
        If a step does not reach its tolerance.

    Notes
    -----
    Diagonally implicit two-stage method of second order, gamma = 1 - 1/sqrt 2, which damps what
    it cannot follow; both stages share one matrix. Standard method, from memory.
    """
    moments = np.asarray(times, dtype=np.float64)
    if moments.ndim != 1 or moments.size < 2 or not np.all(np.diff(moments) > 0.0):
        raise RangeError("times must be two or more, ascending")
    longest = (moments[-1] - moments[0]) / _STEPS if longest_step is None else longest_step
    if not longest > 0.0:
        raise RangeError(f"longest_step must be positive, got {longest} s")
    now = problem.forward.vector(_start(problem, start))
    right = inflow_source(problem, inflow) + release(problem, source)
    states, passed = [now], [dict.fromkeys(problem.exit_names, 0.0)]
    drive: Stepper | None = None
    for span in np.diff(moments):
        steps = ceil(span / longest * (1.0 - 1e-12))
        if drive is None or abs(drive.step * steps / span - 1.0) > 1e-12:
            drive = stepper(problem, right, float(span) / steps, tolerance)
        total = dict(passed[-1])
        for _ in range(steps):
            middle, now = stages(drive, now)
            flows = _left(problem, drive.step, middle, now)
            total = {name: total[name] + flow for name, flow in flows.items()}
        states.append(now)
        passed.append(total)
    fields = np.stack([blank_solids(problem, problem.forward.spread(state)) for state in states])
    left = {name: np.array([item[name] for item in passed]) for name in problem.exit_names}
    return Transient(moments, fields, left, float(right.sum()) * (moments - moments[0]))


def _start(problem: TransportProblem, start: FloatArray | float) -> FloatArray:
    """Return a checked first concentration, 0 in solids."""
    values = np.asarray(start, dtype=np.float64)
    if values.ndim and values.shape != problem.shape:
        raise RangeError(f"start must have shape {problem.shape}, got {values.shape}")
    full = np.where(problem.field.grid.fluid, values, 0.0)
    if not np.isfinite(full).all():
        raise RangeError("start must be finite")
    return full


def stepper(problem: TransportProblem, right: FloatArray, step: float, tolerance: float) -> Stepper:
    """Return what advances a problem by steps of one length.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    right : array, shape (nx, ny, nz)
        What enters or is released in each cell. [1/s]
    step : float
        Length of a step. [s]
    tolerance : float
        Residual over right-hand side at which the solver of a stage stops. [-]

    Returns
    -------
    Stepper
        For `stages`.
    """
    storage = problem.volume / (_GAMMA * step)
    system = with_storage(problem.forward, storage)
    return Stepper(system.vector(right), step, system.vector(storage), system, tolerance)


def stages(drive: Stepper, before: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the concentration in the middle and at the end of a step.

    Parameters
    ----------
    drive : Stepper
        What advances it. [-]
    before : array, shape (n + 1,)
        Concentration before the step, in the order of the rows. [1/m3]

    Returns
    -------
    tuple of array, shape (n + 1,)
        Of the first and of the second stage; the latter ends the step. [1/m3]

    Raises
    ------
    ConvergenceError
        If a stage does not reach its tolerance.
    """
    right, storage, system = drive.right, drive.storage, drive.system
    middle = before.copy()
    solve_vector(system, storage * before + right, middle, drive.tolerance)
    part = (1.0 - _GAMMA) / _GAMMA
    base = before + part * (middle - before)
    after = middle + part * (middle - before)
    solve_vector(system, storage * base + right, after, drive.tolerance)
    return middle, after


def _left(
    problem: TransportProblem, step: float, middle: FloatArray, after: FloatArray
) -> dict[str, float]:
    """Return the amount that left by each exit in a step, from its two stages."""
    weights = (step * (1.0 - _GAMMA), step * _GAMMA)
    spread = problem.forward.spread
    first, second = exit_flows(problem, spread(middle)), exit_flows(problem, spread(after))
    return {name: weights[0] * first[name] + weights[1] * second[name] for name in first}
