"""A perforated plate as a law between face velocity and pressure drop.

The loss coefficients stand in `plate_loss` and are offered here too.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from flowsim._arrays import FloatArray
from flowsim.physics._ranges import non_negative, positive
from flowsim.physics.plate_loss import (
    BORE_FRICTION,
    EXCESS_REYNOLDS,
    THIN_LIMIT,
    TURBULENT_REYNOLDS,
    check_free_area_ratio,
    creeping_product,
    hole_loss,
    hole_loss_low_reynolds,
    long_orifice_discharge,
    rennels_hole_loss,
    rennels_plate_loss,
    thick_plate_loss,
    thin_plate_loss,
    turbulent_hole_loss,
    viscous_share,
)

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

FLIP_ZONE = (0.6, 1.0)  # thickness over diameter where the jet may or may not reattach
FLIP_SPREAD = 0.15
QUADRATIC_REYNOLDS = 1.0  # a stated discharge coefficient holds above this hole Reynolds number


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
        check_free_area_ratio(self.free_area_ratio)
        non_negative(thickness=self.thickness)
        positive(hole_diameter=self.hole_diameter, density=self.density, viscosity=self.viscosity)
        if self.discharge_coefficient is None:
            turbulent = turbulent_hole_loss(self.free_area_ratio, self.thickness_ratio)
        else:
            positive(discharge_coefficient=self.discharge_coefficient)
            turbulent = 1.0 / self.discharge_coefficient**2
        # a hole Reynolds number stands for the velocity in all formulas below
        per_velocity = self.density * self.hole_diameter / (self.viscosity * self.free_area_ratio)
        speed = self.viscosity / (self.density * self.hole_diameter)
        object.__setattr__(self, "_turbulent", turbulent)
        object.__setattr__(self, "_creeping", creeping_product(self.thickness_ratio))
        object.__setattr__(self, "_reynolds_per_velocity", per_velocity)
        object.__setattr__(self, "_drop_scale", 0.5 * self.density * speed**2)

    @property
    def thickness_ratio(self) -> float:
        """Plate thickness over hole diameter [-]."""
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
        other = rennels_hole_loss(self.free_area_ratio, ratio, BORE_FRICTION)
        spread = abs(other - self._turbulent) / max(self._turbulent, 1e-300)
        if FLIP_ZONE[0] < ratio < FLIP_ZONE[1]:
            spread = max(spread, FLIP_SPREAD)
        if reynolds > 0.0:
            viscous = self._creeping / reynolds
            share = viscous_share(reynolds)
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
        size = self._quadratic_root(target, viscous_share(size))
        for _ in range(5):
            value, slope = self._scaled_drop(size)
            size = size + (target - value) / slope
        return size

    def _quadratic_root(self, target: Real, share: Real) -> Real:
        """Return the Reynolds number for a frozen viscous share."""
        linear = self._creeping * share
        root: Real = (linear * linear + 4.0 * self._turbulent * target) ** 0.5
        return 2.0 * target / (linear + root)


def _inverse_square(target: Real, smallest: float) -> Real:
    """Return x with x sqrt(x^2 + smallest^2) = target >= 0."""
    floor = smallest * smallest
    root: Real = (floor * floor + 4.0 * target * target) ** 0.5
    result: Real = target * (2.0 / (floor + root)) ** 0.5
    return result
