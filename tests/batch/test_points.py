"""Points of a sweep: their order, values, names, and which are skipped."""

from __future__ import annotations

import itertools
import json
import locale
import math
import pickle
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.batch.case_keys import value_in_si
from flowsim.batch.plan_points import Range, Sweep, point_key, sweep_from_python
from flowsim.batch.planning import SHORT_LIST
from flowsim.batch.sampling import sobol_draws
from flowsim.case.read import case_hash, change_case, read_case
from flowsim.case.schema import Case
from flowsim.errors import CaseError
from flowsim.simulate.registry import FIGURES

BENCH = Path(__file__).parents[2] / "cases" / "mirror_bench.toml"
FRONT, HOLES = "openings.front.height", "work_surface.hole_diameter"
SPEEDS = ("supply.fan.frequency", "exhaust.fan.speed")
QUICK = settings(deadline=None, max_examples=15, derandomize=True)


@pytest.fixture(scope="module")
def bench() -> Case:
    return read_case(BENCH)


def _numbers(sweep: Sweep) -> np.ndarray[Any, Any]:
    return np.array(
        [
            [value_in_si(sweep.base, key, value) for key, value in point.changes.items()]
            for point in sweep.points
        ]
    )


def test_grid_is_every_combination_with_the_last_axis_fastest(bench: Case) -> None:
    heights, speeds = ["140 mm", 0.16, "180 mm"], ["80 %", 0.9]
    sweep = sweep_from_python(bench, {FRONT: heights, "exhaust.fan.speed": speeds})
    assert [point.values for point in sweep.points] == list(itertools.product(heights, speeds))
    assert [point.number for point in sweep.points] == [1, 2, 3, 4, 5, 6]
    assert sweep.points[3].changes == {FRONT: 0.16, "exhaust.fan.speed": 0.9}
    assert (sweep.keys, sweep.units, sweep.skipped) == ((FRONT, "exhaust.fan.speed"),
                                                        ("m", "-"), 0)  # fmt: skip
    assert sweep.title == bench.title


def test_changes_are_what_change_case_takes(bench: Case) -> None:
    sweep = sweep_from_python(
        bench,
        {"plenum.ports.right end.width": ["300 mm", "400 mm"], "numerics.fidelity": ["network"],
         "exhaust.running": [True, "false"], "numerics.cells": [[10, 6, 8], "[12, 6, 8]"]},
    )  # fmt: skip
    case = change_case(bench, sweep.points[-1].changes)
    assert case.plenum is not None
    assert case.plenum.ports[0].width == 0.4
    assert case.numerics.fidelity == "network"
    assert case.exhaust is not None
    assert case.exhaust.running is False
    assert case.numerics.cells == (12, 6, 8)


def test_points_are_a_sequence(bench: Case) -> None:
    sweep = sweep_from_python(bench, {FRONT: Range("100 mm", "200 mm", 11)})
    points = sweep.points
    assert len(points) == 11
    assert points[-1] == points[10]
    assert [point.number for point in points[2:5]] == [3, 4, 5]
    assert list(points) == list(points[:])
    with pytest.raises(IndexError, match="range"):
        points[11]


def test_a_hundred_thousand_points_are_made_when_asked_for(bench: Case) -> None:
    sweep = sweep_from_python(
        bench,
        {FRONT: Range(0.1, 0.2, 100), HOLES: Range("5 mm", "12 mm", 100),
         "supply.fan.frequency": Range(30.0, 40.0)},
        sample={"method": "sobol", "count": 16},
    )  # fmt: skip
    assert len(sweep.points) == 160_000
    assert len(pickle.dumps(sweep)) < 200_000
    draw = sobol_draws(16, 1, 1)[:, 0]
    point = sweep.points[123_456]
    # own derivation: the draws are slowest, then the first axis of the grid
    assert point.values[2] == pytest.approx(30.0 + 10.0 * draw[12], rel=1e-11)
    assert point.values[0] == pytest.approx(0.1 + 0.1 * 34 / 99, rel=1e-11)
    assert point.values[1] == pytest.approx(0.005 + 0.007 * 56 / 99, rel=1e-11)


