"""Published laws of the transfer from a flat liquid surface to air that blows over it.

Each returns the transfer coefficient k of ``flux = k (c_s - c)``. They fall to zero with the air
speed, which no real surface does: `flowsim.physics.tray` puts the floor under them.
"""

from __future__ import annotations

import math

from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside
from flowsim.physics.substances import GAS_CONSTANT

__all__ = [
    "kawamura_mackay_coefficient",
    "laminar_plate_coefficient",
    "mackay_matsugu_coefficient",
    "oppt_mass_transfer_coefficient",
    "oppt_penetration_coefficient",
    "penetration_coefficient",
    "pool_coefficient",
]

FOOT_PER_MINUTE = 0.3048 / 60.0  # m/s
MILLIMETRE_OF_MERCURY = 133.322  # Pa
ATMOSPHERE = 101325.0  # Pa
OPPT_AIR_MASS = 29.0  # g/mol, as printed in its formula


def pool_coefficient(speed: float, molar_mass: float) -> float:
    """Return the transfer coefficient of an outdoor pool, without its length.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [EPA1999]_: ``0.0067 (18/M)^(1/3) U^0.78``, M in g/mol. Valid for pools of metres in turbulent
    wind; at bench scale about half of `laminar_plate_coefficient`.
    """
    non_negative(speed=speed)
    positive(molar_mass=molar_mass)
    return float(0.0067 * math.cbrt(0.018 / molar_mass) * speed**0.78)


def mackay_matsugu_coefficient(speed: float, length: float, schmidt: float) -> float:
    """Return the transfer coefficient of a pool with its length, first form.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length of the surface along the flow. [m]
    schmidt : float
        Schmidt number of the vapour in air. [-]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [MackayMatsugu1973]_, from memory: ``0.0292 U^0.78 X^-0.11 Sc^-0.67`` in metres per hour.
    Valid for pools from about a decimetre in turbulent wind.
    """
    non_negative(speed=speed)
    positive(length=length, schmidt=schmidt)
    hourly = 0.0292 * (3600.0 * speed) ** 0.78 * length**-0.11 * schmidt**-0.67
    return float(hourly / 3600.0)


def kawamura_mackay_coefficient(speed: float, length: float, schmidt: float) -> float:
    """Return the transfer coefficient of a pool with its length, second form.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length of the surface along the flow. [m]
    schmidt : float
        Schmidt number of the vapour in air. [-]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [KawamuraMackay1987]_: ``0.0048 U^(7/9) d^(-1/9) Sc^(-2/3)``. Valid as
    `mackay_matsugu_coefficient`, from which it derives.
    """
    non_negative(speed=speed)
    positive(length=length, schmidt=schmidt)
    power = speed ** (7.0 / 9.0) * length ** (-1.0 / 9.0) * schmidt ** (-2.0 / 3.0)
    return float(0.0048 * power)


def laminar_plate_coefficient(
    speed: float, length: float, diffusion: float, viscosity: float
) -> float:
    """Return the transfer coefficient of a smooth flat plate in laminar flow.

    Parameters
    ----------
    speed : float
        Air speed outside the boundary layer. [m/s]
    length : float
        Length of the surface along the flow, from its leading edge. [m]
    diffusion : float
        Diffusion coefficient of the vapour in air. [m2/s]
    viscosity : float
        Kinematic viscosity of the air. [m2/s]

    Returns
    -------
    float
        Transfer coefficient, mean over the length. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``0.664 Re^0.5 Sc^(1/3) D/L`` [Bird2002]_, from memory. Valid for Reynolds numbers on the
    length from about 100 (where the boundary layer is half as thick as the plate is long) to 5e5
    and Schmidt numbers above 0.6.
    """
    non_negative(speed=speed)
    positive(length=length, diffusion=diffusion, viscosity=viscosity)
    warn_outside("laminar plate", "Reynolds number", speed * length / viscosity, 100.0, 5e5)
    return laminar_plate(speed, length, diffusion, viscosity)


def laminar_plate(speed: float, length: float, diffusion: float, viscosity: float) -> float:
    """Return the coefficient of a laminar plate, without any check.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length along the flow. [m]
    diffusion : float
        Diffusion coefficient. [m2/s]
    viscosity : float
        Kinematic viscosity. [m2/s]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Notes
    -----
    Part of `laminar_plate_coefficient`; valid as that.
    """
    root = math.sqrt(speed * length / viscosity)
    return 0.664 * root * math.cbrt(viscosity / diffusion) * diffusion / length


