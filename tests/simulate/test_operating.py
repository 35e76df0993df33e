"""A fan with a dip: all operating points, the stable ones named."""

from __future__ import annotations

import pytest
from benches import HOOD, bench

from flowsim.errors import ConvergenceError
from flowsim.network.laws import FanLaw
from flowsim.physics.air import air_state
from flowsim.physics.fan import FanCurve
from flowsim.simulate.operating import DippedFan
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

DENSITY = air_state(293.15, 101325.0, 0.5).density


def dipped_hood(**chamber: float) -> Result:
    """Run field.md F07: the fan of the table against 1500 Pa s/m3."""
    fan = {
        "flow": [0.0, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10],
        "pressure": [100.0, 60.0, 40.0, 80.0, 72.0, 45.0, 0.0],
        "interpolation": "straight",
        "rated_density": DENSITY,
    }
    media = {
        "width": 0.5,
        "depth": 0.5,
        "rated_flow": 0.1,
        "rated_drop": 150.0,
        "inertial_share": 0.0,
    }
    opening = [
        {
            "label": "front",
            "wall": "front",
            "offset": 0.05,
            "bottom": 0.0,
            "width": 1.2,
            "height": 0.7,
        }
    ]
    data = {**HOOD, "supply": {"fan": fan, "filter": media}, "openings": opening}
    return run_case(bench(data, chamber=chamber))


def test_run_takes_the_stable_point_of_the_largest_flow() -> None:
    """Three crossings; the middle one is no place to stay."""
    # common practice, no source (field.md F07)
    assert dipped_hood()["supply_flow"] == pytest.approx(0.05115, rel=0.01)


def test_the_other_stable_point_is_said_loudly() -> None:
    """Only one operating point with no warning would be a failure."""
    # common practice, no source (field.md F07): 0.02857 m3/s = 103 m3/h
    text = " ".join(dipped_hood().warnings)
    assert "can also settle at 103 m3/h" in text
    assert "123" not in text  # 0.03429 m3/s is unstable


def test_fan_without_a_stable_point_is_refused() -> None:
    """No figure is made up for it."""
    curve = FanCurve((0.0, 0.1), (100.0, 0.0), smooth=False)
    with pytest.raises(ConvergenceError, match="no stable operating point"):
        _ = DippedFan(FanLaw(curve), ()).taken
