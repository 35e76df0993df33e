"""Checks of places in the chamber: releases, sources of dust, and workpieces."""

from __future__ import annotations

import math
from collections.abc import Iterator

from flowsim.case.schema_box import Compartment, Object
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_patches import Patch, beyond, overlap, patch_of
from flowsim.case.schema_problem import TOUCH, Path, Problem, did_you_mean, millimetres
from flowsim.case.schema_release import DustSource, Release, Workpiece

__all__ = ["place_problems"]


def place_problems(case: CaseParts) -> Iterator[Problem]:
    """Find releases, dust sources and workpieces that are not where they can be.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves; a nan never gives a problem. [SI]

    Yields
    ------
    Problem
        One per misfit. [-]
    """
    for index, release in enumerate(case.releases):
        path: Path = ("releases", index)
        if release.compartment is None:
            yield from _open_release(case, release, path)
        else:
            yield from _enclosed_release(case, release, path)
    for index, piece in enumerate(case.workpieces):
        yield from _workpiece(case, piece, ("workpieces", index))
    for index, source in enumerate(case.dust.sources if case.dust is not None else ()):
        yield from _source(case, source, ("dust", "sources", index))


def _patch(part: Release | Workpiece | DustSource | Object | Compartment) -> Patch:
    """Return a place seen from above."""
    x = math.nan if part.offset_x is None else part.offset_x
    y = math.nan if part.offset_y is None else part.offset_y
    return patch_of(x, y, part.width, part.depth)


def _span(part: Release | DustSource | Object | Compartment) -> tuple[float, float]:
    """Return the lower and the upper edge [m]."""
    low = 0.0 if isinstance(part, Compartment) else part.bottom
    return low, low + part.height


def _boxes(case: CaseParts) -> Iterator[tuple[str, Object | Compartment]]:
    """Yield objects and compartments with their names for a message."""
    for thing in case.objects:
        yield f"object '{thing.label}'", thing
    for box in case.compartments:
        yield f"the box of compartment '{box.label}'", box


def _floor(case: CaseParts, part: Release | Workpiece | DustSource, path: Path) -> list[Problem]:
    """Return how a place leaves the floor of the chamber."""
    x, y = part.offset_x, part.offset_y
    width = (case.chamber.width, "the width of the work surface")
    depth = (case.chamber.depth, "the depth of the work surface")
    return [
        *beyond(path, ("offset_x", "width"), x or 0.0, part.width, width),
        *beyond(path, ("offset_y", "depth"), y or 0.0, part.depth, depth),
    ]


def _upward(
    part: Release | Workpiece | DustSource, path: Path, limit: tuple[float, str]
) -> list[Problem]:
    """Return how a place reaches above a height, or leaves no air above it."""
    height, whose = limit
    if part.bottom >= height - TOUCH:
        message = f"leaves no air above it (got {millimetres(part.bottom)}); expected less than "
        return [Problem((*path, "bottom"), f"{message}{millimetres(height)}, {whose}")]
    if isinstance(part, Workpiece):
        return []
    rim = part.rim if isinstance(part, Release) else 0.0
    key = "rim" if rim > part.height else "height"
    return list(beyond(path, ("bottom", key), part.bottom, max(rim, part.height), limit))


def _inside(part: Release | DustSource | Workpiece, box: Object | Compartment) -> bool:
    """Say whether a place shares air with a box; a level patch takes the air above it."""
    low, high = _span(box)
    start = part.bottom
    end = start if isinstance(part, Workpiece) else start + part.height
    touches = start < high - TOUCH and (end > low + TOUCH or start >= low - TOUCH)
    return overlap(_patch(part), _patch(box)) and touches


def _open_release(case: CaseParts, release: Release, path: Path) -> Iterator[Problem]:
    """Check a release that does not stand in a compartment."""
    names = [name for name in ("offset_x", "offset_y") if getattr(release, name) is None]
    if len(names) == 2:
        message = "has no place; expected offset_x and offset_y, or the label of a compartment"
        yield Problem(path, message, absence=True)
        return
    if names:
        other = "offset_y" if names[0] == "offset_x" else "offset_x"
        message = f"is missing beside {other}; expected a length such as '200 mm'"
        yield Problem((*path, names[0]), message, absence=True)
        return
    outside = _floor(case, release, path)
    outside += _upward(release, path, (case.chamber.height, "the chamber's height"))
    yield from outside
    for name, box in () if outside else _boxes(case):
        if _inside(release, box):
            yield Problem(path, f"lies inside {name}; expected {_way_out(box)}")
            return


