"""Pure substances against their table; `test_open_library` holds it against a library."""

from __future__ import annotations

import re

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.substances import substance

KELVIN = 273.15
MILLIMETRE = 133.322
HANDBOOK_DENSITY = {
    "acetone": 1.245, "isopropanol": 1.045, "ethanol": 1.034, "methanol": 1.014, "toluene": 1.063,
    "dichloromethane": 1.894, "acetic acid": 1.016, "nitric acid": 1.074, "water": 0.991,
}  # fmt: skip


@pytest.mark.parametrize("row", rows("vapour_substances.csv"), ids=lambda row: row["substance"])
def test_properties(row: dict[str, str]) -> None:
    item = substance(row["CAS"])
    # chemicals 1.5.2, thermo 0.6.1 (vapour_substances.csv)
    assert item is substance(row["substance"])
    assert item.molar_mass * 1e3 == pytest.approx(float(row["molar_mass_g_mol"]))
    assert item.boiling_point - KELVIN == pytest.approx(float(row["boiling_point_C"]))
    assert item.heat_of_vaporisation / 1e3 == pytest.approx(float(row["Hvap25_kJ_mol"]))
    for celsius in (20, 25, 30):
        pressure = item.vapour_pressure(celsius + KELVIN)
        assert pressure == pytest.approx(float(row[f"Psat{celsius}_Pa"]), rel=1e-9)
        assert pressure / MILLIMETRE == pytest.approx(float(row[f"Psat{celsius}_mmHg"]), rel=5e-4)
    low, high = item.pressure_bounds
    assert low == float(row["Psat25_min_over_library_methods_Pa"])
    assert high == float(row["Psat25_max_over_library_methods_Pa"])
    assert low * 0.9999 <= item.vapour_pressure(25 + KELVIN) <= high * 1.0001
    assert ("" if item.odour_low is None else item.odour_low) == (
        float(row["odour_low_ppm"]) if row["odour_low_ppm"] else ""
    )
    assert ("" if item.odour_high is None else item.odour_high) == (
        float(row["odour_high_ppm"]) if row["odour_high_ppm"] else ""
    )
    assert item.odour_source == row["odour_source"]


@pytest.mark.parametrize("row", rows("vapour_substances.csv"), ids=lambda row: row["substance"])
def test_pressures_seen_elsewhere(row: dict[str, str]) -> None:
    unit = {"mmHg": MILLIMETRE, "atm": 101325.0}
    for value, name, celsius in re.findall(
        r"([\d.]+) (mmHg|atm) \[?(\d+)C", row["value_seen_in_a_stored_source"]
    ):
        pressure = substance(row["CAS"]).vapour_pressure(float(celsius) + KELVIN)
        # values quoted by NRC, NIOSH, OSHA, NTP (vapour_substances.csv); 6 %: 11 whole mmHg
        assert pressure == pytest.approx(float(value) * unit[name], rel=0.06)


@pytest.mark.parametrize(("name", "ratio"), HANDBOOK_DENSITY.items())
def test_saturated_air(name: str, ratio: float) -> None:
    # own computation from the table (vapour.md 1.1)
    assert substance(name).saturated_density_ratio(20 + KELVIN) == pytest.approx(ratio, abs=6e-4)


def test_gas_displaces_all_air() -> None:
    ratio = substance("ammonia").saturated_density_ratio(20 + KELVIN)
    # definition
    assert ratio == pytest.approx(17.031 / 28.96, rel=1e-4)


def test_names_are_forgiven() -> None:
    assert substance(" IPA ").name == "isopropanol"
    assert substance("Methylene  chloride").name == "dichloromethane"
    assert substance("HF").name == "hydrogen fluoride"


@pytest.mark.parametrize(
    ("name", "near"),
    [("aceton", "acetone"), ("toluol", "toluene"), ("metanol", "methanol"), ("67-64-2", "acetone")],
)
def test_unknown_name_gets_the_nearest(name: str, near: str) -> None:
    with pytest.raises(RangeError, match=rf"'{name}'.*nearest: .*{near}"):
        substance(name)


def test_strange_name_gets_the_list() -> None:
    with pytest.raises(RangeError, match="known: acetic acid, acetone"):
        substance("xyzzy")


def test_extrapolation_speaks() -> None:
    with pytest.warns(ValidityWarning, match="vapour pressure of acetone"):
        substance("acetone").vapour_pressure(260.0)
    with pytest.raises(RangeError, match="temperature"):
        substance("acetone").vapour_pressure(0.0)
