"""Compiled loops of the chamber field. Arrays in, arrays filled."""

from __future__ import annotations

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim._compile import compiled

__all__ = [
    "boundary_sweep",
    "cut_pull",
    "dense_sweep",
    "face_fluxes",
    "label_regions",
    "largest_divergence",
    "unfold",
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
def boundary_sweep(
    out: FloatArray,
    pivots: FloatArray,
    ends: FloatArray,
    outer_walls: FloatArray,
    outer_weights: FloatArray,
    z_walls: FloatArray,
    z_weights: FloatArray,
    uniform: FloatArray,
) -> None:
    """Solve all tridiagonal systems whose right-hand side lives on the walls.

    Parameters
    ----------
    out : array, shape (no, nt, nk)
        Filled with the transformed potential: outer index, elimination axis, z wave.
    pivots : array, shape (no or 1, nt, nk)
        Inverse pivots of the elimination. [-]
    ends : array, shape (2, no, nk)
        Transformed source in the first and last layer of the elimination axis.
    outer_walls : array, shape (2, nt, nk)
        Source in the first and last layer of the outer axis, transformed along z.
    outer_weights : array, shape (2, no)
        Weight of those layers in each outer index. [-]
    z_walls : array, shape (2, no, nt)
        Source in the lowest and highest layer, transformed along the outer axis.
    z_weights : array, shape (2, nk)
        Weight of those layers in each z wave. [-]
    uniform : array, shape (no,)
        Source equal in all cells of an outer index, as the amplitude of the first z wave.
    """
    count, rows, columns = out.shape
    for o in range(count):
        pivot = pivots[o if pivots.shape[0] > 1 else 0]
        p = out[o]
        low_weight, high_weight = outer_weights[0, o], outer_weights[1, o]
        for t in range(rows):
            low, high = z_walls[0, o, t], z_walls[1, o, t]
            for k in range(columns):
                p[t, k] = low * z_weights[0, k] + high * z_weights[1, k]
            if low_weight != 0.0 or high_weight != 0.0:
                for k in range(columns):
                    p[t, k] += (
                        low_weight * outer_walls[0, t, k] + high_weight * outer_walls[1, t, k]
                    )
            p[t, 0] += uniform[o]
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
def unfold(halves: FloatArray, out: FloatArray, both: bool) -> None:
    """Add and subtract the parts of a field that mirror with and without a change of sign.

    Parameters
    ----------
    halves : array, shape (no, nt, nz)
        Along z, and along the outer axis if ``both``, the first half (middle included) is the
        even part; the second half is the odd part in mirrored order.
    out : array, shape (no, nt, nz)
        Filled with the field.
    both : bool
        False if the outer axis is not split. [-]
    """
    no, nt, nz = halves.shape
    for o in range((no + 1) // 2 if both else no):
        mirror = no - 1 - o if both else o
        for t in range(nt):
            if mirror == o:
                for k in range(nz // 2):
                    a, b = halves[o, t, k], halves[o, t, nz - 1 - k]
                    out[o, t, k] = a + b
                    out[o, t, nz - 1 - k] = a - b
                if nz % 2:
                    out[o, t, nz // 2] = halves[o, t, nz // 2]
                continue
            for k in range(nz // 2):
                a, b = halves[o, t, k], halves[o, t, nz - 1 - k]
                c, d = halves[mirror, t, k], halves[mirror, t, nz - 1 - k]
                out[o, t, k] = (a + c) + (b + d)
                out[o, t, nz - 1 - k] = (a + c) - (b + d)
                out[mirror, t, k] = (a - c) + (b - d)
                out[mirror, t, nz - 1 - k] = (a - c) - (b - d)
            if nz % 2:
                a, c = halves[o, t, nz // 2], halves[mirror, t, nz // 2]
                out[o, t, nz // 2] = a + c
                out[mirror, t, nz // 2] = a - c


@compiled
def face_fluxes(
    potential: FloatArray,
    swapped: bool,
    weights: tuple[float, float, float],
    x: FloatArray,
    y: FloatArray,
    z: FloatArray,
) -> None:
    """Fill the inner face fluxes from the potential.

    Parameters
    ----------
    potential : array, shape (nx, ny, nz), or (ny, nx, nz) if swapped
        Potential of each cell.
    swapped : bool
        Whether y comes before x in the potential. [-]
    weights : tuple of float
        Flux per potential difference across a face normal to x, y, z; zero leaves the faces
        normal to x alone.
    x, y, z : array
        Face fluxes, filled on inner faces only. [m3/s]
    """
    no, nt, nz = potential.shape
    wx, wy, wz = weights
    for o in range(no):
        for t in range(nt):
            i, j = (t, o) if swapped else (o, t)
            if i > 0 and wx != 0.0:
                a, b = (o, t - 1) if swapped else (o - 1, t)
                for k in range(nz):
                    x[i, j, k] = wx * (potential[a, b, k] - potential[o, t, k])
            if j > 0:
                a, b = (o - 1, t) if swapped else (o, t - 1)
                for k in range(nz):
                    y[i, j, k] = wy * (potential[a, b, k] - potential[o, t, k])
            for k in range(1, nz):
                z[i, j, k] = wz * (potential[o, t, k - 1] - potential[o, t, k])


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


@compiled
def label_regions(solid: BoolArray, join_x: bool, labels: IntArray, stack: IntArray) -> int:
    """Label the regions of air that solids part.

    Parameters
    ----------
    solid : array of bool, shape (nx, ny, nz)
        Blocked cells. [-]
    join_x : bool
        False to let every x station stand alone. [-]
    labels : array of int, shape (nx * ny * nz,)
        Zero on entry; filled with the region of each cell from 1, 0 in solids. [-]
    stack : array of int, shape (nx * ny * nz,)
        Work space. [-]

    Returns
    -------
    int
        Number of regions. [-]
    """
    nx, ny, nz = solid.shape
    regions = 0
    for seed in range(nx * ny * nz):
        if labels[seed] != 0 or solid[seed // (ny * nz), seed // nz % ny, seed % nz]:
            continue
        regions += 1
        labels[seed] = regions
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            cell = stack[top]
            i, j, k = cell // (ny * nz), cell // nz % ny, cell % nz
            for step in range(0 if join_x else 2, 6):
                a, b, c = i, j, k
                move = 1 if step % 2 else -1
                if step < 2:
                    a += move
                elif step < 4:
                    b += move
                else:
                    c += move
                if a < 0 or b < 0 or c < 0 or a >= nx or b >= ny or c >= nz or solid[a, b, c]:
                    continue
                other = (a * ny + b) * nz + c
                if labels[other] == 0:
                    labels[other] = regions
                    stack[top] = other
                    top += 1
    return regions


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
