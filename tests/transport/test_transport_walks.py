"""Escape shares against random walks: one on the same rates, one along exact paths."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import pytest
from chamber_flows import bench
from transport_flows import bench_problem, rich_problem

from flowsim._arrays import FloatArray, IntArray
from flowsim.chamber.grid import wall_patch
from flowsim.chamber.potential import solve_field
from flowsim.physics.particle_motion import settling_velocity
from flowsim.transport.adjoint import escape_shares, residence_time, share_with_spread
from flowsim.transport.faces import FaceArrays, wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.tracking import Ends, track
from flowsim.transport.tracking_model import Walk

Cell = tuple[int, int, int]


@dataclass(frozen=True)
class Jumps:
    """Places to which a particle jumps from each place, six neighbours and then the exits."""

    chances: FloatArray  # summed, shape (n, 6 + exits)
    places: IntArray  # shape (n, 6 + exits), -1 - exit for exits
    waiting: FloatArray  # mean time before a jump [s]


def jumps_of(problem: TransportProblem) -> Jumps:
    """Return the random walk whose rates are those of the monotone matrix."""
    system, boundary = problem.adjoint, problem.boundary
    count = len(system.rows)
    place = np.empty(problem.field.grid.cells, dtype=np.int64)
    place[system.order.cells] = np.arange(count)
    exits = np.zeros((count, len(problem.exit_names)))
    for number, share in enumerate(problem.exit_shares.values()):
        np.add.at(exits[:, number], place[boundary.faces.cell], boundary.out * share)
    rates = np.hstack([system.rows[:, 1:7], exits])
    assert rates.min() >= 0.0
    total = rates.sum(axis=1)
    ends = np.broadcast_to(-1 - np.arange(exits.shape[1]), exits.shape)
    volume = problem.volume.ravel()[system.order.cells]
    chances = np.cumsum(rates, axis=1) / total[:, np.newaxis]
    return Jumps(chances, np.hstack([system.near, ends]), volume / total)


def jump(walk: Jumps, start: int, count: int, random: np.random.Generator) -> FloatArray:
    """Return how many particles end at each exit, and the sums of their times and squares."""
    here, times = np.full(count, start), np.zeros(count)
    ends = np.zeros(walk.chances.shape[1] - 6)
    spent = []
    while here.size:
        times += walk.waiting[here] * random.exponential(size=here.size)
        drawn = random.random(here.size)[:, np.newaxis]
        choice = np.minimum((walk.chances[here] < drawn).sum(axis=1), walk.chances.shape[1] - 1)
        here = walk.places[here, choice]
        out = here < 0
        ends += np.bincount(-1 - here[out], minlength=ends.size)
        spent.append(times[out])
        here, times = here[~out], times[~out]
    all_times = np.concatenate(spent)
    return np.array([*ends, all_times.sum(), (all_times**2).sum()])


def test_jump_walk_on_the_same_rates_meets_the_adjoint() -> None:
    problem = rich_problem("monotone")
    walk, count = jumps_of(problem), 40_000
    shares = {name: escape_shares(problem, name) for name in problem.exit_names}
    time = residence_time(problem)
    random = np.random.default_rng(11)
    chosen = random.choice(len(problem.forward.order.cells), 20, replace=False)
    scores = []
    for start in chosen:
        cell = tuple(problem.forward.cell(int(start)))
        *ends, total, squares = jump(walk, int(start), count, random)
        mean = total / count
        error = math.sqrt((squares / count - mean**2) / count)
        scores.append((mean - time[cell]) / error)
        for found, share in zip(ends, shares.values(), strict=True):
            exact = float(share[cell])
            if exact * count > 25.0 and (1.0 - exact) * count > 25.0:
                scores.append((found / count - exact) / math.sqrt(exact * (1 - exact) / count))
            else:
                assert abs(found / count - exact) * count < 25.0
    assert len(scores) > 30
    assert np.abs(scores).max() < 4.0
    assert abs(np.sum(scores)) / math.sqrt(len(scores)) < 3.0


# flow and mixing of a bench in use
MIXING = 5e-3  # m2/s
SIZES = (0.3e-6, 5e-6, 20e-6)  # m
PARTICLES = 100_000
COARSE, FINE = (9, 5, 6), (18, 9, 11)


def falling(size: float) -> float:
    """Return the settling velocity of particles of unit density. [m/s]"""
    return settling_velocity(size)


def bench_with(cells: Cell, settling: float) -> tuple[TransportProblem, FaceArrays]:
    """Return transport of particles in a bench, and the exchange of its front."""
    field = solve_field(*bench(cells, front=0.5), "volume")
    open_area = wall_patch(field.grid, "front", 0.05, 1.25, 0.4, 0.56)
    exchange = wall_faces(field.grid, "front", 0.01 * open_area)
    return bench_problem(field, MIXING, settling=settling, exchange=exchange), exchange


def cell_of(problem: TransportProblem, spot: FloatArray) -> Cell:
    """Return the cell in which a spot lies."""
    x, y, z = (int(at / step) for at, step in zip(spot, problem.field.grid.spacing, strict=True))
    return x, y, z


def spots() -> FloatArray:
    """Return 20 spots from which something, but not all, leaves by the front."""
    problem, _ = bench_with(FINE, 0.0)
    share = escape_shares(problem, "front")
    tried = np.random.default_rng(5).uniform((0.05, 0.0, 0.05), (1.25, 0.6, 0.74), (200, 3))
    kept = [spot for spot in tried if 0.03 < share[cell_of(problem, spot)] < 0.97]
    return np.array(kept[:20])


def tracked(problem: TransportProblem, exchange: FaceArrays, cell: Cell, count: int) -> float:
    """Return the share of particles, released all over a cell, that leave by the front."""
    random = np.random.default_rng(cell)
    starts = (np.array(cell) + random.random((count, 3))) * np.array(problem.field.grid.spacing)
    walk = Walk(MIXING, problem.settling, exchange=exchange)
    found = track(problem.field, starts, walk, Ends(dict(problem.exits)), seed=count)
    return found.shares["front"]


def against_adjoint(cells: Cell, size: float, count: int) -> tuple[float, float]:
    """Return the mean difference of walk and adjoint over the spots, and the mean spread."""
    problem, exchange = bench_with(cells, falling(size))
    shares = share_with_spread(problem, "front")
    places = [cell_of(problem, spot) for spot in spots()]
    assert len(places) == 20
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda cell: tracked(problem, exchange, cell, count), places))
    off = [abs(share - shares.value[cell]) for share, cell in zip(found, places, strict=True)]
    for share, cell, apart in zip(found, places, off, strict=True):
        error = math.sqrt(max(share * (1.0 - share), 1.0 / count) / count)
        assert apart <= 4.0 * error + shares.spread[cell]
    return float(np.mean(off)), float(np.mean([shares.spread[cell] for cell in places]))


@pytest.mark.parametrize("size", SIZES)
def test_particles_agree_with_the_adjoint_and_closer_on_a_finer_grid(size: float) -> None:
    coarse = against_adjoint(COARSE, size, PARTICLES // 4)
    fine = against_adjoint(FINE, size, PARTICLES)
    assert fine[0] < 0.5 * coarse[0]
    assert fine[1] < 0.9 * coarse[1]
