"""Concentration of a vapour near its source and in the rest of the room, over time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from flowsim._arrays import FloatArray
from flowsim.physics._ranges import non_negative, positive
from flowsim.physics._rise import mean_response, moments_of, response
from flowsim.physics.exposure import WellMixedRoom

__all__ = ["NearFarRoom", "hemisphere_exchange", "hemisphere_volume"]


@dataclass(frozen=True)
class NearFarRoom:
    """A room with a zone of higher concentration round the source.

    Parameters
    ----------
    far_volume : float
        Volume of the room without the near zone. [m3]
    flow : float
        Fresh air through the room. [m3/s]
    near_volume : float
        Volume of the near zone. [m3]
    exchange : float
        Air that passes between near and far zone, each way. [m3/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [Nicas1996]_, form from memory, solved exactly: ``V_N dC_N/dt = G + b (C_F - C_N)``,
    ``V_F dC_F/dt = b (C_N - C_F) - Q C_F``. Valid for two well-mixed zones; air speeds indoors are
    mostly below 0.3 m/s and b from 0.05 to 0.5 m3/s (from memory).
    """

    far_volume: float
    flow: float
    near_volume: float
    exchange: float

    def __post_init__(self) -> None:
        """Check the arguments."""
        positive(far_volume=self.far_volume, near_volume=self.near_volume)
        positive(exchange=self.exchange)
        non_negative(flow=self.flow)

    @property
    def decays(self) -> tuple[float, float]:
        """Slow and fast rate at which concentrations decay. [1/s]"""
        near = self.exchange / self.near_volume
        far = (self.exchange + self.flow) / self.far_volume
        lost = near * self.flow / self.far_volume
        fast = 0.5 * (near + far + math.sqrt((near + far) ** 2 - 4.0 * lost))
        return lost / fast, fast

    def concentration(
        self, time: float | FloatArray, rate: float, duration: float = math.inf
    ) -> tuple[FloatArray, FloatArray]:
        """Return the concentrations of both zones while a source works and after.

        Parameters
        ----------
        time : float or array, shape (n,)
            Time since the source began, in clean air. [s]
        rate : float
            Mass of vapour given off in a time. [kg/s]
        duration : float
            How long the source works. [s]

        Returns
        -------
        tuple of array, shape (n,)
            Mass concentration in the near and the far zone. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.
        """
        moments = moments_of(time, duration)
        near, far = self._weights(rate)
        return (
            response(moments, duration, self.decays, near),
            response(moments, duration, self.decays, far),
        )

    def average(
        self, time: float | FloatArray, rate: float, duration: float = math.inf
    ) -> tuple[FloatArray, FloatArray]:
        """Return the mean concentrations of both zones from time 0.

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
        tuple of array, shape (n,)
            Mean mass concentration from 0 to the time, near and far zone. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.
        """
        moments = moments_of(time, duration)
        near, far = self._weights(rate)
        return (
            mean_response(moments, duration, self.decays, near),
            mean_response(moments, duration, self.decays, far),
        )

    def worst_average(self, window: float, rate: float, duration: float = math.inf) -> float:
        """Return the largest mean concentration of the near zone over any stretch of time.

        Parameters
        ----------
        window : float
            Length of the stretch; 0 for the highest moment. [s]
        rate : float
            Mass of vapour given off in a time. [kg/s]
        duration : float
            How long the source works. [s]

        Returns
        -------
        float
            Mass concentration; infinite where it never stops to rise. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.

        Notes
        -----
        The concentration rises as long as the source works and falls after, so the worst stretch
        holds the end of the source and is as high at its start as at its end; own derivation.
        Valid for a stretch that may reach beyond the end of the source.
        """
        non_negative(window=window, rate=rate)
        if rate == 0.0 or duration == 0.0:
            return 0.0
        if math.isinf(duration):
            return rate * (1.0 / self.flow + 1.0 / self.exchange) if self.flow > 0.0 else math.inf
        if window == 0.0:
            return float(self.concentration(duration, rate, duration)[0])

        def rise(start: float) -> float:
            pair = np.array([start, start + window])
            first, last = self.concentration(pair, 1.0, duration)[0]
            return float(last - first)

        start = max(0.0, duration - window)
        if rise(start) > 0.0 > rise(duration):
            start = float(brentq(rise, start, duration))
        ends = np.array([start, start + window])
        before, until = ends * self.average(ends, rate, duration)[0]
        return float(until - before) / window

    def decoupled(self, time: float | FloatArray, rate: float) -> FloatArray:
        """Return the near-zone concentration as the sum of two separate zones.

        Parameters
        ----------
        time : float or array, shape (n,)
            Time since the source began, in clean air. [s]
        rate : float
            Mass of vapour given off in a time. [kg/s]

        Returns
        -------
        array, shape (n,)
            Mass concentration. [kg/m3]

        Raises
        ------
        RangeError
            If an argument is negative.

        Notes
        -----
        Room and near zone each well mixed, added [Nicas2024]_; valid as a slight upper estimate.
        """
        room = WellMixedRoom(self.far_volume, self.flow)
        zone = WellMixedRoom(self.near_volume, self.exchange)
        return room.concentration(time, rate) + zone.concentration(time, rate)

    def _weights(self, rate: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return how strongly each decay rate works in the near and the far zone."""
        non_negative(rate=rate)
        slow, fast = self.decays
        far = (self.exchange + self.flow) / self.far_volume
        size = rate / self.near_volume / (fast - slow)
        passed = size * self.exchange / self.far_volume
        return (size * (far - slow), size * (fast - far)), (passed, -passed)


def hemisphere_volume(radius: float) -> float:
    """Return the volume of a near zone that is half a ball on a surface.

    Parameters
    ----------
    radius : float
        Radius. [m]

    Returns
    -------
    float
        Volume. [m3]

    Raises
    ------
    RangeError
        If the radius is not positive.

    Notes
    -----
    Geometry, valid for any radius; 0.8 m is an arm's length [Nicas1996]_.
    """
    positive(radius=radius)
    return 2.0 / 3.0 * math.pi * radius**3


def hemisphere_exchange(radius: float, air_speed: float) -> float:
    """Return the air that passes in and out of a half ball.

    Parameters
    ----------
    radius : float
        Radius. [m]
    air_speed : float
        Random air speed at its surface. [m/s]

    Returns
    -------
    float
        Flow each way. [m3/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Half the free surface times the air speed [Nicas1996]_. Valid for random draughts without a
    main direction; usual speeds 0.03 to 0.3 m/s (from memory).
    """
    positive(radius=radius, air_speed=air_speed)
    return math.pi * radius**2 * air_speed
