"""The hybrid iteration: network, plenum and chamber until they agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.potential import Field, solve_field
from flowsim.network.graph import Network
from flowsim.network.layered import LayeredOpening
from flowsim.network.solve import NetworkSolution, solve_network
from flowsim.plenum.header import solve_header
from flowsim.plenum.solution import HeaderSolution
from flowsim.simulate.accelerate import fixed_point
from flowsim.simulate.assemble import (
    CHAMBER,
    ROOM,
    Corrections,
    build_network,
    no_corrections,
    port_names,
    tube_effective_area,
)
from flowsim.simulate.components import filter_medium
from flowsim.simulate.fluxes import ChamberFlows, boundary_flux, supply_shares
from flowsim.simulate.layout import Layout, actual
from flowsim.simulate.operating import DippedFan, settle_fans
from flowsim.simulate.plena import box_share, filter_header, plenum_flows, tube_in_plenum
from flowsim.simulate.response import crossflow_response, station_response, strip_means
from flowsim.simulate.trays import TraySources
from flowsim.simulate.under_trays import tray_sources

__all__ = ["Coupled", "couple"]

TRAY_PARTS = ("floor", "edge", "plate")
LEAST_PRESSURE = 1e-9  # Pa, below which nothing in a bench is felt


@dataclass(frozen=True)
class Coupled:
    """The agreed state of all models.

    Parameters
    ----------
    layout : Layout
        Geometry.
    corrections : Corrections
        What the fields add to the network. [Pa]
    network : Network
        Its branches.
    solution : NetworkSolution
        Pressures [Pa] and flows at room density [m3/s].
    header : HeaderSolution or None
        Plenum.
    supply_box : HeaderSolution or None
        Box above the filter.
    field : Field or None
        Chamber.
    opening_flows : tuple of array, each shape (n, m)
        Out through stations and layers, at the density of the air that moves. [m3/s]
    dipped : mapping of str to DippedFan
        Fans whose curve has a dip, by branch.
    residual : float
        Largest disagreement over the drive of the branch concerned. [-]
    iterations : int
        Rounds of the coupling. [-]
    """

    layout: Layout
    corrections: Corrections
    network: Network
    solution: NetworkSolution
    header: HeaderSolution | None
    supply_box: HeaderSolution | None
    field: Field | None
    opening_flows: tuple[FloatArray, ...]
    dipped: Mapping[str, DippedFan]
    residual: float
    iterations: int

    @cached_property
    def chamber_drive(self) -> float:
        """Total pressure of the chamber over the room's at the work surface. [Pa]"""
        return self.solution.pressures[CHAMBER] - self.solution.pressures[ROOM]


