"""Verdicts: met, not met, not shown."""

from __future__ import annotations

from typing import Any

import pytest
from benches import bench

from flowsim.simulate.result import Check, Result
from flowsim.simulate.run import run_case


def run(limits: dict[str, Any], **parts: Any) -> Result:
    """Run the bench against limits."""
    return run_case(bench(limits=limits, **parts))


def only(result: Result) -> Check:
    """Return the one check."""
    (check,) = result.checks
    return check


def test_limit_inside_is_met_with_its_margin() -> None:
    """Margin is positive on the met side."""
    check = only(run({"front_velocity_mean": {"min": 0.1}}))
    assert check.state == "met"
    assert check.margin == pytest.approx(0.05 / 0.192 - 0.1)


def test_limit_outside_is_not_met() -> None:
    """Margin is negative."""
    check = only(run({"front_velocity_mean": {"max": 0.1}}))
    assert check.state == "not met"
    assert check.margin is not None
    assert check.margin < 0.0


def test_figure_that_the_model_cannot_give_is_not_shown() -> None:
    """No field at fidelity network, so no downflow."""
    check = only(run({"downflow_mean": {"min": 0.1}}, numerics={"fidelity": "network"}))
    assert check.state == "not shown"
    assert check.value is None


def test_margin_inside_the_model_spread_is_not_shown() -> None:
    """A plate in the flip zone is known to 15 % only."""
    # Smith & Van Winkle 1958 (flow.md section 4): allow 15 % at 0.6 < t/d < 1
    plate = {"thickness": 0.006, "hole_diameter": 0.008, "free_area_ratio": 0.04}
    drop = run({}, work_surface=plate)["plate_pressure_drop"]
    assert drop is not None
    check = only(run({"plate_pressure_drop": {"max": 1.05 * drop}}, work_surface=plate))
    assert check.state == "not shown"
    far = only(run({"plate_pressure_drop": {"max": 1.5 * drop}}, work_surface=plate))
    assert far.state == "met"


def test_strong_crossflow_leaves_the_front_not_shown() -> None:
    """Above q/E = 0.5 the sign is trusted, not the size."""
    # design rule: above q/E 0.5 trust the sign, not the size
    result = run({"front_velocity_min": {"min": 0.01}}, exhaust={"flow": 0.25})
    assert result["crossflow_ratio"] is not None
    assert result["crossflow_ratio"] > 0.5
    assert only(result).state == "not shown"
    assert result.quantities["front_velocity_min"].indicative


def test_inflow_is_said_loudly() -> None:
    """Any part of a front that draws in makes the field near it indicative."""
    result = run({}, exhaust={"flow": 0.30})
    assert any("jet" in text for text in result.warnings)
    assert result.quantities["downflow_min"].indicative


def test_verdict_words_are_the_three_of_the_house() -> None:
    """Nothing is ever called safe."""
    result = run({"front_velocity_mean": {"min": 0.1, "max": 0.2}, "draw_ratio": {"max": 1.01}})
    assert {check.state for check in result.checks} <= {"met", "not met", "not shown"}
    words = " ".join([*result.warnings, *result.assumptions]).lower()
    assert "safe" not in words
