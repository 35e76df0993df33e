"""Compiled loops of the chamber field. Arrays in, arrays filled."""

from __future__ import annotations

from flowsim._arrays import BoolArray, FloatArray
from flowsim._compile import compiled

__all__ = [
    "boundary_sweep",
    "dense_sweep",
    "fill_fluxes",
    "gather_walls",
    "largest_divergence",
    "unfold",
    "unfold_planes",
]


@compiled
def _substitute_back(p: FloatArray, pivot: FloatArray) -> None:
    """Finish the elimination of one outer index in place; both arrays (nt, nk)."""
    rows, columns = p.shape
    for k in range(columns):
        p[rows - 1, k] *= pivot[rows - 1, k]
    for t in range(rows - 2, -1, -1):
        for k in range(columns):
            p[t, k] = pivot[t, k] * (p[t, k] + p[t + 1, k])


@compiled
def gather_walls(
    x: FloatArray,
    y: FloatArray,
    z: FloatArray,
    walls: tuple[FloatArray, FloatArray, FloatArray],
    sizes: FloatArray,
) -> float:
    """Copy the flux of the outer faces, inflow positive.

    Parameters
    ----------
    x, y, z : array
        Fluxes of all faces. [m3/s]
    walls : tuple of array, shape (2, ny, nz), (2, nx, nz), (2, nx, ny)
        Filled, low wall first. [m3/s]
    sizes : array, shape (6,)
        Filled with the sum of absolute fluxes of each wall. [m3/s]

    Returns
    -------
    float
        Net inflow. [m3/s]
    """
    nx, ny, nz = y.shape[0], x.shape[1], x.shape[2]
    x_walls, y_walls, z_walls = walls
    net = 0.0
    for wall in range(6):
        sizes[wall] = 0.0
    for j in range(ny):
        for k in range(nz):
            low, high = x[0, j, k], -x[nx, j, k]
            x_walls[0, j, k], x_walls[1, j, k] = low, high
            net += low + high
            sizes[0] += abs(low)
            sizes[1] += abs(high)
    for i in range(nx):
        for k in range(nz):
            low, high = y[i, 0, k], -y[i, ny, k]
            y_walls[0, i, k], y_walls[1, i, k] = low, high
            net += low + high
            sizes[2] += abs(low)
            sizes[3] += abs(high)
        for j in range(ny):
            low, high = z[i, j, 0], -z[i, j, nz]
            z_walls[0, i, j], z_walls[1, i, j] = low, high
            net += low + high
            sizes[4] += abs(low)
            sizes[5] += abs(high)
    return net


@compiled
def boundary_sweep(
    out: FloatArray,
    first: int,
    pivots: FloatArray,
    ends: FloatArray,
    outer: tuple[FloatArray, FloatArray],
    upright: tuple[FloatArray, FloatArray],
) -> None:
    """Solve the tridiagonal systems of some outer indices, whose sources lie on the walls.

    Parameters
    ----------
    out : array, shape (some, nt, nk)
        Filled with the transformed potential of the outer indices from ``first`` on.
    first : int
        First outer index. [-]
    pivots : array, shape (no or 1, nt, nk)
        Inverse pivots of the elimination. [-]
    ends : array, shape (2, no, nk)
        Transformed source in the first and last layer of the elimination axis.
    outer : tuple of array, shape (2, nt, nk) and (2, no)
        Source in the first and last layer of the outer axis, transformed along z; weight of
        those layers in each outer index.
    upright : tuple of array, shape (3, no, nt) and (3, nk)
        Source in the lowest and highest layer and in all layers, transformed along the outer
        axis; weight of those layers in each z wave.
    """
    outer_walls, outer_weights = outer
    z_walls, z_weights = upright
    count, rows, columns = out.shape
    for local in range(count):
        o = first + local
        pivot = pivots[o if pivots.shape[0] > 1 else 0]
        p = out[local]
        left, right = outer_weights[0, o], outer_weights[1, o]
        for t in range(rows):
            low, high, even = z_walls[0, o, t], z_walls[1, o, t], z_walls[2, o, t]
            for k in range(columns):
                p[t, k] = (
                    low * z_weights[0, k]
                    + high * z_weights[1, k]
                    + even * z_weights[2, k]
                    + left * outer_walls[0, t, k]
                    + right * outer_walls[1, t, k]
                )
        for k in range(columns):
            p[0, k] += ends[0, o, k]
            p[rows - 1, k] += ends[1, o, k]
        for t in range(1, rows):
            for k in range(columns):
                p[t, k] += pivot[t - 1, k] * p[t - 1, k]
        _substitute_back(p, pivot)


