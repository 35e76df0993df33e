"""What the person who drills should know about a drawing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from flowsim.plan.hole_pattern import tray_holes
from flowsim.plan.hole_search import Search
from flowsim.report.drill_result import Floor, Pattern
from flowsim.report.holes_result import Proposal

__all__ = ["notes_of", "part_notes", "trays_match"]

FLIP_ZONE = (0.6, 1.0)  # thickness over diameter where the jet may or may not reattach
TOO_WIDE = 1e-4  # m, by which a drilled hole may well be wider
LEAST_EDGE = 2.0  # distance of a hole's centre to the zone's edge over its diameter
MOST_CROSSFLOW = 0.8  # from which the plate's law does not know the crossflow
FAR_OFF = 0.05  # share by which the holes under a tray may differ from its share of the plate


def notes_of(search: Search, chosen: Proposal) -> tuple[str, ...]:
    """Return what should be known.

    Parameters
    ----------
    search : Search
        Case and floor.
    chosen : Proposal
        The plate to drill.

    Returns
    -------
    tuple of str
        In words.
    """
    return tuple(_notes(search, chosen))


def part_notes(search: Search, pattern: Pattern) -> tuple[str, ...]:
    """Return what should be known of holes under and beside what lies on the plate.

    Parameters
    ----------
    search : Search
        Case and floor.
    pattern : Pattern
        Drawn holes.

    Returns
    -------
    tuple of str
        In words.
    """
    return tuple(_parts(search, pattern))


def trays_match(floor: Floor, pattern: Pattern) -> bool:
    """Return whether each tray has about as many holes under it as its share of the plate.

    Parameters
    ----------
    floor : Floor
        Zone and trays.
    pattern : Pattern
        Drawn holes.
    """
    trays = tray_holes(floor, pattern.x, pattern.y).values()
    return all(abs(drawn - due) <= FAR_OFF * due for drawn, due in trays)


def _mm(value: float) -> str:
    return f"{round(1000.0 * value, 2):g}"


def _notes(search: Search, chosen: Proposal) -> Iterator[str]:
    pattern, floor = chosen.pattern, search.floor
    yield (
        f"{pattern.count} holes of {_mm(pattern.diameter)} mm have {1e4 * pattern.hole_area:.2f} "
        "cm2: just the hole area that all models were solved with."
    )
    yield (
        "Coordinates run from the inner front left corner of the chamber, x to the right, y to "
        "the back, seen from above. Turned over, the plate is mirrored. The first hole lies "
        f"{_mm(float(pattern.x[0]))} mm from the left and {_mm(float(pattern.y[0]))} mm from the "
        "front."
    )
    yield from _parts(search, pattern)
    diameter = pattern.diameter
    share = 2.0 * TOO_WIDE / diameter
    moved = 2.0 * share * max((chosen.point.draw_ratio or 1.0) - 1.0, 0.0)
    yield (
        f"Drill sharp-edged holes and take off no more than the burr: the plate's law holds for "
        f"sharp edges. Holes {_mm(TOO_WIDE)} mm too wide give {100 * share:.1f} % more free area "
        f"and raise the draw ratio by about {moved:.3f}."
    )
    ratio = floor.thickness / diameter
    if FLIP_ZONE[0] < ratio < FLIP_ZONE[1] and chosen.point.spread > 0.0:
        yield (
            f"The plate is {ratio:.2f} hole diameters thick: between 0.6 and 1 the jet in a hole "
            "may or may not reattach, so that its drop is doubtful by 15 %."
        )
    if pattern.edge < LEAST_EDGE * diameter:
        yield (
            f"The outermost holes lie {_mm(pattern.edge)} mm from the edge of the perforated "
            "zone: see that no ledge or seal below covers them."
        )
    if chosen.point.crossflow > MOST_CROSSFLOW:
        yield (
            f"The air in the plenum runs at {chosen.point.crossflow:.2f} of the speed in the "
            "holes: from 0.8 on the plate's law does not hold, so this plate is a guess."
        )


def _parts(search: Search, pattern: Pattern) -> Iterator[str]:
    """Yield what is said of holes under and beside what lies on the plate."""
    floor = search.floor
    if pattern.left_out:
        names = ", ".join(part.label for part in floor.parts if part.kept_free)
        yield f"{pattern.left_out} holes of the pattern are left out under {names}."
    places = Counter(pattern.place)
    trays = tray_holes(floor, pattern.x, pattern.y)
    for part in floor.parts:
        under = places.get(f"under {part.label}", 0)
        edge = places.get(f"at the edge of {part.label}", 0)
        if part.kind == "object" and under + edge:
            cut = f", {edge} more are cut by its edge" if edge else ""
            yield (
                f"{under} holes lie under {part.label}{cut}: drilled, but shut while it stands "
                "there, as the models took it."
            )
        elif part.kind == "tray":
            yield _tray(part.label, *trays[part.label], edge, pattern.arrangement)


def _tray(label: str, drawn: int, due: float, edge: int, arrangement: str) -> str:
    """Return what is said of the holes under a tray."""
    cut = f", {edge} holes are cut by its edge" if edge else ""
    text = (
        f"{drawn} holes have their centre under {label}{cut}: it draws through them, so drill "
        "them all"
    )
    if arrangement == "graded":
        return f"{text}."
    text = f"{text}; the models gave it {due:.1f}."
    if abs(drawn - due) > FAR_OFF * due:
        text += " The difference shifts its suction a little; move the tray a little to mend it."
    return text
