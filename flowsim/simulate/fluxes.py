"""The chamber's boundary fluxes from the flows of network, plenum and openings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Compartment
from flowsim.chamber.boundary import (
    FaceFlux,
    Slit,
    add_rim_flux,
    add_slit_flux,
    add_wall_flux,
    zero_flux,
)
from flowsim.chamber.grid import Grid, overlap
from flowsim.errors import RangeError
from flowsim.simulate.fronts import OpeningPlan, fluid_faces
from flowsim.simulate.layout import Layout, solid_box

__all__ = ["ChamberFlows", "boundary_flux", "spread"]

SIDE_WALLS = ("left", "right", "front", "back")


@dataclass(frozen=True)
class ChamberFlows:
    """Air through the boundary of the chamber, all at chamber density.

    Parameters
    ----------
    supply : float
        Into the chamber through the filter. [m3/s]
    supply_share : array, shape (nx, ny) of the chamber grid
        Share of it per ceiling face. [-]
    plate : array, shape (nx, ny) of the plan
        Down through each cell of the plate. [m3/s]
    openings : sequence of array, each shape (n, m)
        Out through each station and layer of each opening. [m3/s]
    slits, edges : mapping of str to float
        Into each compartment and under its edge, by label. [m3/s]
    covers : mapping of str to float
        Out through covered openings, by label. [m3/s]
    leaks : float
        Out through leaks of the chamber. [m3/s]
    """

    supply: float
    supply_share: FloatArray
    plate: FloatArray
    openings: Sequence[FloatArray]
    slits: Mapping[str, float]
    edges: Mapping[str, float]
    covers: Mapping[str, float]
    leaks: float


def spread(values: FloatArray, shape: tuple[int, int]) -> FloatArray:
    """Add up plan cells onto the plan of the chamber grid, which may have one row or column.

    Parameters
    ----------
    values : array, shape (nx, ny)
        Amount per plan cell. [any]
    shape : tuple of int
        Cells of the chamber grid along x and y: the same, or 1. [-]

    Returns
    -------
    array, shape `shape`
        The same total. [any]
    """
    if shape[0] == 1 != values.shape[0]:
        values = values.sum(axis=0, keepdims=True)
    if shape[1] == 1 != values.shape[1]:
        values = values.sum(axis=1, keepdims=True)
    return values


def opening_faces(plan: OpeningPlan, flow: FloatArray) -> FloatArray:
    """Return the flow of each wall face from the flows of stations and layers. [m3/s]"""
    faces = np.zeros_like(plan.face_area)
    part = plan.face_area[np.ix_(plan.stations, plan.layers)]
    if flow.shape[1] == part.shape[1] > 1 or part.shape[1] == 1:
        faces[np.ix_(plan.stations, plan.layers)] = flow
    else:
        share = part / part.sum(axis=1, keepdims=True)
        faces[np.ix_(plan.stations, plan.layers)] = flow * share
    return faces


def _floor_sinks(layout: Layout, flows: ChamberFlows) -> FloatArray:
    """Return what leaves through each floor face: the plate, and boxes that do not show."""
    sinks = flows.plate.copy()
    for place in layout.footprints:
        if not place.solid:
            label = place.compartment.label
            amount = flows.slits[label] + flows.edges.get(label, 0.0)
            sinks += amount * place.plan_area / place.plan_area.sum()
    return spread(sinks, layout.grid.shape[:2])


def _add_compartment(
    flux: FaceFlux, grid: Grid, item: Compartment, slit_flow: float, edge_flow: float
) -> None:
    """Put the flows of one compartment on the sides of its box, in place."""
    box = solid_box(item)
    if item.lid == "off":
        area = ((box.x0, box.x1), (box.y0, box.y1))
        add_slit_flux(flux, grid, Slit(box, "top", *area), slit_flow)
    else:
        add_slit_flux(flux, grid, slit_on_box(item), slit_flow)
    if edge_flow != 0.0:
        add_rim_flux(flux, grid, box, edge_flow)


def slit_on_box(item: Compartment) -> Slit:
    """Return where a compartment's slit lies. [m]"""
    box, slit = solid_box(item), item.slit
    if slit.side in ("front", "back", "top"):
        low, high = box.x0, box.x1
    else:
        low, high = box.y0, box.y1
    middle = 0.5 * (low + high)
    first = (middle - 0.5 * slit.length, middle + 0.5 * slit.length)
    if slit.side == "top":
        second = (box.y0 + slit.bottom, box.y0 + slit.bottom + slit.height)
    else:
        second = (slit.bottom, slit.bottom + slit.height)
    return Slit(box, slit.side, first, second)


def _leak_faces(layout: Layout, amount: float) -> dict[str, FloatArray]:
    """Return leaks of the chamber spread evenly over its side walls. [m3/s]"""
    grid = layout.grid
    areas = {}
    for wall in SIDE_WALLS:
        shape = (grid.nx, grid.nz) if wall in ("front", "back") else (grid.ny, grid.nz)
        size = grid.face_areas[1] if wall in ("front", "back") else grid.face_areas[0]
        areas[wall] = size * np.broadcast_to(fluid_faces(grid, wall), shape)
    whole = sum(float(area.sum()) for area in areas.values())
    return {wall: amount * area / whole for wall, area in areas.items()}


def supply_shares(layout: Layout) -> FloatArray:
    """Return the share of the supply per ceiling face when the filter blows evenly. [-]"""
    x0, x1, y0, y1 = layout.filter_patch
    edges = layout.grid.edges
    area = np.outer(overlap(edges[0], x0, x1), overlap(edges[1], y0, y1))
    area = area * fluid_faces(layout.grid, "ceiling")
    share: FloatArray = area / area.sum()
    return share


def boundary_flux(layout: Layout, flows: ChamberFlows) -> FaceFlux:
    """Return the flux of every boundary face of the chamber.

    Parameters
    ----------
    layout : Layout
        Geometry.
    flows : ChamberFlows
        What passes where. [m3/s]

    Returns
    -------
    FaceFlux
        Zero inside, positive along the axes. [m3/s]

    Raises
    ------
    RangeError
        If a slit or an opening has no free face on this grid.
    """
    grid = layout.grid
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", flows.supply * flows.supply_share)
    add_wall_flux(flux, grid, "floor", _floor_sinks(layout, flows), inward=False)
    for plan, flow in zip(layout.openings, flows.openings, strict=True):
        add_wall_flux(flux, grid, plan.opening.wall, opening_faces(plan, flow), inward=False)
    for plan in layout.covers:
        amount = flows.covers[plan.opening.label] * plan.face_area / plan.face_area.sum()
        add_wall_flux(flux, grid, plan.opening.wall, amount, inward=False)
    if flows.leaks != 0.0:
        for side, leaked in _leak_faces(layout, flows.leaks).items():
            add_wall_flux(flux, grid, side, leaked, inward=False)
    for place in layout.footprints:
        if place.solid:
            item = place.compartment
            edge = flows.edges.get(item.label, 0.0)
            try:
                _add_compartment(flux, grid, item, flows.slits[item.label], edge)
            except RangeError as error:
                raise RangeError(
                    f"compartment '{item.label}' does not fit the grid (numerics.cells): {error}"
                ) from error
    return flux
