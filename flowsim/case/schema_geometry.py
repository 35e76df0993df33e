"""Checks of places and sizes: what must lie inside what, and what may not overlap."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from flowsim.case.schema_air import SupplyBox
from flowsim.case.schema_box import Plenum, Port, Rectangle, WorkSurface
from flowsim.case.schema_boxes import box_problems
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

__all__ = ["geometry_problems"]


def geometry_problems(case: CaseParts) -> Iterator[Problem]:
    """Find every place and size that does not fit.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves; a nan never gives a problem. [SI]

    Yields
    ------
    Problem
        One per misfit. [-]
    """
    yield from _openings(case)
    yield from _supply(case)
    yield from _plate(case)
    if case.plenum is not None:
        yield from _ports(case, case.plenum)
        yield from _tube(case, case.plenum)
    yield from box_problems(case)


def _wall(case: CaseParts, wall: str) -> tuple[float, float, str, str]:
    """Return the two sizes of a chamber wall and whose sizes they are."""
    chamber = case.chamber
    if wall == "ceiling":
        return chamber.width, chamber.depth, "the chamber's width", "the chamber's depth"
    if wall in ("left", "right"):
        return chamber.depth, chamber.height, "the chamber's depth", "the chamber's height"
    return chamber.width, chamber.height, "the chamber's width", "the chamber's height"


def _openings(case: CaseParts) -> Iterator[Problem]:
    """Check that openings lie inside their wall and apart from each other."""
    for index, opening in enumerate(case.openings):
        path: Path = ("openings", index)
        across, up, whose_across, whose_up = _wall(case, opening.wall)
        limit = (across, whose_across)
        yield from beyond(path, ("offset", "width"), opening.offset, opening.width, limit)
        limit = (up, whose_up)
        yield from beyond(path, ("bottom", "height"), opening.bottom, opening.height, limit)
    for (i, first), (j, second) in combinations(enumerate(case.openings), 2):
        same = first.wall == second.wall
        if same and overlap(opening_patch(first), opening_patch(second)):
            message = f"overlaps openings[{i}] ('{first.label}') in the {first.wall} wall"
            yield Problem(("openings", j), message)


def _supply(case: CaseParts) -> Iterator[Problem]:
    """Check filter and box above the ceiling."""
    patch = ceiling_patch(case)
    if patch is None or case.supply is None or case.supply.filter is None:
        return
    media, path = case.supply.filter, ("supply", "filter")
    limit = (case.chamber.width, "the chamber's width")
    yield from beyond(path, ("offset_x", "width"), media.offset_x or 0.0, media.width, limit)
    limit = (case.chamber.depth, "the chamber's depth")
    yield from beyond(path, ("offset_y", "depth"), media.offset_y or 0.0, media.depth, limit)
    for index, opening in enumerate(case.openings):
        if opening.wall == "ceiling" and overlap(patch, opening_patch(opening)):
            yield Problem(("openings", index), "overlaps the supply filter in the ceiling")
    if case.supply.box is not None:
        yield from _inlet(case.supply.box, patch)


def _inlet(box: SupplyBox, patch: Patch) -> Iterator[Problem]:
    """Check the inlet of the box above the filter, which is as large as the filter."""
    path: Path = ("supply", "box")
    width, depth = (patch.end[k] - patch.start[k] for k in (0, 1))
    side = box.inlet_wall in ("left", "right")
    limit = (depth, "the filter's depth") if side else (width, "the filter's width")
    keys = ("inlet_offset", "inlet_width")
    yield from beyond(path, keys, box.inlet_offset or 0.0, box.inlet_width, limit)
    up = (box.height, "the box's height")
    if box.inlet_wall == "ceiling":
        up = (depth, "the filter's depth")
    yield from beyond(path, ("inlet_offset", "inlet_height"), 0.0, box.inlet_height, up)


def _rectangle_inside(case: CaseParts, part: Rectangle, path: Path) -> Iterator[Problem]:
    """Check a rectangle on the work surface against the chamber's floor."""
    limit = (case.chamber.width, "the chamber's width")
    yield from beyond(path, ("offset_x", "width"), part.offset_x, part.width, limit)
    limit = (case.chamber.depth, "the chamber's depth")
    yield from beyond(path, ("offset_y", "depth"), part.offset_y, part.depth, limit)


def _plate(case: CaseParts) -> Iterator[Problem]:
    """Check the perforated zone, its covered patches and the room between holes."""
    plate = case.work_surface
    if plate is None:
        return
    area = case.chamber.width * case.chamber.depth
    if plate.zone is not None:
        area = plate.zone.area
        yield from _rectangle_inside(case, plate.zone, ("work_surface", "zone"))
    for index, patch in enumerate(plate.covered):
        yield from _rectangle_inside(case, patch, ("work_surface", "covered", index))
    yield from _count(plate, area)


def _count(plate: WorkSurface, area: float) -> Iterator[Problem]:
    """Check that a number of holes fits its zone."""
    count = plate.hole_count
    if count is None:
        return
    most = area / (math.sqrt(0.75) * plate.hole_diameter**2)
    if count >= most:
        yield Problem(
            ("work_surface", "hole_count"),
            f"puts the holes closer than their diameter (got {count} of "
            f"{millimetres(plate.hole_diameter)}); expected fewer than {most:.0f} in this zone",
        )


