"""Laws of branches: how a pressure drop and a flow belong together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from flowsim.errors import RangeError
from flowsim.network.graph import Closed, DropLaw, FixedFlow, Law
from flowsim.network.layered import LayeredOpening
from flowsim.physics.fan import Fan
from flowsim.physics.opening import Crack, Gap, Orifice

__all__ = [
    "Closed",
    "CrackLaw",
    "DropLaw",
    "FaceLaw",
    "FanLaw",
    "FixedFlow",
    "GapLaw",
    "Law",
    "LayeredOpening",
    "OrificeLaw",
    "Polynomial",
    "Scaled",
    "Series",
]

OrificeLaw = Orifice
GapLaw = Gap
CrackLaw = Crack


@dataclass(frozen=True)
class Polynomial:
    """A drop with a linear and a quadratic part, odd in the flow.

    Parameters
    ----------
    linear : float
        Linear coefficient, >= 0. [Pa s/m3]
    quadratic : float
        Quadratic coefficient, >= 0. [Pa s2/m6]
    """

    linear: float = 0.0
    quadratic: float = 0.0

    def __post_init__(self) -> None:
        if not (self.linear >= 0 and self.quadratic >= 0 and self.linear + self.quadratic > 0):
            raise RangeError(
                "a resistance needs coefficients >= 0, not both 0 "
                f"(got linear {self.linear} Pa s/m3, quadratic {self.quadratic} Pa s2/m6)"
            )

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        steep = self.quadratic * abs(flow)
        return (self.linear + steep) * flow, self.linear + 2.0 * steep

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing: the coefficients carry no range.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return ()


class FaceElement(Protocol):
    """A law between face velocity and pressure drop."""

    def drop(self, velocity: float) -> tuple[float, float]:
        """Return drop [Pa] and slope [Pa s/m].

        Parameters
        ----------
        velocity : float
            Face velocity. [m/s]
        """

    def validity(self, velocity: float) -> tuple[str, ...]:
        """Return what is outside the law's range at a velocity.

        Parameters
        ----------
        velocity : float
            Face velocity. [m/s]
        """


@dataclass(frozen=True)
class FaceLaw:
    """A plate or filter of a given face area.

    Parameters
    ----------
    area : float
        Face; of a plate holes and land. [m2]
    element : PerforatedPlate or FilterMedium
        Law on the face velocity, from `flowsim.physics`. [-]
    """

    area: float
    element: FaceElement

    def __post_init__(self) -> None:
        _check_positive(area=self.area)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        drop, slope = self.element.drop(flow / self.area)
        return drop, slope / self.area

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what the plate or filter says of a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return self.element.validity(flow / self.area)


@dataclass(frozen=True)
class FanLaw:
    """A fan: its drop is the pressure it adds, taken negative.

    Parameters
    ----------
    curve : Fan
        Curve or group from `flowsim.physics.fan`, at its speed and density. [-]
    """

    curve: Fan

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        pressure, slope = self.curve.pressure_at(flow)
        return -pressure, -slope

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what the curve says of a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return self.curve.validity(flow)


@dataclass(frozen=True)
class Series:
    """Laws one behind the other with nothing between.

    Parameters
    ----------
    laws : tuple of DropLaw
        Each gives a drop for a flow.
    """

    laws: tuple[DropLaw, ...]

    def __post_init__(self) -> None:
        if not self.laws:
            raise RangeError("a series needs at least one law")

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        parts = [law.drop(flow) for law in self.laws]
        return sum(drop for drop, _ in parts), sum(slope for _, slope in parts)

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what each law says of a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return tuple(message for law in self.laws for message in law.validity(flow))


@dataclass(frozen=True)
class Scaled:
    """A law whose actual volume flow is a multiple of the conserved flow.

    Parameters
    ----------
    law : DropLaw
        Law of the actual flow.
    factor : float
        Actual over conserved flow: density ratio for heated air, 1/n for one of n equal
        branches side by side. [-]
    """

    law: DropLaw
    factor: float

    def __post_init__(self) -> None:
        _check_positive(factor=self.factor)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return drop and slope on the conserved flow.

        Parameters
        ----------
        flow : float
            Conserved volume flow. [m3/s]
        """
        drop, slope = self.law.drop(flow * self.factor)
        return drop, slope * self.factor

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what the law says of a flow.

        Parameters
        ----------
        flow : float
            Conserved volume flow. [m3/s]
        """
        return self.law.validity(flow * self.factor)


def _check_positive(**values: float) -> None:
    for name, value in values.items():
        if not (value > 0 and math.isfinite(value)):
            raise RangeError(f"{name} must be positive and finite (got {value})")
