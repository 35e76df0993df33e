"""Loss coefficients of perforated plates against tables and measurements."""

from __future__ import annotations

import math

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.plate_loss import (
    hole_loss,
    hole_loss_low_reynolds,
    long_orifice_discharge,
    rennels_plate_loss,
    thick_plate_loss,
    thin_plate_loss,
)


@pytest.mark.parametrize("row", rows("flow_plate_thin.csv"))
def test_thin_plate(row: dict[str, str]) -> None:
    ratio = float(row["open_area_fraction"])
    # Idelchik 1994, diagram 4-14 (flow_plate_thin.csv), strength B
    assert thin_plate_loss(ratio) == pytest.approx(float(row["zeta_idelchik"]), rel=1e-3)
    # Rennels & Hudson 2012 (flow_plate_thin.csv), strength B
    assert rennels_plate_loss(ratio, 0.0) == pytest.approx(float(row["zeta_rennels"]), rel=1e-3)


@pytest.mark.parametrize("row", rows("flow_plate_thin.csv"))
def test_correlations_of_thin_plates_differ_little(row: dict[str, str]) -> None:
    ratio = float(row["open_area_fraction"])
    # Idelchik, Rennels and ISO 5167 agree within 4.5 % (flow.md section 4), strength B
    assert thin_plate_loss(ratio) == pytest.approx(rennels_plate_loss(ratio, 0.0), rel=0.045)
    if row["zeta_iso5167"]:
        assert thin_plate_loss(ratio) == pytest.approx(float(row["zeta_iso5167"]), rel=0.045)


@pytest.mark.parametrize("row", rows("flow_plate_thick.csv"))
def test_thick_plate(row: dict[str, str]) -> None:
    ratio, thickness = float(row["open_area_fraction"]), float(row["t_over_d"])
    # Idelchik 2006, diagram 4-15 (flow_plate_thick.csv), strength B
    loss = thick_plate_loss(ratio, thickness)
    assert loss == pytest.approx(float(row["zeta_idelchik"]), rel=1e-3)
    assert loss * ratio**2 == pytest.approx(float(row["zeta_hole_idelchik"]), rel=1e-3)
    # Rennels & Hudson 2012 (flow_plate_thick.csv), strength B
    assert rennels_plate_loss(ratio, thickness) == pytest.approx(
        float(row["zeta_rennels"]), rel=1e-3
    )


@pytest.mark.parametrize("reynolds", [50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 2e4])
def test_reynolds_effect_lies_between_two_readings(reynolds: float) -> None:
    row = next(
        row
        for row in rows("flow_plate_reynolds.csv")
        if float(row["t_over_d"]) == 2.0 and float(row["Re_hole"]) == reynolds
    )
    rise = hole_loss(1e-6, 2.0, reynolds) / hole_loss(1e-6, 2.0, 1e9)
    turbulent = (0.827 - 0.0085 * 2.0) ** -2
    low, high = (
        float(row[name]) / turbulent
        for name in ("zeta_hole_lichtarowicz_ideal", "zeta_hole_lichtarowicz")
    )
    # Lichtarowicz et al. 1965, both readings of its Reynolds number (flow_plate_reynolds.csv),
    # strength B at t/d = 2; 0.2 % for its hump above Re 5000
    assert low * 0.998 <= rise <= high * 1.002


def test_loss_in_a_long_hole_stays_near_the_measured_one() -> None:
    for row in rows("flow_plate_reynolds.csv"):
        if float(row["t_over_d"]) != 2.0 or float(row["Re_hole"]) < 50.0:
            continue
        loss = hole_loss(1e-6, 2.0, float(row["Re_hole"]))
        # Lichtarowicz et al. 1965 (flow_plate_reynolds.csv), strength B; Idelchik's turbulent
        # value lies 5 % above its one
        assert loss > float(row["zeta_hole_lichtarowicz_ideal"])
        assert loss < 1.06 * float(row["zeta_hole_lichtarowicz"])


