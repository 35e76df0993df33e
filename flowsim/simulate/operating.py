"""Fans whose curve has a dip: every flow at which they can settle, and the one taken."""

from __future__ import annotations

import math
from collections.abc import Mapping

from flowsim.errors import ConvergenceError, RangeError
from flowsim.network.graph import Branch, FixedFlow, Network
from flowsim.network.laws import FanLaw, Scaled
from flowsim.network.solve import required_pressure
from flowsim.physics.fan import OperatingPoint, operating_points

__all__ = ["DippedFan", "settle_fans"]

SAMPLES = 8  # between two points of a curve


class DippedFan:
    """A fan with a dip and its operating points.

    Parameters
    ----------
    law : FanLaw
        Its curve.
    points : tuple of OperatingPoint
        By rising flow, actual volumes.
    """

    def __init__(self, law: FanLaw, points: tuple[OperatingPoint, ...]) -> None:
        self.law = law
        self.points = points

    @property
    def stable(self) -> tuple[OperatingPoint, ...]:
        """Points at which the fan can settle."""
        return tuple(point for point in self.points if point.stable)

    @property
    def taken(self) -> OperatingPoint:
        """The stable point of the largest flow."""
        if not self.stable:
            raise ConvergenceError("a fan with a dip has no stable operating point here")
        return self.stable[-1]


def _fan_of(branch: Branch) -> tuple[FanLaw, float] | None:
    """Return the fan of a branch and its actual over conserved flow, None if it has no dip."""
    law = branch.law.law if isinstance(branch.law, Scaled) else branch.law
    factor = branch.law.factor if isinstance(branch.law, Scaled) else 1.0
    if isinstance(law, FanLaw) and law.curve.has_dip:
        return law, factor
    return None


def _points(network: Network, name: str, law: FanLaw, factor: float) -> tuple[OperatingPoint, ...]:
    """Return the operating points of one fan against the rest of the network."""

    def system_drop(flow: float) -> float:
        try:
            needed = required_pressure(network, name, flow / factor)
        except RangeError:  # the way is shut: no pressure passes a flow
            return math.copysign(math.inf, flow)
        return 0.0 if math.isnan(needed) else needed

    return tuple(operating_points(law.curve, system_drop, SAMPLES))


def settle_fans(network: Network) -> tuple[Network, Mapping[str, DippedFan]]:
    """Replace each fan with a dip by its stable operating point of the largest flow.

    Parameters
    ----------
    network : Network
        Network; fans without a dip stay as they are.

    Returns
    -------
    network : Network
        With the flow of such fans given.
    dipped : mapping of str to DippedFan
        Their operating points by branch.

    Raises
    ------
    ConvergenceError
        If such a fan has no stable operating point.

    Notes
    -----
    With several such fans each is settled in turn against the others as they then are.
    """
    dipped: dict[str, DippedFan] = {}
    for branch in network.branches:
        found = _fan_of(branch)
        if found is None:
            continue
        law, factor = found
        fan = DippedFan(law, _points(network, branch.name, law, factor))
        network = network.with_law(branch.name, FixedFlow(fan.taken.flow / factor))
        dipped[branch.name] = fan
    return network, dipped
