"""Compiled loops that order the cells and build the transport matrix. Arrays in, arrays filled.

Cells are numbered as in a C-ordered array (nx, ny, nz); places are their numbers along the flow.
Neighbours come in the order x-, x+, y-, y+, z-, z+; neighbour m of a cell faces it as neighbour
m ^ 1. The place after the last one stands for "none": vectors hold a zero there.

The matrix stands in two parts. A row of the first holds its diagonal, the six off-diagonal
entries with their sign turned (none is negative), and the diagonal of the second part. The rest
of the second part, which makes the scheme third order, stands row after row in lists of columns
and values, with the place where each row starts.
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
def _look(
    spot: tuple[int, int, int, int],
    flux: tuple[FloatArray, int, int],
    place: Places,
    around: Places,
    inflow: FloatArray,
) -> None:
    """Find what lies around a cell along one axis.

    Spot: cell, its position and the number of cells along the axis, step to the next cell. Flux:
    flat array, place of the face below the cell, step to the next face. Filled are, both for the
    lower side and the upper: places of the neighbour and the cell beyond (4,); flux into the cell
    and flux into the neighbour from beyond (4,).
    """
    c, position, count, step = spot
    values, at, stride = flux
    none = around[8]
    around[0] = around[1] = around[2] = around[3] = none
    if position > 0:
        around[0] = place[c - step]
        inflow[0], inflow[2] = values[at], values[at - stride]
        if position > 1 and around[0] != none:
            around[2] = place[c - 2 * step]
    if position < count - 1:
        around[1] = place[c + step]
        inflow[1], inflow[3] = -values[at + stride], -values[at + 2 * stride]
        if position < count - 2 and around[1] != none:
            around[3] = place[c + 2 * step]


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
