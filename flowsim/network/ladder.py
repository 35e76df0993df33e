"""Long ladders: a perforated tube in a plenum under a plate, station by station.

The tube draws through its holes from the plenum, the plenum through the plate from the chamber.
All laws are polynomials given as arrays, so that thousands of nodes are solved in compiled loops.
"""

from __future__ import annotations

from flowsim.network._ladder_problem import LadderProblem, LinearSolver, eliminate, failure
from flowsim.network.ladder_parts import Ladder, LadderState, Surroundings

__all__ = ["Ladder", "LadderState", "Surroundings", "solve_ladder"]

_MAX_ITERATIONS = 100
_SMALLEST_STEP = 2.0**-40


def solve_ladder(
    ladder: Ladder,
    around: Surroundings,
    tolerance: float = 1e-12,
    flow_floor: float = 1e-12,
    linear_solver: LinearSolver | None = None,
) -> LadderState:
    """Return the flows and pressures of a ladder and what it hangs in.

    Parameters
    ----------
    ladder : Ladder
        Stations from the closed end to the outlet.
    around : Surroundings
        The rest of the network.
    tolerance : float
        Residual allowed to each law, relative to its own drop; rounding comes on top. [-]
    flow_floor : float
        Flow below which a branch counts as still. [m3/s]
    linear_solver : callable or None
        Gives the Newton step of a problem at a residual; None takes the compiled elimination.

    Returns
    -------
    LadderState
        The solution.

    Raises
    ------
    ConvergenceError
        If the tolerance is not reached; the message names the worst station or branch.

    Notes
    -----
    Newton's method on flows and pressures together, the step halved until the residual falls;
    one elimination along the stations with the surroundings as a border. Momentum of the joining
    air as in the manifold equation of [Bajura1971]_ (from memory).
    """
    problem = LadderProblem(ladder, around, tolerance, flow_floor)
    solver = linear_solver or eliminate
    found, spare = problem.room(), problem.room()
    problem.linear(found)
    x = problem.still + solver(problem, found)
    norm = problem.residual(x, found)
    for iteration in range(_MAX_ITERATIONS):
        if problem.excess(x, found)[0] <= 1.0:
            return problem.state(x, found, iteration)
        step = solver(problem, found)
        share, before = 1.0, norm
        while True:
            trial = x + share * step
            norm = problem.residual(trial, spare)
            if norm <= (1.0 - 1e-4 * share) * before:
                break
            share *= 0.5
            if share < _SMALLEST_STEP:
                raise failure(problem, x, found)
        x, found, spare = trial, spare, found
    raise failure(problem, x, found)
