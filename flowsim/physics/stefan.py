"""Still air over a liquid: the outflow of the vapour itself, and the diffusion tube."""

from __future__ import annotations

import math

from flowsim.errors import RangeError
from flowsim.physics._ranges import positive
from flowsim.physics.substances import GAS_CONSTANT

__all__ = ["film_factor", "stefan_flux"]

ATMOSPHERE = 101325.0  # Pa


def film_factor(surface: float, outer: float = 0.0) -> float:
    """Return how much the outflow of the vapour itself raises its transfer.

    Parameters
    ----------
    surface : float
        Share of vapour in the air at the surface, 0 <= value < 1. [-]
    outer : float
        Share of vapour in the air outside, 0 <= value < 1. [-]

    Returns
    -------
    float
        Factor on ``k (c_s - c)``, 1 for dilute vapour. [-]

    Raises
    ------
    RangeError
        If a share is outside 0 to 1.

    Notes
    -----
    Film theory [Bird2002]_, from memory: ``ln((1-y)/(1-y_s))/(y_s-y)``. Valid as an estimate
    for any share below 1; exact in `stefan_flux`.
    """
    for name, share in (("surface", surface), ("outer", outer)):
        if not 0.0 <= share < 1.0:
            raise RangeError(f"{name} share of vapour is {share!r}; expected 0 to below 1")
    step = (surface - outer) / (1.0 - surface)
    mean = math.log1p(step) / step if step != 0.0 else 1.0
    return mean / (1.0 - surface)


def stefan_flux(
    molar_mass: float,
    fractions: tuple[float, float],
    diffusion: float,
    depth: float,
    temperature: float,
    pressure: float = ATMOSPHERE,
) -> float:
    """Return the flux out of an unstirred vessel, through the still air above the liquid.

    Parameters
    ----------
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    fractions : tuple of float
        Share of vapour in the air at the liquid and at the rim. [-]
    diffusion : float
        Diffusion coefficient of the vapour in air. [m2/s]
    depth : float
        Depth of the liquid below the rim. [m]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Mass flux, upward positive. [kg/(s m2)]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Diffusion tube of Stefan [Bird2002]_: ``M D P/(R T h) ln((1-y)/(1-y_s))``. Valid for still air
    in the vessel; exact there.
    """
    positive(molar_mass=molar_mass, diffusion=diffusion, depth=depth)
    positive(temperature=temperature, pressure=pressure)
    surface, rim = fractions
    factor = film_factor(surface, rim)
    total = molar_mass * pressure / (GAS_CONSTANT * temperature)
    return total * diffusion / depth * factor * (surface - rim)
