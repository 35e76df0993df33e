"""Direct solution of the potential in a box without solids.

Cosine transforms diagonalise two axes, elimination solves the third. The right-hand side lives
only in cells on the walls, so its transform costs next to nothing and half of the work of a
general fast solver falls away. Small transforms are dense matrix products (keep BLAS on one
thread: two threads stall on products of this size), large ones scipy's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import boundary_sweep, dense_sweep
from flowsim.chamber.boundary import FaceFlux

__all__ = [
    "BoxFactors",
    "WallSources",
    "box_factors",
    "cells_to_waves",
    "cosines",
    "wall_sources",
    "walls_to_waves",
    "waves_to_cells",
]

_DENSE_LENGTH = 160
"""Longest axis that is transformed by a matrix product. [-]"""


@dataclass(frozen=True, eq=False)
class BoxFactors:
    """What the direct solution of one box needs, made once per shape.

    The outer axis is x or y, the elimination axis the other one, z is always transformed.

    Parameters
    ----------
    swapped : bool
        True if y is the outer axis. [-]
    coupled : bool
        True if the outer axis is transformed; False if its stations stand alone. [-]
    weight : float
        Flux per potential difference along the elimination axis. [m]
    pivots : array, shape (no or 1, nt, nz)
        Inverse pivots of the elimination. [-]
    outer, upright : array, shape (no, no) and (nz, nz)
        Cosines along the outer axis (unit matrix if not coupled) and along z. [-]
    """

    swapped: bool
    coupled: bool
    weight: float
    pivots: FloatArray
    outer: FloatArray
    upright: FloatArray


@dataclass(frozen=True)
class WallSources:
    """Volume per time that enters the cells along the six walls.

    Parameters
    ----------
    left, right : array, shape (ny, nz)
        Source in the first and last layer along x. [m3/s]
    front, back : array, shape (nx, nz)
        Source in the first and last layer along y. [m3/s]
    floor, ceiling : array, shape (nx, ny)
        Source in the lowest and highest layer. [m3/s]
    """

    left: FloatArray
    right: FloatArray
    front: FloatArray
    back: FloatArray
    floor: FloatArray
    ceiling: FloatArray

    @property
    def arrays(self) -> tuple[FloatArray, ...]:
        """The six walls in the order of the axes. [m3/s]."""
        return (self.left, self.right, self.front, self.back, self.floor, self.ceiling)

    def per_station(self) -> FloatArray:
        """Return what enters each x station, shape (nx,). [m3/s]."""
        total = self.front.sum(axis=1) + self.back.sum(axis=1)
        total += self.floor.sum(axis=1) + self.ceiling.sum(axis=1)
        total[0] += self.left.sum()
        total[-1] += self.right.sum()
        return total


def wall_sources(boundary: FaceFlux) -> WallSources:
    """Return what prescribed fluxes bring into the cells along the walls.

    Parameters
    ----------
    boundary : FaceFlux
        Only the outer faces are read. [m3/s]

    Returns
    -------
    WallSources
        Inflow positive on every wall. [m3/s]
    """
    x, y, z = boundary.axes
    return WallSources(x[0], -x[-1], y[:, 0], -y[:, -1], z[:, :, 0], -z[:, :, -1])


@lru_cache(maxsize=32)
def cosines(count: int) -> FloatArray:
    """Return the orthonormal cosine transform of type 2.

    Parameters
    ----------
    count : int
        Number of cells. [-]

    Returns
    -------
    array, shape (count, count)
        Row = cell, column = wave number. [-]
    """
    cell = np.arange(count) + 0.5
    matrix = np.sqrt(2.0 / count) * np.cos(np.pi / count * np.outer(cell, np.arange(count)))
    matrix[:, 0] = np.sqrt(1.0 / count)
    matrix.flags.writeable = False
    return matrix


def _eigenvalues(count: int) -> FloatArray:
    """Return the eigenvalues of the closed second difference, shape (count,)."""
    return 4.0 * np.sin(np.pi / (2 * count) * np.arange(count)) ** 2


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
    outer, along = (1, 0) if swapped else (0, 1)
    load = weights[2] * _eigenvalues(shape[2])[np.newaxis, :]
    if coupled:
        load = load + weights[outer] * _eigenvalues(shape[outer])[:, np.newaxis]
    pivots = _pivots(load / weights[along], shape[along])
    matrix = cosines(shape[outer]) if coupled else np.eye(shape[outer])
    return BoxFactors(swapped, coupled, weights[along], pivots, matrix, cosines(shape[2]))


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


def walls_to_waves(factors: BoxFactors, sources: WallSources, uniform: FloatArray) -> FloatArray:
    """Return the wave amplitudes of the potential for sources along the walls.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    sources : WallSources
        What enters the cells along the walls. [m3/s]
    uniform : array, shape (1,) if coupled, else (nx,)
        What enters every cell besides, equal in the box or in each station. [m3/s]

    Returns
    -------
    array, shape (no, nt, nz)
        Potential, outer axis first; outer axis (if coupled) and z as wave numbers. If all
        sources do not add up to zero, the last layer along the elimination axis takes the rest.
        [m2/s]
    """
    s = sources
    x_walls, y_walls = (s.left, s.right), (s.front, s.back)
    outer_walls, ends = (y_walls, x_walls) if factors.swapped else (x_walls, y_walls)
    z_walls = (s.floor.T, s.ceiling.T) if factors.swapped else (s.floor, s.ceiling)
    no, nt, nz = len(factors.outer), factors.pivots.shape[1], len(factors.upright)
    scale = 1.0 / factors.weight
    hats = np.zeros(2 * (no * nz + nt * nz + no * nt))
    end_hat = hats[: 2 * no * nz].reshape(2, no, nz)
    outer_hat = hats[2 * no * nz : 2 * (no + nt) * nz].reshape(2, nt, nz)
    z_hat = hats[2 * (no + nt) * nz :].reshape(2, no, nt)
    for side in (0, 1):
        if ends[side].any():
            turned = _turned(factors, ends[side])
            np.matmul(turned * scale, factors.upright, out=end_hat[side])
        if outer_walls[side].any():
            np.matmul(outer_walls[side] * scale, factors.upright, out=outer_hat[side])
        if z_walls[side].any():
            np.multiply(_turned(factors, z_walls[side]), scale, out=z_hat[side])
    even = np.zeros(no)
    even[: len(uniform)] = uniform * (scale * np.sqrt(nz * (no if factors.coupled else 1)))
    out = np.empty((no, nt, nz))
    boundary_sweep(
        out,
        factors.pivots,
        end_hat,
        outer_hat,
        factors.outer[[0, -1]],
        z_hat,
        factors.upright[[0, -1]],
        even,
    )
    return out


def _turned(factors: BoxFactors, wall: FloatArray) -> FloatArray:
    """Return a wall array, outer axis first, transformed along that axis."""
    return factors.outer.T @ wall if factors.coupled else wall


def waves_to_cells(factors: BoxFactors, hat: FloatArray) -> FloatArray:
    """Return cell values from wave amplitudes.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    hat : array, shape (no, nt, nz)
        Wave amplitudes along the outer axis (if coupled) and along z. [m2/s]

    Returns
    -------
    array, shape (no, nt, nz)
        Potential of each cell up to a constant (per station if not coupled), outer axis first.
        [m2/s]
    """
    no, nt, nz = hat.shape
    if nz <= _DENSE_LENGTH:
        cells = np.matmul(hat.reshape(no * nt, nz), factors.upright.T)
    else:
        cells = scipy.fft.idct(hat, type=2, norm="ortho", axis=2).reshape(no * nt, nz)
    if not factors.coupled or no == 1:
        return cells.reshape(no, nt, nz)
    if no <= _DENSE_LENGTH:
        return np.matmul(factors.outer, cells.reshape(no, nt * nz)).reshape(no, nt, nz)
    return scipy.fft.idct(cells.reshape(no, nt, nz), type=2, norm="ortho", axis=0)


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
    hat = sources.reshape(no * nt, nz) @ (factors.upright / factors.weight)
    if factors.coupled:
        hat = factors.outer.T @ hat.reshape(no, nt * nz)
    hat = hat.reshape(no, nt, nz)
    dense_sweep(hat, factors.pivots)
    return hat
