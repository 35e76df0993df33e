"""Compiled loops that order the cells and build the transport matrix. Arrays in, arrays filled.

Cells are numbered as in a C-ordered array (nx, ny, nz); places are their numbers along the flow.
Neighbours come in the order x-, x+, y-, y+, z-, z+; neighbour m of a cell faces it as neighbour
m ^ 1. The place after the last one stands for "none": vectors hold a zero there.

The matrix stands in two parts. A row of the first holds its diagonal, the six off-diagonal
entries with their sign turned (none is negative), and the diagonal of the second part. The second
part, which makes the scheme third order, has up to twelve more entries in a row, most often six.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import FloatArray, IntArray
from flowsim._compile import compiled

__all__ = [
    "add_to_diagonal",
    "fill_rest",
    "fill_rows",
    "order_along_flow",
    "order_components",
]

_THIRD, _SIXTH = 1.0 / 3.0, 1.0 / 6.0
_MOST_TAKEN = 0.9
"""Share of the conductance of a face that may be taken off it. [-]"""
_RECOVERED = _MOST_TAKEN / (1.0 - _MOST_TAKEN)

Bits = NDArray[np.uint8]
Places = NDArray[np.int32]
Rest = tuple[FloatArray, Places, Places, FloatArray]
"""Values and columns of up to so many entries of each row; entries beyond that, by row and column
(k + 2, 2) and value (k + 2,), rows ascending between -1 and the number of rows."""


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
    rows: FloatArray,
    near: Places,
    spot: tuple[int, int, int],
    flow: tuple[float, float],
    kind: tuple[bool, bool],
) -> float:
    """Fill the entry of one neighbour; return what the cell passes to it.

    Spot: place of the cell, number of the neighbour, its place. Flow: flux into the cell,
    conductance.
    """
    p, m, other = spot
    inflow, bare = flow
    linear, backward = kind
    near[p, m] = other
    if other == rows.shape[0]:
        rows[p, m + 1] = 0.0
        return 0.0
    if linear:
        bare -= min(abs(inflow) * _THIRD, _MOST_TAKEN * bare)
    passed = bare + max(-inflow, 0.0)
    rows[p, m + 1] = passed if backward else bare + max(inflow, 0.0)
    return passed


@compiled
def fill_rows(
    flux: tuple[FloatArray, FloatArray, FloatArray],
    mixing: tuple[FloatArray, tuple[float, float, float]],
    place: Places,
    kind: tuple[bool, bool],
    rows: FloatArray,
    near: Places,
) -> None:
    """Fill the first part of the matrix, without the outer faces.

    It is the upwind scheme; for the linear scheme it takes as much as it can of what that takes
    from downstream, a third of each flux, so that its factors come closer to the whole.

    Parameters
    ----------
    flux : tuple of array
        Carried volume through all faces. [m3/s]
    mixing : tuple
        Diffusivity in each cell (n,), of which a face takes the mean of its two cells [m2/s];
        half the face area over cell size along x, y, z [m].
    place : array, shape (n,)
        Place of each cell, the number of places in solids. [-]
    kind : tuple of bool
        Whether it belongs to the linear scheme; whether the transposed matrix is wanted. [-]
    rows : array, shape (places, 8)
        Filled. [m3/s]
    near : array, shape (places, 6)
        Filled with the places of the neighbours. [-]
    """
    x, y, z = flux
    v, (wx, wy, wz) = mixing
    nx, ny, nz = y.shape[0], x.shape[1], x.shape[2]
    none, step = rows.shape[0], ny * nz
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
                left = _side(rows, near, (p, 0, one), (x[i, j, k], wx * (d + v[a])), kind)
                left += _side(rows, near, (p, 1, two), (-x[i + 1, j, k], wx * (d + v[b])), kind)
                low, high = j > 0, j < ny - 1
                a, b = c - nz if low else c, c + nz if high else c
                one, two = place[a] if low else none, place[b] if high else none
                left += _side(rows, near, (p, 2, one), (y[i, j, k], wy * (d + v[a])), kind)
                left += _side(rows, near, (p, 3, two), (-y[i, j + 1, k], wy * (d + v[b])), kind)
                low, high = k > 0, k < nz - 1
                a, b = c - 1 if low else c, c + 1 if high else c
                one, two = place[a] if low else none, place[b] if high else none
                left += _side(rows, near, (p, 4, one), (z[i, j, k], wz * (d + v[a])), kind)
                left += _side(rows, near, (p, 5, two), (-z[i, j, k + 1], wz * (d + v[b])), kind)
                rows[p, 0], rows[p, 7] = left, 0.0


@compiled
def _correct(
    entry: FloatArray,
    m: int,
    flow: tuple[float, float, float],
    sides: tuple[float, float],
    backward: bool,
) -> float:
    """Add what the face to neighbour m corrects to the entries; return the diagonal's part.

    Entries of the six neighbours, then of the six beyond them. Flow: flux into the cell, the
    part of it that is taken from downstream already, flux into the neighbour from beyond it.
    Sides: 1 if there is a cell beyond the neighbour, and on the other side of this one, else 0.
    Free of branches, which a processor could not foresee.
    """
    inflow, taken, following = flow
    beyond, opposite = sides
    size, fed = abs(inflow), 1.0 if inflow > 0.0 else 0.0
    down = size * _THIRD - taken
    up = size * (_THIRD - _SIXTH * beyond) - taken
    own = size * (_THIRD - _SIXTH * opposite) - taken
    if backward:
        after = beyond * max(-following, 0.0) * _SIXTH  # the cell lies upstream of that face
        entry[m] += fed * down + (1.0 - fed) * own - after
        entry[m + 6] += after
    else:
        entry[m] += fed * up + (1.0 - fed) * down
        entry[m + 6] += fed * beyond * size * _SIXTH
        entry[m ^ 1] -= (1.0 - fed) * opposite * size * _SIXTH
    return -fed * down - (1.0 - fed) * own


@compiled
def fill_rest(rows: FloatArray, near: Places, backward: bool, rest: Rest) -> None:
    """Fill the second part, which makes the scheme third-order upwind-biased (kappa = 1/3).

    The flux of a face is the difference of the two entries across it. Where a cell is missing
    beyond the one upstream, that one counts twice.

    Parameters
    ----------
    rows : array, shape (places, 8)
        First part; the last column is filled with the diagonal of the second. [m3/s]
    near : array, shape (places, 6)
        Places of the neighbours. [-]
    backward : bool
        Whether these are rows of the transposed matrix. [-]
    rest : tuple of array
        Values and columns of the second part, both (places, width); rows and columns (k, 2) and
        values (k,) of what does not fit, filled from place 1 on; place 0 of the values counts
        them and must be zero.
    """
    values, columns, apart, extra = rest
    none, width = rows.shape[0], values.shape[1]
    entry, around = np.zeros(12), np.empty(12, dtype=np.int32)
    sign = -1.0 if backward else 1.0
    for p in range(none):
        own, used = 0.0, 0
        for m in range(6):
            q, back = near[p, m], (m ^ 1) + 1
            around[m], around[m + 6] = q, none
            if q == none:
                continue
            r = near[q, m]
            around[m + 6] = r
            here, there = rows[p, m + 1], rows[q, back]
            inflow = sign * (here - there)
            taken = min(abs(inflow) * _THIRD, _RECOVERED * min(here, there))
            following = 0.0
            if backward and r != none:
                following = rows[r, back] - rows[q, m + 1]
            sides = (1.0 if r != none else 0.0, 1.0 if near[p, m ^ 1] != none else 0.0)
            own += _correct(entry, m, (inflow, taken, following), sides, backward)
        rows[p, 7] = own
        for m in range(12):
            if used < width:
                values[p, used], columns[p, used] = entry[m], around[m]
                used += 1 if entry[m] != 0.0 else 0
            elif entry[m] != 0.0:
                extra[0] += 1.0
                many = int(extra[0])
                apart[many, 0], apart[many, 1], extra[many] = p, around[m], entry[m]
            entry[m] = 0.0
        for m in range(used, width):
            values[p, m], columns[p, m] = 0.0, none


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
