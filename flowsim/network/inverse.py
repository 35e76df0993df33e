"""The pressure drop at which a law given as a flow passes a wanted flow."""

from __future__ import annotations

import math

import numpy as np

from flowsim.errors import ConvergenceError
from flowsim.network.graph import FlowLaw

__all__ = ["drop_at_flow"]

_MAX_ITERATIONS = 300
_ROUND_OFF = 4 * float(np.finfo(float).eps)
_SMALLEST = 1e-30


def drop_at_flow(law: FlowLaw, flow: float, guess: float = 0.0) -> tuple[float, float]:
    """Return the drop that gives a flow, and its slope.

    Parameters
    ----------
    law : FlowLaw
        Strictly increasing ``flow(drop)``.
    flow : float
        Wanted volume flow. [m3/s]
    guess : float
        Drop to start from. [Pa]

    Returns
    -------
    tuple of float
        Drop [Pa] and its derivative by the flow [Pa s/m3].

    Raises
    ------
    ConvergenceError
        If no drop is found, which means that the law is not strictly increasing.

    Notes
    -----
    Newton's method, and halving of the bracket where Newton leaves it or does not close in.
    """
    low, high, drop, step = -math.inf, math.inf, guess, math.inf
    for _ in range(_MAX_ITERATIONS):
        found, slope = law.flow(drop)
        if found < flow:
            low = drop
        elif found > flow:
            high = drop
        else:
            return drop, 1.0 / slope
        newton = (flow - found) / slope
        step = _inside(newton, drop, (low, high), step)
        if abs(step) <= _ROUND_OFF * abs(drop) + _SMALLEST:
            return drop + step, 1.0 / slope
        drop += step
    raise ConvergenceError(f"no pressure drop found at which a law passes {flow:.4g} m3/s")


def _inside(newton: float, drop: float, bracket: tuple[float, float], before: float) -> float:
    """Return Newton's step if it stays in the bracket and shrinks, else one that halves it."""
    low, high = bracket
    if not (math.isfinite(low) and math.isfinite(high)):
        return newton
    if low < drop + newton < high and abs(newton) <= 0.5 * abs(before):
        return newton
    return 0.5 * (low + high) - drop
