"""Checks of what is said about particles: sizes, counts, sources, and the supply filter."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from flowsim.case.schema_air import Filter
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_problem import Path, Problem, did_you_mean
from flowsim.case.schema_release import Dust, DustSource
from flowsim.errors import RangeError
from flowsim.physics.filter_class import filter_class, filter_classes

__all__ = ["dust_problems"]

MOST_SIZES = 20
"""Sizes that are followed in one case. [-]"""
ROUND_OFF = 1e-9
"""Relative difference that comes of writing one value in two units. [-]"""
_SIZES: tuple[Path, ...] = (("dust", "sizes"),)


def dust_problems(case: CaseParts) -> Iterator[Problem]:
    """Find contradictions in what a case says about particles and about the room.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves; a nan never gives a problem. [SI]

    Yields
    ------
    Problem
        One per contradiction. [-]
    """
    yield from _room(case)
    yield from _filters(case)
    if case.dust is not None:
        yield from _sizes(case.dust)
        yield from _room_dust(case.dust)
        for index, source in enumerate(case.dust.sources):
            yield from _source(case.dust, source, ("dust", "sources", index))


def _room(case: CaseParts) -> Iterator[Problem]:
    """Check that volume and fresh air of the room are given together."""
    pair = ("volume", "fresh_air")
    for name, other in (pair, pair[::-1]):
        if getattr(case.room, name) is not None and getattr(case.room, other) is None:
            yield Problem(("room", name), f"needs {other} beside it", absence=True)


def _filters(case: CaseParts) -> Iterator[Problem]:
    """Check what is said about how well filters clean; only the one in the ceiling counts."""
    supply, exhaust = case.supply, case.exhaust
    if supply is not None and supply.filter is not None:
        yield from _cleaning(supply.filter, ("supply", "filter"))
    others: tuple[tuple[Path, Filter | None], ...] = (
        (("supply", "prefilter"), None if supply is None else supply.prefilter),
        (("exhaust", "filter"), None if exhaust is None else exhaust.filter),
    )
    for path, media in others:
        for name in ("grade", "penetration", "leak", "seal_gap"):
            if media is not None and getattr(media, name) not in (None, 0.0):
                message = "has no meaning here; particles are followed from [supply.filter] on"
                yield Problem((*path, name), message)


def _cleaning(media: Filter, path: Path) -> Iterator[Problem]:
    """Check the class, penetration and leak of the supply filter."""
    if media.grade is not None and media.penetration is not None:
        message = "is given beside grade; expected either a class or a penetration of its own"
        yield Problem((*path, "penetration"), message)
    if media.leak > 0.0 and media.seal_gap is not None:
        message = "is given beside leak; expected either a share of the flow or a gap"
        yield Problem((*path, "seal_gap"), message)
    if isinstance(media.grade, str):
        try:
            filter_class(media.grade)
        except RangeError:
            yield Problem((*path, "grade"), _unknown_class(media.grade))


def _unknown_class(name: str) -> str:
    """Return the message for a class of filter that is not in the table."""
    spellings = {
        word: item.european or item.international
        for item in filter_classes()
        for word in (item.european, item.international)
        if word
    }
    known = ", ".join(dict.fromkeys(spellings.values()))
    message = f"is not in the table of filter classes (got '{name}'); expected one of {known}"
    folded = {word.upper(): shown for word, shown in spellings.items()}
    return message + did_you_mean(" ".join(name.upper().split()), folded)


def _sizes(dust: Dust) -> Iterator[Problem]:
    """Check the list of sizes."""
    path: Path = ("dust", "sizes")
    if not dust.sizes:
        message = "is empty; expected at least one size, such as ['0.5 um']"
        yield Problem(path, message, absence=True)
    if len(dust.sizes) > MOST_SIZES:
        message = f"has {len(dust.sizes)} sizes; expected at most {MOST_SIZES}"
        yield Problem(path, message)
    for index, (first, second) in enumerate(pairwise(dust.sizes), 1):
        if second <= first * (1.0 + ROUND_OFF):
            twice = second >= first * (1.0 - ROUND_OFF)
            words = "stands twice" if twice else "is smaller than the one before"
            message = f"{words} (got {1e6 * first:.4g} and {1e6 * second:.4g} um); expected "
            yield Problem((*path, index), message + "sizes in ascending order, each once")
            return


def _room_dust(dust: Dust) -> Iterator[Problem]:
    """Check the class or the counts of the room."""
    number, path = dust.room_class, ("dust", "room_class")
    if number < 1.0 or number > 9.0:
        kind = "cleaner" if number < 1.0 else "dustier"
        message = f"is no class of ISO 14644-1 (got {number:g}); expected 1 to 9; for a {kind} "
        yield Problem(path, message + "room give room_counts, one per size, instead")
    if dust.room_counts is None:
        return
    if "room_class" in dust.model_fields_set:
        message = "is given beside room_counts; expected either a class or counts"
        yield Problem(path, message)
    yield from _cumulative(dust, dust.room_counts, ("dust", "room_counts"), "1/m3")


def _cumulative(dust: Dust, values: Sequence[float], path: Path, unit: str) -> Iterator[Problem]:
    """Check a list of one value per size, of particles of that size and larger."""
    if len(values) != len(dust.sizes):
        message = (
            f"has {len(values)} value(s) but sizes has {len(dust.sizes)}; expected one per size"
        )
        yield Problem(path, message, rests_on=_SIZES)
    for index, (first, second) in enumerate(pairwise(values), 1):
        if second > first * (1.0 + ROUND_OFF):
            message = f"is larger than the one before (got {second:g} after {first:g} {unit}); "
            message += "expected particles of each size and larger, which never rise with the size"
            yield Problem((*path, index), message)
            return


def _source(dust: Dust, source: DustSource, path: Path) -> Iterator[Problem]:
    """Check what a source in the chamber gives off."""
    if source.rates is None:
        return
    if source.share != 1.0 and source.person is None:
        message = "has no meaning beside rates; expected the share of what a person gives off"
        yield Problem((*path, "share"), message)
    yield from _cumulative(dust, source.rates, (*path, "rates"), "1/s")
