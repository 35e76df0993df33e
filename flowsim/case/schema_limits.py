"""What the user wants met: a range per key figure."""

from __future__ import annotations

from flowsim.case.schema_fields import (
    AnyFlow,
    AnyPressure,
    AnyRatio,
    AnyTime,
    AnyVelocity,
    ClassNumber,
    Concentration,
    Length,
    Part,
)

__all__ = [
    "ClassRange",
    "ConcentrationRange",
    "FlowRange",
    "Limits",
    "PressureRange",
    "Range",
    "RatioRange",
    "TimeRange",
    "VelocityRange",
]


class Range(Part):
    """Smallest and largest value that is wanted; one of them may be left out."""

    min: float | None = None
    """Not below. [SI unit of the key figure]"""
    max: float | None = None
    """Not above. [SI unit of the key figure]"""


class VelocityRange(Range):
    """A range of velocities."""

    min: AnyVelocity | None = None
    """Not below. [m/s]"""
    max: AnyVelocity | None = None
    """Not above. [m/s]"""


class FlowRange(Range):
    """A range of volume flows."""

    min: AnyFlow | None = None
    """Not below. [m3/s]"""
    max: AnyFlow | None = None
    """Not above. [m3/s]"""


class PressureRange(Range):
    """A range of pressures."""

    min: AnyPressure | None = None
    """Not below. [Pa]"""
    max: AnyPressure | None = None
    """Not above. [Pa]"""


class RatioRange(Range):
    """A range of pure numbers."""

    min: AnyRatio | None = None
    """Not below. [-]"""
    max: AnyRatio | None = None
    """Not above. [-]"""


class ConcentrationRange(Range):
    """A range of vapour in air by volume."""

    min: Concentration | None = None
    """Not below. [ppm]"""
    max: Concentration | None = None
    """Not above. [ppm]"""


class ClassRange(Range):
    """A range of cleanliness classes."""

    min: ClassNumber | None = None
    """Not below. [-]"""
    max: ClassNumber | None = None
    """Not above. [-]"""


class TimeRange(Range):
    """A range of times."""

    min: AnyTime | None = None
    """Not below. [s]"""
    max: AnyTime | None = None
    """Not above. [s]"""


class Limits(Part):
    """Ranges of key figures that shall be met, and where the downflow is judged."""

    measure_height: Length = 0.15
    """Height above the work surface at which the downflow is judged. [m]"""
    front_velocity_min: VelocityRange | None = None
    """Smallest station mean through the front, outward positive. [m/s]"""
    front_velocity_max: VelocityRange | None = None
    """Largest station mean through the front, outward positive. [m/s]"""
    front_velocity_mean: VelocityRange | None = None
    """Mean velocity through the front, outward positive. [m/s]"""
    front_outflow: FlowRange | None = None
    """Net flow through the front, outward positive. [m3/s]"""
    front_inflow_share: RatioRange | None = None
    """Share of the front's area that draws in. [-]"""
    draw_ratio: RatioRange | None = None
    """Largest over smallest draw of the plate along x. [-]"""
    draw_rsd: RatioRange | None = None
    """Relative standard deviation of the draw. [-]"""
    downflow_mean: VelocityRange | None = None
    """Mean downflow at the measuring height. [m/s]"""
    downflow_min: VelocityRange | None = None
    """Smallest downflow at the measuring height. [m/s]"""
    downflow_max: VelocityRange | None = None
    """Largest downflow at the measuring height. [m/s]"""
    downflow_rsd: RatioRange | None = None
    """Relative standard deviation of the downflow. [-]"""
    chamber_pressure: PressureRange | None = None
    """Total pressure of the chamber over the room. [Pa]"""
    compartment_pressure: PressureRange | None = None
    """Pressure of the compartment against the chamber, negative = below it. [Pa]"""
    slit_velocity_min: VelocityRange | None = None
    """Smallest velocity into the slit. [m/s]"""
    slit_velocity_mean: VelocityRange | None = None
    """Mean velocity into the slit. [m/s]"""
    bypass_share: RatioRange | None = None
    """Share of the air drawn under the compartment that comes in round its edge. [-]"""
    tube_draw_ratio: RatioRange | None = None
    """Largest over smallest draw along the distributor. [-]"""
    balance_margin: RatioRange | None = None
    """Least relative drift of supply or exhaust that turns the front. [-]"""
    draught_margin: VelocityRange | None = None
    """Head-on draught that turns the front. [m/s]"""
    supply_flow: FlowRange | None = None
    """Air moved by the supply. [m3/s]"""
    supply_face_velocity: VelocityRange | None = None
    """Velocity at the face of the supply filter. [m/s]"""
    exhaust_flow: FlowRange | None = None
    """Air drawn by the exhaust. [m3/s]"""
    exhaust_fan_pressure: PressureRange | None = None
    """Pressure rise the exhaust fan gives. [Pa]"""
    plate_pressure_drop: PressureRange | None = None
    """Pressure drop of the work surface. [Pa]"""
    plenum_pressure_mean: PressureRange | None = None
    """Mean pressure in the plenum over the room. [Pa]"""
    vapour_escape_share: RatioRange | None = None
    """Largest share of what a release gives off that leaves into the room. [-]"""
    vapour_front_ppm: ConcentrationRange | None = None
    """Vapour in the air at the front. [ppm]"""
    exposure_ratio: RatioRange | None = None
    """What a person breathes over the published limit, at the worst. [-]"""
    lfl_share: RatioRange | None = None
    """Vapour in the exhaust duct over its lower flammable limit. [-]"""
    room_air_share: RatioRange | None = None
    """Largest share of room air over a workpiece. [-]"""
    iso_class: ClassRange | None = None
    """ISO 14644-1 class at the worst workpiece. [-]"""
    recovery_time: TimeRange | None = None
    """From switching on until room air is below 1 in 100 at the worst place. [s]"""
