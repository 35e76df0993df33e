"""What a ladder is made of, and what its solution holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.errors import RangeError

__all__ = ["Ladder", "LadderState", "Surroundings"]


@dataclass(frozen=True)
class Ladder:
    """Coefficients of every link and rung, stations counted from the closed end.

    A link's drop of static pressure is ``linear Q + quadratic Q|Q| + momentum (Q^2 - Q_before^2)``,
    with Q_before the flow of the link before it.

    Parameters
    ----------
    tube : array, shape (3, n)
        Linear [Pa s/m3], quadratic and momentum [Pa s2/m6] coefficients of the tube's links, link
        i behind station i, the last to the outlet; momentum is density times the momentum
        coefficient over the section squared. [mixed]
    holes : array, shape (2, n)
        Linear [Pa s/m3] and quadratic [Pa s2/m6] coefficients, plenum to tube. [mixed]
    plate : array, shape (2, n)
        The same, from above the plate into the plenum. [mixed]
    plenum : array, shape (3, n), or None
        Links of the plenum like those of the tube; None: no lengthwise flow in it. [mixed]
    hole_place : float
        Where a hole sees the tube's pressure: 0 before its air joins, 0.5 the mean, 1 after. [-]

    Raises
    ------
    RangeError
        If shapes disagree or a coefficient is negative.
    """

    tube: FloatArray
    holes: FloatArray
    plate: FloatArray
    plenum: FloatArray | None = None
    hole_place: float = 0.5

    def __post_init__(self) -> None:
        n = self.tube.shape[-1]
        wanted = (("tube", self.tube, 3), ("holes", self.holes, 2), ("plate", self.plate, 2))
        for name, values, count in (*wanted, ("plenum", self.plenum, 3)):
            if values is None:
                continue
            if values.shape != (count, n) or n == 0:
                raise RangeError(f"{name}: expected shape ({count}, {n}), got {values.shape}")
            if not (np.isfinite(values).all() and (values >= 0).all()):
                raise RangeError(f"{name}: coefficients must be finite and >= 0")
            if not (values[:2].sum(axis=0) > 0).all():
                raise RangeError(f"{name}: every link and rung needs some resistance")
        if not 0.0 <= self.hole_place <= 1.0:
            raise RangeError(f"hole_place lies between 0 and 1 (got {self.hole_place})")


@dataclass(frozen=True)
class Surroundings:
    """The few nodes and branches that a ladder hangs in.

    Parameters
    ----------
    pressure : array, shape (m,)
        Total pressure of fixed nodes, nan where it is unknown. [Pa]
    start, end : array of int, shape (k,)
        Node numbers of each branch. [-]
    linear : array, shape (k,)
        Linear coefficient of each branch, p0/q0 for a straight-line fan. [Pa s/m3]
    quadratic : array, shape (k,)
        Quadratic coefficient. [Pa s2/m6]
    source : array, shape (k,)
        Pressure added along the branch, p0 for a straight-line fan. [Pa]
    above : int
        Node above the plate. [-]
    tube_outlet : int
        Node at the tube's open end. [-]
    plenum_outlet : int or None
        Node at the plenum's open end; None where the plenum has no port of its own. [-]
    """

    pressure: FloatArray
    start: IntArray
    end: IntArray
    linear: FloatArray
    quadratic: FloatArray
    source: FloatArray
    above: int
    tube_outlet: int
    plenum_outlet: int | None = None


@dataclass(frozen=True)
class LadderState:
    """Flows and pressures of a ladder and its surroundings.

    Parameters
    ----------
    flow : array, shape (4, n)
        Tube and plenum (leaving each station towards the outlet), holes, plate. [m3/s]
    pressure : array, shape (2, n)
        Static pressure of tube (before its hole's air joins) and plenum per station. [Pa]
    node_pressure : array, shape (m,)
        Surrounding nodes. [Pa]
    branch_flow : array, shape (k,)
        Surrounding branches, from start to end. [m3/s]
    iterations : int
        Newton steps taken. [-]
    mass_residual : float
        Largest imbalance over the largest flow. [-]
    pressure_residual : float
        Largest residual of a law, in the share of its allowance. [-]
    """

    flow: FloatArray
    pressure: FloatArray
    node_pressure: FloatArray
    branch_flow: FloatArray
    iterations: int = 0
    mass_residual: float = 0.0
    pressure_residual: float = 0.0
