"""Exchange through an opening between air of two temperatures.

Heights count from the lower edge of the opening.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.physics._ranges import positive

__all__ = [
    "TWO_WAY_COEFFICIENT",
    "TWO_WAY_SPREAD",
    "TwoWayExchange",
    "blocking_flow",
    "layered_exchange",
    "neutral_height",
    "two_way_exchange",
]

TWO_WAY_COEFFICIENT = 0.6
TWO_WAY_SPREAD = (0.42, 0.70)
GRAVITY = 9.81
SLABS = 400  # horizontal slabs of a layered opening


@dataclass(frozen=True)
class TwoWayExchange:
    """Air through an opening in both directions at no net mass flow.

    Parameters
    ----------
    neutral_height : float
        Height at which nothing passes. [m]
    mass_flow_out : float
        Mass flow from inside to outside. [kg/s]
    mass_flow_in : float
        Mass flow from outside to inside. [kg/s]

    Notes
    -----
    Valid as the law that made it.
    """

    neutral_height: float
    mass_flow_out: float
    mass_flow_in: float


def neutral_height(height: float, density_inside: float, density_outside: float) -> float:
    """Return the height at which nothing passes, at no net mass flow.

    Parameters
    ----------
    height : float
        Height of the opening. [m]
    density_inside, density_outside : float
        Densities of the air on both sides. [kg/m3]

    Returns
    -------
    float
        Height of the neutral plane above the lower edge. [m]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Orifice model of [BrownSolvason1962]_ with unequal densities: with the lighter air inside
    ``H r/(1+r)``, r = (rho_i/rho_o)^(1/3). Valid for even temperatures on both sides; a layered
    room has its neutral plane higher (some 8 % of a door, measured [Steckler1982]_).
    """
    positive(height=height, density_inside=density_inside, density_outside=density_outside)
    ratio = float((density_inside / density_outside) ** (1.0 / 3.0))
    return height * ratio / (1.0 + ratio)


def two_way_exchange(
    width: float,
    height: float,
    density_inside: float,
    density_outside: float,
    discharge_coefficient: float = TWO_WAY_COEFFICIENT,
) -> TwoWayExchange:
    """Return the exchange through an opening between two even temperatures.

    Parameters
    ----------
    width, height : float
        Size of the opening. [m]
    density_inside, density_outside : float
        Densities of the air on both sides. [kg/m3]
    discharge_coefficient : float
        Share of the ideal flow. [-]

    Returns
    -------
    TwoWayExchange
        Neutral height and the equal mass flows.

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Orifice model of [BrownSolvason1962]_: ``m = (2/3) Cd W sqrt(2 rho_o g d_rho) z_n^1.5``. Valid
    for even temperatures and no net flow. The coefficient is uncertain: 0.42 at 5 K by
    ``0.40 + 0.0045 dT`` [ASHRAE1997]_, 0.68 and 0.69 measured at tens to hundreds of kelvin
    ([Nakaya1986]_, [Bryant2011]_); 0.6 is the default, 0.42 to 0.70 its spread.
    """
    positive(width=width, discharge_coefficient=discharge_coefficient)
    level = neutral_height(height, density_inside, density_outside)
    light, heavy = sorted((density_inside, density_outside))
    # the heavier air enters the lighter side below the neutral plane
    below = level if density_inside <= density_outside else height - level
    root = math.sqrt(2.0 * heavy * GRAVITY * (heavy - light))
    mass = 2.0 / 3.0 * discharge_coefficient * width * root * float(below**1.5)
    return TwoWayExchange(level, mass, mass)


def blocking_flow(
    width: float,
    height: float,
    density_inside: float,
    density_outside: float,
    discharge_coefficient: float = TWO_WAY_COEFFICIENT,
) -> float:
    """Return the inflow that just keeps the lighter inside air from leaving at the top.

    Parameters
    ----------
    width, height : float
        Size of the opening. [m]
    density_inside, density_outside : float
        Densities of the air on both sides, the lighter inside. [kg/m3]
    discharge_coefficient : float
        Share of the ideal flow. [-]

    Returns
    -------
    float
        Volume flow of outside air. [m3/s]

    Raises
    ------
    RangeError
        If an argument is not positive or the air inside is the heavier.

    Notes
    -----
    ``(2/3) Cd W sqrt(2 g d_rho/rho_o) H^1.5``, 2.83 times the exchange flow; orifice model of
    [BrownSolvason1962]_. Valid for even temperatures, still air and no one moving in front;
    coefficient as in `two_way_exchange`.
    """
    positive(width=width, height=height, discharge_coefficient=discharge_coefficient)
    positive(density_inside=density_inside, density_outside=density_outside)
    difference = density_outside - density_inside
    if difference < 0.0:
        raise RangeError("blocking flow: the air inside must be the lighter")
    root = math.sqrt(2.0 * GRAVITY * difference / density_outside)
    return 2.0 / 3.0 * discharge_coefficient * width * root * float(height**1.5)


def layered_exchange(
    elevation: FloatArray,
    density_inside: FloatArray,
    density_outside: float,
    size: tuple[float, float],
    discharge_coefficient: float = TWO_WAY_COEFFICIENT,
) -> TwoWayExchange:
    """Return the exchange through an opening of a layered room.

    Parameters
    ----------
    elevation : array, shape (n,)
        Heights above the lower edge, rising; beyond them the end values hold. [m]
    density_inside : array, shape (n,)
        Density inside at each. [kg/m3]
    density_outside : float
        Even density outside. [kg/m3]
    size : tuple of float
        Width and height of the opening. [m]
    discharge_coefficient : float
        Share of the ideal flow. [-]

    Returns
    -------
    TwoWayExchange
        Neutral height and the equal mass flows.

    Raises
    ------
    RangeError
        If the inside air is not lighter at every height, or an argument is impossible.

    Notes
    -----
    Hydrostatics with the given profile and the orifice law slab by slab, after
    [BrownSolvason1962]_. Valid for a room lighter than outside at every height; neutral height of
    30 measured doors 0.024 +/- 0.011 m above it [Steckler1982]_. Coefficient as in
    `two_way_exchange`.
    """
    width, height = size
    positive(width=width, height=height, density_outside=density_outside)
    positive(discharge_coefficient=discharge_coefficient)
    if elevation.shape != density_inside.shape or not np.all(np.diff(elevation) > 0.0):
        raise RangeError("layered exchange: heights must rise, with one density for each")
    if not np.all((density_inside > 0.0) & (density_inside < density_outside)):
        raise RangeError("layered exchange: the air inside must be lighter at every height")
    middle = (np.arange(SLABS) + 0.5) * (height / SLABS)
    inside = np.interp(middle, elevation, density_inside)
    edges = np.linspace(0.0, height, SLABS + 1)
    gradient = GRAVITY * (density_outside - inside)
    pressure = np.concatenate(([0.0], np.cumsum(gradient) * (height / SLABS)))
    low, high = 0.0, height
    for _ in range(100):
        level = 0.5 * (low + high)
        drive = pressure - np.interp(level, edges, pressure)
        out, into = _slab_flows(drive, inside, density_outside, height / SLABS)
        low, high = (low, level) if out < into else (level, high)
    scale = discharge_coefficient * width
    return TwoWayExchange(0.5 * (low + high), scale * out, scale * into)


def _slab_flows(
    drive: FloatArray, inside: FloatArray, outside: float, thickness: float
) -> tuple[float, float]:
    """Return mass flow out and in per ideal width; the root is integrated exactly in a slab."""
    total = []
    for sign in (1.0, -1.0):
        part = np.maximum(sign * drive, 0.0)
        rise = np.abs(np.diff(part))
        wet = np.abs(np.diff(drive))
        # integral of sqrt(p) over a slab with linear p = 2/3 d(p^1.5)/(dp/dz)
        total.append(2.0 / 3.0 * np.abs(np.diff(part**1.5)) / wet * thickness * (rise > 0.0))
    out = float(np.sum(total[0] * np.sqrt(2.0 * inside)))
    into = float(np.sum(total[1])) * math.sqrt(2.0 * outside)
    return out, into
