"""Diffusion of a vapour in air."""

from __future__ import annotations

import math

from flowsim.physics._ranges import positive, warn_outside
from flowsim.physics.substances import AIR_MOLAR_MASS, substance

__all__ = ["diffusion_coefficient", "fuller_diffusion", "scaled_diffusion"]

AIR_VOLUME = 19.7  # diffusion volume of air
BAR = 1e5  # Pa
STANDARD_PRESSURE = 101325.0  # Pa


def fuller_diffusion(
    molar_mass: float,
    diffusion_volume: float,
    temperature: float,
    pressure: float = STANDARD_PRESSURE,
) -> float:
    """Return the diffusion coefficient of a vapour in air from its atoms.

    Parameters
    ----------
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    diffusion_volume : float
        Sum of its atomic diffusion volumes of 1969. [-]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Diffusion coefficient. [m2/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    [Fuller1969]_, as given by [Poling2001]_, eq. 11-4.4: ``0.00143 T^1.75 / (P M^0.5 (v_air^(1/3)
    + v^(1/3))^2)`` in cm2/s, with P in bar and M = 2/(1/M_air + 1/M) in g/mol. Valid for dilute
    vapours near atmospheric pressure, here 253 to 473 K; 4 % claimed, -6.5 to +5.5 % against
    the measurements of [Lugg1968]_ (from memory).
    """
    positive(molar_mass=molar_mass, diffusion_volume=diffusion_volume)
    positive(temperature=temperature, pressure=pressure)
    warn_outside("diffusion in air", "temperature in K", temperature, 253.0, 473.0)
    mean_mass = 2e3 / (1.0 / molar_mass + 1.0 / AIR_MOLAR_MASS)
    size = math.cbrt(AIR_VOLUME) + math.cbrt(diffusion_volume)
    scale = pressure / BAR * math.sqrt(mean_mass) * size**2
    return float(0.00143e-4 * temperature**1.75 / scale)


def diffusion_coefficient(
    name: str, temperature: float, pressure: float = STANDARD_PRESSURE
) -> float:
    """Return the diffusion coefficient in air of a substance of the table.

    Parameters
    ----------
    name : str
        Name of the substance.
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Diffusion coefficient. [m2/s]

    Raises
    ------
    RangeError
        If the substance is unknown or an argument not positive.

    Notes
    -----
    `fuller_diffusion` [Fuller1969]_; valid as that.
    """
    item = substance(name)
    return fuller_diffusion(item.molar_mass, item.diffusion_volume, temperature, pressure)


def scaled_diffusion(coefficient: float, measured_at: float, temperature: float) -> float:
    """Return a measured diffusion coefficient at another temperature and the same pressure.

    Parameters
    ----------
    coefficient : float
        Measured diffusion coefficient. [m2/s]
    measured_at : float
        Absolute temperature of the measurement. [K]
    temperature : float
        Absolute temperature wanted. [K]

    Returns
    -------
    float
        Diffusion coefficient. [m2/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Power 1.75 of the temperature, as in [Fuller1969]_. Valid for steps of less than about
    100 K.
    """
    positive(coefficient=coefficient, measured_at=measured_at, temperature=temperature)
    warn_outside("scaled diffusion", "step in K", temperature - measured_at, -100.0, 100.0)
    return float(coefficient * (temperature / measured_at) ** 1.75)
