"""The parts of a case together, not yet checked against each other."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from flowsim.case.schema_air import Exhaust, Supply
from flowsim.case.schema_box import (
    Chamber,
    Compartment,
    Distributor,
    Leak,
    Object,
    Opening,
    Plenum,
    Rectangle,
    Room,
    WorkSurface,
)
from flowsim.case.schema_fields import Part, Text
from flowsim.case.schema_limits import Limits
from flowsim.case.schema_release import Dust, Mixing, Release, Workpiece

__all__ = ["CaseParts", "Numerics"]

Cells = Annotated[int, Field(strict=True, ge=1, le=1000)]


class Numerics(Part):
    """How finely and by which model the case is solved."""

    fidelity: Literal["network", "section", "stacked", "volume"] = "stacked"
    """Model of the chamber."""
    cells: tuple[Cells, Cells, Cells] = (60, 30, 40)
    """Cells along x, y and z. [-]"""
    section: Literal["yz", "xz"] = "yz"
    """Plane of the cut at fidelity "section"."""
    tolerance: Annotated[float, Field(strict=True, gt=0.0, le=1e-3, allow_inf_nan=False)] = 1e-8
    """Of the coupling, relative to each branch's own drive. [-]"""


class CaseParts(Part):
    """The parts of a case, each valid by itself."""

    format: Literal[1]
    """Version of the file format."""
    title: Text
    """What it is."""
    question: Text = ""
    """The question it answers."""
    note: Text = ""
    """Anything else."""
    room: Room = Room()
    """Room."""
    chamber: Chamber
    """Chamber."""
    supply: Supply | None = None
    """Supply; left out = no air is blown in."""
    openings: tuple[Opening, ...] = ()
    """Openings of the chamber to the room."""
    leaks: tuple[Leak, ...] = ()
    """Leaks to the room."""
    work_surface: WorkSurface | None = None
    """Perforated work surface; left out = solid floor."""
    plenum: Plenum | None = None
    """Space under the work surface."""
    distributor: Distributor | None = None
    """Perforated tube in the plenum."""
    exhaust: Exhaust | None = None
    """Exhaust; left out = everything leaves through the openings."""
    compartments: tuple[Compartment, ...] = ()
    """Tray compartments."""
    objects: tuple[Object, ...] = ()
    """Solid boxes in the chamber."""
    mixing: Mixing = Mixing()
    """Eddies of the air."""
    releases: tuple[Release, ...] = ()
    """What gives off vapour."""
    workpieces: tuple[Workpiece, ...] = ()
    """What is to stay clean."""
    dust: Dust | None = None
    """Particles; left out = no word on cleanliness."""
    limits: Limits = Limits()
    """What shall be met."""
    numerics: Numerics = Numerics()
    """Model and grid."""

    @property
    def work_zone(self) -> Rectangle:
        """Perforated zone of the work surface, the whole floor if none is given."""
        if self.work_surface is not None and self.work_surface.zone is not None:
            return self.work_surface.zone
        return Rectangle(
            offset_x=0.0, offset_y=0.0, width=self.chamber.width, depth=self.chamber.depth
        )

    @property
    def measure_height(self) -> float:
        """Height at which the downflow is judged; half-way up a chamber that is lower. [m]"""
        height, chamber = self.limits.measure_height, self.chamber.height
        return height if height < chamber else 0.5 * chamber

    @property
    def free_area_ratio(self) -> float:
        """Open over total area of the perforated zone, 0 for a solid floor [-]."""
        if self.work_surface is None:
            return 0.0
        return self.work_surface.free_area_ratio_over(self.work_zone.area)
