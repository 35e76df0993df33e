"""What a source that is switched on and off does to zones that decay exponentially."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError

__all__ = ["mean_response", "moments_of", "response"]

SERIES_BELOW = 1e-2  # of decay rate times time; above it the closed form keeps 14 digits


def moments_of(time: float | FloatArray, duration: float) -> FloatArray:
    """Return times as an array, checked.

    Parameters
    ----------
    time : float or array, shape (n,)
        Times. [s]
    duration : float
        How long the source works. [s]

    Returns
    -------
    array, shape (n,)
        Times. [s]

    Raises
    ------
    RangeError
        If one is negative or not finite, or the duration negative.
    """
    moments = np.asarray(time, dtype=float)
    if not (np.isfinite(moments).all() and (moments >= 0.0).all() and duration >= 0.0):
        raise RangeError("times must be finite and 0 or more, and the duration 0 or more")
    return moments


def response(
    moments: FloatArray, duration: float, decays: Sequence[float], weights: Sequence[float]
) -> FloatArray:
    """Return the concentration at each time, the source working from 0 to the duration.

    Parameters
    ----------
    moments : array, shape (n,)
        Times. [s]
    duration : float
        How long the source works. [s]
    decays : sequence of float
        Decay rates of the zones' modes. [1/s]
    weights : sequence of float
        Initial rise of each mode. [kg/(m3 s)]

    Returns
    -------
    array, shape (n,)
        Concentration. [kg/m3]
    """
    on = np.minimum(moments, duration)
    total = np.zeros(moments.shape)
    for decay, weight in zip(decays, weights, strict=True):
        total += weight * on * _mean_decay(decay * on) * np.exp(-decay * (moments - on))
    return total


def mean_response(
    moments: FloatArray, duration: float, decays: Sequence[float], weights: Sequence[float]
) -> FloatArray:
    """Return the mean concentration from 0 to each time; arguments as `response`.

    Parameters
    ----------
    moments : array, shape (n,)
        Times. [s]
    duration : float
        How long the source works. [s]
    decays : sequence of float
        Decay rates of the zones' modes. [1/s]
    weights : sequence of float
        Initial rise of each mode. [kg/(m3 s)]

    Returns
    -------
    array, shape (n,)
        Mean concentration, 0 at time 0. [kg/m3]
    """
    on = np.minimum(moments, duration)
    after = moments - on
    dose = np.zeros(moments.shape)
    for decay, weight in zip(decays, weights, strict=True):
        rising = on**2 * _mean_rise(decay * on)
        falling = on * _mean_decay(decay * on) * after * _mean_decay(decay * after)
        dose += weight * (rising + falling)
    return np.divide(dose, moments, out=np.zeros(moments.shape), where=moments > 0.0)


def _mean_decay(x: FloatArray) -> FloatArray:
    """Return (1 - exp(-x))/x."""
    return np.divide(-np.expm1(-x), x, out=np.ones(x.shape), where=x > 0.0)


def _mean_rise(x: FloatArray) -> FloatArray:
    """Return (x - 1 + exp(-x))/x^2."""
    series = np.asarray(
        1 / 2 - x * (1 / 6 - x * (1 / 24 - x * (1 / 120 - x * (1 / 720 - x / 5040))))
    )
    return np.divide(x + np.expm1(-x), x**2, out=series, where=x > SERIES_BELOW)
