"""The law of a perforated plate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.errors import RangeError
from flowsim.physics.perforated_plate import PerforatedPlate, hole_loss, rennels_plate_loss

PLATE = PerforatedPlate(0.02, 0.006, 0.006, 1.204, 1.813e-5)
PLATES = st.builds(
    PerforatedPlate,
    free_area_ratio=st.floats(0.001, 1.0),
    thickness=st.sampled_from([0.0, 1e-5, 0.003, 0.006, 0.012, 0.1]),
    hole_diameter=st.floats(0.001, 0.05),
    density=st.just(1.2),
    viscosity=st.just(1.8e-5),
    discharge_coefficient=st.sampled_from([None, None, 0.62, 1.0]),
)
SPEEDS = st.floats(-8.0, 2.0).map(lambda power: 10.0**power)
CHECK = settings(deadline=None, max_examples=150, derandomize=True)


def test_worked_plate() -> None:
    # Idelchik 2006 (flow.md section 4, worked): 25.7 Pa without Reynolds effect, Re_h 1992
    turbulent = PLATE.drop(100.0)[0] / 1e6
    assert turbulent == pytest.approx(25.7, rel=3e-3)
    assert PLATE.reynolds(0.1) == pytest.approx(1992.0, rel=1e-3)


def test_drop_is_the_loss_on_the_hole_velocity() -> None:
    speed = 0.1 / 0.02
    expected = hole_loss(0.02, 1.0, PLATE.reynolds(0.1)) * 0.5 * 1.204 * speed**2
    # definition of the loss coefficient
    assert PLATE.drop(0.1)[0] == pytest.approx(expected, rel=1e-13)


def test_thin_plates_use_the_thin_form() -> None:
    thin, thick = (replace(PLATE, thickness=share * 0.006) for share in (0.0149, 0.0151))
    # Idelchik 1994 and 2006 differ by 2 % at f -> 0 where they meet (flow.md section 4)
    assert thin.drop(5.0)[0] / thick.drop(5.0)[0] == pytest.approx(2.914 / 2.850, rel=0.01)


@CHECK
@given(plate=PLATES, speed=SPEEDS)
def test_slope_is_the_derivative(plate: PerforatedPlate, speed: float) -> None:
    step = 1e-5 * speed
    difference = (plate.drop(speed + step)[0] - plate.drop(speed - step)[0]) / (2.0 * step)
    # own derivation against a central difference
    assert plate.drop(speed)[1] == pytest.approx(difference, rel=1e-6)


@CHECK
@given(plate=PLATES, speed=SPEEDS, growth=st.floats(1e-6, 2.0))
def test_drop_is_odd_and_rises_strictly(
    plate: PerforatedPlate, speed: float, growth: float
) -> None:
    assert plate.drop(-speed) == (-plate.drop(speed)[0], plate.drop(speed)[1])
    assert plate.drop(speed * (1.0 + growth))[0] > plate.drop(speed)[0]


@CHECK
@given(plate=PLATES, speed=SPEEDS)
def test_velocity_is_the_inverse(plate: PerforatedPlate, speed: float) -> None:
    drop, slope = plate.drop(speed)
    assert plate.velocity(drop)[0] == pytest.approx(speed, rel=1e-12, abs=0.0)
    assert plate.velocity(-drop)[0] == pytest.approx(-speed, rel=1e-12, abs=0.0)
    assert plate.velocity(drop)[1] * slope == pytest.approx(1.0, rel=1e-10)


@pytest.mark.parametrize("coefficient", [None, 0.62])
def test_arrays_give_the_same_as_numbers(coefficient: float | None) -> None:
    plate = replace(PLATE, discharge_coefficient=coefficient)
    speeds = np.linspace(-0.3, 0.3, 12).reshape(3, 4)
    drop, slope = plate.drop(speeds)
    speed, _ = plate.velocity(drop)
    assert drop.shape == slope.shape == speed.shape == (3, 4)
    assert drop[2, 1] == plate.drop(float(speeds[2, 1]))[0]
    np.testing.assert_allclose(speed, speeds, rtol=1e-12)


def test_still_air_has_no_drop_but_a_slope() -> None:
    for plate in (PLATE, replace(PLATE, discharge_coefficient=0.62)):
        assert plate.drop(0.0)[0] == 0.0
        assert plate.velocity(0.0)[0] == 0.0
        assert plate.drop(0.0)[1] > 0.0
        assert np.isfinite(plate.velocity(np.zeros(2))[1]).all()


def test_stated_discharge_coefficient() -> None:
    plate = replace(PLATE, discharge_coefficient=0.62)
    # definition: rho/2 (v/(f Cd))^2, within 1/(2 Re^2) = 1.3e-7 at Re 1992
    assert plate.drop(0.1)[0] == pytest.approx(0.602 * (0.1 / (0.02 * 0.62)) ** 2, rel=2e-7)


@pytest.mark.parametrize(("thickness", "flips"), [(0.6, False), (0.75, True), (1.0, False)])
def test_flip_zone_is_told_with_its_spread(thickness: float, flips: bool) -> None:
    plate = replace(PLATE, thickness=thickness * 0.008, hole_diameter=0.008)
    # Smith & Van Winkle 1958 (flow.md section 4): at least 15 % between t/d 0.6 and 1
    assert ("reattach" in " ".join(plate.validity(1.0))) is flips
    if flips:
        assert plate.loss_spread(1.0) >= 0.15
    else:
        assert plate.loss_spread(1.0) < 0.06


@pytest.mark.parametrize(("hole", "spread"), [(0.003, 0.006), (0.004, 0.05), (0.005, 0.07)])
def test_spread_is_the_distance_of_two_correlations(hole: float, spread: float) -> None:
    plate = replace(PLATE, hole_diameter=hole)
    # Idelchik against Rennels (flow.md section 4, table of 6 mm plates), strength B
    assert plate.loss_spread(5.0) == pytest.approx(spread, abs=7e-3)
    other = rennels_plate_loss(0.02, 0.006 / hole)
    turbulent = hole_loss(0.02, 0.006 / hole, 1e12) / 0.02**2
    assert plate.loss_spread(1e3) == pytest.approx(abs(other / turbulent - 1.0), rel=1e-6)


def test_spread_grows_where_the_blend_rules() -> None:
    plate = replace(PLATE, hole_diameter=0.003)
    # own estimate: half of the blend's own part
    assert plate.loss_spread(0.02) > 0.05 > plate.loss_spread(1.0)


def test_low_reynolds_number_is_told() -> None:
    assert "below 1000" in " ".join(PLATE.validity(0.01))
    assert PLATE.validity(0.1) == ()
    thin = replace(PLATE, thickness=0.0)
    assert "below 100000" in " ".join(thin.validity(0.1))


def test_stated_coefficient_raises_no_doubt() -> None:
    plate = replace(PLATE, thickness=0.0045, discharge_coefficient=0.62)
    assert plate.validity(0.001) == ()
    assert plate.loss_spread(0.001) == 0.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("free_area_ratio", 0.0),
        ("free_area_ratio", 1.01),
        ("thickness", -1.0),
        ("hole_diameter", 0.0),
        ("density", 0.0),
        ("viscosity", float("nan")),
        ("discharge_coefficient", 0.0),
    ],
)
def test_impossible_plates_are_refused(name: str, value: float) -> None:
    with pytest.raises(RangeError, match=name):
        replace(PLATE, **{name: value})
