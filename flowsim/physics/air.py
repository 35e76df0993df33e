"""Density and viscosity of moist air."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive, warn_outside

__all__ = ["AirState", "air_density", "air_state", "air_viscosity", "saturation_pressure"]

GAS_CONSTANT_DRY = 287.05  # J/(kg K)
GAS_CONSTANT_VAPOUR = 461.5  # J/(kg K)


@dataclass(frozen=True)
class AirState:
    """Air at one temperature, pressure and humidity.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Absolute pressure. [Pa]
    relative_humidity : float
        Vapour pressure over saturation pressure, 0 to 1. [-]
    density : float
        Density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]

    Notes
    -----
    Valid as `air_state`, which makes it.
    """

    temperature: float
    pressure: float
    relative_humidity: float
    density: float
    viscosity: float


def air_state(
    temperature: float, pressure: float = 101325.0, relative_humidity: float = 0.0
) -> AirState:
    """Return density and viscosity of air.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Absolute pressure. [Pa]
    relative_humidity : float
        Vapour pressure over saturation pressure, 0 to 1. [-]

    Returns
    -------
    AirState
        The air.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    `air_density` and `air_viscosity`. Valid from 253 to 373 K near atmospheric pressure; there
    within 0.1 % of a real gas in density and 0.6 % in viscosity [Lemmon2000]_.
    """
    density = air_density(temperature, pressure, relative_humidity)
    warn_outside("air", "temperature in K", temperature, 253.0, 373.0)
    warn_outside("air", "pressure in Pa", pressure, 5e4, 1.2e5)
    viscosity = air_viscosity(temperature)
    return AirState(temperature, pressure, relative_humidity, density, viscosity)


def air_density(
    temperature: float, pressure: float = 101325.0, relative_humidity: float = 0.0
) -> float:
    """Return the density of moist air.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Absolute pressure. [Pa]
    relative_humidity : float
        Vapour pressure over saturation pressure, 0 to 1. [-]

    Returns
    -------
    float
        Density. [kg/m3]

    Raises
    ------
    RangeError
        If an argument is impossible, or vapour would fill the whole pressure.

    Notes
    -----
    Ideal gases, dry air and vapour added. Valid for dry air at any temperature where air is a
    gas near atmospheric pressure; moist air as `saturation_pressure`.
    """
    positive(temperature=temperature, pressure=pressure)
    in_range("relative_humidity", relative_humidity, 0.0, 1.0)
    vapour = 0.0
    if relative_humidity > 0.0:
        vapour = relative_humidity * saturation_pressure(temperature)
    if vapour >= pressure:
        raise RangeError(f"vapour pressure {vapour:.0f} Pa is above the pressure {pressure:.0f} Pa")
    dry = (pressure - vapour) / GAS_CONSTANT_DRY
    return (dry + vapour / GAS_CONSTANT_VAPOUR) / temperature


def air_viscosity(temperature: float) -> float:
    """Return the dynamic viscosity of air.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]

    Returns
    -------
    float
        Dynamic viscosity. [Pa s]

    Raises
    ------
    RangeError
        If the temperature is not positive.

    Notes
    -----
    Sutherland's law with the constants of [USStandardAtmosphere1976]_:
    ``1.458e-6 T^1.5/(T + 110.4)``. Valid from 170 to 1900 K for dry air; humidity lowers it by
    less than 1 % at room temperature (from memory) and is left out.
    """
    positive(temperature=temperature)
    warn_outside("air viscosity", "temperature in K", temperature, 170.0, 1900.0)
    return float(1.458e-6 * temperature**1.5 / (temperature + 110.4))


def saturation_pressure(temperature: float) -> float:
    """Return the saturation pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]

    Returns
    -------
    float
        Saturation pressure. [Pa]

    Raises
    ------
    RangeError
        If the temperature is not above 35 K, where the form has its pole.

    Notes
    -----
    Magnus form, constants of [AlduchovEskridge1996]_ (from memory). Valid from 233 to 323 K
    within 0.4 %; warns outside 233 to 373 K.
    """
    celsius = temperature - 273.15
    positive(temperature_above_pole=celsius + 243.04)
    warn_outside("saturation pressure", "temperature in K", temperature, 233.0, 373.2)
    return 610.94 * math.exp(17.625 * celsius / (celsius + 243.04))
