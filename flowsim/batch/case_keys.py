"""A key of a case that a sweep varies or compares: what it takes, and its values in SI."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import TypeAdapter, ValidationError

from flowsim.case.changes import changed
from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.case.schema_fields import Quantity
from flowsim.case.schema_problem import Path, key_path
from flowsim.case.schema_rules import COLLECT
from flowsim.case.schema_walk import is_text, known_path, part_at
from flowsim.case.units_table import DIMENSIONS
from flowsim.errors import CaseError

__all__ = ["MARK", "CaseKey", "case_data", "comparable", "find_key", "taken", "value_in_si"]

MARK = " [changed, not as in the file]"
"""End of the faults of a changed key of a case."""


@dataclass(frozen=True)
class CaseKey:
    """One key of a case.

    Parameters
    ----------
    name : str
        Key path as written, such as ``openings.front.height``. [-]
    path : tuple
        Keys and indices from the top of the case. [-]
    kind : {"quantity", "number", "whole", "choice", "other"}
        A number with a dimension, a plain number, a whole number, a word or a switch, or a list
        or table. [-]
    dimension : str
        Name of the dimension, empty without one. [-]
    """

    name: str
    path: Path
    kind: str
    dimension: str = ""

    @property
    def unit(self) -> str:
        """SI unit, "-" for a plain number, empty for a word [-]."""
        if self.kind == "quantity":
            return DIMENSIONS[self.dimension].unit or "-"
        return "-" if self.is_number else ""

    @property
    def is_number(self) -> bool:
        """Whether values have a size [-]."""
        return self.kind in ("quantity", "number", "whole")

    def read(self, value: Any, from_file: bool) -> Any:
        """Return a value as the case holds it.

        Parameters
        ----------
        value : object
            As written. [any]
        from_file : bool
            Whether a bare number on a key with a dimension is refused. [-]

        Returns
        -------
        object
            The value. [SI]

        Raises
        ------
        ValidationError
            If the key does not take it.
        """
        if isinstance(value, str) and not is_text(self.path):
            data = _hull(self.path)
            changed(data, {key_path(self.path): value})
            value = taken(data, self.path)
        context = {"from_file": from_file, COLLECT: True}
        return _adapter(self.path).validate_python(value, context=context)

    def complaint(self, case: Case, value: Any, from_file: bool) -> str:
        """Return what is wrong with a value by itself, empty if nothing.

        Parameters
        ----------
        case : Case
            Case to be changed. [SI]
        value : object
            As written. [any]
        from_file : bool
            As in `read`. [-]

        Returns
        -------
        str
            Words of the case's own models. [-]
        """
        try:
            self.read(value, from_file)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            if first["type"] in ("quantity", "text"):
                return " ".join(filter(None, [key_path(tuple(first["loc"])), first["msg"]]))
            return _own_words(case, self, value) or "is not a value this key takes"
        return ""


def case_data(case: Case) -> dict[str, Any]:
    """Return what a file of a case would say.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    dict
        Nested dictionaries and lists. [SI]
    """
    return case.model_dump(mode="json", exclude_unset=True, exclude_none=True)


def find_key(case: Case, data: dict[str, Any], name: str, value: Any = None) -> CaseKey:
    """Find a key of a case.

    Parameters
    ----------
    case : Case
        The case. [SI]
    data : dict
        Result of `case_data` for it. [SI]
    name : str
        Key path, list elements by label or index. [-]
    value : object
        A value that it shall take, for the words of a fault. [any]

    Returns
    -------
    CaseKey
        The key. [-]

    Raises
    ------
    LookupError
        If the case has no such key; the message names the nearest right one.
    """
    touched, faults = changed(copy.deepcopy(data), {name: 0.0})
    if faults:
        raise LookupError(faults[0].message)
    path = touched[0]
    kept, annotation = known_path(path)
    if kept != path or annotation is None:
        key = CaseKey(name, path, "other")
        raise LookupError(_own_words(case, key, value) or "is not a key of a case")
    quantity = next((item for item in _inside(annotation) if isinstance(item, Quantity)), None)
    is_list = any(get_origin(item) is tuple for item in _inside(annotation))
    if quantity is not None and not is_list:
        return CaseKey(name, path, "quantity", quantity.dimension)
    return CaseKey(name, path, "other" if is_list else _plain_kind(path))


def taken(data: Any, path: Path) -> Any:
    """Return what stands at a path of nested dictionaries and lists.

    Parameters
    ----------
    data : dict or list
        Where to look. [any]
    path : tuple
        Keys and indices. [-]

    Returns
    -------
    object
        None if nothing stands there. [any]
    """
    for item in path:
        if isinstance(data, Mapping):
            data = data.get(item)
        elif isinstance(data, Sequence) and isinstance(item, int) and item < len(data):
            data = data[item]
        else:
            return None
    return data


def value_in_si(case: Case, name: str, value: Any) -> float | str:
    """Return a value of a point as a number, or as text where it has no size.

    Parameters
    ----------
    case : Case
        Case of the sweep. [SI]
    name : str
        Key of the axis. [-]
    value : object
        As it stands in `Point.values`. [as written]

    Returns
    -------
    float or str
        The number. [SI]

    Raises
    ------
    LookupError
        If the case has no such key.
    """
    key = find_key(case, case_data(case), name, value)
    return comparable(key, value)


def comparable(key: CaseKey, value: Any, from_file: bool = False) -> float | str:
    """Return a value so that it can be compared.

    Parameters
    ----------
    key : CaseKey
        Its key. [-]
    value : object
        As written, one that the key takes. [any]
    from_file : bool
        As in `CaseKey.read`. [-]

    Returns
    -------
    float or str
        The number, or text for words, switches, lists and tables. [SI]
    """
    held = key.read(value, from_file)
    return float(held) if key.is_number else str(held)


def _own_words(case: Case, key: CaseKey, value: Any) -> str:
    """Return what the case itself says to a value, empty if nothing."""
    try:
        change_case(case, {key.name: value if value is not None else 0.0})
    except CaseError as error:
        own = key_path(key.path)
        found = [fault for fault in error.faults if fault.key.startswith(own)]
        return found[0].message.removesuffix(MARK) if found else ""
    return ""


def _inside(annotation: Any) -> list[Any]:
    """Return an annotation and everything it is made of."""
    return [annotation, *(part for item in get_args(annotation) for part in _inside(item))]


def _annotation(path: Path) -> Any:
    """Return the full annotation of a key, with its bounds."""
    part = part_at(path[:-1])
    if part is None or not isinstance(path[-1], str):
        return known_path(path)[1]
    field = part.model_fields[path[-1]]
    kind: Any = field.annotation
    return Annotated[(kind, *field.metadata)] if field.metadata else kind


@lru_cache(maxsize=512)
def _adapter(path: Path) -> TypeAdapter[Any]:
    """Return what reads the values of a key."""
    return TypeAdapter(_annotation(path))


def _plain_kind(path: Path) -> str:
    """Return the kind of a key whose value has no dimension."""
    inner = _inside(_annotation(path))
    if bool in inner or any(isinstance(item, str) for item in inner) or str in inner:
        return "choice"
    if int in inner:
        return "whole"
    return "number" if float in inner else "other"


def _hull(path: Path) -> dict[str, Any]:
    """Return nested tables and lists just large enough to hold a path."""
    hull: Any = None
    for item in reversed(path):
        hull = {item: hull} if isinstance(item, str) else [{} for _ in range(item)] + [hull]
    return {} if hull is None else dict(hull)
