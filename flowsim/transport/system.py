"""The packed matrix of transport, its transpose and its solver."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError, RangeError
from flowsim.transport._kernels import Places, Rest
from flowsim.transport._krylov_kernels import Packed, factor_rows, krylov, residual
from flowsim.transport._once import Once
from flowsim.transport.ordering import FlowOrder

__all__ = [
    "TOLERANCE",
    "Solution",
    "System",
    "closed",
    "parted",
    "solve",
    "solve_vector",
    "with_storage",
]

TOLERANCE = 1e-13
"""Residual over right-hand side at which a solution is accepted. [-]"""

_ROUND_OFF = 1e-10
"""Largest residual over right-hand side that may pass for round-off. [-]"""

_RESTARTS = 8
_MOST_ITERATIONS = 600


@dataclass(frozen=True, eq=False)
class System:
    """A matrix in rows of neighbours, with the order of its cells.

    Parameters
    ----------
    rows : array, shape (n, 8)
        First part: diagonal, six neighbours with their sign turned; then the diagonal of the
        second part. [m3/s]
    near : array, shape (n, 6)
        Places of the neighbours, n for none. [-]
    rest : tuple of array
        Second part but its diagonal: values [m3/s], columns, and what does not fit; no rows
        where the scheme is of first order.
    order : FlowOrder
        Cells along the flow; rows stand in this order. [-]
    shape : tuple of int
        Cells along x, y, z. [-]
    """

    rows: FloatArray
    near: Places
    rest: Rest
    order: FlowOrder
    shape: tuple[int, int, int]

    def vector(self, values: FloatArray) -> FloatArray:
        """Return values per cell in the order of the rows, with a zero at the end.

        Parameters
        ----------
        values : array, shape (nx, ny, nz)
            One per cell. [-]

        Returns
        -------
        array, shape (n + 1,)
            New array.
        """
        out = np.zeros(len(self.rows) + 1)
        out[:-1] = values.ravel()[self.order.cells]
        return out

    def spread(self, vector: FloatArray) -> FloatArray:
        """Return values per cell from a vector in the order of the rows.

        Parameters
        ----------
        vector : array, shape (n + 1,)
            As `vector` returns it. [-]

        Returns
        -------
        array, shape (nx, ny, nz)
            New array, 0 in solids.
        """
        out = np.zeros(self.shape)
        out.ravel()[self.order.cells] = vector[:-1]
        return out

    def cell(self, place: int) -> list[int]:
        """Return the indices of the cell of a row.

        Parameters
        ----------
        place : int
            Number of the row. [-]

        Returns
        -------
        list of int
            Along x, y, z. [-]
        """
        return [int(i) for i in np.unravel_index(int(self.order.cells[place]), self.shape)]

    @Once
    def packed(self) -> Packed:
        """Rows divided by the diagonal of the incomplete factors, and their neighbours.

        Raises
        ------
        RangeError
            If some air has no way out.
        """
        n = len(self.rows)
        block = np.empty((n, 14))  # one piece of memory is cheaper to get than seven
        columns = block.ravel()[10 * n :].view(np.int32).reshape(2, n, 4)
        diagonal = block.ravel()[: 2 * n].reshape(n, 2)
        entries = block.ravel()[2 * n : 10 * n].reshape(2, n, 4)
        lower, upper = (parted(*pair, 2 * n) for pair in zip(entries, columns, strict=True))
        bad = factor_rows(self.rows, self.near, diagonal, lower, upper)
        if bad >= 0:
            raise RangeError(
                f"nothing ever leaves the air around cell {self.cell(bad)}: it needs a way out, "
                "or a diffusivity above 0"
            )
        return diagonal, closed(lower, n), closed(upper, n), self.rest


@dataclass(frozen=True, eq=False)
class Solution:
    """A solved system.

    Parameters
    ----------
    values : array, shape (nx, ny, nz)
        The unknowns; 0 in solids. [-]
    iterations : int
        Iterations in all. [-]
    residual : float
        Norm of the residual over that of the right-hand side. [-]
    """

    values: FloatArray
    iterations: int
    residual: float


def parted(entries: FloatArray, columns: Places, most: int) -> Rest:
    """Return room for so many entries in each row, and for others that do not fit.

    Parameters
    ----------
    entries, columns : array, shape (n, width)
        Room for the values and columns that fit. [-]
    most : int
        How many others there may be. [-]

    Returns
    -------
    tuple of array
        To be filled, then `closed`.
    """
    extra = np.empty(most + 2)  # what is not filled costs no memory
    extra[0] = 0.0
    return entries, columns, np.empty((most + 2, 2), dtype=np.int32), extra


def closed(part: Rest, rows: int) -> Rest:
    """Return a part with an end before and behind the entries that do not fit.

    Parameters
    ----------
    part : tuple of array
        Filled. [-]
    rows : int
        Number of rows. [-]

    Returns
    -------
    tuple of array
        The same entries.
    """
    w, at, place, extra = part
    end = int(extra[0]) + 2
    place[0], place[end - 1] = -1, rows
    return w, at, place[:end].copy(), extra[:end].copy()


class _Kept(threading.local):
    """Work space of each thread, kept because fresh memory costs more than a sweep."""

    room: FloatArray = np.empty((9, 0))


_kept = _Kept()


def _room(size: int) -> tuple[FloatArray, FloatArray]:
    """Return work space for the Krylov method, and a vector for the residual."""
    if _kept.room.shape[1] != size:
        _kept.room = np.empty((9, size))
    return _kept.room[:8], _kept.room[8]


def with_storage(system: System, amount: FloatArray) -> System:
    """Return the matrix with an amount added to its diagonal.

    Parameters
    ----------
    system : System
        A matrix. [-]
    amount : array, shape (nx, ny, nz)
        Cell volume over time. [m3/s]

    Returns
    -------
    System
        A new matrix with the same order.
    """
    rows = system.rows.copy()
    rows[:, 0] += system.vector(amount)[:-1]
    return replace(system, rows=rows)


def solve(
    system: System,
    right: FloatArray,
    start: FloatArray | None = None,
    tolerance: float = TOLERANCE,
) -> Solution:
    """Return the solution of a system.

    Parameters
    ----------
    system : System
        A matrix. [-]
    right : array, shape (nx, ny, nz)
        Right-hand side, 0 in solids. [m3/s]
    start : array, shape (nx, ny, nz), or None
        First guess. [-]
    tolerance : float
        Residual over right-hand side to reach, in the root-mean-square sense; one that is
        nothing but round-off of its terms passes too. [-]

    Returns
    -------
    Solution
        The unknowns.

    Raises
    ------
    RangeError
        If the right-hand side is not finite.
    ConvergenceError
        If the tolerance is not reached; names the worst cell.

    Notes
    -----
    Stabilised biconjugate gradients between the two incomplete factors in the order of the flow
    (with pure advection one of them is the matrix, the other the identity), restarted from the
    true residual. Standard methods, from memory.
    """
    x = np.zeros(len(system.rows) + 1) if start is None else system.vector(start)
    iterations, error = solve_vector(system, system.vector(right), x, tolerance)
    return Solution(system.spread(x), iterations, error)


def solve_vector(
    system: System, right: FloatArray, x: FloatArray, tolerance: float = TOLERANCE
) -> tuple[int, float]:
    """Solve a system for vectors in the order of its rows.

    Parameters
    ----------
    system : System
        A matrix. [-]
    right : array, shape (n + 1,)
        Right-hand side, with a zero at the end. [m3/s]
    x : array, shape (n + 1,)
        First guess, replaced by the solution. [-]
    tolerance : float
        As in `solve`. [-]

    Returns
    -------
    iterations : int
        Iterations in all. [-]
    residual : float
        Norm of the residual over that of the right-hand side. [-]

    Raises
    ------
    RangeError
        If the right-hand side is not finite.
    ConvergenceError
        If the tolerance is not reached; names the worst cell.
    """
    scale = float(np.abs(right).max())
    if not np.isfinite(scale):
        raise RangeError("the right-hand side of a transport problem must be finite")
    if scale == 0.0:
        x[:] = 0.0
        return 0, 0.0
    b = right / scale  # so that squares of washed-out remains do not vanish
    x /= scale
    size = float(np.linalg.norm(b))
    iterations = 0
    room, r = _room(b.size)
    error = size
    for _ in range(_RESTARTS):
        error, noise = residual(system.packed, x, b, r)
        if error <= max(tolerance * size, min(noise, _ROUND_OFF * size)):
            x *= scale
            return iterations, error / size
        if not np.isfinite(error) or iterations >= _MOST_ITERATIONS:
            break
        goal = min(max(0.3 * tolerance * size / error, 1e-15), 0.1)
        iterations += krylov(system.packed, r, (goal, _MOST_ITERATIONS - iterations), x, room)[0]
    worst = int(np.nanargmax(np.abs(r[:-1]))) if np.isfinite(r).any() else 0
    raise ConvergenceError(
        f"transport did not converge: residual {error / size:.3g} of the right-hand side after "
        f"{iterations} iterations, worst in cell {system.cell(worst)}"
    )
