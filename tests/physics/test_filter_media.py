"""The law of a filter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.filter_media import (
    FilterMedium,
    filter_from_rating,
    filter_from_table,
    jet_on_filter_bound,
)

CHECK = settings(deadline=None, max_examples=80, derandomize=True)
SPEEDS = st.floats(-6.0, 1.0).map(lambda power: 10.0**power)
MEDIA = st.builds(FilterMedium, linear=st.floats(1.0, 1e4), quadratic=st.floats(0.0, 1e4))


def test_rated_point_is_met() -> None:
    # definition
    assert filter_from_rating(0.45, 110.0).drop(0.45)[0] == pytest.approx(110.0, rel=1e-14)


def test_loading_multiplies_the_drop_at_every_velocity() -> None:
    clean, loaded = (filter_from_rating(0.45, 110.0, 0.1, x) for x in (1.0, 2.0))
    for speed in (0.05, 0.45, 0.9):
        # definition
        assert loaded.drop(speed)[0] == pytest.approx(2.0 * clean.drop(speed)[0], rel=1e-14)


def test_inertial_share() -> None:
    medium = filter_from_rating(0.5, 100.0, inertial_share=0.2)
    # own arithmetic: 80 Pa linear and 20 Pa quadratic, at half the velocity 40 and 5 Pa
    assert medium.drop(0.25)[0] == pytest.approx(45.0, rel=1e-14)
    assert filter_from_rating(0.5, 100.0, 0.0).drop(0.25)[0] == pytest.approx(50.0, rel=1e-14)


def test_table_of_an_exact_law_is_recovered() -> None:
    speeds = [0.1, 0.2, 0.4, 0.5]
    medium = filter_from_table(speeds, [200.0 * v + 60.0 * v * v for v in speeds], 1.5)
    # own limit
    assert medium.linear == pytest.approx(300.0, rel=1e-12)
    assert medium.quadratic == pytest.approx(90.0, rel=1e-11)


def test_filter_diagram() -> None:
    area = 0.305 * 0.610
    flows = [q / 3600.0 for q in (100.0, 200.0, 300.0, 400.0)]
    medium = filter_from_table([q / area for q in flows], [60.0, 122.0, 186.0, 252.0])
    # common practice, no source (field.md F02): 209.0 Pa at 0.5 m/s within 1 %
    assert medium.drop(0.5)[0] == pytest.approx(209.0, rel=0.01)


@pytest.mark.parametrize(
    ("drops", "zero"),
    [([60.0, 119.0, 178.0], "quadratic"), ([10.0, 42.0, 92.0], "linear"), ([60.0], "quadratic")],
)
def test_no_coefficient_becomes_negative(drops: list[float], zero: str) -> None:
    medium = filter_from_table([0.1, 0.2, 0.3][: len(drops)], drops)
    assert getattr(medium, zero) == 0.0


def test_table_off_the_law_warns() -> None:
    with pytest.warns(ValidityWarning, match="off the linear and quadratic fit"):
        filter_from_table([0.1, 0.2, 0.3], [60.0, 160.0, 180.0])


@CHECK
@given(medium=MEDIA, speed=SPEEDS)
def test_slope_is_the_derivative(medium: FilterMedium, speed: float) -> None:
    step = 1e-5 * speed
    difference = (medium.drop(speed + step)[0] - medium.drop(speed - step)[0]) / (2.0 * step)
    # own derivation against a central difference
    assert medium.drop(speed)[1] == pytest.approx(difference, rel=1e-8)


@CHECK
@given(medium=MEDIA, speed=SPEEDS, growth=st.floats(1e-6, 2.0))
def test_law_is_odd_strict_and_inverted(medium: FilterMedium, speed: float, growth: float) -> None:
    drop, slope = medium.drop(speed)
    assert medium.drop(-speed) == (-drop, slope)
    assert medium.drop(speed * (1.0 + growth))[0] > drop
    assert medium.velocity(drop)[0] == pytest.approx(speed, rel=1e-12, abs=0.0)
    assert medium.velocity(-drop)[1] * slope == pytest.approx(1.0, rel=1e-12)


def test_arrays_give_the_same_as_numbers() -> None:
    medium = filter_from_rating(0.45, 110.0)
    speeds = np.linspace(-0.6, 0.6, 7)
    drop, _ = medium.drop(speeds)
    assert drop[5] == medium.drop(float(speeds[5]))[0]
    np.testing.assert_allclose(medium.velocity(drop)[0], speeds, rtol=1e-13)


@pytest.mark.parametrize(
    ("speed", "excess"), [(10.68, 0.34), (4.72, 0.067)], ids=["150 mm pipe", "200 mm square"]
)
def test_jet_from_an_inline_fan(speed: float, excess: float) -> None:
    # common practice, no source (field.md F06): bound +34 % and +6.7 %
    assert jet_on_filter_bound(speed, 1.2, 200.0) == pytest.approx(excess, abs=5e-3)


def test_far_beyond_its_rating_is_told() -> None:
    medium = filter_from_rating(0.45, 110.0)
    assert medium.validity(0.89) == ()
    assert "more than twice" in medium.validity(-0.91)[0]
    assert FilterMedium(200.0, 0.0).validity(9.0) == ()


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: FilterMedium(-1.0, 1.0), "linear"),
        (lambda: FilterMedium(1.0, -1.0), "quadratic"),
        (lambda: FilterMedium(0.0, 0.0), "without any resistance"),
        (lambda: filter_from_rating(0.0, 100.0), "velocity"),
        (lambda: filter_from_rating(0.45, 100.0, 1.1), "inertial_share"),
        (lambda: filter_from_rating(0.45, 100.0, 0.1, 0.0), "loading"),
        (lambda: filter_from_table([], []), "0 drops make no table"),
        (lambda: filter_from_table([0.1], [1.0, 2.0]), "make no table"),
        (lambda: filter_from_table([0.1, -1.0], [1.0, 2.0]), "velocity is -1.0"),
        (lambda: jet_on_filter_bound(1.0, 1.2, 0.0), "drop"),
    ],
)
def test_impossible_filters_are_refused(make, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        make()
