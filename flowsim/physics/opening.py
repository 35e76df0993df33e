"""Sharp openings and openings under crossflow.

Gaps and cracks stand in `leak`, exchange between two temperatures in `two_way`; both are offered
here too.

The laws that a solver calls are odd in flow and drop, rise strictly and have a finite slope at
zero; each says where its smoothing begins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.physics._ranges import positive
from flowsim.physics.leak import Crack, Gap
from flowsim.physics.two_way import (
    TWO_WAY_COEFFICIENT,
    TWO_WAY_SPREAD,
    TwoWayExchange,
    blocking_flow,
    layered_exchange,
    neutral_height,
    two_way_exchange,
)

__all__ = [
    "KIRCHHOFF_COEFFICIENT",
    "ROUND_HOLE_COEFFICIENT",
    "TWO_WAY_COEFFICIENT",
    "TWO_WAY_SPREAD",
    "Crack",
    "Gap",
    "Orifice",
    "TwoWayExchange",
    "blocking_flow",
    "crossflow_coefficient",
    "dynamic_pressure",
    "layered_exchange",
    "neutral_height",
    "orifice_area",
    "orifice_drop",
    "orifice_flow",
    "two_way_exchange",
]

KIRCHHOFF_COEFFICIENT = math.pi / (math.pi + 2.0)  # slit in a thin wall, exact
ROUND_HOLE_COEFFICIENT = 0.5964  # small round hole in a thin wall, ISO 5167-2
LINEAR_REYNOLDS = 30.0  # an orifice turns linear below this, on its hydraulic diameter


def dynamic_pressure(velocity: float, density: float) -> float:
    """Return the dynamic pressure of a stream, the difference of total and static pressure.

    Parameters
    ----------
    velocity : float
        Speed of the stream. [m/s]
    density : float
        Gas density. [kg/m3]

    Returns
    -------
    float
        ``rho v^2/2``. [Pa]

    Raises
    ------
    RangeError
        If the density is not positive.

    Notes
    -----
    Bernoulli. Valid up to some 70 m/s, where compression adds 1 %.
    """
    positive(density=density)
    return 0.5 * density * velocity**2


def orifice_flow(drop: float, area: float, discharge_coefficient: float, density: float) -> float:
    """Return the flow through a sharp opening between two large spaces.

    Parameters
    ----------
    drop : float
        Total pressure upstream less static pressure downstream; its sign is the flow's. [Pa]
    area : float
        Open area. [m2]
    discharge_coefficient : float
        Share of the ideal flow, some 0.6 for a sharp edge. [-]
    density : float
        Gas density. [kg/m3]

    Returns
    -------
    float
        Volume flow. [m3/s]

    Raises
    ------
    RangeError
        If area, coefficient or density is not positive.

    Notes
    -----
    ``Q = Cd A sqrt(2 dp/rho)``. Valid for turbulent flow; 0.611 for a slit is exact
    ([Kirchhoff1869]_), 0.596 holds for a small round hole ([ISO5167-2]_), 0.60 to 0.65 for a
    large opening crossed one way (ASHRAE Fundamentals, from memory [ASHRAE]_).
    """
    positive(area=area, discharge_coefficient=discharge_coefficient, density=density)
    size = discharge_coefficient * area * math.sqrt(2.0 * abs(drop) / density)
    return math.copysign(size, drop)


def orifice_drop(flow: float, area: float, discharge_coefficient: float, density: float) -> float:
    """Return the pressure drop that drives a flow through a sharp opening.

    Parameters
    ----------
    flow : float
        Volume flow. [m3/s]
    area : float
        Open area. [m2]
    discharge_coefficient : float
        Share of the ideal flow. [-]
    density : float
        Gas density. [kg/m3]

    Returns
    -------
    float
        Pressure drop with the sign of the flow. [Pa]

    Raises
    ------
    RangeError
        If area, coefficient or density is not positive.

    Notes
    -----
    Inverse of `orifice_flow`; valid as that.
    """
    positive(area=area, discharge_coefficient=discharge_coefficient, density=density)
    speed = flow / (discharge_coefficient * area)
    return 0.5 * density * speed * abs(speed)


def orifice_area(flow: float, drop: float, discharge_coefficient: float, density: float) -> float:
    """Return the area of a sharp opening that passes a flow at a pressure drop.

    Parameters
    ----------
    flow : float
        Volume flow. [m3/s]
    drop : float
        Pressure drop. [Pa]
    discharge_coefficient : float
        Share of the ideal flow. [-]
    density : float
        Gas density. [kg/m3]

    Returns
    -------
    float
        Open area. [m2]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Inverse of `orifice_flow`; valid as that.
    """
    positive(flow=flow, drop=drop, discharge_coefficient=discharge_coefficient, density=density)
    return flow / (discharge_coefficient * math.sqrt(2.0 * drop / density))


def crossflow_coefficient(ratio: float | FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the contraction of a slot that air passes along before it leaves, and its slope.

    Parameters
    ----------
    ratio : float or array
        Dynamic pressure of the air passing along over its total pressure against the space
        outside, 0 to 1. [-]

    Returns
    -------
    coefficient : array
        Flow over slot area times sqrt(2 total/density); 0 at a ratio of 1. [-]
    slope : array
        Derivative of the coefficient by the ratio. [-]

    Raises
    ------
    RangeError
        If a ratio is outside 0 to 1.

    Notes
    -----
    Exact free-streamline solution for a slot in a thin plane wall (own derivation,
    [Kirchhoff1869]_ at no crossflow)::

        C = pi / [pi sqrt(1-x) + 2 (1+x)/(1-x) + sqrt(x) ln((1+sqrt x)/(1-sqrt x))]

    Valid for a sharp slot far wider than its wall is thick; above a ratio of 0.5 trust the sign,
    not the size.
    """
    x = np.asarray(ratio, dtype=np.float64)
    if not np.all((x >= 0.0) & (x <= 1.0)):
        raise RangeError("crossflow ratio: expected values from 0 to 1")
    rest = 1.0 - x
    inner = np.maximum(rest, 1e-300)  # the formulas below are multiplied through by `rest`
    root = np.sqrt(x)
    log = np.log1p(2.0 * root * (1.0 + root) / inner)  # (1+s)/(1-s) = 1 + 2 s (1+s)/(1-s^2)
    half = np.where(root > 1e-8, log / (2.0 * np.where(root > 1e-8, root, 1.0)), 1.0)
    whole = math.pi * rest**1.5 + 2.0 * (1.0 + x) + root * rest * log
    # -dD/dx times (1-x)^2, with D the bracket of the formula
    fall = 0.5 * math.pi * rest**1.5 - 4.0 - rest * rest * half - rest
    return math.pi * rest / whole, math.pi * fall / whole**2


