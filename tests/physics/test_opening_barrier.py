"""Pressure, warmth and people at an opening."""

from __future__ import annotations

import math
import re

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.hood_practice import practice_values
from flowsim.physics.opening import orifice_flow
from flowsim.physics.opening_barrier import (
    DRAUGHT_LINE,
    draught_share,
    outflow_against_buoyancy,
    passage_volumes,
    pressure_velocity,
    pressure_velocity_table,
)
from flowsim.physics.two_way import blocking_flow


def test_pressure_velocity_table() -> None:
    theirs = [tuple(float(value) for value in row.values()) for row in
              rows("aerosol_pressure_velocity.csv")]  # fmt: skip
    # Bernoulli, computed (aerosol_pressure_velocity.csv)
    assert list(pressure_velocity_table()) == [pytest.approx(row, rel=5e-6) for row in theirs]


@pytest.mark.parametrize("row", rows("aerosol_pressure_velocity.csv"))
def test_opening_of_the_network_gives_the_same(row: dict[str, str]) -> None:
    drop = float(row["dp_Pa"])
    # Bernoulli, computed (aerosol_pressure_velocity.csv)
    assert pressure_velocity(drop, 1.204) == pytest.approx(float(row["v_bernoulli_m_s"]), rel=5e-6)
    assert orifice_flow(drop, 1.0, 0.6, 1.204) == pytest.approx(
        float(row["v_mean_Cd0.6_m_s"]), rel=5e-6
    )


@pytest.mark.parametrize("row", rows("aerosol_opening_outflow.csv"))
@pytest.mark.parametrize("warmth", ["0.5", "1", "2", "5", "10"])
def test_outflow_table(row: dict[str, str], warmth: str) -> None:
    height = float(row["H_m"])
    speed = outflow_against_buoyancy(height, float(warmth))
    # Bernoulli opening, computed (aerosol_opening_outflow.csv)
    assert speed == pytest.approx(float(row[f"dT_{warmth}K"]), rel=5e-6)
    light = 1.204 * (1.0 - float(warmth) / 293.15)
    # own: the blocking flow of the two-way opening is the same law (its gravity is 9.81)
    assert blocking_flow(1.0, height, light, 1.204, 0.6) / height == pytest.approx(speed, rel=2e-4)


def test_doorway_of_the_trade() -> None:
    # own derivation (aerosol.md 6): 0.207 m/s at 2 K, the familiar 0.2
    assert outflow_against_buoyancy(2.0, 2.0) == pytest.approx(0.207, abs=5e-4)


def test_open_front_works_at_tenths_of_a_pascal() -> None:
    # computed (aerosol.md 6): 0.2 m/s is 0.067 Pa, 0.5 m/s 0.42 Pa at Cd 0.6
    assert pressure_velocity(0.067, 1.204, 0.6) == pytest.approx(0.2, rel=5e-3)
    assert pressure_velocity(0.42, 1.204, 0.6) == pytest.approx(0.5, rel=5e-3)


def test_draught_against_the_face_speed() -> None:
    fpm = 0.00508
    # common practice, no source (field.md F34): 20 fpm before a face of 60 fpm is just the line
    assert draught_share(20.0 * fpm, 60.0 * fpm) == pytest.approx(DRAUGHT_LINE, rel=1e-12)
    assert pytest.approx(1.0 / 3.0) == DRAUGHT_LINE
    # same: 0.51 m/s is to be warned of at every face below 1.53 m/s, so below 1.5 too
    assert all(draught_share(0.51, face) > DRAUGHT_LINE for face in (0.3, 0.5, 1.0, 1.5, 1.529))
    assert draught_share(0.51, 1.531) < DRAUGHT_LINE
    # own limits: either sign, and a front through which nothing moves
    assert draught_share(0.1, -0.2) == draught_share(0.1, 0.2) == pytest.approx(0.5)
    assert draught_share(0.1, 0.0) == math.inf
    assert draught_share(0.0, 0.0) == 0.0


def test_a_person_carries_a_cubic_metre_or_two() -> None:
    low, high = passage_volumes()
    # NIOSHTIC-2 20031962 (experiments.md E17): 35 to 65 ft3
    assert (low, high) == pytest.approx((35 * 0.3048**3, 65 * 0.3048**3), abs=0.005)
    assert 0.9 < low < high < 2.0


def test_design_inflow_of_open_fronts() -> None:
    found = [value for value in practice_values("hood face velocity") if value.unit == "m/s"]
    speeds = [float(re.findall(r"[\d.]+", value.value)[0]) for value in found]
    # Newsom 1979 and a British working party (experiments.md E18): 0.5 to 0.76 m/s
    assert speeds
    assert all(0.5 <= speed <= 0.76 for speed in speeds)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: pressure_velocity(-1.0, 1.2), "drop"),
        (lambda: pressure_velocity(1.0, 0.0), "density"),
        (lambda: pressure_velocity(1.0, 1.2, 1.1), "discharge_coefficient"),
        (lambda: draught_share(-0.1, 0.5), "draught"),
        (lambda: draught_share(0.1, float("nan")), "face_speed"),
        (lambda: outflow_against_buoyancy(0.0, 1.0), "height"),
        (lambda: outflow_against_buoyancy(1.0, float("nan")), "temperature_difference"),
    ],
)
def test_impossible_openings_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()


def test_hot_openings_warn() -> None:
    with pytest.warns(ValidityWarning, match="temperature difference"):
        outflow_against_buoyancy(1.0, 50.0)
