"""Parts of a case that give off vapour or dust, and the workpieces that are to stay clean."""

from __future__ import annotations

from typing import Literal

from flowsim.case.schema_fields import (
    ClassNumber,
    CountRate,
    Diffusivity,
    Duration,
    Label,
    Length,
    LengthOrZero,
    MassRate,
    NumberDensity,
    Part,
    ParticleDensity,
    ParticleSize,
    Share,
    Temperature,
    Text,
)

__all__ = ["Dust", "DustSource", "Mixing", "Release", "Workpiece"]


class Mixing(Part):
    """How the eddies of the air mix what it carries: assumptions, printed beside each result."""

    intensity: Share = 0.05
    """Speed of the eddies of the supply over the speed of the air. [-]"""
    eddy_size: Length = 0.02
    """Size of these eddies. [m]"""
    in_use: Diffusivity = 5e-3
    """Eddy diffusivity that a person at work adds. [m2/s]"""


class Release(Part):
    """A liquid that gives off vapour, or a place where a stated rate is given off."""

    label: Label
    """Name."""
    substance: Text
    """What lies there: a pure liquid or a solution in water, by name, formula or CAS number."""
    strength: Share | None = None
    """Mass of what is dissolved over the mass of the solution; not for a pure liquid. [-]"""
    compartment: Label | None = None
    """Label of the compartment in which it stands, in the middle; then without offsets."""
    offset_x: LengthOrZero | None = None
    """Left edge. [m]"""
    offset_y: LengthOrZero | None = None
    """Front edge. [m]"""
    bottom: LengthOrZero = 0.0
    """Surface of the liquid, or lower edge of the space, above the work surface. [m]"""
    width: Length
    """Of the liquid's surface or of the spot, along x. [m]"""
    depth: Length
    """Of the liquid's surface or of the spot, along y. [m]"""
    height: LengthOrZero = 0.0
    """Of the space in which a stated rate is given off; 0 = on its bottom. [m]"""
    rim: LengthOrZero = 0.0
    """Height of the rim above the liquid. [m]"""
    rate: MassRate | None = None
    """Stated rate, instead of evaporation from the liquid. [kg/s]"""
    temperature: Temperature | None = None
    """Temperature of the liquid; left out = as the air of the chamber. [K]"""
    duration: Duration | None = None
    """How long it lasts; left out = 8 h. [s]"""

    @property
    def area(self) -> float:
        """Surface of the liquid, seen from above [m2]."""
        return self.width * self.depth


class Workpiece(Part):
    """A level patch that is to stay clean, on the work surface or on top of an object."""

    label: Label
    """Name."""
    offset_x: LengthOrZero
    """Left edge. [m]"""
    offset_y: LengthOrZero
    """Front edge. [m]"""
    bottom: LengthOrZero = 0.0
    """Height above the work surface: 0, or the top of the object it lies on. [m]"""
    width: Length
    """Along x. [m]"""
    depth: Length
    """Along y. [m]"""

    @property
    def area(self) -> float:
        """Area [m2]."""
        return self.width * self.depth


class DustSource(Part):
    """A place where particles are given off: exactly one of person and rates."""

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
    height: LengthOrZero = 0.0
    """Along z; 0 = from a level patch. [m]"""
    person: Literal["indoor clothes", "cleanroom garments"] | None = None
    """Clothing of a person who gives off the published mean ..."""
    share: Share = 1.0
    """Share of that mean which is given off here, such as that of one arm. [-]"""
    rates: tuple[CountRate, ...] | None = None
    """... or particles of each size and larger in a time, one value per size. [1/s]"""


class Dust(Part):
    """Particles: the sizes that are judged, those in the room, and sources in the chamber."""

    sizes: tuple[ParticleSize, ...] = (0.3e-6, 0.5e-6, 5e-6)
    """Sizes at which particles of this size and larger are counted, ascending. [m]"""
    room_class: ClassNumber = 9.0
    """ISO 14644-1 class of the room, 1 to 9; 9 is plain room air. [-]"""
    room_counts: tuple[NumberDensity, ...] | None = None
    """In the room, of each size and larger, one value per size; instead of a class. [1/m3]"""
    density: ParticleDensity = 1000.0
    """Density of the particles. [kg/m3]"""
    sources: tuple[DustSource, ...] = ()
    """Sources in the chamber."""
