"""One point of a sweep: its row, its faults, and that nothing else decides it."""

from __future__ import annotations

import pickle
import warnings
from typing import Any

import pytest
from benches import TRAY, bench

from flowsim.batch import point
from flowsim.batch.point import Row, base_start, judged_case, row_of, run_point, solve_point
from flowsim.case.read import change_case
from flowsim.errors import ConvergenceError
from flowsim.simulate.run import run_case

KEEP = ("front_velocity_min", "draw_ratio", "balance_margin", "iso_class")
LIMITS: dict[str, Any] = {
    "draw_ratio": {"min": 1.0, "max": 1.25},
    "front_inflow_share": {"max": 0.0},
    "vapour_escape_share": {"max": 0.01},
}
SHEET = {
    "label": "sheet",
    "offset_x": 0.7,
    "offset_y": 0.2,
    "bottom": 0.3,
    "width": 0.2,
    "depth": 0.2,
    "height": 1e-3,
}
BASE = bench(compartments=[TRAY], limits=LIMITS)
CHANGES: list[dict[str, Any]] = [
    {"openings.front.height": "120 mm"},
    {"exhaust.flow": 0.3},
    {"work_surface.free_area_ratio": "2 %", "plenum.height": "90 mm"},
    {"exhaust.flow": "1.1 m3/h"},
]


def test_row_holds_the_figures_of_a_single_run() -> None:
    """Bit for bit, with and without all that a report shows."""
    changes = CHANGES[0]
    result = run_case(change_case(BASE, changes))
    for want_fields in (False, True):
        row = run_point(BASE, None, changes, KEEP, want_fields)
        assert row.status == "done"
        assert row.figures == {name: result[name] for name in KEEP}
        assert row.error == ""


def test_checks_are_those_of_the_kept_figures() -> None:
    """The worse of two sides; limits on what is not kept are left out."""
    row, result = solve_point(BASE, None, CHANGES[0], KEEP)
    assert result is not None
    assert [check.name for check in result.checks] == ["draw_ratio", "draw_ratio"]
    assert row.checks == {"draw_ratio": "met"}
    full = run_point(BASE, None, CHANGES[0], ("all",))
    assert full.checks.keys() == {"draw_ratio", "front_inflow_share", "vapour_escape_share"}
    assert full.checks["draw_ratio"] == row.checks["draw_ratio"]


def test_everything_may_be_kept() -> None:
    """All figures of the run, with those of each thing."""
    row, result = solve_point(BASE, None, {}, ("all",))
    assert result is not None
    assert row.figures.keys() == result.quantities.keys()
    assert result.transport is not None


def test_same_rows_in_any_order() -> None:
    """A point never begins with another point."""
    start = base_start(BASE)
    forward = [run_point(BASE, start, changes, KEEP) for changes in CHANGES]
    backward = [run_point(BASE, start, changes, KEEP) for changes in reversed(CHANGES)]
    assert forward == backward[::-1]
    assert forward == [run_point(BASE, base_start(BASE), changes, KEEP) for changes in CHANGES]
    assert len({str(row.figures) for row in forward}) == len(CHANGES)


def test_start_from_the_base_agrees_with_a_cold_one() -> None:
    """To far more digits than anybody reads."""
    start = base_start(BASE)
    for changes in CHANGES:
        warm, cold = (run_point(BASE, one, changes, KEEP) for one in (start, None))
        assert warm.checks == cold.checks
        known = {name: value for name, value in cold.figures.items() if value is not None}
        assert known
        for name, value in known.items():
            assert warm.figures[name] == pytest.approx(value, rel=1e-6, abs=1e-7), name


def test_start_travels_to_a_worker() -> None:
    """What comes out of a pickle gives the same row."""
    start = base_start(BASE)
    copy = pickle.loads(pickle.dumps(start))
    rows = [run_point(BASE, one, CHANGES[0], KEEP) for one in (start, copy)]
    assert rows[0] == rows[1] == pickle.loads(pickle.dumps(rows[0]))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"openings.front.height": "-1 mm"}, "height: is too small"),
        ({"openings.front.hight": "100 mm"}, "did you mean 'height'"),
        ({"openings.front.height": "2 m"}, "the chamber's height"),
        ({"work_surface.free_area_ratio": "120 %"}, "free_area_ratio"),
        ({"objects": [SHEET]}, "thinner than a cell"),
    ],
)
def test_faulty_point_is_a_row_that_says_why(changes: dict[str, Any], said: str) -> None:
    """With no figure in it."""
    row = run_point(BASE, base_start(BASE), changes, KEEP)
    assert row == Row("faulty", {}, {}, row.error)
    assert said in row.error


def test_unknown_figure_is_faulty() -> None:
    """It names the figure."""
    row = run_point(BASE, None, {}, ("draw_rato",))
    assert row.status == "faulty"
    assert "did you mean 'draw_ratio'" in row.error


def test_point_that_does_not_settle_is_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """The rest of the night goes on."""

    def refuse(*_: object) -> None:
        raise ConvergenceError("the plate still moves")

    monkeypatch.setattr(point, "run_case", refuse)
    assert run_point(BASE, None, {}, KEEP) == Row("not converged", error="the plate still moves")


def test_unforeseen_error_is_a_row(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the kind of the error."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError("nobody thought of it")

    monkeypatch.setattr(point, "run_case", fail)
    row = run_point(BASE, None, {}, KEEP)
    assert row == Row("crashed", error="ZeroDivisionError: nobody thought of it")


def test_stopping_is_not_an_error_of_the_point(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C gets through."""

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(point, "run_case", stop)
    with pytest.raises(KeyboardInterrupt):
        run_point(BASE, None, {}, KEEP)


def test_points_are_silent() -> None:
    """Warnings of laws belong into reports, not into a night of rows."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        base_start(BASE)
        assert run_point(BASE, None, {"exhaust.flow": 0.32}, KEEP).status == "done"


def test_base_without_a_solution_gives_no_start() -> None:
    """Its points begin cold."""
    broken = bench(objects=[SHEET])
    assert base_start(broken) is None
    assert run_point(BASE, None, {}, KEEP).status == "done"


def test_limits_outside_the_kept_figures_cost_nothing() -> None:
    """They are taken off the case, all else stays."""
    judged = judged_case(BASE, KEEP)
    assert judged.limits.draw_ratio == BASE.limits.draw_ratio
    assert judged.limits.vapour_escape_share is None
    assert judged.limits.measure_height == BASE.limits.measure_height
    assert judged.model_copy(update={"limits": BASE.limits}) == BASE
    assert judged_case(BASE, ("all",)) is BASE


def test_row_of_a_result_keeps_labels() -> None:
    """One thing of several may be a column."""
    two = bench(compartments=[TRAY, TRAY | {"label": "other", "offset_x": 0.8}])
    keep = ("compartment_pressure", "compartment_pressure[other]", "compartment_pressure[third]")
    row = row_of(run_case(two, keep), keep)
    assert row.figures["compartment_pressure[other]"] is not None
    assert row.figures["compartment_pressure[third]"] is None
