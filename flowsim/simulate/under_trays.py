"""The gap under each tray compartment, resolved from its rim to its middle."""

from __future__ import annotations

from typing import cast

from flowsim.network.graph import Closed, DropLaw, Network
from flowsim.network.solve import NetworkSolution
from flowsim.plenum.gap import GapSolution, GapUnder, solve_gap
from flowsim.plenum.solution import HeaderSolution
from flowsim.simulate.layout import Footprint, Layout
from flowsim.simulate.trays import CHAMBER, PLENUM, TraySources, floor_plate, has_gap

__all__ = ["tray_sources"]


def _below(place: Footprint, plenum: float, header: HeaderSolution | None) -> float:
    """Return the plenum's pressure under a compartment, against the chamber. [Pa]"""
    if header is None:
        return plenum
    area = place.plan_area
    return float((header.pressure * area).sum()) / float(area.sum())


def _gap(layout: Layout, place: Footprint, tray: float, below: float) -> GapSolution:
    """Return the flow in the gap under one compartment."""
    item, air = place.compartment, layout.chamber_air
    assert item.floor is not None
    assert layout.plate is not None
    share = place.plate_area / float(place.plan_area.sum())
    gap = GapUnder(
        item.width,
        item.depth,
        item.floor.gap,
        layout.plate,
        floor_plate(item, air),
        air.density,
        air.viscosity,
        plate_share=share,
    )
    return solve_gap(gap, tray, below)


def _one(
    layout: Layout,
    place: Footprint,
    network: Network,
    pressures: dict[str, float],
    header: HeaderSolution | None,
) -> TraySources:
    """Return what the branches of one compartment lack."""
    label = place.compartment.label
    floor = place.compartment.floor
    if floor is None or floor.blocked or PLENUM not in pressures:
        return TraySources()
    chamber = pressures[CHAMBER]
    plenum = pressures[PLENUM] - chamber
    below = _below(place, plenum, header)
    if not has_gap(layout, place):
        return TraySources(plate=plenum - below)
    tray = pressures[f"compartment {label}"] - chamber
    found = _gap(layout, place, tray, below)
    mean = found.mean_pressure

    def lacking(branch: str, flow: float, difference: float) -> float:
        law = network.branch(f"{branch} {label}").law
        if isinstance(law, Closed):
            return 0.0
        return cast("DropLaw", law).drop(flow / layout.density_factor)[0] - difference

    return TraySources(
        floor=lacking("floor", found.floor_flow, tray - mean),
        edge=lacking("edge", found.edge_flow, -mean),
        plate=lacking("plate under", found.plate_flow, mean - plenum),
    )


def tray_sources(
    layout: Layout, network: Network, solution: NetworkSolution, header: HeaderSolution | None
) -> tuple[TraySources, ...]:
    """Return what the lumped branches of each compartment lack against its resolved gap.

    Parameters
    ----------
    layout : Layout
        Geometry and air.
    network : Network
        The lumped branches.
    solution : NetworkSolution
        Their pressures. [Pa]
    header : HeaderSolution or None
        The plenum; None takes it at one pressure.

    Returns
    -------
    tuple of TraySources
        One per compartment; zero for one with a pipe of its own. [Pa]
    """
    pressures = dict(solution.pressures)
    return tuple(_one(layout, place, network, pressures, header) for place in layout.footprints)
