"""The order of cells along the flow, in which one sweep solves pure upwind advection."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.transport._kernels import Bits, Places, order_along_flow, order_components

__all__ = ["FlowOrder", "find_links", "flow_order", "steps_of"]


@dataclass(frozen=True, eq=False)
class FlowOrder:
    """Cells of air in an order along the flow.

    Parameters
    ----------
    cells : array, shape (cells of air,)
        Cell numbers; each comes after all that feed it, as far as that is possible. [-]
    place : array, shape (n,)
        Place of each cell among them, their number in solids. [-]
    ordered : int
        Number of cells that lie neither on nor behind a cycle. [-]
    largest_cycle : int
        Most cells in one strongly connected component, 1 if there is no cycle. [-]
    """

    cells: Places
    place: Places
    ordered: int
    largest_cycle: int


def find_links(
    flux: tuple[FloatArray, FloatArray, FloatArray], solid: BoolArray | None
) -> tuple[Bits, Bits]:
    """Return which cells feed which.

    Parameters
    ----------
    flux : tuple of array
        Carried volume through all faces. [m3/s]
    solid : array of bool, shape (nx, ny, nz), or None
        Blocked cells. [-]

    Returns
    -------
    feeds : array, shape (n,)
        Neighbours that each cell feeds, bit m for neighbour m. [-]
    waiting : array, shape (n,)
        Number of neighbours that feed each cell, 255 in solids. [-]
    """
    shape = (flux[0].shape[0] - 1, *flux[0].shape[1:])
    feeds, waiting = np.zeros((2, *shape), dtype=np.uint8)
    for axis in range(3):
        parts = (slice(None, -1), slice(1, None), slice(1, -1))
        low, high, inner = ((slice(None),) * axis + (part,) for part in parts)
        up, down = flux[axis][inner] > 0.0, flux[axis][inner] < 0.0
        if solid is not None:
            both = ~(solid[low] | solid[high])
            up, down = up & both, down & both
        ahead, back = up.view(np.uint8), down.view(np.uint8)
        feeds[low] |= ahead << (2 * axis + 1)
        feeds[high] |= back << (2 * axis)
        waiting[high] += ahead
        waiting[low] += back
    if solid is not None:
        waiting[solid] = 255
    return feeds.ravel(), waiting.ravel()


def flow_order(feeds: Bits, waiting: Bits, offsets: IntArray) -> FlowOrder:
    """Return the cells in an order along the flow.

    Parameters
    ----------
    feeds : array, shape (n,)
        Neighbours that each cell feeds, bit m for neighbour m. [-]
    waiting : array, shape (n,)
        Number of neighbours that feed each cell, 255 in solids. [-]
    offsets : array, shape (6,)
        From a cell number to those of its neighbours x-, x+, y-, y+, z-, z+. [-]

    Returns
    -------
    FlowOrder
        All cells of air.

    Notes
    -----
    Potential flow runs from high to low potential, so its cells form no cycle and all find a
    place. Where cells circle (possible in the stacked closure, or with variable eddies round
    solids) the cells left over are ordered by strongly connected components, in any order
    within one. Common practice, no source.
    """
    order = np.empty(feeds.size, dtype=np.int32)
    left = waiting.copy()
    placed = order_along_flow(feeds, left, offsets, order)
    air = int(np.count_nonzero(waiting < 255))
    if placed == air:
        return FlowOrder(order[:air], _places(order[:air], feeds.size), placed, 1)
    labels, sizes = _components(feeds, (left > 0) & (waiting < 255), offsets)
    members = np.flatnonzero(labels >= 0)
    members = members[np.argsort(labels[members], kind="stable")]
    first = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    order_components(feeds, offsets, labels, (members.astype(np.int64), first), order, placed)
    place = _places(order[:air], feeds.size)
    return FlowOrder(order[:air], place, placed, int(sizes.max()))


def _places(cells: Places, count: int) -> Places:
    """Return the place of each cell, their number where it has none."""
    place = np.full(count, cells.size, dtype=np.int32)
    place[cells] = np.arange(cells.size, dtype=np.int32)
    return place


def steps_of(shape: tuple[int, int, int]) -> IntArray:
    """Return the steps from a cell number to those of its neighbours.

    Parameters
    ----------
    shape : tuple of int
        Cells along x, y, z. [-]

    Returns
    -------
    array, shape (6,)
        x-, x+, y-, y+, z-, z+. [-]
    """
    x, y = shape[1] * shape[2], shape[2]
    return np.array([-x, x, -y, y, -1, 1], dtype=np.int64)


def _components(feeds: Bits, left: BoolArray, offsets: IntArray) -> tuple[IntArray, IntArray]:
    """Return the strongly connected component of the cells left over, and their sizes."""
    cells = np.flatnonzero(left)
    place = np.full(feeds.size, -1, dtype=np.int64)
    place[cells] = np.arange(cells.size)
    start, end = [], []
    for m in range(6):
        feeding = cells[(feeds[cells] & (1 << m)) != 0]
        start.append(place[feeding])
        end.append(place[feeding + offsets[m]])
    ends = (np.concatenate(start), np.concatenate(end))
    graph = sparse.coo_matrix((np.ones(ends[0].size), ends), shape=(cells.size, cells.size))
    count, found = connected_components(graph.tocsr(), directed=True, connection="strong")
    labels = np.full(feeds.size, -1, dtype=np.int64)
    labels[cells] = found
    return labels, np.bincount(found, minlength=count).astype(np.int64)
