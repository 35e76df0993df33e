#!/usr/bin/env python3
"""Speed of the chamber field as ratios, each answer checked before its time counts.

Medians of interleaved runs on one thread. Set-up that depends on the number of cells only
(transforms, pivots) is kept between runs, as it is in use; set-up that depends on the solids is
part of every time, except where a row says that the geometry is fixed. `scripts/benchmark.py`
prints these rows.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypedDict

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded

import numba
import numpy as np
import scipy.fft
import scipy.sparse as sparse

try:
    import pyamg
except ImportError:  # only this script compares with it
    pyamg = None

from flowsim._arrays import BoolArray, FloatArray
from flowsim.chamber import cuts, solids
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.cosines import cosines
from flowsim.chamber.grid import Box, Grid, wall_patch, with_boxes
from flowsim.chamber.potential import Field, solve_field

SMALL = (60, 30, 40)
LARGE = (120, 60, 80)
SIZE = (1.3, 0.65, 0.75)
BOXES = (
    Box(0.1, 0.5, 0.2, 0.5, 0.0, 0.2),
    Box(0.7, 0.9, 0.1, 0.3, 0.0, 0.15),
    Box(1.0, 1.2, 0.3, 0.6, 0.1, 0.3),
)


class Row(TypedDict):
    """One line of the table: the ratio, the goal it is held against, and whether it is met."""

    work: str
    ratio: float
    goal: float
    met: bool


class WrongAnswerError(Exception):
    """A job that was timed gave a wrong answer."""


@dataclass(frozen=True)
class Race:
    """A job of ours and the one it is held against."""

    work: str
    ours: Callable[[], object]
    theirs: Callable[[], object]
    goal: float
    repeats: int


def run(race: Race) -> Row:
    """Time both jobs in turn and return the ratio of the medians."""
    times: tuple[list[float], list[float]] = ([], [])
    for number in range(race.repeats + 1):
        for job, found in zip((race.ours, race.theirs), times, strict=True):
            start = time.perf_counter()
            job()
            if number:  # the first pair fills the caches
                found.append(time.perf_counter() - start)
    ratio = statistics.median(times[0]) / statistics.median(times[1])
    return Row(work=race.work, ratio=ratio, goal=race.goal, met=ratio <= race.goal)


def bench(
    cells: tuple[int, int, int], with_solids: bool, front: float = 0.15
) -> tuple[Grid, FaceFlux]:
    """Return a bench with supply, front opening and perforated floor."""
    grid = Grid(*cells, *SIZE)
    if with_solids:
        grid = Grid(*cells, *SIZE, with_boxes(grid, BOXES))
    flux = zero_flux(grid)
    supply = 0.45 * wall_patch(grid, "ceiling", 0.04, 1.26, 0.02, 0.63)
    out = front * wall_patch(grid, "front", 0.05, 1.25, 0.05, 0.21)
    draw = np.outer(1.0 + 0.2 * np.sin(3.0 * grid.centres[0]), np.ones(grid.ny))
    draw *= grid.fluid[:, :, 0]
    draw *= (supply.sum() - out.sum()) / draw.sum()
    add_wall_flux(flux, grid, "ceiling", supply)
    add_wall_flux(flux, grid, "front", out, inward=False)
    add_wall_flux(flux, grid, "floor", draw, inward=False)
    return grid, flux


def operator(grid: Grid) -> tuple[sparse.csr_matrix, BoolArray]:
    """Return the matrix of the open faces of all cells of air, and these cells."""
    air = grid.fluid
    place = np.cumsum(air).reshape(grid.shape) - 1
    rows, columns, values = [], [], []
    for axis, (area, step) in enumerate(zip(grid.face_areas, grid.spacing, strict=True)):
        low = np.take(place, range(grid.shape[axis] - 1), axis)
        high = np.take(place, range(1, grid.shape[axis]), axis)
        both = np.take(air, range(grid.shape[axis] - 1), axis)
        both = both & np.take(air, range(1, grid.shape[axis]), axis)
        a, b = low[both], high[both]
        rows += [a, b, a, b]
        columns += [a, b, b, a]
        values += [np.full(a.size, s * area / step) for s in (1.0, 1.0, -1.0, -1.0)]
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    count = int(air.sum())
    return sparse.csr_matrix(sparse.coo_matrix(entries, shape=(count, count))), air


def sources(grid: Grid, flux: FaceFlux) -> FloatArray:
    """Return what the outer walls bring into each cell."""
    cells = np.zeros(grid.shape)
    for axis, values in enumerate(flux.axes):
        layers, faces = np.moveaxis(cells, axis, 0), np.moveaxis(values, axis, 0)
        layers[0] += faces[0]
        layers[-1] -= faces[-1]
    return cells


def face_drops(grid: Grid, potential: FloatArray) -> list[FloatArray]:
    """Return the flux of all inner faces between cells of air, from a potential of all cells."""
    air = grid.fluid
    found = []
    for axis, (area, step) in enumerate(zip(grid.face_areas, grid.spacing, strict=True)):
        open_faces = np.take(air, range(1, grid.shape[axis]), axis)
        open_faces = open_faces & np.take(air, range(grid.shape[axis] - 1), axis)
        found.append(-np.diff(potential, axis=axis) * (area / step) * open_faces)
    return found


def check(field: Field, grid: Grid, potential: FloatArray, tolerance: float = 1e-6) -> None:
    """Raise unless a field is free of divergence and agrees with a potential found elsewhere."""
    if not field.divergence < 1e-10:
        raise WrongAnswerError(f"divergence {field.divergence} on {grid.shape}")
    inner = [
        field.flux.x[1:-1],
        field.flux.y[:, 1:-1],
        field.flux.z[:, :, 1:-1],
    ]
    scale = max(float(np.abs(values).max()) for values in inner)
    for ours, theirs in zip(inner, face_drops(grid, potential), strict=True):
        off = float(np.abs(ours - theirs).max()) / scale
        if not off < tolerance:
            raise WrongAnswerError(f"face fluxes on {grid.shape} differ by {off}")


def multigrid(grid: Grid, flux: FaceFlux) -> Callable[[], FloatArray]:
    """Return Ruge-Stueben multigrid with conjugate gradients to 1e-10, set-up included."""
    matrix, air = operator(grid)
    load = sources(grid, flux)[air]

    def job() -> FloatArray:
        solver = pyamg.ruge_stuben_solver(matrix)
        potential = np.zeros(grid.shape)
        potential[air] = solver.solve(load, tol=1e-10, accel="cg")
        return potential

    return job


def box_conjugate_gradients(grid: Grid, flux: FaceFlux) -> Callable[[], FloatArray]:
    """Return conjugate gradients on whole arrays, preconditioned by scipy's transforms.

    Faces that touch a solid are closed and the residual is zero inside solids, to a divergence
    of 1e-11 of the largest prescribed flux.
    """
    matrix, air = operator(grid)
    load = sources(grid, flux)[air]
    level = 1e-11 * max(float(np.abs(axis).max()) for axis in flux.axes)
    values = [
        np.sort(cosines(count).eigenvalues) * area / step
        for count, area, step in zip(grid.shape, grid.face_areas, grid.spacing, strict=True)
    ]
    total = values[0][:, None, None] + values[1][:, None] + values[2]
    total[0, 0, 0] = np.inf

    def precondition(residual: FloatArray) -> FloatArray:
        cells = np.zeros(grid.shape)
        cells[air] = residual
        waves = scipy.fft.dctn(cells, norm="ortho") / total
        answer: FloatArray = scipy.fft.idctn(waves, norm="ortho")[air]
        return answer

    def job() -> FloatArray:
        found, residual = np.zeros(load.size), load.copy()
        here = precondition(residual)
        direction, now = here, float(residual @ here)
        for _ in range(200):
            image = matrix @ direction
            length = now / float(direction @ image)
            found += length * direction
            residual -= length * image
            if np.abs(residual).max() <= level:
                break
            here = precondition(residual)
            before, now = now, float(residual @ here)
            direction = here + (now / before) * direction
        potential = np.zeros(grid.shape)
        potential[air] = found
        return potential

    return job


@numba.njit(error_model="numpy")
def triad(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray, e: FloatArray) -> None:
    """Read one array and write four, 40 bytes a cell."""
    for cell in range(a.size):
        value = a[cell]
        b[cell] = value + 1.0
        c[cell] = 2.0 * value
        d[cell] = value - 3.0
        e[cell] = 0.5 * value


def forget_solids() -> None:
    """Drop what is kept of the last masks."""
    cuts.forget()
    solids.forget()


def box_races(repeats: int) -> list[Race]:
    """Return the rows of boxes without solids."""
    grid, flux = bench(SMALL, False)
    array = np.random.default_rng(0).random(SMALL)
    races = [
        Race(
            "box field + face fluxes 60x30x40 / scipy dctn+idctn of the same array",
            lambda: solve_field(grid, flux, "volume"),
            lambda: scipy.fft.idctn(scipy.fft.dctn(array)),
            0.40,
            repeats,
        ),
        Race(
            "stacked field 60 x (30x40) / batched DCT pair",
            lambda: solve_field(grid, flux, "stacked"),
            lambda: scipy.fft.idctn(scipy.fft.dctn(array, axes=(1, 2)), axes=(1, 2)),
            0.25,
            repeats,
        ),
    ]
    check(solve_field(grid, flux, "stacked"), grid, stacked_potential(grid, flux), np.inf)
    large_grid, large_flux = bench(LARGE, False)
    arrays = [np.ones(large_grid.cells) for _ in range(5)]
    races.append(
        Race(
            "box field + face fluxes 120x60x80 / 40-byte triad",
            lambda: solve_field(large_grid, large_flux, "volume"),
            lambda: triad(*arrays),
            3.0,
            max(5, repeats // 5),
        )
    )
    return races
