"""Faults of a case in words: what is wrong, what was found, what was expected."""

from __future__ import annotations

import difflib
from types import NoneType
from typing import Any, get_args

from flowsim.case.lines import line_of
from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_problem import Path, Problem, key_path
from flowsim.case.schema_rules import problems
from flowsim.case.schema_walk import draft, known_path, part_at
from flowsim.errors import Fault

__all__ = ["collect_faults"]


def collect_faults(
    case: CaseParts | None,
    data: dict[str, Any],
    errors: list[Any],
    lines: dict[Path, int],
    touched: list[Path],
    context: dict[str, bool],
) -> list[Fault]:
    """Collect everything that is wrong with a case.

    Parameters
    ----------
    case : CaseParts or None
        The case, if each part is valid by itself. [SI]
    data : dict
        What the file says. [as written]
    errors : list
        What the models found. [-]
    lines : dict
        Line of each key. [-]
    touched : list of path
        Paths that do not come from the file. [-]
    context : dict
        Validation context. [-]

    Returns
    -------
    list of Fault
        In the order of the file. [-]
    """
    found, meant = _unique(errors)
    own = case if case is not None else draft(CaseParts, data, context)
    found += _not_yet_known(list(problems(own)), found, meant)
    faults = [_fault(problem, lines, touched) for problem in found]
    return sorted(faults, key=lambda fault: (fault.line or 0, fault.key))


def _unique(errors: list[Any]) -> tuple[list[Problem], set[Path]]:
    """Return one problem per place, and the keys that were meant by misspelt ones."""
    found: dict[Path, Problem] = {}
    meant: set[Path] = set()
    for error in errors:
        path, annotation = known_path(tuple(error["loc"]))
        path = path[:2] if path[:2] == ("numerics", "cells") else path
        message, guess = _message(error, path, annotation)
        found.setdefault(path, Problem(path, message, absence=error["type"] == "missing"))
        if guess:
            meant.add((*path[:-1], guess))
    missed = {path for path, problem in found.items() if problem.absence and path in meant}
    return [problem for path, problem in found.items() if path not in missed], meant


def _not_yet_known(extra: list[Problem], found: list[Problem], meant: set[Path]) -> list[Problem]:
    """Return the contradictions that do not merely follow from faults found before."""
    faulty = {problem.path for problem in found}
    parents = {path[:-1] for path in faulty if path}
    misspelt_part = any(len(path) == 1 for path in meant)
    kept: dict[tuple[Path, str], Problem] = {}
    for problem in extra:
        follows = any(_reached(path, faulty) for path in (problem.path, *problem.rests_on))
        follows = follows or any(_reached(path, meant) for path in problem.rests_on)
        if problem.absence:
            follows = follows or misspelt_part or problem.path in (parents | meant)
        if not follows:
            kept.setdefault((problem.path, problem.message), problem)
    return list(kept.values())


def _reached(path: Path, places: set[Path]) -> bool:
    """Say whether a path is one of some places, or lies inside one."""
    return any(path[:k] in places for k in range(len(path) + 1))


def _fault(problem: Problem, lines: dict[Path, int], touched: list[Path]) -> Fault:
    """Return a problem with its line."""
    changed = any(problem.path[: len(path)] == path for path in touched)
    if not changed:
        return Fault(key_path(problem.path), problem.message, line_of(problem.path, lines))
    return Fault(key_path(problem.path), f"{problem.message} [changed, not as in the file]")


