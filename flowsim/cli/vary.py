"""A sweep from a case file and the option --vary, without a sweep file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from flowsim.batch.plan_points import Sweep, planned
from flowsim.batch.planning import lay_out
from flowsim.batch.sweep_schema import SweepFile
from flowsim.case.read import read_case
from flowsim.case.written_changes import combinations
from flowsim.errors import CaseError, Fault

__all__ = ["varied_sweep"]


def varied_sweep(path: str, changes: Mapping[str, str], vary: Sequence[str]) -> Sweep:
    """Return the sweep over all combinations of varied values.

    Parameters
    ----------
    path : str
        Case file. [-]
    changes : mapping of str to str
        Key path -> value, for every point. [as written]
    vary : sequence of str
        ``key=v1,v2,...`` for each key. [as written]

    Returns
    -------
    Sweep
        Ready to run. [-]

    Raises
    ------
    CaseError
        If the case or a value is faulty; all faults are listed.
    """
    case = read_case(path, changes)
    axes = [_axis(combinations([word], "--vary")) for word in vary]
    title = case.title or path
    file = SweepFile.model_validate({"format": 1, "title": title, "case": path, "axes": axes})
    layout, problems = lay_out(file, case, from_file=True)
    if layout is None:
        words = dict.fromkeys(problem.message for problem in problems)
        raise CaseError("--vary", [Fault("", text) for text in words])
    return planned(file, layout, case, path, from_file=True)


def _axis(places: Sequence[Mapping[str, str]]) -> dict[str, Any]:
    """Return one axis as a sweep file would give it."""
    (key,) = places[0]
    return {"key": key, "values": [_typed(place[key]) for place in places]}


def _typed(text: str) -> Any:
    """Return a number, list or table for what reads as one in a case file, else the text."""
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        return text
    return value if isinstance(value, bool | int | float | list | dict | str) else text
