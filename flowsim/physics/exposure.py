"""Concentration of a vapour in a well-mixed room over time, and its mean over a shift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.physics._ranges import non_negative, positive
from flowsim.physics._rise import mean_response, moments_of, response

__all__ = [
    "WellMixedRoom",
    "mixture_share",
    "time_weighted_average",
]

SHIFT = 8.0 * 3600.0  # s


@dataclass(frozen=True)
class WellMixedRoom:
    """A room whose air is mixed at once.

    Parameters
    ----------
    volume : float
        Volume of air. [m3]
    flow : float
        Fresh air through the room. [m3/s]
    mixing_factor : float
        Divides the flow where mixing is poor, 1 to 10. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``V dC/dt = G - Q C/K``, exact; K from 1 to 10 is common practice, no source. Valid for sources
    small against the air flow. A box filled with helium for an hour follows it within 4 %, with
    layers of 12 % above and below the mean.
    """

    volume: float
    flow: float
    mixing_factor: float = 1.0

    def __post_init__(self) -> None:
        """Check the arguments."""
        positive(volume=self.volume)
        non_negative(flow=self.flow)
        if not 1.0 <= self.mixing_factor <= 10.0:
            raise RangeError(f"mixing_factor is {self.mixing_factor!r}; expected 1 to 10")

    @property
    def decay(self) -> float:
        """Rate at which a concentration decays. [1/s]"""
        return self.flow / (self.mixing_factor * self.volume)

    def concentration(
        self,
        time: float | FloatArray,
        rate: float,
        duration: float = math.inf,
        initial: float = 0.0,
    ) -> FloatArray:
        """Return the concentration while a source works and after.

        Parameters
        ----------
        time : float or array, shape (n,)
            Time since the source began. [s]
        rate : float
            Mass of vapour given off in a time. [kg/s]
        duration : float
            How long the source works. [s]
        initial : float
            Concentration at time 0. [kg/m3]

        Returns
        -------
        array, shape (n,)
            Mass concentration. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.
        """
        non_negative(rate=rate, initial=initial)
        moments = moments_of(time, duration)
        risen = response(moments, duration, (self.decay,), (rate / self.volume,))
        return risen + initial * np.exp(-self.decay * moments)

    def average(
        self, time: float | FloatArray, rate: float, duration: float = math.inf
    ) -> FloatArray:
        """Return the mean concentration from time 0, in clean air at first.

        Parameters
        ----------
        time : float or array, shape (n,)
            End of the averaging. [s]
        rate : float
            Mass of vapour given off in a time. [kg/s]
        duration : float
            How long the source works. [s]

        Returns
        -------
        array, shape (n,)
            Mean mass concentration from 0 to the time. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.
        """
        non_negative(rate=rate)
        moments = moments_of(time, duration)
        return mean_response(moments, duration, (self.decay,), (rate / self.volume,))


def time_weighted_average(
    concentrations: Sequence[float], durations: Sequence[float], period: float = SHIFT
) -> float:
    """Return the mean concentration of a shift from its parts.

    Parameters
    ----------
    concentrations : sequence of float
        Mean concentration of each part. [any unit]
    durations : sequence of float
        Length of each part; what is missing to the period counts as clean. [s]
    period : float
        Averaging time, eight hours unless stated. [s]

    Returns
    -------
    float
        Mean, in the unit of the concentrations. [any unit]

    Raises
    ------
    RangeError
        If an argument is negative or the lists differ in length.

    Notes
    -----
    ``sum C t / period`` [OSHA1910]_. Valid also for parts longer than the period together: their
    dose then counts in full.
    """
    positive(period=period)
    if len(concentrations) != len(durations):
        raise RangeError(f"{len(concentrations)} concentrations but {len(durations)} durations")
    for value, length in zip(concentrations, durations, strict=True):
        non_negative(concentration=value, duration=length)
    return sum(c * t for c, t in zip(concentrations, durations, strict=True)) / period


def mixture_share(concentrations: Sequence[float], limits: Sequence[float]) -> float:
    """Return how far vapours of like effect use up their limits together.

    Parameters
    ----------
    concentrations : sequence of float
        Concentration of each vapour. [any unit]
    limits : sequence of float
        Limit of each, in the same unit. [any unit]

    Returns
    -------
    float
        Sum of the shares; above 1 the limit of the mixture is passed. [-]

    Raises
    ------
    RangeError
        If a number is impossible or the lists differ in length.

    Notes
    -----
    ``sum C/L`` [OSHA1910]_. Valid for vapours with like effect on the same organ.
    """
    if len(concentrations) != len(limits):
        raise RangeError(f"{len(concentrations)} concentrations but {len(limits)} limits")
    total = 0.0
    for value, limit in zip(concentrations, limits, strict=True):
        non_negative(concentration=value)
        positive(limit=limit)
        total += value / limit
    return total
