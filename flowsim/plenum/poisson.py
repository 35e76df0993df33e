"""Direct solution of the Poisson equation with closed walls on a rectangle."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from flowsim._arrays import FloatArray
from flowsim.plenum._kernels import tridiagonal_modes

__all__ = ["NeumannSolver", "neumann_solver"]

DENSE_LIMIT = 160  # cells in y up to which a dense cosine product beats the fast transform


@dataclass(frozen=True)
class NeumannSolver:
    """Factors for laplace(phi) = f with zero normal derivative, cell centred, five points.

    Parameters
    ----------
    nx, ny : int
        Cells along x and y. [-]
    coupling : float
        1/dx^2. [1/m2]
    cosines : array, shape (ny, ny) or None
        Orthonormal cosine transform along y; None means the fast transform. [-]
    inverse_pivot : array, shape (nx, ny)
        Inverse pivots of the tridiagonal systems along x, one per mode. [m2]
    """

    nx: int
    ny: int
    coupling: float
    cosines: FloatArray | None
    inverse_pivot: FloatArray

    def solve(self, source: FloatArray) -> FloatArray:
        """Return the solution for a source of mean zero, up to a constant.

        Parameters
        ----------
        source : array, shape (nx, ny)
            Right-hand side f; its mean must vanish to round-off. [unit of phi / m2]

        Returns
        -------
        array, shape (nx, ny)
            phi, zero mean not enforced. [unit of phi]
        """
        if self.ny == 1:
            values = source.copy()
            tridiagonal_modes(values, self.inverse_pivot, self.coupling)
            return values
        if self.cosines is None:
            values = scipy.fft.dct(source, axis=1, norm="ortho")
            tridiagonal_modes(values, self.inverse_pivot, self.coupling)
            return np.asarray(scipy.fft.idct(values, axis=1, norm="ortho"))
        values = source @ self.cosines.T
        tridiagonal_modes(values, self.inverse_pivot, self.coupling)
        return values @ self.cosines


@lru_cache(maxsize=16)
def neumann_solver(nx: int, ny: int, dx: float, dy: float) -> NeumannSolver:
    """Return the factored solver of a grid; equal grids share one.

    Parameters
    ----------
    nx, ny : int
        Cells along x and y. [-]
    dx, dy : float
        Cell sizes. [m]

    Returns
    -------
    NeumannSolver
        Cosine transform along y, tridiagonal elimination along x.

    Notes
    -----
    Standard method, from memory: the cosine modes diagonalise the closed-wall difference
    operator along y. The constant mode is singular; its last unknown is set to zero.
    """
    modes = np.arange(ny)
    damping = (2.0 * np.sin(0.5 * math.pi * modes / ny) / dy) ** 2
    coupling = 1.0 / dx**2
    pivot = np.empty((nx, ny))
    inverse = np.empty((nx, ny))
    for i in range(nx):
        neighbours = (i > 0) + (i < nx - 1)
        pivot[i] = -neighbours * coupling - damping
        if i > 0:
            pivot[i] -= coupling**2 * inverse[i - 1]
        if i == nx - 1:
            pivot[i, 0] = -math.inf
        inverse[i] = 1.0 / pivot[i]
    cosines = _cosines(ny) if 1 < ny <= DENSE_LIMIT else None
    return NeumannSolver(nx, ny, coupling, cosines, inverse)


def _cosines(n: int) -> FloatArray:
    """Return the orthonormal cosine transform, mode first."""
    k, j = np.arange(n)[:, None], np.arange(n)[None, :]
    matrix = np.cos(math.pi * k * (j + 0.5) / n) * math.sqrt(2.0 / n)
    matrix[0] *= math.sqrt(0.5)
    return np.ascontiguousarray(matrix)
