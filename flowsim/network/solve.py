"""Newton's method for the flows and pressures of a network."""

from __future__ import annotations

import math

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.network._system import Limits, NetworkSolution, Residual, State, System
from flowsim.network.graph import FixedFlow, Network
from flowsim.network.laws import FanLaw
from flowsim.physics.fan import OperatingPoint, operating_points

__all__ = [
    "NetworkSolution",
    "fan_operating_points",
    "network_validity",
    "required_pressure",
    "solve_network",
]

_MAX_ITERATIONS = 200
_SMALLEST_STEP = 2.0**-40


def solve_network(
    network: Network,
    start: NetworkSolution | None = None,
    tolerance: float = 1e-12,
    flow_floor: float = 1e-12,
) -> NetworkSolution:
    """Return the flows and pressures of a network.

    Parameters
    ----------
    network : Network
        Nodes, branches and laws.
    start : NetworkSolution or None
        Solution of a similar network to start from; names it does not know start cold.
    tolerance : float
        Residual allowed to each branch, relative to its own drop (or flow); rounding of the
        pressures it joins comes on top. [-]
    flow_floor : float
        Flow below which a branch counts as still. [m3/s]

    Returns
    -------
    NetworkSolution
        Pressures, flows, drops and residuals.

    Raises
    ------
    RangeError
        If given flows push air into nodes that it cannot leave.
    ConvergenceError
        If the tolerance is not reached; the message names the worst branch.

    Notes
    -----
    Newton's method on flows and pressures together, the step shortened where it would pass the
    least content, the sum of each branch's drop integrated over its flow. If every law is
    strictly increasing the content is strictly convex and there is exactly one solution (own
    derivation). With a dip in a fan's curve a stable one of several is found:
    `fan_operating_points` gives all.
    """
    system = System(network)
    state = system.starting_state(start)
    state, iterations = _newton(system, state, Limits(tolerance, flow_floor))
    return system.solution(state, iterations)


def required_pressure(network: Network, name: str, flow: float) -> float:
    """Return the pressure rise that a branch must supply to pass a given flow.

    Parameters
    ----------
    network : Network
        Network with the branch in it; the branch's own law is ignored.
    name : str
        The branch, usually a fan.
    flow : float
        Volume flow through it. [m3/s]

    Returns
    -------
    float
        Total pressure at its end less that at its start and less its source. [Pa]

    Raises
    ------
    RangeError
        If the rest of the network cannot take that flow at all.
    """
    solution = solve_network(network.with_law(name, FixedFlow(flow)))
    return -solution.drops[name]


def fan_operating_points(network: Network, name: str, per_segment: int = 8) -> list[OperatingPoint]:
    """Return every flow at which one fan of a network can settle or is balanced.

    Parameters
    ----------
    network : Network
        Network with the fan in it; all its other laws strictly increasing.
    name : str
        The fan's branch; its law is a `FanLaw`.
    per_segment : int
        Samples between two points of the fan's curve. [-]

    Returns
    -------
    list of OperatingPoint
        By rising flow; more than one only where the curve has a dip.

    Raises
    ------
    RangeError
        If the branch is no fan.
    """
    law = network.branch(name).law
    if not isinstance(law, FanLaw):
        raise RangeError(f"branch {name!r} is no fan, so it has no operating points")

    def system_drop(flow: float) -> float:
        try:
            needed = required_pressure(network, name, flow)
        except RangeError:  # the way is shut: no pressure passes a flow
            return math.copysign(math.inf, flow)
        return 0.0 if math.isnan(needed) else needed

    return operating_points(law.curve, system_drop, per_segment)


def network_validity(network: Network, solution: NetworkSolution) -> tuple[str, ...]:
    """Return which laws are outside their range at the solution, branch name first.

    Parameters
    ----------
    network : Network
        The network solved.
    solution : NetworkSolution
        Its solution.

    Returns
    -------
    tuple of str
        One sentence each, empty where every law is inside its range.
    """
    return tuple(
        f"{branch.name}: {message}"
        for branch in network.branches
        for message in branch.law.validity(solution.flows[branch.name])
    )


def _newton(system: System, state: State, limits: Limits) -> tuple[State, int]:
    residual = system.residual(state)
    for iteration in range(_MAX_ITERATIONS):
        excess = system.excess(state, residual, limits)
        if not np.isfinite(residual.norm):
            raise system.failure(excess, residual, iteration)
        if (excess <= 1.0).all():
            return _polished(system, state, residual, limits), iteration
        moved = _moved(system, state, residual, limits)
        if moved is None:
            raise system.failure(excess, residual, iteration)
        state, residual = moved
    raise system.failure(system.excess(state, residual, limits), residual, _MAX_ITERATIONS)


def _moved(
    system: System, state: State, residual: Residual, limits: Limits
) -> tuple[State, Residual] | None:
    """Take one step: full near the end or to balance the nodes, else down in content.

    Where flows are settled and only pressures are not, the content says nothing; there the
    residual, which the full step takes to rounding, decides.
    """
    step = system.newton_step(residual)
    fall = _fall(system, residual, step)
    if fall < 0.0:
        step = system.newton_step(residual, rising=True)
        fall = _fall(system, residual, step)
    trial = system.moved(state, step, 1.0)
    found = system.residual(trial)
    if system.unbalanced(state, residual) or found.norm <= 1e-3 * residual.norm:
        return trial, found
    if residual.norm <= 1e-8 * system.pressure_scale:
        before = system.excess(state, residual, limits).max(initial=0.0)
        if system.excess(trial, found, limits).max(initial=0.0) <= 0.5 * before:
            return trial, found
    return _down_in_content(system, state, step, (fall, trial, found))


def _fall(system: System, residual: Residual, step: FloatArray) -> float:
    """Return how fast the content falls along a step; below zero where it rises. [W]."""
    return float(residual.law @ step[len(system.unknown) :])


def _down_in_content(
    system: System, state: State, step: FloatArray, full: tuple[float, State, Residual]
) -> tuple[State, Residual] | None:
    """Shorten the step to the least content along it, roughly.

    The content, the sum of each drop integrated over its flow, is convex; its slope along the
    step is minus the residuals times the change of flow. A fan's dip takes the convexity away;
    the least content is then one of the stable solutions.
    """
    fall, trial, found = full
    low, high = (0.0, fall), (1.0, _fall(system, found, step))
    best: tuple[State, Residual] | None = None
    if high[1] >= -0.5 * fall:
        return trial, found
    while high[0] - low[0] > _SMALLEST_STEP and (best is None or low[1] > 0.5 * fall):
        share = _between(low, high)
        trial = system.moved(state, step, share)
        found = system.residual(trial)
        left = _fall(system, found, step)
        if abs(left) <= 0.5 * fall:
            return trial, found
        if left > 0:
            low, best = (share, left), (trial, found)
        else:
            high = (share, left)
    return best


def _between(low: tuple[float, float], high: tuple[float, float]) -> float:
    """Return the false position between two points, kept off the ends of the bracket."""
    share = (low[0] * high[1] - high[0] * low[1]) / (high[1] - low[1])
    width = high[0] - low[0]
    return min(max(share, low[0] + 0.1 * width), high[0] - 0.1 * width)


def _polished(system: System, state: State, residual: Residual, limits: Limits) -> State:
    """Take one step more where it helps: it brings all branches to rounding."""
    if not residual.norm > 0:
        return state
    trial = system.moved(state, system.newton_step(residual), 1.0)
    before = system.excess(state, residual, limits).max(initial=0.0)
    after = system.excess(trial, system.residual(trial), limits).max(initial=0.0)
    return trial if after < before else state
