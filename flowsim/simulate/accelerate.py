"""Fixed points of the coupling: Anderson mixing, then Newton where that stalls."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError

__all__ = ["FixedPoint", "fixed_point"]

Map = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
Improve = Callable[[FloatArray], FloatArray]

MEMORY = 6  # earlier steps mixed
PATIENCE = 10  # steps without a tenfold gain before Newton takes over
MIXING_LIMIT = 40  # evaluations
JACOBIANS = 12
KNOWN_SLOPES = 4  # attempts with a derivative that the caller knows
DIFFERENCE = 1e-6  # finite-difference step over the scale of its element
SHORTEST = 2.0**-7  # least share of a Newton step


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


@dataclass
class _Search:
    """The map, counted, with the point at which it was last called."""

    function: Map
    count: int = 0
    place: FloatArray | None = None

    def at(self, value: FloatArray) -> tuple[FloatArray, FloatArray, float]:
        """Return change, scale and largest change over scale at a point."""
        self.count += 1
        self.place = value
        mapped, scale = self.function(value)
        change = mapped - value
        size = float(np.max(np.abs(change) / scale)) if change.size else 0.0
        return change, scale, size if np.isfinite(size) else np.inf


def _mixed(
    values: list[FloatArray], changes: list[FloatArray], scale: FloatArray, improve: Improve | None
) -> FloatArray:
    """Return the next iterate from the recent values and their changes."""
    value, change = values[-1], changes[-1]
    if len(values) > 1:
        differences = np.stack([change - old for old in changes[:-1]], axis=1)
        moves = np.stack([value - old for old in values[:-1]], axis=1)
        weights, *_ = np.linalg.lstsq(differences / scale[:, None], change / scale, rcond=1e-12)
        value, change = value - moves @ weights, change - differences @ weights
    return value + (change if improve is None else improve(change))


def _mix(
    search: _Search, start: FloatArray, tolerance: float, improve: Improve | None
) -> tuple[FloatArray, float]:
    """Go on by Anderson mixing until converged or stalled; return the best point."""
    value, best, least = start, start, np.inf
    values: list[FloatArray] = []
    changes: list[FloatArray] = []
    milestone, since = np.inf, 0
    last = search.count + MIXING_LIMIT
    while search.count < last:
        change, scale, size = search.at(value)
        if size < least:
            best, least = value, size
        if size <= tolerance or not np.isfinite(size):
            break
        if size < 0.1 * milestone:
            milestone, since = size, 0
        elif since >= PATIENCE:
            break
        since += 1
        if size > 4.0 * least:
            values, changes = [], []
        values = [*values, value][-MEMORY:]
        changes = [*changes, change][-MEMORY:]
        value = _mixed(values, changes, scale, improve)
    return best, least


def _jacobian(
    search: _Search, value: FloatArray, change: FloatArray, scale: FloatArray
) -> FloatArray:
    """Return the derivative of the change by forward differences."""
    columns = []
    for index, step in enumerate(DIFFERENCE * scale):
        moved = value.copy()
        moved[index] += step
        columns.append((search.at(moved)[0] - change) / step)
    return np.stack(columns, axis=1)


def _newton(
    search: _Search, start: FloatArray, tolerance: float, known: Callable[[], FloatArray] | None
) -> tuple[FloatArray, float, int]:
    """Go on by Newton with Broyden's updates; return point, residual and worst element."""
    value = start
    for attempt in range(JACOBIANS):
        change, scale, size = search.at(value)
        if known is not None and attempt < KNOWN_SLOPES:
            slope = known()
        else:
            slope = _jacobian(search, value, change, scale)
        if not np.isfinite(slope).all():
            break
        fresh = True
        while size > tolerance:
            step = np.asarray(np.linalg.lstsq(slope, -change, rcond=None)[0], dtype=np.float64)
            found = _shortened(search, value, step, size)
            if found is None:
                break
            moved, new_change, scale, new_size = found
            taken = moved - value
            slope = slope + np.outer(new_change - change - slope @ taken, taken) / (taken @ taken)
            slow, fresh = not fresh and new_size > 0.5 * size, False
            value, change, size = moved, new_change, new_size
            if slow:
                break
        if size <= tolerance:
            break
    return value, size, int(np.argmax(np.abs(change) / scale)) if change.size else 0


def _shortened(
    search: _Search, value: FloatArray, step: FloatArray, size: float
) -> tuple[FloatArray, FloatArray, FloatArray, float] | None:
    """Return the longest halved step that brings the residual down, None if none does."""
    share = 1.0
    while share >= SHORTEST:
        moved = value + share * step
        change, scale, new = search.at(moved)
        if new < (1.0 - 1e-3 * share) * size:
            return moved, change, scale, new
        share *= 0.5
    return None


def fixed_point(
    function: Map,
    start: FloatArray,
    tolerance: float,
    names: Callable[[int], str],
    slope: Callable[[], FloatArray] | None = None,
    improve: Improve | None = None,
) -> FixedPoint:
    """Find x with f(x) = x.

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
    slope : callable or None
        () -> the derivative of f(x) - x at the point at which the map was last called, shape
        (n, n), exact or nearly so; None takes finite differences. [as the map's]
    improve : callable or None
        f(x) - x -> a better step than that, at the point at which the map was last called; None
        takes the change itself. [as the map's]

    Returns
    -------
    FixedPoint
        The point, its residual and the number of evaluations.

    Raises
    ------
    ConvergenceError
        If neither method settles; names the element that moves most.

    Notes
    -----
    Anderson mixing with a least-squares fit of the recent changes [Anderson1965]_; where it
    stalls (a front that is neutral in places), Newton with finite differences, backtracking and
    Broyden's rank-one updates [Broyden1965]_. Mixing with better steps that stalls is tried once
    more without them before that.
    """
    search, first = _Search(function), np.asarray(start, dtype=float)
    value, size = _mix(search, first, tolerance, improve)
    if size > tolerance and improve is not None:
        plain = _mix(search, first, tolerance, None)
        value, size = min((value, size), plain, key=lambda found: found[1])
    if size > tolerance:
        value, size, worst = _newton(search, value, tolerance, slope)
        if size > tolerance:
            raise ConvergenceError(
                f"the coupling of network, plenum and chamber did not settle in {search.count} "
                f"steps: {names(worst)} still moves by {size:.2e} of its own drive "
                f"(wanted {tolerance:.0e})"
            )
    if search.place is not value:
        function(value)
    return FixedPoint(value, size, search.count)
