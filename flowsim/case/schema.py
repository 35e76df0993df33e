"""The case: everything a case file says, in SI units."""

from __future__ import annotations

from typing import Self

from pydantic import ValidationInfo, model_validator

from flowsim.case.schema_air import (
    Duct,
    Exhaust,
    Fan,
    Filter,
    Fitting,
    Supply,
    SupplyBox,
)
from flowsim.case.schema_box import (
    Chamber,
    Compartment,
    CompartmentFloor,
    Distributor,
    Leak,
    LeakGap,
    Object,
    Opening,
    Plenum,
    Port,
    Rectangle,
    Room,
    Slit,
    WorkSurface,
)
from flowsim.case.schema_case import CaseParts, Numerics
from flowsim.case.schema_limits import Limits, Range
from flowsim.case.schema_release import Dust, DustSource, Mixing, Release, Workpiece
from flowsim.case.schema_rules import COLLECT, key_path, problems

__all__ = [
    "Case",
    "Chamber",
    "Compartment",
    "CompartmentFloor",
    "Distributor",
    "Duct",
    "Dust",
    "DustSource",
    "Exhaust",
    "Fan",
    "Filter",
    "Fitting",
    "Leak",
    "LeakGap",
    "Limits",
    "Mixing",
    "Numerics",
    "Object",
    "Opening",
    "Plenum",
    "Port",
    "Range",
    "Rectangle",
    "Release",
    "Room",
    "Slit",
    "Supply",
    "SupplyBox",
    "WorkSurface",
    "Workpiece",
]


class Case(CaseParts):
    """One enclosure with its supply, exhaust, room and the limits its user wants met."""

    @model_validator(mode="after")
    def _parts_agree(self, info: ValidationInfo) -> Self:
        """Refuse parts that contradict each other, unless the reader collects that itself."""
        if info.context and info.context.get(COLLECT):
            return self
        found = [f"{key_path(problem.path)}: {problem.message}" for problem in problems(self)]
        if found:
            raise ValueError("\n".join(found))
        return self
