"""No verdict on vapour or dust is called met where the flow it rests on cannot carry it."""

from __future__ import annotations

from typing import Any

import pytest
from benches import bench

from flowsim.simulate.run import run_case

DISH: dict[str, Any] = {
    "label": "dish",
    "substance": "acetone",
    "offset_x": 0.5,
    "offset_y": 0.3,
    "width": 0.2,
    "depth": 0.15,
}
ASKED: dict[str, Any] = {
    "releases": [DISH],
    "room": {"volume": 60.0, "fresh_air": 0.3},
    "limits": {"vapour_escape_share": {"max": 0.9}, "exposure_ratio": {"max": 1e6}},
}
LEAK = {"label": "drain", "at": "plenum", "area": 0.02}


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"exhaust": {"flow": 0.21, "running": False}, "leaks": [LEAK]}, "leaks into the room"),
        ({"exhaust": {"flow": 0.32}}, "draws in"),
        ({"numerics": {"cells": [2, 2, 2]}}, "too coarse"),
    ],
)
def test_nothing_is_met_on_a_doubtful_flow(parts: dict[str, Any], words: str) -> None:
    result = run_case(bench(**{**ASKED, **parts}))
    assert result.transport is not None
    assert {check.state for check in result.checks} <= {"not shown", "not met"}
    assert all(check.state != "met" for item in result.transport.releases for check in item.checks)
    assert any(words in text for text in result.warnings if "called met" in text)


def test_a_plain_bench_may_meet_its_limits() -> None:
    result = run_case(bench(**ASKED))
    assert "met" in {check.state for check in result.checks}