def test_all_drawn_axes_share_a_draw_and_the_grid_stands_round_each(bench: Case) -> None:
    sweep = sweep_from_python(
        bench,
        {SPEEDS[0]: Range(30.0, 40.0), FRONT: ["120 mm", "160 mm"], SPEEDS[1]: Range(0.7, 1.0)},
        sample={"method": "latin hypercube", "count": 20, "seed": 3},
    )
    values = [point.values for point in sweep.points]
    assert len(values) == 40
    assert len({(speed, exhaust) for speed, _, exhaust in values}) == 20
    for first, second in zip(values[::2], values[1::2], strict=True):
        assert (first[0], first[2]) == (second[0], second[2])
        assert (first[1], second[1]) == ("120 mm", "160 mm")
    frequencies = sorted({float(str(value[0])) for value in values})
    # own derivation: one draw in each of twenty strata
    assert [math.floor((f - 30.0) * 2.0) for f in frequencies] == list(range(20))


@QUICK
@given(st.integers(0, 1000), st.sampled_from(["even", "ratio"]), st.booleans())
def test_every_draw_is_within_its_range(seed: int, spacing: Any, turned: bool) -> None:
    ends = (0.2, 0.08) if turned else (0.08, 0.2)
    sweep = sweep_from_python(
        read_case(BENCH),
        {FRONT: Range(*ends, None, spacing), "work_surface.hole_count": Range(100, 300)},
        sample={"method": "latin hypercube", "count": 64, "seed": seed},
    )
    numbers = _numbers(sweep)
    assert ((numbers[:, 0] >= 0.08) & (numbers[:, 0] <= 0.2)).all()
    assert ((numbers[:, 1] >= 100) & (numbers[:, 1] <= 300)).all()
    assert all(isinstance(point.values[1], int) for point in sweep.points)
    middle = 0.14 if spacing == "even" else math.sqrt(0.08 * 0.2)
    # own derivation: half of a hypercube's draws lie on each side of its middle
    assert (numbers[:, 0] < middle).sum() == 32


def test_linked_keys_move_together(bench: Case) -> None:
    sweep = sweep_from_python(
        bench,
        {SPEEDS: [["30 Hz", "35 Hz", "40 Hz"], [0.7, 0.8, 0.9]], FRONT: ["120 mm", "160 mm"]},
    )
    assert [point.values[:2] for point in sweep.points[::2]] == [
        ("30 Hz", 0.7), ("35 Hz", 0.8), ("40 Hz", 0.9)]  # fmt: skip
    assert sweep.keys == (*SPEEDS, FRONT)


@pytest.mark.parametrize("count", [None, 5])
def test_linked_ranges_move_together(bench: Case, count: int | None) -> None:
    sweep = sweep_from_python(
        bench,
        {SPEEDS: Range(["30 Hz", 1.0], ["40 Hz", 0.8], count)},
        sample=None if count else {"method": "sobol", "count": 8},
    )
    numbers = _numbers(sweep)
    # own derivation: both are at the same share of their ranges
    assert (numbers[:, 0] - 30.0) / 10.0 == pytest.approx((1.0 - numbers[:, 1]) / 0.2, abs=1e-9)
    assert len(numbers) == (count or 8)


def test_ratio_spacing_of_a_grid(bench: Case) -> None:
    sweep = sweep_from_python(bench, {FRONT: Range("50 mm", "200 mm", 5, "ratio")})
    values = _numbers(sweep)[:, 0]
    # own derivation: each 2^(1/2) times the one before
    assert values[1:] / values[:-1] == pytest.approx(math.sqrt(2.0), rel=1e-10)
    assert (values[0], values[-1]) == (0.05, 0.2)


HEIGHTS, FREQUENCIES = (0.1, 0.12, 0.16, 0.2), (30.0, 35.0, 50.0)


