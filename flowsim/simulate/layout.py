"""Where things are: the geometry of a case laid on the grids of its models."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import (
    Case,
    Compartment,
    Filter,
    Object,
    Port,
    Rectangle,
)
from flowsim.chamber.grid import Box, Grid, overlap, with_boxes
from flowsim.errors import RangeError
from flowsim.physics.air import AirState, air_state, saturation_pressure
from flowsim.physics.perforated_plate import PerforatedPlate
from flowsim.plenum.header import Header, HeaderPort
from flowsim.simulate.fronts import OpeningPlan, opening_plan

__all__ = [
    "GRAVITY",
    "Footprint",
    "Layout",
    "actual",
    "centred",
    "lay_out",
    "port_span",
    "solid_box",
]

GRAVITY = 9.81


@dataclass(frozen=True)
class Footprint:
    """A compartment on the plate.

    Parameters
    ----------
    compartment : Compartment
        What the case says.
    plan_area : array, shape (nx, ny)
        Area of each plan cell under the box. [m2]
    plate_area : float
        Perforated part of it. [m2]
    solid : bool
        Whether the box shows on the chamber grid.
    """

    compartment: Compartment
    plan_area: FloatArray
    plate_area: float
    solid: bool


@dataclass(frozen=True)
class Layout:
    """Geometry of a case on the grids of its models.

    Parameters
    ----------
    case : Case
        The case.
    room_air, chamber_air : AirState
        Air on both sides of the front.
    density_factor : float
        Volume of chamber air per volume of the same air at room density. [-]
    grid : Grid
        Grid of the chamber.
    x_edges, y_edges : array, shape (nx + 1,), (ny + 1,)
        Edges of the plan cells of plate and plenum. [m]
    open_share : array, shape (nx, ny)
        Perforated, uncovered share of each plan cell. [-]
    plate : PerforatedPlate or None
        None where the work surface is solid.
    header : Header or None
        Plenum; None at fidelity "network" or without one.
    openings : tuple of OpeningPlan
        Open openings.
    covers : tuple of OpeningPlan
        Covered openings, for the place of their gaps.
    footprints : tuple of Footprint
        One per compartment.
    filter_patch : tuple of float
        x0, x1, y0, y1 of the supply in the ceiling. [m]
    """

    case: Case
    room_air: AirState
    chamber_air: AirState
    density_factor: float
    grid: Grid
    x_edges: FloatArray
    y_edges: FloatArray
    open_share: FloatArray
    plate: PerforatedPlate | None
    header: Header | None
    openings: tuple[OpeningPlan, ...]
    covers: tuple[OpeningPlan, ...]
    footprints: tuple[Footprint, ...]
    filter_patch: tuple[float, float, float, float]

    @property
    def cell_area(self) -> float:
        """Area of one plan cell. [m2]"""
        return float((self.x_edges[1] - self.x_edges[0]) * (self.y_edges[1] - self.y_edges[0]))

    @property
    def plate_area(self) -> float:
        """Open part of the perforated zone, holes and webs. [m2]"""
        return float(self.open_share.sum()) * self.cell_area

    @property
    def buoyant(self) -> bool:
        """Whether room and chamber differ in density."""
        return self.room_air.density != self.chamber_air.density


def solid_box(item: Compartment | Object) -> Box:
    """Return the block that a compartment or object fills. [m]"""
    bottom = item.bottom if isinstance(item, Object) else 0.0
    return Box(
        item.offset_x,
        item.offset_x + item.width,
        item.offset_y,
        item.offset_y + item.depth,
        bottom,
        bottom + item.height,
    )


def _shows(grid: Grid, box: Box) -> bool:
    """Return whether a box holds at least one cell centre of the grid."""
    return all(
        bool(np.any((centres >= low) & (centres < high)))
        for centres, (low, high) in zip(grid.centres, box.limits, strict=True)
    )


def _spans(grid: Grid, box: Box) -> bool:
    """Return whether a box reaches from wall to wall across a two-dimensional cut."""
    axis = 0 if grid.nx == 1 else 1
    low, high = box.limits[axis]
    size = float(grid.edges[axis][-1])
    return low <= 1e-9 * size and high >= size * (1.0 - 1e-9)


def _chamber_grid(case: Case) -> tuple[Grid, tuple[bool, ...]]:
    """Return the chamber's grid with its solids, and whether each compartment shows on it."""
    nx, ny, nz = case.numerics.cells
    cut = case.numerics.fidelity == "section"
    if cut:
        nx, ny = (1, ny) if case.numerics.section == "yz" else (nx, 1)
    chamber = case.chamber
    grid = Grid(nx, ny, nz, chamber.width, chamber.depth, chamber.height)
    boxes = [solid_box(item) for item in case.compartments]
    shows = tuple(_shows(grid, box) and (not cut or _spans(grid, box)) for box in boxes)
    boxes = [box for box, shown in zip(boxes, shows, strict=True) if shown]
    others = [solid_box(item) for item in case.objects]
    boxes += [box for box in others if not cut or _spans(grid, box)]
    for item, box in zip(case.objects, others, strict=True):
        if not cut and not _shows(grid, box):
            raise RangeError(
                f"object '{item.label}' is thinner than a cell and would vanish between the "
                f"{nx} x {ny} x {nz} cells; take more of them (numerics.cells)"
            )
    return (replace(grid, solid=with_boxes(grid, boxes)) if boxes else grid), shows


