"""Loss coefficients of duct fittings, each on the velocity that its docstring names."""

from __future__ import annotations

import math
from bisect import bisect_left

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive, warn_outside
from flowsim.physics.friction import friction_factor_colebrook

__all__ = [
    "bend_rounded",
    "damper",
    "entrance_orifice",
    "entrance_rounded",
    "entrance_sharp",
    "exit_loss",
    "mitre",
    "sudden_contraction",
    "sudden_expansion",
]

DAMPER_ANGLES = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0)
DAMPER_LOSSES = (
    0.24, 0.52, 0.90, 1.54, 2.51, 3.91, 6.22, 10.8, 18.7, 32.6, 58.8, 118.0, 256.0, 751.0,
)  # fmt: skip


def entrance_sharp() -> float:
    """Return the loss of a sharp entrance flush with a wall, on the duct velocity.

    Returns
    -------
    float
        Loss coefficient. [-]

    Notes
    -----
    0.5 [Idelchik2006]_; [RennelsHudson2012]_ gives 0.57, an old measurement 0.505
    [Unwin1911]_. Valid for turbulent flow.
    """
    return 0.5


def entrance_rounded(radius_ratio: float) -> float:
    """Return the loss of a rounded entrance flush with a wall, on the duct velocity.

    Parameters
    ----------
    radius_ratio : float
        Radius of the rounding over duct diameter. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If the ratio is negative.

    Notes
    -----
    [RennelsHudson2012]_. Valid for turbulent flow; above a ratio of 1 the loss stays at 0.03, and
    at 0 it is 0.57, above `entrance_sharp`.
    """
    in_range("radius_ratio", radius_ratio, 0.0, math.inf)
    if radius_ratio > 1.0:
        return 0.03
    jet = 1.0 + 0.622 * (1.0 - 0.30 * math.sqrt(radius_ratio) - 0.70 * radius_ratio) ** 4
    return 0.0696 * (1.0 - 0.569 * radius_ratio) * jet**2 + (jet - 1.0) ** 2


def entrance_orifice(area_ratio: float) -> float:
    """Return the loss of a sharp opening at the mouth of a wider duct, on the duct velocity.

    Parameters
    ----------
    area_ratio : float
        Opening over duct area, 0 < value <= 1. [-]

    Returns
    -------
    float
        Loss coefficient, recovery in the duct included. [-]

    Raises
    ------
    RangeError
        If the ratio is outside (0, 1].

    Notes
    -----
    [Idelchik2006]_: ``(1.707 - s)^2/s^2``, 0.5 without a narrowing. Valid for a sharp edge and
    turbulent flow; measured losses lie some 10 % lower [Unwin1911]_.
    """
    positive(area_ratio=area_ratio)
    in_range("area_ratio", area_ratio, 0.0, 1.0)
    return ((1.707 - area_ratio) / area_ratio) ** 2


def exit_loss() -> float:
    """Return the loss of a duct that opens into a large space, on the duct velocity.

    Returns
    -------
    float
        Loss coefficient. [-]

    Notes
    -----
    All kinetic energy is lost. Valid for an even velocity in the duct.
    """
    return 1.0


def sudden_expansion(area_ratio: float) -> float:
    """Return the loss of a sudden expansion, on the upstream (higher) velocity.

    Parameters
    ----------
    area_ratio : float
        Smaller over larger area, 0 <= value <= 1. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If the ratio is outside [0, 1].

    Notes
    -----
    Borda and Carnot, ``(1 - s)^2``, from momentum. Valid for turbulent flow with an even
    velocity upstream.
    """
    in_range("area_ratio", area_ratio, 0.0, 1.0)
    return (1.0 - area_ratio) ** 2


