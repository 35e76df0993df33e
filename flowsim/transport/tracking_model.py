"""How particles move, and what that means cell by cell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError
from flowsim.transport.faces import FaceArrays, Faces, face_shapes
from flowsim.transport.tracking_cells import (
    Cells,
    by_side,
    closed_faces,
    face_means,
    free_cells,
    normal_strips,
    side_rates,
)

__all__ = ["Walk", "prepare"]

_EVEN_REACH = 0.25  # of h2/D: largest step time with even diffusivity
_UNEVEN_REACH = 0.04  # the same with uneven diffusivity
_EDDY_REACH = 0.7  # cells an eddy may carry in a step
_EDDY_LIFE = 0.5  # of the life of eddies, largest step time


@dataclass(frozen=True, eq=False)
class Walk:
    """How particles move, and what walls and openings take of them.

    Parameters
    ----------
    diffusivity : float, array of shape (nx, ny, nz), or FaceArrays
        Molecular (Brownian) and eddy diffusivity together; with values per cell a face takes the
        mean of its cells. [m2/s]
    settling : float
        Settling velocity, downward. [m/s]
    deposition : float, FaceArrays or None
        Deposition velocity, settling included: faces that look up take at least what settles. A
        number holds for all closed faces. Infinite on a face that absorbs. [m/s]
    exchange : FaceArrays or None
        Flow that passes each face both ways besides the mean flow. [m3/s]
    eddy_time : float
        Life of the eddies (Lagrangian integral time); 0 for a plain walk. [s]
    cell_fraction : float
        Largest part of a cell that the air may cross in a step. [-]
    step_time : float or None
        Fixed step time instead. [s]
    time_limit : float
        When tracking stops; what is then in the air counts as ``airborne``. [s]
    step_limit : int
        Largest number of steps. [-]
    unfinished_limit : float
        Largest share of particles that may reach it. [-]

    Raises
    ------
    RangeError
        If a number is negative, not finite where it must be, or a limit is not positive.
    """

    diffusivity: float | FloatArray | Faces = 0.0
    settling: float = 0.0
    deposition: float | Faces | None = None
    exchange: Faces | None = None
    eddy_time: float = 0.0
    cell_fraction: float = 0.4
    step_time: float | None = None
    time_limit: float = math.inf
    step_limit: int = 200_000
    unfinished_limit: float = 1e-3

    def __post_init__(self) -> None:
        _not_negative("settling velocity", self.settling, "m/s")
        _not_negative("eddy time", self.eddy_time, "s")
        if not 0.0 < self.cell_fraction <= 1.0:
            raise RangeError(f"cell fraction must lie in (0, 1], got {self.cell_fraction}")
        if self.step_time is not None and not 0.0 < self.step_time < math.inf:
            raise RangeError(f"step time must be positive, got {self.step_time} s")
        if not self.time_limit > 0.0:
            raise RangeError(f"time limit must be positive, got {self.time_limit} s")
        if self.step_limit < 1:
            raise RangeError(f"step limit must be at least 1, got {self.step_limit}")
        if isinstance(self.diffusivity, float | int):
            _not_negative("diffusivity", float(self.diffusivity), "m2/s")
        if self.eddy_time > 0.0 and not isinstance(self.diffusivity, float | int):
            raise RangeError("eddies that last need one diffusivity for the whole chamber")


def _not_negative(name: str, value: float, unit: str) -> None:
    """Refuse a number below 0 or not finite."""
    if not 0.0 <= value < math.inf:
        raise RangeError(f"{name} must be finite and not negative, got {value} {unit}")


def prepare(field: Field, walk: Walk) -> tuple[Cells, tuple[object, ...]]:
    """Return what the compiled walk reads.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]
    walk : Walk
        How particles move. [-]

    Returns
    -------
    cells : Cells
        Arrays by cell. [-]
    model : tuple
        Mode, values, limits and strips of normal numbers. [-]

    Raises
    ------
    RangeError
        If an input does not fit the grid, is negative or not finite.
    """
    grid = field.grid
    rates = np.empty((grid.cells, 8))
    rates[:, :6] = side_rates(field, walk.settling)
    beside, rates[:, 7] = free_cells(grid)
    faces = _face_diffusivity(grid, walk)
    even = float(walk.diffusivity) if isinstance(walk.diffusivity, float | int) else 0.0
    speed = math.sqrt(even / walk.eddy_time) if walk.eddy_time > 0.0 else 0.0
    mode = 2 if faces.size else 3 if speed > 0.0 else 1 if even > 0.0 else 0
    rates[:, 6] = _step_times(grid, walk, rates, faces, (mode, even, speed))
    transfer = _transfer(field, walk)
    if mode == 3:
        _check_uptake(transfer, speed)
    _, ny, nz = grid.shape
    strides = (-ny * nz, ny * nz, -nz, nz, -1, 1)
    cells = Cells(rates, beside, transfer.astype(np.float32), faces, strides)
    values = (speed if mode == 3 else even, grid.spacing, walk.eddy_time or float(transfer.any()))
    limits = (float(walk.time_limit), int(walk.step_limit))
    return cells, (mode, values, *limits, normal_strips())


def _face_diffusivity(grid: Grid, walk: Walk) -> FloatArray:
    """Return the diffusivity by sides of the cells, empty if it is one number."""
    given = walk.diffusivity
    if isinstance(given, float | int):
        return np.empty((0, 6))
    if isinstance(given, np.ndarray):
        if given.shape != grid.shape:
            raise RangeError(f"diffusivity must have shape {grid.shape}, got {given.shape}")
        given = face_means(grid, np.asarray(given, dtype=np.float64))
    _check_shapes(grid, given, "diffusivity")
    values = by_side(given, grid)
    inside = values[grid.fluid.ravel()]
    if not (np.isfinite(inside).all() and inside.min() >= 0.0):
        raise RangeError("diffusivity must be finite and not negative everywhere in the air")
    return values


def _step_times(
    grid: Grid, walk: Walk, rates: FloatArray, faces: FloatArray, model: tuple[int, float, float]
) -> FloatArray:
    """Return the step time of each cell. [s]"""
    if walk.step_time is not None:
        return np.full(grid.cells, walk.step_time)
    mode, even, speed = model
    size = min(
        step
        for step, count in zip(grid.spacing, grid.shape, strict=True)
        if count > 1 or grid.cells == 1
    )
    per_second = np.abs(rates[:, :6]).max(axis=1) / walk.cell_fraction
    if mode == 1:
        per_second = np.maximum(per_second, even / (_EVEN_REACH * size**2))
    elif mode == 2:
        per_second = np.maximum(per_second, faces.max(axis=1) / (_UNEVEN_REACH * size**2))
    elif mode == 3:
        slowest = max(speed / (_EDDY_REACH * size), 1.0 / (_EDDY_LIFE * walk.eddy_time))
        per_second = np.maximum(per_second, slowest)
    return np.asarray(1.0 / np.maximum(per_second, 1e-12))


def _transfer(field: Field, walk: Walk) -> FloatArray:
    """Return what each side takes besides what air and settling carry to it. [m/s]"""
    grid = field.grid
    out = np.zeros((grid.cells, 6))
    if walk.deposition is not None:
        out += by_side(_deposition(field, walk.deposition), grid)
        out[:, 4] = np.maximum(out[:, 4] - walk.settling, 0.0)
    if walk.exchange is not None:
        _check_shapes(grid, walk.exchange, "exchange")
        out += by_side(walk.exchange, grid) / np.repeat(np.array(grid.face_areas), 2)
    if not out.min() >= 0.0:
        raise RangeError("deposition and exchange must not be negative")
    return out


def _deposition(field: Field, given: float | Faces) -> Faces:
    """Return the deposition velocity of the faces. [m/s]"""
    if isinstance(given, float | int):
        if not given >= 0.0:
            raise RangeError(f"deposition velocity must not be negative, got {given} m/s")
        closed = closed_faces(field).axes
        return FaceArrays(*(np.where(mask, float(given), 0.0) for mask in closed))
    _check_shapes(field.grid, given, "deposition")
    return given


def _check_shapes(grid: Grid, faces: Faces, name: str) -> None:
    """Refuse face arrays of another grid."""
    for values, shape in zip(faces.axes, face_shapes(grid.shape), strict=True):
        if values.shape != shape:
            raise RangeError(f"{name}: faces must have shape {shape}, got {values.shape}")


def _check_uptake(transfer: FloatArray, speed: float) -> None:
    """Refuse faces that take more than the eddies bring."""
    most = speed / math.sqrt(2.0 * math.pi)
    finite = transfer[np.isfinite(transfer)]
    if finite.size and finite.max() > most:
        raise RangeError(
            f"a face takes {finite.max():.3g} m/s where eddies bring {most:.3g} m/s at most"
        )
