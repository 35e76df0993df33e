"""Published loss coefficients of perforated plates: thin, thick, and at any Reynolds number.

Coefficients are total pressure loss over dynamic pressure: on the face velocity in functions
that end in ``plate_loss``, on the hole velocity in those that begin with ``hole_``.
"""

from __future__ import annotations

import math
from typing import TypeVar

from flowsim._arrays import FloatArray
from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "hole_loss",
    "hole_loss_low_reynolds",
    "long_orifice_discharge",
    "rennels_plate_loss",
    "thick_plate_loss",
    "thin_plate_loss",
]

Real = TypeVar("Real", float, FloatArray)

THIN_LIMIT = 0.015  # thickness over diameter below which a plate counts as thin
BORE_FRICTION = 0.02  # Darcy friction factor in the bore of a thick plate
EXCESS_REYNOLDS = 150.0  # half of the viscous excess over the creeping limit is reached here
TURBULENT_REYNOLDS = 3700.0  # the viscous part has fallen to half of its low-Reynolds share here


def thin_plate_loss(free_area_ratio: float) -> float:
    """Return the loss coefficient of a thin sharp-edged plate, on the face velocity.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area, 0 < value <= 1. [-]

    Returns
    -------
    float
        Total pressure loss over face dynamic pressure. [-]

    Raises
    ------
    RangeError
        If the ratio is outside (0, 1].

    Notes
    -----
    [Idelchik1994]_, diagram 4-14: ``[0.707 (1-f)^0.375 + 1 - f]^2 / f^2``. Valid for thickness
    below 0.015 hole diameters and hole Reynolds numbers from 1e5.
    """
    check_free_area_ratio(free_area_ratio)
    return _thin_hole_loss(free_area_ratio) / free_area_ratio**2


def thick_plate_loss(
    free_area_ratio: float, thickness_ratio: float, friction: float = BORE_FRICTION
) -> float:
    """Return the loss coefficient of a thick sharp-edged plate, on the face velocity.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area, 0 < value <= 1. [-]
    thickness_ratio : float
        Plate thickness over hole diameter. [-]
    friction : float
        Darcy friction factor in the bore. [-]

    Returns
    -------
    float
        Total pressure loss over face dynamic pressure. [-]

    Raises
    ------
    RangeError
        If the ratio is outside (0, 1], or another argument negative.

    Notes
    -----
    [Idelchik2006]_, diagram 4-15 with the correction of diagram 4-12:
    ``[0.5 (1-f)^0.75 + tau (1-f)^1.375 + (1-f)^2 + lambda t/d] / f^2``. Valid for thickness above
    0.015 hole diameters and hole Reynolds numbers above 1000; uncertain by 15 % between 0.6 and
    1 diameters, where the jet may or may not reattach [SmithVanWinkle1958]_.
    """
    check_free_area_ratio(free_area_ratio)
    non_negative(thickness_ratio=thickness_ratio, friction=friction)
    warn_outside("thick plate loss", "thickness ratio", thickness_ratio, THIN_LIMIT, math.inf)
    return _thick_hole_loss(free_area_ratio, thickness_ratio, friction) / free_area_ratio**2


def rennels_plate_loss(
    free_area_ratio: float, thickness_ratio: float, friction: float = BORE_FRICTION
) -> float:
    """Return the loss coefficient of a plate by the second correlation, on the face velocity.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area, 0 < value <= 1. [-]
    thickness_ratio : float
        Plate thickness over hole diameter. [-]
    friction : float
        Darcy friction factor in the bore. [-]

    Returns
    -------
    float
        Total pressure loss over face dynamic pressure. [-]

    Raises
    ------
    RangeError
        If the ratio is outside (0, 1], or another argument negative.

    Notes
    -----
    Sharp-edged thick orifice of [RennelsHudson2012]_, assembled from its entrance and expansion
    parts. Valid for turbulent flow in the holes; used here to judge how far two published
    correlations differ, not in the solution.
    """
    check_free_area_ratio(free_area_ratio)
    non_negative(thickness_ratio=thickness_ratio, friction=friction)
    return rennels_hole_loss(free_area_ratio, thickness_ratio, friction) / free_area_ratio**2


def hole_loss_low_reynolds(thickness_ratio: float, reynolds: float) -> float:
    """Return the loss coefficient of a hole in creeping flow, on the hole velocity.

    Parameters
    ----------
    thickness_ratio : float
        Plate thickness over hole diameter. [-]
    reynolds : float
        Reynolds number of the mean hole velocity and the hole diameter. [-]

    Returns
    -------
    float
        Total pressure loss over hole dynamic pressure. [-]

    Raises
    ------
    RangeError
        If the Reynolds number is not positive or the thickness negative.

    Notes
    -----
    Orifice of [Sampson1891]_ and pipe flow in the bore added: ``(12 pi + 64 t/d) / Re``; the sum
    is exact within 1 % [Dagan1982]_. Valid for Reynolds numbers far below 1.
    """
    non_negative(thickness_ratio=thickness_ratio)
    positive(reynolds=reynolds)
    warn_outside("creeping hole flow", "Reynolds number", reynolds, 0.0, 1.0)
    return creeping_product(thickness_ratio) / reynolds


