"""Rectangles on walls and floor, and whether they fit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from flowsim.case.schema_box import Opening
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_problem import TOUCH, Path, Problem, millimetres

__all__ = ["Patch", "beyond", "ceiling_patch", "opening_patch", "overlap", "patch_of"]


@dataclass(frozen=True)
class Patch:
    """A rectangle: start and end along two axes [m]."""

    start: tuple[float, float]
    end: tuple[float, float]


def patch_of(a: float, b: float, width: float, height: float) -> Patch:
    """Return a patch from its lower corner and size."""
    return Patch((a, b), (a + width, b + height))


def overlap(first: Patch, second: Patch) -> bool:
    """Say whether two patches share area."""
    return all(
        first.start[k] < second.end[k] - TOUCH and second.start[k] < first.end[k] - TOUCH
        for k in (0, 1)
    )


def beyond(
    path: Path, keys: tuple[str, str], start: float, size: float, limit: tuple[float, str]
) -> Iterator[Problem]:
    """Check that start + size stays within a limit; keys name start and size."""
    room, whose = limit
    if size > room + TOUCH:
        message = f"is too large (got {millimetres(size)}); expected at most {millimetres(room)}"
        yield Problem((*path, keys[1]), f"{message}, {whose}")
    elif start + size > room + TOUCH:
        yield Problem(
            (*path, keys[0]),
            f"lies outside: {keys[0]} + {keys[1]} is {millimetres(start + size)} (got "
            f"{millimetres(start)} + {millimetres(size)}); expected at most {millimetres(room)}, "
            f"{whose}",
        )


def opening_patch(opening: Opening) -> Patch:
    """Return the place of an opening on its wall."""
    return patch_of(opening.offset, opening.bottom, opening.width, opening.height)


def ceiling_patch(case: CaseParts) -> Patch | None:
    """Return the place of the supply filter in the ceiling."""
    if case.supply is None or case.supply.filter is None:
        return None
    media, chamber = case.supply.filter, case.chamber
    x = (chamber.width - media.width) / 2.0 if media.offset_x is None else media.offset_x
    y = (chamber.depth - media.depth) / 2.0 if media.offset_y is None else media.offset_y
    return patch_of(x, y, media.width, media.depth)
