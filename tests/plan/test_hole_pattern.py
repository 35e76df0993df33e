"""Whole holes on patterns."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.errors import RangeError
from flowsim.plan.hole_pattern import (
    Grading,
    Spacing,
    draw_pattern,
    hole_free_area,
    most_free_area,
    tray_holes,
)
from flowsim.report.drill_result import Floor, Part

WHOLE = (0.0, 1.3, 0.0, 0.65)


def floor(*parts: Part, zone: tuple[float, float, float, float] = WHOLE) -> Floor:
    return Floor(1.3, 0.65, 0.012, zone, parts, (), ())


def closest(x: np.ndarray, y: np.ndarray) -> float:
    """Return the least distance of two centres, the slow way."""
    far = np.hypot(x[:, None] - x, y[:, None] - y)
    return float(far[~np.eye(x.size, dtype=bool)].min())


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    most=st.floats(30.0, 900.0),
    diameter=st.sampled_from([4e-3, 6e-3, 8e-3, 0.25 * 0.0254]),
    arrangement=st.sampled_from(["square", "triangular"]),
)
def test_pattern_fills_the_zone(most: float, diameter: float, arrangement: str) -> None:
    place = floor(zone=(0.05, 1.25, 0.04, 0.60))
    spacing = Spacing(arrangement)
    pattern = draw_pattern(most, diameter, place, spacing)
    assert 0.9 * most - 3.0 <= pattern.count <= most + 1e-9
    assert pattern.hole_area == pattern.count * 0.25 * math.pi * diameter**2
    x0, x1, y0, y1 = place.zone
    assert pattern.x.min() - 0.5 * diameter > x0
    assert pattern.x.max() + 0.5 * diameter < x1
    assert pattern.y.min() - 0.5 * diameter > y0
    assert pattern.y.max() + 0.5 * diameter < y1
    # each hole has its share of the zone: the margins are about half a pitch
    assert pattern.edge > 0.2 * pattern.pitch_x[0]
    assert closest(pattern.x, pattern.y) == pytest.approx(pattern.web + diameter, abs=1e-9)
    assert pattern.web >= spacing.closest(diameter) - diameter - 1e-4


def test_places_lie_on_a_grid_that_can_be_set() -> None:
    pattern = draw_pattern(500.0, 8e-3, floor(), Spacing("triangular"))
    for places in (pattern.x, pattern.y):
        steps = places / 5e-5
        assert np.abs(steps - np.round(steps)).max() < 1e-6


def test_pattern_is_symmetric() -> None:
    pattern = draw_pattern(500.0, 8e-3, floor(), Spacing())
    across = np.unique(pattern.x)
    assert across + across[::-1] == pytest.approx(np.full(across.size, 1.3), abs=1.1e-4)


def test_no_hole_where_the_plate_is_covered() -> None:
    covered = Part("sheet", "covered", 0.3, 0.55, 0.1, 0.3)
    piped = Part("box", "piped", 0.5, 0.7, 0.2, 0.4)
    pattern = draw_pattern(700.0, 8e-3, floor(covered, piped), Spacing())
    assert pattern.left_out > 0
    assert pattern.count + pattern.left_out == pattern.columns * pattern.rows
    for part in (covered, piped):
        dx = np.maximum(np.maximum(part.x0 - pattern.x, pattern.x - part.x1), 0.0)
        dy = np.maximum(np.maximum(part.y0 - pattern.y, pattern.y - part.y1), 0.0)
        assert np.hypot(dx, dy).min() >= 4e-3 - 1e-9


def test_covered_area_counts_once() -> None:
    first = Part("a", "covered", 0.3, 0.5, 0.1, 0.3)
    second = Part("b", "covered", 0.4, 0.7, 0.2, 0.4)
    beyond = Part("c", "covered", 1.2, 1.3, 0.0, 0.65)
    place = floor(first, second, beyond, zone=(0.0, 1.25, 0.0, 0.65))
    lost = 0.04 + 0.06 - 0.01 + 0.05 * 0.65
    assert hole_free_area(place) == pytest.approx(1.25 * 0.65 - lost, rel=1e-12)


def test_holes_under_things_are_marked() -> None:
    tray = Part("tray", "tray", 0.2, 0.62, 0.25, 0.55)
    pattern = draw_pattern(470.0, 8e-3, floor(tray), Spacing())
    drawn, due = tray_holes(floor(tray), pattern.x, pattern.y)["tray"]
    inside = sum(place.endswith("tray") for place in pattern.place)
    assert inside >= drawn > 0
    assert set(pattern.place) <= {"", "under tray", "at the edge of tray"}
    assert due == pytest.approx(pattern.count * 0.42 * 0.30 / (1.3 * 0.65))
    assert drawn == pytest.approx(due, rel=0.12)


def test_graded_columns_follow_the_density() -> None:
    x = np.linspace(0.0, 1.3, 27)
    grading = Grading(x, 1.5 - 0.5 * x / 1.3)
    pattern = draw_pattern(800.0, 6e-3, floor(), Spacing(), grading)
    columns = np.unique(pattern.x)
    gaps = np.diff(columns)
    # distance goes with one over the density
    middle = 0.5 * (columns[1:] + columns[:-1])
    product = gaps * np.interp(middle, x, grading.density)
    assert product == pytest.approx(np.full(gaps.size, product.mean()), rel=0.01)
    assert pattern.arrangement == "graded"
    assert pattern.pitch_x == (pytest.approx(gaps.min()), pytest.approx(gaps.max()))


def test_holes_may_not_lie_closer_than_asked() -> None:
    spacing = Spacing("square", least_pitch=0.05)
    assert most_free_area(8e-3, spacing) == pytest.approx(0.25 * math.pi * 0.008**2 / 0.05**2)
    with pytest.raises(RangeError, match=r"at least 50\.0 mm apart"):
        draw_pattern(900.0, 8e-3, floor(), spacing)


def test_web_is_kept_without_a_stated_pitch() -> None:
    assert Spacing().closest(4e-3) == pytest.approx(7e-3)
    assert Spacing().closest(12e-3) == pytest.approx(18e-3)
