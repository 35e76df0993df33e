"""The branches of a tray compartment."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

from flowsim.case.schema import Compartment
from flowsim.network.graph import Branch, Closed, DropLaw, FixedFlow, Law
from flowsim.network.laws import FaceLaw, GapLaw, OrificeLaw, Scaled
from flowsim.physics.air import AirState
from flowsim.physics.perforated_plate import PerforatedPlate
from flowsim.simulate.components import duct_run
from flowsim.simulate.layout import Footprint, Layout

__all__ = [
    "CHAMBER",
    "EXHAUST",
    "PLENUM",
    "TraySources",
    "floor_plate",
    "has_gap",
    "plate_law",
    "scaled",
    "tray_branches",
]

CHAMBER = "chamber"
PLENUM = "plenum"
EXHAUST = "exhaust inlet"


def scaled(law: Law, factor: float) -> Law:
    """Return a law for air that is thinner than the room's by a factor."""
    if factor == 1.0 or isinstance(law, Closed | FixedFlow):
        return law
    return Scaled(cast("DropLaw", law), factor)


@dataclass(frozen=True)
class TraySources:
    """Pressures that the lumped branches of a compartment lack.

    Parameters
    ----------
    floor, edge, plate : float
        Lumped drop less the one that gap and plenum give, per branch. [Pa]
    """

    floor: float = 0.0
    edge: float = 0.0
    plate: float = 0.0


def plate_law(area: float, plate: PerforatedPlate, factor: float) -> Law:
    """Return the law of a part of the perforated work surface."""
    return scaled(FaceLaw(area, plate), factor) if area > 0.0 else Closed()


def _slit(item: Compartment, air: AirState) -> Law:
    """Return the way from the chamber into a compartment."""
    slit = item.slit
    if item.lid == "off":
        return OrificeLaw(
            item.width * item.depth, slit.discharge_coefficient, air.density, air.viscosity
        )
    area = slit.length * slit.height
    return OrificeLaw(area, slit.discharge_coefficient, air.density, air.viscosity)


def floor_plate(item: Compartment, air: AirState) -> PerforatedPlate | None:
    """Return the floor holes as a law on the footprint's face, None where they are blocked."""
    floor = item.floor
    if floor is None or floor.blocked:
        return None
    share = floor.hole_area / (item.width * item.depth)
    return PerforatedPlate(
        share, floor.thickness, floor.hole_diameter, air.density, air.viscosity, None
    )


def _floor(item: Compartment, air: AirState) -> Law:
    """Return the holes in the floor of a compartment."""
    plate = floor_plate(item, air)
    return Closed() if plate is None else FaceLaw(item.width * item.depth, plate)


def has_gap(layout: Layout, place: Footprint) -> bool:
    """Return whether air can come in under a compartment round its edge."""
    floor = place.compartment.floor
    if floor is None or layout.plate is None or place.plate_area == 0.0:
        return False
    return floor.gap > 0.0 and not floor.blocked


def gap_path(item: Compartment) -> float:
    """Return the mean way of the air through the gap under a box, from its edge inwards. [m]"""
    return 0.25 * min(item.width, item.depth)


def _edge(item: Compartment, air: AirState) -> Law:
    """Return the gap round the foot of a compartment."""
    floor = item.floor
    assert floor is not None
    if floor.gap == 0.0 or floor.blocked:
        return Closed()
    rim = 2.0 * (item.width + item.depth)
    return GapLaw(floor.gap, gap_path(item), rim, air.density, air.viscosity)


def tray_branches(layout: Layout, place: Footprint, sources: TraySources) -> Iterator[Branch]:
    """Yield the branches of one compartment.

    Parameters
    ----------
    layout : Layout
        Geometry and air.
    place : Footprint
        The compartment and the plate below it.
    sources : TraySources
        What the resolved gap and the plenum below add. [Pa]

    Yields
    ------
    Branch
        Slit, floor, edge and plate, or slit and pipe.
    """
    item, air, factor = place.compartment, layout.chamber_air, layout.density_factor
    node = f"compartment {item.label}"
    yield Branch(f"slit {item.label}", CHAMBER, node, scaled(_slit(item, air), factor), "slit")
    if item.pipe is not None:
        law = duct_run(item.pipe, air, 0.0)
        share = factor / item.pipe.count
        yield Branch(f"pipe {item.label}", node, EXHAUST, scaled(law, share), "duct")
        return
    if item.floor is None or item.floor.blocked:
        return
    gap = f"gap {item.label}"
    floor, edge = scaled(_floor(item, air), factor), scaled(_edge(item, air), factor)
    yield Branch(f"floor {item.label}", node, gap, floor, "plate", sources.floor)
    yield Branch(f"edge {item.label}", CHAMBER, gap, edge, "gap", sources.edge)
    if layout.plate is not None:
        law2 = plate_law(place.plate_area, layout.plate, factor)
        yield Branch(f"plate under {item.label}", gap, PLENUM, law2, "plate", sources.plate)
