"""Newton's method for the flows and pressures of a network."""

from __future__ import annotations

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.network._system import Limits, NetworkSolution, Residual, State, System
from flowsim.network.graph import FixedFlow, Network

__all__ = ["NetworkSolution", "network_validity", "required_pressure", "solve_network"]

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
    Newton's method on flows and pressures together, with the step halved until the residual
    falls. If every law is strictly increasing there is exactly one solution (the flows minimise
    a strictly convex function), own derivation.
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
    """Take one step: full near the end or to balance the nodes, else down in content."""
    step = system.newton_step(residual)
    flow_step = step[len(system.unknown) :]
    trial = system.moved(state, step, 1.0)
    found = system.residual(trial)
    if system.unbalanced(state, residual):
        return trial, found
    if residual.norm <= 1e-8 * system.pressure_scale:
        before = system.excess(state, residual, limits).max(initial=0.0)
        if system.excess(trial, found, limits).max(initial=0.0) <= 0.5 * before:
            return trial, found
    fall = float(residual.law @ flow_step)
    if fall > 0.0:
        return _down_in_content(system, state, step, (fall, trial, found))
    return _down_in_residual(system, state, step, residual)


def _down_in_content(
    system: System, state: State, step: FloatArray, full: tuple[float, State, Residual]
) -> tuple[State, Residual] | None:
    """Shorten the step to the least content along it, roughly.

    The content, the sum of each drop integrated over its flow, is convex; its slope along the
    step is minus the residuals times the change of flow.
    """
    fall, trial, found = full
    flow_step = step[len(system.unknown) :]
    low, high = (0.0, fall), (1.0, float(found.law @ flow_step))
    best: tuple[State, Residual] | None = None
    if high[1] >= -0.5 * fall:
        return trial, found
    while high[0] - low[0] > _SMALLEST_STEP and (best is None or low[1] > 0.5 * fall):
        share = _between(low, high)
        trial = system.moved(state, step, share)
        found = system.residual(trial)
        left = float(found.law @ flow_step)
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


def _down_in_residual(
    system: System, state: State, step: FloatArray, residual: Residual
) -> tuple[State, Residual] | None:
    """Halve the step until the residual falls, as a law that does not increase needs."""
    share = 1.0
    while share >= _SMALLEST_STEP:
        trial = system.moved(state, step, share)
        found = system.residual(trial)
        if found.norm <= (1.0 - 1e-4 * share) * residual.norm:
            return trial, found
        share *= 0.5
    return None


def _polished(system: System, state: State, residual: Residual, limits: Limits) -> State:
    """Take one step more where it helps: it brings all branches to rounding."""
    if not residual.norm > 0:
        return state
    trial = system.moved(state, system.newton_step(residual), 1.0)
    before = system.excess(state, residual, limits).max(initial=0.0)
    after = system.excess(trial, system.residual(trial), limits).max(initial=0.0)
    return trial if after < before else state