@compiled
def dense_sweep(out: FloatArray, pivots: FloatArray) -> None:
    """Solve all tridiagonal systems in place.

    Parameters
    ----------
    out : array, shape (no, nt, nk)
        Right-hand side on entry, solution on return.
    pivots : array, shape (no or 1, nt, nk)
        Inverse pivots of the elimination. [-]
    """
    count, rows, columns = out.shape
    for o in range(count):
        pivot = pivots[o if pivots.shape[0] > 1 else 0]
        p = out[o]
        for t in range(1, rows):
            for k in range(columns):
                p[t, k] += pivot[t - 1, k] * p[t - 1, k]
        _substitute_back(p, pivot)


@compiled
def unfold_planes(
    halves: FloatArray, o: int, mirror: int, fold: bool, low: FloatArray, high: FloatArray
) -> None:
    """Put together one plane of a field and its mirror image from even and odd parts.

    Parameters
    ----------
    halves : array, shape (no, nt, nz)
        Along z (if ``fold``) the first half, middle included, is the even part, the second
        half the odd part in mirrored order; along the outer axis likewise if ``mirror`` is
        another plane than ``o``.
    o, mirror : int
        Outer index of the plane and of its image. [-]
    fold : bool
        Whether z is split. [-]
    low, high : array, shape (nt, nz)
        Filled with both planes; the second only if it is another. [-]
    """
    nt, nz = low.shape
    half = nz // 2 if fold else 0
    for t in range(nt):
        if mirror == o:
            for k in range(half):
                a, b = halves[o, t, k], halves[o, t, nz - 1 - k]
                low[t, k] = a + b
                low[t, nz - 1 - k] = a - b
            for k in range(half, nz - half):
                low[t, k] = halves[o, t, k]
            continue
        for k in range(half):
            a, b = halves[o, t, k], halves[o, t, nz - 1 - k]
            c, d = halves[mirror, t, k], halves[mirror, t, nz - 1 - k]
            low[t, k] = (a + c) + (b + d)
            low[t, nz - 1 - k] = (a + c) - (b + d)
            high[t, k] = (a - c) + (b - d)
            high[t, nz - 1 - k] = (a - c) - (b - d)
        for k in range(half, nz - half):
            a, c = halves[o, t, k], halves[mirror, t, k]
            low[t, k] = a + c
            high[t, k] = a - c


