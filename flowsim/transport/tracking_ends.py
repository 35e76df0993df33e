"""Where particles end: named faces of walls and objects, and level patches on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.chamber.grid import WALLS, Box, Grid, box_cells
from flowsim.errors import RangeError
from flowsim.transport.faces import FaceArrays, Faces, face_shapes, faces_of_solids, wall_faces
from flowsim.transport.operator import ELSEWHERE
from flowsim.transport.release import layer_above

__all__ = [
    "AIRBORNE",
    "OBJECTS",
    "UNFINISHED",
    "Patch",
    "box_faces",
    "names_of_ends",
    "plain_exits",
]

OBJECTS = "objects"
"""Name under which all solids count when no exits are given. [-]"""
AIRBORNE = "airborne"
"""Name of what is still in the air at the time limit. [-]"""
UNFINISHED = "unfinished"
"""Name of what had not ended after the largest number of steps. [-]"""

_DOWN = 4  # the lower side of a cell


@dataclass(frozen=True)
class Patch:
    """A level rectangle, such as a workpiece, on the floor or on top of a solid.

    Parameters
    ----------
    name : str
        Under which it is counted. [-]
    x0, x1, y0, y1 : float
        Lower and upper limit along x and y. [m]
    height : float
        Of the surface it lies on; the cell face that an object up to there gets counts. [m]

    Raises
    ------
    RangeError
        If an upper limit is not above its lower one.
    """

    name: str
    x0: float
    x1: float
    y0: float
    y1: float
    height: float = 0.0

    def __post_init__(self) -> None:
        if not (self.x1 > self.x0 and self.y1 > self.y0):
            raise RangeError(
                f"patch '{self.name}' must have x1 > x0 and y1 > y0, got {self.x0} to {self.x1} m "
                f"and {self.y0} to {self.y1} m"
            )

    @property
    def area(self) -> float:
        """Area. [m2]."""
        return (self.x1 - self.x0) * (self.y1 - self.y0)


def box_faces(grid: Grid, box: Box) -> FaceArrays:
    """Return the mask of the faces between a solid box and the air.

    Parameters
    ----------
    grid : Grid
        The cells, with the box in its mask. [-]
    box : Box
        The solid block. [m]

    Returns
    -------
    FaceArrays
        1 on its faces, else 0. [-]

    Raises
    ------
    RangeError
        If the box vanishes on this grid.
    """
    cells = box_cells(grid, box)
    arrays = [np.zeros(shape) for shape in face_shapes(grid.shape)]
    for axis, free in enumerate(faces_of_solids(grid).axes):
        for place in (cells[axis].start, cells[axis].stop):
            index: list[slice | int] = list(cells)
            index[axis] = place
            arrays[axis][tuple(index)] = free[tuple(index)]
    return FaceArrays(*arrays)


def plain_exits(grid: Grid) -> dict[str, Faces]:
    """Return the six walls and the solids as exits.

    Parameters
    ----------
    grid : Grid
        The cells. [-]

    Returns
    -------
    dict of str to FaceArrays
        Masks under the names of the walls and ``objects``. [-]
    """
    exits: dict[str, Faces] = {wall: wall_faces(grid, wall) for wall in WALLS}
    if grid.solid is not None:
        exits[OBJECTS] = faces_of_solids(grid)
    return exits


def check_patches(grid: Grid, patches: Sequence[Patch], taken: Sequence[str]) -> None:
    """Refuse patches under which no surface lies, or with a name that is in use.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    patches : sequence of Patch
        The rectangles. [m]
    taken : sequence of str
        Names in use. [-]

    Raises
    ------
    RangeError
        As said.
    """
    names = set(taken)
    for patch in patches:
        if patch.name in names:
            raise RangeError(f"the name '{patch.name}' of a patch is taken")
        names.add(patch.name)
        if not _lies(grid, patch):
            layer = layer_above(grid, patch.height) * grid.dz
            raise RangeError(
                f"patch '{patch.name}' at height {patch.height} m lies on no surface; the nearest "
                f"cell face is at {layer:.6g} m"
            )


def _lies(grid: Grid, patch: Patch) -> bool:
    """Return whether a level surface under air lies under some of a patch."""
    layer = layer_above(grid, patch.height)
    if not 0 <= layer < grid.nz:
        return False
    x, y, _ = grid.edges
    under = np.outer(
        (x[1:] > patch.x0) & (x[:-1] < patch.x1), (y[1:] > patch.y0) & (y[:-1] < patch.y1)
    )
    surface = grid.fluid[:, :, layer]
    if layer:
        surface = surface & ~grid.fluid[:, :, layer - 1]
    return bool(np.any(surface & under))


_Sides = list[tuple[IntArray, int, tuple[IntArray, ...]]]


def _by_side(cells: tuple[IntArray, ...], sides: IntArray) -> _Sides:
    """Return which particles ended at a side, the axis, and the index of their faces."""
    out = []
    for side in range(6):
        there = np.flatnonzero(sides == side)
        if there.size:
            index = [along[there] for along in cells]
            index[side // 2] = index[side // 2] + side % 2
            out.append((there, side // 2, tuple(index)))
    return out


def _shares(grid: Grid, faces: Faces, ended: _Sides, count: int) -> FloatArray:
    """Return the share of an exit in the face at which each particle ended."""
    out = np.zeros(count)
    for values, shape in zip(faces.axes, face_shapes(grid.shape), strict=True):
        if values.shape != shape:
            raise RangeError(f"an exit has faces {values.shape} where the grid has {shape}")
    for there, axis, index in ended:
        out[there] = faces.axes[axis][index]
    return out


def names_of_ends(
    grid: Grid,
    ends: tuple[IntArray, IntArray, FloatArray],
    exits: Mapping[str, Faces],
    patches: Sequence[Patch],
    draw: FloatArray,
) -> tuple[tuple[str, ...], IntArray]:
    """Return under which name each particle counts.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    ends : tuple of array
        Cell (n,), side of it met or -1 still airborne or -2 unfinished (n,) [-], and place
        (n, 3) [m].
    exits : mapping of str to FaceArrays
        Masks, or shares of a face. [-]
    patches : sequence of Patch
        What comes down within one of them counts there. [m]
    draw : array, shape (n,)
        A number from 0 to 1 each, which settles by which of several exits that share a face. [-]

    Returns
    -------
    names : tuple of str
        Exits, patches, ``elsewhere``, ``airborne``, ``unfinished``.
    index : array of int, shape (n,)
        Place in the names. [-]

    Raises
    ------
    RangeError
        If exits together take more than all of what leaves by a face.
    """
    cell, side, place = ends
    names = (*exits, *(patch.name for patch in patches), ELSEWHERE, AIRBORNE, UNFINISHED)
    index = np.where(side == -1, len(names) - 2, np.where(side == -2, len(names) - 1, -1))
    ended = np.flatnonzero(side >= 0)
    cells = tuple(part.astype(np.int64) for part in np.unravel_index(cell[ended], grid.shape))
    sides, total = side[ended], np.zeros(ended.size)
    found = np.full(ended.size, len(names) - 3)
    places = _by_side(cells, sides)
    for number, faces in enumerate(exits.values()):
        before, total = total, total + _shares(grid, faces, places, ended.size)
        found[(draw[ended] > before) & (draw[ended] <= total)] = number
    if total.size and total.max() > 1.0 + 1e-12:
        raise RangeError(
            f"exits overlap: on a face they take {total.max():.6g} of what leaves by it"
        )
    for number, patch in enumerate(patches, start=len(exits)):
        level = cells[2] == layer_above(grid, patch.height)
        x, y = place[ended, 0], place[ended, 1]
        inside = (x >= patch.x0) & (x < patch.x1) & (y >= patch.y0) & (y < patch.y1)
        found[inside & level & (sides == _DOWN)] = number
    index[ended] = found
    return names, index
