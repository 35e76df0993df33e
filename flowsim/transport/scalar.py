"""Steady concentration, what leaves by each exit, and the age of the air."""

from __future__ import annotations

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.transport.faces import Faces, check_faces
from flowsim.transport.operator import TransportProblem, check_open
from flowsim.transport.system import TOLERANCE, solve

__all__ = [
    "blank_solids",
    "entering",
    "exit_flows",
    "inflow_source",
    "mean_age",
    "per_cell",
    "release",
    "steady",
]


def release(problem: TransportProblem, source: FloatArray | None) -> FloatArray:
    """Return a checked release per cell, 0 in solids.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    source : array, shape (nx, ny, nz), or None
        Released amount per second in each cell. [1/s]

    Returns
    -------
    array, shape (nx, ny, nz)
        The same, or zeros. [1/s]

    Raises
    ------
    RangeError
        If the shape is wrong, a value is not finite or something is released in a solid.
    """
    if source is None:
        return np.zeros(problem.shape)
    values = np.asarray(source, dtype=np.float64)
    if values.shape != problem.shape:
        raise RangeError(f"source must have shape {problem.shape}, got {values.shape}")
    if not np.isfinite(values).all():
        raise RangeError("source must be finite")
    solid = problem.field.grid.solid
    if solid is not None and np.any(values[solid] != 0.0):
        place = [int(index) for index in np.argwhere(solid & (values != 0.0))[0]]
        raise RangeError(f"source: something is released inside a solid, in cell {place}")
    return values


def entering(problem: TransportProblem, inflow: Faces | float) -> FloatArray:
    """Return what enters through each outer face.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    inflow : FaceArrays or float
        Concentration of the air outside each face, or one for all. [1/m3]

    Returns
    -------
    array, shape (outer faces,)
        Amount per second, in the order of ``problem.boundary.faces``. [1/s]

    Raises
    ------
    RangeError
        If a concentration is negative or not finite, or a shape is wrong.
    """
    boundary = problem.boundary
    if isinstance(inflow, (int, float)):
        if not (np.isfinite(inflow) and inflow >= 0.0):
            raise RangeError(f"inflow must be finite and not negative, got {inflow}")
        return boundary.enter * float(inflow)
    check_faces(problem.field.grid, inflow, "inflow")
    return boundary.enter * boundary.faces.read(inflow)


def inflow_source(problem: TransportProblem, inflow: Faces | float) -> FloatArray:
    """Return what enters through outer faces, summed in each cell.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    inflow : FaceArrays or float
        Concentration of the air outside each face. [1/m3]

    Returns
    -------
    array, shape (nx, ny, nz)
        Amount per second. [1/s]
    """
    return per_cell(problem, entering(problem, inflow))


def per_cell(problem: TransportProblem, amount: FloatArray) -> FloatArray:
    """Return amounts per outer face, summed in each cell.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    amount : array, shape (outer faces,)
        In the order of ``problem.boundary.faces``. [1/s]

    Returns
    -------
    array, shape (nx, ny, nz)
        Sums. [1/s]
    """
    total = np.bincount(problem.boundary.faces.cell, amount, problem.field.grid.cells)
    return np.asarray(total, dtype=np.float64).reshape(problem.shape)


def steady(
    problem: TransportProblem,
    inflow: Faces | float = 0.0,
    source: FloatArray | None = None,
    tolerance: float = TOLERANCE,
) -> FloatArray:
    """Return the steady concentration.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    inflow : FaceArrays or float
        Concentration of the air outside each outer face. [1/m3]
    source : array, shape (nx, ny, nz), or None
        Released amount per second in each cell. [1/s]
    tolerance : float
        Residual over right-hand side at which the solver stops. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        Concentration, in amounts per volume; nan in solids. [1/m3]

    Raises
    ------
    RangeError
        If an input is impossible, or air has no way out.
    ConvergenceError
        If the solver does not reach its tolerance.
    """
    check_open(problem)
    right = inflow_source(problem, inflow) + release(problem, source)
    return blank_solids(problem, solve(problem.forward, right, None, tolerance).values)


def blank_solids(problem: TransportProblem, values: FloatArray) -> FloatArray:
    """Return values per cell with nan in solids, in place.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    values : array, shape (nx, ny, nz)
        One per cell; changed. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        The same array.
    """
    if problem.field.grid.solid is not None:
        values[problem.field.grid.solid] = np.nan
    return values


def exit_flows(problem: TransportProblem, concentration: FloatArray) -> dict[str, float]:
    """Return what leaves by each exit.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]
    concentration : array, shape (nx, ny, nz)
        In each cell. [1/m3]

    Returns
    -------
    dict of str to float
        Amount per second by name of the exit, gross: what comes back in by exchange is not
        taken off. [1/s]
    """
    boundary = problem.boundary
    leaving = boundary.out * np.asarray(concentration).ravel()[boundary.faces.cell]
    return {name: float(share @ leaving) for name, share in problem.exit_shares.items()}


def mean_age(problem: TransportProblem, tolerance: float = TOLERANCE) -> FloatArray:
    """Return the mean time since the air in each cell entered.

    Parameters
    ----------
    problem : TransportProblem
        Best without settling. [-]
    tolerance : float
        Residual over right-hand side at which the solver stops. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        Mean age; nan in solids. [s]

    Raises
    ------
    ConvergenceError
        If the solver does not reach its tolerance.

    Notes
    -----
    Concentration of a substance that every volume of air gives off at unit rate. Its flux mean
    over all exits is volume over flow. Common practice, no source.
    """
    return steady(problem, 0.0, problem.volume, tolerance)
