"""What the six outer walls bring into the cells along them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import gather_walls
from flowsim.chamber.boundary import FaceFlux

__all__ = ["WallSources", "wall_sources"]


@dataclass(frozen=True, eq=False)
class WallSources:
    """Volume per time that enters the cells along the six walls.

    Parameters
    ----------
    x : array, shape (2, ny, nz)
        Through the left and the right wall. [m3/s]
    y : array, shape (2, nx, nz)
        Through the front and the back. [m3/s]
    z : array, shape (2, nx, ny)
        Through the floor and the ceiling. [m3/s]
    net : float
        Sum over all faces. [m3/s]
    sizes : array, shape (6,)
        Sum of absolute values on each wall: left, right, front, back, floor, ceiling. [m3/s]
    """

    x: FloatArray
    y: FloatArray
    z: FloatArray
    net: float
    sizes: FloatArray

    @property
    def each(self) -> tuple[FloatArray, ...]:
        """Return the six walls in the order of ``sizes``. [m3/s]."""
        return (*self.x, *self.y, *self.z)

    @property
    def largest(self) -> float:
        """Largest flux of a face. [m3/s]."""
        return max(float(np.abs(axis).max()) for axis in (self.x, self.y, self.z))

    def per_station(self) -> FloatArray:
        """Return what enters each x station, shape (nx,). [m3/s]."""
        total: FloatArray = self.y.sum(axis=(0, 2)) + self.z.sum(axis=(0, 2))
        total[0] += self.x[0].sum()
        total[-1] += self.x[1].sum()
        return total

    def in_cells(self) -> FloatArray:
        """Return what enters each cell, shape (nx, ny, nz). [m3/s]."""
        cells = np.zeros((self.z.shape[1], self.z.shape[2], self.x.shape[2]))
        cells[0] += self.x[0]
        cells[-1] += self.x[1]
        cells[:, 0] += self.y[0]
        cells[:, -1] += self.y[1]
        cells[:, :, 0] += self.z[0]
        cells[:, :, -1] += self.z[1]
        return cells


def wall_sources(boundary: FaceFlux) -> WallSources:
    """Return what prescribed fluxes bring into the cells along the walls.

    Parameters
    ----------
    boundary : FaceFlux
        Only the outer faces are read; C-ordered arrays. [m3/s]

    Returns
    -------
    WallSources
        Inflow positive on every wall. [m3/s]
    """
    ny, nz = boundary.x.shape[1:]
    nx = boundary.y.shape[0]
    walls = (np.empty((2, ny, nz)), np.empty((2, nx, nz)), np.empty((2, nx, ny)))
    sizes = np.empty(6)
    net = gather_walls(boundary.x, boundary.y, boundary.z, walls, sizes)
    return WallSources(*walls, net, sizes)
