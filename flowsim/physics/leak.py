"""Narrow gaps and cracks as laws between flow and pressure drop."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from flowsim.physics._ranges import in_range, non_negative, positive

__all__ = ["Crack", "Gap"]

LINEAR_PRESSURE = 1e-5  # Pa, a crack turns linear below this


@dataclass(frozen=True)
class Gap:
    """A narrow straight gap as a law between flow and pressure drop.

    Parameters
    ----------
    height : float
        Clear height of the gap. [m]
    path : float
        Length of the way through the gap. [m]
    width : float
        Length of the gap across the flow. [m]
    density : float
        Gas density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    inertia : float
        Loss coefficient of entry and exit on the mean gap velocity. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``dp = 12 mu L q/h^3 + C rho q^2/(2 h^2)`` per width: laminar part exact, C = 1.5 for a
    straight gap from memory [Baker1987]_. Valid for Reynolds numbers 2q/nu below 2000 and gaps
    at least ten times wider than high.
    """

    height: float
    path: float
    width: float
    density: float
    viscosity: float
    inertia: float = 1.5
    _linear: float = field(init=False, repr=False, compare=False)
    _quadratic: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the arguments and keep the two coefficients."""
        positive(height=self.height, path=self.path, width=self.width)
        positive(density=self.density, viscosity=self.viscosity)
        non_negative(inertia=self.inertia)
        linear = 12.0 * self.viscosity * self.path / (self.height**3 * self.width)
        quadratic = 0.5 * self.inertia * self.density / (self.height * self.width) ** 2
        object.__setattr__(self, "_linear", linear)
        object.__setattr__(self, "_quadratic", quadratic)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return the pressure drop and its slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        tuple of float
            Pressure drop [Pa] and its derivative [Pa s/m3].
        """
        inertia = self._quadratic * abs(flow)
        return flow * (self._linear + inertia), self._linear + 2.0 * inertia

    def flow(self, drop: float) -> tuple[float, float]:
        """Return the flow at a pressure drop and its slope.

        Parameters
        ----------
        drop : float
            Pressure drop. [Pa]

        Returns
        -------
        tuple of float
            Volume flow [m3/s] and its derivative [m3/(s Pa)].
        """
        root = math.sqrt(self._linear**2 + 4.0 * self._quadratic * abs(drop))
        return 2.0 * drop / (self._linear + root), 1.0 / root

    def reynolds(self, flow: float) -> float:
        """Return the Reynolds number on the hydraulic diameter, 2q/nu.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        float
            Reynolds number. [-]
        """
        return 2.0 * abs(flow) / self.width * self.density / self.viscosity

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful about this law at a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        found = []
        if self.reynolds(flow) > 2000.0:
            found.append(
                f"gap: Reynolds number {self.reynolds(flow):.0f} is above 2000; "
                "the laminar part no longer holds"
            )
        if self.width < 10.0 * self.height:
            found.append("gap: less than ten times wider than high; its ends are neglected")
        return tuple(found)


@dataclass(frozen=True)
class Crack:
    """Leakage by a power law between flow and pressure drop.

    Parameters
    ----------
    coefficient : float
        Flow at a drop of 1 Pa. [m3/(s Pa^n)]
    exponent : float
        Exponent n, from 0.5 (turbulent) to 1 (laminar). [-]

    Raises
    ------
    RangeError
        If the coefficient is not positive or the exponent outside 0.5 to 1.

    Notes
    -----
    ``Q = C dp^n`` ([AIVC1992]_ for the bounds; 0.6 to 0.7 usual, from memory). Linear below
    1e-5 Pa: ``dp = q (q^2 + q0^2)^(1/(2n) - 1/2)`` with q = Q/C, q0 = (1e-5 Pa)^n (own
    smoothing, no source; below 1e-4 of the drop above 0.1 Pa). Valid in the range of
    pressures in which C was measured.
    """

    coefficient: float
    exponent: float = 0.65
    _floor: float = field(init=False, repr=False, compare=False)
    _power: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the arguments and keep what every call needs."""
        positive(coefficient=self.coefficient)
        in_range("exponent", self.exponent, 0.5, 1.0)
        object.__setattr__(self, "_floor", LINEAR_PRESSURE ** (2.0 * self.exponent))
        object.__setattr__(self, "_power", 0.5 / self.exponent - 0.5)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return the pressure drop and its slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        tuple of float
            Pressure drop [Pa] and its derivative [Pa s/m3].
        """
        q = flow / self.coefficient
        square = q * q + self._floor
        factor = float(square**self._power)
        slope = factor * (1.0 + 2.0 * self._power * q * q / square)
        return q * factor, slope / self.coefficient

    def flow(self, drop: float) -> tuple[float, float]:
        """Return the flow at a pressure drop and its slope.

        Parameters
        ----------
        drop : float
            Pressure drop. [Pa]

        Returns
        -------
        tuple of float
            Volume flow [m3/s] and its derivative [m3/(s Pa)].
        """
        target = abs(drop)
        linear = target / self._floor**self._power
        size = self.coefficient * min(linear, target**self.exponent)
        value, slope = self.drop(size)
        for _ in range(60):
            step = (target - value) / slope
            size += step
            value, slope = self.drop(size)
            if abs(step) <= 1e-15 * size:
                break
        return math.copysign(size, drop), 1.0 / slope

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful about this law at a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        drop = abs(self.drop(flow)[0])
        if drop <= 200.0:
            return ()
        return (f"leak: {drop:.0f} Pa is far above the pressures at which leakage is measured",)
