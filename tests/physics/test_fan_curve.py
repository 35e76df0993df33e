"""The curve of one fan."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from flowsim.errors import RangeError
from flowsim.physics.fan import FanCurve, fan_from_two_points

CHECK = settings(deadline=None, max_examples=80, derandomize=True)
TABLE = FanCurve((0.0, 0.1, 0.2, 0.3, 0.35), (600.0, 560.0, 430.0, 180.0, 0.0))
DIP = FanCurve((0, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10), (100, 60, 40, 80, 72, 45, 0))


@st.composite
def _curves(draw: st.DrawFn) -> FanCurve:
    count = draw(st.integers(1, 6))
    steps = draw(st.lists(st.floats(0.01, 1.0), min_size=count, max_size=count))
    falls = draw(st.lists(st.floats(1.0, 500.0), min_size=count, max_size=count))
    flow = np.concatenate(([0.0], np.cumsum(steps)))
    pressure = draw(st.floats(0.0, 100.0)) + np.concatenate((np.cumsum(falls[::-1])[::-1], [0.0]))
    return FanCurve(tuple(flow), tuple(pressure), draw(st.booleans()))


@pytest.mark.parametrize("curve", [TABLE, DIP], ids=["falling", "dip"])
def test_smooth_curve_equals_the_open_library(curve: FanCurve) -> None:
    judge = PchipInterpolator(curve.flow, curve.pressure)
    for flow in np.linspace(0.0, curve.flow[-1], 41)[:-1]:
        pressure, slope = curve.pressure_at(float(flow))
        # Fritsch & Butland 1984 by scipy, strength A
        assert pressure == pytest.approx(float(judge(flow)), abs=1e-10)
        assert slope == pytest.approx(float(judge(flow, 1)), abs=1e-7)


def test_straight_lines_meet_the_table() -> None:
    curve = FanCurve(TABLE.flow, TABLE.pressure, smooth=False)
    # definition
    assert curve.pressure_at(0.25) == pytest.approx((305.0, -2500.0))
    assert curve.pressure_at(0.1)[0] == pytest.approx(560.0)


@CHECK
@given(curve=_curves(), low=st.floats(-2.0, 8.0), step=st.floats(1e-6, 1.0))
def test_curve_without_a_dip_falls_everywhere(curve: FanCurve, low: float, step: float) -> None:
    high = low + step
    if abs(curve.pressure_at(low)[0]) < 1e6:
        assert curve.pressure_at(high)[0] < curve.pressure_at(low)[0]
    assert curve.pressure_at(low)[1] <= 0.0


@CHECK
@given(curve=_curves(), flow=st.floats(-2.0, 8.0))
def test_slope_is_the_derivative(curve: FanCurve, flow: float) -> None:
    if min(abs(flow - knot) for knot in curve.flow) < 1e-4:
        return
    step = 1e-6
    ahead, behind = (curve.pressure_at(flow + s)[0] for s in (step, -step))
    # own derivation against a central difference
    slope = curve.pressure_at(flow)[1]
    assert slope == pytest.approx((ahead - behind) / (2.0 * step), rel=1e-4, abs=1e-2)


@CHECK
@given(curve=_curves(), flow=st.floats(-2.0, 8.0))
def test_flow_at_is_the_inverse(curve: FanCurve, flow: float) -> None:
    pressure = curve.pressure_at(flow)[0]
    found, _ = curve.flow_at(pressure)
    assert curve.pressure_at(found)[0] == pytest.approx(pressure, rel=1e-9, abs=1e-9)


def test_curve_continues_beyond_its_ends() -> None:
    resistance = 600.0 / 0.35**2
    last = TABLE.pressure_at(0.35)
    # own rule: p_n + s_n (Q - Q_n) - (p0/q0^2) (Q - Q_n)^2
    assert TABLE.pressure_at(0.45)[0] == pytest.approx(0.1 * last[1] - resistance * 0.01)
    assert TABLE.pressure_at(-0.1)[0] > 600.0


def test_affinity_laws() -> None:
    curve = TABLE.at(1.1, 1.0)
    # +10 % speed: +10 % flow, +21 % pressure (flow.md section 6), read
    assert curve.flow[-1] == pytest.approx(1.1 * 0.35)
    assert curve.pressure[0] == pytest.approx(1.21 * 600.0)
    for flow in (-0.05, 0.17, 0.5):
        assert curve.pressure_at(1.1 * flow)[0] == pytest.approx(
            1.21 * TABLE.pressure_at(flow)[0], rel=1e-12
        )


def test_warm_air_lowers_the_pressure() -> None:
    fan = FanCurve((0.0, 2.4, 4.0), (500.0, 340.0, 0.0))
    warm = fan.at(1.0, 293.15 / 313.15)
    # Stoecker & Jones 1982, chapter 6 exercise (flow.md section 6): 318.3 Pa at 40 C
    assert warm.pressure_at(2.4)[0] == pytest.approx(318.3, abs=0.05)
    # same: power 1.685 kW from 1.8 kW, proportional to the pressure at equal flow
    assert 1.8 * warm.pressure_at(2.4)[0] / 340.0 == pytest.approx(1.685, abs=5e-4)


def test_stopped_fan_is_a_resistance() -> None:
    stopped = TABLE.at(0.0, 1.0)
    # own rule: p = -p0 (Q/q0)^2
    assert stopped.pressure_at(0.35)[0] == pytest.approx(-600.0)
    assert stopped.pressure_at(-0.35)[0] == pytest.approx(600.0)
    assert stopped.flow_at(-600.0)[0] == pytest.approx(0.35)
    assert "stands still" in stopped.validity(0.1)[0]
    assert not stopped.has_dip


def test_slow_fan_tends_to_the_stopped_one() -> None:
    slow, stopped = TABLE.at(1e-6, 1.0), TABLE.at(0.0, 1.0)
    # own limit
    assert slow.pressure_at(0.1)[0] == pytest.approx(stopped.pressure_at(0.1)[0], rel=1e-3)


def test_dip_is_seen() -> None:
    assert DIP.has_dip
    assert not TABLE.has_dip
    assert "dip" in DIP.validity(0.05)[0]
    with pytest.raises(RangeError, match="several flows"):
        DIP.flow_at(50.0)


@pytest.mark.parametrize(
    ("flow", "match"), [(-0.01, "driven backwards"), (0.36, "outside its curve")]
)
def test_leaving_the_table_is_told(flow: float, match: str) -> None:
    assert match in TABLE.validity(flow)[0]
    assert TABLE.validity(0.2) == ()


def test_two_numbers_make_a_straight_fan() -> None:
    fan = fan_from_two_points(60.0, 0.0519)
    # field.md, law of the straight-line fan
    assert fan.pressure_at(0.02447)[0] == pytest.approx(31.7, rel=2e-3)


@pytest.mark.parametrize(
    ("flow", "pressure", "match"),
    [
        ((0.0,), (100.0,), "two or more points"),
        ((0.0, 0.1), (100.0,), "two or more points"),
        ((0.0, 0.0), (100.0, 0.0), "must rise"),
        ((0.1, 0.0), (100.0, 0.0), "must rise"),
        ((-0.1, 0.1), (100.0, 0.0), "must rise"),
        ((0.0, float("nan")), (100.0, 0.0), "finite"),
        ((0.0, 0.1), (0.0, -10.0), "begin above 0"),
        ((0.0, 0.1), (100.0, 110.0), "end falling"),
    ],
)
def test_impossible_curves_are_refused(
    flow: tuple[float, ...], pressure: tuple[float, ...], match: str
) -> None:
    with pytest.raises(RangeError, match=match):
        FanCurve(flow, pressure)


@pytest.mark.parametrize(("speed", "density"), [(-0.1, 1.0), (1.0, 0.0)])
def test_impossible_states_are_refused(speed: float, density: float) -> None:
    with pytest.raises(RangeError, match="ratio"):
        TABLE.at(speed, density)
