"""Temperature of a liquid that cools itself."""

from __future__ import annotations

import importlib.util

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.cooling import air_conductivity, surface_temperature
from flowsim.physics.substances import substance


@pytest.mark.parametrize("row", rows("vapour_cooling.csv"), ids=lambda row: row["liquid"])
def test_wet_bulb(row: dict[str, str]) -> None:
    air = 273.15 + float(row["T_air_C"])
    surface = surface_temperature(row["liquid"], air)
    # psychrometric balance (vapour_cooling.csv); 0.3 K: where its properties are taken is not said
    assert surface - 273.15 == pytest.approx(float(row["T_surface_C"]), abs=0.3)
    item = substance(row["liquid"])
    fall = item.continued_pressure(surface) / item.vapour_pressure(air)
    assert fall == pytest.approx(float(row["p(T_s)/p(20C)"]), rel=0.025)


def test_water_meets_the_handbook() -> None:
    # handbook wet bulb 5.9 C in dry air at 20 C (vapour_cooling.csv); 1 K
    assert surface_temperature("water", 293.15) - 273.15 == pytest.approx(5.9, abs=1.0)


@pytest.mark.skipif(not importlib.util.find_spec("chemicals"), reason="library not installed")
@pytest.mark.parametrize("name", ["acetone", "methanol", "ethanol", "toluene"])
def test_pressures_below_the_table(name: str) -> None:
    library = pytest.importorskip("chemicals")
    item = substance(name)
    row = library.vapor_pressure.Psat_data_Perrys2_8.loc[item.cas]
    for temperature in (250.0, 260.0, 270.0):
        theirs = library.dippr.EQ101(temperature, *(row[f"C{i}"] for i in range(1, 6)))
        # chemicals, its DIPPR coefficients: 7 % as the docstring states
        assert item.continued_pressure(temperature) == pytest.approx(theirs, rel=0.07)


def test_bounds_are_told() -> None:
    with pytest.raises(RangeError, match="air_temperature"):
        surface_temperature("acetone", 250.0)
    with pytest.raises(RangeError, match="boils"):
        surface_temperature("ammonia", 293.15)
    with pytest.warns(ValidityWarning, match="air conductivity"):
        air_conductivity(400.0)