@pytest.mark.parametrize(
    ("condition", "heights", "frequencies"),
    [
        ("openings.front.height >= 160 mm", (0.1, 0.12), FREQUENCIES),
        ("openings.front.height > 16 cm", (0.1, 0.12, 0.16), FREQUENCIES),
        ("openings.front.height = 16 cm", (0.1, 0.12, 0.2), FREQUENCIES),
        ("openings[0].height<160mm", (0.16, 0.2), FREQUENCIES),
        ("openings.front.height <= 0.16 m", (0.2,), FREQUENCIES),
        ("supply.fan.frequency > 35 Hz", HEIGHTS, (30.0, 35.0)),
        ("supply.fan.frequency < supply.fan.rated_frequency", HEIGHTS, (50.0,)),
        ("plenum.height < openings.front.height", (0.1,), FREQUENCIES),
        ("numerics.fidelity = stacked", (), ()),
        ("numerics.fidelity = 'network'", HEIGHTS, FREQUENCIES),
        ("exhaust.running = false", HEIGHTS, FREQUENCIES),
        ("exhaust.fan.speed >= 80 %", (), ()),
        ("openings.front.sleeve > 1 mm", HEIGHTS, FREQUENCIES),
    ],
)
def test_skipped_points(
    bench: Case, condition: str, heights: tuple[float, ...], frequencies: tuple[float, ...]
) -> None:
    axes: dict[Any, Any] = {FRONT: HEIGHTS, "supply.fan.frequency": FREQUENCIES}
    if not heights:
        with pytest.raises(CaseError, match="leaves out all 12 points"):
            sweep_from_python(bench, axes, skip=[condition])
        return
    sweep = sweep_from_python(bench, axes, skip=[condition])
    wanted = list(itertools.product(heights, frequencies))
    assert [point.values for point in sweep.points] == wanted
    assert sweep.skipped == 12 - len(wanted)
    assert [point.number for point in sweep.points] == list(range(1, len(wanted) + 1))


def test_conditions_on_two_axes_and_on_draws(bench: Case) -> None:
    bench = change_case(bench, {"supply.flow": "700 m3/h", "exhaust.flow": "600 m3/h"})
    axes: dict[Any, Any] = {"supply.flow": Range("400 m3/h", "800 m3/h"),
                            "exhaust.flow": Range("400 m3/h", "800 m3/h", 9)}  # fmt: skip
    sample = {"method": "latin hypercube", "count": 50}
    every = _numbers(sweep_from_python(bench, axes, sample=sample))
    skip = ["exhaust.flow > supply.flow", "supply.flow >= 750 m3/h"]
    some = sweep_from_python(bench, axes, sample=sample, skip=skip)
    left = every[(every[:, 1] <= every[:, 0]) & (every[:, 0] < 750.0 / 3600.0)]
    assert np.array_equal(_numbers(some), left)
    assert some.skipped == 450 - len(left)


def test_name_of_a_point_is_the_content_of_its_case(bench: Case) -> None:
    heights = ["140 mm", "16 cm", 0.18]
    sweep = sweep_from_python(
        bench,
        {FRONT: heights, "supply.flow": Range("600 m3/h", 0.2, 3), "numerics.cells": [[20, 10, 12]],
         "limits.draw_ratio": [{"max": 1.2}, {"max": "130 %"}], "compartments[0].lid": ["on"]},
        keep=["draw_ratio", "supply_flow"],
    )  # fmt: skip
    assert sweep.text is not None
    slow = replace(sweep, text=None)
    names = [point_key(sweep, point) for point in sweep.points]
    assert names == [point_key(slow, point) for point in sweep.points]
    assert len(set(names)) == len(names) == 18
    assert all(len(name) == 64 for name in names)
    hashes = [case_hash(change_case(bench, point.changes)) for point in sweep.points]
    assert [sweep.text.hash_of(point.values) for point in sweep.points] == hashes


