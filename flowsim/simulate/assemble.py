"""The resistance network of a case."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, sqrt

from flowsim._arrays import FloatArray
from flowsim.case.schema import (
    Distributor,
    Duct,
    Exhaust,
    Fan,
    Filter,
    Leak,
    Opening,
    Supply,
)
from flowsim.network.graph import Branch, Closed, FixedFlow, Law, Network
from flowsim.network.laws import (
    CrackLaw,
    FaceLaw,
    FanLaw,
    GapLaw,
    OrificeLaw,
    Polynomial,
)
from flowsim.network.layered import LayeredOpening
from flowsim.physics.air import AirState
from flowsim.physics.perforated_plate import hole_loss
from flowsim.simulate.components import duct_run, fan_curve, filter_medium
from flowsim.simulate.layout import GRAVITY, Layout
from flowsim.simulate.trays import (
    CHAMBER,
    EXHAUST,
    PLENUM,
    TraySources,
    plate_law,
    scaled,
    tray_branches,
)

__all__ = [
    "BOX",
    "CHAMBER",
    "ROOM",
    "Corrections",
    "build_network",
    "no_corrections",
    "port_names",
    "tube_discharge",
    "tube_effective_area",
    "tube_hole_area",
    "tube_port",
]

ROOM = "room"
OUTDOORS = "outdoors"
BOX = "supply box"
OUTLET = "outlet"

COVER_PATH = 0.02  # m, assumed overlap of a loose cover on the wall round its opening
TUBE_FREE_AREA = 0.01  # free-area ratio at which a hole counts as alone in its wall
TUBE_REYNOLDS = 1e4  # of the holes of a distributor tube, where their coefficient is constant
LEAST_RESISTANCE = 1e-6  # Pa s/m3, stands for a joint without a loss of its own


@dataclass(frozen=True)
class Corrections:
    """What the fields add to the lumped network, pressure by pressure.

    Parameters
    ----------
    crossflow : tuple of array, each shape (n,)
        Dynamic pressure of the air passing each station of each open opening. [Pa]
    supply_filter : float
        Lumped filter drop less the drop that the box above it gives. [Pa]
    plate : float
        Lumped plate drop less the drop that the plenum gives. [Pa]
    ports : tuple of float
        Total pressure at each port over the plenum's mean, plus what its branch charges. [Pa]
    trays : tuple of TraySources
        What the gap under each compartment and the plenum below it add. [Pa]
    """

    crossflow: tuple[FloatArray, ...]
    supply_filter: float
    plate: float
    ports: tuple[float, ...]
    trays: tuple[TraySources, ...]


def no_corrections(layout: Layout) -> Corrections:
    """Return the corrections of a network taken alone."""
    case = layout.case
    ports = len(case.plenum.ports) if case.plenum else 0
    return Corrections(
        tuple(0.0 * plan.position for plan in layout.openings),
        0.0,
        0.0,
        (0.0,) * ports,
        (TraySources(),) * len(layout.footprints),
    )


def _ducts(
    ducts: tuple[Duct, ...],
    name: str,
    start: str,
    end: str,
    air: AirState,
    factor: float,
    damper: float = 0.0,
) -> Iterator[Branch]:
    """Yield the ducts between two nodes in series."""
    node = start
    for index, duct in enumerate(ducts):
        last = index == len(ducts) - 1
        after = end if last else f"{name} {index + 1}"
        label = name if len(ducts) == 1 else f"{name} {index + 1}"
        law = duct_run(duct, air, damper if index == 0 else 0.0)
        yield Branch(label, node, after, scaled(law, factor / duct.count), "duct")
        node = after


def _mover(
    source: Supply | Exhaust,
    name: str,
    start: str,
    end: str,
    air: AirState,
    factor: float,
    fixed: float | None,
) -> Branch:
    """Return the fan, or the fixed flow, of a supply or exhaust."""
    if source.fan is not None:
        fan: Fan = source.fan
        curve = fan_curve(fan, air, running=source.running)
        return Branch(f"{name} fan", start, end, scaled(FanLaw(curve), factor), "fan")
    flow = 0.0 if not source.running or fixed is None else fixed
    law: Law = FixedFlow(flow / factor) if flow else Closed()
    return Branch(f"{name} fan", start, end, law, "fixed")


def _filter_branch(
    media: Filter, name: str, start: str, end: str, factor: float, source: float = 0.0
) -> Branch:
    """Return a filter."""
    law = FaceLaw(media.width * media.depth, filter_medium(media))
    return Branch(name, start, end, scaled(law, factor), "filter", source)


def _supply(layout: Layout, corrections: Corrections) -> Iterator[Branch]:
    """Yield the way of the air from the room to the chamber."""
    supply = layout.case.supply
    if supply is None:
        return
    air = layout.room_air
    node = ROOM if supply.intake == "room" else OUTDOORS
    if supply.ducts:
        yield from _ducts(supply.ducts, "supply duct", node, "supply inlet", air, 1.0)
        node = "supply inlet"
    if supply.prefilter is not None:
        yield _filter_branch(supply.prefilter, "prefilter", node, "supply fan inlet", 1.0)
        node = "supply fan inlet"
    end = BOX if supply.filter is not None else CHAMBER
    yield _mover(supply, "supply", node, end, air, 1.0, supply_flow(layout))
    if supply.filter is not None:
        top = (layout.room_air.density - layout.chamber_air.density) * GRAVITY
        lift = top * layout.case.chamber.height
        yield _filter_branch(
            supply.filter,
            "supply filter",
            BOX,
            CHAMBER,
            layout.density_factor,
            corrections.supply_filter - lift,
        )


def supply_flow(layout: Layout) -> float | None:
    """Return the fixed flow of the supply, at room density. [m3/s]"""
    supply = layout.case.supply
    if supply is None:
        return None
    if supply.face_velocity is not None and supply.filter is not None:
        area = supply.filter.width * supply.filter.depth
        return supply.face_velocity * area / layout.density_factor
    return supply.flow


def _opening_law(layout: Layout, index: int, corrections: Corrections) -> LayeredOpening:
    """Return the law of one open opening."""
    plan = layout.openings[index]
    return LayeredOpening(
        plan.area,
        corrections.crossflow[index][:, None],
        plan.head,
        plan.opening.discharge_coefficient,
        layout.chamber_air.density,
        layout.room_air.density,
        layout.room_air.density,
    )


def _cover(opening: Opening, air: AirState) -> Law:
    """Return the gap round the edge of a loose cover."""
    edge = 2.0 * (opening.width + opening.height)
    return GapLaw(opening.cover_gap, COVER_PATH, edge, air.density, air.viscosity)


def _leak_law(leak: Leak, air: AirState) -> Law:
    """Return the law of one leak."""
    if leak.area is not None:
        return OrificeLaw(leak.area, leak.discharge_coefficient, air.density, air.viscosity)
    if leak.gap is not None:
        gap = leak.gap
        return GapLaw(gap.height, gap.path, gap.length, air.density, air.viscosity)
    assert leak.coefficient is not None
    return CrackLaw(leak.coefficient, 0.65 if leak.exponent is None else leak.exponent)


def _front(layout: Layout, corrections: Corrections) -> Iterator[Branch]:
    """Yield openings, covers and leaks."""
    air, factor = layout.chamber_air, layout.density_factor
    for index, plan in enumerate(layout.openings):
        law = _opening_law(layout, index, corrections)
        yield Branch(f"opening {plan.opening.label}", CHAMBER, ROOM, law, "opening")
    for opening in layout.case.openings:
        if opening.state == "covered":
            law2 = scaled(_cover(opening, air), factor)
            yield Branch(f"cover {opening.label}", CHAMBER, ROOM, law2, "leak")
    places = {"chamber": CHAMBER, "plenum": PLENUM, "supply box": BOX}
    for leak in layout.case.leaks:
        law3 = scaled(_leak_law(leak, air), 1.0 if leak.at == "supply box" else factor)
        yield Branch(f"leak {leak.label}", places[leak.at], ROOM, law3, "leak")


def _ports(layout: Layout, corrections: Corrections) -> Iterator[Branch]:
    """Yield the ways out of the plenum: its ports, or the distributor tube."""
    case, air, factor = layout.case, layout.chamber_air, layout.density_factor
    assert case.plenum is not None
    tube = case.distributor
    names = port_names(layout)
    for index, port in enumerate(case.plenum.ports):
        area, loss, kind, name = port.area, port.entry_loss, "port", names[index]
        if tube is not None and index == tube_port(layout):
            area, loss, kind = tube_effective_area(layout), 1.0, "tube"
        law = Polynomial(LEAST_RESISTANCE, 0.5 * air.density * loss / area**2)
        yield Branch(name, PLENUM, EXHAUST, scaled(law, factor), kind, corrections.ports[index])


def tube_port(layout: Layout) -> int:
    """Return the number of the port that the distributor tube is joined to."""
    case = layout.case
    assert case.plenum is not None
    assert case.distributor is not None
    labels = [port.label for port in case.plenum.ports]
    return 0 if case.distributor.port is None else labels.index(case.distributor.port)


def port_names(layout: Layout) -> list[str]:
    """Return the branch of each port of the plenum, or of the tube joined to it."""
    assert layout.case.plenum is not None
    ports = layout.case.plenum.ports
    many = len(ports) > 1
    names = [
        f"port {port.label}" if port.label else f"{port.wall} port" + (f" {index}" if many else "")
        for index, port in enumerate(ports, start=1)
    ]
    if layout.case.distributor is not None:
        names[tube_port(layout)] = "distributor tube"
    return names


def tube_hole_area(tube: Distributor) -> float:
    """Return the area of all holes of a distributor tube. [m2]"""
    return tube.hole_count * 0.25 * pi * tube.hole_diameter**2


def tube_discharge(tube: Distributor) -> float:
    """Return the discharge coefficient of the holes of a distributor tube. [-]"""
    if tube.discharge_coefficient is not None:
        return tube.discharge_coefficient
    ratio = tube.wall_thickness / tube.hole_diameter
    return 1.0 / sqrt(hole_loss(TUBE_FREE_AREA, ratio, TUBE_REYNOLDS))


def tube_effective_area(layout: Layout) -> float:
    """Return discharge coefficient times hole area of the distributor tube. [m2]"""
    tube = layout.case.distributor
    assert tube is not None
    return tube_discharge(tube) * tube_hole_area(tube)


def _exhaust(layout: Layout) -> Iterator[Branch]:
    """Yield the way of the air from the ports to the outlet."""
    exhaust = layout.case.exhaust
    if exhaust is None:
        return
    air, factor = layout.chamber_air, layout.density_factor
    node = EXHAUST
    if exhaust.ducts:
        after = "exhaust duct end"
        yield from _ducts(
            exhaust.ducts, "exhaust duct", node, after, air, factor, exhaust.damper_loss
        )
        node = after
    if exhaust.filter is not None:
        yield _filter_branch(exhaust.filter, "exhaust filter", node, "exhaust fan inlet", factor)
        node = "exhaust fan inlet"
    if exhaust.suction is None:
        yield _mover(exhaust, "exhaust", node, OUTLET, air, factor, exhaust.flow)
        return
    law: Law = Polynomial(LEAST_RESISTANCE, 0.0) if exhaust.running else Closed()
    yield Branch("exhaust suction", node, OUTLET, law, "fixed", exhaust.suction)


def _branches(layout: Layout, corrections: Corrections) -> Iterator[Branch]:
    """Yield all branches of a case."""
    case = layout.case
    if case.room.leak_area is not None:
        air = layout.room_air
        law = OrificeLaw(case.room.leak_area, 0.61, air.density, air.viscosity)
        yield Branch("room leaks", OUTDOORS, ROOM, law, "leak")
    yield from _supply(layout, corrections)
    yield from _front(layout, corrections)
    if layout.plate is not None:
        law2 = plate_law(layout.plate_area, layout.plate, layout.density_factor)
        yield Branch("work surface", CHAMBER, PLENUM, law2, "plate", corrections.plate)
        yield from _ports(layout, corrections)
    for place, sources in zip(layout.footprints, corrections.trays, strict=True):
        yield from tray_branches(layout, place, sources)
    yield from _exhaust(layout)


def build_network(layout: Layout, corrections: Corrections) -> Network:
    """Build the network of a case.

    Parameters
    ----------
    layout : Layout
        Geometry and air.
    corrections : Corrections
        What the fields add. [Pa]

    Returns
    -------
    Network
        Nodes carry total pressure over outdoors [Pa]; flows are volumes at room density [m3/s].
    """
    exhaust = layout.case.exhaust
    fixed = {OUTDOORS: 0.0}
    if exhaust is not None:
        fixed[OUTLET] = exhaust.outlet_pressure
    if layout.case.room.leak_area is None:
        fixed[ROOM] = 0.0
    return Network(fixed, tuple(_branches(layout, corrections)))
