"""Pressure drop of filters: linear in the face velocity, with a small quadratic part."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics._ranges import in_range, non_negative, positive

__all__ = [
    "FilterMedium",
    "filter_from_rating",
    "filter_from_table",
    "jet_on_filter_bound",
]

Real = TypeVar("Real", float, FloatArray)

FIT_TOLERANCE = 0.05  # relative distance of a table point from the fit that is worth a warning


@dataclass(frozen=True)
class FilterMedium:
    """A filter as a law between face velocity and pressure drop.

    Parameters
    ----------
    linear : float
        Coefficient of the face velocity, loading included. [Pa s/m]
    quadratic : float
        Coefficient of its square, loading included. [Pa s2/m2]
    rated_velocity : float or None
        Highest face velocity for which the drop is known; None when not known. [m/s]

    Raises
    ------
    RangeError
        If a coefficient is negative or both are zero.

    Notes
    -----
    Fibre media are linear in the velocity (Davies, from memory [Davies1953]_); pleats and frame
    add a quadratic share of 5 to 20 % at rated flow (common practice, no source). Valid up to
    twice the rated velocity; beyond it `validity` says so.
    """

    linear: float
    quadratic: float
    rated_velocity: float | None = None

    def __post_init__(self) -> None:
        """Check the coefficients."""
        non_negative(linear=self.linear, quadratic=self.quadratic)
        if self.linear == 0.0 and self.quadratic == 0.0:
            raise RangeError("a filter without any resistance is no filter; leave it out")

    def drop(self, velocity: Real) -> tuple[Real, Real]:
        """Return the pressure drop and its slope.

        Parameters
        ----------
        velocity : float or array
            Face velocity; the law is odd in it. [m/s]

        Returns
        -------
        drop : float or array
            Pressure drop in the direction of the velocity. [Pa]
        slope : float or array
            Derivative of the drop by the velocity. [Pa s/m]
        """
        size = abs(velocity)
        slope = self.linear + (2.0 * self.quadratic) * size
        return velocity * (self.linear + self.quadratic * size), slope

    def velocity(self, drop: Real) -> tuple[Real, Real]:
        """Return the face velocity at a pressure drop and its slope.

        Parameters
        ----------
        drop : float or array
            Pressure drop; the law is odd in it. [Pa]

        Returns
        -------
        velocity : float or array
            Face velocity. [m/s]
        slope : float or array
            Derivative of the velocity by the drop; infinite at zero drop without a
            linear part. [m/(s Pa)]
        """
        root = (self.linear**2 + (4.0 * self.quadratic) * abs(drop)) ** 0.5
        return 2.0 * drop / (self.linear + root), 1.0 / root

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
        if self.rated_velocity is None or abs(velocity) <= 2.0 * self.rated_velocity:
            return ()
        return (
            f"filter: face velocity {abs(velocity):.2f} m/s is more than twice the "
            f"{self.rated_velocity:.2f} m/s for which its drop is known",
        )


def filter_from_rating(
    velocity: float, drop: float, inertial_share: float = 0.1, loading: float = 1.0
) -> FilterMedium:
    """Return a filter from its rated point.

    Parameters
    ----------
    velocity : float
        Rated face velocity. [m/s]
    drop : float
        Pressure drop of the clean filter there. [Pa]
    inertial_share : float
        Share of the drop that grows with the square of the velocity. [-]
    loading : float
        Resistance over that of the clean filter. [-]

    Returns
    -------
    FilterMedium
        The loaded filter.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``dp = loading * dp_rated * [(1-s) v/v_rated + s (v/v_rated)^2]``; share 5 to 20 %, final drop
    usually twice the first (common practice, no source). Valid up to twice the rated velocity.
    """
    positive(velocity=velocity, drop=drop, loading=loading)
    in_range("inertial_share", inertial_share, 0.0, 1.0)
    scale = loading * drop / velocity
    return FilterMedium(scale * (1.0 - inertial_share), scale * inertial_share / velocity, velocity)


def filter_from_table(
    velocity: Sequence[float], drop: Sequence[float], loading: float = 1.0
) -> FilterMedium:
    """Return the filter that fits a table of points best.

    Parameters
    ----------
    velocity : sequence of float, length n
        Face velocities, all positive; one point gives a linear filter. [m/s]
    drop : sequence of float, length n
        Pressure drops of the clean filter, all positive. [Pa]
    loading : float
        Resistance over that of the clean filter. [-]

    Returns
    -------
    FilterMedium
        The loaded filter.

    Raises
    ------
    RangeError
        If the table is empty, of unequal length or has a value that is not positive.

    Notes
    -----
    Least squares of the relative deviation with a linear and a quadratic coefficient, neither
    negative (own choice, no source). Valid within the table and up to twice its highest velocity;
    warns where a point lies more than 5 % off the fit.
    """
    if len(velocity) == 0 or len(velocity) != len(drop):
        raise RangeError(f"{len(velocity)} velocities and {len(drop)} drops make no table")
    for speed, value in zip(velocity, drop, strict=True):
        positive(velocity=speed, drop=value)
    positive(loading=loading)
    linear, quadratic = _fit(velocity, drop)
    worst = max(
        abs((linear + quadratic * v) * v / p - 1.0) for v, p in zip(velocity, drop, strict=True)
    )
    if worst > FIT_TOLERANCE:
        text = f"filter table: a point lies {worst:.0%} off the linear and quadratic fit"
        warnings.warn(text, ValidityWarning, stacklevel=2)
    return FilterMedium(linear * loading, quadratic * loading, max(velocity))


def jet_on_filter_bound(jet_velocity: float, density: float, drop: float) -> float:
    """Return by how much a jet that hits the filter may raise its velocity at one spot.

    Parameters
    ----------
    jet_velocity : float
        Velocity of the jet that enters the box before the filter. [m/s]
    density : float
        Gas density. [kg/m3]
    drop : float
        Pressure drop of the filter. [Pa]

    Returns
    -------
    float
        Largest local excess over the mean velocity: jet dynamic pressure over drop. [-]

    Raises
    ------
    RangeError
        If density or drop is not positive, or the velocity negative.

    Notes
    -----
    Upper bound for a linear filter reached by an unbroken jet (common practice, no source). Valid
    as a bound only; the true excess lies between zero and it.
    """
    non_negative(jet_velocity=jet_velocity)
    positive(density=density, drop=drop)
    return 0.5 * density * jet_velocity**2 / drop


def _fit(velocity: Sequence[float], drop: Sequence[float]) -> tuple[float, float]:
    """Fit drop/velocity = linear + quadratic velocity with weights velocity/drop."""
    weights = [v / p for v, p in zip(velocity, drop, strict=True)]
    second = [w * v for w, v in zip(weights, velocity, strict=True)]
    a11 = sum(w * w for w in weights)
    a12 = sum(w * s for w, s in zip(weights, second, strict=True))
    a22 = sum(s * s for s in second)
    b1, b2 = sum(weights), sum(second)
    determinant = a11 * a22 - a12 * a12
    if determinant <= 1e-12 * a11 * a22:
        return b1 / a11, 0.0
    linear = (b1 * a22 - b2 * a12) / determinant
    quadratic = (a11 * b2 - a12 * b1) / determinant
    if quadratic < 0.0:
        return b1 / a11, 0.0
    if linear < 0.0:
        return 0.0, b2 / a22
    return linear, quadratic
