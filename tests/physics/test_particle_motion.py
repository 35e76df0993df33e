"""Slip, drag, settling, diffusion and stopping of single particles."""

from __future__ import annotations

import math
import statistics

import pytest
from fluids.drag import drag_sphere
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows
from scipy.integrate import quad

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.particle_motion import (
    BASE_AIR,
    GRAVITY,
    ParticleAir,
    brownian_diffusion,
    mean_free_path,
    relaxation_time,
    rms_displacement,
    settling_velocity,
    slip_correction,
    sphere_drag_coefficient,
    stopping_distance,
)

MECHANICS = rows("aerosol_particle_mechanics.csv")
NAMES = [row["d_um"] for row in MECHANICS]
FORMS = {"hinds": "hinds", "ar85": "allen-raabe", "davies": "davies", "kim": "kim"}


def _size(row: dict[str, str]) -> float:
    return float(row["d_um"]) * 1e-6


@pytest.mark.parametrize("row", MECHANICS, ids=NAMES)
def test_slip_of_every_set(row: dict[str, str]) -> None:
    for column, form in FORMS.items():
        path = mean_free_path(293.15) if form == "kim" else 66e-9
        # computed from the published sets, six digits (aerosol_particle_mechanics.csv)
        expected = float(row[f"slip_{column}"])
        assert slip_correction(_size(row), path, form) == pytest.approx(expected, rel=5e-6)
        # same: the sets differ by up to 3.1 %, aerosol.md 3
        assert expected == pytest.approx(slip_correction(_size(row)), rel=0.032)


@pytest.mark.parametrize("row", MECHANICS, ids=NAMES)
def test_stokes_motion(row: dict[str, str]) -> None:
    # computed, Hinds form (aerosol_particle_mechanics.csv)
    assert relaxation_time(_size(row)) == pytest.approx(float(row["tau_s"]), rel=5e-6, abs=0.0)
    stokes = relaxation_time(_size(row)) * GRAVITY
    assert stokes == pytest.approx(float(row["v_settle_m_s"]), rel=5e-6, abs=0.0)
    assert brownian_diffusion(_size(row)) == pytest.approx(float(row["D_m2_s"]), rel=5e-6, abs=0.0)
    assert 10.0 * relaxation_time(_size(row)) == pytest.approx(
        float(row["stop10_stokes_m"]), rel=5e-6, abs=0.0
    )
    assert rms_displacement(brownian_diffusion(_size(row)), 1.0) == pytest.approx(
        float(row["rms_1s_1axis_m"]), rel=5e-6
    )


@pytest.mark.parametrize("row", MECHANICS, ids=NAMES)
def test_motion_agrees_with_a_library(row: dict[str, str]) -> None:
    spread = 0.009 if float(row["d_um"]) >= 0.2 else 0.04
    # particula 0.2.10 with its own slip set, viscosity and mean free path
    # (aerosol_particle_mechanics.csv): 2.6 % at 0.1 um, 0.9 % from 0.2 um up
    assert slip_correction(_size(row)) == pytest.approx(
        float(row["particula_slip"]), rel=spread + 1e-3
    )
    assert settling_velocity(_size(row)) == pytest.approx(
        float(row["particula_v_settle"]), rel=spread
    )
    assert brownian_diffusion(_size(row)) == pytest.approx(
        float(row["particula_D"]), rel=spread, abs=0.0
    )


@pytest.mark.parametrize("row", MECHANICS, ids=NAMES)
def test_inertia_slows_the_fall_a_little(row: dict[str, str]) -> None:
    speed = settling_velocity(_size(row))
    # Stokes law is good to 20 um, Re 0.016 (aerosol.md 3): 0.9 % here
    assert speed == pytest.approx(float(row["v_settle_m_s"]), rel=0.0092)
    reynolds = BASE_AIR.density * speed * _size(row) / BASE_AIR.viscosity
    slip = slip_correction(_size(row))
    weight = 1000.0 * math.pi / 6.0 * _size(row) ** 3 * GRAVITY
    drag = sphere_drag_coefficient(reynolds) / slip * math.pi / 4.0 * _size(row) ** 2
    # own balance: drag equals weight
    assert drag * 0.5 * BASE_AIR.density * speed**2 == pytest.approx(weight, rel=1e-10, abs=0.0)


@pytest.mark.parametrize("row", MECHANICS, ids=NAMES)
def test_stopping_distance(row: dict[str, str]) -> None:
    distance = stopping_distance(_size(row), 10.0)
    # standard drag curve of fluids 1.3.1 integrated (aerosol_particle_mechanics.csv); the drag
    # law here lies up to 4 % above that curve below Re 10
    assert distance == pytest.approx(float(row["stop10_num_m"]), rel=0.04)
    assert distance < float(row["stop10_stokes_m"])


