"""Closed forms of perforated headers."""

from __future__ import annotations

import math

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.manifold import (
    choking_number,
    combined_hole_ratio,
    draw_profile,
    draw_ratio,
    hole_ratio_for_spread,
    open_end_drive,
    perry_header_change,
    perry_maldistribution,
)

FRICTIONLESS = [row for row in rows("flow_manifold.csv") if float(row["F"]) == 0.0]


@pytest.mark.parametrize("row", FRICTIONLESS)
def test_headers_without_friction(row: dict[str, str]) -> None:
    kind, theta, a = row["kind"], float(row["theta"]), float(row["a"])
    # own derivation, two methods (flow_manifold.csv), strength A
    for value, name in (
        (draw_ratio(a, theta, kind), "u_open_over_u_closed"),
        (draw_profile(0.0, a, theta, kind), "u_closed_over_mean"),
        (draw_profile(1.0, a, theta, kind), "u_open_over_mean"),
        (open_end_drive(a, theta, kind), "dp_hole_at_open_end_over_half_rho_W2"),
    ):
        assert value == pytest.approx(float(row[name]), rel=1e-8)


@pytest.mark.parametrize("kind", ["combining", "dividing"])
def test_profile_has_the_mean_one(kind: str) -> None:
    n = 2000
    total = sum(draw_profile((k + 0.5) / n, 0.9, 0.5, kind) for k in range(n)) / n
    # definition of the mean; midpoint rule
    assert total == pytest.approx(1.0, rel=1e-6)


def test_profile_of_the_table() -> None:
    values = [draw_profile(x, 1.0) for x in (0.0, 0.25, 0.5, 0.75, 1.0)]
    # own derivation (flow.md section 5), strength A
    assert values == pytest.approx([0.730834, 0.776989, 0.921284, 1.181944, 1.591892], abs=6e-7)


@pytest.mark.parametrize(("spread", "ratio"), [(0.05, 0.2284), (0.1, 0.3303), (0.2, 0.4901)])
def test_largest_hole_area_for_a_spread(spread: float, ratio: float) -> None:
    # own derivation (flow.md section 5, rules of thumb), strength A
    assert hole_ratio_for_spread(spread) == pytest.approx(ratio, abs=6e-5)


@pytest.mark.parametrize("kind", ["combining", "dividing"])
def test_spread_is_the_inverse_of_the_draw_ratio(kind: str) -> None:
    ratio = draw_ratio(hole_ratio_for_spread(0.13, 0.7, kind), 0.7, kind)
    assert min(ratio, 1.0 / ratio) == pytest.approx(0.87, rel=1e-12)


def test_two_metre_tube() -> None:
    a = 0.62 * 0.744
    # closed form C1 (field.md F22): near/far 1.220, max/mean 1.138, k 0.5: 1.108
    assert draw_ratio(a) == pytest.approx(1.220, abs=1e-3)
    assert draw_profile(1.0, a) == pytest.approx(1.138, abs=1e-3)
    assert draw_ratio(a, 0.5) == pytest.approx(1.108, abs=1e-3)
    # same: suction at the port 101.1 Pa at 5.26 m/s
    drive = open_end_drive(a) * 0.5 * 1.2 * 5.26**2
    assert drive == pytest.approx(101.1, rel=5e-3)
    # same: near/far 1.10 needs AR <= 0.506
    assert hole_ratio_for_spread(1.0 - 1.0 / 1.10) / 0.62 == pytest.approx(0.506, rel=0.02)


@pytest.mark.parametrize(
    ("ratio", "full", "half"), [(1.0, 0.640, 0.814), (0.5, 0.905, 0.952), (0.3, 0.966, 0.983)]
)
def test_hole_area_equal_to_pipe_area(ratio: float, full: float, half: float) -> None:
    # closed form C2 (field.md F23)
    assert draw_ratio(0.62 * ratio, 1.0, "dividing") == pytest.approx(full, abs=1e-3)
    assert draw_ratio(0.62 * ratio, 0.5, "dividing") == pytest.approx(half, abs=1e-3)


