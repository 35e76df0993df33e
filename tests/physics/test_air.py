"""Density and viscosity of air against tables."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.air import air_density, air_state, air_viscosity, saturation_pressure

AIR = rows("flow_air.csv")
CELSIUS = [row["t_C"] for row in AIR]


@pytest.mark.parametrize("row", AIR, ids=CELSIUS)
def test_dry_air_follows_the_ideal_gas(row: dict[str, str]) -> None:
    state = air_state(float(row["t_C"]) + 273.15)
    # ideal gas, R = 287.05 J/(kg K) (flow_air.csv), strength A
    assert state.density == pytest.approx(float(row["rho_ideal"]), abs=6e-6)
    # Lemmon et al. 2000 (flow_air.csv), strength B: ideal gas within 0.07 %, 0.08 % at 0 C
    assert state.density == pytest.approx(float(row["rho_coolprop"]), rel=8e-4)


@pytest.mark.parametrize("row", AIR, ids=CELSIUS)
def test_viscosity_follows_sutherland(row: dict[str, str]) -> None:
    state = air_state(float(row["t_C"]) + 273.15)
    # US Standard Atmosphere 1976 (flow_air.csv), strength B
    assert state.viscosity == pytest.approx(float(row["mu_sutherland_Pa_s"]), abs=6e-11)
    # Lemmon & Jacobsen 2004 (flow_air.csv), strength B: tolerate 0.6 %
    assert state.viscosity == pytest.approx(float(row["mu_coolprop_Pa_s"]), rel=6e-3)
    # nu = mu/rho (flow_air.csv)
    assert state.viscosity / state.density == pytest.approx(float(row["nu_m2_s"]), rel=1e-4)


def test_viscosity_at_the_standard_atmosphere() -> None:
    # US Standard Atmosphere 1976 as carried by `fluids`, strength B
    assert air_viscosity(288.15) == pytest.approx(1.78938e-5, rel=1e-5)


@pytest.mark.parametrize(
    ("humidity", "density"),
    [(0.0, 1.2046), (0.3, 1.2015), (0.5, 1.1994), (0.7, 1.1973), (1.0, 1.1941)],
)
def test_moist_air_is_lighter(humidity: float, density: float) -> None:
    # moist air at 20 C by CoolProp (flow.md section 1), strength B
    assert air_density(293.15, 101325.0, humidity) == pytest.approx(density, rel=8e-4)


def test_saturation_pressure_at_room_temperature() -> None:
    # from memory (steam tables, 2339 Pa at 20 C), plausibility only
    assert saturation_pressure(293.15) == pytest.approx(2339.0, rel=4e-3)


def test_density_is_proportional_to_pressure() -> None:
    # ideal gas
    assert air_density(300.0, 8e4) == pytest.approx(0.8 * air_density(300.0, 1e5), rel=1e-14)


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ((0.0, 1e5, 0.0), "temperature"),
        ((float("nan"), 1e5, 0.0), "temperature"),
        ((293.0, -1.0, 0.0), "pressure"),
        ((293.0, 1e5, 1.01), "relative_humidity"),
        ((373.0, 9e4, 1.0), "vapour pressure"),
    ],
)
def test_impossible_air_is_refused(arguments: tuple[float, ...], match: str) -> None:
    with pytest.raises(RangeError, match=match):
        air_density(*arguments)


def test_hot_air_warns() -> None:
    with pytest.warns(ValidityWarning, match="temperature in K 811"):
        air_state(811.0)
