"""Maps over the whole chamber: share that leaves into the room, share of room air, age."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.shares import ShareMaps
from flowsim.transport.faces import Faces
from flowsim.transport.operator import TransportProblem, check_open
from flowsim.transport.scalar import blank_solids, mean_age, per_cell, steady
from flowsim.transport.system import TOLERANCE, solve
from flowsim.transport.tracking import Ends
from flowsim.transport.tracking_lines import exact_streamlines

__all__ = ["Maps", "chamber_maps", "into_room_share", "together"]

Answer = TypeVar("Answer")
THREADS = 2
ROUGH = 1e-8
"""Tolerance of the maps that only show how far an assumption matters. [-]"""

VARIATIONS: dict[str, dict[str, float]] = {
    "half_eddy": {"eddy": 0.5},
    "double_eddy": {"eddy": 2.0},
    "half_reversal": {"reversal": 0.5},
    "double_reversal": {"reversal": 2.0},
}


@dataclass(frozen=True, eq=False)
class Maps:
    """Everything that is known of every cell.

    Parameters
    ----------
    escape, ingress : ShareMaps
        Share that leaves into the room, and share of room air. [-]
    age : array, shape (nx, ny, nz)
        Mean age of the air in use. [s]
    """

    escape: ShareMaps
    ingress: ShareMaps
    age: FloatArray


def together(tasks: Mapping[str, Callable[[], Answer]]) -> dict[str, Answer]:
    """Return the answers of independent computations, run two at a time.

    Parameters
    ----------
    tasks : mapping of str to callable
        Each without arguments. [-]

    Returns
    -------
    dict of str to answer
        In the order of the tasks, whichever finished first.
    """
    with ThreadPoolExecutor(THREADS) as pool:
        waiting = {name: pool.submit(task) for name, task in tasks.items()}
        return {name: item.result() for name, item in waiting.items()}


def into_room_share(
    carrier: Carrier, problem: TransportProblem, tolerance: float = TOLERANCE
) -> FloatArray:
    """Return the share of a release in each cell that leaves into the room.

    Parameters
    ----------
    carrier : Carrier
        The air.
    problem : TransportProblem
        One of its problems.
    tolerance : float
        Of the solver. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        Share; nan in solids. [-]

    Raises
    ------
    RangeError
        If some air has no way out.
    ConvergenceError
        If the solver does not reach its tolerance.

    Notes
    -----
    One transposed solve for openings, covers and cracks together, as
    `flowsim.transport.adjoint.escape_shares` for one exit.
    """
    check_open(problem)
    shares = problem.exit_shares
    share = np.zeros(problem.boundary.out.size)
    for name in carrier.outlets.into_room:
        share = share + shares[name]
    if not share.any():
        return blank_solids(problem, np.zeros(problem.shape))
    right = per_cell(problem, problem.boundary.out * share)
    return blank_solids(problem, solve(problem.adjoint, right, tolerance=tolerance).values)


def _both(
    carrier: Carrier, problem: TransportProblem, tolerance: float
) -> tuple[FloatArray, FloatArray]:
    """Return escape and ingress of one problem, which share a matrix."""
    escape = into_room_share(carrier, problem, tolerance)
    return escape, steady(problem, carrier.outlets.room, tolerance=tolerance)


def _base(carrier: Carrier) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return escape, ingress and age in use."""
    problem = carrier.problem("in use")
    return *_both(carrier, problem, TOLERANCE), mean_age(problem)


def _lines(carrier: Carrier, backward: bool, exits: Mapping[str, Faces]) -> FloatArray:
    """Return 1 where the line through a cell's centre ends (or began) at the first exit. [-]

    Lines that come to rest give nan.
    """
    grid = carrier.grid
    centres = np.stack(np.meshgrid(*grid.centres, indexing="ij"), axis=-1)
    found = exact_streamlines(
        carrier.field, centres[grid.fluid], backward=backward, ends=Ends(exits)
    )
    share = (found.end_names == 0).astype(np.float64)
    share[found.end_names == found.names.index("unfinished")] = np.nan
    values = np.full(grid.shape, np.nan)
    values[grid.fluid] = share
    return values


def chamber_maps(carrier: Carrier) -> Maps:
    """Return escape, ingress and age with all their sensitivities.

    Parameters
    ----------
    carrier : Carrier
        The air.

    Returns
    -------
    Maps
        Mean flow by exact streamlines, the rest by the adjoint and its forward twin.

    Raises
    ------
    RangeError
        If some air has no way out.
    ConvergenceError
        If a solver does not reach its tolerance.
    """
    room = {"room": carrier.outlets.room}
    varied: dict[str, Callable[[], tuple[FloatArray, FloatArray]]] = {
        "monotone": lambda: _both(carrier, carrier.problem(scheme="monotone"), ROUGH),
        "at_rest": lambda: _both(carrier, carrier.problem("at rest"), ROUGH),
    }
    for name, factors in VARIATIONS.items():
        varied[name] = lambda factors=factors: _both(carrier, carrier.problem(**factors), ROUGH)
    with ThreadPoolExecutor(THREADS) as pool:
        base = pool.submit(_base, carrier)
        others = {name: pool.submit(task) for name, task in varied.items()}
        lines = [pool.submit(_lines, carrier, backward, room) for backward in (False, True)]
        escape, ingress, age = base.result()
        pairs = {name: item.result() for name, item in others.items()}
    mean = [item.result() for item in lines]
    maps = [
        ShareMaps(
            in_use=values,
            mean_flow=mean[which],
            **{name: pair[which] for name, pair in pairs.items()},
        )
        for which, values in enumerate((escape, ingress))
    ]
    return Maps(maps[0], maps[1], age)
