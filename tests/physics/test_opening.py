"""Sharp openings and openings under crossflow."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.opening import (
    KIRCHHOFF_COEFFICIENT,
    ROUND_HOLE_COEFFICIENT,
    Orifice,
    crossflow_coefficient,
    dynamic_pressure,
    orifice_area,
    orifice_drop,
    orifice_flow,
)

CHECK = settings(deadline=None, max_examples=80, derandomize=True)
FLOWS = st.floats(-9.0, 1.0).map(lambda power: 10.0**power)
HOLE = Orifice(1e-3, 0.611, 1.204, 1.813e-5)


def test_slit_of_kirchhoff() -> None:
    # Kirchhoff free streamline, pi/(pi+2) (flow.md section 3), strength A
    assert pytest.approx(0.6110155, abs=5e-8) == KIRCHHOFF_COEFFICIENT
    assert pytest.approx(2.678524, abs=5e-7) == KIRCHHOFF_COEFFICIENT**-2


def test_trade_formula_of_a_panel() -> None:
    # common practice, no source (field.md F27): 24.69 Pa with Cd 2610/4005, accept 0.3 Pa
    assert orifice_drop(0.4719, 0.1129, 2610 / 4005, 1.2) == pytest.approx(24.69, abs=0.05)
    # common practice, no source (field.md F27): dynamic pressure 10.48 Pa
    assert dynamic_pressure(0.4719 / 0.1129, 1.2) == pytest.approx(10.48, abs=0.01)


def test_gauge_tap_facing_the_stream_reads_more() -> None:
    # common practice, no source (field.md F32): 50 Pa read as 65 Pa at 5 m/s
    assert 50.0 + dynamic_pressure(5.0, 1.2) == pytest.approx(65.0)


def test_glove_box_inlet() -> None:
    area = math.pi * 0.025**2
    # common practice, no source (field.md F18): -932 Pa; 82.7 mm for -124.5 Pa
    assert orifice_drop(0.0472, area, 0.61, 1.2) == pytest.approx(932.0, rel=0.01)
    wider = orifice_area(0.0472, 124.5, 0.61, 1.2)
    assert math.sqrt(4.0 * wider / math.pi) == pytest.approx(0.0827, rel=0.01)


def test_flow_follows_the_sign_of_the_drop() -> None:
    flow = orifice_flow(-7.0, 0.01, 0.6, 1.2)
    assert flow < 0.0
    assert orifice_drop(flow, 0.01, 0.6, 1.2) == pytest.approx(-7.0, rel=1e-14)


@pytest.mark.parametrize(
    ("ratio", "value"), [(0.0, 0.6110), (0.25, 0.4758), (0.5, 0.3318), (0.75, 0.1760), (1.0, 0.0)]
)
def test_crossflow_narrows_the_jet(ratio: float, value: float) -> None:
    # own free-streamline solution, a slot in a wall, strength A
    assert float(crossflow_coefficient(ratio)[0]) == pytest.approx(value, abs=5e-5)


def test_without_crossflow_the_slit_of_kirchhoff_remains() -> None:
    # Kirchhoff free streamline (flow.md section 3), strength A
    assert float(crossflow_coefficient(0.0)[0]) == pytest.approx(KIRCHHOFF_COEFFICIENT, rel=1e-15)


def test_static_law_lies_above() -> None:
    share = [
        0.6110155 * math.sqrt(1.0 - x) / float(crossflow_coefficient(x)[0]) - 1.0
        for x in (0.0, 0.25, 0.5, 0.75)
    ]
    # own derivation: 0, 11, 30, 74 % above
    assert share == pytest.approx([0.0, 0.11, 0.30, 0.74], abs=6e-3)


def test_outflow_under_a_downflow() -> None:
    total, along = 0.16, dynamic_pressure(0.36, 1.204)
    speed = float(crossflow_coefficient(along / total)[0]) * math.sqrt(2.0 * total / 1.204)
    # own derivation: 0.17 m/s out under 0.36 m/s down at a total of 0.16 Pa, two digits
    assert along / total == pytest.approx(0.49, abs=5e-3)
    assert speed == pytest.approx(0.17, abs=5e-3)


def test_crossflow_slope_is_the_derivative() -> None:
    x = np.concatenate((np.linspace(1e-4, 0.9999, 60), [1e-3, 0.999]))
    step = 1e-6
    ahead, behind = (crossflow_coefficient(x + s)[0] for s in (step, -step))
    # own derivation against a central difference
    np.testing.assert_allclose(
        crossflow_coefficient(x)[1], (ahead - behind) / (2 * step), rtol=1e-7
    )


def test_crossflow_ends_are_smooth() -> None:
    value, slope = crossflow_coefficient(np.array([0.0, 1e-12, 1.0 - 1e-12, 1.0]))
    # own limits: C falls from 0.611 to 0, with slope -pi/4 at the end
    assert np.all(np.diff(value) < 0.0)
    assert slope[3] == pytest.approx(-math.pi / 4.0)
    assert slope[0] == pytest.approx(slope[1], rel=1e-6)


@pytest.mark.parametrize("ratio", [-1e-9, 1.0 + 1e-9, float("nan")])
def test_impossible_crossflow_is_refused(ratio: float) -> None:
    with pytest.raises(RangeError, match="crossflow ratio"):
        crossflow_coefficient(ratio)


@CHECK
@given(flow=FLOWS, growth=st.floats(1e-6, 2.0))
def test_law_is_odd_strict_and_inverted(flow: float, growth: float) -> None:
    drop, slope = HOLE.drop(flow)
    assert HOLE.drop(-flow) == (-drop, slope)
    assert HOLE.drop(flow * (1.0 + growth))[0] > drop
    assert HOLE.flow(drop)[0] == pytest.approx(flow, rel=1e-12, abs=0.0)
    assert HOLE.flow(-drop)[1] * slope == pytest.approx(1.0, rel=1e-10)


@CHECK
@given(flow=FLOWS)
def test_slope_is_the_derivative(flow: float) -> None:
    step = 1e-5 * flow
    difference = (HOLE.drop(flow + step)[0] - HOLE.drop(flow - step)[0]) / (2.0 * step)
    # own derivation against a central difference
    assert HOLE.drop(flow)[1] == pytest.approx(difference, rel=1e-8)


def test_smoothing_fades_with_the_reynolds_number() -> None:
    flow = orifice_flow(1.0, 1e-3, 0.611, 1.204)
    # own smoothing: higher by 450/Re^2, Re some 1860 on the opening's mean velocity
    assert 1.0 < HOLE.drop(flow)[0] < 1.0 + 2e-4
    assert HOLE.drop(0.0)[1] > 0.0
    assert HOLE.flow(0.0) == (0.0, pytest.approx(1.0 / HOLE.drop(0.0)[1]))


def test_slow_flow_is_told() -> None:
    assert "below 300" in HOLE.validity(1e-5)[0]
    assert HOLE.validity(1e-3) == ()
    assert HOLE.validity(0.0) == ()


def test_narrow_slot_uses_its_own_diameter() -> None:
    slot = replace(HOLE, hydraulic_diameter=0.002)
    assert slot.drop(1e-4)[0] > HOLE.drop(1e-4)[0]


SHAPES = rows("experiments_orifice_shapes.csv")


@pytest.mark.parametrize("row", [row for row in SHAPES if float(row["Re_ideal"]) > 5e4])
def test_measured_holes_of_equal_area(row: dict[str, str]) -> None:
    # Montreal table in Unwin 1911 (experiments_orifice_shapes.csv), E05: round within 2 %
    assert float(row["circular"]) == pytest.approx(ROUND_HOLE_COEFFICIENT, rel=0.02)
    # same: a slit-like hole passes some 4 % more than a round one
    slit = float(row["rect_16to1_long_vertical"])
    assert slit / float(row["circular"]) == pytest.approx(1.04, abs=0.02)


@pytest.mark.parametrize(("head_ft", "diameter_in"), [(1.0, 1.0), (2.0, 3.0)])
def test_measured_round_holes_of_one_to_three_inches(head_ft: float, diameter_in: float) -> None:
    measured = 0.6075 + 0.0098 / math.sqrt(head_ft) - 0.0037 * diameter_in
    # Mair in Unwin 1911 (experiments.md E07): within 3 %
    assert measured == pytest.approx(ROUND_HOLE_COEFFICIENT, rel=0.03)


def test_measured_holes_of_a_teaching_rig() -> None:
    # Musa & Bobai 2018 (experiments.md E09): round within 5 %, rectangle within 9 %
    assert pytest.approx(ROUND_HOLE_COEFFICIENT, rel=0.05) == 0.62
    assert pytest.approx(KIRCHHOFF_COEFFICIENT, rel=0.09) == 0.66


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: orifice_flow(1.0, 0.0, 0.6, 1.2), "area"),
        (lambda: orifice_drop(1.0, 1.0, 0.0, 1.2), "discharge_coefficient"),
        (lambda: orifice_area(1.0, 0.0, 0.6, 1.2), "drop"),
        (lambda: dynamic_pressure(1.0, -1.2), "density"),
        (lambda: replace(HOLE, area=-1.0), "area is -1.0"),
        (lambda: replace(HOLE, hydraulic_diameter=0.0), "hydraulic_diameter"),
    ],
)
def test_impossible_openings_are_refused(make, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        make()