@pytest.mark.parametrize(
    "row", [row for row in rows("flow_plate_reynolds.csv") if row["zeta_hole_stokes"]]
)
def test_creeping_limit(row: dict[str, str]) -> None:
    thickness, reynolds = float(row["t_over_d"]), float(row["Re_hole"])
    exact = float(row["zeta_hole_stokes"])
    # Sampson 1891 and Poiseuille (flow_plate_reynolds.csv), strength A for Re << 1
    assert hole_loss_low_reynolds(thickness, reynolds) == pytest.approx(exact, rel=1e-4)
    assert hole_loss(1e-6, thickness, reynolds) == pytest.approx(exact, rel=0.05 * reynolds)


@pytest.mark.parametrize(("reynolds", "coefficient"), [(2e4, 0.8088166), (100.0, 0.4284155)])
def test_long_orifice(reynolds: float, coefficient: float) -> None:
    # Lichtarowicz et al. 1965, throat form as coded in a read source (flow.md section 4)
    assert long_orifice_discharge(2.0, reynolds) == pytest.approx(coefficient, abs=6e-8)


@pytest.mark.parametrize("thickness", [1.5, 2.0, 3.0])
def test_short_tube_runs_full(thickness: float) -> None:
    coefficient = math.sqrt(1.0 / (thick_plate_loss(1e-6, thickness) * 1e-12))
    # Unwin 1911, section 49 (experiments.md E08): 0.82 within 6 %
    assert coefficient == pytest.approx(0.82, rel=0.06)


def test_discharge_jumps_as_a_hole_gets_longer() -> None:
    short = (thick_plate_loss(1e-6, 0.5) * 1e-12) ** -0.5
    long = (thick_plate_loss(1e-6, 1.5) * 1e-12) ** -0.5
    # Unwin 1911, section 49 (experiments.md E08): about a third more once it runs full
    assert 1.15 < long / short < 1.4


def test_panel_of_the_trade() -> None:
    dynamic = 0.5 * 1.2 * 0.5**2
    # common practice, no source (field.md F26): 22.7 % open, K 38.85, accept 5 to 8 Pa
    assert thin_plate_loss(0.227) == pytest.approx(38.85, rel=1e-3)
    assert 5.0 < thin_plate_loss(0.227) * dynamic < 8.0
    # common practice, no source (field.md F26): 10 % 37-39 Pa, 51 % 0.56-1.5 Pa
    assert 37.0 < thin_plate_loss(0.10) * dynamic < 39.0
    assert 0.56 < thin_plate_loss(0.51) * dynamic < 1.5


@pytest.mark.parametrize("law", [thin_plate_loss, lambda f: thick_plate_loss(f, 1.5)])
def test_loss_falls_as_free_area_grows(law) -> None:
    losses = [law(0.01 * (k + 1)) for k in range(100)]
    # own limit
    assert losses == sorted(losses, reverse=True)
    assert losses[-1] >= 0.0


@pytest.mark.parametrize("ratio", [0.0, -0.1, 1.1, float("nan")])
def test_impossible_free_area_is_refused(ratio: float) -> None:
    for law in (
        thin_plate_loss,
        lambda f: thick_plate_loss(f, 1.0),
        lambda f: rennels_plate_loss(f, 1.0),
        lambda f: hole_loss(f, 1.0, 1e3),
    ):
        with pytest.raises(RangeError, match="free_area_ratio"):
            law(ratio)


@pytest.mark.parametrize(
    ("law", "arguments", "match"),
    [
        (thick_plate_loss, (0.1, 0.01), "thickness ratio"),
        (hole_loss_low_reynolds, (1.0, 5.0), "Reynolds"),
        (long_orifice_discharge, (1.0, 1e3), "length over diameter"),
        (long_orifice_discharge, (3.0, 5.0), "Reynolds"),
    ],
)
def test_extrapolation_warns(law, arguments: tuple[float, ...], match: str) -> None:
    with pytest.warns(ValidityWarning, match=match):
        law(*arguments)