def test_same_case_has_the_same_name_however_it_is_written(bench: Case) -> None:
    first = sweep_from_python(bench, {FRONT: ["140 mm", "160 mm"]}, keep=["draw_ratio"])
    second = sweep_from_python(bench, {"openings[0].height": Range(0.16, "18 cm", 3)},
                               keep=["draw_ratio"])  # fmt: skip
    other = change_case(bench, {"plenum.height": "120 mm"})
    moved = sweep_from_python(other, {FRONT: ["160 mm"]}, keep=["draw_ratio"])
    more = replace(second, keep=("draw_ratio", "draw_rsd"))
    name = point_key(first, first.points[1])
    assert point_key(second, second.points[0]) == name
    assert point_key(moved, moved.points[0]) != name
    assert point_key(more, more.points[0]) != name
    assert point_key(replace(more, keep=("draw_rsd", "draw_ratio")), more.points[0]) == point_key(
        more, more.points[0]
    )


def test_a_faulty_point_has_a_name_of_its_own(bench: Case) -> None:
    axes: dict[Any, Any] = {"plenum.height": ["100 mm", "110 mm"],
                            "plenum.ports[0].height": ["90 mm", "105 mm"]}  # fmt: skip
    sweep = sweep_from_python(bench, axes)
    with pytest.raises(CaseError, match="at most 100 mm"):
        change_case(bench, sweep.points[1].changes)
    assert len({point_key(sweep, point) for point in sweep.points}) == 4
    slow = replace(sweep, text=None)
    assert len({point_key(slow, point) for point in sweep.points}) == 4
    assert point_key(slow, sweep.points[0]) == point_key(sweep, sweep.points[0])


def test_a_sweep_reaches_a_worker_whole(bench: Case) -> None:
    sweep = sweep_from_python(
        bench, {FRONT: Range(0.1, 0.2), HOLES: ["6 mm", "8 mm"]},
        sample={"method": "sobol", "count": 4}, skip=["openings.front.height > 180 mm"],
    )  # fmt: skip
    again = pickle.loads(pickle.dumps(sweep))
    assert list(again.points) == list(sweep.points)
    assert [point_key(again, point) for point in again.points] == [
        point_key(sweep, point) for point in sweep.points
    ]


def test_values_of_points_are_json(bench: Case) -> None:
    sweep = sweep_from_python(bench, {FRONT: np.array([0.14, 0.16]), HOLES: Range(0.006, 0.01, 3)})
    values = [point.values for point in sweep.points]
    assert [tuple(item) for item in json.loads(json.dumps(values))] == values


@pytest.fixture
def comma_locale() -> Iterator[str]:
    """Use a locale of this machine that writes a decimal comma, if there is one."""
    before = locale.setlocale(locale.LC_ALL)
    for name in ("de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8", "C"):
        try:
            yield locale.setlocale(locale.LC_ALL, name)
            break
        except locale.Error:
            continue
    locale.setlocale(locale.LC_ALL, before)


def _described(case: Case) -> list[tuple[object, str]]:
    sweep = sweep_from_python(
        case, {FRONT: Range("0,1 m", "200 mm", 4, "ratio"), HOLES: Range("6 mm", "8.5 mm")},
        sample={"method": "sobol", "count": 4}, skip=["openings.front.height > 180.5 mm"],
    )  # fmt: skip
    return [(point.values, point_key(sweep, point)) for point in sweep.points]


def test_points_do_not_depend_on_the_locale(bench: Case, comma_locale: str) -> None:
    assert comma_locale
    inside = _described(bench)
    locale.setlocale(locale.LC_ALL, "C")
    assert _described(bench) == inside


