"""Chambers with known transport, for the tests of the transport layer."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np
from chamber_flows import BENCH_BOXES, bench
from numpy.typing import NDArray
from scipy import sparse

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import add_wall_flux, wall_flux, zero_flux
from flowsim.chamber.grid import Box, Grid, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.transport.faces import FaceArrays, wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.system import System

WALL_EXITS = ("front", "floor")


def even_flow(
    cells: tuple[int, int, int], size: tuple[float, float, float], speed: float, axis: int = 0
) -> Field:
    """Return even flow along one axis, through both walls normal to it."""
    grid = Grid(*cells, *size)
    flux = zero_flux(grid)
    flux.axes[axis][...] = speed * grid.face_areas[axis]
    closure = "section" if min(cells[:2]) == 1 else "volume"
    return solve_field(grid, flux, closure)


def bench_field(
    cells: tuple[int, int, int], closure: str = "volume", boxes: tuple[Box, ...] = ()
) -> Field:
    """Return the flow of the bench: supply above, front outflow, uneven draw below."""
    return solve_field(*bench(cells, boxes), closure)


def bench_problem(field: Field, diffusivity: FloatArray | float, **more: Any) -> TransportProblem:
    """Return transport in the bench, with its front and its plate as exits."""
    exits = {name: wall_faces(field.grid, name) for name in WALL_EXITS}
    return TransportProblem(field, diffusivity, exits=exits, **more)


SECTION_BOXES = (Box(0.0, 1.3, 0.2, 0.4, 0.0, 0.2), Box(0.0, 1.3, 0.3, 0.5, 0.3, 0.45))
"""Solids through the whole width, for a section."""


def rich_problem(
    scheme: str, boxes: tuple[Box, ...] = BENCH_BOXES, closure: str = "volume"
) -> TransportProblem:
    """Return a bench with solids, uneven eddies, settling, exchange and collecting walls."""
    section = closure == "section"
    if section and boxes:
        boxes = SECTION_BOXES
    field = bench_field((1, 24, 28) if section else (20, 12, 14), closure, boxes)
    grid = field.grid
    x, y = grid.centres[0][:, np.newaxis, np.newaxis], grid.centres[1][:, np.newaxis]
    diffusivity = 2e-3 * (1.0 + 0.5 * np.sin(9.0 * (y if section else x)))
    open_area = wall_patch(grid, "front", 0.05, 1.25, 0.4, 0.56)
    return bench_problem(
        field,
        np.broadcast_to(diffusivity, grid.shape).copy(),
        settling=3e-3,
        exchange=wall_faces(grid, "front", 0.02 * open_area),
        deposition=wall_faces(grid, "back" if section else "left", 1e-3),
        scheme=scheme,
    )


def absorbing(problem_field: Field, walls: tuple[str, ...], diffusivity: float) -> FaceArrays:
    """Return the exchange that holds the concentration on walls at that outside."""
    grid = problem_field.grid
    total = [np.zeros_like(axis) for axis in zero_flux(grid).axes]
    for wall in walls:
        axis = ("left", "right", "front", "back", "floor", "ceiling").index(wall) // 2
        half = 2.0 * diffusivity / grid.spacing[axis] * grid.face_areas[axis]
        sign = -1.0 if wall in ("left", "front", "floor") else 1.0
        outflow = np.maximum(sign * wall_flux(problem_field.flux, wall), 0.0)
        part = wall_faces(grid, wall, half - outflow)
        total = [one + two for one, two in zip(total, part.axes, strict=True)]
    return FaceArrays(*total)


def matrix(system: System) -> sparse.csr_matrix:
    """Return a system as a sparse matrix, rows along the flow."""
    count = len(system.rows)
    rows, columns, values = [np.arange(count)], [np.arange(count)], [system.rows[:, 0]]

    def add(where: NDArray[np.int32], amount: FloatArray) -> None:
        for m in range(6):
            there = where[:, m] < count
            rows.append(np.flatnonzero(there))
            columns.append(where[there, m])
            values.append(amount[there, m])

    add(system.near, -system.rows[:, 1:7])
    amounts, where, place, extra = system.rest
    if len(amounts):
        there = where < count
        rows += [np.arange(count), np.nonzero(there)[0], place[1:-1, 0]]
        columns += [np.arange(count), where[there], place[1:-1, 1]]
        values += [system.rows[:, 7], amounts[there], extra[1:-1]]
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return sparse.csr_matrix(sparse.coo_matrix(entries, shape=(count, count)))


def one_cell(problem: TransportProblem, cell: tuple[int, int, int]) -> FloatArray:
    """Return a unit release in one cell."""
    source = np.zeros(problem.shape)
    source[cell] = 1.0
    return source


def orders(errors: Mapping[float, float]) -> list[float]:
    """Return the observed orders of errors by cell size, coarse to fine."""
    sizes = sorted(errors, reverse=True)
    return [float(np.log(errors[a] / errors[b]) / np.log(a / b)) for a, b in pairwise(sizes)]


def closed_box(cells: tuple[int, int, int], size: tuple[float, float, float]) -> Field:
    """Return a box in which the air rests."""
    grid = Grid(*cells, *size)
    return solve_field(grid, zero_flux(grid), "volume")


def circling(count: int) -> Field:
    """Return an x-z section with one vortex that does not pass its walls, and a way through."""
    grid = Grid(count, 1, count, 1.0, 1.0, 1.0)
    edge = np.linspace(0.0, 1.0, count + 1)
    psi = np.outer(np.sin(np.pi * edge), np.sin(np.pi * edge)) + 0.02 * edge
    flux = zero_flux(grid)
    flux.x[:, 0, :] = np.diff(psi, axis=1)
    flux.z[:, 0, :] = -np.diff(psi, axis=0)
    return Field(grid, flux, "section", "given", 0)


def filter_and_hole(count: int) -> Field:
    """Return a section with even supply above and two outlets, for refinement."""
    grid = Grid(1, count, count, 1.0, 1.0, 1.0)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0, 1, 0, 1))
    add_wall_flux(flux, grid, "front", wall_patch(grid, "front", 0, 1, 0, 0.5), inward=False)
    add_wall_flux(flux, grid, "floor", 0.5 * wall_patch(grid, "floor", 0, 1, 0, 1), inward=False)
    return solve_field(grid, flux, "section")
