"""Parts of small networks, in the air of the practitioners' cases."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flowsim.network.graph import Branch, Law, Network
from flowsim.network.laws import FanLaw, OrificeLaw, Polynomial
from flowsim.physics.duct import DuctRun
from flowsim.physics.fan import FanCurve, fan_from_two_points

DENSITY = 1.2
VISCOSITY = 1.8e-5
CFM = 4.719474432e-4
INCH_WATER = 249.08891
FPM = 0.00508


def circle(diameter: float) -> float:
    """Return the area of a circle."""
    return math.pi * diameter**2 / 4


def opening(area: float, coefficient: float) -> OrificeLaw:
    """Return a sharp opening."""
    return OrificeLaw(area, coefficient, DENSITY, VISCOSITY)


def duct(diameter: float, loss: float, length: float = 0.0, friction: float = 0.0) -> DuctRun:
    """Return a round duct with a constant friction factor."""
    return DuctRun(
        circle(diameter), diameter, length, 0.0, loss, DENSITY, VISCOSITY, friction_factor=friction
    )


def straight_fan(shut_off: float, free_flow: float) -> FanLaw:
    """Return a straight-line fan."""
    return FanLaw(fan_from_two_points(shut_off, free_flow))


def table_fan(flow: Sequence[float], pressure: Sequence[float]) -> FanLaw:
    """Return a fan of straight lines between points."""
    return FanLaw(FanCurve(tuple(flow), tuple(pressure), False))


def chain(*laws: Law) -> Network:
    """Return laws one behind the other from the room back to the room: b0, b1, ..."""
    nodes = ["room", *(f"n{k}" for k in range(1, len(laws))), "room"]
    branches = (Branch(f"b{k}", nodes[k], nodes[k + 1], law) for k, law in enumerate(laws))
    return Network({"room": 0.0}, tuple(branches))


@dataclass(frozen=True)
class ParabolicFan:
    """A fan with pressure ``shut_off - fall Q|Q|``."""

    shut_off: float
    fall: float

    def drop(self, flow: float) -> tuple[float, float]:
        """Return the pressure lost and its slope."""
        return self.fall * flow * abs(flow) - self.shut_off, 2.0 * self.fall * abs(flow)

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing."""
        return ()


def resistance(linear: float = 0.0, quadratic: float = 0.0) -> Polynomial:
    """Return a polynomial resistance."""
    return Polynomial(linear, quadratic)
