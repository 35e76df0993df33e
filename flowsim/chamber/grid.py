"""The one grid of the chamber: equal cells in a box, some of them blocked by solids."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim.errors import RangeError

__all__ = ["WALLS", "Box", "Grid", "box_cells", "overlap", "wall_axes", "wall_patch", "with_boxes"]

WALLS = ("left", "right", "front", "back", "floor", "ceiling")
"""Names of the six walls, in the order low x, high x, low y, high y, low z, high z."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Equal cells that fill a box, axes x (width), y (depth), z (height).

    Parameters
    ----------
    nx, ny, nz : int
        Number of cells along each axis, at least 1. [-]
    width, depth, height : float
        Size of the box along x, y, z. [m]
    solid : array of bool, shape (nx, ny, nz), or None
        Cells that air cannot enter; None when there is none. [-]

    Raises
    ------
    RangeError
        If a count is below 1, a size is not a positive number, the mask has another shape, or
        no cell is left for the air.
    """

    nx: int
    ny: int
    nz: int
    width: float
    depth: float
    height: float
    solid: BoolArray | None = None

    def __post_init__(self) -> None:
        if min(self.shape) < 1:
            raise RangeError(f"a grid needs at least 1 cell along each axis, got {self.shape}")
        if not all(np.isfinite(size) and size > 0.0 for size in self.size):
            raise RangeError(f"width, depth and height must be positive, got {self.size} m")
        self._check_solid()

    def _check_solid(self) -> None:
        if self.solid is None:
            return
        if self.solid.shape != self.shape or self.solid.dtype != np.bool_:
            raise RangeError(
                f"solid must be a mask of shape {self.shape}, "
                f"got {self.solid.dtype} of shape {self.solid.shape}"
            )
        if self.solid.all():
            raise RangeError("solids fill every cell: no room is left for the air")
        if not self.solid.any():
            object.__setattr__(self, "solid", None)

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells along x, y, z. [-]."""
        return (self.nx, self.ny, self.nz)

    @property
    def size(self) -> tuple[float, float, float]:
        """Width, depth and height. [m]."""
        return (self.width, self.depth, self.height)

    @property
    def cells(self) -> int:
        """Number of cells, solid ones included. [-]."""
        return self.nx * self.ny * self.nz

    @property
    def spacing(self) -> tuple[float, float, float]:
        """Cell size along x, y, z. [m]."""
        return (self.width / self.nx, self.depth / self.ny, self.height / self.nz)

    @property
    def dx(self) -> float:
        """Cell size along x. [m]."""
        return self.width / self.nx

    @property
    def dy(self) -> float:
        """Cell size along y. [m]."""
        return self.depth / self.ny

    @property
    def dz(self) -> float:
        """Cell size along z. [m]."""
        return self.height / self.nz

    @property
    def edges(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Positions of the cell faces along x, y, z, ascending from 0. [m]."""
        x, y, z = (
            np.asarray(np.linspace(0.0, size, count + 1), dtype=np.float64)
            for count, size in zip(self.shape, self.size, strict=True)
        )
        return (x, y, z)

    @property
    def centres(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Positions of the cell centres along x, y, z. [m]."""
        x, y, z = (
            (np.arange(count, dtype=np.float64) + 0.5) * step
            for count, step in zip(self.shape, self.spacing, strict=True)
        )
        return (x, y, z)

    @property
    def face_areas(self) -> tuple[float, float, float]:
        """Area of one cell face normal to x, y, z. [m2]."""
        dx, dy, dz = self.spacing
        return (dy * dz, dx * dz, dx * dy)

    @property
    def fluid(self) -> BoolArray:
        """Cells that air can enter, shape (nx, ny, nz). [-]."""
        if self.solid is None:
            return np.ones(self.shape, dtype=np.bool_)
        return ~self.solid


@dataclass(frozen=True)
class Box:
    """A solid block with faces along the axes.

    Parameters
    ----------
    x0, x1, y0, y1, z0, z1 : float
        Lower and upper limit along x, y, z. [m]

    Raises
    ------
    RangeError
        If an upper limit is not above its lower one.
    """

    x0: float
    x1: float
    y0: float
    y1: float
    z0: float
    z1: float

    def __post_init__(self) -> None:
        for axis, (low, high) in zip("xyz", self.limits, strict=True):
            if not high > low:
                raise RangeError(f"a box must have {axis}1 > {axis}0, got {low} m to {high} m")

    @property
    def limits(self) -> tuple[tuple[float, float], ...]:
        """Lower and upper limit along x, y, z. [m]."""
        return ((self.x0, self.x1), (self.y0, self.y1), (self.z0, self.z1))


def overlap(edges: FloatArray, start: float, end: float) -> FloatArray:
    """Return the length of each cell that an interval covers.

    Parameters
    ----------
    edges : array, shape (n + 1,)
        Ascending cell edges. [m]
    start, end : float
        Ends of the interval; parts outside the cells cover nothing. [m]

    Returns
    -------
    array, shape (n,)
        Covered length of each cell. [m]

    Raises
    ------
    RangeError
        If the interval ends before it starts.
    """
    if end < start:
        raise RangeError(f"an interval must not end before it starts, got {start} m to {end} m")
    low = np.maximum(edges[:-1], start)
    high = np.minimum(edges[1:], end)
    covered: FloatArray = np.maximum(high - low, 0.0)
    return covered


def wall_axes(wall: str) -> tuple[int, int, int]:
    """Return the axis normal to a wall and the two axes along it.

    Parameters
    ----------
    wall : str
        left, right, front, back, floor or ceiling. [-]

    Returns
    -------
    tuple of int
        Normal axis, first and second axis along the wall; 0, 1, 2 for x, y, z. [-]

    Raises
    ------
    RangeError
        If there is no such wall.
    """
    if wall not in WALLS:
        raise RangeError(f"unknown wall '{wall}', expected one of {', '.join(WALLS)}")
    normal = WALLS.index(wall) // 2
    along = [axis for axis in range(3) if axis != normal]
    return normal, along[0], along[1]


def wall_patch(grid: Grid, wall: str, a0: float, a1: float, b0: float, b1: float) -> FloatArray:
    """Return the area of each face of a wall that a rectangle covers.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    wall : str
        left, right (faces along y, z), front, back (x, z), floor or ceiling (x, y). [-]
    a0, a1 : float
        Start and end of the rectangle along the first axis of the wall. [m]
    b0, b1 : float
        Start and end along the second axis. [m]

    Returns
    -------
    array, shape (n first, n second)
        Covered area of each wall face. [m2]

    Raises
    ------
    RangeError
        If the wall is unknown or an interval ends before it starts.
    """
    _, axis_a, axis_b = wall_axes(wall)
    edges = grid.edges
    return np.outer(overlap(edges[axis_a], a0, a1), overlap(edges[axis_b], b0, b1))


def box_cells(grid: Grid, box: Box) -> tuple[slice, slice, slice]:
    """Return the cells whose centre lies inside a box.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    box : Box
        The block. [m]

    Returns
    -------
    tuple of slice
        Index ranges along x, y, z. [-]

    Raises
    ------
    RangeError
        If the box holds no cell centre, so that it would vanish.
    """
    ranges = []
    for axis, (low, high) in enumerate(box.limits):
        centres = grid.centres[axis]
        slack = 1e-9 * grid.spacing[axis]
        start = int(np.searchsorted(centres, low - slack))
        end = int(np.searchsorted(centres, high - slack))
        if end <= start:
            raise RangeError(
                f"a solid box from {low:g} m to {high:g} m along {'xyz'[axis]} holds no cell "
                f"centre: it would vanish in cells of {grid.spacing[axis]:.3g} m; use more cells "
                "along that axis or leave the box out"
            )
        ranges.append(slice(start, end))
    return ranges[0], ranges[1], ranges[2]


def with_boxes(grid: Grid, boxes: Sequence[Box]) -> BoolArray:
    """Return the mask of cells that boxes block.

    Parameters
    ----------
    grid : Grid
        The cells; a mask it already has is kept. [-]
    boxes : sequence of Box
        The blocks; a cell is blocked when its centre lies inside one. [m]

    Returns
    -------
    array of bool, shape (nx, ny, nz)
        True in blocked cells. [-]

    Raises
    ------
    RangeError
        If a box is thinner than a cell and holds no cell centre.
    """
    mask = np.zeros(grid.shape, dtype=np.bool_) if grid.solid is None else grid.solid.copy()
    for box in boxes:
        mask[box_cells(grid, box)] = True
    return mask