class _Models:
    """The models of one case with what does not change between rounds."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.start = no_corrections(layout)
        self.filter_header = filter_header(layout)
        self.tube = tube_in_plenum(layout)
        self.share = supply_shares(layout)
        self.air = (layout.chamber_air.density, layout.chamber_air.viscosity)
        self.previous: NetworkSolution | None = None
        self.dipped: Mapping[str, DippedFan] = {}
        self.previous_header: HeaderSolution | None = None
        self.unit: FloatArray | None = None

    def network(self, corrections: Corrections) -> tuple[Network, NetworkSolution]:
        """Solve the network."""
        network, self.dipped = settle_fans(build_network(self.layout, corrections))
        self.previous = solve_network(network, self.previous)
        return network, self.previous

    def header(self, solution: NetworkSolution) -> HeaderSolution | None:
        """Solve the plenum with the network's flows."""
        layout = self.layout
        if layout.header is None or layout.plate is None:
            return None
        flows, source = plenum_flows(layout, solution)
        self.previous_header = solve_header(
            layout.header,
            layout.plate,
            layout.open_share,
            flows,
            self.air,
            source,
            self.tube,
            self.previous_header,
        )
        return self.previous_header

    def supply_box(self, solution: NetworkSolution) -> HeaderSolution | None:
        """Solve the box above the filter."""
        supply = self.layout.case.supply
        if self.filter_header is None or supply is None or supply.filter is None:
            return None
        flow = np.array([-actual(self.layout, solution.flows["supply filter"])])
        share = np.ones((self.filter_header.nx, self.filter_header.ny))
        return solve_header(
            self.filter_header,
            filter_medium(supply.filter),
            share,
            flow,
            self.air,
        )

    def flows(
        self,
        network: Network,
        solution: NetworkSolution,
        header: HeaderSolution | None,
        box: HeaderSolution | None,
    ) -> ChamberFlows:
        """Collect what passes the boundary of the chamber, as chamber air."""
        layout, flows = self.layout, solution.flows
        supply = flows.get("supply filter", flows.get("supply fan", 0.0))
        plate = np.zeros_like(layout.open_share)
        if header is not None:
            plate = header.velocity * layout.open_share * layout.cell_area
        labels = [place.compartment.label for place in layout.footprints]
        return ChamberFlows(
            actual(layout, supply),
            self.share if box is None else box_share(layout, self.filter_header, box),
            plate,
            [flow * factor for flow, factor in opening_states(layout, network, solution)],
            {label: actual(layout, flows[f"slit {label}"]) for label in labels},
            {label: actual(layout, flows.get(f"edge {label}", 0.0)) for label in labels},
            {
                plan.opening.label: actual(layout, flows[f"cover {plan.opening.label}"])
                for plan in layout.covers
            },
            sum(
                actual(layout, flows[f"leak {leak.label}"])
                for leak in layout.case.leaks
                if leak.at == "chamber"
            ),
        )

    def round(self, corrections: Corrections) -> tuple[Corrections, Coupled]:
        """Go once through all models."""
        layout = self.layout
        network, solution = self.network(corrections)
        if layout.case.numerics.fidelity == "network":
            states = tuple(flow for flow, _ in opening_states(layout, network, solution))
            fields = (None, None, None)
            state = Coupled(
                layout, corrections, network, solution, *fields, states, self.dipped, 0.0, 1
            )
            return _corrections(state, self), state
        header = self.header(solution)
        box = self.supply_box(solution)
        flows = self.flows(network, solution, header, box)
        field = solve_field(
            layout.grid, boundary_flux(layout, flows), layout.case.numerics.fidelity
        )
        states = tuple(flow for flow, _ in opening_states(layout, network, solution))
        state = Coupled(
            layout, corrections, network, solution, header, box, field, states, self.dipped, 0.0, 1
        )
        return _corrections(state, self), state


def opening_states(
    layout: Layout, network: Network, solution: NetworkSolution
) -> list[tuple[FloatArray, FloatArray]]:
    """Return flow out per station and layer [m3/s] and its volume as chamber air over that [-]."""
    states = []
    drive = solution.pressures[CHAMBER] - solution.pressures[ROOM]
    for plan in layout.openings:
        law = network.branch(f"opening {plan.opening.label}").law
        assert isinstance(law, LayeredOpening)
        flow = law.velocities(drive) * plan.area
        factor = np.where(flow < 0.0, layout.density_factor, 1.0)
        states.append((flow, factor))
    return states


def _corrections(state: Coupled, models: _Models) -> Corrections:
    """Return what the solved fields add to the lumped network."""
    layout, field = state.layout, state.field
    crossflow = models.start.crossflow
    if field is not None:
        crossflow = tuple(_crossflow(layout, field, index) for index in range(len(crossflow)))
    plate, ports = _plenum_corrections(state, models)
    trays = tray_sources(layout, state.network, state.solution, state.header)
    return Corrections(crossflow, _filter_correction(state), plate, ports, trays)


def _crossflow(layout: Layout, field: Field, index: int) -> FloatArray:
    """Return the dynamic pressure of the strip mean of the passing air, per station. [Pa]"""
    means = strip_means(layout.openings[index], field)
    pressure: FloatArray = 0.5 * layout.chamber_air.density * (means**2).sum(axis=0)
    return pressure


def _filter_correction(state: Coupled) -> float:
    """Return the lumped drop of the filter less the one under its box. [Pa]"""
    layout, box = state.layout, state.supply_box
    supply = layout.case.supply
    if box is None or supply is None or supply.filter is None:
        return 0.0
    flow = actual(layout, state.solution.flows["supply filter"])
    speed = flow / (supply.filter.width * supply.filter.depth)
    drop, _ = filter_medium(supply.filter).drop(speed)
    return float(drop) - float(box.port_total[0])


