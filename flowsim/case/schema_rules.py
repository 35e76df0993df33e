"""Checks between the keys of a part and between parts: which belong together, which exclude."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from flowsim.case.schema_air import Fan, Filter, Fitting
from flowsim.case.schema_box import Compartment, Leak, Plenum, WorkSurface
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_dust import dust_problems
from flowsim.case.schema_fields import Part
from flowsim.case.schema_geometry import geometry_problems
from flowsim.case.schema_limits import Limits, Range
from flowsim.case.schema_places import place_problems
from flowsim.case.schema_problem import Path, Problem, key_path
from flowsim.case.schema_release import Dust
from flowsim.case.schema_vapour import vapour_problems

__all__ = ["ALTERNATIVES", "COLLECT", "REPLACED", "key_path", "problems"]

COLLECT = "collect"
"""Key of the validation context under which a reader collects the problems itself."""

Alternatives = tuple[tuple[str, ...], ...]

ALTERNATIVES: dict[str, tuple[Alternatives, ...]] = {
    "Fan": ((("flow", "pressure"), ("shut_off_pressure", "free_flow")),),
    "Filter": ((("rated_velocity", "rated_drop"), ("rated_flow", "rated_drop"), ("flow", "drop")),),
    "Duct": ((("diameter",), ("width", "height")),),
    "Supply": ((("flow",), ("face_velocity",), ("fan",)),),
    "Exhaust": ((("flow",), ("suction",), ("fan",)),),
    "Leak": ((("area",), ("gap",), ("coefficient",)),),
    "WorkSurface": ((("free_area_ratio",), ("hole_count",), ("pitch",)),),
    "Compartment": ((("floor",), ("pipe",)),),
    "DustSource": ((("person",), ("rates",)),),
}
"""Sets of keys of which exactly one must be given, by the name of the part."""

REPLACED: dict[str, tuple[Alternatives, ...]] = {
    **ALTERNATIVES,
    "Fan": (*ALTERNATIVES["Fan"], (("speed",), ("frequency", "rated_frequency"))),
    "Filter": (
        *ALTERNATIVES["Filter"],
        (("grade",), ("penetration",)),
        (("leak",), ("seal_gap",)),
    ),
    "Release": (
        (("rate", "height"), ("rim", "temperature")),
        (("compartment",), ("offset_x", "offset_y")),
    ),
    "Dust": ((("room_class",), ("room_counts",)),),
    "DustSource": ((("person", "share"), ("rates",)),),
}
"""The same for a change of one key, which takes the others out."""

_FITTING_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "sharp entrance": ((), ()),
    "rounded entrance": (("radius_ratio",), ("radius_ratio",)),
    "flush exit": ((), ()),
    "bend": (("radius_ratio",), ("radius_ratio", "angle")),
    "mitre": ((), ("angle",)),
    "expansion": (("area_ratio",), ("area_ratio",)),
    "contraction": (("area_ratio",), ("area_ratio",)),
    "damper": ((), ("angle", "loss")),
    "loss": (("loss",), ("loss",)),
}
"""Kind of fitting -> keys it needs, keys it may have."""


def problems(case: CaseParts) -> Iterator[Problem]:
    """Find every contradiction between the keys and parts of a case.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves, or a draft in which faulty numbers are nan. [SI]

    Yields
    ------
    Problem
        One per contradiction, in no particular order. [-]
    """
    for path, part in _parts(case, ()):
        yield from _one_of(part, path)
        yield from _inside(part, path)
    yield from _belonging(case)
    yield from _labels(case)
    yield from _grid(case)
    yield from geometry_problems(case)
    yield from place_problems(case)
    yield from vapour_problems(case)
    yield from dust_problems(case)


def _parts(part: Part, path: Path) -> Iterator[tuple[Path, Part]]:
    """Yield a part and all parts in it."""
    yield path, part
    for name in type(part).model_fields:
        value = getattr(part, name, None)
        if isinstance(value, Part):
            yield from _parts(value, (*path, name))
        elif isinstance(value, tuple):
            for index, item in enumerate(value):
                if isinstance(item, Part):
                    yield from _parts(item, (*path, name, index))


def _names(names: Sequence[str], last: str) -> str:
    """Return names joined for a sentence."""
    return f" {last} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _one_of(part: Part, path: Path) -> Iterator[Problem]:
    """Check that exactly one of the alternatives of a part is given, and in full."""
    for sets in ALTERNATIVES.get(type(part).__name__, ()):
        wanted = {name for names in sets for name in names}
        given = {name for name in wanted if getattr(part, name, None) is not None}
        if given in [set(names) for names in sets]:
            continue
        choice = "expected exactly one of " + _names([" + ".join(names) for names in sets], "or")
        if not given:
            yield Problem(path, f"is incomplete; {choice}", absence=True)
            continue
        named = dict.fromkeys(name for names in sets for name in names if name in given)
        shown = _names(list(named), "and")
        fits = [names for names in sets if given < set(names)]
        if fits:
            missing = _names(sorted({n for names in fits for n in names} - given), "or")
            yield Problem(path, f"gives {shown} without {missing}; {choice}", absence=True)
        else:
            yield Problem(path, f"gives {shown} at once; {choice}")


def _inside(part: Part, path: Path) -> Iterator[Problem]:
    """Check the keys of one part against each other."""
    if isinstance(part, Fan):
        yield from _fan(part, path)
    elif isinstance(part, Filter):
        yield from _table(path, "flow", part.flow, "drop", part.drop)
        if _falls(part.drop):
            yield Problem((*path, "drop"), "falls with the flow; expected rising pressure drops")
    elif isinstance(part, Fitting):
        yield from _fitting(part, path)
    elif isinstance(part, Leak) and part.coefficient is None and part.exponent is not None:
        yield Problem((*path, "exponent"), "has no use without coefficient", absence=True)
    elif isinstance(part, WorkSurface):
        yield from _holes(part, path)
    elif isinstance(part, Range):
        yield from _range(part, path)


def _falls(values: Sequence[float] | None) -> bool:
    """Say whether a sequence is not rising somewhere."""
    return any(second <= first for first, second in pairwise(values or ()))


def _table(
    path: Path,
    name: str,
    first: Sequence[float] | None,
    other: str,
    second: Sequence[float] | None,
) -> Iterator[Problem]:
    """Check a table of two lists."""
    if first is None or second is None:
        return
    if len(first) != len(second):
        yield Problem(
            (*path, other),
            f"has {len(second)} values but {name} has {len(first)}; expected as many",
        )
    if len(first) < 2:
        yield Problem(
            (*path, name), f"has {len(first)} value(s); expected a table of at least two points"
        )
    if _falls(first):
        yield Problem((*path, name), "does not rise; expected flows in rising order, each once")


def _fan(fan: Fan, path: Path) -> Iterator[Problem]:
    """Check the curve and the speed of a fan."""
    yield from _table(path, "flow", fan.flow, "pressure", fan.pressure)
    if fan.pressure and fan.pressure[0] <= 0.0:
        yield Problem(
            (*path, "pressure", 0),
            f"is not positive (got {fan.pressure[0]:g} Pa); expected the pressure the fan gives "
            "at the smallest flow",
        )
    pair = (fan.frequency is not None, fan.rated_frequency is not None)
    if pair[0] != pair[1]:
        names = ("frequency", "rated_frequency") if pair[0] else ("rated_frequency", "frequency")
        yield Problem((*path, names[0]), f"needs {names[1]} beside it", absence=True)
    if any(pair) and fan.speed is not None:
        yield Problem(
            (*path, "speed"), "is given beside frequency; expected either speed or frequency"
        )


def _fitting(fitting: Fitting, path: Path) -> Iterator[Problem]:
    """Check that a fitting has the keys its kind needs, and no others."""
    if fitting.kind not in _FITTING_KEYS:
        return
    needed, allowed = _FITTING_KEYS[fitting.kind]
    for name in needed:
        if getattr(fitting, name) is None:
            yield Problem((*path, name), f"is missing for kind '{fitting.kind}'", absence=True)
    for name in ("radius_ratio", "angle", "area_ratio", "loss"):
        if getattr(fitting, name) is not None and name not in allowed:
            yield Problem((*path, name), f"has no meaning for kind '{fitting.kind}'")
    if fitting.kind == "damper" and (fitting.angle is None) == (fitting.loss is None):
        yield Problem(path, "is a damper; expected exactly one of angle or loss", absence=True)


def _holes(plate: WorkSurface, path: Path) -> Iterator[Problem]:
    """Check that the holes of a plate leave something between them."""
    diameter = plate.hole_diameter
    found = f"hole_diameter is {1000.0 * diameter:.6g} mm"
    if plate.pitch is not None and plate.pitch <= diameter:
        yield Problem(
            (*path, "pitch"),
            f"leaves nothing between the holes (got {1000.0 * plate.pitch:.6g} mm, {found}); "
            "expected more than the diameter of a hole",
        )
    if plate.free_area_ratio is not None and plate.free_area_ratio > 0.9:
        yield Problem(
            (*path, "free_area_ratio"),
            f"leaves nothing between round holes (got {plate.free_area_ratio:g}); "
            "expected at most 0.9",
        )


def _range(limit: Range, path: Path) -> Iterator[Problem]:
    """Check a wanted range."""
    if limit.min is None and limit.max is None:
        yield Problem(path, "is empty; expected min, max or both", absence=True)
    elif limit.min is not None and limit.max is not None and limit.min > limit.max:
        yield Problem(
            (*path, "min"), f"is above max (got {limit.min:g} and {limit.max:g} in SI units)"
        )


def _belonging(case: CaseParts) -> Iterator[Problem]:
    """Check parts that are of no use without another."""
    if case.plenum is not None and case.work_surface is None:
        yield Problem(("plenum",), "has no use without [work_surface]", absence=True)
    if case.work_surface is not None and case.plenum is None:
        message = "leads nowhere without [plenum]; leave it out for a solid floor"
        yield Problem(("work_surface",), message, absence=True)
    if case.plenum is not None and case.exhaust is None:
        message = "has ports that lead nowhere without [exhaust]; to switch that off write "
        yield Problem(("plenum",), message + "exhaust.running = false", absence=True)
    if case.distributor is not None and case.plenum is None:
        yield Problem(("distributor",), "has no use without [plenum]", absence=True)
    yield from _draws(case)
    yield from _sources(case)
    for index, leak in enumerate(case.leaks):
        yield from _leaking(case, leak, ("leaks", index))


def _draws(case: CaseParts) -> Iterator[Problem]:
    """Check that plenum, exhaust and compartments lead to one another."""
    pipes = any(box.pipe is not None for box in case.compartments)
    if case.plenum is not None and not case.plenum.ports:
        yield Problem(("plenum", "ports"), "is empty; expected at least one port", absence=True)
    if case.exhaust is not None and case.plenum is None and not pipes:
        message = "draws from nothing; expected [plenum] or a compartment with its own pipe"
        yield Problem(("exhaust",), message, absence=True)
    for index, box in enumerate(case.compartments):
        yield from _compartment(case, box, ("compartments", index))


def _compartment(case: CaseParts, box: Compartment, path: Path) -> Iterator[Problem]:
    """Check that a compartment draws somewhere."""
    if box.floor is not None and case.plenum is None:
        message = "draws from nothing without [plenum]; expected a perforated floor below it"
        yield Problem((*path, "floor"), message, absence=True)
    if box.pipe is not None and case.exhaust is None:
        yield Problem((*path, "pipe"), "leads nowhere without [exhaust]", absence=True)


def _sources(case: CaseParts) -> Iterator[Problem]:
    """Check the supply's needs."""
    supply = case.supply
    if supply is None:
        return
    if supply.face_velocity is not None and supply.filter is None:
        message = "needs [supply.filter], whose face it is the velocity of"
        yield Problem(("supply", "face_velocity"), message, absence=True)
    if supply.box is not None and supply.filter is None:
        yield Problem(("supply", "box"), "has no use without [supply.filter]", absence=True)


