"""Speed of the chamber field as ratios, each answer checked before its time counts.

Medians of interleaved runs on one thread. Set-up that depends on the number of cells only
(transforms, pivots) is kept between runs, as it is in use; set-up that depends on the solids is
part of every time, except where a row says that the geometry is fixed. Every field of ours comes
with all its face fluxes. `scripts/benchmark.py` prints these rows and sees to the one thread.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypedDict

import numba
import numpy as np
import scipy.fft
import scipy.sparse as sparse

try:
    import pyamg
except ImportError:  # only this script compares with it
    pyamg = None

from flowsim._arrays import BoolArray, FloatArray
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.cuts import cuts_of_mask
from flowsim.chamber.grid import Box, Grid, wall_patch, with_boxes
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.solids import make_window

SMALL = (60, 30, 40)
LARGE = (120, 60, 80)
AGREEMENT = 1e-6  # of the largest face flux
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


def check(field: Field, grid: Grid, potential: FloatArray, first_axis: int = 0) -> None:
    """Raise unless a field has no divergence and agrees with a potential found elsewhere.

    Faces normal to axes before the first one are not compared.
    """
    if not field.divergence < 1e-10:
        raise WrongAnswerError(f"divergence {field.divergence} on {grid.shape}")
    inner = [field.flux.x[1:-1], field.flux.y[:, 1:-1], field.flux.z[:, :, 1:-1]]
    scale = max(float(np.abs(values).max()) for values in inner)
    drops = face_drops(grid, potential)
    for ours, theirs in list(zip(inner, drops, strict=True))[first_axis:]:
        off = float(np.abs(ours - theirs).max()) / scale
        if not off < AGREEMENT:
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


def eigenvalues(grid: Grid, axes: tuple[int, ...]) -> FloatArray:
    """Return the eigenvalues of the closed box along some axes, infinite for constants."""
    total = np.zeros(grid.shape)
    for axis in axes:
        count = grid.shape[axis]
        shape = [1, 1, 1]
        shape[axis] = count
        values = 4.0 * np.sin(np.pi / (2 * count) * np.arange(count)) ** 2
        total += values.reshape(shape) * (grid.face_areas[axis] / grid.spacing[axis])
    total[total == 0.0] = np.inf
    return total


def box_conjugate_gradients(grid: Grid, flux: FaceFlux) -> Callable[[], FloatArray]:
    """Return conjugate gradients on whole arrays, preconditioned by scipy's transforms.

    Faces that touch a solid are closed and the residual is zero inside solids, to a divergence
    of 1e-11 of the largest prescribed flux.
    """
    matrix, air = operator(grid)
    load = sources(grid, flux)[air]
    level = 1e-11 * max(float(np.abs(axis).max()) for axis in flux.axes)
    total = eigenvalues(grid, (0, 1, 2))

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


def forgetful(grid: Grid, flux: FaceFlux) -> Callable[[], Field]:
    """Return the solution with everything about its solids found anew."""

    def job() -> Field:
        cuts_of_mask.cache_clear()
        make_window.cache_clear()
        return solve_field(grid, flux, "volume")

    return job


def transformed(grid: Grid, load: FloatArray, axes: tuple[int, ...]) -> FloatArray:
    """Return the potential of a box by scipy's transforms along some axes."""
    waves = scipy.fft.dctn(load, norm="ortho", axes=axes) / eigenvalues(grid, axes)
    potential: FloatArray = scipy.fft.idctn(waves, norm="ortho", axes=axes)
    return potential


def check_box(cells: tuple[int, int, int], closure: str) -> tuple[Grid, FaceFlux]:
    """Return a bench without solids whose field agrees with scipy's transforms."""
    grid, flux = bench(cells, False)
    load = sources(grid, flux)
    axes: tuple[int, ...] = (0, 1, 2)
    if closure == "stacked":
        axes = (1, 2)
        load -= load.mean(axis=axes, keepdims=True)
    field = solve_field(grid, flux, closure)
    potential = transformed(grid, load, axes)
    check(field, grid, potential, first_axis=axes[0])
    return grid, flux


def box_races(repeats: int) -> list[Race]:
    """Return the rows of boxes without solids that need scipy only."""
    grid, flux = check_box(SMALL, "volume")
    check_box(SMALL, "stacked")
    large, large_flux = check_box(LARGE, "volume")
    array = np.random.default_rng(0).random(SMALL)
    arrays = [np.ones(large.cells) for _ in range(5)]
    return [
        Race(
            "box field + face fluxes 60x30x40 / scipy dctn+idctn of the same array",
            lambda: solve_field(grid, flux, "volume"),
            lambda: scipy.fft.idctn(scipy.fft.dctn(array)),
            0.40,
            repeats,
        ),
        Race(
            "box field + face fluxes 120x60x80 / 40-byte triad",
            lambda: solve_field(large, large_flux, "volume"),
            lambda: triad(*arrays),
            3.0,
            max(5, repeats // 4),
        ),
        Race(
            "stacked field 60 x (30x40) / batched DCT pair",
            lambda: solve_field(grid, flux, "stacked"),
            lambda: scipy.fft.idctn(scipy.fft.dctn(array, axes=(1, 2)), axes=(1, 2)),
            0.25,
            repeats,
        ),
    ]


def solid_races(quick: bool) -> list[Race]:
    """Return the rows with solids, and those against algebraic multigrid."""
    grid, flux = bench(SMALL, True)
    plain = box_conjugate_gradients(grid, flux)
    check(solve_field(grid, flux, "volume"), grid, plain())
    races = [
        Race(
            "new pressures, solids fixed 60x30x40 / CG solve on whole arrays",
            lambda: solve_field(grid, flux, "volume"),
            plain,
            1 / 8,
            5 if quick else 15,
        )
    ]
    if pyamg is None:
        return races
    box, box_flux = bench(SMALL, False)
    name = "pyamg Ruge-Stueben + CG"
    races.append(
        Race(
            f"box field + face fluxes 60x30x40 / {name}",
            lambda: solve_field(box, box_flux, "volume"),
            checked_multigrid(box, box_flux),
            1 / 400,
            2 if quick else 5,
        )
    )
    sizes = [(SMALL, 1 / 35)] if quick else [(SMALL, 1 / 35), (LARGE, 1 / 50)]
    for cells, goal in sizes:
        wide, wide_flux = bench(cells, True)
        races.append(
            Race(
                f"field with solids {'x'.join(map(str, cells))} / {name}",
                forgetful(wide, wide_flux),
                checked_multigrid(wide, wide_flux),
                goal,
                2 if quick else 5 if cells == SMALL else 3,
            )
        )
    return races


def checked_multigrid(grid: Grid, flux: FaceFlux) -> Callable[[], FloatArray]:
    """Return the multigrid job after its answer has agreed with ours."""
    job = multigrid(grid, flux)
    check(solve_field(grid, flux, "volume"), grid, job())
    return job


def rows(quick: bool) -> list[Row]:
    """Return all rows of the field; a plain note stands for those that lack their rival."""
    found = [run(race) for race in box_races(40 if quick else 120)]
    found += [run(race) for race in solid_races(quick)]
    if pyamg is None:
        work = "field / pyamg: not timed, pyamg is not installed"
        found.append(Row(work=work, ratio=float("nan"), goal=1 / 35, met=False))
    return found
