"""Hole law and wall data that plenum and tube share."""

from __future__ import annotations

import math

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError

__all__ = [
    "LAMINAR_GAP",
    "LAMINAR_TUBE",
    "MOMENTUM_MAX",
    "Drag",
    "check_wall",
    "hole_drop",
    "wall_data",
]

LAMINAR_TUBE = 64.0  # f Re of a round tube
LAMINAR_GAP = 96.0  # f Re between two plates on D_h = 2 h
MOMENTUM_MAX = 3.0  # twice the largest published combining coefficient (1.35), rounded up

Drag = tuple[float, float, float, float, float, float]


def check_wall(what: str, friction_factor: float | None, roughness: float, momentum: float) -> None:
    """Refuse impossible wall and momentum data.

    Parameters
    ----------
    what : str
        Word for the message. [-]
    friction_factor : float or None
        Darcy friction factor. [-]
    roughness : float
        Roughness height. [m]
    momentum : float
        Factor on the momentum coefficient. [-]

    Raises
    ------
    RangeError
        If one is impossible.
    """
    if friction_factor is not None and not 0.0 <= friction_factor < math.inf:
        raise RangeError(f"{what}: friction factor must not be negative, got {friction_factor}")
    if not 0.0 <= roughness < math.inf:
        raise RangeError(f"{what}: roughness must not be negative, got {roughness}")
    if not 0.0 <= momentum <= MOMENTUM_MAX:
        raise RangeError(f"{what}: momentum must be 0 to {MOMENTUM_MAX:g}, got {momentum}")


def hole_drop(
    velocity: FloatArray, density: float, discharge_coefficient: float
) -> tuple[FloatArray, FloatArray]:
    """Return the drop of sharp holes and its slope, odd in the velocity.

    Parameters
    ----------
    velocity : array, shape (n,)
        Flow over hole area. [m/s]
    density : float
        Air density. [kg/m3]
    discharge_coefficient : float
        Flow over ideal flow. [-]

    Returns
    -------
    tuple of arrays, shape (n,)
        Drop [Pa] and its derivative [Pa s/m].

    Notes
    -----
    dp = rho/2 (v/Cd)^2: common practice, no source.
    """
    factor = 0.5 * density / discharge_coefficient**2
    speed = np.abs(velocity)
    return factor * velocity * speed, 2.0 * factor * speed


def wall_data(
    air: tuple[float, float],
    hydraulic_diameter: float,
    friction_factor: float | None,
    roughness: float,
    laminar: float,
) -> Drag:
    """Return the wall data that the compiled loops take, all of them floats.

    Parameters
    ----------
    air : tuple of two floats
        Density [kg/m3] and dynamic viscosity [Pa s].
    hydraulic_diameter : float
        Four times section over wetted perimeter. [m]
    friction_factor : float or None
        Darcy friction factor; None means Churchill's law. [-]
    roughness : float
        Roughness height. [m]
    laminar : float
        Product f Re of the laminar section. [-]

    Returns
    -------
    tuple of float
        Density, viscosity, diameter, friction factor or -1, relative roughness, f Re.

    Raises
    ------
    RangeError
        If the air has no density or no viscosity.

    Notes
    -----
    The friction factor at all Reynolds numbers is that of [Churchill1977]_, its laminar part
    scaled to the section's f Re (64 round, 96 between plates, exact).
    """
    density, viscosity = air
    if not (0.0 < density < math.inf and 0.0 < viscosity < math.inf):
        raise RangeError(f"air: density and viscosity must be positive, got {density}, {viscosity}")
    constant = -1.0 if friction_factor is None else float(friction_factor)
    diameter = float(hydraulic_diameter)
    relative = float(roughness) / diameter
    return float(density), float(viscosity), diameter, constant, relative, float(laminar)
