"""Where the points of a sweep lie: pure functions on numbers."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.stats import qmc

from flowsim._arrays import FloatArray, IntArray
from flowsim.errors import RangeError

__all__ = [
    "between",
    "grid_places",
    "hypercube_draws",
    "is_power_of_two",
    "sobol_draws",
    "tidy",
    "whole_between",
]

Spacing = Literal["even", "ratio"]

DIGITS = 12
"""Significant digits kept of a computed value: enough for any input, and the same on every
processor, whose logarithms may differ in the last bit. [-]"""


def is_power_of_two(count: int) -> bool:
    """Say whether a count is 1, 2, 4, 8, ...

    Parameters
    ----------
    count : int
        Whole number. [-]

    Returns
    -------
    bool
        True for a power of two. [-]
    """
    return count > 0 and count & (count - 1) == 0


def hypercube_draws(count: int, dimensions: int, seed: int) -> FloatArray:
    """Draw a Latin hypercube: along each axis one draw in each of `count` equal strata.

    Parameters
    ----------
    count, dimensions : int
        Draws and axes, at least 1. [-]
    seed : int
        The same seed gives the same draws. [-]

    Returns
    -------
    array, shape (count, dimensions)
        Places in the unit cube, 0 <= place < 1. [-]

    Raises
    ------
    RangeError
        If there is no draw or no axis.

    Notes
    -----
    Stratified draws by shuffled strata: [McKay1979]_. Random within each stratum.
    """
    _check(count, dimensions)
    return np.asarray(qmc.LatinHypercube(dimensions, rng=seed).random(count))


def sobol_draws(count: int, dimensions: int, seed: int) -> FloatArray:
    """Draw scrambled Sobol points; a longer draw of the same seed begins with the shorter one.

    Parameters
    ----------
    count, dimensions : int
        Draws, a power of two, and axes, at least 1. [-]
    seed : int
        The same seed gives the same draws. [-]

    Returns
    -------
    array, shape (count, dimensions)
        Places in the unit cube, 0 <= place < 1. [-]

    Raises
    ------
    RangeError
        If the count is not a power of two, or there is no axis.

    Notes
    -----
    Sequence of [Sobol1967]_ with random linear scrambling; balanced only for powers of two.
    """
    _check(count, dimensions)
    if not is_power_of_two(count):
        raise RangeError(f"Sobol points come in powers of two, not {count}")
    return np.asarray(qmc.Sobol(dimensions, rng=seed).random_base2(count.bit_length() - 1))


def grid_places(sizes: tuple[int, ...], index: IntArray) -> tuple[IntArray, ...]:
    """Return the place on each axis of points that are counted with the last axis fastest.

    Parameters
    ----------
    sizes : tuple of int
        Places of each axis. [-]
    index : array, shape (n,)
        Numbers of points, from 0. [-]

    Returns
    -------
    tuple of array, shape (n,)
        Places on each axis, from 0. [-]
    """
    rest = np.asarray(index)
    places: list[IntArray] = []
    for size in reversed(sizes):
        rest, place = np.divmod(rest, size)
        places.append(place)
    return tuple(reversed(places))


def between(share: FloatArray, first: float, last: float, spacing: Spacing) -> FloatArray:
    """Return values between two ends.

    Parameters
    ----------
    share : array, shape (n,)
        0 at the first end, 1 at the last. [-]
    first, last : float
        The ends, in either order; of one sign and not 0 for equal ratios. [any]
    spacing : {"even", "ratio"}
        Equal steps of the share are equal steps, or equal ratios, of the value. [-]

    Returns
    -------
    array, shape (n,)
        Values, rounded to 12 digits, never outside the ends; the ends are exact. [any]

    Raises
    ------
    RangeError
        If equal ratios are asked for across or from 0.
    """
    if spacing == "ratio" and not first * last > 0.0:
        raise RangeError(f"no equal ratios from {first:g} to {last:g}")
    raw = (
        first + share * (last - first)
        if spacing == "even"
        else first * np.exp(share * np.log(last / first))
    )
    values = np.clip(tidy(raw), min(first, last), max(first, last))
    return np.where(share == 0.0, first, np.where(share == 1.0, last, values))


def whole_between(share: FloatArray, first: int, last: int, spacing: Spacing) -> FloatArray:
    """Return whole numbers between two ends, each as likely as the spacing says.

    Parameters
    ----------
    share : array, shape (n,)
        Draws, 0 <= share < 1. [-]
    first, last : int
        The ends, both included, in either order; above 0 for equal ratios. [-]
    spacing : {"even", "ratio"}
        Even: each whole number has the same share. [-]

    Returns
    -------
    array, shape (n,)
        Whole numbers. [-]
    """
    low, high = min(first, last), max(first, last)
    turned = share if first <= last else np.nextafter(1.0, 0.0) - share
    spread = between(turned, low - 0.5, high + 0.5, spacing)
    return np.clip(np.floor(spread + 0.5), low, high)


def tidy(values: FloatArray) -> FloatArray:
    """Round to 12 significant digits.

    Parameters
    ----------
    values : array, shape (n,)
        Finite numbers. [any]

    Returns
    -------
    array, shape (n,)
        Each the float nearest to its 12 digits. [any]
    """
    return np.array([float(f"{value:.{DIGITS}g}") for value in np.asarray(values).tolist()])


def _check(count: int, dimensions: int) -> None:
    """Refuse an empty draw."""
    if count < 1 or dimensions < 1:
        raise RangeError(f"nothing to draw: {count} draw(s) of {dimensions} axis or axes")
