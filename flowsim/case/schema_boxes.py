"""Checks of what stands on the work surface: compartments and objects."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from flowsim.case.schema_box import Compartment, Object
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_patches import (
    Patch,
    beyond,
    ceiling_patch,
    opening_patch,
    overlap,
    patch_of,
)
from flowsim.case.schema_problem import TOUCH, Path, Problem, millimetres

__all__ = ["box_problems"]


def box_problems(case: CaseParts) -> Iterator[Problem]:
    """Find compartments and objects that do not fit the chamber or each other.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves; a nan never gives a problem. [SI]

    Yields
    ------
    Problem
        One per misfit. [-]
    """
    yield from _boxes(case)
    for index, box in enumerate(case.compartments):
        yield from _compartment(case, box, ("compartments", index))


def _boxes(case: CaseParts) -> Iterator[Problem]:
    """Check that compartments and objects lie inside the chamber, apart, and off the openings."""
    boxes: list[tuple[Path, Compartment | Object]] = [
        *((("compartments", i), box) for i, box in enumerate(case.compartments)),
        *((("objects", i), box) for i, box in enumerate(case.objects)),
    ]
    for path, box in boxes:
        yield from beyond(
            path, ("offset_x", "width"), box.offset_x, box.width,
            (case.chamber.width, "the chamber's width"),
        )  # fmt: skip
        yield from beyond(
            path, ("offset_y", "depth"), box.offset_y, box.depth,
            (case.chamber.depth, "the chamber's depth"),
        )  # fmt: skip
        yield from beyond(
            path, ("bottom", "height"), _bottom(box), box.height,
            (case.chamber.height, "the chamber's height"),
        )  # fmt: skip
        yield from _in_the_way(case, box, path)
    for (_, first), (path, second) in combinations(boxes, 2):
        high = _bottom(first) + first.height, _bottom(second) + second.height
        apart = _bottom(first) >= high[1] - TOUCH or _bottom(second) >= high[0] - TOUCH
        if overlap(_footprint(first), _footprint(second)) and not apart:
            yield Problem(path, f"overlaps '{first.label}'")


def _bottom(box: Compartment | Object) -> float:
    """Return the lower edge of a box; compartments stand on the work surface."""
    return box.bottom if isinstance(box, Object) else 0.0


def _footprint(box: Compartment | Object) -> Patch:
    """Return the place of a box seen from above."""
    return patch_of(box.offset_x, box.offset_y, box.width, box.depth)


def _faces(case: CaseParts, box: Compartment | Object) -> Iterator[tuple[str, Patch]]:
    """Yield the walls a box touches, with the patch it covers there."""
    chamber, low = case.chamber, _bottom(box)
    across = patch_of(box.offset_x, low, box.width, box.height)
    along = patch_of(box.offset_y, low, box.depth, box.height)
    if box.offset_y <= TOUCH:
        yield "front", across
    if box.offset_y + box.depth >= chamber.depth - TOUCH:
        yield "back", across
    if box.offset_x <= TOUCH:
        yield "left", along
    if box.offset_x + box.width >= chamber.width - TOUCH:
        yield "right", along
    if low + box.height >= chamber.height - TOUCH:
        yield "ceiling", _footprint(box)


def _in_the_way(case: CaseParts, box: Compartment | Object, path: Path) -> Iterator[Problem]:
    """Check that a box does not close an opening or the filter."""
    filter_patch = ceiling_patch(case)
    for wall, patch in _faces(case, box):
        for opening in case.openings:
            if opening.wall == wall and overlap(patch, opening_patch(opening)):
                message = f"stands against the {wall} wall and closes the opening "
                message += f"'{opening.label}'; expected a gap, or another place"
                yield Problem(path, message)
        if wall == "ceiling" and filter_patch and overlap(patch, filter_patch):
            yield Problem(path, "reaches the ceiling and closes part of the supply filter")
        if isinstance(box, Compartment) and box.lid == "on" and _side(box) == wall:
            message = f"is on a side that stands against the {wall} wall of the chamber"
            yield Problem((*path, "slit", "side"), message)


def _side(box: Compartment) -> str:
    """Return the chamber wall that the slit of a compartment faces."""
    return "ceiling" if box.slit.side == "top" else box.slit.side


def _compartment(case: CaseParts, box: Compartment, path: Path) -> Iterator[Problem]:
    """Check slit and floor of a compartment."""
    slit, where = box.slit, (*path, "slit")
    across = (box.width, "the box's width")
    if slit.side in ("left", "right"):
        across = (box.depth, "the box's depth")
    up = (box.depth, "the box's depth") if slit.side == "top" else (box.height, "the box's height")
    yield from beyond(where, ("length", "length"), 0.0, slit.length, across)
    yield from beyond(where, ("bottom", "height"), slit.bottom, slit.height, up)
    if box.floor is None:
        return
    floor, where = box.floor, (*path, "floor")
    if floor.hole_count * floor.hole_diameter**2 * math.sqrt(0.75) >= box.width * box.depth:
        message = f"puts the holes closer than their diameter (got {floor.hole_count} of "
        message += f"{millimetres(floor.hole_diameter)}); expected fewer on this floor"
        yield Problem((*where, "hole_count"), message)
    if case.work_surface is not None and case.work_surface.zone is not None:
        zone = case.work_surface.zone
        patch = patch_of(zone.offset_x, zone.offset_y, zone.width, zone.depth)
        if not overlap(patch, _footprint(box)) and not math.isnan(zone.area * box.footprint):
            yield Problem(path, "stands beside the perforated zone, so its floor draws nothing")
