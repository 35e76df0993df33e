"""Steady level, decay and recovery of mixed zones."""

from __future__ import annotations

import math

import numpy as np
import pytest
from reference_data import rows
from scipy.integrate import solve_ivp

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.air_cleaning import (
    air_change_rate,
    decayed,
    mixed_recovery_time,
    piston_recovery_time,
    recirculated_concentration,
    recovery_rate,
    steady_concentration,
)
from flowsim.physics.cleanroom_class import cleanliness
from flowsim.physics.particle_source import person_emission


@pytest.mark.parametrize("row", rows("aerosol_recovery.csv"))
def test_recovery_table(row: dict[str, str]) -> None:
    changes = float(row["air_changes_per_h"]) / 3600.0
    rate = air_change_rate(changes, 1.0, float(row["effectiveness"]))
    # exponential decay (aerosol_recovery.csv)
    for ratio, column in ((10.0, "t_10to1_min"), (100.0, "t_100to1_min")):
        time = mixed_recovery_time(rate, ratio)
        assert time / 60.0 == pytest.approx(float(row[column]), rel=5e-6)
        assert decayed(1.0, 0.0, rate, time) == pytest.approx(1.0 / ratio, rel=1e-12)


def test_between_piston_and_mixed() -> None:
    rate = air_change_rate(0.05, 0.78)
    # common practice, no source (field.md F37): 71.8 s mixed, 15.6 s as a piston
    assert mixed_recovery_time(rate) == pytest.approx(71.8, abs=0.05)
    assert 1.0 / rate == pytest.approx(15.6)
    # computed (aerosol.md 5): 0.6 m at 0.45 m/s, 1.33 s against 6.1 s, 2700 per hour
    piston = piston_recovery_time(0.6, 0.45)
    assert piston == pytest.approx(1.33, abs=0.005)
    assert 3600.0 / piston == pytest.approx(2700.0)
    assert mixed_recovery_time(1.0 / piston) == pytest.approx(6.1, abs=0.05)


def test_background_delays_recovery() -> None:
    # computed (aerosol.md 5): 4.94 instead of 4.61 time constants
    assert mixed_recovery_time(1.0, 100.0, 1.0 / 3.52) == pytest.approx(4.94, abs=0.005)
    assert mixed_recovery_time(1.0) == pytest.approx(math.log(100.0), rel=1e-12)
    # own limits: never, and at once
    assert mixed_recovery_time(1.0, 100.0, 1.0) == math.inf
    assert mixed_recovery_time(1.0, 1.0) == 0.0


def test_recovery_rate() -> None:
    # ISO 14644-3 form from memory (aerosol.md 5): 100:1 in 12 min is 23.03 per hour
    assert recovery_rate(100.0, 1.0, 720.0) * 3600.0 == pytest.approx(23.03, abs=0.005)
    # EU guide, 15 to 20 min (aerosol.md 5): 18.4 to 13.8 per hour
    assert recovery_rate(100.0, 1.0, 900.0) * 3600.0 == pytest.approx(18.4, abs=0.05)
    assert recovery_rate(100.0, 1.0, 1200.0) * 3600.0 == pytest.approx(13.8, abs=0.05)


@pytest.mark.parametrize(
    ("clothing", "flow", "concentration", "number"),
    [
        ("indoor clothes", 0.1, 355000.0, 7.00),
        ("cleanroom garments", 0.1, 170000.0, 6.68),
        ("indoor clothes", 0.5, 71000.0, 6.31),
    ],
)
def test_a_person_in_a_mixed_box(clothing, flow, concentration, number) -> None:
    level = steady_concentration(person_emission(clothing, 0.5e-6), flow)
    # computed from Whyte & Hejab 2007 (aerosol.md 5)
    assert level == pytest.approx(concentration, rel=1e-3)
    # same; the class as printed there, cut after two digits
    assert cleanliness({0.5e-6: level}).number == pytest.approx(number, abs=0.008)


def test_steady_level_is_where_decay_ends() -> None:
    source, supply, ingress, loss, volume = 500.0, (0.2, 30.0), (0.02, 1e6), 0.01, 0.8
    level = steady_concentration(source, 0.22, supply, ingress, loss)
    gain = source + 0.2 * 30.0 + 0.02 * 1e6
    path = solve_ivp(
        lambda _, c: (gain - 0.23 * c) / volume, (0.0, 5.0), [1e6], rtol=1e-9, atol=1e-6
    )
    # own balance integrated
    assert decayed(1e6, level, 0.23 / volume, 5.0) == pytest.approx(float(path.y[0, -1]), rel=1e-6)


def test_recirculation_settles_to_its_closed_form() -> None:
    level, source, flow, share, penetration, fresh = 0.0, 100.0, 0.2, 0.7, 0.3, 1e4
    for _ in range(60):
        level = source / flow + penetration * (share * level + (1.0 - share) * fresh)
    # own derivation (aerosol.md 5), iterated
    closed = recirculated_concentration(source, flow, share, penetration, fresh)
    assert closed == pytest.approx(level, rel=1e-12)
    # own limit: once through
    once = recirculated_concentration(source, flow, 0.0, penetration, fresh)
    assert once == pytest.approx(steady_concentration(source, flow, (flow, penetration * fresh)))


def test_decay_is_monotone() -> None:
    times = np.linspace(0.0, 10.0, 50)
    values = [decayed(100.0, 3.0, 0.7, float(time)) for time in times]
    assert values == sorted(values, reverse=True)
    assert values[0] == 100.0


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: air_change_rate(0.0, 1.0), "flow"),
        (lambda: mixed_recovery_time(1.0, 0.5), "ratio"),
        (lambda: mixed_recovery_time(0.0), "rate"),
        (lambda: mixed_recovery_time(1.0, background=-1.0), "background"),
        (lambda: piston_recovery_time(1.0, 0.0), "velocity"),
        (lambda: recovery_rate(1.0, 2.0, 1.0), "no recovery"),
        (lambda: steady_concentration(1.0, 0.0), "removal is 0"),
        (lambda: recirculated_concentration(1.0, 1.0, 1.0, 1.0, 0.0), "removal"),
        (lambda: decayed(-1.0, 0.0, 1.0, 1.0), "initial"),
    ],
)
def test_impossible_zones_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()


def test_better_than_a_piston_warns() -> None:
    with pytest.warns(ValidityWarning, match="effectiveness"):
        air_change_rate(1.0, 1.0, 3.0)
