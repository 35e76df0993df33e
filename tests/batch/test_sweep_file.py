"""Sweep files: what they say, and every fault of one at once with its line."""

from __future__ import annotations

import copy
import random
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.batch.plan_points import Sweep, point_key
from flowsim.batch.read_sweep import read_sweep
from flowsim.case.read import case_hash, change_case, read_case
from flowsim.errors import CaseError

CASES = Path(__file__).parents[2] / "cases"
BENCH = CASES / "mirror_bench.toml"
SHIPPED = {"balance_map": 676, "front_heights": 23, "side_port_and_holes": 63}
PLAIN = f"""\
format = 1
title = "heights"
case = "{BENCH.as_posix()}"

[[axes]]
key = "openings.front.height"
values = ["120 mm", "160 mm", "200 mm"]
"""


def _written(folder: Path, text: str, name: str = "sweep.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def _faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(CaseError, match=r".") as caught:
        read_sweep(_written(folder, text))
    return [line.removeprefix(f"{folder / 'sweep.toml'}:") for line in caught.value.lines()]


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_sweeps_are_read_and_every_point_is_a_case(name: str) -> None:
    path = CASES / "sweeps" / f"{name}.toml"
    sweep = read_sweep(path)
    assert "Invented" in path.read_text(encoding="utf-8")
    assert sweep.question.endswith("?")
    assert (len(sweep.points), sweep.skipped) == (SHIPPED[name], 0)
    assert sweep.base == read_case(BENCH)
    assert sweep.text is not None
    assert len({point_key(sweep, point) for point in sweep.points}) == len(sweep.points)
    for point in sweep.points[:: max(1, len(sweep.points) // 20)]:
        hash_of_case = case_hash(change_case(sweep.base, point.changes))
        assert sweep.text.hash_of(point.values) == hash_of_case


def test_everything_a_sweep_file_says(tmp_path: Path) -> None:
    _written(tmp_path, BENCH.read_text(encoding="utf-8"), "bench.toml")
    text = """
        format = 1
        title = "all"
        question = "What then?"
        case = "bench.toml"
        skip = ["openings.front.height > 180 mm", "exhaust.fan.speed < 75 %"]
        keep = ["balance_margin", "slit_velocity_min[strip tray]"]
        [changes]
        "plenum.height" = "120 mm"
        supply.filter.loading = 1.5
        [[axes]]
        keys = ["supply.fan.frequency", "supply.filter.grade"]
        values = [["35 Hz", "40 Hz"], ["H14", "H13"]]
        label = "supply"
        [[axes]]
        key = "exhaust.fan.speed"
        from = "70 %"
        to = 1.0
        [[axes]]
        key = "openings.front.height"
        from = "50 mm"
        to = "200 mm"
        count = 3
        spacing = "ratio"
        label = "front"
        [sample]
        method = "sobol"
        count = 16
        seed = 7
        [output]
        fields = "best"
        best_by = "draw_ratio"
        best = "smallest"
        best_count = 4
    """
    sweep = read_sweep(_written(tmp_path, text))
    assert (sweep.title, sweep.question) == ("all", "What then?")
    assert sweep.base_text_path == str(tmp_path / "bench.toml")
    assert sweep.base.plenum is not None
    assert sweep.base.plenum.height == 0.12
    assert sweep.base.supply is not None
    assert sweep.base.supply.filter is not None
    assert sweep.base.supply.filter.loading == 1.5
    assert sweep.keys == ("supply.fan.frequency", "supply.filter.grade", "exhaust.fan.speed",
                          "openings.front.height")  # fmt: skip
    assert sweep.units == ("Hz", "", "-", "m")
    assert sweep.labels[0] == "supply (supply.fan.frequency)"
    assert sweep.labels[2:] == ("exhaust.fan.speed", "front")
    assert sweep.keep == ("balance_margin", "slit_velocity_min[strip tray]", "draw_ratio")
    assert (sweep.output.best, sweep.output.best_count) == ("smallest", 4)
    speeds = np.array([float(str(point.values[2])) for point in sweep.points])
    heights = {point.values[3] for point in sweep.points}
    assert (speeds >= 0.75).all()
    assert heights == {0.05, 0.1}
    # own derivation: 16 balanced draws of 0.7 to 1 have 2.67 below 0.75, so 2 or 3
    assert len(sweep.points) in (13 * 4, 14 * 4)
    assert sweep.skipped == 96 - len(sweep.points)


def test_points_come_as_written(tmp_path: Path) -> None:
    sweep = read_sweep(_written(tmp_path, PLAIN))
    assert [point.values for point in sweep.points] == [("120 mm",), ("160 mm",), ("200 mm",)]
    case = read_case(BENCH, {"openings.front.height": "200 mm"})
    assert change_case(sweep.base, sweep.points[2].changes) == case
    assert sweep.text is not None
    assert sweep.text.hash_of(("200 mm",)) == case_hash(case)


def test_all_faults_of_a_file_at_once(tmp_path: Path) -> None:
    text = f"""\
format = 1
titel = "x"
case = "{BENCH.as_posix()}"
skip = ["openings.front.hight > 3 mm", 3]
keep = ["draw_ration"]
[changes]
"openings.front.width" = "1200"
chamber.widht = "3 m"
[[axes]]
key = "supply.fan.frequncy"
values = ["25 Hz"]
[[axes]]
key = "openings.front.height"
values = ["140 mm", 0.12, "13 m3"]
[[axes]]
key = "plenum.height"
from = "100 mm"
to = "200 mm"
cuont = 3
[sample]
method = "sobol"
count = 1000
[output]
best = "larger"
"""
    expected = [
        ("2: titel: is not a key of this file", "did you mean 'title'?"),
        ("4: skip[0]: 'openings.front.hight' is not a key of", "did you mean 'height'?"),
        ("4: skip[1]: is not a string (got 3)", "expected text in quotes"),
        ("5: keep[0]: is not a key figure (got 'draw_ration')", "did you mean 'draw_ratio'"),
        ("7: changes.openings.front.width: has no unit (got '1200')", "did you mean '1200 mm'?"),
        ("8: changes.chamber.widht: is not a key of [chamber]", "did you mean 'width'?"),
        ("10: axes[0].key: 'supply.fan.frequncy' is not a key", "did you mean 'frequency'?"),
        ("14: axes[1].values[1]: 'openings.front.height' has no unit (got 0.12)", "'0.12 m'?"),
        ("14: axes[1].values[2]: 'openings.front.height' is a volume, not a length", "13 m3"),
        ("19: axes[2].cuont: is not a key of [axes[2]]", "did you mean 'count'?"),
        ("22: sample.count: is not a power of two (got 1000)", "did you mean 512 or 1024?"),
        ("24: output.best: is none of the choices (got 'larger')", "did you mean 'largest'?"),
    ]
    found = _faults(tmp_path, text)
    assert len(found) == len(expected), found
    for line, (start, words) in zip(found, expected, strict=True):
        assert line.startswith(start)
        assert words in line


@pytest.mark.parametrize(
    ("old", "new", "start", "words"),
    [
        ("format = 1", "format = 2", "1: format: is not a known version", "format = 1"),
        ("format = 1\n", "", "1: format: is missing", "format = 1 on top"),
        ("mirror_bench.toml", "miror_bench.toml", "3: case: ", "did you mean"),
        (f'case = "{BENCH.as_posix()}"\n', "", "1: case: is missing", "text in quotes"),
        ("key =", "kye =", "6: axes[0].kye: is not a key of [axes[0]]", "did you mean 'key'?"),
        ('key = "openings.front.height"\n', "", "5: axes[0]: names no key", "key or keys"),
        ("key = ", 'keys = ["a", "b"]\nkey = ', "5: axes[0]: gives key and keys at once", ""),
        ("values = [", "values = 3\n#", "7: axes[0].values: is not a list (got 3)", "square"),
        ("values", "count = 3\nvalues", "5: axes[0]: gives values and count at once", "from + to"),
        ("values", "spacing = 'even'\nvalues", "7: axes[0].spacing: is of no use", ""),
        ('"160 mm"', '"16 cm", "160 mm"', "7: axes[0].values[2]: is given twice", "once"),
        ('"160 mm"', "[1]", "7: axes[0].values[1]: 'openings.front.height' is not a length",
         "a list"),
        ('"160 mm"', "1979-05-27", "7: axes[0].values[1]: 'openings.front.height' is not a", ""),
        ('"160 mm"', "nan", "7: axes[0].values[1]: 'openings.front.height' is not a finite", ""),
        ('"200 mm"', '"900 mm"', "7: axes[0].values[2]: openings.front.height = '900 mm' makes the "
         "case faulty at its point", "expected at most 750 mm"),
        ("values", "values = []\n#", "7: axes[0].values: is an empty list", ""),
        ("[[axes]]", "changes = {'openings.front.height' = '15 cm'}\n[[axes]]",
         "7: axes[0].key: 'openings.front.height' is varied here and set in changes", ""),
        ("[[axes]]", "skip = ['openings.front.height >= 300']\n[[axes]]",
         "5: skip[0]: compares 'openings.front.height' with a value that has no unit", "300 mm"),
        ("[[axes]]", "[output]\nfields = 'best'\n[[axes]]", "5: output.best_by: is missing", ""),
        ("[[axes]]", "keep = 'everything'\n[[axes]]", "5: keep: is not a list", ""),
        ("[[axes]]", "keep = ['all', 'draw_ratio']\n[[axes]]", "5: keep[0]: is not a key figure",
         "expected 'all' or names from"),
        ("[[axes]]", "keep = ['draw_ratio', 'draw_ratio']\n[[axes]]", "5: keep[1]: names", "twice"),
        ("[[axes]]", "keep = ['bypass_share[strip try]']\n[[axes]]", "5: keep[0]: nothing in the "
         "case has the label 'strip try'", "did you mean 'strip tray'"),
        ("[[axes]]", "sample = {count = 8}\n[[axes]]", "5: sample.method: is missing",
         "'latin hypercube', 'sobol'"),
        ("[[axes]]", "sample = {method = 'sobol', count = 8}\n[[axes]]", "5: sample: draws nothing",
         ""),
        ('title = "heights"', "title = \"heights", "2: title: cannot be read as TOML",
         "no closing quote"),
    ],
)  # fmt: skip
def test_a_fault_is_named(tmp_path: Path, old: str, new: str, start: str, words: str) -> None:
    assert old in PLAIN
    found = _faults(tmp_path, PLAIN.replace(old, new, 1))
    assert len(found) == 1, found
    assert found[0].startswith(start)
    assert words in found[0]


def test_a_value_refused_in_combination_only_is_no_fault(tmp_path: Path) -> None:
    axes = """
[[axes]]
key = "plenum.height"
values = ["80 mm", "110 mm"]
[[axes]]
key = "plenum.ports[0].height"
values = ["70 mm", "90 mm"]
"""
    sweep = read_sweep(_written(tmp_path, PLAIN + axes))
    assert len(sweep.points) == 12
    with pytest.raises(CaseError, match="at most 80 mm"):
        change_case(sweep.base, sweep.points[1].changes)
    everywhere = _faults(tmp_path, PLAIN + axes.replace('"70 mm", "90 mm"', '"90 mm", "100 mm"'))
    assert len(everywhere) == 1
    assert "plenum.height = '80 mm' makes the case faulty at all 6 points" in everywhere[0]


def test_a_sweep_without_a_right_point_is_refused(tmp_path: Path) -> None:
    found = _faults(tmp_path, PLAIN.replace("height", "bottom").replace('"120', '"740').replace(
        '"160', '"730').replace('"200', '"720'))  # fmt: skip
    assert len(found) == 1
    assert found[0].startswith("5: axes: make the case faulty at all 3 points; the first: openings")


def test_faults_of_the_case_stand_in_the_sweep(tmp_path: Path) -> None:
    bench = BENCH.read_text(encoding="utf-8").replace('height = "750 mm"', 'height = "750"')
    _written(tmp_path, bench.replace('depth = "650 mm"', "depth = -1"), "bench.toml")
    text = PLAIN.replace(BENCH.as_posix(), "bench.toml").replace("values", "valus")
    found = _faults(tmp_path, text)
    assert [line.split(":")[0] for line in found] == ["3", "3", "7"]
    assert "case: is faulty: " in found[0]
    assert "bench.toml:25: chamber.depth: has no unit" in found[0]
    assert "bench.toml:26: chamber.height: has no unit" in found[1]


@pytest.mark.parametrize(
    "text",
    ["__import__('os')", "__import__('os') > 1", "openings.front.height > __import__('os')",
     "openings.front.height > open('x')", "().__class__ = 1", "1 > 0", "openings.front.height > 1e",
     "lambda: 0 > 1", "openings.front.height > 1 mm or 1", "{__import__('os')}", "a" * 5000],
)  # fmt: skip
def test_conditions_are_never_code(
    tmp_path: Path, text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("text was evaluated")

    path = _written(tmp_path, f'skip = ["{text}"]\n{PLAIN}')
    monkeypatch.setattr("builtins.eval", refuse)
    monkeypatch.setattr("builtins.exec", refuse)
    with pytest.raises(CaseError, match=r"skip\[0\]: ") as caught:
        read_sweep(path)
    assert len(caught.value.faults) == 1
    assert len(str(caught.value)) < 400 + len(str(path))


def test_too_many_points(tmp_path: Path) -> None:
    axis = '\n[[axes]]\nkey = "{}"\nfrom = "{}"\nto = "{}"\ncount = 3000\n'
    text = PLAIN + axis.format("plenum.height", "100 mm", "200 mm")
    text += axis.format("supply.fan.frequency", "30 Hz", "40 Hz")
    found = _faults(tmp_path, text)
    assert found == ["5: axes: make 27 000 000 points; expected at most 10 000 000"]


def test_a_case_in_the_place_of_a_sweep() -> None:
    with pytest.raises(CaseError, match="is a case, not a sweep") as caught:
        read_sweep(BENCH)
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "is empty"), (b"\0", "is a binary file; expected a sweep file"),
     (b"x = \xff", "is not text in UTF-8"), (b"[[[", "cannot be read as TOML")],
)  # fmt: skip
def test_files_that_are_none(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "sweep.toml"
    path.write_bytes(content)
    with pytest.raises(CaseError, match=words) as caught:
        read_sweep(path)
    assert "a case" not in str(caught.value)
    with pytest.raises(CaseError, match=r"does not exist; expected a sweep file .*did you mean"):
        read_sweep(tmp_path / "sweeps.toml")


JUNK = st.sampled_from([None, "", "x", "3 mm", -1, 0, 2.5, True, [], ["a"], [["a"], [1]], {},
                        {"a": 1}, 10**30, float("inf"), "openings.front.height", "chamber",
                        "a > b", "openings.0.height"])  # fmt: skip


def _places(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return the paths of everything in a document."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    found = []
    for key, item in items:
        found.append((*path, key))
        if isinstance(item, dict | list):
            found += _places(item, (*path, key))
    return found


@settings(deadline=None, max_examples=150, derandomize=True)
@given(seed=st.integers(0, 10**9), junk=st.lists(JUNK, min_size=1, max_size=3))
def test_whatever_a_file_says_is_a_sweep_or_a_list_of_faults(
    tmp_path_factory: pytest.TempPathFactory, seed: int, junk: list[Any]
) -> None:
    whole = (
        PLAIN
        + """
[[axes]]
keys = ["supply.fan.frequency", "exhaust.fan.speed"]
from = ["30 Hz", 0.8]
to = ["40 Hz", 0.9]
[[axes]]
key = "work_surface.hole_count"
from = 300
to = 400
count = 3
[sample]
method = "sobol"
count = 8
[changes]
"room.draught" = "0.2 m/s"
[output]
fields = "best"
best_by = "draw_ratio"
"""
    )
    data = tomllib.loads(whole)
    data["skip"] = ["openings.front.height > 190 mm"]
    data["keep"] = ["draw_ratio"]
    random_place = random.Random(seed)
    for value in junk:
        *path, last = random_place.choice(_places(data))
        place = data
        for item in path:
            place = place[item]
        if value is None and isinstance(place, dict):
            del place[last]
        else:
            place[last] = copy.deepcopy(value if value is not None else "")
    path = tmp_path_factory.getbasetemp() / "anything.toml"
    path.write_text(_toml(data), encoding="utf-8")
    found = _read(path)
    if isinstance(found, CaseError):
        assert found.faults
        assert all(fault.message for fault in found.faults)
    else:
        assert point_key(found, found.points[-1])


def _read(path: Path) -> Sweep | CaseError:
    try:
        return read_sweep(path)
    except CaseError as error:
        return error


def _toml(data: dict[str, Any]) -> str:
    """Return a document as TOML, everything inline."""
    return "".join(f"{_quoted(key)} = {_value(value)}\n" for key, value in data.items())


def _quoted(text: str) -> str:
    return "'" + text + "'" if "'" not in text else '"' + text + '"'


def _value(value: Any) -> str:
    if isinstance(value, dict):
        inner = ", ".join(f"{_quoted(key)} = {_value(item)}" for key, item in value.items())
        return "{" + inner + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, bool):
        return str(value).lower()
    return _quoted(value) if isinstance(value, str) else repr(value)