def _port_patch(case: CaseParts, port: Port) -> Patch:
    """Return the place of a port on its wall of the plenum."""
    width, other = port.width or math.nan, port.height or math.nan
    if port.wall == "bottom":
        depth = port.depth or math.nan
        x = (case.chamber.width - width) / 2.0 if port.offset_x is None else port.offset_x
        y = (case.chamber.depth - depth) / 2.0 if port.offset_y is None else port.offset_y
        return patch_of(x, y, width, depth)
    along = case.chamber.depth if port.wall in ("left", "right") else case.chamber.width
    start = (along - width) / 2.0 if port.offset is None else port.offset
    return patch_of(start, 0.0, width, other)


def _ports(case: CaseParts, plenum: Plenum) -> Iterator[Problem]:
    """Check the ports of the plenum."""
    for index, port in enumerate(plenum.ports):
        path: Path = ("plenum", "ports", index)
        yield from _port_keys(port, path)
        yield from _port_size(case, plenum, port, path)
    for (i, first), (j, second) in combinations(enumerate(plenum.ports), 2):
        patches = _port_patch(case, first), _port_patch(case, second)
        if first.wall == second.wall and overlap(*patches):
            message = f"overlaps plenum.ports[{i}] in the {first.wall} wall"
            yield Problem(("plenum", "ports", j), message)


def _port_keys(port: Port, path: Path) -> Iterator[Problem]:
    """Check that a port has the keys its wall needs."""
    if port.wall not in ("left", "right", "front", "back", "bottom"):
        return
    bottom = port.wall == "bottom"
    needed = ("width", "depth") if bottom else ("width", "height")
    useless = ("offset", "height") if bottom else ("offset_x", "offset_y", "depth")
    for name in needed:
        if getattr(port, name) is None:
            message = f"is missing for a port in the {port.wall} wall"
            yield Problem((*path, name), message, absence=True)
    for name in useless:
        if getattr(port, name) is not None:
            message = f"has no meaning for a port in the {port.wall} wall; expected "
            yield Problem((*path, name), message + ", ".join(needed))


def _port_size(case: CaseParts, plenum: Plenum, port: Port, path: Path) -> Iterator[Problem]:
    """Check that a port fits its wall."""
    width_limit = (case.chamber.width, "the plenum's width")
    depth_limit = (case.chamber.depth, "the plenum's depth")
    width = port.width or math.nan
    if port.wall == "bottom":
        depth = port.depth or math.nan
        yield from beyond(path, ("offset_x", "width"), port.offset_x or 0.0, width, width_limit)
        yield from beyond(path, ("offset_y", "depth"), port.offset_y or 0.0, depth, depth_limit)
        return
    side = port.wall in ("left", "right")
    limit = depth_limit if side else width_limit
    yield from beyond(path, ("offset", "width"), port.offset or 0.0, width, limit)
    height = (plenum.height, "the plenum's height")
    yield from beyond(path, ("offset", "height"), 0.0, port.height or math.nan, height)


def _tube(case: CaseParts, plenum: Plenum) -> Iterator[Problem]:
    """Check that the distributor fits the plenum and its port."""
    tube, path = case.distributor, ("distributor",)
    if tube is None:
        return
    outer = tube.diameter + 2.0 * tube.wall_thickness
    if outer > plenum.height + TOUCH:
        yield Problem(
            (*path, "diameter"),
            f"does not fit the plenum: {millimetres(outer)} outside (got "
            f"{millimetres(tube.diameter)}); expected at most {millimetres(plenum.height)} with "
            "the wall on both sides",
        )
    limit = (case.chamber.width, "the plenum's width")
    yield from beyond(path, ("length", "length"), 0.0, tube.length, limit)
    axis = case.chamber.depth / 2.0 if tube.offset_y is None else tube.offset_y
    if axis - outer / 2.0 < -TOUCH or axis + outer / 2.0 > case.chamber.depth + TOUCH:
        message = f"puts the tube through a wall (got {millimetres(axis)}); expected the tube's "
        yield Problem((*path, "offset_y"), message + "radius of room on both sides")
    if tube.hole_count * tube.hole_diameter**2 > math.pi * tube.diameter * tube.length:
        message = f"puts the holes closer than their diameter (got {tube.hole_count} of "
        yield Problem((*path, "hole_count"), f"{message}{millimetres(tube.hole_diameter)})")
    if tube.hole_diameter >= tube.diameter:
        message = f"is not smaller than the tube (got {millimetres(tube.hole_diameter)})"
        yield Problem((*path, "hole_diameter"), message)
    yield from _tube_port(case, plenum, axis)


def _tube_port(case: CaseParts, plenum: Plenum, axis: float) -> Iterator[Problem]:
    """Check the port a distributor is joined to."""
    tube = case.distributor
    if tube is None or not plenum.ports:
        return
    labels = [port.label for port in plenum.ports]
    if isinstance(tube.port, str) and tube.port not in labels:
        known = ", ".join(f"'{label}'" for label in labels if label) or "none has a label"
        message = f"names no port of the plenum (got '{tube.port}'); expected one of: {known}"
        yield Problem(("distributor", "port"), message)
        return
    port = plenum.ports[labels.index(tube.port) if isinstance(tube.port, str) else 0]
    if port.wall in ("front", "back", "bottom"):
        message = f"is joined to a port in the {port.wall} wall; expected one in the left or right"
        yield Problem(("distributor",), message)
        return
    patch = _port_patch(case, port)
    if axis < patch.start[0] - TOUCH or axis > patch.end[0] + TOUCH:
        yield Problem(
            ("distributor", "offset_y"),
            f"puts the tube beside its port (got {millimetres(axis)}); expected "
            f"{millimetres(patch.start[0])} to {millimetres(patch.end[0])}",
        )