def _leaking(case: CaseParts, leak: Leak, path: Path) -> Iterator[Problem]:
    """Check that what leaks exists."""
    if leak.at == "plenum" and case.plenum is None:
        yield Problem((*path, "at"), "names the plenum, but there is no [plenum]", absence=True)
    if leak.at == "supply box" and (case.supply is None or case.supply.box is None):
        message = "names the supply box, but there is no [supply.box]"
        yield Problem((*path, "at"), message, absence=True)


def _labels(case: CaseParts) -> Iterator[Problem]:
    """Check that labels name one thing each."""
    ports = case.plenum.ports if isinstance(case.plenum, Plenum) else ()
    groups: tuple[tuple[Path, Sequence[Part]], ...] = (
        (("openings",), case.openings),
        (("leaks",), case.leaks),
        (("compartments",), case.compartments),
        (("objects",), case.objects),
        (("plenum", "ports"), ports),
        (("releases",), case.releases),
        (("workpieces",), case.workpieces),
        (("dust", "sources"), case.dust.sources if isinstance(case.dust, Dust) else ()),
    )
    for path, parts in groups:
        seen: set[str] = set()
        for index, part in enumerate(parts):
            label = getattr(part, "label", None)
            if isinstance(label, str) and label and label in seen:
                message = f"is used twice (got '{label}'); expected a name of its own"
                yield Problem((*path, index, "label"), message)
            elif isinstance(label, str):
                seen.add(label)


def _grid(case: CaseParts) -> Iterator[Problem]:
    """Check that the grid fits a computer and the measuring height the chamber."""
    cells = case.numerics.cells
    total = 1
    for number in cells if isinstance(cells, tuple) else ():
        total *= number
    if total > 20_000_000:
        message = f"asks for {total / 1e6:.0f} million cells; expected at most 20 million"
        yield Problem(("numerics", "cells"), message)
    limits = case.limits
    stated = isinstance(limits, Limits) and "measure_height" in limits.model_fields_set
    if stated and limits.measure_height >= case.chamber.height:
        yield Problem(
            ("limits", "measure_height"),
            f"is not inside the chamber (got {1000.0 * limits.measure_height:.6g} mm); expected "
            f"less than its height of {1000.0 * case.chamber.height:.6g} mm",
        )
