"""Names of points by their content, so that a finished point is never run again.

The name is the hash of the changed case. Making and checking that case takes milliseconds, which
adds up for the tens of thousands of points of a sweep that is taken up again; so the text whose
hash is taken is kept with gaps where the values of the axes stand, and only those are filled in.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flowsim.batch.case_keys import CaseKey
from flowsim.batch.columns import Column
from flowsim.case.read import MODEL_VERSION, case_hash, change_case
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path
from flowsim.errors import CaseError

__all__ = ["CaseText", "case_text", "named"]


@dataclass(frozen=True)
class CaseText:
    """The text of a case that `case_hash` takes the hash of, with gaps.

    Parameters
    ----------
    pieces : tuple of str
        Text before, between and behind the gaps. [-]
    order : tuple of int
        Which key fills each gap. [-]
    known : tuple of mapping
        Per key: value as written, as JSON -> text of the value in the gap. [-]
    whole : tuple of bool
        Per key, whether it takes whole numbers; None = only listed values are known. [-]
    """

    pieces: tuple[str, ...]
    order: tuple[int, ...]
    known: tuple[Mapping[str, str], ...] = field(repr=False)
    whole: tuple[bool | None, ...] = ()

    def hash_of(self, values: Sequence[object]) -> str | None:
        """Return the hash of the case with other values.

        Parameters
        ----------
        values : sequence
            One per key of the axes. [as written, or SI]

        Returns
        -------
        str or None
            What `case_hash` gives; None if a value is not one of the sweep's. [-]
        """
        gaps = [self._gap(key, value) for key, value in enumerate(values)]
        text = [self.pieces[0]]
        for piece, key in zip(self.pieces[1:], self.order, strict=True):
            gap = gaps[key]
            if gap is None:
                return None
            text += [gap, piece]
        return hashlib.sha256("".join(text).encode()).hexdigest()

    def _gap(self, key: int, value: object) -> str | None:
        """Return the text of one value."""
        if value.__class__ is float and self.whole[key] is False:
            return json.dumps(value)
        if value.__class__ is int and self.whole[key] is True:
            return json.dumps(value)
        return self.known[key].get(json.dumps(value, default=str))


def named(text: str | None, case: Case, changes: Mapping[str, object], keep: Sequence[str]) -> str:
    """Return the name of a point.

    Parameters
    ----------
    text : str or None
        Hash of the changed case, if it is known. [-]
    case : Case
        Case of the sweep. [SI]
    changes : mapping
        What the point changes. [as written, or SI]
    keep : sequence of str
        Key figures that are kept. [-]

    Returns
    -------
    str
        SHA-256 in hexadecimal. [-]
    """
    if text is None:
        text = _slow_hash(case, changes)
    parts = [text, sorted(keep)]
    return hashlib.sha256(json.dumps(parts, separators=(",", ":")).encode()).hexdigest()


def _slow_hash(case: Case, changes: Mapping[str, object]) -> str:
    """Return the hash of the changed case; of the changes themselves if it is faulty."""
    try:
        return case_hash(change_case(case, changes))
    except CaseError:
        parts = [case_hash(case), list(changes.items())]
        text = json.dumps(parts, default=str, separators=(",", ":"))
        return "faulty " + hashlib.sha256(text.encode()).hexdigest()


def case_text(
    case: Case,
    columns: Sequence[Column],
    samples: Sequence[Mapping[str, object]],
    from_file: bool,
) -> CaseText | None:
    """Prepare the text of a case for the values of a sweep.

    Parameters
    ----------
    case : Case
        Case of the sweep. [SI]
    columns : sequence of Column
        Its axes. [-]
    samples : sequence of mapping
        Changes of some points; those that the case accepts must get the same hash both ways. [-]
    from_file : bool
        Whether bare numbers on keys with a dimension were refused. [-]

    Returns
    -------
    CaseText or None
        None where the case does not follow its keys so plainly. [-]
    """
    keys = [key for column in columns for key in column.keys]
    known = tuple(
        _known(key, column, place, from_file)
        for column in columns
        for place, key in enumerate(column.keys)
    )
    accepted = [(changes, changed) for changes in samples if (changed := _case(case, changes))]
    if not accepted:
        return None
    split = _split(accepted[0][1], [key.path for key in keys])
    if split is None:
        return None
    text = CaseText(*split, known, tuple(_is_whole(key) for key in keys))
    agrees = all(
        text.hash_of(tuple(changes.values())) == case_hash(changed) for changes, changed in accepted
    )
    return text if agrees else None


def _is_whole(key: CaseKey) -> bool | None:
    """Say whether a key takes whole numbers; None for words, lists and tables."""
    return key.kind == "whole" if key.is_number else None


def _case(case: Case, changes: Mapping[str, object]) -> Case | None:
    """Return the changed case, or None if it is faulty."""
    try:
        return change_case(case, changes)
    except CaseError:
        return None


def _known(key: CaseKey, column: Column, place: int, from_file: bool) -> dict[str, str]:
    """Return the text of each listed value of a key."""
    known: dict[str, str] = {}
    for values in column.written or ():
        held = key.read(values[place], from_file)
        plain = held.model_dump(mode="json") if hasattr(held, "model_dump") else held
        known[json.dumps(values[place], default=str)] = json.dumps(
            plain, sort_keys=True, separators=(",", ":")
        )
    return known


def _split(case: Case, paths: Sequence[Path]) -> tuple[tuple[str, ...], tuple[int, ...]] | None:
    """Cut the text of a case at some paths."""
    resolved: dict[str, Any] = {"case": case.model_dump(mode="json"), "model": MODEL_VERSION}
    for number, path in enumerate(paths):
        place: Any = resolved["case"]
        for item in path[:-1]:
            place = place[item]
        place[path[-1]] = _mark(number)
    text = json.dumps(resolved, sort_keys=True, separators=(",", ":"))
    marks = [f'"{_mark(number)}"' for number in range(len(paths))]
    if any(text.count(mark) != 1 for mark in marks):
        return None
    order = sorted(range(len(paths)), key=lambda number: text.index(marks[number]))
    pieces: list[str] = []
    for number in order:
        piece, _, text = text.partition(marks[number])
        pieces.append(piece)
    return (*pieces, text), tuple(order)


def _mark(number: int) -> str:
    """Return what stands in a gap while the text is cut."""
    return f"<gap {number} of the text of a case>"
