"""Whatever stands in a case file, the answer is a case or a list of faults."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.case.read import case_from_mapping, change_case, read_case
from flowsim.case.schema import Case
from flowsim.case.schema_problem import key_path
from flowsim.errors import CaseError, Fault

TEXT = files("flowsim.case").joinpath("starter.toml").read_text(encoding="utf-8")
PLACE = {"offset_x": "780 mm", "offset_y": "400 mm", "width": "60 mm", "depth": "60 mm"}
MORE: dict[str, Any] = {
    "objects": [{"label": "stand", **PLACE, "height": "200 mm"}],
    "mixing": {"intensity": 0.1, "eddy_size": "15 mm", "in_use": "40 cm2/s"},
    "workpieces": [{"label": "finder mirror", **PLACE, "bottom": "200 mm"}],
    "releases": [
        {"label": "rag", "substance": "acetone", **PLACE, "bottom": "210 mm", "height": "50 mm",
         "rate": "2 g/h"},
        {"label": "dish", "substance": "ammonia", "strength": 0.2, **PLACE, "bottom": "200 mm",
         "temperature": "25 degC"},
    ],
    "dust": {
        "density": "2000 kg/m3",
        "sources": [
            {"label": "arm", **PLACE, "bottom": "9 mm", "height": "0.4 m",
             "person": "indoor clothes", "share": 0.1},
            {"label": "drill", **PLACE, "bottom": "220 mm",
             "rates": ["900 per min", "8 per s", "0 per s"]},
        ],
    },
}  # fmt: skip


def _joined(first: Any, second: Any) -> Any:
    """Return tables with the keys of both, lists behind each other."""
    if isinstance(first, dict) and isinstance(second, dict):
        both = {key: _joined(first[key], second[key]) for key in first.keys() & second.keys()}
        return {**first, **second, **both}
    return [*first, *second] if isinstance(first, list) else second


DOCUMENT = _joined(tomllib.loads(TEXT), MORE)
JUNK = st.sampled_from(
    [0, -1, 1.5, True, None, "", "x", "5 mm", "-3 Pa", "20 degC", "1,200 m", float("nan"), [], {},
     [1], {"a": 1}, ["5 mm"], [{}], "front", 10**30, "\x1b[2J", [[[]]]]
)  # fmt: skip


CASE = case_from_mapping(DOCUMENT)


def _faults(build: Callable[[], Case]) -> tuple[Fault, ...]:
    """Return the faults of a case, none if it is built; any other failure is one of ours."""
    try:
        assert isinstance(build(), Case)
    except CaseError as error:
        return error.faults
    return ()


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


@pytest.mark.parametrize("path", PATHS, ids=str)
def test_one_wrong_value_is_one_fault(path: tuple[str | int, ...]) -> None:
    document = copy.deepcopy(DOCUMENT)
    place: Any = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = {"junk": 1} if path[-1] == "title" else object()
    faults = _faults(lambda: case_from_mapping(document))
    assert len(faults) == 1
    assert faults[0].key == key_path(path) or path[:2] == ("numerics", "cells")


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
    document = _spoiled(edits)
    assert all(fault.message for fault in _faults(lambda: case_from_mapping(document)))


@settings(deadline=None, derandomize=True, max_examples=300)
@given(
    st.integers(0, len(TEXT) - 1),
    st.integers(0, 40),
    st.sampled_from(["", "\n", '"', "[", "]]", "= 3", "mm", "#", ",", "\\", "{ }", "\x7f"]),
)
def test_damaged_text(tmp_path_factory: Any, start: int, length: int, junk: str) -> None:
    path: Path = tmp_path_factory.getbasetemp() / "damaged.toml"
    path.write_text(TEXT[:start] + junk + TEXT[start + length :], encoding="utf-8")
    assert all(fault.line is not None for fault in _faults(lambda: read_case(path)))


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.text(alphabet="abopenigsfrt.[]0123 =-'\"", max_size=25), JUNK)
def test_any_key_path_in_a_change(key: str, junk: Any) -> None:
    assert all(fault.message for fault in _faults(lambda: change_case(CASE, {key: junk})))
