"""The one discrete operator of steady transport, and what leaves by which exit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as with_default

import numpy as np
from scipy.ndimage import label

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError
from flowsim.transport._kernels import (
    add_to_diagonal,
    fill_rest,
    fill_rows,
)
from flowsim.transport._once import Beside, Once
from flowsim.transport.faces import Faces, OuterFaces, check_faces, outer_faces
from flowsim.transport.ordering import FlowOrder, find_links, flow_order, steps_of
from flowsim.transport.system import System, closed, parted

__all__ = ["ELSEWHERE", "SCHEMES", "Exchange", "TransportProblem", "check_open"]

SCHEMES = ("linear", "monotone")
ELSEWHERE = "elsewhere"
"""Name of the exit that gathers what leaves by no named one. [-]"""


_ORDERS: Beside[FlowOrder] = Beside(8)  # by settling velocity; a field serves many problems
_REGIONS: Beside[tuple[IntArray, int]] = Beside(1)  # of air that hangs together


@dataclass(frozen=True, eq=False)
class Exchange:
    """What passes the outer faces per unit of concentration.

    Parameters
    ----------
    faces : OuterFaces
        The faces. [-]
    out : array, shape (faces,)
        Leaves per concentration in the cell. [m3/s]
    enter : array, shape (faces,)
        Enters per concentration outside. [m3/s]
    """

    faces: OuterFaces
    out: FloatArray
    enter: FloatArray


@dataclass(frozen=True, eq=False)
class TransportProblem:
    """Advection, diffusion and settling on the air flow of the chamber.

    Parameters
    ----------
    field : Field
        Air flow; its face fluxes are taken as they are. [m3/s]
    diffusivity : array, shape (nx, ny, nz), or float
        Molecular and eddy diffusivity together; a face takes the mean of its cells. [m2/s]
    settling : float
        Settling velocity, downward. [m/s]
    exits : mapping of str to FaceArrays
        Named groups of outer faces: masks, or the share of what leaves by a face that counts
        for the exit. What no exit takes is gathered as ``elsewhere``. [-]
    exchange : FaceArrays or None
        Flow that passes each outer face both ways besides the mean flow, k times the open
        area. [m3/s]
    deposition : FaceArrays or None
        Deposition velocity on each outer face, settling included; faces that look up take at
        least the settling velocity. [m/s]
    scheme : str
        ``linear`` (third-order upwind-biased) or ``monotone`` (first-order upwind). [-]

    Raises
    ------
    RangeError
        If a value is negative or not finite, a shape is wrong, exits overlap, or the scheme is
        unknown.

    Notes
    -----
    In each cell, summed over its faces: flux times face value - D A dC/dn = source. Outer faces:
    air that enters brings the concentration outside, nothing diffuses back against it; air that
    leaves carries the concentration of the cell; a closed wall takes nothing but what settles or
    deposits on it. Face value of the linear scheme: 5/6 of the cell upstream, 1/3 of the one
    downstream, -1/6 of the one further upstream; beside a wall or solid 2/3 and 1/3. Standard
    finite volumes, from memory; own derivation beside walls.
    """

    field: Field
    diffusivity: FloatArray | float
    settling: float = 0.0
    exits: Mapping[str, Faces] = with_default(default_factory=dict)
    exchange: Faces | None = None
    deposition: Faces | None = None
    scheme: str = "linear"

    def __post_init__(self) -> None:
        _check_scalars(self)
        for name, faces in self.exits.items():
            check_faces(self.field.grid, faces, f"exit '{name}'")
        if self.exchange is not None:
            check_faces(self.field.grid, self.exchange, "exchange")
        if self.deposition is not None:
            check_faces(self.field.grid, self.deposition, "deposition")

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells along x, y, z. [-]."""
        return self.field.grid.shape

    @property
    def volume(self) -> FloatArray:
        """Volume of air in each cell, shape (nx, ny, nz). [m3]."""
        dx, dy, dz = self.field.grid.spacing
        return np.where(self.field.grid.fluid, dx * dy * dz, 0.0)

    @Once
    def boundary(self) -> Exchange:
        """Return what passes the outer faces."""
        faces = outer_faces(self.field.grid)
        air = faces.read(self.field.flux) * faces.sign
        fall = self.settling * faces.upright
        wall = np.maximum(fall, 0.0)
        if self.deposition is not None:
            wall = np.maximum(wall, faces.read(self.deposition) * faces.area)
        out = np.where(air > 0.0, np.maximum(air + np.minimum(fall, 0.0), 0.0), 0.0) + wall
        enter = np.maximum(-air, 0.0)
        if self.exchange is not None:
            both = faces.read(self.exchange)
            out, enter = out + both, enter + both
        return Exchange(faces, out, enter)

    @Once
    def exit_shares(self) -> dict[str, FloatArray]:
        """Share of what leaves by each outer face that counts for each exit, summing to 1. [-].

        Raises
        ------
        RangeError
            If exits overlap on a face by which something leaves.
        """
        boundary = self.boundary
        open_faces = boundary.out > 0.0
        shares = {name: boundary.faces.read(faces) for name, faces in self.exits.items()}
        rest = 1.0 - sum(shares.values(), np.zeros(boundary.out.size))
        worst = float(rest[open_faces].min(initial=0.0))
        if worst < -1e-12:
            raise RangeError(
                f"exits overlap: on some face they take {1.0 - worst:.6g} of what leaves by it"
            )
        rest = np.where(rest < 1e-12, 0.0, rest)
        if np.any(rest[open_faces] > 0.0):
            shares[ELSEWHERE] = rest
        return shares

    @property
    def exit_names(self) -> tuple[str, ...]:
        """Names of all exits, ``elsewhere`` last if anything leaves there. [-]."""
        return tuple(self.exit_shares)

    @Once
    def sealed_cell(self) -> tuple[int, int, int] | None:
        """Return a cell of air that has no way out, None if there is none. [-]."""
        solid = self.field.grid.solid
        out = np.bincount(self.boundary.faces.cell, self.boundary.out, self.field.grid.cells)
        if solid is None:
            return None if out.any() else (0, 0, 0)
        labels, count = _REGIONS.get(self.field.grid, None, lambda: _regions(solid))
        open_air = np.bincount(labels.ravel(), out, count + 1) > 0.0
        open_air[0] = True
        shut = ~open_air[labels]
        return tuple(int(i) for i in np.argwhere(shut)[0]) if shut.any() else None  # type: ignore[return-value]

    @Once
    def forward(self) -> System:
        """Return the matrix with its order along the flow."""
        return _assemble(self, backward=False)

    @Once
    def adjoint(self) -> System:
        """Return the exact transpose of `forward`."""
        return _assemble(self, backward=True)


