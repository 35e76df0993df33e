"""Closed forms and rules of thumb for holes of plates and tubes."""

from __future__ import annotations

import math

import pytest

from flowsim.errors import RangeError
from flowsim.physics.air import air_state
from flowsim.physics.manifold import draw_ratio
from flowsim.plan.hole_rules import (
    PlateLawAtFlow,
    cosh_free_area,
    equal_area_diameter,
    least_tube_price,
    most_tube_holes,
    perry_free_area,
    perry_ratio,
    spread_of,
)

AIR = air_state(293.15)


def law(face_velocity: float = 0.3, discharge: float | None = 0.62) -> PlateLawAtFlow:
    return PlateLawAtFlow(6.35e-3, 2e-3, face_velocity, AIR, discharge)


@pytest.mark.parametrize(("spread", "hole_ratio"), [(0.05, 0.2284), (0.10, 0.3303), (0.20, 0.4901)])
def test_cosh_law_inverted(spread: float, hole_ratio: float) -> None:
    length, height = 1.0, 0.1
    free = cosh_free_area(1.0 / (1.0 - spread), law(), length, height)
    # own derivation (flow.md section 5, rules of thumb), strength A
    assert 0.62 * free * length / height == pytest.approx(hole_ratio, abs=1e-4)


@pytest.mark.parametrize(("depth", "ratio"), [(88.9e-3, 1.100), (152.4e-3, 1.034)])
def test_table_drawn_from_one_end(depth: float, ratio: float) -> None:
    free = cosh_free_area(ratio, law(0.1652 / (0.6096 * 0.9144)), 0.9144, depth)
    # closed form C1, holes 1/4 in on 1 in centres: 4.909 % (field.md F25)
    assert free == pytest.approx(0.04909, rel=0.01)


def test_plate_law_gives_the_drop_of_the_sheet() -> None:
    sheet = PlateLawAtFlow(3e-3, 0.02e-3, 0.5, AIR)
    # thin sharp plate (Idelchik 4-14), 5-8 Pa, 10 %: 37-39 Pa (field.md F26)
    assert 5.0 < sheet.drop(0.227) < 8.0
    assert 34.0 < sheet.drop(0.10) < 41.0
    assert sheet.free_area_for(sheet.drop(0.227)) == pytest.approx(0.227, rel=1e-9)


def test_discharge_goes_with_the_drop() -> None:
    plate = law(discharge=0.62)
    # definition of a discharge coefficient
    assert plate.discharge(0.05) == pytest.approx(0.62, rel=1e-4)


def test_tube_of_two_metres() -> None:
    # near/far 1.10 by C1: AR <= 0.506, 27 holes of 15 mm in 110 mm (field.md F22)
    count = most_tube_holes(1.10, 0.110, 0.015)
    assert count == 27
    ratio = 40 * (0.015 / 0.110) ** 2
    # AR 0.744: near/far 1.220 (field.md F22)
    assert draw_ratio(0.62 * ratio) == pytest.approx(1.220, abs=2e-3)
    # at the port 101.1 Pa static; the total pressure lacks one dynamic head less (field.md F22)
    price = least_tube_price(0.05, 0.110, 1.2, draw_ratio(0.62 * ratio))
    head = 0.6 * (0.05 / (0.25 * math.pi * 0.110**2)) ** 2
    assert price + head == pytest.approx(101.1, rel=0.005)


@pytest.mark.parametrize(("count", "diameter"), [(10, 10.04e-3), (20, 7.10e-3)])
def test_hole_area_equal_to_pipe_area(count: int, diameter: float) -> None:
    # D/sqrt(n), bore 1 1/4 in (field.md F23)
    assert equal_area_diameter(31.75e-3, count) == pytest.approx(diameter, abs=6e-6)


def test_no_holes_have_no_diameter() -> None:
    with pytest.raises(RangeError, match="at least one hole"):
        equal_area_diameter(0.03, 0)


def test_rule_of_ten_gives_five_percent() -> None:
    # from memory (Perry), arithmetic: 5.1317 % at ratio 10 (flow.md section 5), plausibility only
    assert perry_ratio(1.0 / (1.0 - 0.051317)) == pytest.approx(10.0, rel=1e-4)


@pytest.mark.parametrize("wanted", [1.05, 1.1, 1.2, 1.5])
def test_rule_of_thumb_is_stricter_than_the_cosh_law(wanted: float) -> None:
    # Perry is on the strict side (flow.md section 5, against the exact solution), strength A
    strict = perry_free_area(wanted, law(), 1.3, 0.11)
    assert strict < cosh_free_area(wanted, law(), 1.3, 0.11) < 1.3 * strict


def test_perfect_evenness_is_refused() -> None:
    with pytest.raises(RangeError, match="above 1"):
        spread_of(1.0)
