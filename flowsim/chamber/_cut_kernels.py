"""Compiled loops about solids. Arrays in, arrays filled."""

from __future__ import annotations

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim._compile import compiled

__all__ = ["cut_faces", "cut_pull", "gradient_step", "label_regions"]


@compiled
def _root(parents: IntArray, label: int) -> int:
    """Return the smallest label joined with one, and shorten the way to it."""
    while parents[label] != label:
        parents[label] = parents[parents[label]]
        label = parents[label]
    return label


@compiled
def _label_row(solid: BoolArray, i: int, j: int, labels: IntArray, used: int) -> int:
    """Give each run of air along z a label of its own; return the last one used."""
    inside = False
    for k in range(solid.shape[2]):
        if solid[i, j, k]:
            labels[i, j, k] = 0
            inside = False
            continue
        if not inside:
            used += 1
            inside = True
        labels[i, j, k] = used
    return used


@compiled
def _join_rows(labels: IntArray, i: int, j: int, a: int, b: int, parents: IntArray) -> None:
    """Join the runs of two neighbouring rows where air lies beside air."""
    last = other_last = 0
    for k in range(labels.shape[2]):
        label, other = labels[i, j, k], labels[a, b, k]
        if label == 0 or other == 0 or (label == last and other == other_last):
            continue
        last, other_last = label, other
        one, two = _root(parents, label), _root(parents, other)
        parents[max(one, two)] = min(one, two)


@compiled
def _number_roots(parents: IntArray, used: int) -> int:
    """Turn joined labels into numbers of regions; a root comes before all that it joins."""
    regions = 0
    for label in range(1, used + 1):
        root = parents[label]
        if root == label:
            regions += 1
            parents[label] = regions
        else:
            parents[label] = parents[root]
    return regions


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
    nx, ny = solid.shape[0], solid.shape[1]
    used = 0
    for i in range(nx):
        for j in range(ny):
            used = _label_row(solid, i, j, labels, used)
    for label in range(used + 1):
        parents[label] = label
    for i in range(nx):
        for j in range(ny):
            if j > 0:
                _join_rows(labels, i, j, i, j - 1, parents)
            if i > 0 and join_x:
                _join_rows(labels, i, j, i - 1, j, parents)
    regions = _number_roots(parents, used)
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


@compiled
def gradient_step(
    values: FloatArray,
    cells: IntArray,
    faces: tuple[IntArray, IntArray, IntArray],
    weight: FloatArray,
    state: FloatArray,
    before: float,
) -> tuple[float, float]:
    """Take one step of conjugate gradients in the cut cells.

    Parameters
    ----------
    values : array, shape (n,)
        Potential of the plain box for the residual as its source, in the window.
    cells : array of int, shape (cut cells,)
        Where the cut cells stand in ``values``. [-]
    faces : tuple of array of int, shape (faces,)
        Air cell, solid cell and owner of each cut face, as in `cut_pull`. [-]
    weight : array, shape (faces,)
        Flux per potential difference.
    state : array, shape (6, cut cells)
        Residual, sum of all steps, and of the direction: source, potential, pull; last row is
        work space. Changed in place.
    before : float
        Product that the step before returned; 0 at the first step.

    Returns
    -------
    product : float
        Of residual and potential.
    worst : float
        Largest residual after the step.
    """
    residual, total, source, potential, pull, drawn = state
    cut_pull(values, faces[0], faces[1], weight, faces[2], drawn)
    product = 0.0
    for cell in range(cells.shape[0]):
        product += residual[cell] * values[cells[cell]]
    ratio = product / before if before > 0.0 else 0.0
    curvature = 0.0
    for cell in range(cells.shape[0]):
        source[cell] = residual[cell] + ratio * source[cell]
        potential[cell] = values[cells[cell]] + ratio * potential[cell]
        pull[cell] = drawn[cell] + ratio * pull[cell]
        curvature += potential[cell] * (source[cell] - pull[cell])
    length = product / curvature
    worst = 0.0
    for cell in range(cells.shape[0]):
        total[cell] += length * source[cell]
        residual[cell] -= length * (source[cell] - pull[cell])
        worst = max(worst, abs(residual[cell]))
    return product, worst