def check_open(problem: TransportProblem) -> None:
    """Refuse a steady question about air that has no way out.

    Parameters
    ----------
    problem : TransportProblem
        The problem. [-]

    Raises
    ------
    RangeError
        If walls and solids shut some air in.
    """
    if problem.sealed_cell is not None:
        raise RangeError(
            f"nothing ever leaves the air around cell {list(problem.sealed_cell)}: walls and "
            "solids shut it in, so it has no steady state"
        )


def _regions(solid: BoolArray) -> tuple[IntArray, int]:
    """Return the number of the region of air to which each cell belongs, and how many there are."""
    labels, count = label(~solid)
    return np.asarray(labels, dtype=np.int64), int(count)


def _check_scalars(problem: TransportProblem) -> None:
    """Refuse impossible numbers."""
    if problem.scheme not in SCHEMES:
        raise RangeError(f"unknown scheme '{problem.scheme}', expected {' or '.join(SCHEMES)}")
    if not (problem.settling >= 0.0 and np.isfinite(problem.settling)):
        raise RangeError(f"the settling velocity must not be negative, got {problem.settling} m/s")
    spread = np.asarray(problem.diffusivity, dtype=np.float64)
    if spread.ndim and spread.shape != problem.shape:
        raise RangeError(f"diffusivity must have shape {problem.shape}, got {spread.shape}")
    inside = spread[problem.field.grid.fluid] if spread.ndim else spread
    if not (np.isfinite(inside).all() and float(inside.min()) >= 0.0):
        raise RangeError("the diffusivity must be finite and not negative everywhere in the air")
    if ELSEWHERE in problem.exits:
        raise RangeError(f"'{ELSEWHERE}' is kept for what leaves by no named exit")


def _assemble(problem: TransportProblem, backward: bool) -> System:
    """Return the matrix of a problem, or its transpose."""
    grid, linear = problem.field.grid, problem.scheme == "linear"
    flux = _carried(problem)
    order = _ORDERS.get(
        problem.field,
        problem.settling,
        lambda: flow_order(*find_links(flux, grid.solid), steps_of(grid.shape)),
    )
    diffusivity = np.empty(grid.cells)
    diffusivity[:] = np.asarray(problem.diffusivity, dtype=np.float64).ravel()
    dx, dy, dz = (0.5 * a / d for a, d in zip(grid.face_areas, grid.spacing, strict=True))
    count = order.cells.size
    block = np.empty((count, 11))  # one piece of memory is cheaper to get than two
    rows = block.ravel()[: 8 * count].reshape(count, 8)
    near = block.ravel()[8 * count :].view(np.int32).reshape(count, 6)
    width = _width(flux, diffusivity, (dx, dy, dz))
    rest = parted(
        np.empty((count if linear else 0, width)),
        np.empty((count if linear else 0, width), dtype=np.int32),
        (12 - width) * count if linear else 0,
    )
    fill_rows(flux, (diffusivity, (dx, dy, dz)), order.place, (linear, backward), rows, near)
    if linear:
        fill_rest(rows, near, backward, rest)
    boundary = problem.boundary
    add_to_diagonal(rows, order.place[boundary.faces.cell], boundary.out)
    return System(rows, near, closed(rest, count), order, grid.shape)


def _width(
    flux: tuple[FloatArray, FloatArray, FloatArray],
    diffusivity: FloatArray,
    weights: tuple[float, float, float],
) -> int:
    """Return the usual number of entries in a row of the second part.

    A face adds one to the row of the cell upstream where more than a third of what it carries
    comes by diffusion.
    """
    spread = 6.0 * float(diffusivity.mean())
    counts = [np.count_nonzero(np.abs(f) > spread * w) for f, w in zip(flux, weights, strict=True)]
    return 9 if sum(counts) > 0.25 * sum(axis.size for axis in flux) else 6


def _carried(problem: TransportProblem) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the volume that carries the substance through all faces."""
    x, y, z = (np.ascontiguousarray(axis, dtype=np.float64) for axis in problem.field.flux.axes)
    if problem.settling > 0.0:
        z = z - problem.settling * problem.field.grid.face_areas[2]
    return x, y, z