def _way_out(box: Object | Compartment) -> str:
    """Return what to write for a release inside a box."""
    if isinstance(box, Object):
        return f"a place in the air, such as bottom = '{millimetres(_span(box)[1])}'"
    return f"compartment = '{box.label}' in the place of offset_x and offset_y, or another place"


def _enclosed_release(case: CaseParts, release: Release, path: Path) -> Iterator[Problem]:
    """Check a release that stands in a compartment."""
    given = [key for key in ("offset_x", "offset_y") if getattr(release, key) is not None]
    if given:
        message = "is given beside compartment, in whose middle the release stands; expected "
        yield Problem((*path, given[0]), f"{message}either a compartment or offsets")
    labels = [box.label for box in case.compartments]
    if not all(isinstance(label, str) for label in (release.compartment, *labels)):
        return
    if release.compartment not in labels:
        known = ", ".join(f"'{label}'" for label in labels)
        known = f"one of {known}" if labels else "a table [[compartments]] with this label"
        message = f"names no compartment (got '{release.compartment}'); expected {known}"
        message += did_you_mean(str(release.compartment), {label: label for label in labels})
        yield Problem((*path, "compartment"), message, rests_on=(("compartments",),))
        return
    box = case.compartments[labels.index(str(release.compartment))]
    whose = f"of compartment '{box.label}'"
    for key, limit in (("width", box.width), ("depth", box.depth)):
        size = (limit, f"the {key} {whose}")
        yield from beyond(path, (key, key), 0.0, getattr(release, key), size)
    yield from _upward(release, path, (box.height, f"the height {whose}"))


def _source(case: CaseParts, source: DustSource, path: Path) -> Iterator[Problem]:
    """Check a source of dust, which may reach into boxes but not lie wholly in one."""
    outside = _floor(case, source, path)
    outside += _upward(source, path, (case.chamber.height, "the chamber's height"))
    yield from outside
    for name, box in () if outside else _boxes(case):
        below = source.bottom + source.height <= _span(box)[1] + TOUCH
        if _inside(source, box) and _covers(box, source) and below:
            yield Problem(path, f"lies inside {name}; expected a place in the air")
            return


def _covers(box: Object | Compartment, part: Workpiece | DustSource) -> bool:
    """Say whether a box may stand under the whole of a patch; a faulty one may."""
    outer, inner = _patch(box), _patch(part)
    return not any(
        outer.start[k] > inner.start[k] + TOUCH or inner.end[k] > outer.end[k] + TOUCH
        for k in (0, 1)
    )


def _workpiece(case: CaseParts, piece: Workpiece, path: Path) -> Iterator[Problem]:
    """Check that a workpiece lies level on the work surface or on top of an object."""
    outside = _floor(case, piece, path)
    outside += _upward(piece, path, (case.chamber.height, "the chamber's height"))
    yield from outside
    if outside:
        return
    for box in case.compartments:
        if overlap(_patch(piece), _patch(box)):
            message = f"lies on compartment '{box.label}'; expected a place beside it"
            yield Problem(path, message)
            return
    for thing in case.objects:
        if _inside(piece, thing):
            top = millimetres(_span(thing)[1])
            message = f"lies inside object '{thing.label}'; expected bottom = '{top}', its top, "
            yield Problem(path, message + "or a place beside it")
            return
    yield from _support(case, piece, path)


def _support(case: CaseParts, piece: Workpiece, path: Path) -> Iterator[Problem]:
    """Check that something carries a workpiece."""
    carried = (
        _covers(thing, piece) and not abs(_span(thing)[1] - piece.bottom) > TOUCH
        for thing in case.objects
    )
    if piece.bottom <= TOUCH or any(carried):
        return
    message = f"is not on the work surface (got {millimetres(piece.bottom)}); expected 0 mm, or "
    message += "the top of an object under the whole of it"
    here = (thing for thing in case.objects if overlap(_patch(piece), _patch(thing)))
    tops = ", ".join(dict.fromkeys(millimetres(_span(thing)[1]) for thing in here))
    message += f" (tops here: {tops})" if tops else ""
    yield Problem((*path, "bottom"), message, rests_on=(("objects",),))
