"""Key path -> line, on written-out and on random documents."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.case.lines import line_of, lines_of_keys

TEXT = '''# a remark = 1
title = "x # not a remark" # = y

[chamber]
width = "1 m"
size.inner.depth = 3
"quoted.key" = 1
'literal key' = 2
"esc\\u0061pe" = 3
many = [
  1, # one
  [2, 3],

  { a = 1, b.c = [4,
    5] },
]
long = """
[not.a.table]
x = 1 \\""" still ""\\"
"""""
raw = \'\'\'
y = "2"\'\'\'

[[ports]]
wall = "left"
[[ports.holes]]
d = 1
[[ports.holes]]
d = 2
[ports.frame]
t = 1979-05-27 07:32:00
[[ports]]
wall = "right"
[[ports.holes]]
d = 3
[ a . "b" . c ]
last=-1e3'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ((), 1),
        (("title",), 2),
        (("chamber",), 4),
        (("chamber", "width"), 5),
        (("chamber", "size"), 6),
        (("chamber", "size", "inner", "depth"), 6),
        (("chamber", "quoted.key"), 7),
        (("chamber", "literal key"), 8),
        (("chamber", "escape"), 9),
        (("chamber", "many"), 10),
        (("chamber", "many", 0), 11),
        (("chamber", "many", 1, 1), 12),
        (("chamber", "many", 2), 14),
        (("chamber", "many", 2, "b", "c", 0), 14),
        (("chamber", "many", 2, "b", "c", 1), 15),
        (("chamber", "long"), 17),
        (("chamber", "raw"), 21),
        (("ports",), 24),
        (("ports", 0, "wall"), 25),
        (("ports", 0, "holes", 1, "d"), 29),
        (("ports", 0, "frame", "t"), 31),
        (("ports", 1), 32),
        (("ports", 1, "holes", 0, "d"), 35),
        (("a", "b", "c"), 36),
        (("a", "b", "c", "last"), 37),
    ],
)
def test_line_of_a_key(path: tuple[str | int, ...], line: int) -> None:
    # own derivation, counted in the text above
    assert lines_of_keys(TEXT)[path] == line


def test_every_path_of_the_document_is_found_and_no_other() -> None:
    assert set(lines_of_keys(TEXT)) == set(_paths(tomllib.loads(TEXT), ()))


def test_missing_key_has_the_line_of_what_it_is_missing_from() -> None:
    lines = lines_of_keys(TEXT)
    assert line_of(("ports", 1, "width"), lines) == 32
    assert line_of(("room",), lines) == 1
    assert line_of(("room",), {}) is None


def _paths(value: Any, path: tuple[str | int, ...]) -> list[tuple[str | int, ...]]:
    """Return all paths of a document."""
    found = [path]
    if isinstance(value, dict):
        for key, item in value.items():
            found += _paths(item, (*path, key))
    if isinstance(value, list):
        for index, item in enumerate(value):
            found += _paths(item, (*path, index))
    return found


SCALARS = st.sampled_from(
    [
        "1",
        "-2.5e3",
        "true",
        '"text"',
        '"a # b = [c] \\" {d}"',
        "'lite\"ral, ]'",
        '"""\none = 1\n[two]\n""" ',
        "'''\nthree'''",
        '"""ends in quotes"""""',
        "1979-05-27 07:32:00",
        "inf",
        '""',
        "''",
    ]
)
KEYS = st.sampled_from(["a", "b-1", "c_2", '"d.e"', "'f g'", '"h\\u0041"', "9"])
GAPS = st.sampled_from(["", " ", "\n", " # note ] } = \n", "\n\n  "])


@st.composite
def _values(draw: st.DrawFn, depth: int = 2) -> str:
    """Return the text of a value."""
    kind = draw(st.integers(0, 3)) if depth else 0
    if kind == 2:
        gap = draw(GAPS)
        items = draw(st.lists(_values(depth - 1), max_size=3))
        return "[" + gap + f",{gap}".join(items) + gap + ("," if items else "") + "]"
    if kind == 3:
        keys = draw(st.lists(KEYS, max_size=3, unique=True))
        return "{ " + ", ".join(f"{key} = {draw(_values(depth - 1))}" for key in keys) + " }"
    return draw(SCALARS)


@st.composite
def _documents(draw: st.DrawFn) -> str:
    """Return the text of a document; some are not valid."""
    parts = []
    for _ in range(draw(st.integers(1, 8))):
        kind = draw(st.sampled_from(["pair", "pair", "table", "tables", "remark"]))
        key = ".".join(draw(st.lists(KEYS, min_size=1, max_size=2)))
        if kind == "pair":
            parts.append(f"{key} = {draw(_values())}")
        elif kind == "table":
            parts.append(f"[{key}]")
        elif kind == "tables":
            parts.append(f"[[ {key} ]] # list")
        else:
            parts.append("# remark = [1")
        parts.append(draw(st.sampled_from(["\n", "\n\n", " # end\n"])))
    return "".join(parts)


@settings(deadline=None, derandomize=True, max_examples=400)
@given(_documents())
def test_random_documents(text: str) -> None:
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = lines_of_keys(text)
    assert set(lines) == set(_paths(document, ()))
    rows = text.split("\n")
    for path, line in lines.items():
        if path and isinstance(path[-1], str):
            bare = path[-1].replace("hA", "h").split(".")[0]
            assert bare in rows[line - 1], (path, line)
