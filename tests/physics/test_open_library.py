"""Tables of the package against an open library of properties."""

from __future__ import annotations

import math

import chemicals
import chemicals.heat_capacity
import chemicals.phase_change
import chemicals.safety
import chemicals.thermal_conductivity
import chemicals.vapor_pressure
import pytest
from chemicals.dippr import EQ101, EQ102

from flowsim.physics.cooling import HEAT_CAPACITY, air_conductivity
from flowsim.physics.exposure_limits import published_limits
from flowsim.physics.flammability import flammable_ranges
from flowsim.physics.substances import AIR_MOLAR_MASS, GAS_CONSTANT, substance, substance_names

# the library reads its tables in a way that its own table reader finds out of date
pytestmark = pytest.mark.filterwarnings("ignore:The 'float_precision' argument")

AIR = "132259-10-0"
NAMES = substance_names()
MIXTURE = {"7727-37-9": 0.7808, "7782-44-7": 0.2095, "7440-37-1": 0.0097}
CONSTANTS = ("C1", "C2", "C3", "C4", "C5")


@pytest.mark.parametrize("name", NAMES)
def test_molar_mass_and_boiling_point(name: str) -> None:
    item = substance(name)
    # chemicals 1.5.2, three decimals
    assert item.molar_mass * 1e3 == pytest.approx(chemicals.MW(item.cas), abs=5.5e-4)
    # same, two decimals, four digits
    assert item.boiling_point == pytest.approx(chemicals.Tb(item.cas), abs=0.006)


@pytest.mark.parametrize("name", [name for name in NAMES if name != "nitric acid"])
def test_pressures(name: str) -> None:
    item = substance(name)
    row = chemicals.vapor_pressure.Psat_data_Perrys2_8.loc[item.cas]
    # chemicals, its DIPPR coefficients; its methods differ by 5 % for isopropanol (vapour.md 1.1)
    spread = 0.05 if name == "isopropanol" else 0.035
    for celsius in range(5, 51, 5):
        temperature = celsius + 273.15
        if not row["Tmin"] <= temperature <= row["Tmax"]:
            continue
        theirs = EQ101(temperature, *(row[constant] for constant in CONSTANTS))
        assert item.vapour_pressure(temperature) == pytest.approx(theirs, rel=spread)


def test_pressures_of_pure_nitric_acid() -> None:
    row = chemicals.vapor_pressure.Psat_data_Landolt_Antoine.loc["7697-37-2"]
    for celsius in range(5, 51, 5):
        temperature = celsius + 273.15
        theirs = math.exp(row["A"] - row["B"] / (temperature + row["C"]))
        # chemicals, Landolt-Boernstein; the library behind the table uses the same
        assert substance("nitric acid").vapour_pressure(temperature) == pytest.approx(
            theirs, rel=2e-3
        )


@pytest.mark.parametrize("name", ["acetone", "methanol", "ethanol", "toluene"])
def test_pressures_below_the_table(name: str) -> None:
    item = substance(name)
    row = chemicals.vapor_pressure.Psat_data_Perrys2_8.loc[item.cas]
    for temperature in (250.0, 260.0, 270.0):
        theirs = EQ101(temperature, *(row[constant] for constant in CONSTANTS))
        # chemicals, its DIPPR coefficients: 7 % as the docstring of the cooling law states
        assert item.continued_pressure(temperature) == pytest.approx(theirs, rel=0.07)


@pytest.mark.parametrize("name", ["acetone", "methanol", "ethanol", "isopropanol", "toluene"])
def test_heat_of_vaporisation(name: str) -> None:
    item = substance(name)
    theirs = chemicals.phase_change.Hvap_data_CRC.loc[item.cas]["Hvap298"]
    # chemicals, CRC Handbook at 298 K against its DIPPR form: 2 %
    assert item.heat_of_vaporisation == pytest.approx(theirs, rel=0.02)


@pytest.mark.parametrize("name", NAMES)
def test_flammable_limits(name: str) -> None:
    cas = substance(name).cas
    ours = {item.publisher: (item.lower, item.upper) for item in flammable_ranges(name)}
    for publisher, method in (
        ("IEC 60079-20-1:2010", "IEC 60079-20-1 (2010)"),
        ("NFPA 497:2008", "NFPA 497 (2008)"),
    ):
        lower, upper = ours.get(publisher, (None, None))
        # IEC 60079-20-1:2010, NFPA 497:2008 in chemicals 1.5.2
        if method in chemicals.safety.LFL_methods(CASRN=cas):
            assert lower == pytest.approx(chemicals.LFL(CASRN=cas, method=method))
        else:
            assert lower is None
        if method in chemicals.safety.UFL_methods(CASRN=cas):
            assert upper == pytest.approx(chemicals.UFL(CASRN=cas, method=method))
        else:
            assert upper is None


@pytest.mark.parametrize("name", NAMES)
def test_limits_of_ontario(name: str) -> None:
    cas = substance(name).cas
    theirs = {
        "TWA": chemicals.TWA(cas),
        "STEL": chemicals.STEL(cas),
        "ceiling": chemicals.Ceiling(cas),
    }
    ours = {
        limit.kind: limit.ppm for limit in published_limits(name) if limit.publisher == "Ontario"
    }
    # Ontario, as held by chemicals 1.5.2
    assert ours == {kind: value[0] for kind, value in theirs.items() if value}


@pytest.mark.parametrize(
    ("temperature", "spread"),
    [
        (223.0, 0.015),
        (250.0, 0.01),
        (273.15, 0.006),
        (293.15, 0.004),
        (320.0, 0.003),
        (350.0, 0.001),
    ],
)
def test_conductivity_of_air(temperature: float, spread: float) -> None:
    row = chemicals.thermal_conductivity.k_data_Perrys_8E_2_314.loc[AIR]
    theirs = EQ102(temperature, *(row[constant] for constant in CONSTANTS[:4]))
    # chemicals, Perry's handbook 8th ed., table 2-314; our law from memory within 2 %
    assert air_conductivity(temperature) == pytest.approx(theirs, rel=spread)


def test_heat_capacity_of_air() -> None:
    table = chemicals.heat_capacity.Cp_data_Poling
    found = 0.0
    for cas, share in MIXTURE.items():
        row = table.loc[cas]
        terms = [row[f"a{power}"] for power in range(5)]
        found += share * sum(term * 273.15**power for power, term in enumerate(terms))
    # chemicals, polynomials of Poling et al. 2001; nitrogen, oxygen and argon of dry air
    assert pytest.approx(found * GAS_CONSTANT / AIR_MOLAR_MASS, rel=4e-3) == HEAT_CAPACITY
