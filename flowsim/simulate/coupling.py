"""The hybrid iteration: network, plenum and chamber until they agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.potential import Field, solve_field
from flowsim.errors import ConvergenceError
from flowsim.network.graph import Network
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
    tube_effective_area,
)
from flowsim.simulate.components import filter_medium
from flowsim.simulate.correction_vector import element_name, fits, pack, scales, unpack
from flowsim.simulate.fluxes import ChamberFlows, boundary_flux, supply_shares
from flowsim.simulate.layout import Layout, actual
from flowsim.simulate.operating import DippedFan, settle_fans
from flowsim.simulate.passing import passing_air
from flowsim.simulate.plena import box_share, filter_header, plenum_flows, tube_in_plenum
from flowsim.simulate.response import (
    crossflow_response,
    opening_laws,
    opening_states,
    station_response,
    strip_means,
    window_weights,
)
from flowsim.simulate.under_trays import tray_sources

__all__ = ["Coupled", "couple"]


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
    """The models of one case with what does not change between rounds, and the latest of each.

    Where the air passing the openings follows straight from the boundary, rounds go without the
    chamber's field; `completed` puts it in.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.start = no_corrections(layout)
        self.filter_header = filter_header(layout)
        self.tube = tube_in_plenum(layout)
        self.share = supply_shares(layout)
        self.air = (layout.chamber_air.density, layout.chamber_air.viscosity)
        self.passing = passing_air(layout)
        self.windows = [window_weights(plan) for plan in layout.openings]
        self.previous: NetworkSolution | None = None
        self.dipped: Mapping[str, DippedFan] = {}
        self.previous_header: HeaderSolution | None = None
        self.previous_box: HeaderSolution | None = None
        self.boundary: FaceFlux | None = None
        self.means: list[FloatArray] = []
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
        self.previous_box = solve_header(
            self.filter_header,
            filter_medium(supply.filter),
            np.ones((self.filter_header.nx, self.filter_header.ny)),
            flow,
            self.air,
            start=self.previous_box,
        )
        return self.previous_box

    def flows(
        self,
        solution: NetworkSolution,
        states: list[tuple[FloatArray, FloatArray]],
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
            [flow * factor for flow, factor in states],
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
        drive = solution.pressures[CHAMBER] - solution.pressures[ROOM]
        states = opening_states(layout, opening_laws(layout, network), drive)
        header = box = field = None
        if layout.case.numerics.fidelity != "network":
            header = self.header(solution)
            box = self.supply_box(solution)
            flows = self.flows(solution, states, header, box)
            self.boundary = boundary_flux(layout, flows)
            field = self.chamber()
        state = Coupled(
            layout,
            corrections,
            network,
            solution,
            header,
            box,
            field,
            tuple(flow for flow, _ in states),
            self.dipped,
            0.0,
            1,
        )
        return _corrections(state, self), state

    def chamber(self) -> Field | None:
        """Find the air passing the openings, with the field if it takes one."""
        layout = self.layout
        assert self.boundary is not None
        if self.passing is not None:
            strips = self.passing.means(self.boundary)
            pairs = zip(strips, self.windows, strict=True)
            self.means = [strip @ window.T for strip, window in pairs]
            return None
        field = solve_field(layout.grid, self.boundary, layout.case.numerics.fidelity)
        self.means = [strip_means(plan, field) for plan in layout.openings]
        return field

    def completed(self, state: Coupled) -> Coupled:
        """Return the state of the latest round with its field."""
        if state.field is not None or self.boundary is None:
            return state
        fidelity = self.layout.case.numerics.fidelity
        return replace(state, field=solve_field(self.layout.grid, self.boundary, fidelity))

    def answer(self, state: Coupled) -> FloatArray:
        """Return how the passing air that the chamber gives changes with the one assumed. [-]"""
        layout = self.layout
        if self.unit is None:
            self.unit = self._unit()
        laws = opening_laws(layout, state.network)
        means = np.concatenate(self.means, axis=1)
        return crossflow_response(layout, laws, state.chamber_drive, means, self.unit)

    def _unit(self) -> FloatArray:
        """Return the strip means that a unit outflow of each single station causes."""
        if self.passing is None:
            return station_response(self.layout, self.share)
        rows = [
            np.concatenate([np.matmul(window, part) for part in row], axis=2)
            for row, window in zip(self.passing.response(self.share), self.windows, strict=True)
        ]
        return np.concatenate(rows, axis=1)


def _corrections(state: Coupled, models: _Models) -> Corrections:
    """Return what the solved fields add to the lumped network."""
    layout = state.layout
    crossflow = models.start.crossflow
    if models.boundary is not None:
        density = layout.chamber_air.density
        crossflow = tuple(0.5 * density * (means**2).sum(axis=0) for means in models.means)
    plate, ports = _plenum_corrections(state, models)
    trays = tray_sources(layout, state.network, state.solution, state.header)
    return Corrections(crossflow, _filter_correction(state), plate, ports, trays)


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


def _slope(state: Coupled, models: _Models) -> FloatArray:
    """Return the derivative of the change of all corrections; the lumped ones stay put."""
    response = models.answer(state)
    slope = -np.eye(pack(models.start).size)
    count = response.shape[0]
    slope[:count, :count] += response
    return slope


def _better(state: Coupled, models: _Models, change: FloatArray) -> FloatArray:
    """Return a change of all corrections as Newton would have it for the passing air."""
    response = models.answer(state)
    count = response.shape[0]
    try:
        step = np.linalg.solve(np.eye(count) - response, change[:count])
    except np.linalg.LinAlgError:
        return change
    return np.concatenate([step, change[count:]])


def couple(layout: Layout, start: Coupled | Corrections | None = None) -> Coupled:
    """Bring network, plenum and chamber to agreement.

    Parameters
    ----------
    layout : Layout
        Geometry of the case.
    start : Coupled or Corrections or None
        Solution of a similar case to begin with; one that does not fit is not used.

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

    Notes
    -----
    A front that is neutral in places may have several states close together, and which one is
    found depends on where the search began. Where an opening blows and draws at once a start is
    therefore not used, so that the answer is that of the case alone.
    """
    if start is not None:
        try:
            return _settled(layout, start)
        except (ConvergenceError, _TwoWayError):
            pass
    return _settled(layout, None)


class _TwoWayError(Exception):
    """An opening blows and draws at once, so that a start may lead to another state."""


def _one_way(state: Coupled) -> bool:
    """Return whether every opening blows out, or draws in, at all its places."""
    return all(bool((flow > 0.0).all() or (flow < 0.0).all()) for flow in state.opening_flows)


def _settled(layout: Layout, start: Coupled | Corrections | None) -> Coupled:
    """Return the agreed state, begun with that of a similar case if it fits."""
    models = _Models(layout)
    guess = start.corrections if isinstance(start, Coupled) else start
    if guess is None or not fits(guess, models.start):
        guess = models.start
    elif isinstance(start, Coupled):
        models.previous = start.solution
        models.previous_header, models.previous_box = start.header, start.supply_box
    last: list[Coupled] = []

    def once(vector: FloatArray) -> tuple[FloatArray, FloatArray]:
        new, state = models.round(unpack(vector, models.start))
        if guess is not models.start and not _one_way(state):
            raise _TwoWayError
        last[:] = [state]
        return pack(new), scales(state.chamber_drive, state.solution.drops, new)

    known = layout.case.numerics.fidelity != "network"
    found = fixed_point(
        once,
        pack(guess),
        layout.case.numerics.tolerance,
        lambda number: element_name(layout, models.start, number),
        (lambda: _slope(last[0], models)) if known else None,
        (lambda change: _better(last[0], models, change)) if models.passing is not None else None,
    )
    state = models.completed(last[0])
    return replace(state, residual=found.residual, iterations=found.iterations)
