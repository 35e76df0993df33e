"""Parts of a case that move, clean and carry air."""

from __future__ import annotations

import math
from typing import Literal

from flowsim.case.schema_fields import (
    Angle,
    AnyPressure,
    Count,
    Density,
    Flow,
    FlowOrZero,
    Frequency,
    Label,
    Length,
    LengthOrZero,
    Part,
    PositiveRatio,
    PositiveShare,
    Pressure,
    Ratio,
    Share,
    Switch,
    Velocity,
)

__all__ = [
    "Duct",
    "Exhaust",
    "Fan",
    "Filter",
    "Fitting",
    "LeakGap",
    "Supply",
    "SupplyBox",
]

FittingKind = Literal[
    "sharp entrance",
    "rounded entrance",
    "flush exit",
    "bend",
    "mitre",
    "expansion",
    "contraction",
    "damper",
    "loss",
]


class Fan(Part):
    """A fan: a curve, or shut-off pressure and free flow."""

    flow: tuple[FlowOrZero, ...] | None = None
    """Flows of the curve, rising. [m3/s]"""
    pressure: tuple[AnyPressure, ...] | None = None
    """Total pressure rise at each of these flows. [Pa]"""
    shut_off_pressure: Pressure | None = None
    """Pressure rise with the outlet shut. [Pa]"""
    free_flow: Flow | None = None
    """Flow without any resistance. [m3/s]"""
    speed: Ratio | None = None
    """Speed over the speed of the curve; 1 unless frequencies are given. [-]"""
    frequency: Frequency | None = None
    """Frequency at the inverter. [Hz]"""
    rated_frequency: Frequency | None = None
    """Frequency at which the curve holds. [Hz]"""
    count: Count = 1
    """Equal fans. [-]"""
    arrangement: Literal["parallel", "series"] = "parallel"
    """Several fans side by side or one behind the other."""
    rated_density: Density = 1.204
    """Air density at which the curve holds. [kg/m3]"""
    interpolation: Literal["smooth", "straight"] = "smooth"
    """Between the points of a curve."""

    @property
    def speed_ratio(self) -> float:
        """Speed over the speed of the curve [-]."""
        if self.frequency is not None and self.rated_frequency is not None:
            return self.frequency / self.rated_frequency
        return 1.0 if self.speed is None else self.speed


class LeakGap(Part):
    """A straight narrow gap."""

    height: Length
    """Clear height. [m]"""
    length: Length
    """Length along the seam. [m]"""
    path: Length
    """Way through the gap. [m]"""


class Filter(Part):
    """A filter: one rated point or a table, and how loaded it is."""

    width: Length
    """Size of the open face along x. [m]"""
    depth: Length
    """Size of the open face along y. [m]"""
    offset_x: LengthOrZero | None = None
    """Left edge in the ceiling; left out = centred. [m]"""
    offset_y: LengthOrZero | None = None
    """Front edge in the ceiling; left out = centred. [m]"""
    rated_velocity: Velocity | None = None
    """Face velocity of the rated point. [m/s]"""
    rated_flow: Flow | None = None
    """Flow of the rated point. [m3/s]"""
    rated_drop: Pressure | None = None
    """Pressure drop of the clean filter at the rated point. [Pa]"""
    flow: tuple[Flow, ...] | None = None
    """Flows of a table, rising. [m3/s]"""
    drop: tuple[Pressure, ...] | None = None
    """Pressure drop of the clean filter at each of these flows. [Pa]"""
    inertial_share: Share = 0.1
    """Share of the drop at the rated point that grows with the square of the flow. [-]"""
    loading: PositiveRatio = 1.0
    """Factor on the clean filter's drop: 1 new, 2 at twice the drop. [-]"""
    grade: Label | None = None
    """Class of the supply filter by EN 1822-1 or ISO 29463-1, such as "H14"."""
    penetration: Share | None = None
    """Share of the particles of the worst size that passes the new supply filter. [-]"""
    leak: Share = 0.0
    """Share of the supply filter's flow that passes round it unfiltered. [-]"""
    seal_gap: LeakGap | None = None
    """Gap in the seal of the supply filter, instead of a share."""

    @property
    def area(self) -> float:
        """Open face [m2]."""
        return self.width * self.depth