def _plenum_corrections(state: Coupled, models: _Models) -> tuple[float, tuple[float, ...]]:
    """Return the corrections of plate and ports. [Pa]"""
    layout, header = state.layout, state.header
    start = models.start
    if header is None or layout.plate is None:
        return start.plate, start.ports
    flow = actual(layout, state.solution.flows["work surface"])
    lumped, _ = layout.plate.drop(flow / layout.plate_area)
    plate = float(lumped) + header.mean_pressure
    ports = [float(total) - header.mean_pressure for total in header.port_total]
    if models.tube is not None:
        index = models.tube.port_index
        rate = actual(layout, state.solution.flows["distributor tube"])
        speed = rate / tube_effective_area(layout)
        ports[index] += 0.5 * layout.chamber_air.density * speed * abs(speed)
    return plate, tuple(ports)


def _pack(corrections: Corrections) -> FloatArray:
    """Return corrections as one vector. [Pa]"""
    lumped = [corrections.supply_filter, corrections.plate]
    lumped += corrections.ports
    for tray in corrections.trays:
        lumped += [tray.floor, tray.edge, tray.plate]
    return np.concatenate([*corrections.crossflow, np.array(lumped)])


def _unpack(vector: FloatArray, like: Corrections) -> Corrections:
    """Return a vector as corrections; dynamic pressures do not fall below zero."""
    crossflow, place = [], 0
    for old in like.crossflow:
        crossflow.append(np.maximum(vector[place : place + old.size], 0.0))
        place += old.size
    rest = vector[place:].tolist()
    ports = 2 + len(like.ports)
    trays = tuple(TraySources(*rest[at : at + 3]) for at in range(ports, len(rest), 3))
    return Corrections(tuple(crossflow), rest[0], rest[1], tuple(rest[2:ports]), trays)


def _scales(state: Coupled, new: Corrections) -> FloatArray:
    """Return the drive against which each correction is judged. [Pa]"""
    drive = abs(state.chamber_drive)
    parts = [np.maximum(np.maximum(drive, values), LEAST_PRESSURE) for values in new.crossflow]
    drops = state.solution.drops
    floor = LEAST_PRESSURE
    plate = max(abs(drops.get("work surface", 0.0)), floor)
    box = max(abs(drops.get("supply filter", 0.0)), floor)
    lumped = [box, plate] + [plate] * (len(new.ports) + 3 * len(new.trays))
    return np.concatenate([*parts, np.array(lumped)])


def _name(layout: Layout, like: Corrections, number: int) -> str:
    """Return in words which correction stands at a place of the vector."""
    for plan, values in zip(layout.openings, like.crossflow, strict=True):
        if number < values.size:
            where = plan.position[number]
            return f"the air passing opening {plan.opening.label} at {where:.3f} m"
        number -= values.size
    names = ["the supply filter's box", "the plate over the plenum"]
    if layout.case.plenum is not None:
        names += [f"{name} of the plenum" for name in port_names(layout)]
    for place in layout.footprints:
        names += [f"the {part} of compartment {place.compartment.label}" for part in TRAY_PARTS]
    return names[number]


def _slope(state: Coupled, models: _Models) -> FloatArray:
    """Return the derivative of the change of all corrections; the lumped ones stay put."""
    layout, field = state.layout, state.field
    assert field is not None
    if models.unit is None:
        models.unit = station_response(layout, models.share)
    laws = []
    for plan in layout.openings:
        law = state.network.branch(f"opening {plan.opening.label}").law
        assert isinstance(law, LayeredOpening)
        laws.append(law)
    means = np.concatenate([strip_means(plan, field) for plan in layout.openings], axis=1)
    response = crossflow_response(layout, laws, state.chamber_drive, means, models.unit)
    slope = -np.eye(_pack(models.start).size)
    count = response.shape[0]
    slope[:count, :count] += response
    return slope


def couple(layout: Layout) -> Coupled:
    """Bring network, plenum and chamber to agreement.

    Parameters
    ----------
    layout : Layout
        Geometry of the case.

    Returns
    -------
    Coupled
        State of all models with what they disagree by.

    Raises
    ------
    ConvergenceError
        If a model or the coupling does not reach its tolerance.
    RangeError
        If the case asks for the impossible.
    """
    models = _Models(layout)
    last: list[Coupled] = []

    def once(vector: FloatArray) -> tuple[FloatArray, FloatArray]:
        new, state = models.round(_unpack(vector, models.start))
        last[:] = [state]
        return _pack(new), _scales(state, new)

    found = fixed_point(
        once,
        _pack(models.start),
        layout.case.numerics.tolerance,
        lambda number: _name(layout, models.start, number),
        None if layout.case.numerics.fidelity == "network" else lambda: _slope(last[0], models),
    )
    return replace(last[0], residual=found.residual, iterations=found.iterations)