@compiled
def unfold(halves: FloatArray, fold_outer: bool, fold: bool, out: FloatArray) -> None:
    """Put a field together from even and odd parts.

    Parameters
    ----------
    halves : array, shape (no, nt, nz)
        As in `unfold_planes`.
    fold_outer, fold : bool
        Whether the outer axis and z are split. [-]
    out : array, shape (no, nt, nz)
        Filled with the field.
    """
    no = halves.shape[0]
    for o in range((no + 1) // 2 if fold_outer else no):
        mirror = no - 1 - o if fold_outer else o
        unfold_planes(halves, o, mirror, fold, out[o], out[mirror])


@compiled
def _plane_fluxes(
    plane: FloatArray,
    o: int,
    swapped: bool,
    weights: tuple[float, float, float],
    walls: FloatArray,
    faces: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Fill the faces within one plane of constant outer index, and its floor and ceiling."""
    nt, nz = plane.shape
    wx, wy, wz = weights
    x, y, z = faces
    for t in range(nt):
        i, j = (t, o) if swapped else (o, t)
        if t > 0 and swapped:
            for k in range(nz):
                x[i, j, k] = wx * (plane[t - 1, k] - plane[t, k])
        elif t > 0:
            for k in range(nz):
                y[i, j, k] = wy * (plane[t - 1, k] - plane[t, k])
        z[i, j, 0] = walls[0, i, j]
        for k in range(1, nz):
            z[i, j, k] = wz * (plane[t, k - 1] - plane[t, k])
        z[i, j, nz] = -walls[1, i, j]


@compiled
def _outer_fluxes(
    before: FloatArray,
    after: FloatArray,
    face: int,
    swapped: bool,
    weights: tuple[float, float, float],
    faces: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Fill the faces between two planes."""
    nt, nz = before.shape
    wx, wy, _ = weights
    x, y, _ = faces
    for t in range(nt):
        if swapped:
            for k in range(nz):
                y[t, face, k] = wy * (before[t, k] - after[t, k])
        else:
            for k in range(nz):
                x[face, t, k] = wx * (before[t, k] - after[t, k])


@compiled
def fill_fluxes(
    halves: FloatArray,
    first: int,
    layout: tuple[bool, bool, bool, bool],
    weights: tuple[float, float, float],
    planes: FloatArray,
    walls: FloatArray,
    faces: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Fill the face fluxes, those of the upright outer walls left out, from a potential.

    Parameters
    ----------
    halves : array, shape (some, nt, nz)
        Potential as even and odd parts as in `unfold_planes`; all planes, if the outer axis is
        split or joined.
    first : int
        Outer index of its first plane. [-]
    layout : tuple of bool
        Whether y is the outer axis instead of x; whether the outer axis is split; whether z is;
        whether the planes are joined - if not, faces normal to the outer axis are left alone.
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z. [m]
    planes : array, shape (4, nt, nz)
        Work space.
    walls : array, shape (2, nx, ny)
        Inflow through the floor and the ceiling. [m3/s]
    faces : tuple of array
        Face fluxes normal to x, y, z, filled. [m3/s]
    """
    no = halves.shape[0]
    swapped, fold_outer, fold, joined = layout
    for o in range((no + 1) // 2 if fold_outer else no):
        mirror = no - 1 - o if fold_outer else o
        low, high = planes[o % 2], planes[2 + o % 2]
        before, behind = planes[1 - o % 2], planes[3 - o % 2]
        unfold_planes(halves, o, mirror, fold, low, high)
        _plane_fluxes(low, first + o, swapped, weights, walls, faces)
        if joined and o > 0:
            _outer_fluxes(before, low, o, swapped, weights, faces)
        if mirror != o:
            _plane_fluxes(high, mirror, swapped, weights, walls, faces)
            if o > 0:
                _outer_fluxes(high, behind, mirror + 1, swapped, weights, faces)
            if mirror == o + 1:
                _outer_fluxes(low, high, mirror, swapped, weights, faces)
        elif fold_outer and o > 0:
            _outer_fluxes(low, behind, o + 1, swapped, weights, faces)


@compiled
def largest_divergence(
    x: FloatArray, y: FloatArray, z: FloatArray, solid: BoolArray, masked: bool
) -> float:
    """Return the largest net outflow of a cell.

    Parameters
    ----------
    x, y, z : array
        Face fluxes. [m3/s]
    solid : array of bool, shape (nx, ny, nz) or (1, 1, 1)
        Cells to leave out, read only if ``masked``. [-]
    masked : bool
        Whether there are any. [-]

    Returns
    -------
    float
        Largest absolute sum over the six faces. [m3/s]
    """
    nx, ny, nz = y.shape[0], x.shape[1], x.shape[2]
    worst = 0.0
    for i in range(nx):
        for j in range(ny):
            for k in range(nz):
                if masked and solid[i, j, k]:
                    continue
                net = x[i + 1, j, k] - x[i, j, k] + y[i, j + 1, k] - y[i, j, k]
                net += z[i, j, k + 1] - z[i, j, k]
                worst = max(worst, abs(net))
    return worst