def sudden_contraction(area_ratio: float) -> float:
    """Return the loss of a sudden contraction, on the downstream (higher) velocity.

    Parameters
    ----------
    area_ratio : float
        Smaller over larger area, 0 <= value <= 1. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If the ratio is outside [0, 1].

    Notes
    -----
    [RennelsHudson2012]_. Valid for turbulent flow; [Idelchik2006]_ differs by up to 22 % below
    a ratio of 0.5 and by 48 % at 0.8.
    """
    in_range("area_ratio", area_ratio, 0.0, 1.0)
    jet = 1.0 + 0.622 * (1.0 - 0.215 * area_ratio - 0.785 * area_ratio**2.5)
    return float(0.0696 * (1.0 - area_ratio**2.5) * jet**2 + (jet - 1.0) ** 2)


def bend_rounded(
    angle: float,
    radius_ratio: float,
    reynolds: float = 5e4,
    friction_factor: float | None = None,
) -> float:
    """Return the loss of a smooth round bend, its own friction included, on the duct velocity.

    Parameters
    ----------
    angle : float
        Angle of the turn. [rad]
    radius_ratio : float
        Radius of the bend's axis over duct diameter. [-]
    reynolds : float
        Reynolds number, for the friction factor of a smooth wall. [-]
    friction_factor : float or None
        Darcy friction factor, if known. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [RennelsHudson2012]_. Valid for turbulent flow, turns up to 180 degrees and radius ratios from
    0.5; published methods differ by a factor 1.8 below a ratio of 1, by 11 % at 1.
    """
    positive(radius_ratio=radius_ratio)
    in_range("angle", angle, 0.0, 2.0 * math.pi)
    warn_outside("rounded bend", "radius ratio", radius_ratio, 0.5, math.inf)
    warn_outside("rounded bend", "angle", angle, 0.0, math.pi)
    factor = friction_factor
    if factor is None:
        factor = friction_factor_colebrook(reynolds)
    half = math.sin(0.5 * angle)
    swirl = 6.6 * factor * (math.sqrt(half) + half) / radius_ratio ** (4.0 * angle / math.pi)
    return float(factor * angle * radius_ratio + (0.10 + 2.4 * factor) * half + swirl)


def mitre(angle: float) -> float:
    """Return the loss of a mitred turn without vanes, on the duct velocity.

    Parameters
    ----------
    angle : float
        Angle of the turn. [rad]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If the angle is outside 0 to pi.

    Notes
    -----
    [RennelsHudson2012]_. Valid for turbulent flow and turns up to 150 degrees; at 90 degrees
    published values lie between 0.98 and 1.45.
    """
    in_range("angle", angle, 0.0, math.pi)
    warn_outside("mitre", "angle", angle, 0.0, math.radians(150.0))
    half = math.sin(0.5 * angle)
    return 0.42 * half + 2.56 * half**3


def damper(angle: float) -> float:
    """Return the loss of a single-blade damper in a round duct, on the duct velocity.

    Parameters
    ----------
    angle : float
        Angle between blade and duct axis, 0 when open. [rad]

    Returns
    -------
    float
        Loss coefficient. [-]

    Raises
    ------
    RangeError
        If the angle is negative, pi/2 or more: a shut damper is no loss but an end.

    Notes
    -----
    Throttle valve of Weisbach, table from memory [Weisbach1855]_, interpolated in its logarithm.
    Valid from 0 to 70 degrees; makes differ by tens of percent, so give a measured loss if you
    can.
    """
    degrees = math.degrees(angle)
    if not degrees < 90.0:
        raise RangeError(f"damper angle is {degrees:.4g} degrees; a shut damper is no loss")
    in_range("angle", angle, 0.0, 0.5 * math.pi)
    warn_outside("damper", "angle in degrees", degrees, 0.0, 70.0)
    if degrees <= DAMPER_ANGLES[0]:
        return DAMPER_LOSSES[0] * degrees / DAMPER_ANGLES[0]
    i = min(bisect_left(DAMPER_ANGLES, degrees), len(DAMPER_ANGLES) - 1)
    share = (degrees - DAMPER_ANGLES[i - 1]) / (DAMPER_ANGLES[i] - DAMPER_ANGLES[i - 1])
    low, high = DAMPER_LOSSES[i - 1], DAMPER_LOSSES[i]
    return float(low * (high / low) ** share)
