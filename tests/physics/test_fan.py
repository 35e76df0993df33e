"""Fans with a system, and several fans."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from flowsim.errors import ConvergenceError, RangeError
from flowsim.physics.fan import (
    FanCurve,
    FansInParallel,
    FansInSeries,
    fan_from_two_points,
    operating_points,
    parallel,
    series,
)
from flowsim.physics.filter_media import FilterMedium

POINTS = [0.25 * k / 100.0 for k in range(101)]
PARABOLA = FanCurve(tuple(POINTS), tuple(400.0 - 6400.0 * q * q for q in POINTS))
DIP = FanCurve((0, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10), (100, 60, 40, 80, 72, 45, 0), False)


def _system(linear: float, quadratic: float) -> Callable[[float], float]:
    return lambda flow: linear * flow + quadratic * flow * abs(flow)


@pytest.mark.parametrize(
    ("speed", "linear", "quadratic", "flow", "pressure"),
    [
        (1.0, 0.0, 2000.0, 0.2182179, 95.238),
        (1.0, 0.0, 5000.0, 0.1873172, 175.439),
        (1.0, 600.0, 2000.0, 0.1854069, 179.996),
        (1.0, 1200.0, 2000.0, 0.1581822, 239.862),
        (0.8, 600.0, 2000.0, 0.1424758, 126.084),
    ],
)
def test_fan_meets_a_system(
    speed: float, linear: float, quadratic: float, flow: float, pressure: float
) -> None:
    points = operating_points(PARABOLA.at(speed), _system(linear, quadratic))
    # own derivation, two methods (flow.md section 6); 100 points of the parabola: 2e-5
    assert len(points) == 1
    assert points[0].flow == pytest.approx(flow, rel=2e-5)
    assert points[0].pressure == pytest.approx(pressure, rel=2e-5)
    assert points[0].stable


def test_dip_has_three_operating_points() -> None:
    points = operating_points(DIP, lambda flow: 1500.0 * flow)
    # common practice, no source (field.md F07); exact for straight lines
    assert [p.flow for p in points] == pytest.approx([0.02857, 0.03429, 0.05115], abs=5e-6)
    assert [p.pressure for p in points] == pytest.approx([42.9, 51.4, 76.7], abs=0.05)
    assert [p.stable for p in points] == [True, False, True]


def test_crossing_on_a_point_of_the_table_is_counted_once() -> None:
    points = operating_points(DIP, lambda flow: 40.0 / 0.03 * flow)
    assert sum(p.flow == pytest.approx(0.03, abs=1e-9) for p in points) == 1


def test_sealed_box_stands_at_the_shut_off_pressure() -> None:
    points = operating_points(fan_from_two_points(60.0, 0.282), lambda flow: 1e12 * flow)
    # common practice, no source (field.md F17): Q 0, +60 Pa
    assert points[0].flow == pytest.approx(0.0, abs=1e-9)
    assert points[0].pressure == pytest.approx(60.0, rel=1e-6)


def test_fan_against_a_stronger_one_runs_backwards() -> None:
    points = operating_points(PARABOLA, lambda flow: 500.0 + 2000.0 * flow)
    assert points[0].flow < 0.0
    assert points[0].pressure > 400.0


def test_free_fan_runs_beyond_its_table() -> None:
    points = operating_points(PARABOLA, lambda flow: 10.0 * flow - 50.0)
    assert points[0].flow > 0.25


def test_nonsense_system_is_reported() -> None:
    with pytest.raises(ConvergenceError, match="do not meet"):
        operating_points(PARABOLA, lambda flow: -1e9 - 1e9 * flow * flow)


@pytest.mark.parametrize(
    ("resistance", "single", "beside", "behind"),
    [(0.2, 0.8333, 1.4286, 0.9091), (1.0, 0.5, 0.6667, 0.6667), (3.0, 0.25, 0.2857, 0.4)],
)
def test_second_equal_fan(resistance: float, single: float, beside: float, behind: float) -> None:
    fan = fan_from_two_points(1.0, 1.0)
    drop = FilterMedium(resistance, 0.0).drop
    found = [
        operating_points(group, lambda q: drop(q)[0])[0].flow
        for group in (fan, parallel([fan, fan]), series([fan, fan]))
    ]
    # closed form C3 of straight-line fans (field.md F05)
    assert found == pytest.approx([single, beside, behind], abs=6e-5)


def test_quiet_fan_on_a_thick_filter() -> None:
    system = FilterMedium(7200.0, 0.0)
    for pressure, free, flow in ((39.2, 0.02778, 4.552e-3), (245.0, 0.01111, 8.376e-3)):
        fan = fan_from_two_points(pressure, free)
        # common practice, no source (field.md F04)
        point = operating_points(fan, lambda q: system.drop(q)[0])[0]
        assert point.flow == pytest.approx(flow, rel=0.01)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_equal_fans_make_a_curve_again(count: int) -> None:
    behind, beside = series([PARABOLA] * count), parallel([PARABOLA] * count)
    for flow in (-0.05, 0.1, 0.3):
        one = PARABOLA.pressure_at(flow)
        # continuity
        assert behind.pressure_at(flow)[0] == pytest.approx(count * one[0], rel=1e-12)
        assert beside.pressure_at(count * flow)[0] == pytest.approx(one[0], rel=1e-12)
        assert beside.pressure_at(count * flow)[1] == pytest.approx(one[1] / count, rel=1e-9)


WEAK, STRONG = fan_from_two_points(60.0, 0.2), fan_from_two_points(100.0, 0.1)


def test_unequal_fans_in_series_add_pressures() -> None:
    group = series([WEAK, STRONG])
    assert isinstance(group, FansInSeries)
    # continuity: 45 + 50 Pa at 0.05 m3/s
    assert group.pressure_at(0.05) == pytest.approx((95.0, -1300.0))
    assert group.flow == (0.0, 0.1, 0.2)
    assert not group.has_dip
    assert group.at(2.0).pressure_at(0.1)[0] == pytest.approx(4.0 * 95.0)
    assert "outside" in group.validity(0.15)[0]


def test_unequal_fans_in_parallel_add_flows() -> None:
    group = parallel([WEAK, STRONG])
    assert isinstance(group, FansInParallel)
    # continuity: at 30 Pa 0.1 and 0.07 m3/s; slopes 300 and 1000 Pa s/m3 side by side
    assert group.pressure_at(0.17) == pytest.approx((30.0, -1.0 / (1 / 300.0 + 1 / 1000.0)))
    assert group.shares(0.17) == pytest.approx((0.1, 0.07))
    assert group.at(2.0, 0.5).pressure_at(0.34)[0] == pytest.approx(60.0)
    assert group.flow[-1] == pytest.approx(0.3)


def test_stronger_fan_blows_through_the_weaker_one() -> None:
    group = parallel([WEAK, STRONG])
    weak, strong = group.shares(0.005)
    assert weak < 0.0 < strong
    assert weak + strong == pytest.approx(0.005)
    assert "driven backwards" in group.validity(0.005)[0]


def test_smooth_unequal_fans_in_parallel() -> None:
    group = parallel([PARABOLA, WEAK])
    for flow in (-0.1, 0.05, 0.2, 0.4, 0.6):
        # continuity
        assert sum(group.shares(flow)) == pytest.approx(flow, abs=1e-10)
    step = 1e-6
    ahead, behind = (group.pressure_at(0.3 + s)[0] for s in (step, -step))
    assert group.pressure_at(0.3)[1] == pytest.approx((ahead - behind) / (2 * step), rel=1e-5)


def test_all_fans_stopped() -> None:
    group = parallel([PARABOLA, WEAK]).at(0.0)
    assert group.pressure_at(0.0)[0] == pytest.approx(0.0, abs=1e-9)
    assert group.pressure_at(0.1)[0] < 0.0


def test_groups_that_make_no_sense_are_refused() -> None:
    with pytest.raises(RangeError, match="no fan"):
        series([])
    with pytest.raises(RangeError, match="dip"):
        parallel([WEAK, DIP])
