"""Accelerated fixed-point iteration for the coupling of models."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError

__all__ = ["FixedPoint", "fixed_point"]


@dataclass(frozen=True)
class FixedPoint:
    """Where an iteration came to rest.

    Parameters
    ----------
    value : array, shape (n,)
        The fixed point. [scaled by the caller]
    residual : float
        Largest change in the last step over the caller's scale. [-]
    iterations : int
        Evaluations of the map. [-]
    """

    value: FloatArray
    residual: float
    iterations: int


def _step(values: list[FloatArray], changes: list[FloatArray], scale: FloatArray) -> FloatArray:
    """Return the next iterate from the recent values and their changes."""
    latest = values[-1] + changes[-1]
    if len(values) < 2:
        return latest
    differences = np.stack([changes[-1] - change for change in changes[:-1]], axis=1)
    moves = np.stack([values[-1] - value for value in values[:-1]], axis=1)
    weights, *_ = np.linalg.lstsq(
        differences / scale[:, None], changes[-1] / scale, rcond=1e-12
    )
    mixed: FloatArray = latest - (moves + differences) @ weights
    return mixed


def fixed_point(
    function: Callable[[FloatArray], tuple[FloatArray, FloatArray]],
    start: FloatArray,
    tolerance: float,
    names: Callable[[int], str],
    limit: int = 80,
    memory: int = 6,
) -> FixedPoint:
    """Find x with f(x) = x by Anderson acceleration.

    Parameters
    ----------
    function : callable
        x -> (f(x), scale): the map and, element by element, the drive against which a change
        of that element is judged.
    start : array, shape (n,)
        First guess. [as the map's]
    tolerance : float
        Largest change over scale that counts as converged. [-]
    names : callable
        Element number -> words for the error message.
    limit : int
        Evaluations allowed. [-]
    memory : int
        Earlier steps used. [-]

    Returns
    -------
    FixedPoint
        The point, its residual and the number of evaluations.

    Raises
    ------
    ConvergenceError
        If the limit is reached; names the element that moved most.

    Notes
    -----
    Anderson mixing with a least-squares fit of the recent changes [Anderson1965]_.
    """
    value = np.asarray(start, dtype=float)
    values: list[FloatArray] = []
    changes: list[FloatArray] = []
    best = np.inf
    worst = 0
    for iteration in range(1, limit + 1):
        mapped, scale = function(value)
        change = mapped - value
        relative = np.abs(change) / scale
        worst = int(np.argmax(relative)) if relative.size else 0
        residual = float(relative[worst]) if relative.size else 0.0
        if not np.isfinite(residual):
            break
        if residual <= tolerance:
            return FixedPoint(mapped, residual, iteration)
        if residual > 4.0 * best:
            values, changes = [], []
        best = min(best, residual)
        values.append(value)
        changes.append(change)
        values, changes = values[-memory:], changes[-memory:]
        value = _step(values, changes, scale)
    raise ConvergenceError(
        f"the coupling of network, plenum and chamber did not settle in {limit} steps: "
        f"{names(worst)} still moves by {residual:.2e} of its own drive (wanted {tolerance:.0e})"
    )
