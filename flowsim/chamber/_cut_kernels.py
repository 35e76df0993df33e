"""Compiled loops about solids. Arrays in, arrays filled."""

from __future__ import annotations

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim._compile import compiled

__all__ = ["cut_pull", "label_regions"]


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
