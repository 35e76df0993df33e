"""Friction factors against tables, an open library and measurements."""

from __future__ import annotations

import statistics

import fluids.friction
import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.friction import (
    churchill_with_slope,
    friction_factor_churchill,
    friction_factor_colebrook,
    friction_factor_haaland,
    friction_factor_laminar,
    hydraulic_diameter,
    rectangular_laminar_product,
)

TABLE = rows("flow_friction.csv")
LAWS = {
    "f_colebrook": friction_factor_colebrook,
    "f_churchill1977": friction_factor_churchill,
    "f_haaland": friction_factor_haaland,
}
CASES = [
    (name, float(row["Re"]), float(row["eps_over_D"]), float(row[name]))
    for row in TABLE
    for name in LAWS
    if row[name]
]


@pytest.mark.parametrize(("name", "reynolds", "roughness", "factor"), CASES)
def test_friction_meets_the_table(
    name: str, reynolds: float, roughness: float, factor: float
) -> None:
    # Colebrook 1939, Churchill 1977, Haaland (flow_friction.csv), strength A
    assert LAWS[name](reynolds, roughness) == pytest.approx(factor, abs=6e-9)


@pytest.mark.parametrize("row", [row for row in TABLE if float(row["Re"]) <= 2000.0])
def test_laminar_friction_meets_the_table(row: dict[str, str]) -> None:
    # f = 64/Re (flow_friction.csv), strength A
    assert friction_factor_laminar(float(row["Re"])) == pytest.approx(
        float(row["f_laminar"]), abs=6e-9
    )


@pytest.mark.parametrize("reynolds", [4e3, 2.3e4, 1.7e5, 1e6, 5e7])
@pytest.mark.parametrize("roughness", [0.0, 1e-5, 1e-3, 0.04])
def test_friction_equals_the_open_library(reynolds: float, roughness: float) -> None:
    # Colebrook 1939, Churchill 1977, Haaland by `fluids`, strength A
    assert friction_factor_colebrook(reynolds, roughness) == pytest.approx(
        fluids.friction.Colebrook(reynolds, roughness), rel=1e-6
    )
    assert friction_factor_churchill(reynolds, roughness) == pytest.approx(
        fluids.friction.Churchill_1977(reynolds, roughness), rel=1e-6
    )
    assert friction_factor_haaland(reynolds, roughness) == pytest.approx(
        fluids.friction.Haaland(reynolds, roughness), rel=1e-6
    )


@pytest.mark.parametrize("reynolds", [1e-3, 40.0, 99.999, 100.0, 1500.0, 2500.0, 3400.0])
def test_churchill_equals_the_open_library_below_turbulence(reynolds: float) -> None:
    # Churchill 1977 by `fluids`, strength A
    assert friction_factor_churchill(reynolds, 1e-3) == pytest.approx(
        fluids.friction.Churchill_1977(reynolds, 1e-3), rel=1e-6
    )


@pytest.mark.parametrize("reynolds", [50.0, 1e3, 2.2e3, 2.9e3, 5e3, 1e5, 1e7])
@pytest.mark.parametrize("roughness", [0.0, 1e-3, 0.05])
def test_slope_of_churchill_is_its_derivative(reynolds: float, roughness: float) -> None:
    step = 1e-5
    ahead = churchill_with_slope(reynolds * (1.0 + step), roughness, 80.0)[0]
    behind = churchill_with_slope(reynolds * (1.0 - step), roughness, 80.0)[0]
    factor, slope = churchill_with_slope(reynolds, roughness, 80.0)
    # own derivation against a central difference
    assert slope == pytest.approx((ahead - behind) / (2.0 * step * factor), abs=1e-7)


@pytest.mark.parametrize(
    ("aspect", "product"),
    [
        (1.0, 56.9083),
        (0.5, 62.1922),
        (0.25, 72.9311),
        (1.0 / 8.0, 82.3386),
        (0.1, 84.6755),
        (0.0, 96.0),
    ],
)
def test_rectangular_laminar_product(aspect: float, product: float) -> None:
    # exact series (flow.md section 2), strength A
    assert rectangular_laminar_product(aspect) == pytest.approx(product, abs=6e-5)


def test_aspect_may_be_given_either_way() -> None:
    # symmetry
    assert rectangular_laminar_product(4.0) == rectangular_laminar_product(0.25)


def test_hydraulic_diameter_of_a_square_is_its_side() -> None:
    # definition
    assert hydraulic_diameter(0.04, 0.8) == pytest.approx(0.2)


def test_measured_duct_friction_of_air() -> None:
    worst = {"round": 0.0, "rectangular": 0.0}
    for row in rows("experiments_duct_air.csv"):
        ratio = float(row["f_darcy_measured"]) / friction_factor_colebrook(float(row["Re"]))
        worst[row["duct"]] = max(worst[row["duct"]], abs(ratio - 1.0))
    # Huebscher 1947 (experiments_duct_air.csv), E01: round within 8 %, 8:1 within 12 %, smooth
    assert worst["round"] < 0.08
    assert worst["rectangular"] < 0.12


WATER = rows("experiments_duct_water.csv")


def test_measured_laminar_friction_of_a_rectangle() -> None:
    products = [float(row["f_Re"]) for row in WATER if row["regime"] == "laminar"]
    exact = rectangular_laminar_product(0.404 / 1.178)
    assert len(products) == 19
    # Cornish 1928 (experiments_duct_water.csv), E02: laminar mean within 2 %
    assert statistics.fmean(products) == pytest.approx(exact, rel=0.02)


def test_measured_turbulent_friction_of_a_rectangle() -> None:
    turbulent = [row for row in WATER if row["regime"] == "turbulent"]
    assert len(turbulent) == 35
    for row in turbulent:
        factor = friction_factor_colebrook(float(row["Re_Dh"]))
        # Cornish 1928 (experiments_duct_water.csv), E02: turbulent each within 6 %
        assert float(row["f_darcy"]) == pytest.approx(factor, rel=0.06)


@pytest.mark.parametrize(
    ("law", "arguments", "match"),
    [
        (friction_factor_laminar, (3000.0,), "Reynolds"),
        (friction_factor_colebrook, (3000.0,), "Reynolds"),
        (friction_factor_haaland, (1e9,), "Reynolds"),
        (friction_factor_churchill, (1e5, 0.06), "roughness"),
    ],
)
def test_extrapolation_warns(law, arguments: tuple[float, ...], match: str) -> None:
    with pytest.warns(ValidityWarning, match=match):
        law(*arguments)


@pytest.mark.parametrize(
    ("law", "arguments", "match"),
    [
        (friction_factor_laminar, (0.0,), "reynolds"),
        (friction_factor_colebrook, (-1.0,), "reynolds"),
        (friction_factor_haaland, (1e5, 0.3), "relative_roughness"),
        (friction_factor_churchill, (1e5, -0.1), "relative_roughness"),
        (rectangular_laminar_product, (-1.0,), "aspect"),
        (hydraulic_diameter, (1.0, 0.0), "perimeter"),
    ],
)
def test_impossible_friction_is_refused(law, arguments: tuple[float, ...], match: str) -> None:
    with pytest.raises(RangeError, match=match):
        law(*arguments)
