"""How far a thin layer of liquid cools itself by evaporating."""

from __future__ import annotations

import math

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive, warn_outside
from flowsim.physics.air import air_density
from flowsim.physics.diffusion import fuller_diffusion
from flowsim.physics.fan_curve import falling_root
from flowsim.physics.stefan import film_factor
from flowsim.physics.substances import GAS_CONSTANT, Substance, substance

__all__ = ["air_conductivity", "surface_temperature"]

HEAT_CAPACITY = 1006.0  # J/(kg K), dry air
COLDEST = 223.0  # K, where the search for the surface temperature begins
ATMOSPHERE = 101325.0  # Pa


def air_conductivity(temperature: float) -> float:
    """Return the thermal conductivity of air.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]

    Returns
    -------
    float
        Thermal conductivity. [W/(m K)]

    Raises
    ------
    RangeError
        If the temperature is not positive.

    Notes
    -----
    ``0.0257 (T/293.15)^0.8``, from memory [Bird2002]_. Valid from 220 to 350 K within 2 %.
    """
    positive(temperature=temperature)
    warn_outside("air conductivity", "temperature in K", temperature, 220.0, 350.0)
    return float(0.0257 * (temperature / 293.15) ** 0.8)


def surface_temperature(name: str, air_temperature: float, pressure: float = ATMOSPHERE) -> float:
    """Return the temperature of a liquid that gets its heat from the air alone.

    Parameters
    ----------
    name : str
        Name of the pure liquid.
    air_temperature : float
        Absolute temperature of clean dry air that blows over it. [K]
    pressure : float
        Pressure of the air. [Pa]

    Returns
    -------
    float
        Temperature of the surface once steady. [K]

    Raises
    ------
    RangeError
        If the substance is unknown or boils, or the temperature is not 278 to 323 K.

    Notes
    -----
    Psychrometric balance [Bird2002]_, ``rho cp Le^(2/3) (T_air - T_s) = Hv F p/(R T_s)``, with the
    film factor F and properties at the mean of both temperatures. Valid for a thin layer in an
    insulated tray, in dry air; heat through the tray or by radiation makes it warmer. Water:
    5.2 C against a handbook wet bulb of 5.9 C. The vapour pressure is continued below its table,
    within 7 % down to 250 K (acetic acid 11 %, and frozen there).
    """
    positive(pressure=pressure)
    in_range("air_temperature", air_temperature, 278.0, 323.2)
    item = substance(name)
    if item.continued_pressure(air_temperature) >= pressure:
        raise RangeError(f"{item.name} boils at {air_temperature:.2f} K; it has no wet bulb")

    def balance(surface: float) -> tuple[float, float]:
        return _heat_left(item, surface, air_temperature, pressure), -math.inf

    return falling_root(balance, COLDEST, air_temperature)


def _heat_left(item: Substance, surface: float, air: float, pressure: float) -> float:
    """Return heat from the air less heat of evaporation, over the transfer coefficient."""
    mean = 0.5 * (surface + air)
    capacity = air_density(mean, pressure) * HEAT_CAPACITY
    diffusion = fuller_diffusion(item.molar_mass, item.diffusion_volume, mean, pressure)
    lewis = air_conductivity(mean) / (capacity * diffusion)
    vapour = item.continued_pressure(surface)
    amount = film_factor(vapour / pressure) * vapour / (GAS_CONSTANT * surface)
    gained = capacity * lewis ** (2.0 / 3.0) * (air - surface)
    return float(gained - item.heat_of_vaporisation * amount)
