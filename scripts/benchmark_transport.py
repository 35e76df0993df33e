"""Speed of steady transport as ratios, each answer checked before its time counts.

Our time runs from the face fluxes to the solution: boundary, order of the cells, matrix, factors,
solver to 1e-13. The rival, algebraic multigrid in front of the same Krylov method, gets the
finished sparse matrix and needs its own set-up and as many digits. Monotone scheme for both: the
linear one is no matrix for classical multigrid. `scripts/benchmark.py` prints these rows.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import TypedDict

import numpy as np
import scipy.sparse as sparse

try:
    import pyamg
except ImportError:  # only this script compares with it
    pyamg = None

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.transport.adjoint import escape_shares
from flowsim.transport.faces import wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.scalar import per_cell, steady
from flowsim.transport.system import System

CELLS = (60, 30, 40)
SIZE = (1.3, 0.65, 0.75)
SPEED = 0.3
AGREEMENT = 1e-9  # of the largest value
RIVAL_TOLERANCE = 1e-13


class Row(TypedDict):
    """One line of the table: the ratio, the goal it is held against, and whether it is met."""

    work: str
    ratio: float
    goal: float
    met: bool


class WrongAnswerError(Exception):
    """A job that was timed gave a wrong answer."""


def bench() -> Field:
    """Return the flow in a bench with supply, front opening and perforated floor."""
    grid = Grid(*CELLS, *SIZE)
    flux = zero_flux(grid)
    supply = 0.45 * wall_patch(grid, "ceiling", 0.04, 1.26, 0.02, 0.63)
    out = 0.15 * wall_patch(grid, "front", 0.05, 1.25, 0.05, 0.21)
    draw = np.outer(1.0 + 0.2 * np.sin(3.0 * grid.centres[0]), np.ones(grid.ny))
    draw *= (supply.sum() - out.sum()) / draw.sum()
    add_wall_flux(flux, grid, "ceiling", supply)
    add_wall_flux(flux, grid, "front", out, inward=False)
    add_wall_flux(flux, grid, "floor", draw, inward=False)
    return solve_field(grid, flux, "volume")


def problem_at(field: Field, peclet: float) -> TransportProblem:
    """Return a new problem at a cell Peclet number, with front and plate as exits."""
    grid = field.grid
    exits = {"front": wall_faces(grid, "front"), "plate": wall_faces(grid, "floor")}
    return TransportProblem(
        field, SPEED * max(grid.spacing) / peclet, exits=exits, scheme="monotone"
    )


def matrix(system: System) -> sparse.csr_matrix:
    """Return a system as a sparse matrix in the order of its rows."""
    count = len(system.rows)
    there = system.near < count
    row, side = np.nonzero(there)
    entries = (
        np.concatenate([system.rows[:, 0], -system.rows[row, side + 1]]),
        (
            np.concatenate([np.arange(count), row]),
            np.concatenate([np.arange(count), system.near[there]]),
        ),
    )
    return sparse.csr_matrix(sparse.coo_matrix(entries, shape=(count, count)))


def rival(system: System, right: FloatArray) -> tuple[Callable[[], FloatArray], System]:
    """Return the job of the rival for a system and a right-hand side per cell."""
    sparse_matrix, b = matrix(system), system.vector(right)[:-1]

    def job() -> FloatArray:
        solver = pyamg.ruge_stuben_solver(sparse_matrix)
        found: FloatArray = solver.solve(b, tol=RIVAL_TOLERANCE, accel="bicgstab")
        return found

    return job, system


def check(system: System, ours: FloatArray, theirs: FloatArray) -> None:
    """Raise if two solutions differ, or a share passes 0 or 1."""
    mine = system.vector(ours)[:-1]
    off = float(np.abs(mine - theirs).max() / np.abs(theirs).max())
    if not off <= AGREEMENT:
        raise WrongAnswerError(f"transport: the solutions differ by {off:.2g} of the largest value")


def race(field: Field, peclet: float, repeats: int) -> list[float]:
    """Return the ratios of the scalar and of the adjoint at one cell Peclet number."""
    grid = field.grid
    source = np.zeros(grid.shape)
    source[grid.nx // 3, grid.ny // 3, grid.nz // 4] = 1.0
    sample = problem_at(field, peclet)
    shares = per_cell(sample, sample.boundary.out * sample.exit_shares["front"])
    jobs = (
        (lambda: steady(problem_at(field, peclet), 0.0, source), rival(sample.forward, source)),
        (lambda: escape_shares(problem_at(field, peclet), "front"), rival(sample.adjoint, shares)),
    )
    ratios = []
    for ours, (theirs, system) in jobs:
        check(system, ours(), theirs())
        times: tuple[list[float], list[float]] = ([], [])
        for _ in range(repeats):
            for job, found in zip((ours, theirs), times, strict=True):
                start = time.perf_counter()
                job()
                found.append(time.perf_counter() - start)
        ratios.append(statistics.median(times[0]) / statistics.median(times[1]))
    return ratios


def rows(quick: bool) -> list[Row]:
    """Return the rows of steady transport; none without the rival."""
    if pyamg is None:
        return []
    field = bench()
    repeats = 5 if quick else 15
    fast = max(ratio for peclet in (10.0, 100.0) for ratio in race(field, peclet, repeats))
    slow = max(race(field, 1.0, repeats))
    return [
        Row(
            work="scalar or adjoint at Pe >= 10, set-up included / pyamg",
            ratio=fast,
            goal=1 / 15,
            met=fast <= 1 / 15,
        ),
        Row(work="same at Pe 1", ratio=slow, goal=1 / 8, met=slow <= 1 / 8),
    ]