def _shown(value: Any) -> str:
    """Return a value as found."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    text = text if len(text) <= 60 else text[:57] + "..."
    return f"'{text}'" if isinstance(value, str) else text


def _message(error: Any, path: Path, annotation: Any) -> tuple[str, str]:
    """Return the words for one error, and the key that was probably meant."""
    kind, value = error["type"], error.get("input")
    if kind == "extra_forbidden":
        return _unknown_key(path)
    if kind == "missing":
        return _missing(path, annotation), ""
    if kind == "quantity":
        return error["msg"], ""
    if kind == "literal_error":
        return _choice(value, annotation), ""
    return f"{_WRONG.get(kind, error['msg'])} (got {_shown(value)}){_wanted(kind, path)}", ""


_WRONG = {
    "string_type": "is not a string",
    "string_pattern_mismatch": "is not a usable name",
    "string_too_long": "is too long",
    "int_type": "is not a whole number",
    "int_from_float": "is not a whole number",
    "float_type": "is not a number",
    "finite_number": "is not a finite number",
    "bool_type": "is neither true nor false",
    "tuple_type": "is not a list",
    "too_short": "has too few elements",
    "too_long": "has too many elements",
    "model_type": "is not a table",
    "model_attributes_type": "is not a table",
    "dict_type": "is not a table",
    "greater_than": "is too small",
    "greater_than_equal": "is too small",
    "less_than": "is too large",
    "less_than_equal": "is too large",
}
_EXPECTED = {
    "string_type": "text in quotes",
    "string_pattern_mismatch": "letters, digits, spaces, without dots, brackets and '='",
    "string_too_long": "a shorter text",
    "int_type": "a whole number without quotes and unit",
    "int_from_float": "a whole number",
    "float_type": "a plain number",
    "finite_number": "a finite number",
    "bool_type": "true or false, without quotes",
    "tuple_type": "a list in square brackets, or [[...]] tables",
    "model_type": "a table with keys",
    "model_attributes_type": "a table with keys",
    "dict_type": "a table with keys",
}


def _wanted(kind: str, path: Path) -> str:
    """Return what was expected in the place of a wrong value."""
    if path[:2] == ("numerics", "cells"):
        return "; expected three whole numbers from 1 to 1000, such as [60, 30, 40]"
    if kind in ("greater_than_equal", "less_than_equal", "greater_than") and "tolerance" in path:
        return "; expected a number above 0 and at most 0.001"
    if kind in ("greater_than_equal", "less_than_equal"):
        return "; expected a whole number from 1 to 1000000"
    return f"; expected {_EXPECTED[kind]}" if kind in _EXPECTED else ""


def _unknown_key(path: Path) -> tuple[str, str]:
    """Return the words for a key that no model knows."""
    part = part_at(path[:-1]) if path[:-1] else CaseParts
    names = list(part.model_fields) if part is not None else []
    close = difflib.get_close_matches(str(path[-1]), names, 1, 0.6)
    where = f"[{key_path(path[:-1])}]" if path[:-1] else "a case"
    message = f"is not a key of {where}; expected one of {', '.join(names)}"
    if close:
        return f"{message}; did you mean '{close[0]}'?", close[0]
    return message, ""


def _missing(path: Path, annotation: Any) -> str:
    """Return the words for a key that is needed."""
    if path == ("format",):
        return "is missing; expected format = 1 on top of the file"
    if path[:2] == ("numerics", "cells"):
        return "has too few numbers; expected three, such as [60, 30, 40]"
    quantity = next(
        (item for item in (annotation, *getattr(annotation, "__metadata__", ())) if _expects(item)),
        None,
    )
    if quantity is not None:
        return f"is missing; {quantity.expected()}"
    choices = get_args(annotation)
    if choices and all(isinstance(choice, str) for choice in choices):
        return "is missing; expected one of " + ", ".join(f"'{choice}'" for choice in choices)
    part = part_at(path)
    if part is not None:
        needed = [name for name, field in part.model_fields.items() if field.is_required()]
        return f"is missing; expected a table with {', '.join(needed) or 'keys'}"
    return "is missing; expected " + ("a whole number" if annotation is int else "text in quotes")


def _expects(item: Any) -> bool:
    """Say whether an item of an annotation knows what it expects."""
    return hasattr(item, "expected") and not isinstance(item, type)


def _choice(value: Any, annotation: Any) -> str:
    """Return the words for a value that is none of the choices."""
    choices = _choices(annotation)
    if choices == [1]:
        return f"is not a known version (got {_shown(value)}); expected format = 1"
    close = difflib.get_close_matches(str(value), [str(choice) for choice in choices], 1, 0.6)
    guess = f"; did you mean '{close[0]}'?" if close else ""
    listed = ", ".join(f"'{choice}'" for choice in choices)
    return f"is none of the choices (got {_shown(value)}); expected one of {listed}{guess}"


def _choices(annotation: Any) -> list[Any]:
    """Return the values an annotation allows, those of a choice that may be left out too."""
    found: list[Any] = []
    for item in get_args(annotation):
        if get_args(item):
            found += _choices(item)
        elif item not in (None, NoneType):
            found.append(item)
    return found
