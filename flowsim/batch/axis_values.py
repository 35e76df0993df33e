"""One axis of a sweep held against the case: its keys found, its values read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from flowsim._arrays import FloatArray
from flowsim.batch.case_keys import CaseKey, comparable, find_key
from flowsim.batch.columns import Column, Ends, drawn_column, listed_column, spaced_column
from flowsim.batch.file_faults import shown
from flowsim.batch.sweep_rules import axis_keys
from flowsim.batch.sweep_schema import Axis
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path, Problem

__all__ = ["AxisPlan", "Base", "plan_axis"]

MOST_FAULTS = 10
"""Faulty values of one axis that are listed. [-]"""


@dataclass(frozen=True)
class Base:
    """What the axes vary.

    Parameters
    ----------
    case : Case
        The case, changes for every point included. [SI]
    data : dict
        What its file would say. [SI]
    from_file : bool
        Whether bare numbers on keys with a dimension are refused. [-]
    """

    case: Case
    data: dict[str, Any]
    from_file: bool


@dataclass(frozen=True)
class AxisPlan:
    """An axis without faults of its own.

    Parameters
    ----------
    keys : tuple of CaseKey
        Its keys. [-]
    lists : tuple of tuple, or None
        Per key its values. [as written]
    ends : tuple of Ends, or None
        Per key the ends of its range. [SI]
    count : int or None
        Places from end to end; None = values, or drawn. [-]
    """

    keys: tuple[CaseKey, ...]
    lists: tuple[tuple[Any, ...], ...] | None = None
    ends: tuple[Ends, ...] | None = None
    count: int | None = None

    def column(self, share: FloatArray, from_file: bool) -> Column:
        """Return the axis laid out.

        Parameters
        ----------
        share : array, shape (n,)
            Draws, if it is to be drawn. [-]
        from_file : bool
            Whether bare numbers on keys with a dimension were refused. [-]

        Returns
        -------
        Column
            The axis.
        """
        if self.lists is not None:
            return listed_column(self.keys, self.lists, from_file)
        ends = self.ends or ()
        if self.count is not None:
            return spaced_column(self.keys, ends, self.count)
        return drawn_column(self.keys, ends, share)


def plan_axis(axis: Axis, path: Path, base: Base) -> tuple[AxisPlan | None, list[Problem]]:
    """Hold one axis against the case.

    Parameters
    ----------
    axis : Axis
        As written, right by itself. [-]
    path : tuple
        Where it stands in the file. [-]
    base : Base
        The case. [SI]

    Returns
    -------
    tuple of AxisPlan or None and list of Problem
        The axis, or what is wrong. [-]
    """
    keys, problems = _found_keys(axis, path, base)
    if problems:
        return None, problems
    if axis.values is not None:
        lists, problems = _lists(axis, keys, path, base)
        return (None if problems else AxisPlan(keys, lists=lists)), problems
    ends, problems = _ends(axis, keys, path, base)
    if problems:
        return None, problems
    return AxisPlan(keys, ends=ends, count=axis.count), []


def _found_keys(axis: Axis, path: Path, base: Base) -> tuple[tuple[CaseKey, ...], list[Problem]]:
    """Find the keys of an axis in the case."""
    found: list[CaseKey] = []
    problems: list[Problem] = []
    for place, name in enumerate(axis_keys(axis)):
        own: Path = (*path, "key") if axis.keys is None else (*path, "keys", place)
        try:
            found.append(find_key(base.case, base.data, name, _sample_value(axis, place)))
        except LookupError as error:
            problems.append(Problem(own, f"'{name}' {error.args[0]}"))
    return tuple(found), problems


def _sample_value(axis: Axis, place: int) -> Any:
    """Return some value of a key."""
    value: Any = axis.values if axis.values is not None else (axis.first,)
    value = value[0] if value else None
    if axis.keys is not None:
        value = value[place] if isinstance(value, list) and place < len(value) else None
    return value


def _lists(
    axis: Axis, keys: Sequence[CaseKey], path: Path, base: Base
) -> tuple[tuple[tuple[Any, ...], ...], list[Problem]]:
    """Return the values of each key."""
    values = axis.values or ()
    own: Path = (*path, "values")
    if axis.keys is None:
        problems = _complaints(keys[0], values, own, base)
        lists: tuple[tuple[Any, ...], ...] = (tuple(values),)
    else:
        if problem := _uneven(values, keys, own):
            return (), [problem]
        lists = tuple(tuple(item) for item in values)
        problems = [
            problem
            for place, (key, items) in enumerate(zip(keys, lists, strict=True))
            for problem in _complaints(key, items, (*own, place), base)
        ]
    return lists, problems or _repeated(keys, lists, own, base)


def _uneven(values: Sequence[Any], keys: Sequence[CaseKey], path: Path) -> Problem | None:
    """Return what is wrong with the lists of linked keys."""
    wanted = f"expected {len(keys)} lists of the same length, one for each of keys"
    flat = [index for index, item in enumerate(values) if not isinstance(item, list | tuple)]
    if flat:
        return Problem((*path, flat[0]), f"is not a list (got {shown(values[flat[0]])}); {wanted}")
    if len(values) != len(keys):
        return Problem(path, f"has {len(values)} list(s); {wanted}")
    lengths = [len(item) for item in values]
    if len(set(lengths)) > 1 or not lengths[0]:
        return Problem(path, f"has lists of {' and '.join(map(str, lengths))} values; {wanted}")
    return None


def _complaints(key: CaseKey, values: Sequence[Any], path: Path, base: Base) -> list[Problem]:
    """Return the values that a key does not take by themselves."""
    problems: list[Problem] = []
    for index, value in enumerate(values):
        words = key.complaint(base.case, value, base.from_file)
        if words:
            problems.append(Problem((*path, index), f"'{key.name}' {words}"))
    if len(problems) > MOST_FAULTS:
        more = len(problems) - MOST_FAULTS
        last = Problem(problems[MOST_FAULTS].path, f"and {more} more values are faulty")
        return [*problems[:MOST_FAULTS], last]
    return problems


def _repeated(
    keys: Sequence[CaseKey], lists: Sequence[Sequence[Any]], path: Path, base: Base
) -> list[Problem]:
    """Return places that stand in a list twice: they would be the same point."""
    first: dict[tuple[float | str, ...], int] = {}
    problems = []
    for index, place in enumerate(zip(*lists, strict=True)):
        held = tuple(
            comparable(key, value, base.from_file) for key, value in zip(keys, place, strict=True)
        )
        if held in first:
            where = (*path, index) if len(keys) == 1 else (*path, 0, index)
            values = ", ".join(shown(value) for value in place)
            problems.append(Problem(where, f"is given twice (got {values}); expected it once"))
        first.setdefault(held, index)
    return problems[:MOST_FAULTS]


def _ends(
    axis: Axis, keys: Sequence[CaseKey], path: Path, base: Base
) -> tuple[tuple[Ends, ...], list[Problem]]:
    """Return the ends of each key's range."""
    pairs, problems = _pairs(axis, keys, path)
    ends: list[Ends] = []
    for place, (key, (first, last)) in enumerate(zip(keys, pairs, strict=False)):
        rest: Path = () if axis.keys is None else (place,)
        if not key.is_number:
            message = f"'{key.name}' has no values between two ends; expected values"
            problems.append(Problem((*path, "from", *rest), message))
            continue
        found = []
        for name, value in (("from", first), ("to", last)):
            words = key.complaint(base.case, value, base.from_file)
            if words:
                problems.append(Problem((*path, name, *rest), f"'{key.name}' {words}"))
            else:
                found.append(float(comparable(key, value, base.from_file)))
        if len(found) == 2:
            ends.append(Ends(found[0], found[1], axis.spacing, key.kind == "whole"))
            problems += _between(axis, ends[-1], (*path, "to", *rest))
    return tuple(ends), problems


def _pairs(
    axis: Axis, keys: Sequence[CaseKey], path: Path
) -> tuple[list[tuple[Any, Any]], list[Problem]]:
    """Return from and to of each key."""
    if axis.keys is None:
        return [(axis.first, axis.last)], []
    problems = [
        Problem((*path, name), f"is no list of {len(keys)}; expected one value for each of keys")
        for name, value in (("from", axis.first), ("to", axis.last))
        if not isinstance(value, list | tuple) or len(value) != len(keys)
    ]
    return ([] if problems else list(zip(axis.first, axis.last, strict=True))), problems


def _between(axis: Axis, ends: Ends, path: Path) -> list[Problem]:
    """Return what is wrong with a range."""
    low, high = sorted((ends.first, ends.last))
    if low == high:
        return [Problem(path, "is the same as from; expected two different ends")]
    if ends.spacing == "ratio" and low <= 0.0:
        message = "no equal ratios lead across or from zero; expected both ends above zero"
        return [Problem(path, message)]
    if ends.whole and axis.count is not None and len(set(ends.spaced(axis.count))) < axis.count:
        message = f"leaves no {axis.count} whole numbers that differ between from and to"
        return [Problem(path, message)]
    return []
