"""Cases from files, from mappings, and with changed values."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from flowsim.case.changes import changed
from flowsim.case.faults import collect_faults
from flowsim.case.lines import lines_of_keys
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path
from flowsim.case.schema_rules import COLLECT
from flowsim.case.text import document, text_of
from flowsim.errors import CaseError

__all__ = ["MODEL_VERSION", "case_from_mapping", "case_hash", "change_case", "read_case"]

MODEL_VERSION = 2
"""Raised whenever the same case may give other figures."""


def read_case(path: str | FilePath, changes: Mapping[str, str] | None = None) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or Path
        TOML file with ``format = 1``. [-]
    changes : mapping of str to str, optional
        Key path -> value as written in a file, applied before anything is checked. [-]

    Returns
    -------
    Case
        The case. [SI]

    Raises
    ------
    CaseError
        If the file cannot be read or is faulty; lists all faults with key path and line.
    """
    source = str(path)
    text = text_of(FilePath(path))
    data = document(text, source)
    try:
        lines = lines_of_keys(text)
    except (IndexError, ValueError):
        lines = {(): 1}
    return _case(data, source, lines, changes or {}, from_file=True)


def case_from_mapping(mapping: Mapping[str, Any], source: str = "case") -> Case:
    """Build a case from nested mappings and sequences, as a TOML file would give them.

    Parameters
    ----------
    mapping : mapping
        Keys of a case file; numbers on dimensional keys are SI, strings carry a unit. [SI]
    source : str
        Stands in messages in the place of a file name. [-]

    Returns
    -------
    Case
        The case. [SI]

    Raises
    ------
    CaseError
        If the case is faulty; lists all faults with their key path.
    """
    return _case(_plain(mapping), source, {}, {}, from_file=False)


def change_case(case: Case, changes: Mapping[str, Any]) -> Case:
    """Return a case with other values.

    Parameters
    ----------
    case : Case
        Stays as it is. [SI]
    changes : mapping of str to value
        Key path such as ``openings.front.height`` or ``openings[0].height`` -> SI number or
        string with a unit; None takes a key out. [SI]

    Returns
    -------
    Case
        The changed case. [SI]

    Raises
    ------
    CaseError
        If a path names nothing or the changed case is faulty.
    """
    data = _plain(case.model_dump(exclude_unset=True, exclude_none=True))
    return _case(data, "case", {}, changes, from_file=False)


def case_hash(case: Case) -> str:
    """Return a name for the content of a case, the same for the same figures.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    str
        SHA-256 of the resolved case and the version of the models, in hexadecimal. [-]
    """
    resolved = {"case": case.model_dump(mode="json"), "model": MODEL_VERSION}
    text = json.dumps(resolved, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> Any:
    """Return a copy made of dictionaries and lists."""
    if hasattr(value, "model_dump"):
        value = value.model_dump(exclude_unset=True, exclude_none=True)
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "item") and getattr(value, "shape", None) == ():
        return value.item()
    return value


def _case(
    data: dict[str, Any],
    source: str,
    lines: dict[Path, int],
    changes: Mapping[str, Any],
    from_file: bool,
) -> Case:
    """Apply changes, validate, and raise with all faults."""
    touched, faults = changed(data, changes)
    context = {"from_file": from_file, COLLECT: True}
    case: Case | None = None
    errors: list[Any] = []
    try:
        case = Case.model_validate(data, context=context)
    except ValidationError as error:
        errors = list(error.errors(include_url=False, include_context=False))
    faults += collect_faults(case, data, errors, lines, touched, context)
    if faults or case is None:
        raise CaseError(source, faults)
    return case
