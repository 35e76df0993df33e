"""Evaporation from an open tray, with how far the published laws differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flowsim.physics._ranges import non_negative, positive, warn_outside
from flowsim.physics.evaporation import (
    kawamura_mackay_coefficient,
    laminar_plate,
    mackay_matsugu_coefficient,
    oppt_mass_transfer,
    oppt_penetration,
    penetration_coefficient,
    pool_coefficient,
)
from flowsim.physics.stefan import film_factor
from flowsim.physics.vapour import Vapour

__all__ = [
    "LEAST_COEFFICIENT",
    "LEAST_SPEED",
    "Tray",
    "TrayEvaporation",
    "transfer_coefficients",
    "tray_evaporation",
]

LEAST_SPEED = 0.05  # m/s, room draught and buoyancy over a surface in still air
LEAST_COEFFICIENT = 0.5e-3  # m/s, half of what still pans are measured to have
LEAST_SPREAD = 2.0  # factor either way, also where the published laws agree better
DEFAULT_LAW = "laminar plate"


@dataclass(frozen=True)
class Tray:
    """An open tray of liquid.

    Parameters
    ----------
    length : float
        Length of the liquid surface along the flow. [m]
    width : float
        Width of the liquid surface across the flow. [m]
    rim : float
        Depth of the liquid below the rim. [m]

    Raises
    ------
    RangeError
        If a size is impossible.

    Notes
    -----
    Valid for a level liquid that covers the whole tray.
    """

    length: float
    width: float
    rim: float = 0.0

    def __post_init__(self) -> None:
        """Check the sizes."""
        positive(length=self.length, width=self.width)
        non_negative(rim=self.rim)

    @property
    def area(self) -> float:
        """Area of the liquid surface. [m2]"""
        return self.length * self.width


@dataclass(frozen=True)
class TrayEvaporation:
    """What an open tray gives off.

    Parameters
    ----------
    rate : float
        Mass of vapour given off in a time, negative where the air is oversaturated. [kg/s]
    coefficient : float
        Transfer coefficient with the layer below the rim, without the film factor. [m/s]
    film_factor : float
        Rise of the transfer by the outflow of the vapour itself. [-]
    rates : mapping of str to float
        Rate by each published law, same surface and film factor. [kg/s]
    spread : float
        Factor, either way, by which the published laws differ from the rate; 2 at least. [-]
    total_spread : float
        The same, times the uncertainty of the vapour pressure. [-]
    speed : float
        Air speed used, after the floor. [m/s]

    Notes
    -----
    Valid as `tray_evaporation`, which makes it.
    """

    rate: float
    coefficient: float
    film_factor: float
    rates: Mapping[str, float]
    spread: float
    total_spread: float
    speed: float


def transfer_coefficients(
    vapour: Vapour, speed: float, length: float, viscosity: float
) -> dict[str, float]:
    """Return the transfer coefficient by each published law, with floors for still air.

    Parameters
    ----------
    vapour : Vapour
        What the liquid gives off.
    speed : float
        Air speed along the surface. [m/s]
    length : float
        Length of the surface along the flow. [m]
    viscosity : float
        Kinematic viscosity of the air. [m2/s]

    Returns
    -------
    dict of str to float
        Transfer coefficient by name of the law. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Laws of `flowsim.physics.evaporation`. Speeds below 0.05 m/s are raised to it, coefficients
    below 0.5e-3 m/s to that: [Mackay2014]_ measured 1.0e-3 m/s over still pans. Valid for smooth
    level surfaces up to Reynolds number 5e5.
    """
    non_negative(speed=speed)
    positive(length=length, viscosity=viscosity)
    used = max(speed, LEAST_SPEED)
    warn_outside("tray evaporation", "Reynolds number", used * length / viscosity, 0.0, 5e5)
    mass, temperature, diffusion = vapour.substance.molar_mass, vapour.temperature, vapour.diffusion
    schmidt = viscosity / diffusion
    found = {
        DEFAULT_LAW: laminar_plate(used, length, diffusion, viscosity),
        "outdoor pool": pool_coefficient(used, mass),
        "pool with length, first form": mackay_matsugu_coefficient(used, length, schmidt),
        "pool with length, second form": kawamura_mackay_coefficient(used, length, schmidt),
        "penetration": penetration_coefficient(used, length, diffusion),
        "workplace, slow air": oppt_penetration(
            used, length, mass, temperature, vapour.total_pressure
        ),
        "workplace, fast air": oppt_mass_transfer(used, length, mass, temperature),
    }
    return {law: max(value, LEAST_COEFFICIENT) for law, value in found.items()}


def tray_evaporation(
    tray: Tray, vapour: Vapour, speed: float, viscosity: float, background: float = 0.0
) -> TrayEvaporation:
    """Return what an open tray gives off to the air above it.

    Parameters
    ----------
    tray : Tray
        The tray.
    vapour : Vapour
        What its liquid gives off.
    speed : float
        Air speed along the surface. [m/s]
    viscosity : float
        Kinematic viscosity of the air. [m2/s]
    background : float
        Mass concentration of the vapour in the air above the tray. [kg/m3]

    Returns
    -------
    TrayEvaporation
        Rate by the laminar plate, rates by all published laws, and their spread.

    Raises
    ------
    RangeError
        If an argument is impossible, or the background is vapour alone.

    Notes
    -----
    ``A k F (c_s - c)`` with k of the laminar plate and the film factor F [Bird2002]_; the still
    layer below a rim is added in series, ``1/k + h/D``. Valid for liquid at the temperature of
    the air and at full strength, which is an upper estimate after some minutes
    (`flowsim.physics.cooling`). The published laws differ by a factor 3; no measurement at
    bench scale judges between them.
    """
    non_negative(background=background)
    coefficients = transfer_coefficients(vapour, speed, tray.length, viscosity)
    outer = background / vapour.saturation * vapour.fraction
    factor = film_factor(vapour.fraction, outer)
    drive = factor * (vapour.saturation - background) * tray.area
    resistance = tray.rim / vapour.diffusion
    whole = {law: 1.0 / (1.0 / value + resistance) for law, value in coefficients.items()}
    chosen = whole[DEFAULT_LAW]
    spread = max(LEAST_SPREAD, max(whole.values()) / chosen, chosen / min(whole.values()))
    return TrayEvaporation(
        rate=chosen * drive,
        coefficient=chosen,
        film_factor=factor,
        rates={law: value * drive for law, value in whole.items()},
        spread=spread,
        total_spread=spread * vapour.uncertainty,
        speed=max(speed, LEAST_SPEED),
    )
