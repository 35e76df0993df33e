"""Whatever stands in a case file, the answer is a case or a list of faults."""

from __future__ import annotations

import copy
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.case.read import case_from_mapping, change_case, read_case
from flowsim.case.schema import Case
from flowsim.errors import CaseError

TEXT = files("flowsim.case").joinpath("starter.toml").read_text(encoding="utf-8")
DOCUMENT = tomllib.loads(TEXT)
JUNK = st.sampled_from(
    [0, -1, 1.5, True, None, "", "x", "5 mm", "-3 Pa", "20 degC", "1,200 m", float("nan"), [], {},
     [1], {"a": 1}, ["5 mm"], [{}], "front", 10**30, "\x1b[2J", [[[]]]]
)  # fmt: skip


def _paths(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Return all paths of a document but the top."""
    items: list[tuple[str | int, Any]] = []
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, list):
        items = list(enumerate(value))
    found = [(*path, key) for key, _ in items]
    return found + [inner for key, item in items for inner in _paths(item, (*path, key))]


PATHS = _paths(DOCUMENT)


def _spoiled(edits: list[tuple[tuple[str | int, ...], str, Any]]) -> dict[str, Any]:
    """Return the starter case with junk in some places."""
    document = copy.deepcopy(DOCUMENT)
    for path, kind, junk in edits:
        place: Any = document
        for step in path[:-1]:
            inside = isinstance(place, dict) and step in place
            reached = isinstance(place, list) and isinstance(step, int) and step < len(place)
            place = place[step] if inside or reached else None
        if isinstance(place, dict) and path[-1] in place:
            value = place.pop(path[-1])
            if kind != "drop":
                place[f"{path[-1]}{'' if kind == 'junk' else '_'}"] = (
                    junk if kind == "junk" else value
                )
    return document


@settings(deadline=None, derandomize=True, max_examples=300)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(PATHS), st.sampled_from(["junk", "junk", "drop", "rename"]), JUNK
        ),
        min_size=1,
        max_size=6,
    )
)
def test_junk_in_a_mapping(edits: list[tuple[tuple[str | int, ...], str, Any]]) -> None:
    try:
        assert isinstance(case_from_mapping(_spoiled(edits)), Case)
    except CaseError as error:
        assert error.faults
        assert all(fault.message for fault in error.faults)


@settings(deadline=None, derandomize=True, max_examples=300)
@given(
    st.integers(0, len(TEXT) - 1),
    st.integers(0, 40),
    st.sampled_from(["", "\n", '"', "[", "]]", "= 3", "mm", "#", ",", "\\", "{ }", "\x7f"]),
)
def test_damaged_text(tmp_path_factory: Any, start: int, length: int, junk: str) -> None:
    path: Path = tmp_path_factory.getbasetemp() / "damaged.toml"
    path.write_text(TEXT[:start] + junk + TEXT[start + length :], encoding="utf-8")
    try:
        assert isinstance(read_case(path), Case)
    except CaseError as error:
        assert all(fault.line is not None for fault in error.faults)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.text(alphabet="abopenigsfrt.[]0123 =-'\"", max_size=25), JUNK)
def test_any_key_path_in_a_change(key: str, junk: Any) -> None:
    try:
        assert isinstance(change_case(CASE, {key: junk}), Case)
    except CaseError as error:
        assert error.faults


CASE = case_from_mapping(DOCUMENT)
