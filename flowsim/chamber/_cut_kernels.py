"""Compiled loops about solids. Arrays in, arrays filled."""

from __future__ import annotations

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim._compile import compiled

__all__ = ["cut_faces", "cut_pull", "label_regions"]


@compiled
def _root(parents: IntArray, label: int) -> int:
    """Return the smallest label joined with one, and shorten the way to it."""
    while parents[label] != label:
        parents[label] = parents[parents[label]]
        label = parents[label]
    return label


@compiled
def _join(parents: IntArray, label: int, other: int) -> int:
    """Join two labels, 0 standing for none, and return the smaller one's root."""
    if other == 0:
        return label
    if label == 0:
        return _root(parents, other)
    a, b = _root(parents, label), _root(parents, other)
    low, high = min(a, b), max(a, b)
    parents[high] = low
    return low


@compiled
def _known_label(
    labels: IntArray, parents: IntArray, cell: tuple[int, int, int], join_x: bool
) -> int:
    """Return the label a cell takes from the cells before it along the axes, 0 if from none."""
    i, j, k = cell
    label = 0
    if k > 0:
        label = labels[i, j, k - 1]
    if j > 0 and labels[i, j - 1, k] != label:
        label = _join(parents, label, labels[i, j - 1, k])
    if join_x and i > 0 and labels[i - 1, j, k] != label:
        label = _join(parents, label, labels[i - 1, j, k])
    return int(label)


@compiled
def label_regions(solid: BoolArray, join_x: bool, labels: IntArray, parents: IntArray) -> int:
    """Label the regions of air that solids part.

    Parameters
    ----------
    solid : array of bool, shape (nx, ny, nz)
        Blocked cells. [-]
    join_x : bool
        False to let every x station stand alone. [-]
    labels : array of int, shape (nx, ny, nz)
        Filled with the region of each cell from 1, in the order of their first cells; 0 in
        solids. [-]
    parents : array of int, shape (nx * ny * nz + 1,)
        Work space. [-]

    Returns
    -------
    int
        Number of regions. [-]
    """
    nx, ny, nz = solid.shape
    used = 0
    parents[0] = 0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                label = 0
                if not solid[i, j, k]:
                    label = _known_label(labels, parents, (i, j, k), join_x)
                    if label == 0:
                        used += 1
                        parents[used] = used
                        label = used
                labels[i, j, k] = label
    regions = 0
    for label in range(1, used + 1):  # a root comes before all that it joins
        root = parents[label]
        if root == label:
            regions += 1
            parents[label] = regions
        else:
            parents[label] = parents[root]
    flat = labels.reshape(-1)
    for cell in range(flat.size):
        flat[cell] = parents[flat[cell]]
    return regions


@compiled
def cut_faces(solid: BoolArray, axis: int, cuts: IntArray, inside: IntArray) -> tuple[int, int]:
    """Find the inner faces normal to one axis that touch a solid.

    Parameters
    ----------
    solid : array of bool, shape (nx, ny, nz)
        Blocked cells. [-]
    axis : int
        0, 1, 2 for x, y, z. [-]
    cuts : array of int, shape (4, n)
        Filled with the place of each face between air and solid in the flattened face array,
        of its air cell, of its solid cell, and 1 if the solid lies below, else -1; faces beyond
        n are counted only. [-]
    inside : array of int, shape (m,)
        Filled with the places of faces between two solid cells, likewise. [-]

    Returns
    -------
    tuple of int
        Number of faces of either kind. [-]
    """
    nx, ny, nz = solid.shape
    di, dj, dk = int(axis == 0), int(axis == 1), int(axis == 2)
    step = di * ny * nz + dj * nz + dk
    found = buried = 0
    for i in range(nx - di):
        for j in range(ny - dj):
            for k in range(nz - dk):
                below, above = solid[i, j, k], solid[i + di, j + dj, k + dk]
                if not (below or above):
                    continue
                face = ((i + di) * (ny + dj) + j + dj) * (nz + dk) + k + dk
                cell = (i * ny + j) * nz + k
                if below and above:
                    if buried < inside.shape[0]:
                        inside[buried] = face
                    buried += 1
                    continue
                if found < cuts.shape[1]:
                    cuts[0, found] = face
                    cuts[1, found] = cell + step if below else cell
                    cuts[2, found] = cell if below else cell + step
                    cuts[3, found] = 1 if below else -1
                found += 1
    return found, buried


@compiled
def cut_pull(
    values: FloatArray,
    air: IntArray,
    solid: IntArray,
    weight: FloatArray,
    place: IntArray,
    out: FloatArray,
) -> None:
    """Sum what would flow from air cells into solid ones if their faces were open.

    Parameters
    ----------
    values : array, shape (n,)
        Potential of cells.
    air, solid : array of int, shape (faces,)
        Where the two cells of a cut face stand in ``values``. [-]
    weight : array, shape (faces,)
        Flux per potential difference.
    place : array of int, shape (faces,)
        Which entry of ``out`` the air cell has. [-]
    out : array, shape (cut cells,)
        Filled with the sum of each cut cell.
    """
    for cell in range(out.shape[0]):
        out[cell] = 0.0
    for face in range(air.shape[0]):
        out[place[face]] += weight[face] * (values[air[face]] - values[solid[face]])
