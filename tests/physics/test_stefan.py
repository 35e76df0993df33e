"""Diffusion tube and film factor."""

from __future__ import annotations

import math

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.stefan import film_factor, stefan_flux
from flowsim.physics.substances import GAS_CONSTANT, substance
from flowsim.physics.vapour import vapour_over


@pytest.mark.parametrize("row", rows("vapour_stefan.csv"))
def test_diffusion_tube(row: dict[str, str]) -> None:
    temperature, depth = 273.15 + float(row["T_C"]), float(row["depth_m"])
    vapour = vapour_over(row["liquid"], temperature)
    assert vapour.pressure == pytest.approx(float(row["p_s_Pa"]), rel=1e-4)
    assert vapour.diffusion * 1e4 == pytest.approx(float(row["D_cm2_s"]), rel=7e-4)
    mass = vapour.substance.molar_mass
    # Stefan's tube, computed from the equation (vapour_stefan.csv), four digits
    flux = stefan_flux(mass, (vapour.fraction, 0.0), vapour.diffusion, depth, temperature)
    assert flux * 3.6e6 == pytest.approx(float(row["flux_g_m2_h"]), rel=1e-3)
    thin = vapour.diffusion * vapour.saturation / depth * 3.6e6
    assert thin == pytest.approx(float(row["flux_g_m2_h_without_the_log_(dilute)"]), rel=1e-3)


def test_tube_is_the_closed_form() -> None:
    surface, rim, total = 0.4, 0.1, 101325.0
    mass = substance("acetone").molar_mass
    flux = stefan_flux(mass, (surface, rim), 1e-5, 0.05, 293.15)
    # exact: N = D P/(R T h) ln((P - p_top)/(P - p_s))
    form = 1e-5 * total / (GAS_CONSTANT * 293.15 * 0.05) * math.log((1 - rim) / (1 - surface))
    assert flux == pytest.approx(mass * form, rel=1e-14, abs=0.0)
    back = stefan_flux(mass, (rim, surface), 1e-5, 0.05, 293.15)
    assert back == pytest.approx(-flux, rel=1e-14, abs=0.0)


def test_film_factor_limits() -> None:
    # limits: dilute, equal, and symmetric in its two ends
    assert film_factor(0.0) == 1.0
    assert film_factor(0.3, 0.3) == pytest.approx(1.0 / 0.7, rel=1e-15)
    assert film_factor(0.3, 0.3 - 1e-9) == pytest.approx(1.0 / 0.7, rel=1e-8)
    assert film_factor(0.3, 0.1) == pytest.approx(film_factor(0.1, 0.3), rel=1e-14)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: film_factor(1.0), "surface share"),
        (lambda: film_factor(0.2, -0.1), "outer share"),
        (lambda: stefan_flux(0.05, (0.2, 0.0), 1e-5, 0.0, 293.15), "depth"),
    ],
)
def test_impossible_arguments_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()
