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
        step = system.newton_step(residual)
        moved = _refined(system, state, residual, step, limits)
        moved = moved or _backtracked(system, state, residual, step)
        if moved is None:
            raise system.failure(excess, residual, iteration)
        state, residual = moved
    raise system.failure(system.excess(state, residual, limits), residual, _MAX_ITERATIONS)


def _backtracked(
    system: System, state: State, residual: Residual, step: FloatArray
) -> tuple[State, Residual] | None:
    """Halve the step until the residual falls well, or falls no further; None if it never does.

    Laws given as a flow bend like a square root, on which full steps swing from side to side
    with a residual that hardly falls; the half step then lands in the middle.
    """
    share = 1.0
    best: tuple[State, Residual] | None = None
    while share >= _SMALLEST_STEP:
        trial = system.moved(state, step, share)
        found = system.residual(trial)
        if best is not None and found.norm >= best[1].norm:
            return best
        if found.norm <= (1.0 - 1e-4 * share) * residual.norm:
            best = (trial, found)
            if found.norm <= 0.5 * residual.norm:
                return best
        share *= 0.5
    return best


def _refined(
    system: System, state: State, residual: Residual, step: FloatArray, limits: Limits
) -> tuple[State, Residual] | None:
    """Take the full step near the end, where it serves a branch lost in others' rounding."""
    if residual.norm > 1e-8 * system.pressure_scale:
        return None
    trial = system.moved(state, step, 1.0)
    found = system.residual(trial)
    before = system.excess(state, residual, limits).max(initial=0.0)
    after = system.excess(trial, found, limits).max(initial=0.0)
    return (trial, found) if after <= 0.5 * before else None


def _polished(system: System, state: State, residual: Residual, limits: Limits) -> State:
    """Take one step more where it helps: it brings all branches to rounding."""
    if not residual.norm > 0:
        return state
    trial = system.moved(state, system.newton_step(residual), 1.0)
    before = system.excess(state, residual, limits).max(initial=0.0)
    after = system.excess(trial, system.residual(trial), limits).max(initial=0.0)
    return trial if after < before else state
