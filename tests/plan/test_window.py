"""The window of settings: drifts kept by random solves, conflicts, options, one setting alone."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from benches import BENCH, HOOD, bench

from flowsim.case.read import change_case, read_case
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, RangeError
from flowsim.plan.window import Told, window, window_text
from flowsim.plan.window_settings import holds_of, settings_of
from flowsim.plan.window_solve import Bench, Point
from flowsim.report.window_result import SetPoint, Window

CASES = Path(__file__).resolve().parents[2] / "cases"
LIMITS: dict[str, Any] = {
    "front_inflow_share": {"max": 0.0},
    "front_velocity_max": {"max": 0.45},
    "balance_margin": {"min": 0.05},
}


def mirror_bench(**changes: Any) -> Case:
    """Return the mirror bench at the cheapest fidelity."""
    return change_case(
        read_case(CASES / "mirror_bench.toml"), {"numerics.fidelity": "network", **changes}
    )


@pytest.fixture(scope="module")
def case() -> Case:
    return mirror_bench()


@pytest.fixture(scope="module")
def found(case: Case) -> Window:
    return window(case)


def states(case: Case, window: Window, settings: list[tuple[float, ...]]) -> list[Point]:
    """Solve at some settings, afresh."""
    fresh = Bench(case)
    return [fresh.at([axis.key for axis in window.axes], values) for values in settings]


def drawn(point: SetPoint, count: int, seed: int) -> list[tuple[float, ...]]:
    """Draw settings within 98 % of the drifts of a set point: half together, half alone."""
    assert point.drift is not None
    draw = np.random.default_rng(seed)
    base = np.array(point.values)
    shares = 0.98 * np.array(point.drift.together.shares)
    together = base * (1.0 + draw.uniform(-1.0, 1.0, (count // 2, len(base))) * shares)
    alone = np.tile(base, (count - count // 2, 1))
    for row in alone:
        axis = int(draw.integers(len(base)))
        low, high = point.drift.alone[axis]
        row[axis] *= 1.0 + 0.98 * draw.uniform(-low.share, high.share)
    return [tuple(row.tolist()) for row in [*together, *alone]]


@pytest.mark.parametrize("name", ["proposed", "present"])
def test_no_random_drift_within_98_percent_breaks_a_limit(
    case: Case, found: Window, name: str
) -> None:
    """200 solves in all; what the margins promise."""
    point = {"proposed": found.proposed, "present": found.present}[name]
    tried = states(case, found, drawn(point, 100, 7))
    assert [item.values for item in tried if item.state != "met"] == []


def test_a_drift_beyond_the_margin_breaks_the_limit_that_is_named(
    case: Case, found: Window
) -> None:
    """3 % of the drift farther out what was named is found, on every side that has a border."""
    drift = found.proposed.drift
    assert drift is not None
    for axis, sides in enumerate(drift.alone):
        for side, sign in zip(sides, (-1.0, 1.0), strict=True):
            values = list(found.proposed.values)
            values[axis] *= 1.0 + sign * (1.03 * side.share + 1e-3)
            (point,) = states(case, found, [tuple(values)])
            if side.beyond is not None:
                assert point.state == side.beyond.state
                assert set(side.beyond.names) <= {k for k, v in point.states.items() if v != "met"}


def test_text_answers_in_the_first_five_lines(found: Window) -> None:
    lines = window_text(found).splitlines()[:5]
    assert lines[0].startswith("Set supply fan ")
    assert "exhaust fan" in lines[0]
    assert lines[1].startswith("May drift alone: supply fan ")
    assert lines[2].startswith("Both together: +-")
    assert lines[3].startswith("Breaks first: supply fan too low: ")
    assert lines[4].startswith("exhaust fan too low: ")
    assert all(len(line) <= 100 for line in lines)


def test_what_is_left_out_is_said(found: Window) -> None:
    text = " ".join(window_text(found).split())
    assert "draw ratio at most 1.25: fidelity network gives no such figure" in text
    assert "fidelity network cannot tell where vapour and dust go" in text
    assert "150" not in found.left_out
    assert sum(found.solves.values()) <= 150


def test_limits_that_exclude_each_other_are_named() -> None:
    """A front that must blow at 0.6 m/s at least and at 0.3 m/s at most."""
    case = mirror_bench(
        **{"limits.front_velocity_max": {"max": 0.3}, "limits.front_velocity_min": {"min": 0.6}}
    )
    found = window(case)
    assert found.conflict is not None
    assert set(found.conflict.pair) == {
        "front velocity max at most 0.300 m/s",
        "front velocity min at least 0.600 m/s",
    }
    assert found.proposed.state == "not met"
    assert found.proposed.drift is None
    assert found.follow is None
    one, two = found.conflict.shifts
    assert one == pytest.approx(two, rel=0.3)
    text = window_text(found)
    assert text.startswith("No setting on the map is shown to meet every limit.")
    assert "These exclude each other" in text


def test_a_limit_that_is_met_nowhere_is_named() -> None:
    found = window(mirror_bench(**{"limits.compartment_pressure": {"max": -500.0}}))
    assert found.conflict is not None
    assert found.conflict.nowhere == ("compartment pressure at most -500 Pa",)
    assert "No setting on the map meets compartment pressure at most -500 Pa." in window_text(found)


def test_a_flow_and_a_suction_are_set_too() -> None:
    """Whatever the case has; a supply at a fixed flow has no filter to follow."""
    base = {
        **BENCH,
        "supply": {"face_velocity": 0.35, "filter": BENCH["supply"]["filter"]},
        "exhaust": {"suction": 60.0, "ducts": [{"diameter": 0.2, "length": 4.0}]},
    }
    case = bench(base, limits=LIMITS, numerics={"fidelity": "network"})
    found = window(case, most=100)
    assert [axis.name for axis in found.axes] == ["supply face velocity", "exhaust suction"]
    assert found.follow is None
    assert "no filter loads" in window_text(found)
    assert "Pa" in window_text(found).splitlines()[0]


def test_one_setting_alone() -> None:
    """A hood without exhaust: the supply alone, its border where the front is too fast."""
    limits = {"front_velocity_max": {"max": 1.0}, "supply_face_velocity": {"min": 0.2}}
    case = bench(HOOD, limits=limits, numerics={"fidelity": "network"})
    found = window(case)
    assert len(found.axes) == 1
    drift = found.proposed.drift
    assert drift is not None
    low, high = drift.alone[0]
    assert low.value == pytest.approx(0.2 * 1.22 * 0.61, rel=2e-3)  # face velocity times area
    assert high.value == pytest.approx(1.0 * 1.2 * 0.16, rel=2e-3)  # all of it leaves by the front
    lines = window_text(found).splitlines()
    assert lines[2].startswith("Either way: +-")


def test_what_can_be_held_moves_the_proposal() -> None:
    """Where the exhaust is held ten times worse, its share of the box is ten times as large."""
    case = mirror_bench()
    found = window(case, hold="1 %, 10 %", most=120)
    drift = found.proposed.drift
    assert drift is not None
    one, two = drift.together.shares
    assert two == pytest.approx(10.0 * one)
    assert not found.assumed_hold
    assert "that can be held" in window_text(found)


def test_progress_is_told() -> None:
    told: list[Told] = []
    window(mirror_bench(), tell=told.append)
    assert told[0].stage == "map"
    assert {"map", "drift", "loading"} <= {item.stage for item in told}
    assert told[-1].done <= 150


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"hold": "3"}, "what can be held"),
        ({"hold": "1 %, 2 %, 3 %"}, "what can be held"),
        ({"hold": "90 %"}, "0.1 % to 50 %"),
        ({"ranges": {"supply": "25 Hz"}}, "range '25 Hz' of the supply fan"),
        ({"ranges": {"supply": "50 Hz to 25 Hz"}}, "two rising values"),
        ({"ranges": {"supply": "25 m to 50 m"}}, "range of the supply fan"),
        ({"most": 10}, "at least 80"),
    ],
)
def test_faulty_options_are_refused(case: Case, options: Mapping[str, Any], words: str) -> None:
    with pytest.raises(RangeError, match=words):
        window(case, **options)


def test_a_range_for_what_is_not_there_is_refused() -> None:
    case = bench(HOOD, limits=LIMITS)
    with pytest.raises(RangeError, match="no exhaust that runs"):
        settings_of(case, holds_of(None), {"exhaust": "1 m3/h to 2 m3/h"})


def test_a_case_without_limits_is_refused() -> None:
    with pytest.raises(RangeError, match="states no limit"):
        window(bench(numerics={"fidelity": "network"}))


def test_a_case_without_anything_to_set_is_refused() -> None:
    case = bench(supply={"running": False}, exhaust={"running": False}, limits=LIMITS)
    with pytest.raises(RangeError, match="nothing to set"):
        window(case)


def test_a_case_without_solution_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ConvergenceError("branch x does not settle")

    monkeypatch.setattr("flowsim.plan.window_solve.couple", fail)
    with pytest.raises(ConvergenceError, match="the case as stated: branch x"):
        window(bench(BENCH, limits=LIMITS))
