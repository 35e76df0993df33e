"""Lines along the air in one section of the chamber."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError

__all__ = ["SectionFlow", "section_flow", "section_streamlines"]

STEP = 0.35  # cells passed in a step
LONGEST = 1500  # steps


@dataclass(frozen=True)
class SectionFlow:
    """Velocities in one section, on the faces of its cells.

    Parameters
    ----------
    across : array, shape (n + 1, nz)
        Velocity along the section's horizontal axis. [m/s]
    up : array, shape (n, nz + 1)
        Velocity upwards. [m/s]
    spacing : tuple of float
        Cell size along both axes. [m]
    solid : array of bool, shape (n, nz), or None
        Blocked cells.
    """

    across: FloatArray
    up: FloatArray
    spacing: tuple[float, float]
    solid: BoolArray | None


def section_flow(field: Field, axis: int, station: int) -> SectionFlow:
    """Return the velocities in one section.

    Parameters
    ----------
    field : Field
        The chamber's flow. [m3/s]
    axis : int
        Horizontal axis of the section: 1 for y (the section lies at one x), 0 for x. [-]
    station : int
        Number of the cell along the other horizontal axis. [-]

    Returns
    -------
    SectionFlow
        In-plane velocities; what passes sideways through the section is left out.

    Raises
    ------
    RangeError
        If the axis is neither 0 nor 1.
    """
    if axis not in (0, 1):
        raise RangeError(f"a section runs along x (0) or y (1), got axis {axis}")
    grid = field.grid
    pick = (station,) if axis == 1 else (slice(None), station)
    across = field.flux.axes[axis][pick] / grid.face_areas[axis]
    up = field.flux.z[pick] / grid.face_areas[2]
    solid = None if grid.solid is None else grid.solid[pick]
    return SectionFlow(across, up, (grid.spacing[axis], grid.spacing[2]), solid)


def _cells(flow: SectionFlow, points: FloatArray) -> IntArray:
    """Return the cell of each point, clamped to the section."""
    limits = np.array(flow.up[:, 1:].shape) - 1
    cells = np.clip(np.floor(points / flow.spacing).astype(np.int64), 0, limits)
    return np.asarray(cells, dtype=np.int64)


def _velocity(flow: SectionFlow, points: FloatArray) -> FloatArray:
    """Return the velocity at points: each component linear between its two faces. [m/s]"""
    cells = _cells(flow, points)
    part = np.clip(points / flow.spacing - cells, 0.0, 1.0)
    i, k = cells[:, 0], cells[:, 1]
    across = flow.across[i, k] * (1.0 - part[:, 0]) + flow.across[i + 1, k] * part[:, 0]
    up = flow.up[i, k] * (1.0 - part[:, 1]) + flow.up[i, k + 1] * part[:, 1]
    return np.stack([across, up], axis=1)


def _even_places(inward: FloatArray, step: float, spacing: float) -> FloatArray:
    """Return places along a wall between which equal shares of its inflow enter. [m]"""
    entered = np.concatenate([[0.0], np.cumsum(np.maximum(inward, 0.0))]) * spacing
    wanted = np.arange(0.5 * step, entered[-1], step)
    edges = np.arange(entered.size) * spacing
    rising = np.concatenate([[True], np.diff(entered) > 0.0])
    return np.asarray(np.interp(wanted, entered[rising], edges[rising]), dtype=np.float64)


def _starts(flow: SectionFlow, count: int) -> tuple[FloatArray, float]:
    """Return starting points on the walls where air enters, and the flow between two. [m2/s]"""
    n, nz = flow.up.shape[0], flow.across.shape[1]
    width, height = n * flow.spacing[0], nz * flow.spacing[1]
    walls = (
        (-flow.up[:, -1], 0, height),
        (flow.up[:, 0], 0, 0.0),
        (flow.across[0], 1, 0.0),
        (-flow.across[-1], 1, width),
    )
    sizes = flow.spacing
    total = sum(float(np.maximum(inward, 0.0).sum()) * sizes[axis] for inward, axis, _ in walls)
    if total <= 0.0:
        return np.zeros((0, 2)), 0.0
    step = total / count
    points = []
    for inward, axis, place in walls:
        along = _even_places(inward, step, sizes[axis])
        fixed = np.full_like(along, place)
        points.append(np.stack([along, fixed] if axis == 0 else [fixed, along], axis=1))
    return np.concatenate(points), step


def section_streamlines(flow: SectionFlow, count: int) -> tuple[list[FloatArray], float]:
    """Return lines along the air, spaced so that equal flows start between them.

    Parameters
    ----------
    flow : SectionFlow
        The section. [m/s]
    count : int
        Lines wanted, about. [-]

    Returns
    -------
    lines : list of array, each shape (m, 2)
        Points along each line, horizontal and vertical. [m]
    step : float
        Flow per metre of the third axis between two starting points. [m2/s]

    Notes
    -----
    Midpoint rule with steps of about a third of a cell in the velocity field that is linear
    between opposite faces of a cell, so that no line enters a wall or a solid; own derivation.
    """
    points, step = _starts(flow, count)
    size = np.array([flow.up.shape[0], flow.across.shape[1]]) * flow.spacing
    moving = np.ones(points.shape[0], dtype=np.bool_)
    trail = [points.copy()]
    for _ in range(LONGEST):
        speed = _velocity(flow, points)
        fast = np.abs(speed / flow.spacing).max(axis=1) if points.size else np.zeros(0)
        moving &= fast > 0.0
        if not moving.any():
            break
        time = np.where(moving, STEP / np.where(fast > 0.0, fast, 1.0), 0.0)[:, None]
        middle = points + 0.5 * time * speed
        moved = points + time * _velocity(flow, middle)
        inside = np.all((moved > 0.0) & (moved < size), axis=1)
        if flow.solid is not None:
            cells = _cells(flow, moved)
            inside &= ~flow.solid[cells[:, 0], cells[:, 1]]
        points = np.where(moving[:, None], np.clip(moved, 0.0, size), points)
        trail.append(points.copy())
        moving &= inside
    return _trimmed(np.stack(trail)), step


def _trimmed(trail: FloatArray) -> list[FloatArray]:
    """Return each line without the points at which it has come to rest."""
    lines = []
    for number in range(trail.shape[1]):
        line = trail[:, number]
        moves = np.flatnonzero(np.any(np.diff(line, axis=0) != 0.0, axis=1))
        if moves.size:
            lines.append(line[: moves[-1] + 2])
    return lines
