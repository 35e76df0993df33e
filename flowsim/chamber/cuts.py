"""Where solids cut the grid: closed faces, what they prescribe, and the regions they part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber._cut_kernels import cut_faces, label_regions
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.grid import WALLS
from flowsim.chamber.walls import WallSources
from flowsim.errors import RangeError

__all__ = [
    "CutFaces",
    "Cuts",
    "cell_sources",
    "check_walls",
    "close_faces",
    "cut_sources",
    "cuts_of_mask",
    "find_cuts",
    "region_imbalance",
]


@dataclass(frozen=True, eq=False)
class CutFaces:
    """The faces normal to one axis that touch a solid, outer faces of the box left out.

    Parameters
    ----------
    face : array of int, shape (n,)
        Faces between air and solid, as places in the flattened face array. [-]
    air, solid : array of int, shape (n,)
        The two cells, as places in the flattened cell array. [-]
    sign : array, shape (n,)
        1 where a positive flux enters the air cell, -1 where it leaves it. [-]
    inside : array of int, shape (m,)
        Faces between two solid cells. [-]
    """

    face: IntArray
    air: IntArray
    solid: IntArray
    sign: FloatArray
    inside: IntArray


@dataclass(frozen=True, eq=False)
class Cuts:
    """Everything about a mask that does not depend on the fluxes.

    Parameters
    ----------
    axes : tuple of CutFaces
        Normal to x, y, z. [-]
    regions : int
        Number of regions of air that are not joined. [-]
    labels : array of int, shape (nx * ny * nz,)
        Region of each cell from 1; 0 in solids. [-]
    air_cells : int
        Number of cells that are not solid. [-]
    """

    axes: tuple[CutFaces, CutFaces, CutFaces]
    regions: int
    labels: IntArray
    air_cells: int


def find_cuts(solid: BoolArray, join_x: bool = True) -> Cuts:
    """Return where solids cut the grid.

    Parameters
    ----------
    solid : array of bool, shape (nx, ny, nz)
        Blocked cells. [-]
    join_x : bool
        False if every x station stands alone, so that regions do not reach across. [-]

    Returns
    -------
    Cuts
        Kept for the last few masks.
    """
    return cuts_of_mask(solid.shape, solid.tobytes(), join_x)


@lru_cache(maxsize=8)
def cuts_of_mask(shape: tuple[int, ...], mask: bytes, join_x: bool) -> Cuts:
    """Return the cuts of a mask given as bytes.

    Parameters
    ----------
    shape : tuple of int
        Cells along x, y, z. [-]
    mask : bytes
        Blocked cells, one byte each, in C order.
    join_x : bool
        As for `find_cuts`. [-]

    Returns
    -------
    Cuts
        Kept for the last few masks.
    """
    solid = np.frombuffer(mask, dtype=np.bool_).reshape(shape)
    labels = np.empty(shape, dtype=np.int64)
    regions = label_regions(solid, join_x, labels, np.empty(solid.size + 1, dtype=np.int64))
    x, y, z = (_cut_axis(solid, axis) for axis in range(3))
    return Cuts((x, y, z), int(regions), labels.reshape(-1), int(solid.size - solid.sum()))


def _cut_axis(solid: BoolArray, axis: int) -> CutFaces:
    """Return the cut faces normal to one axis."""
    none = np.empty((4, 0), dtype=np.int64), np.empty(0, dtype=np.int64)
    found, buried = cut_faces(solid, axis, *none)
    cuts, inside = np.empty((4, found), dtype=np.int64), np.empty(buried, dtype=np.int64)
    cut_faces(solid, axis, cuts, inside)
    return CutFaces(cuts[0], cuts[1], cuts[2], cuts[3].astype(np.float64), inside)


def cut_sources(cuts: Cuts, boundary: FaceFlux) -> FloatArray:
    """Return what each cut face brings into its cell of air.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    boundary : FaceFlux
        Prescribed fluxes; C-ordered arrays. [m3/s]

    Returns
    -------
    array, shape (faces,)
        Inflow positive; faces normal to x, then y, then z. [m3/s]
    """
    pairs = zip(cuts.axes, boundary.axes, strict=True)
    return np.concatenate([axis.sign * values.reshape(-1)[axis.face] for axis, values in pairs])


def cell_sources(cuts: Cuts, sources: FloatArray) -> FloatArray:
    """Return what the cut faces bring into every cell.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    sources : array, shape (faces,)
        As from `cut_sources`. [m3/s]

    Returns
    -------
    array, shape (nx * ny * nz,)
        Inflow positive. [m3/s]
    """
    air = np.concatenate([axis.air for axis in cuts.axes])
    return np.asarray(np.bincount(air, sources, cuts.labels.size), dtype=np.float64)


def close_faces(cuts: Cuts, boundary: FaceFlux, flux: FaceFlux) -> None:
    """Set the faces of solids to what is prescribed, faces inside them to zero.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    boundary : FaceFlux
        Prescribed fluxes. [m3/s]
    flux : FaceFlux
        Changed in place; C-ordered arrays. [m3/s]
    """
    for axis, given, values in zip(cuts.axes, boundary.axes, flux.axes, strict=True):
        flat = values.reshape(-1)
        flat[axis.face] = given.reshape(-1)[axis.face]
        flat[axis.inside] = 0.0


def region_imbalance(cuts: Cuts, sources: FloatArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the balance of each region of air.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    sources : array, shape (nx * ny * nz,)
        What enters each cell. [m3/s]

    Returns
    -------
    net, gross : array, shape (regions,)
        Sum of the sources and of their sizes. [m3/s]
    cells : array of int, shape (regions,)
        Cells in each region. [-]
    """
    labels, count = cuts.labels, cuts.regions + 1
    net = np.asarray(np.bincount(labels, sources, count)[1:], dtype=np.float64)
    gross = np.asarray(np.bincount(labels, np.abs(sources), count)[1:], dtype=np.float64)
    cells: IntArray = np.bincount(labels, minlength=count)[1:]
    return net, gross, cells


def check_walls(solid: BoolArray, walls: WallSources) -> None:
    """Refuse air that is to pass an outer face behind which a solid lies.

    Parameters
    ----------
    solid : array of bool, shape (nx, ny, nz)
        Blocked cells. [-]
    walls : WallSources
        What enters along the walls. [m3/s]

    Raises
    ------
    RangeError
        If a covered face is not zero; the message names the wall.
    """
    layers = (solid[0], solid[-1], solid[:, 0], solid[:, -1], solid[:, :, 0], solid[:, :, -1])
    for name, layer, flux in zip(WALLS, layers, walls.each, strict=True):
        if np.any(flux[layer]):
            raise RangeError(f"air is to pass faces of the {name} that a solid covers")
