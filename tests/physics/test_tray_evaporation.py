"""Evaporation from an open tray: the chosen law, the floor in still air, and the spread."""

from __future__ import annotations

from itertools import pairwise

import pytest

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.evaporation import laminar_plate_coefficient, mackay_matsugu_coefficient
from flowsim.physics.stefan import stefan_flux
from flowsim.physics.tray import (
    LEAST_COEFFICIENT,
    LEAST_SPEED,
    Tray,
    transfer_coefficients,
    tray_evaporation,
)
from flowsim.physics.vapour import diluted_ppm, vapour_over

NU = 1.516e-5
ACETONE = vapour_over("acetone", 293.15)
TRAY = Tray(0.15, 0.2)
MEASURED = 1464.0 * 1e-9 / 3600.0 * 8.314462618 * 298.15 / 1e-3  # kg, s from ug, h; M in g/mol


def test_worked_tray() -> None:
    found = tray_evaporation(TRAY, ACETONE, 0.3, NU)
    # own computation (vapour.md 3): laminar 49.72 mg/s, film factor 1.146
    assert found.rate == pytest.approx(49.72e-6 * 1.146, rel=2e-3)
    assert found.film_factor == pytest.approx(1.146, rel=1e-3)
    milligrams = {law: rate * 1e6 / found.film_factor for law, rate in found.rates.items()}
    # vapour.md 3, worked table
    expected = {
        "laminar plate": 49.72, "outdoor pool": 31.25, "pool with length, first form": 31.53,
        "pool with length, second form": 31.59, "penetration": 90.15, "workplace, slow air": 96.77,
        "workplace, fast air": 35.14,
    }  # fmt: skip
    assert milligrams == pytest.approx(expected, rel=2e-3)
    assert found.spread == 2.0
    assert found.total_spread >= found.spread


@pytest.mark.parametrize("speed", [0.05, 0.1, 0.3, 0.5])
@pytest.mark.parametrize("liquid", ["acetone", "isopropanol", "toluene", "dichloromethane"])
def test_spread_covers_every_published_law(liquid: str, speed: float) -> None:
    found = tray_evaporation(TRAY, vapour_over(liquid, 293.15), speed, NU)
    low, high = min(found.rates.values()), max(found.rates.values())
    assert found.rate / found.spread <= low * 1.000001
    assert found.rate * found.spread >= high * 0.999999
    # own comparison (vapour.md 3): a spread of 3 between the laws, hence about 2 either way
    assert 2.0 <= found.spread < 3.2


def test_still_pans() -> None:
    toluene = vapour_over("toluene", 298.15)
    schmidt = 1.562e-5 / toluene.diffusion
    # Mackay & van Wesenbeeck 2014, still pans (experiments.md E20), strength B
    assert pytest.approx(1.01e-3, rel=5e-3) == MEASURED
    # own computation (experiments.md E20), diffusion coefficient not stated there: 10 %
    assert mackay_matsugu_coefficient(0.10, 0.1, schmidt) == pytest.approx(0.71e-3, rel=0.1)
    assert mackay_matsugu_coefficient(0.20, 0.1, schmidt) == pytest.approx(1.23e-3, rel=0.1)
    # same: the pool form meets the pans at about 0.15 m/s
    assert mackay_matsugu_coefficient(0.15, 0.1, schmidt) == pytest.approx(MEASURED, rel=0.12)
    plate = laminar_plate_coefficient(0.1, 0.1, toluene.diffusion, 1.562e-5)
    assert plate == pytest.approx(1.8e-3, rel=0.1)
    found = tray_evaporation(Tray(0.1, 0.1), toluene, 0.0, 1.562e-5)
    # same: the stated spread in still air covers the measured pans
    assert found.coefficient / found.spread < MEASURED < found.coefficient * found.spread


