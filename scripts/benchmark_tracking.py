"""Speed of the particle walk and of streamlines, as ratios in one run, answers checked first.

Steps per second of the compiled walk over those of a vectorised Euler-Maruyama walk in NumPy on
the same field, starts and step time; streamlines per second over those of `solve_ivp`. One
thread. `scripts/benchmark.py` prints these rows.
"""

from __future__ import annotations

import statistics
import time
from typing import TypedDict

import numpy as np
from scipy.integrate import solve_ivp

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.transport.tracking import track
from flowsim.transport.tracking_lines import exact_streamlines
from flowsim.transport.tracking_model import Walk

WALKS, LINES = 100_000, 50_000
SPREAD = 5e-4  # m2/s
COURANT = 0.4  # cells of the supply velocity in a step
ERRORS = 4.0  # standard errors


class Row(TypedDict):
    """One line of the table: the ratio, the goal it is held against, and whether it is met."""

    work: str
    ratio: float
    goal: float
    met: bool


class WrongAnswerError(Exception):
    """A job that was timed gave a wrong answer."""


def bench() -> Field:
    """Return a bench: even supply, outflow by the front and through the floor."""
    grid = Grid(60, 30, 40, 1.3, 0.65, 0.75)
    flux = zero_flux(grid)
    supply = 0.45 * wall_patch(grid, "ceiling", 0.0, 1.3, 0.0, 0.65)
    out = 0.15 * wall_patch(grid, "front", 0.05, 1.25, 0.0, 0.3)
    draw = np.outer(1.0 + 0.2 * np.sin(3.0 * grid.centres[0]), np.ones(grid.ny))
    add_wall_flux(flux, grid, "ceiling", supply)
    add_wall_flux(flux, grid, "front", out, inward=False)
    draw *= (supply.sum() - out.sum()) / draw.sum()
    add_wall_flux(flux, grid, "floor", draw, inward=False)
    return solve_field(grid, flux, "volume")


def starts_in(field: Field, count: int) -> FloatArray:
    """Return places spread evenly over the chamber."""
    return np.random.default_rng(1).random((count, 3)) * np.array(field.grid.size)


def _velocities(field: Field, points: FloatArray) -> FloatArray:
    """Return the velocity linear between opposite faces, for all points at once."""
    _, ny, nz = field.grid.shape
    place = points / np.array(field.grid.spacing)
    cell = np.minimum(place.astype(np.int64), np.array(field.grid.shape) - 1)
    share = place - cell
    i, j, k = cell.T
    first = (i * ny + j) * nz + k
    offsets = (first, first + i * nz, first + i * ny + j)
    out = np.empty_like(points)
    for axis, step in enumerate((ny * nz, nz, 1)):
        faces, at = field.flux.axes[axis].ravel(), offsets[axis]
        low = faces[at]
        out[:, axis] = low + (faces[at + step] - low) * share[:, axis]
        out[:, axis] /= field.grid.face_areas[axis]
    return out


def euler_walk(field: Field, starts: FloatArray, step: float, seed: int) -> tuple[float, int]:
    """Return share that leaves by the front, and the steps, of the walk most would write."""
    random, size = np.random.default_rng(seed), np.array(field.grid.size)
    points, steps, front = starts.copy(), 0, 0
    sigma = np.sqrt(2.0 * SPREAD * step)
    while len(points):
        points += _velocities(field, points) * step
        points += sigma * random.standard_normal(points.shape)
        steps += len(points)
        out = ((points < 0.0) | (points > size)).any(axis=1)
        if not out.any():
            continue
        cell = np.clip(points / np.array(field.grid.spacing), 0, np.array(field.grid.shape) - 1)
        i, _, k = cell[out].astype(np.int64).T
        by_front = (points[out, 1] < 0.0) & (field.flux.y[i, 0, k] < 0.0)
        gone = np.zeros(len(points), dtype=np.bool_)
        gone[out] = by_front | (points[out, 2] < 0.0)
        front += int(by_front.sum())
        points = size - np.abs(size - np.abs(points))
        points = points[~gone]
    return front / len(starts), steps


def check_walk(field: Field, starts: FloatArray, step: float) -> None:
    """Raise if the share by the front depends on the step, or differs from a refined plain walk."""
    coarse = track(field, starts, Walk(SPREAD, step_time=step), seed=1)
    fine = track(field, starts, Walk(SPREAD, step_time=0.2 * step), seed=2)
    error = ERRORS * np.sqrt(2.0) * coarse.standard_errors["front"]
    if abs(coarse.shares["front"] - fine.shares["front"]) > error:
        raise WrongAnswerError(f"shares {coarse.shares['front']} and {fine.shares['front']} differ")
    if sum(coarse.counts.values()) != len(starts):
        raise WrongAnswerError("particles were lost")


def walk_row(field: Field, quick: bool) -> Row:
    """Return the row of the random walk."""
    starts = starts_in(field, WALKS)
    step = COURANT * field.grid.dz / 0.45
    check_walk(field, starts, step)
    ours, theirs = [], []
    for number in range(3 if quick else 7):
        start = time.perf_counter()
        found = track(field, starts, Walk(SPREAD, step_time=step), seed=number)
        ours.append(found.steps / (time.perf_counter() - start))
        start = time.perf_counter()
        _, steps = euler_walk(field, starts, step, number)
        theirs.append(steps / (time.perf_counter() - start))
    ratio = statistics.median(ours) / statistics.median(theirs)
    return Row(work="exact walk / numpy Euler-Maruyama", ratio=ratio, goal=3.0, met=ratio >= 3.0)


def integrated_line(field: Field, point: FloatArray) -> tuple[FloatArray, float]:
    """Return the end and the time of one line by a general integrator."""
    size = np.array(field.grid.size)

    def velocity(_: float, place: FloatArray) -> FloatArray:
        return _velocities(field, np.clip(place, 0.0, size)[np.newaxis])[0]

    def leaves(_: float, place: FloatArray) -> float:
        return float(min(place.min(), (size - place).min()))

    leaves.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(velocity, (0.0, 1e3), point, events=leaves, rtol=1e-8, atol=1e-10)
    return found.y[:, -1], float(found.t[-1])


def line_row(field: Field, quick: bool) -> Row:
    """Return the row of the streamlines."""
    starts = starts_in(field, LINES)
    found = exact_streamlines(field, starts)
    count = 10 if quick else 40
    start = time.perf_counter()
    lines = [integrated_line(field, point) for point in starts[:count]]
    theirs = (time.perf_counter() - start) / count
    for number, (end, lasts) in enumerate(lines):
        away = float(np.abs(end - found.end_positions[number]).max())
        if away > 1e-4 or abs(lasts / found.residence_time[number] - 1.0) > 1e-4:
            raise WrongAnswerError(f"line {number} ends {away} m away")
    times = []
    for _ in range(5):
        start = time.perf_counter()
        exact_streamlines(field, starts)
        times.append((time.perf_counter() - start) / LINES)
    ratio = theirs / statistics.median(times)
    return Row(work="streamline / solve_ivp", ratio=ratio, goal=1e4, met=ratio >= 1e4)


def rows(quick: bool) -> list[Row]:
    """Return all rows.

    Parameters
    ----------
    quick : bool
        Fewer repeats.

    Returns
    -------
    list of dict
        work, ratio, goal and whether it is met.

    Raises
    ------
    WrongAnswerError
        If an answer is wrong.
    """
    field = bench()
    return [walk_row(field, quick), line_row(field, quick)]


if __name__ == "__main__":
    for row in rows(quick=False):
        print(f"{row['work']}: {row['ratio']:.3g} (goal {row['goal']:g})")
