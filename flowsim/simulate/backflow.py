"""Air that enters the chamber neither by the supply nor from the room."""

from __future__ import annotations

import numpy as np

from flowsim.simulate.outlets import Outlets
from flowsim.transport.faces import FaceArrays
from flowsim.transport.operator import TransportProblem

__all__ = ["NEGLIGIBLE", "backflow_faces"]

NEGLIGIBLE = 1e-9
"""Share of all that enters below which nothing comes back. [-]"""


def backflow_faces(problem: TransportProblem, outlets: Outlets) -> FaceArrays | None:
    """Return the faces through which air comes back, such as from the plenum of a stopped exhaust.

    Parameters
    ----------
    problem : TransportProblem
        The problem.
    outlets : Outlets
        Ways into the chamber.

    Returns
    -------
    FaceArrays or None
        1 on faces of neither supply nor room; None if nothing enters there. [-]
    """
    both = zip(outlets.supply.axes, outlets.room.axes, strict=True)
    faces = FaceArrays(*(np.maximum(1.0 - supply - room, 0.0) for supply, room in both))
    enter = problem.boundary.enter
    back = float(enter @ problem.boundary.faces.read(faces))
    return faces if back > NEGLIGIBLE * float(enter.sum()) else None
