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
        Two planes of sources transformed along z; weight of each in every outer index, one of
        them zero.
    upright : tuple of array, shape (3, no, nt) and (2, nk)
        Source of the even and of the odd z waves, and of the first wave besides, transformed
        along the outer axis; weight of each z wave as an even and as an odd one.
    """
    planes, plane_weights = outer
    columns_of_z, z_weights = upright
    count, rows, columns = out.shape
    for local in range(count):
        o = first + local
        pivot = pivots[o if pivots.shape[0] > 1 else 0]
        p = out[local]
        which = 0 if plane_weights[0, o] != 0.0 else 1
        weight = plane_weights[which, o]
        for t in range(rows):
            even, odd = columns_of_z[0, o, t], columns_of_z[1, o, t]
            if t == 0:
                for k in range(columns):
                    source = even * z_weights[0, k] + odd * z_weights[1, k]
                    p[0, k] = ends[0, o, k] + source + weight * planes[which, 0, k]
            else:
                for k in range(columns):
                    source = even * z_weights[0, k] + odd * z_weights[1, k]
                    source += weight * planes[which, t, k]
                    p[t, k] = source + pivot[t - 1, k] * p[t - 1, k]
            if columns_of_z[2, o, t] != 0.0:
                p[t, 0] += columns_of_z[2, o, t]
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
def _fill_x(here: FloatArray, before: FloatArray, i: int, weight: float, x: FloatArray) -> None:
    """Fill the faces between plane i and the one before it."""
    for j in range(here.shape[0]):
        for k in range(here.shape[1]):
            x[i, j, k] = weight * (before[j, k] - here[j, k])


@compiled
def _fill_y(here: FloatArray, i: int, weight: float, y: FloatArray) -> None:
    """Fill the inner faces normal to y in plane i."""
    for j in range(1, here.shape[0]):
        for k in range(here.shape[1]):
            y[i, j, k] = weight * (here[j - 1, k] - here[j, k])


@compiled
def _fill_z(here: FloatArray, i: int, weight: float, walls: FloatArray, z: FloatArray) -> None:
    """Fill the faces normal to z in plane i, floor and ceiling included."""
    nz = here.shape[1]
    for j in range(here.shape[0]):
        z[i, j, 0] = walls[0, i, j]
        for k in range(1, nz):
            z[i, j, k] = weight * (here[j, k - 1] - here[j, k])
        z[i, j, nz] = -walls[1, i, j]


@compiled
def fill_fluxes(
    parts: FloatArray,
    first: int,
    layout: tuple[bool, bool],
    weights: tuple[float, float, float],
    planes: FloatArray,
    walls: tuple[FloatArray, FloatArray, FloatArray],
    faces: tuple[FloatArray, FloatArray, FloatArray],
) -> None:
    """Fill the face fluxes of some x planes from their potential.

    Faces of the left wall are filled with the first plane, those of the right wall with the
    last one.

    Parameters
    ----------
    parts : array, shape (some, ny, nz), or (ny, some, nz) if y is the outer axis
        Potential as even and odd parts, as in `unfold_plane`.
    first : int
        Index of its first x plane; the planes before it have been filled before. [-]
    layout : tuple of bool
        As in `unfold_plane`.
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z; zero leaves the inner
        faces normal to x alone. [m]
    planes : array, shape (2, ny, nz)
        Work space that keeps the last plane from call to call.
    walls : tuple of array, shape (2, ny, nz), (2, nx, nz), (2, nx, ny)
        Inflow through the outer faces, low wall first. [m3/s]
    faces : tuple of array
        Face fluxes normal to x, y, z, filled. [m3/s]
    """
    wx, wy, wz = weights
    x, y, z = faces
    x_walls, y_walls, z_walls = walls
    nx, ny, nz = z_walls.shape[1], planes.shape[1], planes.shape[2]
    count = parts.shape[1] if layout[0] else parts.shape[0]
    for local in range(count):
        i = first + local
        here, before = planes[i % 2], planes[1 - i % 2]
        unfold_plane(parts, local, layout, here)
        if i > 0 and wx != 0.0:
            _fill_x(here, before, i, wx, x)
        _fill_y(here, i, wy, y)
        _fill_z(here, i, wz, z_walls, z)
        for k in range(nz):
            y[i, 0, k] = y_walls[0, i, k]
            y[i, ny, k] = -y_walls[1, i, k]
    for j in range(ny):
        if first == 0:
            for k in range(nz):
                x[0, j, k] = x_walls[0, j, k]
        if first + count == nx:
            for k in range(nz):
                x[nx, j, k] = -x_walls[1, j, k]


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
