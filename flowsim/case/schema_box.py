"""Parts of a case that have a place: chamber, openings, plate, plenum, compartments, objects."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from flowsim.case.schema_air import Duct, LeakGap
from flowsim.case.schema_fields import (
    AirPressure,
    Area,
    Count,
    Flow,
    FlowOrZero,
    Label,
    LabelOrNone,
    Length,
    LengthOrZero,
    Part,
    PositiveShare,
    Quantity,
    Ratio,
    Share,
    Switch,
    Temperature,
    VelocityOrZero,
    Volume,
)

__all__ = [
    "Chamber",
    "Compartment",
    "CompartmentFloor",
    "Distributor",
    "Leak",
    "LeakGap",
    "Object",
    "Opening",
    "Plenum",
    "Port",
    "Rectangle",
    "Room",
    "Slit",
    "WorkSurface",
]


class Room(Part):
    """The room in which the bench stands."""

    temperature: Temperature = 293.15
    """Air temperature. [K]"""
    pressure: AirPressure = 101325.0
    """Absolute air pressure. [Pa]"""
    relative_humidity: Share = 0.5
    """Relative humidity. [-]"""
    draught: VelocityOrZero = 0.0
    """Speed of the room air before the front. [m/s]"""
    leak_area: Area | None = None
    """Effective leak of the room to outdoors; left out = held at outdoor pressure. [m2]"""
    volume: Volume | None = None
    """Volume of the air in the room; needed to say what a person breathes. [m3]"""
    fresh_air: FlowOrZero | None = None
    """Fresh air through the room, given with its volume. [m3/s]"""


class Chamber(Part):
    """The inside of the enclosure above the work surface."""

    width: Length
    """Along x, left to right. [m]"""
    depth: Length
    """Along y, front to back. [m]"""
    height: Length
    """Along z, from the work surface up. [m]"""
    temperature: Temperature | None = None
    """Air temperature inside; left out = as the room. [K]"""

    @property
    def volume(self) -> float:
        """Volume of the empty chamber [m3]."""
        return self.width * self.depth * self.height


class Opening(Part):
    """A rectangular hole in a wall of the chamber."""

    label: Label
    """Name."""
    wall: Literal["front", "back", "left", "right", "ceiling"]
    """Wall in which it is cut."""
    offset: LengthOrZero
    """Edge along the wall: from the left (front, back, ceiling), from the front (sides). [m]"""
    bottom: LengthOrZero
    """Lower edge above the work surface; in the ceiling: edge from the front. [m]"""
    width: Length
    """Size along the wall. [m]"""
    height: Length
    """Size upwards; in the ceiling: towards the back. [m]"""
    state: Literal["open", "shut", "covered"] = "open"
    """Covered: a loose cover leaves a gap round the edge."""
    cover_gap: Length = 1e-3
    """Height of that gap. [m]"""
    sleeve: LengthOrZero = 0.0
    """Depth of a sleeve behind the opening. [m]"""
    discharge_coefficient: PositiveShare = 0.611
    """Flow over the flow without contraction and loss. [-]"""

    @property
    def area(self) -> float:
        """Cut area [m2]."""
        return self.width * self.height


class Leak(Part):
    """A leak to the room: exactly one of area, gap, and coefficient with exponent."""

    label: Label
    """Name."""
    at: Literal["chamber", "plenum", "supply box"] = "chamber"
    """What leaks."""
    area: Area | None = None
    """Area of a hole. [m2]"""
    discharge_coefficient: PositiveShare = 0.611
    """Of that hole. [-]"""
    gap: LeakGap | None = None
    """A straight gap."""
    coefficient: Flow | None = None
    """C in Q = C dp^n: the flow at 1 Pa. [m3/s]"""
    exponent: Annotated[float, Quantity("ratio", least=0.5, most=1.0)] | None = None
    """n in Q = C dp^n; 0.65 if left out. [-]"""


class Rectangle(Part):
    """A rectangle on the work surface."""

    offset_x: LengthOrZero
    """Left edge. [m]"""
    offset_y: LengthOrZero
    """Front edge. [m]"""
    width: Length
    """Along x. [m]"""
    depth: Length
    """Along y. [m]"""

    @property
    def area(self) -> float:
        """Area [m2]."""
        return self.width * self.depth


class WorkSurface(Part):
    """The perforated plate: exactly one of free_area_ratio, hole_count and pitch."""

    thickness: Length
    """Thickness of the plate. [m]"""
    hole_diameter: Length
    """Diameter of one hole. [m]"""
    free_area_ratio: PositiveShare | None = None
    """Open over total area of the perforated zone. [-]"""
    hole_count: Count | None = None
    """Holes in the whole perforated zone. [-]"""
    pitch: Length | None = None
    """Distance between the centres of neighbouring holes. [m]"""
    pattern: Literal["square", "triangular"] = "square"
    """Arrangement of the holes."""
    zone: Rectangle | None = None
    """Perforated zone; left out = the whole floor."""
    covered: tuple[Rectangle, ...] = ()
    """Parts of the zone that are covered up."""
    discharge_coefficient: PositiveShare | None = None
    """Fixed discharge coefficient of a hole, if it shall not follow from the plate law. [-]"""

    @property
    def hole_area(self) -> float:
        """Area of one hole [m2]."""
        return math.pi / 4.0 * self.hole_diameter**2

    def free_area_ratio_over(self, area: float) -> float:
        """Return the open over the total area of the perforated zone.

        Parameters
        ----------
        area : float
            Area of the perforated zone, used with a hole count. [m2]

        Returns
        -------
        float
            Free-area ratio. [-]
        """
        if self.free_area_ratio is not None:
            return self.free_area_ratio
        if self.hole_count is not None:
            return self.hole_count * self.hole_area / area
        pitch = self.pitch if self.pitch is not None else math.inf
        cell = pitch**2 if self.pattern == "square" else math.sqrt(0.75) * pitch**2
        return self.hole_area / cell


class Port(Part):
    """An opening of the plenum towards the exhaust."""

    label: LabelOrNone = ""
    """Name; needed where a distributor is joined to one of several."""
    wall: Literal["left", "right", "front", "back", "bottom"]
    """Wall of the plenum."""
    offset: LengthOrZero | None = None
    """Edge along the wall (y for left and right, x for front and back); left out = centred. [m]"""
    width: Length | None = None
    """Size along the wall; in the bottom: along x. [m]"""
    height: Length | None = None
    """Size upwards, not in the bottom. [m]"""
    offset_x: LengthOrZero | None = None
    """Left edge of a port in the bottom; left out = centred. [m]"""
    offset_y: LengthOrZero | None = None
    """Front edge of a port in the bottom; left out = centred. [m]"""
    depth: Length | None = None
    """Size along y of a port in the bottom. [m]"""
    entry_loss: Ratio = 0.5
    """Loss coefficient on the port's own dynamic pressure. [-]"""

    @property
    def area(self) -> float:
        """Clear area [m2]."""
        other = self.depth if self.wall == "bottom" else self.height
        return (self.width or 0.0) * (other or 0.0)


