"""Temperature of a liquid that cools itself."""

from __future__ import annotations

import math

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.cooling import air_conductivity, surface_temperature
from flowsim.physics.diffusion import fuller_diffusion
from flowsim.physics.substances import substance


@pytest.mark.parametrize("row", rows("vapour_cooling.csv"), ids=lambda row: row["liquid"])
def test_wet_bulb(row: dict[str, str]) -> None:
    air = 273.15 + float(row["T_air_C"])
    surface = surface_temperature(row["liquid"], air)
    # psychrometric balance (vapour_cooling.csv); 0.17 K: where its properties are taken is not said
    assert surface - 273.15 == pytest.approx(float(row["T_surface_C"]), abs=0.17)
    item = substance(row["liquid"])
    fall = item.continued_pressure(surface) / item.vapour_pressure(air)
    assert fall == pytest.approx(float(row["p(T_s)/p(20C)"]), rel=0.015)


def test_water_meets_the_handbook() -> None:
    # handbook wet bulb 5.9 C in dry air at 20 C (vapour_cooling.csv); 1 K
    assert surface_temperature("water", 293.15) - 273.15 == pytest.approx(5.9, abs=1.0)


@pytest.mark.parametrize("row", rows("vapour_cooling.csv"), ids=lambda row: row["liquid"])
@pytest.mark.parametrize("celsius", [10.0, 20.0, 35.0])
def test_heat_gained_is_heat_spent(row: dict[str, str], celsius: float) -> None:
    item, air = substance(row["liquid"]), 273.15 + celsius
    surface = surface_temperature(row["liquid"], air)
    middle, vapour = 0.5 * (surface + air), item.continued_pressure(surface)
    capacity = 101325.0 / (287.05 * middle) * 1006.0
    lewis = (
        0.0257 * (middle / 293.15) ** 0.8 / capacity
        / fuller_diffusion(item.molar_mass, item.diffusion_volume, middle)
    )  # fmt: skip
    film = math.log(1.0 / (1.0 - vapour / 101325.0)) * 101325.0
    # Bird, Stewart & Lightfoot 2002 from memory, as vapour_cooling.csv states it:
    # rho cp Le^(2/3) (T_a - T_s) = Hv F p/(R T_s), F = ln(1/(1 - y))/y
    gained = capacity * lewis ** (2.0 / 3.0) * (air - surface)
    spent = item.heat_of_vaporisation * film / (8.314462618 * surface)
    assert gained == pytest.approx(spent, rel=2e-4)


def test_bounds_are_told() -> None:
    with pytest.raises(RangeError, match="air_temperature"):
        surface_temperature("acetone", 250.0)
    with pytest.raises(RangeError, match="boils"):
        surface_temperature("ammonia", 293.15)
    with pytest.warns(ValidityWarning, match="air conductivity"):
        air_conductivity(400.0)
