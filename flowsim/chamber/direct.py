"""Direct solution of the potential in a box without solids.

Cosine transforms diagonalise two axes, elimination solves the third. The right-hand side lives
only in cells on the walls, so its transform costs next to nothing and half of the work of a
general fast solver falls away. The work goes plane by plane through arrays that stay in the
cache. Keep BLAS on one thread: two threads stall on products of this size.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import boundary_sweep, dense_sweep, fill_fluxes, unfold_plane
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.cosines import (
    CHUNK,
    Cosines,
    cosines,
    fast_cells,
    mirror_sums,
    outer_halves,
    workspace,
    z_halves,
)
from flowsim.chamber.walls import WallSources

__all__ = [
    "BoxFactors",
    "box_factors",
    "cells_to_waves",
    "fill_from_waves",
    "solve_box",
    "solve_stations",
    "walls_to_waves",
    "waves_to_cells",
]


@dataclass(frozen=True, eq=False)
class BoxFactors:
    """What the direct solution of one box needs, made once per shape.

    The outer axis is x or y, the elimination axis the other one, z is always transformed.

    Parameters
    ----------
    shape : tuple of int
        Cells along the outer axis, the elimination axis and z. [-]
    swapped : bool
        True if y is the outer axis. [-]
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z. [m]
    weight : float
        The one of the elimination axis. [m]
    pivots : array, shape (no or 1, nt, nz)
        Inverse pivots of the elimination. [-]
    outer : Cosines or None
        Waves along the outer axis; None if its stations stand alone.
    upright : Cosines
        Waves along z.
    outer_scaled, upright_scaled : array, shape (no, no) and (nz, nz)
        Waves over ``weight``; rows of the first are waves, of the second cells. [1/m]
    plane_weights, upright_weights : array, shape (2, no) and (2, nz)
        Waves in the first cell, the even and the odd ones. [-]
    """

    shape: tuple[int, int, int]
    swapped: bool
    weights: tuple[float, float, float]
    weight: float
    pivots: FloatArray
    outer: Cosines | None
    upright: Cosines
    outer_scaled: FloatArray
    upright_scaled: FloatArray
    plane_weights: FloatArray
    upright_weights: FloatArray

    @property
    def product(self) -> bool:
        """Whether matrix products are used rather than fast transforms. [-]."""
        return self.upright.product and (self.outer is None or self.outer.product)

    @property
    def size(self) -> int:
        """Number of cells. [-]."""
        return self.shape[0] * self.shape[1] * self.shape[2]

    @property
    def even_amplitude(self) -> float:
        """Amplitude of the first waves for a source of 1 m3/s in every cell. [1/m]."""
        cells = self.shape[2] * (self.shape[0] if self.outer is not None else 1)
        return float(np.sqrt(cells)) / self.weight


@lru_cache(maxsize=16)
def box_factors(
    shape: tuple[int, int, int], weights: tuple[float, float, float], coupled: bool
) -> BoxFactors:
    """Prepare the direct solution of a box.

    Parameters
    ----------
    shape : tuple of int
        Cells along x, y, z. [-]
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z. [m]
    coupled : bool
        False to solve every x station alone, as if no face normal to x were open. [-]

    Returns
    -------
    BoxFactors
        Transforms and pivots.
    """
    swapped = coupled and shape[0] > shape[1]
    first, second = (1, 0) if swapped else (0, 1)
    upright = cosines(shape[2])
    outer = cosines(shape[first]) if coupled else None
    load = weights[2] * upright.eigenvalues[np.newaxis, :]
    if outer is not None:
        load = load + weights[first] * outer.eigenvalues[:, np.newaxis]
    weight = weights[second]
    waves = np.eye(shape[first]) if outer is None else outer.waves
    return BoxFactors(
        (shape[first], shape[second], shape[2]),
        swapped,
        weights,
        weight,
        _pivots(load / weight, shape[second]),
        outer,
        upright,
        np.ascontiguousarray(waves.T / weight),
        upright.waves / weight,
        _plane_weights(outer, shape[first]),
        _plane_weights(upright, shape[2]),
    )


def _plane_weights(outer: Cosines | None, count: int) -> FloatArray:
    """Return the weights of the two planes of `_outer_planes` in each outer index."""
    weights = np.zeros((2, count))
    if outer is None:
        weights[1, -1] = 1.0
        weights[:, 0] = (1.0, 0.0)
        return weights
    half = (count + 1) // 2
    weights[0, :half], weights[1, half:] = outer.waves[0, :half], outer.waves[0, half:]
    return weights


def _pivots(load: FloatArray, rows: int) -> FloatArray:
    """Return the inverse pivots, shape (no, rows, nk), of second difference + load."""
    pivots = np.empty((load.shape[0], rows, load.shape[1]))
    before = np.zeros_like(load)
    for row in range(rows):
        closed = (row == 0) + (row == rows - 1)
        diagonal = load + (2.0 - closed) - before
        if row == rows - 1:
            diagonal[0, 0] = np.inf  # constant potential is free: take it as zero there
        before = 1.0 / diagonal
        pivots[:, row, :] = before
    return pivots


_Hats = tuple[FloatArray, tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def _transformed(factors: BoxFactors, walls: WallSources, uniform: FloatArray) -> _Hats:
    """Return the amplitudes of all sources, as `boundary_sweep` takes them."""
    no, nt, nz = factors.shape
    sizes = walls.sizes
    outer_walls, ends, z_walls = walls.x, walls.y, walls.z
    outer_sizes, end_sizes = sizes[0:2], sizes[2:4]
    if factors.swapped:
        outer_walls, ends, z_walls = walls.y, walls.x, walls.z.transpose(0, 2, 1)
        outer_sizes, end_sizes = end_sizes, outer_sizes
    end_hat, z_hat = np.zeros((2, no, nz)), np.zeros((3, no, nt))
    np.matmul(factors.outer_scaled, z_walls, out=z_hat[:2])
    if end_sizes.any():
        np.matmul(factors.outer_scaled @ ends, factors.upright.waves, out=end_hat)
    _to_sum_and_difference(z_hat)
    even = uniform * factors.even_amplitude
    z_hat[2, : len(even)] = even[:, np.newaxis]
    planes = np.zeros((2, nt, nz))
    if outer_sizes.any():
        np.matmul(outer_walls, factors.upright_scaled, out=planes)
    if factors.outer is not None or no == 1:
        _to_sum_and_difference(planes)
    return end_hat, (planes, factors.plane_weights), (z_hat, factors.upright_weights)


def _to_sum_and_difference(pair: FloatArray) -> None:
    """Replace low and high wall by what even and odd waves see of both, in place."""
    low = pair[0].copy()
    pair[0] += pair[1]
    np.subtract(low, pair[1], out=pair[1])


def walls_to_waves(factors: BoxFactors, walls: WallSources, uniform: FloatArray) -> FloatArray:
    """Return the wave amplitudes of the potential for sources along the walls.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    walls : WallSources
        What enters the cells along the walls. [m3/s]
    uniform : array, shape (1,) if the outer axis is transformed, else (nx,)
        What enters every cell besides, equal in the box or in each station. [m3/s]

    Returns
    -------
    array, shape (no, nt, nz)
        Potential, outer axis first; outer axis (if transformed) and z as waves. If all sources
        do not add up to zero, the last layer along the elimination axis takes the rest. A work
        space that the next solution overwrites. [m2/s]
    """
    out = workspace("waves", factors.shape)
    boundary_sweep(out, 0, factors.pivots, *_transformed(factors, walls, uniform))
    return out


def cells_to_waves(factors: BoxFactors, sources: FloatArray) -> FloatArray:
    """Return the wave amplitudes of the potential for sources in any cell.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    sources : array, shape (no, nt, nz)
        What enters each cell, outer axis first. [m3/s]

    Returns
    -------
    array, shape (no, nt, nz)
        As `walls_to_waves`. [m2/s]
    """
    no, nt, nz = sources.shape
    waves = sources.reshape(no * nt, nz) @ factors.upright_scaled
    if factors.outer is not None:
        waves = factors.outer.waves.T @ waves.reshape(no, nt * nz)
    waves = waves.reshape(no, nt, nz)
    dense_sweep(waves, factors.pivots)
    return waves


def waves_to_cells(factors: BoxFactors, waves: FloatArray) -> FloatArray:
    """Return cell values from wave amplitudes along z of stations that stand alone.

    Parameters
    ----------
    factors : BoxFactors
        Of this box, its outer axis not transformed.
    waves : array, shape (n, nt, nz)
        Amplitudes along z, of any number of stations. [m2/s]

    Returns
    -------
    array, shape (n, nt, nz)
        Potential of each cell, up to a constant per station. [m2/s]
    """
    if not factors.product:
        return fast_cells(waves, None, factors.upright)
    halves = workspace("halves", waves.shape)
    z_halves(waves, factors.upright, halves)
    cells = np.empty(waves.shape)
    for station in range(len(cells)):
        unfold_plane(halves, station, (False, True), cells[station])
    return cells


def fill_from_waves(
    factors: BoxFactors, waves: FloatArray, walls: WallSources, flux: FaceFlux
) -> None:
    """Fill the face fluxes from wave amplitudes.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    waves : array, shape (no, nt, nz)
        Amplitudes along the outer axis (if transformed) and z. [m2/s]
    walls : WallSources
        What enters along the walls, for the outer faces. [m3/s]
    flux : FaceFlux
        Filled in place. [m3/s]
    """
    if factors.product:
        halves = workspace("halves", factors.shape)
        z_halves(waves, factors.upright, halves)
        _fill_from_halves(factors, halves, walls, flux)
    else:
        cells = fast_cells(waves, factors.outer, factors.upright)
        _fill(factors, cells, 0, False, walls, flux)


def _fill_from_halves(
    factors: BoxFactors, halves: FloatArray, walls: WallSources, flux: FaceFlux
) -> None:
    """Fill the face fluxes from amplitudes along the outer axis, and parts along z."""
    no = factors.shape[0]
    if factors.outer is not None:
        whole = workspace("whole", factors.shape)
        outer_halves(halves.reshape(no, -1), factors.outer, whole.reshape(no, -1))
        halves = whole
        if not factors.swapped:
            mirror_sums(halves)
    _fill(factors, halves, 0, True, walls, flux)


def _fill(
    factors: BoxFactors,
    parts: FloatArray,
    first: int,
    split: bool,
    walls: WallSources,
    flux: FaceFlux,
) -> None:
    """Fill the face fluxes from the potential, in parts or whole, of the x planes from one on."""
    planes = workspace("planes", (2, *walls.x.shape[1:]))
    layout = (factors.swapped, split)
    axes = (walls.x, walls.y, walls.z)
    fill_fluxes(parts, first, layout, factors.weights, planes, axes, flux.axes)


def _chunks(factors: BoxFactors) -> Iterator[tuple[int, int]]:
    """Yield the first and last outer index of groups of planes that fit into the cache."""
    no, nt, nz = factors.shape
    step = max(1, CHUNK // (nt * nz))
    for start in range(0, no, step):
        yield start, min(start + step, no)


def solve_box(factors: BoxFactors, walls: WallSources, uniform: FloatArray, flux: FaceFlux) -> None:
    """Fill the face fluxes for sources on the walls.

    Parameters
    ----------
    factors : BoxFactors
        Of this box, its outer axis transformed.
    walls : WallSources
        What enters the cells along the walls. [m3/s]
    uniform : array, shape (1,)
        What enters every cell besides, so that all adds up to zero. [m3/s]
    flux : FaceFlux
        Filled in place. [m3/s]
    """
    if not factors.product:
        fill_from_waves(factors, walls_to_waves(factors, walls, uniform), walls, flux)
        return
    hats = _transformed(factors, walls, uniform)
    halves = flux.z.reshape(-1)[: factors.size].reshape(factors.shape)
    for start, end in _chunks(factors):
        waves = workspace("waves", (end - start, *factors.shape[1:]))
        boundary_sweep(waves, start, factors.pivots, *hats)
        z_halves(waves, factors.upright, halves[start:end])
    _fill_from_halves(factors, halves, walls, flux)


def solve_stations(
    factors: BoxFactors, walls: WallSources, uniform: FloatArray, flux: FaceFlux
) -> None:
    """Fill the face fluxes within x stations that stand alone.

    Parameters
    ----------
    factors : BoxFactors
        Of this box, its outer axis not transformed.
    walls : WallSources
        What enters the cells along the walls. [m3/s]
    uniform : array, shape (nx,)
        What enters every cell of a station besides, so that each adds up to zero. [m3/s]
    flux : FaceFlux
        Filled in place, but for the inner faces normal to x. [m3/s]
    """
    if not factors.product:
        fill_from_waves(factors, walls_to_waves(factors, walls, uniform), walls, flux)
        return
    hats = _transformed(factors, walls, uniform)
    for start, end in _chunks(factors):
        shape = (end - start, *factors.shape[1:])
        waves, halves = workspace("waves", shape), workspace("halves", shape)
        boundary_sweep(waves, start, factors.pivots, *hats)
        z_halves(waves, factors.upright, halves)
        _fill(factors, halves, start, True, walls, flux)
