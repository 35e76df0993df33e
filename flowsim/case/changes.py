"""Values of a case changed by key path."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from typing import Any

from flowsim.case.schema_problem import Path
from flowsim.case.schema_rules import REPLACED
from flowsim.case.schema_walk import is_text, part_at
from flowsim.errors import Fault

__all__ = ["changed"]

_STEP = re.compile(r"\.?([^.\[\]]+)|\[(\d+)\]")


def changed(data: dict[str, Any], changes: Mapping[str, Any]) -> tuple[list[Path], list[Fault]]:
    """Put other values into the data of a case, in place.

    Parameters
    ----------
    data : dict
        What a case file says. [as written]
    changes : mapping
        Key path -> value; None takes a key out. [as written]

    Returns
    -------
    tuple of list of path and list of Fault
        Paths that were changed, and faults of paths that name nothing. [-]
    """
    touched: list[Path] = []
    faults: list[Fault] = []
    for key, value in changes.items():
        try:
            touched.append(_change(data, key, value))
        except LookupError as error:
            faults.append(Fault(key, str(error.args[0])))
    return touched, faults


def _change(data: dict[str, Any], key: str, value: Any) -> Path:
    """Change one value and return its path."""
    steps = [name.strip() if name else int(index) for name, index in _STEP.findall(key)]
    rest = _STEP.sub("", key)
    if not steps or rest or isinstance(steps[0], int):
        raise LookupError(
            f"is not a key path (got '{key}'); expected one such as chamber.width or "
            "openings.front.height"
        )
    place: Any = data
    path: Path = ()
    for step in steps[:-1]:
        place, path = _enter(place, path, step)
    return _put(place, path, steps[-1], value)


def _enter(place: Any, path: Path, step: str | int) -> tuple[Any, Path]:
    """Go one step down, opening a table that is not there yet."""
    if isinstance(place, list):
        index = _index(place, path, step)
        return place[index], (*path, index)
    if not isinstance(place, dict) or isinstance(step, int):
        raise LookupError(f"names nothing: {_name(path)} is not a list of tables")
    if step not in place:
        part = part_at((*path, step))
        known = part_at(path)
        if part is None:
            raise LookupError(_unknown(step, path, [] if known is None else known.model_fields))
        place[step] = {}
    return place[step], (*path, step)


def _name(path: Path) -> str:
    """Return a path for a sentence."""
    return "'" + ".".join(str(item) for item in path) + "'" if path else "the case"


def _unknown(step: str, path: Path, names: Any) -> str:
    """Return the message for a key that is not there."""
    close = difflib.get_close_matches(step, list(names), 1, 0.6)
    guess = f"; did you mean '{close[0]}'?" if close else ""
    known = f"; expected one of {', '.join(names)}" if names else ""
    return f"names nothing: {_name(path)} has no '{step}'{known}{guess}"


def _index(place: list[Any], path: Path, step: str | int) -> int:
    """Return the place in a list by number or by label."""
    labels = [item.get("label") if isinstance(item, dict) else None for item in place]
    if isinstance(step, int):
        if step < len(place):
            return step
        raise LookupError(f"names nothing: {_name(path)} has {len(place)} element(s), from 0")
    if step in labels:
        return labels.index(step)
    raise LookupError(_unknown(step, path, [label for label in labels if isinstance(label, str)]))


def _put(place: Any, path: Path, step: str | int, value: Any) -> Path:
    """Put a value in its place and take out the alternatives it stands for."""
    if isinstance(place, list):
        index = _index(place, path, step)
        place[index] = _read(value, (*path, index))
        return (*path, index)
    if not isinstance(place, dict) or isinstance(step, int):
        raise LookupError(f"names nothing: {_name(path)} is not a list of tables")
    if value is None:
        place.pop(step, None)
        return path
    _drop_alternatives(place, path, step)
    place[step] = _read(value, (*path, step))
    return (*path, step)


def _drop_alternatives(place: dict[str, Any], path: Path, step: str) -> None:
    """Take out what a changed key replaces: a hole count replaces a pitch."""
    part = part_at(path)
    for sets in REPLACED.get(part.__name__, ()) if part is not None else ():
        own = {name for names in sets if step in names for name in names}
        if own:
            for name in {name for names in sets for name in names} - own:
                place.pop(name, None)


def _read(value: Any, path: Path) -> Any:
    """Return the value a string stands for: a quantity or name as it is, else as TOML."""
    if not isinstance(value, str) or is_text(path):
        return value
    try:
        return tomllib.loads(f"value = {value}")["value"]
    except (ValueError, RecursionError):
        return value