def test_stopping_distance_is_the_integral() -> None:
    scale = BASE_AIR.density * 1e-5 / BASE_AIR.viscosity
    time = relaxation_time(1e-5)
    judge = quad(lambda v: time / (1.0 + 0.15 * (scale * v) ** 0.687), 0.0, 10.0, epsrel=1e-10)[0]
    # own integral, adaptive
    assert stopping_distance(1e-5, 10.0) == pytest.approx(judge, rel=1e-8)
    assert stopping_distance(1e-5, 0.0) == 0.0


def test_schmidt_number() -> None:
    for row in MECHANICS:
        schmidt = 1.81e-5 / 1.204 / brownian_diffusion(_size(row))
        # computed (aerosol_particle_mechanics.csv)
        assert schmidt == pytest.approx(float(row["Schmidt"]), rel=5e-6)


@pytest.mark.parametrize("row", rows("aerosol_slip_seinfeld_pandis.csv"))
def test_published_slip(row: dict[str, str]) -> None:
    slips = {name: slip_correction(_size(row), 65.1e-9, form) for name, form in FORMS.items()}
    # Seinfeld & Pandis 2006, table 9.3 (aerosol_slip_seinfeld_pandis.csv): Davies within 0.4 %,
    # every set within 3 %
    assert slips["davies"] == pytest.approx(float(row["slip_published"]), rel=4.2e-3)
    for name, slip in slips.items():
        assert slip == pytest.approx(float(row["slip_published"]), rel=0.03)
        # computed (same file)
        assert slip == pytest.approx(float(row[f"slip_{name}"]), rel=5e-6)


@pytest.mark.parametrize("row", rows("experiments_sphere_drag.csv"))
def test_measured_drag(row: dict[str, str]) -> None:
    ratio = float(row["Cd_measured"]) / sphere_drag_coefficient(float(row["Re"]))
    # Roos & Willmarth 1971 (experiments_sphere_drag.csv), E04: each point within 15 %
    assert ratio == pytest.approx(1.0, abs=0.15)
    # same file: our own formula, to its printed digits
    assert sphere_drag_coefficient(float(row["Re"])) == pytest.approx(
        float(row["Cd_schiller_naumann"]), abs=6e-5
    )


def test_measured_drag_on_average() -> None:
    table = rows("experiments_sphere_drag.csv")
    ratios = [float(r["Cd_measured"]) / sphere_drag_coefficient(float(r["Re"])) for r in table]
    # Roos & Willmarth 1971 (experiments_sphere_drag.csv), E04: mean within 5 %
    assert statistics.fmean(ratios) == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("reynolds", [0.1, 1.0, 10.0, 100.0, 900.0])
def test_drag_agrees_with_a_library(reynolds: float) -> None:
    # fluids: standard drag curve
    assert sphere_drag_coefficient(reynolds) == pytest.approx(drag_sphere(reynolds), rel=0.06)


def test_mean_free_path() -> None:
    # Kim et al. 2005 (aerosol.md 3): 67.3 nm at 23 C, 66.43 nm at 20 C
    assert mean_free_path(296.15) == pytest.approx(67.3e-9, rel=1e-12)
    assert mean_free_path(293.15) == pytest.approx(66.43e-9, abs=0.005e-9)
    # own limit: inverse in pressure
    assert mean_free_path(293.15, 50662.5) == pytest.approx(2.0 * mean_free_path(293.15))


@settings(deadline=None, max_examples=60, derandomize=True)
@given(power=st.floats(-8.0, -4.1), growth=st.floats(1.01, 1.2))
def test_trends_with_size(power: float, growth: float) -> None:
    small, large = 10.0**power, 10.0**power * growth
    # own limits: slip and diffusion fall, settling rises
    assert slip_correction(small) > slip_correction(large) > 1.0
    assert brownian_diffusion(small) > brownian_diffusion(large)
    assert settling_velocity(small) < settling_velocity(large)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: slip_correction(0.0), "diameter is 0"),
        (lambda: slip_correction(-1e-6), "diameter"),
        (lambda: slip_correction(1e-6, form="other"), "slip form"),
        (lambda: settling_velocity(1e-6, density=0.0), "density"),
        (lambda: sphere_drag_coefficient(0.0), "reynolds"),
        (lambda: mean_free_path(0.0), "temperature"),
        (lambda: stopping_distance(1e-6, -1.0), "speed"),
        (lambda: rms_displacement(-1.0, 1.0), "diffusion"),
        (lambda: ParticleAir(viscosity=0.0), "viscosity"),
    ],
)
def test_impossible_particles_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: slip_correction(1e-9), "diameter in m 1e-09"),
        (lambda: slip_correction(2e-4), "diameter"),
        (lambda: sphere_drag_coefficient(2000.0), "Reynolds"),
        (lambda: mean_free_path(500.0), "temperature"),
        (lambda: stopping_distance(1e-4, 1000.0), "stopping"),
        (lambda: settling_velocity(1e-4, density=4e7), "settling"),
    ],
)
def test_extrapolation_warns(call, match: str) -> None:
    with pytest.warns(ValidityWarning, match=match):
        call()
