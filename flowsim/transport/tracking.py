"""Particles on the air flow: exact paths in the cells, random walk, and where they end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.errors import ConvergenceError, RangeError
from flowsim.transport._walk_kernels import draws
from flowsim.transport._walk_kernels import walk as run_walk
from flowsim.transport.faces import Faces
from flowsim.transport.tracking_cells import Cells, cells_of, points_of
from flowsim.transport.tracking_ends import Patch, check_patches, names_of_ends, plain_exits
from flowsim.transport.tracking_model import Walk, prepare

__all__ = ["Ends", "Record", "TrackResult", "Walk", "track"]


@dataclass(frozen=True, eq=False)
class Ends:
    """Where particles are counted.

    Parameters
    ----------
    exits : mapping of str to FaceArrays, or None
        Named groups of outer faces: masks, or shares of what leaves by a face; None for the six
        walls and all solids. [-]
    patches : sequence of Patch
        Level rectangles; what comes down within one counts there, not at the exit. [m]
    """

    exits: Mapping[str, Faces] | None = None
    patches: Sequence[Patch] = ()


@dataclass(frozen=True, eq=False)
class Record:
    """What is kept of a walk besides its ends.

    Parameters
    ----------
    numbers : array of int, shape (n,), or None
        Number of each particle, by which its random numbers are drawn; None counts from 0. [-]
    paths : int
        The first so many particles leave a path. [-]
    path_points : int
        Largest number of points of a path, at least 2; a longer one is thinned evenly. [-]
    residence : bool
        Whether the time spent in each cell is summed. [-]
    """

    numbers: IntArray | None = None
    paths: int = 0
    path_points: int = 512
    residence: bool = False


@dataclass(frozen=True, eq=False)
class TrackResult:
    """Where particles ended.

    Parameters
    ----------
    counts : dict of str to int
        Particles by name of exit or patch, then ``elsewhere`` if any left by no named face,
        ``airborne`` and ``unfinished``; they add up to all. [-]
    shares : dict of str to float
        The same over all particles. [-]
    standard_errors : dict of str to float
        Of the shares, binomial. [-]
    end_names : array of int, shape (n,)
        Place of each particle's end in the names. [-]
    end_positions : array, shape (n, 3)
        Where it ended. [m]
    residence_time : array, shape (n,)
        How long it was in the air. [s]
    unfinished : int
        Particles that reached the step limit. [-]
    steps : int
        Steps of all particles. [-]
    paths : tuple of array, shape (points, 3) each
        Paths of the first particles. [m]
    cell_time : array, shape (nx, ny, nz), or None
        Time that all particles together spent in each cell. [s]
    """

    counts: dict[str, int]
    shares: dict[str, float]
    standard_errors: dict[str, float]
    end_names: IntArray
    end_positions: FloatArray
    residence_time: FloatArray
    unfinished: int
    steps: int
    paths: tuple[FloatArray, ...] = ()
    cell_time: FloatArray | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """Names in the order of the counts. [-]."""
        return tuple(self.counts)


def track(
    field: Field,
    starts: FloatArray,
    walk: Walk,
    ends: Ends | None = None,
    seed: int = 0,
    record: Record | None = None,
) -> TrackResult:
    """Let particles walk until they leave, settle or deposit.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]
    starts : array, shape (n, 3)
        Where they are released. [m]
    walk : Walk
        How they move. [-]
    ends : Ends or None
        Named exits and patches; None for the six walls and all solids. [-]
    seed : int
        Same seed, starts and numbers give the same ends, in whatever order or parts. [-]
    record : Record or None
        What else is kept. [-]

    Returns
    -------
    TrackResult
        Counts, shares and standard errors. [-]

    Raises
    ------
    RangeError
        If a start lies outside or inside an object, a patch on no surface, or an input does not
        fit the grid.
    ConvergenceError
        If more than the allowed share of the particles reached the step limit.

    Notes
    -----
    Half a step along the exact path in the cell (velocity linear between opposite faces), a full
    Gaussian step of the diffusivity with its drift dD/dx, half a step along the path again. Air
    and settling carry through a boundary face; a random step is pushed back by it, and taken with
    exp(-k L/D) left, k the uptake velocity and L the length pushed, drawn from the lowest point
    of the Brownian bridge; own derivation. Eddies that last: [Taylor1921]_. Random numbers by
    particle: [Steele2014]_, [Marsaglia2000]_.
    """
    grid, keep = field.grid, record or Record()
    cell, share = cells_of(grid, np.asarray(starts))
    ends = ends or Ends()
    exits = plain_exits(grid) if ends.exits is None else ends.exits
    check_patches(grid, ends.patches, tuple(exits))
    numbers = _numbers(keep, cell.size)
    cells, model = prepare(field, walk)
    raw = _run(cells, model, (cell, share), seed, numbers, keep)
    points = points_of(grid, raw.cell, raw.share)
    draw = np.empty(cell.size)
    draws(seed, numbers, draw)
    sides = (raw.cell, raw.side, points)
    named = names_of_ends(grid, sides, exits, ends.patches, draw)
    return _result(grid, walk, named, raw, points)


def _numbers(record: Record, count: int) -> IntArray:
    """Return the numbers of the particles."""
    if count == 0:
        raise RangeError("at least one start is needed")
    if record.path_points < 2 or record.paths < 0:
        raise RangeError(
            f"a path needs at least 2 points, got {record.paths} paths of {record.path_points}"
        )
    if record.numbers is None:
        return np.arange(count, dtype=np.int64)
    if record.numbers.shape != (count,):
        raise RangeError(f"numbers must have shape ({count},), got {record.numbers.shape}")
    return np.ascontiguousarray(record.numbers, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class _Raw:
    """What the compiled walk hands back."""

    cell: IntArray
    share: FloatArray
    side: IntArray
    steps: IntArray
    time: FloatArray
    paths: tuple[FloatArray, IntArray, IntArray]
    residence: FloatArray


def _run(
    cells: Cells,
    model: tuple[object, ...],
    starts: tuple[IntArray, FloatArray],
    seed: int,
    numbers: IntArray,
    keep: Record,
) -> _Raw:
    """Run the compiled walk."""
    count, kept = numbers.size, min(keep.paths, numbers.size)
    out = (
        np.empty(count, dtype=np.int64),
        np.empty((count, 3)),
        np.empty(count, dtype=np.int64),
        np.empty(count, dtype=np.int64),
        np.empty(count),
    )
    paths = (
        np.empty((kept, keep.path_points, 3)),
        np.empty((kept, keep.path_points), dtype=np.int64),
        np.zeros((kept, 3), dtype=np.int64),
    )
    paths[2][:, 2] = 1
    residence = np.zeros(cells.rates.shape[0] if keep.residence else 0)
    tables = (cells.rates, cells.clear, cells.transfer, cells.faces)
    order = np.arange(count)  # neighbours walk together, so that what they read stays at hand
    order[kept:] = kept + np.argsort(starts[0][kept:], kind="stable")
    sorted_starts = (starts[0][order], starts[1][order])
    key = (seed, numbers[order])
    run_walk(sorted_starts, model, tables, cells.strides, key, paths, residence, out)
    for values in out:
        values[order] = values.copy()
    return _Raw(*out, paths, residence)


def _paths(grid: Grid, raw: _Raw, ends: FloatArray) -> tuple[FloatArray, ...]:
    """Return the paths of the first particles, their ends included."""
    shares, cells, lengths = raw.paths
    out = []
    for number, length in enumerate(lengths[:, 0]):
        points = points_of(grid, cells[number, :length], shares[number, :length])
        out.append(np.concatenate([points, ends[number : number + 1]]))
    return tuple(out)


def _result(
    grid: Grid, walk: Walk, named: tuple[tuple[str, ...], IntArray], raw: _Raw, points: FloatArray
) -> TrackResult:
    """Return the counts with their errors."""
    names, index = named
    count = index.size
    found = np.bincount(index, minlength=len(names))
    unfinished = int(found[-1])
    if unfinished > walk.unfinished_limit * count:
        worst = points[np.flatnonzero(raw.side == -2)[0]]
        raise ConvergenceError(
            f"{unfinished} of {count} particles had not ended after {walk.step_limit} steps, one "
            f"of them at {worst} m; set a time limit or allow more steps"
        )
    shares = found / count
    errors = np.sqrt(shares * (1.0 - shares) / count)
    return TrackResult(
        counts=dict(zip(names, (int(number) for number in found), strict=True)),
        shares=dict(zip(names, (float(share) for share in shares), strict=True)),
        standard_errors=dict(zip(names, (float(error) for error in errors), strict=True)),
        end_names=index,
        end_positions=points,
        residence_time=raw.time,
        unfinished=unfinished,
        steps=int(raw.steps.sum()),
        paths=_paths(grid, raw, points),
        cell_time=raw.residence.reshape(grid.shape) if raw.residence.size else None,
    )