def test_kept_figures(bench: Case) -> None:
    axes: dict[Any, Any] = {FRONT: ["140 mm"]}
    plain = sweep_from_python(bench, axes).keep
    assert set(SHORT_LIST) < set(plain)
    assert {"draw_ratio", "recovery_time", "exposure_ratio"} <= set(plain)
    assert len(set(plain)) == len(plain)
    assert set(plain) < set(FIGURES)
    assert sweep_from_python(bench, axes, keep="all").keep == tuple(FIGURES)
    ranked = sweep_from_python(
        bench, axes, keep=["bypass_share[strip tray]"],
        output={"fields": "best", "best_by": "draw_ratio", "best": "smallest"},
    )  # fmt: skip
    assert ranked.keep == ("bypass_share[strip tray]", "draw_ratio")
    assert (ranked.output.fields, ranked.output.best_count) == ("best", 10)


@pytest.mark.parametrize(
    ("axes", "more", "words"),
    [
        ({}, {}, "axes: is an empty list"),
        ({"openings.frnt.height": [0.1]}, {}, "did you mean 'front'?"),
        ({FRONT: []}, {}, "is an empty list"),
        ({FRONT: [-0.1]}, {}, "is too small"),
        ({FRONT: ["3 Pa"]}, {}, "is a pressure, not a length"),
        ({FRONT: ["140 mm", 0.14]}, {}, "is given twice"),
        ({FRONT: Range(0.1, 0.1, 3)}, {}, "is the same as from"),
        ({"room.draught": Range(0.0, 0.2, 3, "ratio")}, {}, "no equal ratios"),
        ({FRONT: Range(0.1, 0.2)}, {}, "has neither values nor count"),
        ({FRONT: Range(0.1, 0.2, 1)}, {}, "axes[0].count: is too small"),
        ({FRONT: Range(0.1, None, 3)}, {}, "gives from without to"),
        ({FRONT: [0.1], "openings[0].height": [0.2]}, {}, "is the same key as"),
        ({"work_surface.pitch": [0.03], "work_surface.hole_count": [300]}, {}, "in the place of"),
        ({"limits.draw_ratio": [{"max": 1.0}], "limits.draw_ratio.max": [1.1]}, {},
         "lie one inside the other"),
        ({SPEEDS: [["30 Hz"], [0.8, 0.9]]}, {}, "has lists of 1 and 2 values"),
        ({SPEEDS: [["30 Hz", 0.8], ["35 Hz", 0.9], ["38 Hz", 0.8]]}, {}, "has 3 list(s)"),
        ({SPEEDS: ["30 Hz", 0.8]}, {}, "is not a list"),
        ({SPEEDS: Range("30 Hz", "40 Hz", 3)}, {}, "is no list of 2"),
        ({"work_surface.hole_count": Range(100, 104, 9)}, {}, "leaves no 9 whole numbers"),
        ({"numerics.fidelity": Range("network", "stacked", 2)}, {}, "expected values"),
        ({FRONT: [0.1]}, {"sample": {"method": "sobol", "count": 8}}, "draws nothing"),
        ({FRONT: [0.1]}, {"keep": ["draw_ration"]}, "did you mean 'draw_ratio'"),
        ({FRONT: [0.1]}, {"output": {"fields": "best"}}, "output.best_by: is missing"),
        ({FRONT: [0.1]}, {"skip": ["supply.flow > exhaust.flow"]}, "'supply.flow' has no value"),
        ({FRONT: [0.1]}, {"skip": ["openings.front.height"]}, "holds no comparison"),
    ],
)  # fmt: skip
def test_faults_of_a_sweep_from_python(
    bench: Case, axes: Any, more: dict[str, Any], words: str
) -> None:
    with pytest.raises(CaseError, match=r".") as caught:
        sweep_from_python(bench, axes, **more)
    assert words in str(caught.value)
    assert all(fault.line is None for fault in caught.value.faults)


def test_ten_million_points_are_the_most(bench: Case) -> None:
    most: dict[Any, Any] = {FRONT: Range(0.1, 0.2, 4000), HOLES: Range(0.005, 0.01, 2500)}
    assert len(sweep_from_python(bench, most).points) == 10_000_000
    most[HOLES] = Range(0.005, 0.01, 2501)
    with pytest.raises(CaseError, match="make 10 004 000 points; expected at most 10 000 000"):
        sweep_from_python(bench, most)
