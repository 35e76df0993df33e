"""The distributor tube inside a case."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benches import bench

from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

TUBE: dict[str, Any] = {
    "diameter": 0.14,
    "length": 1.21,
    "hole_diameter": 0.014,
    "hole_count": 120,
    "discharge_coefficient": 0.62,
}
PLENUM = {
    "height": 0.15,
    "ports": [{"label": "end", "wall": "right", "width": 0.14, "height": 0.14}],
}


def with_tube(**change: Any) -> Result:
    """Run the bench with a tube in its plenum."""
    return run_case(bench(plenum=PLENUM, distributor={**TUBE, **change}))


def test_tube_carries_what_the_exhaust_draws() -> None:
    """Nothing else leaves the plenum."""
    result = with_tube()
    tube = result.tube
    assert tube is not None
    edges = np.concatenate([[1.3 - 1.21], 0.5 * (tube.x[1:] + tube.x[:-1]), [1.3]])
    assert float((tube.inflow * np.diff(edges)).sum()) == pytest.approx(0.21, rel=0.01)


def test_draw_of_the_tube_rises_smoothly_towards_its_port() -> None:
    """The closed end draws least; a partly covered cell there makes no step."""
    tube = with_tube().tube
    assert tube is not None
    assert np.all(np.diff(tube.inflow) > -1e-6 * tube.inflow.mean())
    assert np.all(np.diff(tube.pressure) < 0.0)


def test_fewer_holes_draw_more_evenly_and_cost_more_suction() -> None:
    """The trade of every distributor."""
    # common practice, no source (field.md F22)
    many, few = with_tube(), with_tube(hole_count=70)
    assert few["tube_draw_ratio"] < many["tube_draw_ratio"]
    assert few.nodes["exhaust inlet"] < many.nodes["exhaust inlet"] - 50.0


def test_tube_evens_the_plate() -> None:
    """Compared with the bare port in the same plenum."""
    bare = run_case(bench(plenum=PLENUM))
    assert with_tube()["draw_ratio"] - 1.0 < 0.2 * (bare["draw_ratio"] - 1.0)