@pytest.mark.parametrize(
    ("open_share", "depth", "ratio"),
    [
        (0.04909, 0.0889, 1.100),
        (0.04909, 0.1524, 1.034),
        (0.227, 0.0889, 3.94),
        (0.4, 0.0889, 18.4),
    ],
)
def test_table_drawn_from_one_end(open_share: float, depth: float, ratio: float) -> None:
    # closed form C1 (field.md F25)
    found = draw_ratio(0.62 * open_share * 0.9144 / depth)
    assert found == pytest.approx(ratio, rel=5e-3)


@pytest.mark.parametrize(
    ("depth", "full", "half"),
    [(0.457, 0.407, 0.687), (0.610, 0.651, 0.820), (0.762, 0.771, 0.883), (0.914, 0.839, 0.918)],
)
def test_supply_plenum(depth: float, full: float, half: float) -> None:
    a = 0.62 * 0.1 * 6.0 / depth
    # closed form C2 (field.md F28)
    assert draw_ratio(a, 1.0, "dividing") == pytest.approx(full, abs=2e-3)
    assert draw_ratio(a, 0.5, "dividing") == pytest.approx(half, abs=2e-3)


def test_reversal_is_told_not_clipped() -> None:
    a = 0.62 * 0.1 * 6.0 / 0.305
    # closed form C2 (field.md F28): reversal at k 1, 0.344 at k 0.5
    with pytest.raises(RangeError, match="reverses near the inlet"):
        draw_ratio(a, 1.0, "dividing")
    assert draw_ratio(a, 0.5, "dividing") == pytest.approx(0.344, abs=2e-3)


@pytest.mark.parametrize(("number", "ratio"), [(1.0, 1.543), (4.0, 3.762)])
def test_choking_number(number: float, ratio: float) -> None:
    a = math.sqrt(number / 2.0)
    # own derivation: draw ratio cosh(sqrt M), 1.5 at M = 1, 3.8 at 4
    assert choking_number(a) == pytest.approx(number)
    assert draw_ratio(a) == pytest.approx(ratio, abs=1e-3)


def test_two_walls_one_behind_the_other() -> None:
    # own derivation: both cosh(sqrt2 a_e), 1.2447 for 0.5 and 2
    assert draw_ratio(combined_hole_ratio(0.5, 2.0)) == pytest.approx(1.2447, abs=5e-5)


@pytest.mark.parametrize(("ratio", "share"), [(10.0, 0.051317), (5.0, 0.105573)])
def test_rule_of_thumb_arithmetic(ratio: float, share: float) -> None:
    # Perry's rule from memory, its arithmetic exact (flow.md section 5)
    assert perry_maldistribution(ratio, -1.0) == pytest.approx(share, abs=6e-7)


@pytest.mark.parametrize(("a", "rule", "exact"), [(0.2, 0.0408, 0.0387), (0.5, 0.293, 0.207)])
def test_rule_of_thumb_is_on_the_safe_side(a: float, rule: float, exact: float) -> None:
    found = perry_maldistribution(1.0 / a**2, perry_header_change(0.0))
    # own derivation (flow.md section 5, rules of thumb)
    assert found == pytest.approx(rule, abs=6e-4)
    assert 1.0 - 1.0 / draw_ratio(a) == pytest.approx(exact, abs=6e-4)
    assert found > 1.0 - 1.0 / draw_ratio(a)


def test_friction_evens_a_dividing_header() -> None:
    # Perry's rule from memory, sign only
    assert abs(perry_header_change(2.0, "dividing")) < abs(perry_header_change(0.0, "dividing"))


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: draw_ratio(0.0), "hole_ratio"),
        (lambda: draw_ratio(1.0, 0.0), "momentum"),
        (lambda: draw_ratio(1.0, 1.0, "mixing"), "kind"),
        (lambda: draw_profile(1.1, 1.0), "position"),
        (lambda: hole_ratio_for_spread(1.0), "evenness"),
        (lambda: combined_hole_ratio(0.0, 1.0), "first"),
        (lambda: choking_number(-1.0), "hole_ratio is -1.0"),
        (lambda: perry_header_change(-1.0), "friction"),
        (lambda: perry_maldistribution(1.0, 2.0), "header_change"),
    ],
)
def test_impossible_headers_are_refused(make, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        make()
