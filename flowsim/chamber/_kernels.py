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
    "unfold_plane",
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
            if t == 0:
                for k in range(columns):
                    p[0, k] = (
                        ends[0, o, k]
                        + low * z_weights[0, k]
                        + high * z_weights[1, k]
                        + even * z_weights[2, k]
                        + left * outer_walls[0, 0, k]
                        + right * outer_walls[1, 0, k]
                    )
                continue
            for k in range(columns):
                p[t, k] = (
                    low * z_weights[0, k]
                    + high * z_weights[1, k]
                    + even * z_weights[2, k]
                    + left * outer_walls[0, t, k]
                    + right * outer_walls[1, t, k]
                    + pivot[t - 1, k] * p[t - 1, k]
                )
        for k in range(columns):
            p[rows - 1, k] += ends[1, o, k]
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
def _plane_of_both(parts: FloatArray, i: int, out: FloatArray) -> None:
    """Put x plane i together from an array (ny, nx, nz) split along y and z."""
    ny, nz = out.shape
    for j in range((ny + 1) // 2):
        m = ny - 1 - j
        if m == j:
            for k in range(nz // 2):
                a, b = parts[j, i, k], parts[j, i, nz - 1 - k]
                out[j, k] = a + b
                out[j, nz - 1 - k] = a - b
            if nz % 2:
                out[j, nz // 2] = parts[j, i, nz // 2]
            continue
        for k in range(nz // 2):
            a = parts[j, i, k] + parts[m, i, k]
            b = parts[j, i, nz - 1 - k] + parts[m, i, nz - 1 - k]
            out[j, k] = a + b
            out[j, nz - 1 - k] = a - b
            a = parts[j, i, k] - parts[m, i, k]
            b = parts[j, i, nz - 1 - k] - parts[m, i, nz - 1 - k]
            out[m, k] = a + b
            out[m, nz - 1 - k] = a - b
        if nz % 2:
            out[j, nz // 2] = parts[j, i, nz // 2] + parts[m, i, nz // 2]
            out[m, nz // 2] = parts[j, i, nz // 2] - parts[m, i, nz // 2]


@compiled
def _plane_of_z(parts: FloatArray, i: int, out: FloatArray) -> None:
    """Put x plane i together from an array (nx, ny, nz) split along z."""
    ny, nz = out.shape
    for j in range(ny):
        for k in range(nz // 2):
            a, b = parts[i, j, k], parts[i, j, nz - 1 - k]
            out[j, k] = a + b
            out[j, nz - 1 - k] = a - b
        if nz % 2:
            out[j, nz // 2] = parts[i, j, nz // 2]


@compiled
def unfold_plane(parts: FloatArray, i: int, layout: tuple[bool, bool], out: FloatArray) -> None:
    """Put one x plane of a field together from even and odd parts.

    Parameters
    ----------
    parts : array, shape (nx, ny, nz), or (ny, nx, nz) if y is the outer axis
        Along a split axis the first half, middle included, is the even part; the second half
        is the odd part in mirrored order.
    i : int
        Which plane. [-]
    layout : tuple of bool
        Whether y is the outer axis; whether z is split, and the outer axis too if it is y.
    out : array, shape (ny, nz)
        Filled with the plane.
    """
    swapped, split = layout
    if split and swapped:
        _plane_of_both(parts, i, out)
    elif split:
        _plane_of_z(parts, i, out)
    else:
        for j in range(out.shape[0]):
            a, b = (j, i) if swapped else (i, j)
            for k in range(out.shape[1]):
                out[j, k] = parts[a, b, k]


@compiled
def fill_fluxes(
    parts: FloatArray,
    first: int,
    layout: tuple[bool, bool],
    weights: tuple[float, float, float],
    planes: FloatArray,
    walls: FloatArray,
    faces: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Fill the face fluxes, those of the upright outer walls left out, from a potential.

    Parameters
    ----------
    parts : array, shape (some, ny, nz), or (ny, nx, nz) if y is the outer axis
        Potential as even and odd parts, as in `unfold_plane`.
    first : int
        Index of its first x plane. [-]
    layout : tuple of bool
        As in `unfold_plane`.
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z; zero leaves the faces
        normal to x alone. [m]
    planes : array, shape (2, ny, nz)
        Work space.
    walls : array, shape (2, nx, ny)
        Inflow through the floor and the ceiling. [m3/s]
    faces : tuple of array
        Face fluxes normal to x, y, z, filled. [m3/s]
    """
    wx, wy, wz = weights
    x, y, z = faces
    ny, nz = planes.shape[1], planes.shape[2]
    count = parts.shape[1] if layout[0] else parts.shape[0]
    for local in range(count):
        i = first + local
        here, before = planes[local % 2], planes[1 - local % 2]
        unfold_plane(parts, local, layout, here)
        if local > 0 and wx != 0.0:
            for j in range(ny):
                for k in range(nz):
                    x[i, j, k] = wx * (before[j, k] - here[j, k])
        for j in range(ny):
            if j > 0:
                for k in range(nz):
                    y[i, j, k] = wy * (here[j - 1, k] - here[j, k])
            z[i, j, 0] = walls[0, i, j]
            for k in range(1, nz):
                z[i, j, k] = wz * (here[j, k - 1] - here[j, k])
            z[i, j, nz] = -walls[1, i, j]


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