@pytest.mark.parametrize("speed", [0.0, 1e-9, 0.01, 0.05])
@pytest.mark.parametrize("length", [0.02, 0.1, 0.5, 2.0])
def test_evaporation_never_falls_to_zero(speed: float, length: float) -> None:
    found = transfer_coefficients(vapour_over("toluene", 298.15), speed, length, 1.562e-5)
    # Mackay & van Wesenbeeck 2014 (experiments.md E20): not below 0.5e-3 m/s as U -> 0
    assert min(found.values()) >= 0.5e-3
    # same: and not raised above what still pans were measured to have
    assert found["outdoor pool"] <= MEASURED
    assert pytest.approx(0.5e-3, rel=1e-12) == LEAST_COEFFICIENT
    assert found == transfer_coefficients(
        vapour_over("toluene", 298.15), LEAST_SPEED, length, 1.562e-5
    )


def test_still_air_counts_as_a_draught() -> None:
    for speed in (0.0, 0.049):
        # common practice, no source: at least 0.05 m/s, room draught and buoyancy
        assert tray_evaporation(TRAY, ACETONE, speed, NU).speed == pytest.approx(0.05, rel=1e-12)
    assert tray_evaporation(TRAY, ACETONE, 0.051, NU).speed == pytest.approx(0.051, rel=1e-12)


def test_more_draught_takes_more() -> None:
    rates = [tray_evaporation(TRAY, ACETONE, speed, NU).rate for speed in (0.05, 0.1, 0.2, 0.4)]
    # own limit: the laminar plate grows with the root of the speed
    assert [later / first for first, later in pairwise(rates)] == pytest.approx([2.0**0.5] * 3)


def test_filling_air_slows_it_down() -> None:
    clean = tray_evaporation(TRAY, ACETONE, 0.3, NU)
    half = tray_evaporation(TRAY, ACETONE, 0.3, NU, 0.5 * ACETONE.saturation)
    full = tray_evaporation(TRAY, ACETONE, 0.3, NU, ACETONE.saturation)
    over = tray_evaporation(TRAY, ACETONE, 0.3, NU, 1.5 * ACETONE.saturation)
    # driven by c_s - c, with the film factor of the actual air
    assert half.rate == pytest.approx(0.5 * clean.rate * half.film_factor / clean.film_factor)
    assert full.rate == 0.0
    assert over.rate < 0.0


def test_rim_adds_still_air() -> None:
    flush = tray_evaporation(TRAY, ACETONE, 0.3, NU)
    deep = tray_evaporation(Tray(0.15, 0.2, 0.1), ACETONE, 0.3, NU)
    mass = ACETONE.substance.molar_mass
    tube = stefan_flux(mass, (ACETONE.fraction, 0.0), ACETONE.diffusion, 0.1, 293.15)
    # resistances in series; the tube alone is the limit of a deep vessel
    assert deep.rate < flush.rate
    whole = 1.0 / (1.0 / flush.rate + 1.0 / (tube * TRAY.area))
    assert deep.rate == pytest.approx(whole, rel=1e-12, abs=0.0)


@pytest.mark.parametrize(
    ("liquid", "celsius", "strength", "parts"),
    [("acetone", 20, None, 741), ("HF", 25, 0.49, 123), ("HCl", 25, 0.36, 786)],
)
def test_exhaust_of_a_tray(liquid: str, celsius: int, strength: float | None, parts: float) -> None:
    vapour = vapour_over(liquid, 273.15 + celsius, strength)
    viscosity = {20: NU, 25: 1.562e-5}[celsius]
    found = tray_evaporation(TRAY, vapour, 0.3, viscosity)
    rate = found.rate / found.film_factor
    mass = vapour.substance.molar_mass
    # own computation (vapour.md 5.3), 100 m3/h, no film factor; 2 % for the molar volume used
    own = diluted_ppm(rate, mass, 100.0 / 3600.0, vapour.temperature)
    assert own == pytest.approx(parts, rel=0.02)


def test_ranges_speak() -> None:
    with pytest.warns(ValidityWarning, match="tray evaporation"):
        tray_evaporation(Tray(10.0, 1.0), ACETONE, 2.0, NU)
    with pytest.raises(RangeError, match="width"):
        Tray(0.1, 0.0)
    with pytest.raises(RangeError, match="background"):
        tray_evaporation(TRAY, ACETONE, 0.3, NU, -1.0)
    with pytest.raises(RangeError, match="outer share"):
        tray_evaporation(TRAY, ACETONE, 0.3, NU, 5.0)
