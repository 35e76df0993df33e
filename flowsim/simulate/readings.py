"""What the solved models show: profiles of openings, plate, tube and compartments."""

from __future__ import annotations

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Compartment
from flowsim.chamber.boundary import slit_areas
from flowsim.chamber.velocity import cell_velocity, downward_at_height
from flowsim.simulate.assemble import CHAMBER, tube_hole_area
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.fluxes import slit_on_box
from flowsim.simulate.layout import Footprint, actual
from flowsim.simulate.result import (
    BranchState,
    CompartmentState,
    OpeningProfile,
    PlateDraw,
    TubeDraw,
)

__all__ = [
    "branch_states",
    "compartment_states",
    "downflow",
    "node_pressures",
    "opening_profiles",
    "plate_draw",
    "tube_draw",
]


def opening_profiles(state: Coupled) -> tuple[OpeningProfile, ...]:
    """Return the velocity through each opening, station by station."""
    drive = state.chamber_drive
    profiles = []
    flows = zip(state.layout.openings, state.opening_flows, strict=True)
    for index, (plan, flow) in enumerate(flows):
        opening = plan.opening
        area = plan.area.sum(axis=1)
        head = (plan.area * plan.head).sum(axis=1) / area
        profiles.append(
            OpeningProfile(
                opening.label,
                opening.wall,
                opening.offset,
                opening.width,
                opening.bottom,
                opening.height,
                plan.position,
                plan.station_width,
                flow.sum(axis=1) / area,
                np.maximum(flow, 0.0).sum(axis=1),
                np.maximum(-flow, 0.0).sum(axis=1),
                drive + head,
                state.corrections.crossflow[index],
                plan.layer_height,
                flow / plan.area,
            )
        )
    return tuple(profiles)


def _station_mean(values: FloatArray, share: FloatArray) -> FloatArray:
    """Return the mean along y at each x station, nan where nothing is open."""
    weight = share.sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: FloatArray = (np.where(share > 0.0, values, 0.0) * share).sum(axis=1) / weight
    return mean


def plate_draw(state: Coupled) -> PlateDraw | None:
    """Return the draw of the plate and the plenum below it, room = 0."""
    header, layout = state.header, state.layout
    if header is None:
        return None
    share = layout.open_share
    velocity = np.where(share > 0.0, header.velocity, np.nan)
    pressure = header.pressure + state.chamber_drive
    return PlateDraw(
        0.5 * (layout.x_edges[1:] + layout.x_edges[:-1]),
        0.5 * (layout.y_edges[1:] + layout.y_edges[:-1]),
        share,
        velocity,
        pressure,
        header.velocity_x,
        header.velocity_y,
        _station_mean(velocity, share),
        _station_mean(pressure, share),
    )


def tube_draw(state: Coupled) -> TubeDraw | None:
    """Return the draw along the distributor tube, from left to right."""
    header = state.header
    if header is None or header.tube is None:
        return None
    tube, part = header.tube, state.layout.case.distributor
    assert part is not None
    order = np.argsort(tube.x)
    per_metre = tube.hole_velocity * tube_hole_area(part) / part.length
    pressure = tube.pressure[order] + state.chamber_drive
    return TubeDraw(tube.x[order], per_metre[order], pressure)


def node_pressures(state: Coupled) -> dict[str, float]:
    """Return the total pressure of each node over the room. [Pa]"""
    pressures = state.solution.pressures
    room = pressures["room"]
    return {name: value - room for name, value in pressures.items()}


def branch_states(state: Coupled) -> tuple[BranchState, ...]:
    """Return flow and drop of each branch, as volume of the air in it."""
    pressures, solution = state.solution.pressures, state.solution
    upstream = {"supply fan", "prefilter", "room leaks"}
    leaks = state.layout.case.leaks
    upstream |= {f"leak {leak.label}" for leak in leaks if leak.at == "supply box"}
    states = []
    for branch in state.network.branches:
        flow = solution.flows[branch.name]
        room_air = branch.name in upstream or branch.name.startswith("supply duct")
        states.append(
            BranchState(
                branch.name,
                branch.start,
                branch.end,
                branch.kind,
                flow if room_air else actual(state.layout, flow),
                pressures[branch.start] - pressures[branch.end],
            )
        )
    return tuple(states)


def _slit_slowest(state: Coupled, item: Compartment, mean: float, drive: float) -> float:
    """Return the smallest velocity into a slit, by the air passing along it outside. [m/s]

    The static pressure before the slit lies below the chamber's total by the dynamic pressure
    of the passing air, so that v = v_mean sqrt((drive - q)/drive).
    """
    field, layout = state.field, state.layout
    if field is None or layout.grid.solid is None or item.lid == "off" or drive <= 0.0:
        return mean
    slit = slit_on_box(item)
    index, areas = slit_areas(layout.grid, slit)
    normal = {"left": 0, "right": 0, "front": 1, "back": 1, "top": 2}[slit.side]
    outside = list(index)
    place = index[normal]
    assert isinstance(place, int)
    outside[normal] = place if slit.side in ("right", "back", "top") else place - 1
    parts = enumerate(cell_velocity(field))
    speeds = [part[tuple(outside)] ** 2 for axis, part in parts if axis != normal]
    passing = 0.5 * layout.chamber_air.density * np.sum(speeds, axis=0)
    worst = float(passing[areas > 0.0].max())
    return mean * float(np.sqrt(max(drive - worst, 0.0) / drive))


def _compartment(state: Coupled, place: Footprint) -> CompartmentState:
    """Return the state of one compartment."""
    item, flows = place.compartment, state.solution.flows
    label = item.label
    flow = actual(state.layout, flows[f"slit {label}"])
    area = item.footprint if item.lid == "off" else item.slit.area
    pressures = state.solution.pressures
    below = pressures[f"compartment {label}"] - pressures[CHAMBER]
    mean = flow / area
    share = None
    if item.floor is not None:
        edge = flows.get(f"edge {label}", 0.0)
        total = edge + flows.get(f"floor {label}", 0.0)
        share = edge / total if total > 0.0 else None
    slowest = _slit_slowest(state, item, mean, -below)
    return CompartmentState(label, below, flow, mean, slowest, share)


def compartment_states(state: Coupled) -> tuple[CompartmentState, ...]:
    """Return pressure, slit velocity and bypass of each compartment."""
    return tuple(_compartment(state, place) for place in state.layout.footprints)


def downflow(state: Coupled) -> FloatArray | None:
    """Return the downward velocity at the measuring height, nan inside solids. [m/s]"""
    if state.field is None:
        return None
    values: FloatArray = downward_at_height(state.field, state.layout.case.measure_height)
    return values