class Fitting(Part):
    """A bend, an entrance, a damper or any other single loss in a duct."""

    kind: FittingKind
    """What it is."""
    count: Count = 1
    """Equal fittings one behind the other. [-]"""
    radius_ratio: Ratio | None = None
    """Rounding radius (entrance) or bend radius over the duct's hydraulic diameter. [-]"""
    angle: Angle | None = None
    """Angle turned (bend, mitre; 90 deg if left out) or of the blade from open (damper). [rad]"""
    area_ratio: PositiveShare | None = None
    """Smaller over larger area (expansion, contraction); this duct is the smaller one. [-]"""
    loss: Ratio | None = None
    """Loss coefficient on the duct's dynamic pressure (loss, damper). [-]"""


class Duct(Part):
    """One run of duct of constant section, with its fittings."""

    diameter: Length | None = None
    """Inner diameter of a round duct. [m]"""
    width: Length | None = None
    """Inner width of a rectangular duct. [m]"""
    height: Length | None = None
    """Inner height of a rectangular duct. [m]"""
    length: LengthOrZero = 0.0
    """Length of the centre line. [m]"""
    roughness: LengthOrZero = 0.15e-3
    """Height of the wall's roughness. [m]"""
    friction_factor: Ratio | None = None
    """Darcy friction factor, if it shall not follow from roughness and flow. [-]"""
    count: Count = 1
    """Equal pipes side by side. [-]"""
    fittings: tuple[Fitting, ...] = ()
    """Single losses in this run."""

    @property
    def area(self) -> float:
        """Section of one pipe [m2]."""
        if self.diameter is not None:
            return math.pi / 4.0 * self.diameter**2
        return (self.width or 0.0) * (self.height or 0.0)

    @property
    def hydraulic_diameter(self) -> float:
        """Four times the section over its circumference, one pipe [m]."""
        if self.diameter is not None:
            return self.diameter
        width, height = self.width or 0.0, self.height or 0.0
        return 2.0 * width * height / (width + height)


class SupplyBox(Part):
    """The box above the supply filter."""

    height: Length
    """Inner height. [m]"""
    inlet_wall: Literal["left", "right", "front", "back", "ceiling"]
    """Wall of the box in which the air arrives."""
    inlet_offset: LengthOrZero | None = None
    """Edge of the inlet along that wall (x for the ceiling); left out = centred. [m]"""
    inlet_width: Length
    """Size of the inlet along the wall. [m]"""
    inlet_height: Length
    """Size of the inlet upwards (along y for the ceiling). [m]"""


class Supply(Part):
    """The air blown in: exactly one of flow, face velocity and fan."""

    flow: Flow | None = None
    """Fixed flow. [m3/s]"""
    face_velocity: Velocity | None = None
    """Fixed velocity at the face of the filter. [m/s]"""
    fan: Fan | None = None
    """Fan whose flow follows from the resistances."""
    filter: Filter | None = None
    """Filter in the ceiling of the chamber."""
    prefilter: Filter | None = None
    """Coarse filter before the fan."""
    ducts: tuple[Duct, ...] = ()
    """Ducts from the intake to the filter."""
    box: SupplyBox | None = None
    """Box above the filter; left out = air arrives evenly."""
    intake: Literal["room", "outdoors"] = "room"
    """Where the air is taken from."""
    running: Switch = True
    """False: the fan stands still, or nothing is blown in."""


class Exhaust(Part):
    """The air drawn out: exactly one of flow, suction and fan."""

    flow: Flow | None = None
    """Fixed flow. [m3/s]"""
    suction: Pressure | None = None
    """Fixed pressure below outdoors at the end of the ducts, positive = suction. [Pa]"""
    fan: Fan | None = None
    """Fan whose flow follows from the resistances."""
    ducts: tuple[Duct, ...] = ()
    """Ducts from the plenum to the outlet."""
    filter: Filter | None = None
    """Filter in the exhaust."""
    damper_loss: Ratio = 0.0
    """Loss coefficient of a damper on the first duct's velocity, 0 = open. [-]"""
    outlet_pressure: AnyPressure = 0.0
    """Pressure at the outlet from wind or stack. [Pa]"""
    running: Switch = True
    """False: the fan stands still, or nothing is drawn."""
