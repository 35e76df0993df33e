"""Laws of sharp openings, cracks and gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError

__all__ = ["CrackLaw", "GapLaw", "OrificeLaw"]


@dataclass(frozen=True)
class OrificeLaw:
    """A sharp opening between two large spaces.

    Parameters
    ----------
    area : float
        Open area. [m2]
    discharge_coefficient : float
        Effective over geometric area. [-]
    density : float
        Of the air that flows. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    hydraulic_diameter : float or None
        Four times the area over the rim; None takes a round hole's. [m]
    laminar_reynolds : float
        Reynolds number on the hydraulic diameter at which the linear and the quadratic law
        meet. [-]

    Raises
    ------
    RangeError
        If a size or property is not positive.

    Notes
    -----
    ``drop = rho/(2 Cd^2) v sqrt(v^2 + v_t^2)``, v_t the speed at `laminar_reynolds`: linear
    below it, so that the slope stays finite at no flow, and within 0.05 % of the orifice law
    from Reynolds number 1000 on; the blend is common practice, no source. The default 30 lies
    above the creeping limit of a round hole, ``12 pi Cd^2 = 14`` for Cd 0.61 [Sampson1891]_,
    from memory.
    """

    area: float
    discharge_coefficient: float
    density: float
    viscosity: float
    hydraulic_diameter: float | None = None
    laminar_reynolds: float = 30.0

    def __post_init__(self) -> None:
        check_positive(
            area=self.area,
            discharge_coefficient=self.discharge_coefficient,
            density=self.density,
            viscosity=self.viscosity,
            laminar_reynolds=self.laminar_reynolds,
        )

    @property
    def transition_speed(self) -> float:
        """Speed at which the linear and the quadratic law meet. [m/s]."""
        diameter = self.hydraulic_diameter or 2.0 * math.sqrt(self.area / math.pi)
        return self.laminar_reynolds * self.viscosity / (self.density * diameter)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        speed = flow / self.area
        square = self.transition_speed**2
        root = math.sqrt(speed * speed + square)
        factor = self.density / (2.0 * self.discharge_coefficient**2)
        return factor * speed * root, factor * (2.0 * speed * speed + square) / (root * self.area)

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return a remark where the flow is in the linear range.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        if 0.0 < abs(flow) / self.area < self.transition_speed:
            return ("flow so slow that the opening's law is a guess (below its linear range)",)
        return ()


@dataclass(frozen=True)
class CrackLaw:
    """A leak known by a power law, Q = C dp^n.

    Parameters
    ----------
    coefficient : float
        Flow at 1 Pa. [m3/s]
    exponent : float
        n, 0.5 (turbulent) to 1 (laminar). [-]
    smallest_drop : float
        Drop below which the law turns linear, so that its slope stays finite. [Pa]

    Raises
    ------
    RangeError
        If the coefficient is not positive or the exponent outside 0.5 to 1.

    Notes
    -----
    Power law and limits of n: [AIVC1992]_; the linear end is ours: 0.1 % of the flow at 100
    times `smallest_drop`.
    """

    coefficient: float
    exponent: float
    smallest_drop: float = 1e-4

    def __post_init__(self) -> None:
        check_positive(coefficient=self.coefficient, smallest_drop=self.smallest_drop)
        if not 0.5 <= self.exponent <= 1.0:
            raise RangeError(f"a crack's exponent lies between 0.5 and 1 (got {self.exponent})")

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        x = flow / self.coefficient
        power = 0.5 * (1.0 / self.exponent - 1.0)
        square = x * x + self.smallest_drop ** (2.0 * self.exponent)
        level = square**power
        return x * level, level * (1.0 + 2.0 * power * x * x / square) / self.coefficient

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return a remark where the flow is in the linear end.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        if flow != 0.0 and abs(self.drop(flow)[0]) < self.smallest_drop:
            return (f"drop below {self.smallest_drop:g} Pa, where the crack law is a guess",)
        return ()


@dataclass(frozen=True)
class GapLaw:
    """A narrow straight gap: laminar friction plus inertia.

    Parameters
    ----------
    height, path, width : float
        Clear height, length along the flow, extent across it. [m]
    density : float
        Air density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    inertia : float
        Loss coefficient on the gap's own velocity. [-]

    Raises
    ------
    RangeError
        If a size or property is not positive.

    Notes
    -----
    ``drop = 12 mu L q/h^3 + C rho q^2/(2 h^2)`` per width, C = 1.5 for a straight gap
    [BakerSharplesWard1987]_ (C from memory; the laminar part is exact).
    """

    height: float
    path: float
    width: float
    density: float
    viscosity: float
    inertia: float = 1.5

    def __post_init__(self) -> None:
        check_positive(
            height=self.height,
            path=self.path,
            width=self.width,
            density=self.density,
            viscosity=self.viscosity,
            inertia=self.inertia,
        )

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        linear = 12.0 * self.viscosity * self.path / (self.height**3 * self.width)
        steep = 0.5 * self.inertia * self.density / (self.height * self.width) ** 2 * abs(flow)
        return (linear + steep) * flow, linear + 2.0 * steep

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return a remark where the flow is no longer laminar.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        reynolds = 2.0 * abs(flow) * self.density / (self.width * self.viscosity)
        if reynolds > 2000.0:
            return (f"Reynolds number {reynolds:.0f} in the gap: friction is no longer laminar",)
        return ()


def check_positive(**values: float) -> None:
    """Refuse values that are not positive and finite.

    Parameters
    ----------
    **values : float
        Value by name. [any]

    Raises
    ------
    RangeError
        Naming the first that is not.
    """
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise RangeError(f"{name} must be positive and finite (got {value})")
