"""Usual tolerances of a case: how far its values may be off where nobody says otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flowsim.case.schema import Case
from flowsim.case.schema_air import Duct, Exhaust, Fan, Filter, Supply
from flowsim.case.schema_box import Compartment, Leak, Opening
from flowsim.plan.tolerance import Shape, Tolerance, end_complaint

__all__ = ["USUAL", "Usual", "asks_for_transport", "usual_tolerances"]


@dataclass(frozen=True)
class Usual:
    """A usual tolerance, before it is put round a value.

    Parameters
    ----------
    low, high : float
        Factors on the value in the case, unless the rule says otherwise. [-]
    shape : {"even", "bell", "ratio"}
        As of `Tolerance`.
    reason, source : str
        Why so much, and who says so. [-]
    """

    low: float
    high: float
    shape: Shape
    reason: str
    source: str = "assumed"


SHARP = 0.611  # the discharge coefficient that a sharp opening has in a case
DRILLED = 1e-4  # m, by which a drilled hole may be too large

USUAL = {
    "coefficient": Usual(
        0.58 / SHARP, 0.65 / SHARP, "even",
        "published coefficients of sharp openings lie between 0.58 and 0.65",
        "Idelchik 2006, Rennels and Hudson 2012, ASHRAE Fundamentals (the last from memory)",
    ),
    "hole": Usual(0.0, DRILLED, "even", "drilled holes come out 0 to 0.1 mm too large"),
    "free area": Usual(0.0, DRILLED, "even", "drilled holes come out 0 to 0.1 mm too large"),
    "loading": Usual(1.0, 1.3, "even", "dust since the filter was last looked at, up to 30 % more"),
    "rated drop": Usual(0.9, 1.1, "even", "filters of one kind differ by 10 %"),
    "fan pressure": Usual(0.95, 1.05, "even", "fans differ from their maker's curve by 5 %"),
    "fan speed": Usual(0.99, 1.01, "even", "inverter and slip, 1 % of the speed"),
    "momentum": Usual(
        1.0, 1.35, "even",
        "momentum of the air that joins in the plenum: 1 in full, published values up to 1.35",
        "published range, from memory",
    ),
    "eddies": Usual(
        1e-3, 2.5e-2, "ratio",
        "a person, a hand or a door: eddies of 0.1 to 0.5 m at 0.1 to 0.5 m/s",
        "own estimate, order of magnitude",
    ),
    "draught": Usual(0.5, 2.0, "ratio", "room air comes and goes, half to twice as fast"),
    "roughness": Usual(0.5, 2.0, "ratio", "joints and dirt, half to twice as rough"),
    "leak": Usual(0.5, 2.0, "ratio", "nobody has measured it, half to twice as large"),
    "gap": Usual(0.8, 1.25, "ratio", "spacers and an uneven floor, a fifth less to a quarter more"),
    "set flow": Usual(0.95, 1.05, "even", "set by an instrument that reads to 5 %"),
}  # fmt: skip
"""Name of a rule -> how far its values may be off."""

Found = Iterator[tuple[str, "float | tuple[float, ...] | None", str, str]]
"""Key, value, dimension, and name of the rule."""


def usual_tolerances(case: Case) -> tuple[Tolerance, ...]:
    """Return the usual tolerances of the keys that a case has.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    tuple of Tolerance
        In the order of the case; those whose ends the case would refuse are left out.
    """
    made = [_made(case, *found) for found in _found(case)]
    fit = [item for item in made if item is not None]
    return tuple(item for item in fit if not end_complaint(case, item))


def asks_for_transport(case: Case) -> bool:
    """Say whether a case asks where vapour or dust goes.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    bool
        True with a release, a workpiece or dust. [-]
    """
    return bool(case.releases or case.workpieces or case.dust)


def _made(
    case: Case, key: str, value: float | tuple[float, ...] | None, dimension: str, rule: str
) -> Tolerance | None:
    """Return the tolerance of one key, None where there is nothing to spread."""
    usual = USUAL[rule]
    if not value:
        return None
    if isinstance(value, tuple):
        low, high, dimension = usual.low, usual.high, ""
    else:
        low, high = _ends(case, value, rule)
    return Tolerance(key, value, low, high, usual.shape, dimension, usual.reason, usual.source)


def _ends(case: Case, value: float, rule: str) -> tuple[float, float]:
    """Return the ends of a rule round the value of a case."""
    usual = USUAL[rule]
    if rule == "hole":
        return value, value + usual.high
    if rule == "free area" and case.work_surface is not None:
        return value, value * (1.0 + usual.high / case.work_surface.hole_diameter) ** 2
    if rule in ("momentum", "eddies"):
        return min(usual.low, value), max(usual.high, value)
    high = value * usual.high
    return value * usual.low, min(high, 1.0) if rule == "coefficient" else high


def _found(case: Case) -> Found:
    """Yield the keys of a case that have a usual tolerance."""
    yield "room.draught", case.room.draught, "velocity", "draught"
    for name, side in (("supply", case.supply), ("exhaust", case.exhaust)):
        if side is not None:
            yield from _side(side, name)
    for opening in case.openings:
        yield from _opening(opening, f"openings.{opening.label}")
    for leak in case.leaks:
        yield from _leak(leak, f"leaks.{leak.label}")
    yield from _plate(case)
    for box in case.compartments:
        yield from _compartment(box, f"compartments.{box.label}")
    if asks_for_transport(case):
        yield "mixing.in_use", case.mixing.in_use, "diffusivity", "eddies"


def _side(side: Supply | Exhaust, name: str) -> Found:
    """Yield the keys of supply or exhaust."""
    yield f"{name}.flow", side.flow, "flow", "set flow"
    if isinstance(side, Supply):
        yield f"{name}.face_velocity", side.face_velocity, "velocity", "set flow"
    else:
        yield f"{name}.suction", side.suction, "pressure", "set flow"
    if side.fan is not None:
        yield from _fan(side.fan, f"{name}.fan")
    if isinstance(side, Supply) and side.prefilter is not None:
        yield from _filter(side.prefilter, f"{name}.prefilter")
    if side.filter is not None:
        yield from _filter(side.filter, f"{name}.filter")
    for index, duct in enumerate(side.ducts):
        yield from _duct(duct, f"{name}.ducts[{index}]")


def _fan(fan: Fan, name: str) -> Found:
    """Yield the keys of a fan."""
    if fan.pressure is not None:
        yield f"{name}.pressure", fan.pressure, "pressure", "fan pressure"
    else:
        yield f"{name}.shut_off_pressure", fan.shut_off_pressure, "pressure", "fan pressure"
    if fan.frequency is not None:
        yield f"{name}.frequency", fan.frequency, "frequency", "fan speed"
    else:
        yield f"{name}.speed", fan.speed_ratio, "ratio", "fan speed"


def _filter(item: Filter, name: str) -> Found:
    """Yield the keys of a filter."""
    if item.drop is not None:
        yield f"{name}.drop", item.drop, "pressure", "rated drop"
    else:
        yield f"{name}.rated_drop", item.rated_drop, "pressure", "rated drop"
    yield f"{name}.loading", item.loading, "ratio", "loading"
    if item.seal_gap is not None:
        yield f"{name}.seal_gap.height", item.seal_gap.height, "length", "leak"
    else:
        yield f"{name}.leak", item.leak, "ratio", "leak"


def _duct(duct: Duct, name: str) -> Found:
    """Yield the keys of a duct."""
    if duct.length > 0.0 and duct.friction_factor is None:
        yield f"{name}.roughness", duct.roughness, "length", "roughness"


def _opening(opening: Opening, name: str) -> Found:
    """Yield the keys of an opening."""
    if opening.state == "open":
        coefficient = opening.discharge_coefficient
        yield f"{name}.discharge_coefficient", coefficient, "ratio", "coefficient"
    elif opening.state == "covered":
        yield f"{name}.cover_gap", opening.cover_gap, "length", "leak"


def _leak(leak: Leak, name: str) -> Found:
    """Yield the key of a leak that says how large it is."""
    yield f"{name}.area", leak.area, "area", "leak"
    yield f"{name}.coefficient", leak.coefficient, "flow", "leak"
    if leak.gap is not None:
        yield f"{name}.gap.height", leak.gap.height, "length", "leak"


def _plate(case: Case) -> Found:
    """Yield the keys of work surface, plenum and distributor."""
    plate = case.work_surface
    if plate is not None and plate.free_area_ratio is None:
        yield "work_surface.hole_diameter", plate.hole_diameter, "length", "hole"
    elif plate is not None:
        yield "work_surface.free_area_ratio", plate.free_area_ratio, "ratio", "free area"
    if case.plenum is not None:
        coefficient = case.plenum.momentum_coefficient
        yield "plenum.momentum_coefficient", coefficient, "ratio", "momentum"
    if case.distributor is not None:
        yield "distributor.hole_diameter", case.distributor.hole_diameter, "length", "hole"


def _compartment(box: Compartment, name: str) -> Found:
    """Yield the keys of a compartment."""
    coefficient = box.slit.discharge_coefficient
    yield f"{name}.slit.discharge_coefficient", coefficient, "ratio", "coefficient"
    if box.floor is not None and not box.floor.blocked:
        yield f"{name}.floor.hole_diameter", box.floor.hole_diameter, "length", "hole"
        yield f"{name}.floor.gap", box.floor.gap, "length", "gap"
    if box.pipe is not None:
        yield from _duct(box.pipe, f"{name}.pipe")
