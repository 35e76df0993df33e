"""What a result says about cleanliness, as rows of words for page and terminal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flowsim._arrays import FloatArray
from flowsim.report._units import duration_text, number, quantity_text, size_text
from flowsim.report.transport_tables import (
    DIGITS,
    SMALLEST_SHOWN,
    Fact,
    share_detail,
    share_line,
    short_percent,
    two_digits,
)
from flowsim.simulate.transport_result import Recovery, WorkpieceResult

__all__ = [
    "SizeRow",
    "class_number",
    "recovery_facts",
    "room_air_facts",
    "size_rows",
    "workpiece_facts",
]


@dataclass(frozen=True)
class SizeRow:
    """Particles of one size at one workpiece in words.

    Parameters
    ----------
    size, concentration, highest, deposition, causes : str
        Size; particles of it and larger; the same at its worst; what lands; where they come from.
    """

    size: str
    concentration: str
    highest: str
    deposition: str
    causes: str


def _count(value: float) -> str:
    """Return a number of particles in a cubic metre."""
    return f"{number(two_digits(value), DIGITS)}/m3"


def _landing(value: float) -> str:
    """Return what lands on a square centimetre in an hour."""
    return quantity_text("deposition_rate", value, "1/(m2 s)", DIGITS)


def _worst_index(piece: WorkpieceResult) -> int | None:
    """Return the place of the size that decides."""
    if piece.worst_size is None or len(piece.sizes) == 0:
        return None
    return int(abs(piece.sizes - piece.worst_size).argmin())


def _causes(causes: Mapping[str, FloatArray], index: int) -> str:
    """Return the parts of the particles of one size, the largest first."""
    total = sum(float(values[index]) for values in causes.values())
    if total <= 0.0:
        return "none"
    ordered = sorted(causes.items(), key=lambda item: -float(item[1][index]))
    return ", ".join(
        f"{name} {short_percent(float(values[index]) / total)}"
        for name, values in ordered
        if float(values[index]) >= SMALLEST_SHOWN * total
    )


def size_rows(piece: WorkpieceResult) -> list[SizeRow]:
    """Return the particles at one workpiece, size by size.

    Parameters
    ----------
    piece : WorkpieceResult
        The workpiece. [SI]

    Returns
    -------
    list of SizeRow
        Empty without a statement on dust.
    """
    return [
        SizeRow(
            size=f">= {size_text(float(size))}",
            concentration=_count(float(piece.concentration[index])),
            highest=_count(float(piece.concentration_highest[index])),
            deposition=_landing(float(piece.deposition[index])),
            causes=_causes(piece.causes, index),
        )
        for index, size in enumerate(piece.sizes)
    ]


def class_number(value: float | None) -> str:
    """Return a class as a number.

    Parameters
    ----------
    value : float or None
        ISO 14644-1 class. [-]

    Returns
    -------
    str
        ``-`` where there is none.
    """
    return "-" if value is None else quantity_text("iso_class", value, "-")


def _class(piece: WorkpieceResult) -> str:
    """Return the class in words."""
    if piece.iso_class is None or piece.worst_size is None:
        return "not computed: the case says nothing on dust (table [dust])"
    return piece.class_text


def _number(piece: WorkpieceResult) -> list[Fact]:
    """Return the class as a number, nothing without one."""
    if piece.iso_class is None or piece.worst_size is None:
        return []
    worst = class_number(piece.iso_class_highest)
    text = (
        f"{class_number(piece.iso_class)}, at worst {worst}; decided by particles of "
        f"{size_text(piece.worst_size)} and larger"
    )
    return [("class as a number", text)]


def workpiece_facts(piece: WorkpieceResult) -> list[Fact]:
    """Return how clean it is at one workpiece.

    Parameters
    ----------
    piece : WorkpieceResult
        The workpiece. [SI]

    Returns
    -------
    list of tuple of str
        What and how much, the answer first.
    """
    facts = [("cleanliness class", _class(piece)), *_number(piece)]
    index = _worst_index(piece)
    if index is not None:
        landing = _landing(float(piece.deposition[index]))
        size = size_text(float(piece.sizes[index]))
        facts.append(("where from", _causes(piece.causes, index)))
        facts.append(("lands on it", f"{landing} of {size} and larger"))
    facts.append(("room air", share_line(piece.room_air, resolvable=False)))
    facts.append(("age of the air", duration_text(piece.age)))
    return facts


def room_air_facts(piece: WorkpieceResult) -> list[Fact]:
    """Return what the share of room air over a workpiece depends on.

    Parameters
    ----------
    piece : WorkpieceResult
        The workpiece. [SI]

    Returns
    -------
    list of tuple of str
        One row.
    """
    return [("which rests on", share_detail(piece.room_air))]


def recovery_facts(recovery: Recovery) -> list[Fact]:
    """Return how long the air takes to get clean.

    Parameters
    ----------
    recovery : Recovery
        Room air after switching on. [SI]

    Returns
    -------
    list of tuple of str
        What and how much.
    """
    where = ", ".join(recovery.places)
    if recovery.time is None:
        answer = f"the worst place never stays below a hundredth of the room's air ({where})"
    else:
        answer = f"{duration_text(recovery.time)} until every place stays below 1/100 ({where})"
    bounds = (
        ("if the air were fully mixed", recovery.mixed_time),
        ("if it moved as a piston", recovery.piston_time),
    )
    compared = [f"{duration_text(time)} {words}" for words, time in bounds if time is not None]
    facts = [("clean after", answer)]
    return facts + ([("to compare", ", ".join(compared))] if compared else [])