def long_orifice_discharge(thickness_ratio: float, reynolds: float) -> float:
    """Return the discharge coefficient of a long sharp-edged orifice.

    Parameters
    ----------
    thickness_ratio : float
        Length over diameter of the bore. [-]
    reynolds : float
        Reynolds number; of the ideal velocity sqrt(2 dp/rho) if the law shall have the
        right creeping limit. [-]

    Returns
    -------
    float
        Discharge coefficient. [-]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    [Lichtarowicz1965]_. Valid for length 2 to 10 diameters and Reynolds numbers 10 to 2e4. Used
    to judge the Reynolds effect of `hole_loss`, not in the solution.
    """
    positive(thickness_ratio=thickness_ratio, reynolds=reynolds)
    warn_outside("long orifice", "length over diameter", thickness_ratio, 2.0, 10.0)
    warn_outside("long orifice", "Reynolds number", reynolds, 10.0, 2e4)
    turbulent = 0.827 - 0.0085 * thickness_ratio
    hump = 0.005 * thickness_ratio / (1.0 + 7.5 * math.log10(0.00015 * reynolds) ** 2)
    return 1.0 / (1.0 / turbulent + 20.0 / reynolds * (1.0 + 2.25 * thickness_ratio) - hump)


def hole_loss(free_area_ratio: float, thickness_ratio: float, reynolds: float) -> float:
    """Return the loss coefficient of a plate's hole at any Reynolds number, on the hole velocity.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area, 0 < value <= 1. [-]
    thickness_ratio : float
        Plate thickness over hole diameter. [-]
    reynolds : float
        Reynolds number of the mean hole velocity and the hole diameter. [-]

    Returns
    -------
    float
        Total pressure loss over hole dynamic pressure. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Own blend of the turbulent loss ([Idelchik1994]_, [Idelchik2006]_) and the creeping limit
    ([Sampson1891]_)::

        zeta_h = zeta_turbulent + (12 pi + 64 t/d)/Re * (1 + Re/(Re + 150)) / (1 + Re/3700)

    Its two constants were set once so that the rise above the turbulent value lies between the
    two readings of [Lichtarowicz1965]_ at t/d = 2. Valid for all Reynolds numbers as a blend;
    its rise is supported by data only for t/d from 2, and below by the limit alone.
    """
    check_free_area_ratio(free_area_ratio)
    non_negative(thickness_ratio=thickness_ratio)
    positive(reynolds=reynolds)
    turbulent = turbulent_hole_loss(free_area_ratio, thickness_ratio)
    return turbulent + creeping_product(thickness_ratio) * viscous_share(reynolds) / reynolds


def viscous_share(reynolds: Real) -> Real:
    """Return the viscous loss of a hole over its creeping limit, without any check.

    Parameters
    ----------
    reynolds : float or array
        Hole Reynolds number, 0 or more. [-]

    Returns
    -------
    float or array
        Share; times the Reynolds number it always rises. [-]

    Notes
    -----
    Part of `hole_loss`; valid as that.
    """
    excess = 1.0 + reynolds / (reynolds + EXCESS_REYNOLDS)
    return excess / (1.0 + reynolds / TURBULENT_REYNOLDS)


def creeping_product(thickness_ratio: float) -> float:
    """Return loss coefficient times Reynolds number of a hole in creeping flow, unchecked.

    Parameters
    ----------
    thickness_ratio : float
        Plate thickness over hole diameter. [-]

    Returns
    -------
    float
        ``12 pi + 64 t/d``. [-]

    Notes
    -----
    As `hole_loss_low_reynolds`; valid far below Re 1.
    """
    return 12.0 * math.pi + 64.0 * thickness_ratio


def turbulent_hole_loss(free_area_ratio: float, thickness_ratio: float) -> float:
    """Return the turbulent loss coefficient on the hole velocity, without any check.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area. [-]
    thickness_ratio : float
        Plate thickness over hole diameter. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Notes
    -----
    `thin_plate_loss` or `thick_plate_loss`, by thickness; valid as those.
    """
    if thickness_ratio < THIN_LIMIT:
        return _thin_hole_loss(free_area_ratio)
    return _thick_hole_loss(free_area_ratio, thickness_ratio, BORE_FRICTION)


def _thin_hole_loss(ratio: float) -> float:
    blocked = 1.0 - ratio
    return float((0.707 * blocked**0.375 + blocked) ** 2)


def _thick_hole_loss(ratio: float, thickness_ratio: float, friction: float) -> float:
    blocked = 1.0 - ratio
    length = min(thickness_ratio, 2.4)
    exponent = 0.25 + 0.535 * length**8 / (0.05 + length**8)
    reattachment = (2.4 - length) * 10.0**-exponent
    turning = 0.5 * blocked**0.75 + reattachment * blocked**1.375 + blocked**2
    return float(turning + friction * thickness_ratio)


def rennels_hole_loss(free_area_ratio: float, thickness_ratio: float, friction: float) -> float:
    """Return the second correlation's loss on the hole velocity, without any check.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area. [-]
    thickness_ratio : float
        Plate thickness over hole diameter. [-]
    friction : float
        Darcy friction factor in the bore. [-]

    Returns
    -------
    float
        Loss coefficient. [-]

    Notes
    -----
    `rennels_plate_loss`; valid as that.
    """
    ratio = free_area_ratio
    jet = 1.0 + 0.622 * (1.0 - 0.215 * ratio - 0.785 * ratio**2.5)
    length = min(thickness_ratio / 1.4, 1.0)
    free = (1.0 - 0.5 * length**2.5 - 0.5 * length**3) ** 4.5
    entry = 0.0696 * (1.0 - ratio**2.5) * jet**2
    separated = (jet - ratio) ** 2
    reattached = (jet - 1.0) ** 2 + (1.0 - ratio) ** 2 + friction * thickness_ratio
    return float(entry + free * separated + (1.0 - free) * reattached)


def check_free_area_ratio(free_area_ratio: float) -> None:
    """Raise unless a free-area ratio lies above 0 and not above 1.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area. [-]

    Raises
    ------
    RangeError
        If it does not.

    Notes
    -----
    Valid for any number.
    """
    positive(free_area_ratio=free_area_ratio)
    in_range("free_area_ratio", free_area_ratio, 0.0, 1.0)
