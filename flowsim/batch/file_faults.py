"""What the models of a table file find, in the words in which the faults of a case are told."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from typing import Any, get_args

from flowsim.case.lines import line_of
from flowsim.case.schema_fields import Part
from flowsim.case.schema_problem import Path, Problem, key_path
from flowsim.errors import Fault

__all__ = ["faults_in_order", "model_problems", "shown"]


def model_problems(root: type[Part], errors: Iterable[Any]) -> list[Problem]:
    """Turn what a model found into problems, one per place.

    Parameters
    ----------
    root : type
        Model of the whole file. [-]
    errors : iterable of dict
        ``ValidationError.errors()``. [-]

    Returns
    -------
    list of Problem
        Unknown keys carry the nearest right one; a key that was probably meant is not reported
        as missing too. [-]
    """
    found: dict[Path, Problem] = {}
    meant: set[Path] = set()
    for error in errors:
        path = tuple(error["loc"])
        if error["type"] == "extra_forbidden":
            message, guess = _unknown(root, path)
            meant |= {(*path[:-1], guess)} if guess else set()
        else:
            message = _message(root, error)
        found.setdefault(path, Problem(path, message, absence=error["type"] == "missing"))
    return [problem for path, problem in found.items() if not (problem.absence and path in meant)]


def faults_in_order(problems: Iterable[Problem], lines: Mapping[Path, int]) -> list[Fault]:
    """Return problems with their lines, in the order of the file.

    Parameters
    ----------
    problems : iterable of Problem
        What is wrong. [-]
    lines : mapping of path to int
        Line of each key; empty without a file. [-]

    Returns
    -------
    list of Fault
        Each once. [-]
    """
    known = dict(lines)
    faults = [
        Fault(key_path(problem.path), problem.message, line_of(problem.path, known))
        for problem in problems
    ]
    return sorted(dict.fromkeys(faults), key=lambda fault: (fault.line or 0, fault.key))


def shown(value: Any) -> str:
    """Return a value as found, for a message.

    Parameters
    ----------
    value : object
        As written. [any]

    Returns
    -------
    str
        At most 60 characters; text in quotes. [-]
    """
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    text = str(value).lower() if isinstance(value, bool) else str(value)
    text = text if len(text) <= 60 else text[:57] + "..."
    return f"'{text}'" if isinstance(value, str) else text


def _fields(annotation: Any) -> dict[str, Any]:
    """Return the annotation of each key of a table, by the key as written in a file."""
    model = next((part for part in _inside(annotation) if _is_part(part)), None)
    fields = {} if model is None else model.model_fields
    return {field.alias or name: field.annotation for name, field in fields.items()}


def _at(root: type[Part], path: Path) -> Any:
    """Return the annotation at a path."""
    annotation: Any = root
    for item in path:
        if isinstance(item, str):
            annotation = _fields(annotation).get(item)
    return annotation


def _inside(annotation: Any) -> list[Any]:
    """Return an annotation and everything it is made of."""
    return [annotation, *(part for item in get_args(annotation) for part in _inside(item))]


def _is_part(item: Any) -> bool:
    """Say whether an annotation is a table."""
    return isinstance(item, type) and issubclass(item, Part)


def _unknown(root: type[Part], path: Path) -> tuple[str, str]:
    """Return the words for a key that no model knows, and the key that was probably meant."""
    names = list(_fields(_at(root, path[:-1])))
    close = difflib.get_close_matches(str(path[-1]), names, 1, 0.6)
    where = f"[{key_path(path[:-1])}]" if path[:-1] else "this file"
    message = f"is not a key of {where}; expected one of {', '.join(names)}"
    return (f"{message}; did you mean '{close[0]}'?", close[0]) if close else (message, "")


_WORDS = {
    "string_type": ("is not a string", "text in quotes"),
    "string_too_long": ("is too long", "a shorter text"),
    "int_type": ("is not a whole number", "a whole number without quotes and unit"),
    "int_from_float": ("is not a whole number", "a whole number"),
    "float_type": ("is not a number", "a plain number"),
    "finite_number": ("is not a finite number", "a finite number"),
    "bool_type": ("is neither true nor false", "true or false, without quotes"),
    "tuple_type": ("is not a list", "a list in square brackets, or [[...]] tables"),
    "too_short": ("has too few elements", "at least one"),
    "model_type": ("is not a table", "a table with keys"),
    "model_attributes_type": ("is not a table", "a table with keys"),
    "dict_type": ("is not a table", "a table with keys"),
}
_BOUNDS = {
    "greater_than_equal": ("is too small", "at least", "ge"),
    "greater_than": ("is too small", "above", "gt"),
    "less_than_equal": ("is too large", "at most", "le"),
    "less_than": ("is too large", "below", "lt"),
}


def _message(root: type[Part], error: Any) -> str:
    """Return the words for one error."""
    kind, value, context = error["type"], error.get("input"), error.get("ctx", {})
    if kind == "missing":
        return _missing(root, tuple(error["loc"]))
    if kind == "literal_error":
        return _choice(value, context.get("expected", ""))
    if kind in _BOUNDS:
        what, bound, name = _BOUNDS[kind]
        return f"{what} (got {shown(value)}); expected {bound} {context[name]}"
    if kind in _WORDS:
        what, wanted = _WORDS[kind]
        return f"{what} (got {shown(value)}); expected {wanted}"
    return str(error["msg"])


def _missing(root: type[Part], path: Path) -> str:
    """Return the words for a key that is needed."""
    if path == ("format",):
        return "is missing; expected format = 1 on top of the file"
    inner = _inside(_at(root, path))
    choices = [f"'{item}'" for item in inner if isinstance(item, str)]
    if choices:
        return f"is missing; expected one of {', '.join(choices)}"
    if any(_is_part(item) for item in inner):
        return f"is missing; expected [[{path[-1]}]] tables"
    return "is missing; expected " + ("a whole number" if int in inner else "text in quotes")


def _choice(value: Any, expected: str) -> str:
    """Return the words for a value that is none of the choices."""
    if expected == "1":
        return f"is not a known version (got {shown(value)}); expected format = 1"
    choices = expected.replace(" or ", ", ").replace("'", "").split(", ")
    close = difflib.get_close_matches(str(value), choices, 1, 0.6)
    guess = f"; did you mean '{close[0]}'?" if close else ""
    listed = ", ".join(f"'{choice}'" for choice in choices)
    return f"is none of the choices (got {shown(value)}); expected one of {listed}{guess}"
