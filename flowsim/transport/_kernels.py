"""Compiled loops that order the cells and build the transport matrix. Arrays in, arrays filled.

Cells are numbered as in a C-ordered array (nx, ny, nz); places are their numbers along the flow.
Neighbours come in the order x-, x+, y-, y+, z-, z+; neighbour m of a cell faces it as neighbour
m ^ 1. The place after the last one stands for "none": vectors hold a zero there.

A row of the upwind matrix holds its diagonal, the six off-diagonal entries with their sign
turned (none is negative), and one place for later use. A row of the correction to third order
holds its diagonal, the six neighbours and the six neighbours one further, as they are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import FloatArray, IntArray
from flowsim._compile import compiled

__all__ = [
    "add_to_diagonal",
    "fill_correction",
    "fill_upwind",
    "order_along_flow",
    "order_components",
    "transpose_rows",
]

Bits = NDArray[np.uint8]
Places = NDArray[np.int32]
Flux = tuple[FloatArray, FloatArray, FloatArray]


@compiled
def order_along_flow(feeds: Bits, waiting: Bits, offsets: IntArray, order: Places) -> int:
    """Order cells so that each comes after all that feed it.

    Parameters
    ----------
    feeds, waiting : array, shape (n,)
        Neighbours that each cell feeds, bit m for neighbour m; how many feed it, 255 in solids.
        The latter is used up: above 0 where no place was found. [-]
    offsets : array, shape (6,)
        From a cell to its neighbours. [-]
    order : array, shape (n,)
        Its first places are filled. [-]

    Returns
    -------
    int
        Number of cells that found a place; the others lie on or behind a cycle, or in solids.
    """
    tail = 0
    for c in range(waiting.size):
        if waiting[c] == 0:
            order[tail] = c
            tail += 1
    head = 0
    while head < tail:
        c = order[head]
        head += 1
        bits = feeds[c]
        for m in range(6):
            if bits & (1 << m):
                neighbour = c + offsets[m]
                waiting[neighbour] -= np.uint8(1)
                if waiting[neighbour] == 0:
                    order[tail] = neighbour
                    tail += 1
    return tail


@compiled
def _side(
    rows: FloatArray, near: Places, spot: tuple[int, int, int], inflow: float, conductance: float
) -> float:
    """Fill the entry of one neighbour; return what the cell passes to it."""
    p, m, other = spot
    near[p, m] = other
    there = other < rows.shape[0]
    rows[p, m + 1] = conductance + max(inflow, 0.0) if there else 0.0
    return conductance + max(-inflow, 0.0) if there else 0.0


@compiled
def fill_upwind(
    flux: Flux,
    diffusivity: FloatArray,
    weights: tuple[float, float, float],
    place: Places,
    rows: FloatArray,
    near: Places,
) -> None:
    """Fill the rows of the upwind matrix, without the outer faces.

    Parameters
    ----------
    flux : tuple of array
        Carried volume through all faces. [m3/s]
    diffusivity : array, shape (n,)
        In each cell; a face takes the mean of its two cells. [m2/s]
    weights : tuple of float
        Half the face area over cell size along x, y, z. [m]
    place : array, shape (n,)
        Place of each cell, the number of places in solids. [-]
    rows : array, shape (places, 8)
        Filled. [m3/s]
    near : array, shape (places, 6)
        Zeros; filled with the places of the neighbours. [-]
    """
    x, y, z = flux
    wx, wy, wz = weights
    nx, ny, nz = y.shape[0], x.shape[1], x.shape[2]
    none, step, v = rows.shape[0], ny * nz, diffusivity
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                c = (i * ny + j) * nz + k
                p, d = place[c], v[c]
                if p == none:
                    continue
                low, high = i > 0, i < nx - 1
                a, b = c - step if low else c, c + step if high else c
                one, two = place[a] if low else none, place[b] if high else none
                leaves = _side(rows, near, (p, 0, one), x[i, j, k], wx * (d + v[a]))
                leaves += _side(rows, near, (p, 1, two), -x[i + 1, j, k], wx * (d + v[b]))
                low, high = j > 0, j < ny - 1
                a, b = c - nz if low else c, c + nz if high else c
                one, two = place[a] if low else none, place[b] if high else none
                leaves += _side(rows, near, (p, 2, one), y[i, j, k], wy * (d + v[a]))
                leaves += _side(rows, near, (p, 3, two), -y[i, j + 1, k], wy * (d + v[b]))
                low, high = k > 0, k < nz - 1
                a, b = c - 1 if low else c, c + 1 if high else c
                one, two = place[a] if low else none, place[b] if high else none
                leaves += _side(rows, near, (p, 4, one), z[i, j, k], wz * (d + v[a]))
                leaves += _side(rows, near, (p, 5, two), -z[i, j, k + 1], wz * (d + v[b]))
                rows[p, 0] = leaves


@compiled
def _correct(
    rows: FloatArray, places: tuple[int, int], slots: tuple[int, int], phi: float, far: bool
) -> None:
    """Correct the flux of one face to third order.

    The slots are those of the downstream cell in the upstream one's row and the reverse. The
    value one cell further upstream is that of the upstream cell itself where there is none.
    """
    here, there = places
    ahead, back = slots
    own = -phi / 6.0 if far else -phi / 3.0
    rows[here, 0] += own
    rows[here, ahead] += phi / 3.0
    rows[there, back] -= own
    rows[there, 0] -= phi / 3.0
    if far:
        rows[here, back] -= phi / 6.0
        rows[there, back + 6] += phi / 6.0


@compiled
def fill_correction(rows: FloatArray, near: Places, high: FloatArray, far: Places) -> None:
    """Fill the correction that makes the upwind matrix third-order upwind-biased (kappa = 1/3).

    The flux of a face is the difference of the two upwind entries across it.

    Parameters
    ----------
    rows : array, shape (places, 8)
        The upwind matrix. [m3/s]
    near : array, shape (places, 6)
        Places of the neighbours. [-]
    high : array, shape (places, 13)
        Zeros; filled. [m3/s]
    far : array, shape (places, 6)
        Filled with the places two cells away. [-]
    """
    none = rows.shape[0]
    for p in range(none):
        for m in range(6):
            other = near[p, m]
            if other == none:
                far[p, m] = none
                continue
            far[p, m] = near[other, m]
            phi = rows[p, m + 1] - rows[other, (m ^ 1) + 1]
            if phi > 0.0:  # neighbour m feeds this cell
                beyond = near[other, m] != none
                _correct(high, (other, p), ((m ^ 1) + 1, m + 1), phi, beyond)


@compiled
def add_to_diagonal(rows: FloatArray, places: Places, amount: FloatArray) -> None:
    """Add what leaves through outer faces to the diagonal.

    Parameters
    ----------
    rows : array, shape (places, some)
        Changed in place. [m3/s]
    places : array, shape (faces,)
        Place of the cell of each face; a cell may have several. [-]
    amount : array, shape (faces,)
        To add. [m3/s]
    """
    for f in range(places.size):
        rows[places[f], 0] += amount[f]


@compiled
def transpose_rows(rows: FloatArray, near: Places, first: int, out: FloatArray) -> None:
    """Fill six columns of the transposed matrix.

    Parameters
    ----------
    rows : array, shape (places, some)
        Rows of a matrix. [m3/s]
    near : array, shape (places, 6)
        Places of the six neighbours of these columns. [-]
    first : int
        First of the columns. [-]
    out : array, shape of ``rows``
        Filled. [m3/s]
    """
    none = rows.shape[0]
    for p in range(none):
        out[p, 0] = rows[p, 0]
        for m in range(6):
            other = near[p, m]
            out[p, m + first] = rows[other, (m ^ 1) + first] if other != none else 0.0


@compiled
def order_components(
    feeds: Bits,
    offsets: IntArray,
    labels: IntArray,
    members: tuple[IntArray, IntArray],
    order: Places,
    start: int,
) -> int:
    """Order the cells that lie on or behind cycles, cycle by cycle along the flow.

    Parameters
    ----------
    feeds : array, shape (n,)
        Neighbours that each cell feeds, one bit each. [-]
    offsets : array, shape (6,)
        From a cell to its neighbours. [-]
    labels : array, shape (n,)
        Strongly connected component of each cell without a place, -1 in all others. [-]
    members : tuple of array, shape (left,) and (components + 1,)
        Cells sorted by component, and where each component starts among them. [-]
    order : array, shape (n,)
        Filled from ``start`` on. [-]
    start : int
        Number of cells that have a place. [-]

    Returns
    -------
    int
        Number of cells that have a place now.
    """
    cells, first = members
    waiting = first[1:] * 0
    for c in cells:
        for m in range(6):
            if feeds[c] & (1 << m) and labels[c + offsets[m]] != labels[c]:
                waiting[labels[c + offsets[m]]] += 1
    queue = first[1:] * 0
    tail, head = 0, 0
    for label in np.flatnonzero(waiting == 0):
        queue[tail] = label
        tail += 1
    while head < tail:
        label = queue[head]
        head += 1
        for c in cells[first[label] : first[label + 1]]:
            order[start] = c
            start += 1
            for m in range(6):
                other = labels[c + offsets[m]] if feeds[c] & (1 << m) else label
                waiting[other] -= int(other != label)
                if other != label and waiting[other] == 0:
                    queue[tail] = other
                    tail += 1
    return start
