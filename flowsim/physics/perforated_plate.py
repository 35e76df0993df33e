"""Pressure loss of perforated plates: thin, thick, and at any Reynolds number.

Loss coefficients are total pressure loss over dynamic pressure: on the face velocity in the
functions that end in ``plate_loss``, on the hole velocity in those that begin with ``hole_``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TypeVar

from flowsim._arrays import FloatArray
from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "PerforatedPlate",
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
FLIP_ZONE = (0.6, 1.0)  # thickness over diameter where the jet may or may not reattach
FLIP_SPREAD = 0.15
EXCESS_REYNOLDS = 150.0  # half of the viscous excess over the creeping limit is reached here
TURBULENT_REYNOLDS = 3700.0  # the viscous part has fallen to half of its low-Reynolds share here
QUADRATIC_REYNOLDS = 1.0  # a stated discharge coefficient holds above this hole Reynolds number


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
    _check_ratio(free_area_ratio)
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
    _check_ratio(free_area_ratio)
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
    _check_ratio(free_area_ratio)
    non_negative(thickness_ratio=thickness_ratio, friction=friction)
    return _rennels_hole_loss(free_area_ratio, thickness_ratio, friction) / free_area_ratio**2


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
    return _creeping(thickness_ratio) / reynolds


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
    _check_ratio(free_area_ratio)
    non_negative(thickness_ratio=thickness_ratio)
    positive(reynolds=reynolds)
    turbulent = _turbulent_hole_loss(free_area_ratio, thickness_ratio)
    return turbulent + _creeping(thickness_ratio) * _viscous_share(reynolds) / reynolds


@dataclass(frozen=True)
class PerforatedPlate:
    """A perforated plate in a given gas, as a law between face velocity and pressure drop.

    Parameters
    ----------
    free_area_ratio : float
        Open area over total area, 0 < value <= 1. [-]
    thickness : float
        Plate thickness. [m]
    hole_diameter : float
        Hole diameter. [m]
    density : float
        Gas density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    discharge_coefficient : float or None
        If given, the drop is rho/2 (v/(f Cd))^2 instead of the published loss. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    The law of `hole_loss`: [Idelchik1994]_ for plates thinner than 0.015 hole diameters, else
    [Idelchik2006]_, with the creeping limit of [Sampson1891]_. Valid for hole Reynolds numbers
    above 1000 as published (thin plates: from 1e5), blended below. With a stated discharge
    coefficient the law is a square, made linear below a hole Reynolds number of 1; it is higher
    than the square by a share 1/(2 Re^2).
    """

    free_area_ratio: float
    thickness: float
    hole_diameter: float
    density: float
    viscosity: float
    discharge_coefficient: float | None = None
    _turbulent: float = field(init=False, repr=False, compare=False)
    _creeping: float = field(init=False, repr=False, compare=False)
    _reynolds_per_velocity: float = field(init=False, repr=False, compare=False)
    _drop_scale: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the arguments and keep what every call needs."""
        _check_ratio(self.free_area_ratio)
        non_negative(thickness=self.thickness)
        positive(hole_diameter=self.hole_diameter, density=self.density, viscosity=self.viscosity)
        if self.discharge_coefficient is None:
            turbulent = _turbulent_hole_loss(self.free_area_ratio, self.thickness_ratio)
        else:
            positive(discharge_coefficient=self.discharge_coefficient)
            turbulent = 1.0 / self.discharge_coefficient**2
        # a hole Reynolds number stands for the velocity in all formulas below
        per_velocity = self.density * self.hole_diameter / (self.viscosity * self.free_area_ratio)
        speed = self.viscosity / (self.density * self.hole_diameter)
        object.__setattr__(self, "_turbulent", turbulent)
        object.__setattr__(self, "_creeping", _creeping(self.thickness_ratio))
        object.__setattr__(self, "_reynolds_per_velocity", per_velocity)
        object.__setattr__(self, "_drop_scale", 0.5 * self.density * speed**2)

    @property
    def thickness_ratio(self) -> float:
        """Plate thickness over hole diameter. [-]"""
        return self.thickness / self.hole_diameter

    def reynolds(self, velocity: float) -> float:
        """Return the hole Reynolds number.

        Parameters
        ----------
        velocity : float
            Face velocity. [m/s]

        Returns
        -------
        float
            Reynolds number of the hole velocity and the hole diameter. [-]
        """
        return abs(velocity) * self._reynolds_per_velocity

    def drop(self, velocity: Real) -> tuple[Real, Real]:
        """Return the total pressure drop and its slope.

        Parameters
        ----------
        velocity : float or array
            Face velocity; the law is odd in it. [m/s]

        Returns
        -------
        drop : float or array
            Pressure drop in the direction of the velocity. [Pa]
        slope : float or array
            Derivative of the drop by the velocity, above zero. [Pa s/m]
        """
        scaled = velocity * self._reynolds_per_velocity
        value, slope = self._scaled_drop(scaled)
        scale = self._drop_scale
        return value * scale, slope * (scale * self._reynolds_per_velocity)

    def velocity(self, drop: Real) -> tuple[Real, Real]:
        """Return the face velocity at a pressure drop and its slope.

        Parameters
        ----------
        drop : float or array
            Total pressure drop; the law is odd in it. [Pa]

        Returns
        -------
        velocity : float or array
            Face velocity. [m/s]
        slope : float or array
            Derivative of the velocity by the drop, above zero. [m/(s Pa)]
        """
        target = abs(drop) * (1.0 / self._drop_scale)
        if self.discharge_coefficient is None:
            size = self._inverse(target)
        else:
            size = _inverse_square(target * (1.0 / self._turbulent), QUADRATIC_REYNOLDS)
        slope = self._scaled_drop(size)[1]
        per_velocity = self._reynolds_per_velocity
        sign = (drop >= 0.0) * 2.0 - 1.0
        return sign * size / per_velocity, 1.0 / (slope * (self._drop_scale * per_velocity))

    def validity(self, velocity: float) -> tuple[str, ...]:
        """Say what is doubtful about this law at a velocity.

        Parameters
        ----------
        velocity : float
            Largest face velocity. [m/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        if self.discharge_coefficient is not None:
            return ()
        found = []
        ratio, reynolds = self.thickness_ratio, self.reynolds(velocity)
        if FLIP_ZONE[0] < ratio < FLIP_ZONE[1]:
            found.append(
                f"perforated plate: thickness is {ratio:.2f} hole diameters; between 0.6 and 1 "
                f"the jet may or may not reattach: loss uncertain by {FLIP_SPREAD:.0%}"
            )
        lowest = 1e5 if ratio < THIN_LIMIT else 1e3
        if 0.0 < reynolds < lowest:
            found.append(
                f"perforated plate: hole Reynolds number {reynolds:.0f} is below {lowest:.0f}; "
                "blended towards the creeping limit"
            )
        return tuple(found)

    def loss_spread(self, velocity: float) -> float:
        """Return the relative uncertainty of the loss.

        Parameters
        ----------
        velocity : float
            Face velocity. [m/s]

        Returns
        -------
        float
            Distance between two published correlations over the first, at least 15 % in the flip
            zone, or half of the blend's own part at low Reynolds number where that is more;
            zero for a stated discharge coefficient. [-]
        """
        if self.discharge_coefficient is not None:
            return 0.0
        ratio, reynolds = self.thickness_ratio, self.reynolds(velocity)
        other = _rennels_hole_loss(self.free_area_ratio, ratio, BORE_FRICTION)
        spread = abs(other - self._turbulent) / max(self._turbulent, 1e-300)
        if FLIP_ZONE[0] < ratio < FLIP_ZONE[1]:
            spread = max(spread, FLIP_SPREAD)
        if reynolds > 0.0:
            viscous = self._creeping / reynolds
            share = _viscous_share(reynolds)
            total = self._turbulent + viscous * share
            spread = max(spread, 0.5 * viscous * abs(share - 1.0) / total)
        return spread

    def _scaled_drop(self, reynolds: Real) -> tuple[Real, Real]:
        """Return loss coefficient times signed Reynolds number squared, and its derivative."""
        size = abs(reynolds)
        if self.discharge_coefficient is not None:
            root = (size * size + QUADRATIC_REYNOLDS**2) ** 0.5
            square = self._turbulent * (size * size + root * root) / root
            return self._turbulent * reynolds * root, square
        excess = 1.0 + size / (size + EXCESS_REYNOLDS)
        decay = 1.0 / (1.0 + size / TURBULENT_REYNOLDS)
        viscous = self._creeping * excess * decay
        rise = EXCESS_REYNOLDS / (size + EXCESS_REYNOLDS) ** 2
        viscous_slope = self._creeping * decay * (rise * size + excess * decay)
        value = reynolds * (self._turbulent * size + viscous)
        return value, 2.0 * self._turbulent * size + viscous_slope

    def _inverse(self, target: Real) -> Real:
        """Return the Reynolds number whose scaled drop is the target, by five Newton steps."""
        size = self._quadratic_root(target, target * 0.0 + 1.4)
        size = self._quadratic_root(target, _viscous_share(size))
        for _ in range(5):
            value, slope = self._scaled_drop(size)
            size = size + (target - value) / slope
        return size

    def _quadratic_root(self, target: Real, share: Real) -> Real:
        """Return the Reynolds number for a frozen viscous share."""
        linear = self._creeping * share
        return 2.0 * target / (linear + (linear * linear + 4.0 * self._turbulent * target) ** 0.5)


def _inverse_square(target: Real, smallest: float) -> Real:
    """Return x with x sqrt(x^2 + smallest^2) = target >= 0."""
    floor = smallest * smallest
    square = 2.0 * target * target / (floor + (floor * floor + 4.0 * target * target) ** 0.5)
    return square**0.5


def _viscous_share(reynolds: Real) -> Real:
    """Return the viscous loss over the creeping limit; times Reynolds it always rises."""
    excess = 1.0 + reynolds / (reynolds + EXCESS_REYNOLDS)
    return excess / (1.0 + reynolds / TURBULENT_REYNOLDS)


def _creeping(thickness_ratio: float) -> float:
    return 12.0 * math.pi + 64.0 * thickness_ratio


def _turbulent_hole_loss(free_area_ratio: float, thickness_ratio: float) -> float:
    if thickness_ratio < THIN_LIMIT:
        return _thin_hole_loss(free_area_ratio)
    return _thick_hole_loss(free_area_ratio, thickness_ratio, BORE_FRICTION)


def _thin_hole_loss(ratio: float) -> float:
    blocked = 1.0 - ratio
    return (0.707 * blocked**0.375 + blocked) ** 2


def _thick_hole_loss(ratio: float, thickness_ratio: float, friction: float) -> float:
    blocked = 1.0 - ratio
    length = min(thickness_ratio, 2.4)
    exponent = 0.25 + 0.535 * length**8 / (0.05 + length**8)
    reattachment = (2.4 - length) * 10.0**-exponent
    return (
        0.5 * blocked**0.75
        + reattachment * blocked**1.375
        + blocked**2
        + friction * thickness_ratio
    )


def _rennels_hole_loss(ratio: float, thickness_ratio: float, friction: float) -> float:
    jet = 1.0 + 0.622 * (1.0 - 0.215 * ratio - 0.785 * ratio**2.5)
    length = min(thickness_ratio / 1.4, 1.0)
    free = (1.0 - 0.5 * length**2.5 - 0.5 * length**3) ** 4.5
    entry = 0.0696 * (1.0 - ratio**2.5) * jet**2
    separated = (jet - ratio) ** 2
    reattached = (jet - 1.0) ** 2 + (1.0 - ratio) ** 2 + friction * thickness_ratio
    return entry + free * separated + (1.0 - free) * reattached


def _check_ratio(free_area_ratio: float) -> None:
    positive(free_area_ratio=free_area_ratio)
    in_range("free_area_ratio", free_area_ratio, 0.0, 1.0)