@dataclass(frozen=True)
class Orifice:
    """A sharp opening as a law between flow and pressure drop.

    Parameters
    ----------
    area : float
        Open area. [m2]
    discharge_coefficient : float
        Share of the ideal flow. [-]
    density : float
        Gas density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    hydraulic_diameter : float or None
        Four times area over perimeter; None: of a round hole of this area. [m]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    `orifice_flow` above a Reynolds number of 30 on the hydraulic diameter, linear below:
    ``dp = rho/2 v sqrt(v^2 + v0^2)/Cd^2``, v0 at Re 30; higher than the square by 450/Re^2 (own
    smoothing, no source). Valid above Re 300, where the smoothing stays below half a percent;
    sharp holes pass up to 3 % more at low heads [Unwin1911]_.
    """

    area: float
    discharge_coefficient: float
    density: float
    viscosity: float
    hydraulic_diameter: float | None = None
    _floor: float = field(init=False, repr=False, compare=False)
    _scale: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the arguments and keep what every call needs."""
        positive(
            area=self.area,
            discharge_coefficient=self.discharge_coefficient,
            density=self.density,
            viscosity=self.viscosity,
        )
        floor = LINEAR_REYNOLDS * self.viscosity / (self.density * self._diameter()) * self.area
        object.__setattr__(self, "_floor", floor)
        scale = 0.5 * self.density / (self.discharge_coefficient * self.area) ** 2
        object.__setattr__(self, "_scale", scale)

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
        root = math.sqrt(flow * flow + self._floor * self._floor)
        slope = self._scale * (flow * flow + root * root) / root
        return self._scale * flow * root, slope

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
        target = abs(drop) / self._scale
        floor = self._floor**2
        root = math.sqrt(floor * floor + 4.0 * target * target)
        size = target * math.sqrt(2.0 / (floor + root))
        return math.copysign(size, drop), 1.0 / self.drop(size)[1]

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
        if flow == 0.0 or abs(flow) >= 10.0 * self._floor:
            return ()
        reynolds = LINEAR_REYNOLDS * abs(flow) / self._floor
        return (
            f"opening: Reynolds number {reynolds:.0f} is below 300; "
            "a constant discharge coefficient no longer holds",
        )

    def _diameter(self) -> float:
        if self.hydraulic_diameter is None:
            return 2.0 * math.sqrt(self.area / math.pi)
        positive(hydraulic_diameter=self.hydraulic_diameter)
        return self.hydraulic_diameter