def penetration_coefficient(speed: float, length: float, diffusion: float) -> float:
    """Return the transfer coefficient of air that slides over the surface as a block.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length of the surface along the flow. [m]
    diffusion : float
        Diffusion coefficient of the vapour in air. [m2/s]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``2 (D U/(pi L))^0.5`` [Bird2002]_, from memory. Valid as an upper estimate: no air slides over
    a surface unslowed.
    """
    non_negative(speed=speed)
    positive(length=length, diffusion=diffusion)
    return 2.0 * math.sqrt(diffusion * speed / (math.pi * length))


def oppt_penetration_coefficient(
    speed: float, length: float, molar_mass: float, temperature: float, pressure: float = ATMOSPHERE
) -> float:
    """Return the transfer coefficient of the workplace formula for slow air.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length of the surface along the flow. [m]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [EPA1991]_, from memory: ``8.24e-8 M^0.835 p (1/29+1/M)^0.25 v^0.5 A/(T^0.05 d^0.5 P^0.5)`` in
    g/s with g/mol, torr, ft/min, cm2, cm, atm. Valid below 100 ft/min (0.508 m/s).
    """
    non_negative(speed=speed)
    positive(length=length, molar_mass=molar_mass, temperature=temperature, pressure=pressure)
    limit = 100.0 * FOOT_PER_MINUTE
    warn_outside("evaporation into slow air", "speed in m/s", speed, 0.0, limit)
    return oppt_penetration(speed, length, molar_mass, temperature, pressure)


def oppt_penetration(
    speed: float, length: float, molar_mass: float, temperature: float, pressure: float
) -> float:
    """Return the coefficient of the formula for slow air, without any check.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length along the flow. [m]
    molar_mass : float
        Molar mass. [kg/mol]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Notes
    -----
    Part of `oppt_penetration_coefficient`; valid as that.
    """
    mass = 1e3 * molar_mass
    shape = mass**0.835 * (1.0 / OPPT_AIR_MASS + 1.0 / mass) ** 0.25
    depth = 100.0 * length * pressure / ATMOSPHERE
    emission = 8.24e-8 * shape * math.sqrt(speed / FOOT_PER_MINUTE / depth) / temperature**0.05
    return _from_workplace_units(emission, molar_mass, temperature)


def oppt_mass_transfer_coefficient(
    speed: float, length: float, molar_mass: float, temperature: float
) -> float:
    """Return the transfer coefficient of the workplace formula for fast air.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length of the surface along the flow. [m]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    temperature : float
        Absolute temperature. [K]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [EPA1991]_, from memory: ``1.93e-7 M^0.78 p (1/29+1/M)^0.33 v^0.78 A/(T^0.4 d^0.11
    (T^0.5-5.87)^(2/3))`` in g/s with g/mol, torr, ft/min, cm2, cm. Valid above 100 ft/min
    (0.508 m/s).
    """
    non_negative(speed=speed)
    positive(length=length, molar_mass=molar_mass, temperature=temperature)
    in_range("temperature", temperature, 200.0, 500.0)
    limit = 100.0 * FOOT_PER_MINUTE
    warn_outside("evaporation into fast air", "speed in m/s", speed, limit, math.inf)
    return oppt_mass_transfer(speed, length, molar_mass, temperature)


def oppt_mass_transfer(speed: float, length: float, molar_mass: float, temperature: float) -> float:
    """Return the coefficient of the formula for fast air, without any check.

    Parameters
    ----------
    speed : float
        Air speed. [m/s]
    length : float
        Length along the flow. [m]
    molar_mass : float
        Molar mass. [kg/mol]
    temperature : float
        Absolute temperature. [K]

    Returns
    -------
    float
        Transfer coefficient. [m/s]

    Notes
    -----
    Part of `oppt_mass_transfer_coefficient`; valid as that.
    """
    mass = 1e3 * molar_mass
    shape = mass**0.78 * (1.0 / OPPT_AIR_MASS + 1.0 / mass) ** 0.33
    air = (speed / FOOT_PER_MINUTE) ** 0.78 / (100.0 * length) ** 0.11
    warmth = temperature**0.4 * (math.sqrt(temperature) - 5.87) ** (2.0 / 3.0)
    return _from_workplace_units(1.93e-7 * shape * air / warmth, molar_mass, temperature)


def _from_workplace_units(emission: float, molar_mass: float, temperature: float) -> float:
    """Return k from an emission in g/(s cm2 torr)."""
    flux_per_pascal = emission * 1e-3 * 1e4 / MILLIMETRE_OF_MERCURY
    return flux_per_pascal * GAS_CONSTANT * temperature / molar_mass
