"""Published laws of evaporation against the table of all of them."""

from __future__ import annotations

import warnings

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.evaporation import (
    kawamura_mackay_coefficient,
    laminar_plate_coefficient,
    mackay_matsugu_coefficient,
    oppt_mass_transfer_coefficient,
    oppt_penetration_coefficient,
    penetration_coefficient,
    pool_coefficient,
)
from flowsim.physics.stefan import film_factor
from flowsim.physics.vapour import Vapour, molar_volume, vapour_over

VISCOSITY = {20: 1.516e-5, 25: 1.562e-5}
# 4-digit table; the exponents 0.67 and 2/3 print alike
DIGITS = 1e-3
STRENGTHS = {"20 % HCl": 0.2, "36 % HCl": 0.36, "49 % HF": 0.49, "28 % NH3": 0.28, "70 % HNO3": 0.7}


def _vapour(row: dict[str, str]) -> Vapour:
    name = row["liquid"].split(" (")[0]
    temperature = 273.15 + float(row["T_C"])
    if name not in STRENGTHS:
        return vapour_over(name, temperature)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)  # 70 % nitric acid is from memory
        return vapour_over(name.split()[-1], temperature, STRENGTHS[name])


def _coefficient(row: dict[str, str], vapour: Vapour) -> float:
    speed, length = float(row["U_m_s"]), float(row["length_along_flow_m"])
    viscosity = VISCOSITY[int(row["T_C"])]
    mass, schmidt = vapour.substance.molar_mass, viscosity / vapour.diffusion
    temperature = vapour.temperature
    model = row["model"]
    if model.startswith("EPA U"):
        return pool_coefficient(speed, mass)
    if model.startswith("Mackay"):
        return mackay_matsugu_coefficient(speed, length, schmidt)
    if model.startswith("Kawamura"):
        return kawamura_mackay_coefficient(speed, length, schmidt)
    if model.startswith("laminar"):
        return laminar_plate_coefficient(speed, length, vapour.diffusion, viscosity)
    if model.startswith("penetration"):
        return penetration_coefficient(speed, length, vapour.diffusion)
    if model.startswith("EPA OPPT penetration"):
        return oppt_penetration_coefficient(speed, length, mass, temperature)
    assert model == "EPA OPPT mass-transfer form"
    with pytest.warns(ValidityWarning, match="fast air"):
        return oppt_mass_transfer_coefficient(speed, length, mass, temperature)


ROWS = rows("vapour_evaporation.csv")


def _case(row: dict[str, str]) -> str:
    return f"{row['liquid'].split(' (')[0]}-{row['U_m_s']}-{row['length_along_flow_m']}"


CASES = sorted({_case(row) for row in ROWS})


def test_table_is_whole() -> None:
    assert len(ROWS) == 336
    assert len(CASES) == 48


@pytest.mark.parametrize("case", CASES)
def test_table(case: str) -> None:
    found = [row for row in ROWS if _case(row) == case]
    assert len({row["model"] for row in found}) == 7
    for row in found:
        vapour = _vapour(row)
        # Zeisberg, Tillner-Roth, libraries (vapour_evaporation.csv), four digits
        assert vapour.pressure == pytest.approx(float(row["partial_pressure_Pa"]), rel=2e-3)
        assert vapour.diffusion * 1e4 == pytest.approx(float(row["D_cm2_s"]), rel=DIGITS)
        viscosity = VISCOSITY[int(row["T_C"])]
        assert viscosity / vapour.diffusion == pytest.approx(float(row["Sc"]), rel=DIGITS)
        reynolds = float(row["U_m_s"]) * float(row["length_along_flow_m"]) / viscosity
        assert reynolds == pytest.approx(float(row["Re_L"]), rel=DIGITS)
        # the law named in the row (vapour_evaporation.csv)
        coefficient = _coefficient(row, vapour)
        assert coefficient * 1e3 == pytest.approx(float(row["k_mm_s"]), rel=DIGITS)
        flux = coefficient * vapour.saturation
        assert flux * 3.6e6 == pytest.approx(float(row["flux_g_m2_h"]), rel=2e-3)
        area = float(row["length_along_flow_m"]) * float(row["width_m"])
        assert flux * area * 1e3 == pytest.approx(float(row["emission_g_s"]), rel=2e-3)
        litres = flux * area / vapour.substance.molar_mass * molar_volume(vapour.temperature) * 6e4
        assert litres == pytest.approx(float(row["vapour_L_min"]), rel=2e-3)
        # film theory (vapour_evaporation.csv), three decimals
        factor = float(row["high_flux_factor_ln(1/(1-y))/y"])
        assert film_factor(vapour.fraction) == pytest.approx(factor, rel=1e-3)


def test_workplace_forms_match_their_theories() -> None:
    vapour = vapour_over("acetone", 293.15)
    mass, schmidt = vapour.substance.molar_mass, 1.516e-5 / vapour.diffusion
    # own comparison (vapour.md 3): within 16 %
    assert oppt_penetration_coefficient(0.3, 0.15, mass, 293.15) == pytest.approx(
        penetration_coefficient(0.3, 0.15, vapour.diffusion), rel=0.16
    )
    assert oppt_mass_transfer_coefficient(0.6, 0.15, mass, 293.15) == pytest.approx(
        mackay_matsugu_coefficient(0.6, 0.15, schmidt), rel=0.16
    )


def test_ranges_speak() -> None:
    with pytest.warns(ValidityWarning, match="laminar plate: Reynolds number"):
        laminar_plate_coefficient(0.0, 0.15, 1e-5, 1.5e-5)
    with pytest.warns(ValidityWarning, match="laminar plate: Reynolds number"):
        laminar_plate_coefficient(10.0, 1.0, 1e-5, 1.5e-5)
    with pytest.warns(ValidityWarning, match="slow air"):
        oppt_penetration_coefficient(0.6, 0.15, 0.058, 293.15)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: pool_coefficient(-0.1, 0.058), "speed"),
        (lambda: mackay_matsugu_coefficient(0.1, 0.0, 1.5), "length"),
        (lambda: kawamura_mackay_coefficient(0.1, 0.1, -1.0), "schmidt"),
        (lambda: penetration_coefficient(0.1, 0.1, 0.0), "diffusion"),
        (lambda: oppt_mass_transfer_coefficient(0.6, 0.1, 0.058, 30.0), "temperature"),
    ],
)
def test_impossible_arguments_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()
