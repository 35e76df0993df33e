"""Sweep files."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from flowsim.batch.case_keys import MARK
from flowsim.batch.file_faults import faults_in_order, model_problems
from flowsim.batch.plan_points import Sweep, planned
from flowsim.batch.planning import lay_out
from flowsim.batch.sweep_schema import SweepFile
from flowsim.case.lines import lines_of_keys
from flowsim.case.read import read_case
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path, Problem
from flowsim.case.text import document, text_of
from flowsim.errors import CaseError, Fault

__all__ = ["read_sweep"]

_ROUNDS = 3
"""Times a file is read without what was faulty before: a key, its table, the list of that. [-]"""


def read_sweep(path: str | FilePath) -> Sweep:
    """Read a sweep file.

    Parameters
    ----------
    path : str or Path
        TOML file with ``format = 1``, a case and axes. [-]

    Returns
    -------
    Sweep
        Ready to run.

    Raises
    ------
    CaseError
        If the file or its case cannot be read or is faulty; lists all faults with key path and
        line.
    """
    source = str(path)
    data, lines = _document(FilePath(path))
    _refuse_a_case(data, source)
    changes = _flat(data.get("changes"))
    if isinstance(data.get("changes"), Mapping):
        data = {**data, "changes": changes}
    file, problems = _file(data)
    case_path = str(FilePath(path).parent / str(data.get("case", "")))
    case, found = _case(case_path, changes) if _names_a_file(data) else (None, [])
    problems += found
    layout = None
    if file is not None:
        layout, found = lay_out(file, case, True, problems)
        problems += found
    if problems or file is None or case is None or layout is None:
        raise CaseError(source, faults_in_order(problems, lines))
    return planned(file, layout, case, case_path, from_file=True)


def _document(path: FilePath) -> tuple[dict[str, Any], dict[Path, int]]:
    """Return what a file says, and the line of each key."""
    try:
        text = text_of(path)
        data = document(text, str(path))
    except CaseError as error:
        raise CaseError(error.source, [_of_a_sweep(fault) for fault in error.faults]) from None
    try:
        lines = lines_of_keys(text)
    except (IndexError, ValueError):
        return data, {(): 1}
    dotted: dict[Path, int] = {
        ("changes", ".".join(map(str, path[1:]))): line
        for path, line in lines.items()
        if path[:1] == ("changes",)
    }
    return data, {**dotted, **lines}


def _of_a_sweep(fault: Fault) -> Fault:
    """Return a fault of a file with the words of a sweep file."""
    message = fault.message.replace("a case file", "a sweep file")
    message = message.partition("expected a case (`flowsim")[0]
    return Fault(fault.key, message.rstrip("; "), fault.line)


def _refuse_a_case(data: Mapping[str, Any], source: str) -> None:
    """Refuse a case in the place of a sweep."""
    if "chamber" in data and "axes" not in data:
        message = (
            'is a case, not a sweep; expected a sweep file that names it (case = "...") and has '
            "[[axes]], or the option --vary KEY=V1,V2,..."
        )
        raise CaseError(source, [Fault("", message, 1)])


def _flat(changes: Any) -> dict[str, Any]:
    """Return changes by key path, whether the paths are written in quotes or not."""
    flat: dict[str, Any] = {}
    for name, value in changes.items() if isinstance(changes, Mapping) else ():
        quoted = "." in name or "[" in name
        flat |= {name: value} if quoted else _leaves(name, value)
    return flat


def _leaves(name: str, value: Any) -> dict[str, Any]:
    """Return the values in nested tables by key path."""
    if not isinstance(value, Mapping):
        return {name: value}
    leaves: dict[str, Any] = {}
    for key, item in value.items():
        leaves |= _leaves(f"{name}.{key}", item)
    return leaves


def _file(data: dict[str, Any]) -> tuple[SweepFile | None, list[Problem]]:
    """Return the file without its faulty values, and what is wrong with those."""
    try:
        return SweepFile.model_validate(data), []
    except ValidationError as error:
        errors = error.errors(include_url=False)
    return _without_faults(data, errors), model_problems(SweepFile, errors)


def _without_faults(data: dict[str, Any], errors: Sequence[Any]) -> SweepFile | None:
    """Return what is right in a file, so that it can be checked further."""
    rest = copy.deepcopy(data)
    for _ in range(_ROUNDS):
        for found in errors:
            path = tuple(found["loc"])
            _take_out(rest, path[:-1] if found["type"] == "missing" else path)
        try:
            return SweepFile.model_validate({"format": 1, "title": "", "case": "", **rest})
        except ValidationError as error:
            errors = error.errors(include_url=False)
    return None


def _take_out(data: Any, path: Path) -> None:
    """Take a value out of nested tables; an element of a list leaves an empty place."""
    for item in path[:-1]:
        data = data.get(item) if isinstance(data, dict) else data[item]
    if not path:
        return
    if isinstance(data, dict):
        data.pop(path[-1], None)
    elif isinstance(data, list) and isinstance(path[-1], int):
        data[path[-1]] = {} if isinstance(data[path[-1]], dict) else ""


def _names_a_file(data: Mapping[str, Any]) -> bool:
    """Say whether a file names its case by a text."""
    return isinstance(data.get("case"), str)


def _case(path: str, changes: Mapping[str, Any]) -> tuple[Case | None, list[Problem]]:
    """Read the case of a sweep; its faults become faults of the sweep file."""
    try:
        return read_case(path, changes), []
    except CaseError as error:
        problems = [_case_problem(fault, error.source, changes) for fault in error.faults]
    if all(problem.path[0] == "changes" for problem in problems):
        return _case(path, {})[0], problems
    return None, problems


def _case_problem(fault: Fault, source: str, changes: Mapping[str, Any]) -> Problem:
    """Return a fault of the case as one of the sweep file."""
    own = fault.key if fault.key in changes else ""
    if not own and fault.message.endswith(MARK):
        own = next((key for key in changes if _names(key, fault.key)), "")
    if own:
        return Problem(("changes", own), fault.message.removesuffix(MARK))
    line = CaseError(source, [fault]).lines()[0]
    return Problem(("case",), f"is faulty: {line}" if fault.key else line)


def _names(key: str, path: str) -> bool:
    """Say whether a key, with labels or indices, may be the one a fault names."""
    return _bare(path).startswith(_bare(key)) or key.rpartition(".")[2] == path.rpartition(".")[2]


def _bare(key: str) -> str:
    """Return a key without its indices."""
    return key.partition("[")[0]