def _rectangle_area(
    edges: tuple[FloatArray, FloatArray], box: Rectangle | Compartment | Object
) -> FloatArray:
    """Return the area of each plan cell inside a rectangle. [m2]"""
    x_edges, y_edges = edges
    across = overlap(x_edges, box.offset_x, box.offset_x + box.width)
    along = overlap(y_edges, box.offset_y, box.offset_y + box.depth)
    return np.outer(across, along)


def _perforated_share(case: Case, edges: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return the perforated share of each plan cell, nothing covered yet. [-]"""
    cell = np.outer(np.diff(edges[0]), np.diff(edges[1]))
    surface = case.work_surface
    if surface is None or case.plenum is None:
        return np.zeros_like(cell)
    if surface.zone is None:
        share = np.ones_like(cell)
    else:
        share = _rectangle_area(edges, surface.zone) / cell
    for patch in surface.covered:
        share = share * (1.0 - _rectangle_area(edges, patch) / cell)
    return share


def _object_cover(case: Case, grid: Grid, edges: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return the share of each plan cell that solids standing on the plate leave open. [-]"""
    cell = np.outer(np.diff(edges[0]), np.diff(edges[1]))
    free = np.ones_like(cell)
    shown = grid.solid is not None and case.numerics.fidelity != "section"
    if grid.solid is not None:
        free[np.broadcast_to(grid.solid[:, :, 0], cell.shape)] = 0.0
    for item in case.objects:
        if item.bottom == 0.0 and not shown:
            free = free * (1.0 - _rectangle_area(edges, item) / cell)
    return free


def _footprints(
    case: Case, edges: tuple[FloatArray, FloatArray], share: FloatArray, shows: tuple[bool, ...]
) -> tuple[Footprint, ...]:
    """Return the compartments with the plate below them."""
    prints = []
    for item, shown in zip(case.compartments, shows, strict=True):
        area = _rectangle_area(edges, item)
        prints.append(Footprint(item, area, float((share * area).sum()), shown))
    return tuple(prints)


def port_span(case: Case, port: Port) -> tuple[float, float]:
    """Return where a port in a side wall starts and ends along that wall. [m]"""
    length = case.chamber.depth if port.wall in ("left", "right") else case.chamber.width
    width = port.width or length
    start = 0.5 * (length - width) if port.offset is None else port.offset
    return start, start + width


def _header(case: Case) -> Header | None:
    """Return the plenum's model."""
    plenum = case.plenum
    if plenum is None or case.numerics.fidelity == "network":
        return None
    ports = []
    for port in plenum.ports:
        if port.wall == "bottom":
            across, along = port.width or 0.0, port.depth or 0.0
            x0 = centred(port.offset_x, across, case.chamber.width)
            y0 = centred(port.offset_y, along, case.chamber.depth)
            ports.append(HeaderPort("bottom", (x0, y0), (x0 + across, y0 + along)))
        else:
            ports.append(HeaderPort(port.wall, *port_span(case, port)))
    nx, ny, _ = case.numerics.cells
    return Header(
        case.chamber.width,
        case.chamber.depth,
        plenum.height,
        nx,
        ny,
        tuple(ports),
        momentum=plenum.momentum_coefficient,
        roughness=plenum.roughness,
    )


def centred(offset: float | None, size: float, whole: float) -> float:
    """Return an offset, or the one that centres `size` in `whole`. [m]"""
    return 0.5 * (whole - size) if offset is None else offset


def _filter_patch(case: Case) -> tuple[float, float, float, float]:
    """Return x0, x1, y0, y1 of the supply's area in the ceiling; the whole ceiling without one."""
    media: Filter | None = case.supply.filter if case.supply else None
    chamber = case.chamber
    if media is None:
        return 0.0, chamber.width, 0.0, chamber.depth
    x0 = centred(media.offset_x, media.width, chamber.width)
    y0 = centred(media.offset_y, media.depth, chamber.depth)
    return x0, x0 + media.width, y0, y0 + media.depth


def _plate(case: Case, air: AirState) -> PerforatedPlate | None:
    """Return the law of the perforated work surface."""
    surface = case.work_surface
    if surface is None or case.plenum is None:
        return None
    return PerforatedPlate(
        case.free_area_ratio,
        surface.thickness,
        surface.hole_diameter,
        air.density,
        air.viscosity,
        surface.discharge_coefficient,
    )


def lay_out(case: Case) -> Layout:
    """Lay a case on the grids of its models.

    Parameters
    ----------
    case : Case
        The case, SI.

    Returns
    -------
    Layout
        Geometry, air and grids.

    Raises
    ------
    RangeError
        If a solid vanishes between the cells of the grid.
    """
    room, chamber = case.room, case.chamber
    outside = air_state(room.temperature, room.pressure, room.relative_humidity)
    warm = chamber.temperature
    if warm is None or warm == room.temperature:
        inside = outside
    else:
        moisture = room.relative_humidity * min(
            1.0, saturation_pressure(room.temperature) / saturation_pressure(warm)
        )
        inside = air_state(warm, room.pressure, moisture)
    grid, shows = _chamber_grid(case)
    nx, ny, _ = case.numerics.cells
    edges = (np.linspace(0.0, chamber.width, nx + 1), np.linspace(0.0, chamber.depth, ny + 1))
    heads = (outside.density - inside.density) * GRAVITY
    share = _perforated_share(case, edges)
    prints = _footprints(case, edges, share, shows)
    cell = np.outer(np.diff(edges[0]), np.diff(edges[1]))
    free = share * _object_cover(case, grid, edges)
    for place in prints:
        free = free * np.clip(1.0 - place.plan_area / cell, 0.0, 1.0)
    plans = {
        state: tuple(
            opening_plan(case, grid, item, heads) for item in case.openings if item.state == state
        )
        for state in ("open", "covered")
    }
    return Layout(
        case,
        outside,
        inside,
        outside.density / inside.density,
        grid,
        *edges,
        free,
        _plate(case, inside),
        _header(case),
        plans["open"],
        plans["covered"],
        prints,
        _filter_patch(case),
    )


def actual(layout: Layout, flow: float) -> float:
    """Return a conserved flow as volume of chamber air. [m3/s]"""
    return flow * layout.density_factor
