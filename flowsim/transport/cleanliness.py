"""Where the dust in the air comes from: through the filter, from the room, from sources inside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.transport.faces import Faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.scalar import exit_flows, steady
from flowsim.transport.system import TOLERANCE

__all__ = ["AirParts", "air_parts", "flux_mean"]


@dataclass(frozen=True, eq=False)
class AirParts:
    """Concentration in each cell by cause, each cause of unit strength.

    Parameters
    ----------
    filter : array, shape (nx, ny, nz)
        Per concentration that enters at the faces of the supply; nan in solids. [-]
    room : array, shape (nx, ny, nz)
        Per concentration in the room. [-]
    sources : tuple of array, shape (nx, ny, nz)
        Per rate of each source inside. [s/m3]
    """

    filter: FloatArray
    room: FloatArray
    sources: tuple[FloatArray, ...]


def air_parts(
    problem: TransportProblem,
    supply: Faces,
    room: Faces,
    sources: Sequence[FloatArray] = (),
    tolerance: float = TOLERANCE,
) -> AirParts:
    """Return the steady concentration by cause.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    supply, room : FaceArrays
        1 on faces outside of which the filter, or the room, is; shares where both are. [-]
    sources : sequence of array, shape (nx, ny, nz)
        Share of each source's rate in each cell, summing to 1. [-]
    tolerance : float
        Residual over right-hand side at which the solver stops. [-]

    Returns
    -------
    AirParts
        By the scheme of the problem, nothing clipped.

    Raises
    ------
    RangeError
        If an input is impossible, or air has no way out.
    ConvergenceError
        If the solver does not reach its tolerance.

    Notes
    -----
    The equations are linear: the concentration is what passes the filter times the first part,
    plus the room's times the second, plus each rate times its own.
    """
    return AirParts(
        steady(problem, supply, None, tolerance),
        steady(problem, room, None, tolerance),
        tuple(steady(problem, 0.0, weights, tolerance) for weights in sources),
    )


def flux_mean(problem: TransportProblem, concentration: FloatArray) -> float:
    """Return the mean concentration of what leaves, over all exits.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    concentration : array, shape (nx, ny, nz)
        In each cell. [1/m3]

    Returns
    -------
    float
        Mean weighted by what passes each outer face outwards, exchange and deposition
        included. [1/m3]
    """
    return sum(exit_flows(problem, concentration).values()) / float(np.sum(problem.boundary.out))