class Plenum(Part):
    """The space under the work surface."""

    height: Length
    """Clear height. [m]"""
    ports: tuple[Port, ...]
    """At least one."""
    momentum_coefficient: Annotated[float, Quantity("ratio", least=0.5, most=1.5)] = 1.0
    """Momentum coefficient theta where air joins: 1 full momentum; published up to 1.35. [-]"""
    roughness: LengthOrZero = 0.0
    """Height of the walls' roughness. [m]"""


class Distributor(Part):
    """A perforated tube in the plenum, along x, joined to a port in the left or right wall."""

    diameter: Length
    """Inner diameter. [m]"""
    length: Length
    """Perforated length, from the port's wall. [m]"""
    hole_diameter: Length
    """Diameter of one hole. [m]"""
    hole_count: Count
    """Holes in all. [-]"""
    offset_y: LengthOrZero | None = None
    """Place of the axis; left out = the middle of the depth. [m]"""
    port: Label | None = None
    """Label of the port it is joined to; left out = the first."""
    wall_thickness: Length = 3e-3
    """Thickness of the tube's wall. [m]"""
    roughness: LengthOrZero = 0.0
    """Height of the wall's roughness. [m]"""
    discharge_coefficient: PositiveShare | None = None
    """Of a hole; left out = from the plate law. [-]"""


class Slit(Part):
    """The slit through which a compartment draws."""

    side: Literal["front", "back", "left", "right", "top"]
    """Side of the box."""
    length: Length
    """Along the side, centred; on top: along x. [m]"""
    height: Length
    """Clear height; on top: along y. [m]"""
    bottom: LengthOrZero = 0.0
    """Lower edge; on top: front edge, from the front of the box. [m]"""
    discharge_coefficient: PositiveShare = 0.61
    """Flow over the flow without contraction and loss. [-]"""

    @property
    def area(self) -> float:
        """Clear area [m2]."""
        return self.length * self.height


class CompartmentFloor(Part):
    """Floor holes of a compartment that stands on the perforated plate."""

    hole_diameter: Length
    """Diameter of one hole. [m]"""
    hole_count: Count
    """Holes. [-]"""
    thickness: Length = 3e-3
    """Thickness of the floor. [m]"""
    gap: LengthOrZero = 2e-3
    """Height of the gap under the box, 0 = sealed round the edge. [m]"""
    blocked: Switch = False
    """True: the holes are blocked."""

    @property
    def hole_area(self) -> float:
        """Area of all holes [m2]."""
        return self.hole_count * math.pi / 4.0 * self.hole_diameter**2


class Compartment(Part):
    """A box on the plate, kept below the chamber's pressure."""

    label: Label
    """Name."""
    offset_x: LengthOrZero
    """Left edge. [m]"""
    offset_y: LengthOrZero
    """Front edge. [m]"""
    width: Length
    """Along x. [m]"""
    depth: Length
    """Along y. [m]"""
    height: Length
    """Along z, from the work surface. [m]"""
    slit: Slit
    """Where it draws from the chamber."""
    lid: Literal["on", "off"] = "on"
    """Off: the whole top is open."""
    floor: CompartmentFloor | None = None
    """It draws through its floor and the plate into the plenum ..."""
    pipe: Duct | None = None
    """... or through a pipe of its own to the exhaust."""

    @property
    def footprint(self) -> float:
        """Area it stands on [m2]."""
        return self.width * self.depth


class Object(Part):
    """A solid box in the chamber."""

    label: Label
    """Name."""
    offset_x: LengthOrZero
    """Left edge. [m]"""
    offset_y: LengthOrZero
    """Front edge. [m]"""
    bottom: LengthOrZero = 0.0
    """Lower edge above the work surface. [m]"""
    width: Length
    """Along x. [m]"""
    depth: Length
    """Along y. [m]"""
    height: Length
    """Along z. [m]"""
