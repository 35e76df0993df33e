"""Direct solution of the potential in a box without solids.

Cosine transforms diagonalise two axes, elimination solves the third. The right-hand side lives
only in cells on the walls, so its transform costs next to nothing and half of the work of a
general fast solver falls away. Keep BLAS on one thread: two threads stall on products of
this size.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import boundary_sweep, dense_sweep
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.cosines import Cosines, cosines, to_cells, workspace

__all__ = [
    "BoxFactors",
    "WallSources",
    "box_factors",
    "cells_to_waves",
    "wall_sources",
    "walls_to_waves",
    "waves_to_cells",
]


@dataclass(frozen=True, eq=False)
class BoxFactors:
    """What the direct solution of one box needs, made once per shape.

    The outer axis is x or y, the elimination axis the other one, z is always transformed.

    Parameters
    ----------
    swapped : bool
        True if y is the outer axis. [-]
    weight, upright_weight : float
        Flux per potential difference along the elimination axis and along z. [m]
    pivots : array, shape (no or 1, nt, nz)
        Inverse pivots of the elimination. [-]
    outer : Cosines or None
        Waves along the outer axis; None if its stations stand alone.
    upright : Cosines
        Waves along z.
    outer_scaled, upright_scaled : array, shape (no, no) and (nz, nz)
        Waves over ``weight``; rows of the first are waves, of the second cells. [1/m]
    """

    swapped: bool
    weight: float
    upright_weight: float
    pivots: FloatArray
    outer: Cosines | None
    upright: Cosines
    outer_scaled: FloatArray
    upright_scaled: FloatArray


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

    def in_cells(self, shape: tuple[int, int, int]) -> FloatArray:
        """Return what enters each cell, shape (nx, ny, nz). [m3/s]."""
        cells = np.zeros(shape)
        cells[0] += self.left
        cells[-1] += self.right
        cells[:, 0] += self.front
        cells[:, -1] += self.back
        cells[:, :, 0] += self.floor
        cells[:, :, -1] += self.ceiling
        return cells


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
    upright = cosines(shape[2])
    waves = cosines(shape[outer]) if coupled else None
    load = weights[2] * upright.eigenvalues[np.newaxis, :]
    if waves is not None:
        load = load + weights[outer] * waves.eigenvalues[:, np.newaxis]
    weight = weights[along]
    return BoxFactors(
        swapped,
        weight,
        weights[2],
        _pivots(load / weight, shape[along]),
        waves,
        upright,
        (np.eye(shape[outer]) if waves is None else waves.waves.T) / weight,
        upright.waves / weight,
    )


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
    outer_hat, end_hat, z_hat = _transformed(factors, sources)
    no, nt, nz = end_hat.shape[1], outer_hat.shape[1], outer_hat.shape[2]
    joined = factors.outer is not None
    even = np.zeros(no)
    even[: len(uniform)] = uniform * (np.sqrt(nz * (no if joined else 1)) / factors.weight)
    outer = factors.outer_scaled * factors.weight if factors.outer is None else factors.outer.waves
    out = workspace("waves", (no, nt, nz))
    boundary_sweep(
        out,
        factors.pivots,
        end_hat,
        outer_hat,
        outer[[0, -1]],
        z_hat,
        factors.upright.waves[[0, -1]],
        even,
    )
    return out


def _transformed(
    factors: BoxFactors, sources: WallSources
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the wave amplitudes of the outer, elimination and z walls, two each."""
    s = sources
    x_walls, y_walls = (s.left, s.right), (s.front, s.back)
    outer_walls, ends = (y_walls, x_walls) if factors.swapped else (x_walls, y_walls)
    z_walls = (s.floor.T, s.ceiling.T) if factors.swapped else (s.floor, s.ceiling)
    nt, nz = outer_walls[0].shape
    no = len(z_walls[0])
    outer_hat, end_hat, z_hat = np.zeros((2, nt, nz)), np.zeros((2, no, nz)), np.zeros((2, no, nt))
    turn = factors.outer_scaled
    for side in (0, 1):
        if outer_walls[side].any():
            np.matmul(outer_walls[side], factors.upright_scaled, out=outer_hat[side])
        if z_walls[side].any():
            np.matmul(turn, z_walls[side], out=z_hat[side])
        if ends[side].any():
            np.matmul(turn @ ends[side], factors.upright.waves, out=end_hat[side])
    return outer_hat, end_hat, z_hat


def waves_to_cells(factors: BoxFactors, waves: FloatArray) -> FloatArray:
    """Return cell values from wave amplitudes.

    Parameters
    ----------
    factors : BoxFactors
        Of this box.
    waves : array, shape (no, nt, nz)
        Amplitudes along the outer axis (if coupled) and along z; used up. [m2/s]

    Returns
    -------
    array, shape (no, nt, nz)
        Potential of each cell up to a constant (per station if not coupled), outer axis first.
        [m2/s]
    """
    return to_cells(waves, factors.outer, factors.upright)


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
