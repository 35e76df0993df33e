"""Loss coefficients of fittings against an open library and measurements."""

from __future__ import annotations

from math import degrees, pi, radians, sqrt

import fluids.fittings
import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.fittings import (
    bend_rounded,
    damper,
    entrance_orifice,
    entrance_rounded,
    entrance_sharp,
    exit_loss,
    mitre,
    sudden_contraction,
    sudden_expansion,
)
from flowsim.physics.friction import friction_factor_colebrook


def test_sharp_entrance() -> None:
    # Idelchik by `fluids`, strength B
    assert entrance_sharp() == fluids.fittings.entrance_sharp(method="Idelchik")
    # plain pipe entrance 0.505 of Unwin 1911 (experiments.md E06), allow 3 %
    assert entrance_sharp() == pytest.approx(0.505, rel=0.03)


@pytest.mark.parametrize("ratio", [0.0, 0.02, 0.05, 0.1, 0.2, 0.7, 1.0, 1.5])
def test_rounded_entrance(ratio: float) -> None:
    # Rennels & Hudson 2012 by `fluids`, strength B
    assert entrance_rounded(ratio) == pytest.approx(
        fluids.fittings.entrance_rounded(Di=1.0, rc=ratio, method="Rennels"), rel=1e-6
    )


def test_exit_loses_the_dynamic_pressure() -> None:
    # `fluids`, strength A
    assert exit_loss() == fluids.fittings.exit_normal()


@pytest.mark.parametrize("ratio", [0.1, 0.2, 0.4, 0.6, 0.8, 1.0])
def test_sudden_changes_of_area(ratio: float) -> None:
    small, large = sqrt(ratio), 1.0
    # Borda and Carnot by `fluids`, strength A
    assert sudden_expansion(ratio) == pytest.approx(
        fluids.fittings.diffuser_sharp(small, large), rel=1e-6, abs=1e-15
    )
    # Rennels & Hudson 2012 by `fluids`, strength B
    assert sudden_contraction(ratio) == pytest.approx(
        fluids.fittings.contraction_sharp(large, small), rel=1e-6, abs=1e-15
    )


@pytest.mark.parametrize("angle", [20.0, 45.0, 90.0, 180.0])
@pytest.mark.parametrize("ratio", [0.5, 0.75, 1.0, 1.5, 2.0])
def test_rounded_bend(angle: float, ratio: float) -> None:
    # Rennels & Hudson 2012 by `fluids`, strength B
    expected = fluids.fittings.bend_rounded(
        Di=1.0, angle=angle, fd=friction_factor_colebrook(5e4), rc=ratio, method="Rennels"
    )
    assert bend_rounded(radians(angle), ratio) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("ratio", "loss"), [(0.5, 0.979), (0.75, 0.511), (1.0, 0.353), (1.5, 0.251), (2.0, 0.226)]
)
def test_right_angle_bend(ratio: float, loss: float) -> None:
    # Rennels at Re 5e4 (flow.md section 2), strength B; the table's friction is 0.3 % higher
    assert bend_rounded(pi / 2, ratio) == pytest.approx(loss, rel=4e-3)


@pytest.mark.parametrize("angle", [15.0, 45.0, 90.0, 120.0])
def test_mitre(angle: float) -> None:
    # Rennels & Hudson 2012 by `fluids`, strength C at 90 degrees (0.98 to 1.45)
    assert mitre(radians(angle)) == pytest.approx(
        fluids.fittings.bend_miter(angle, method="Rennels"), rel=1e-6
    )


def test_damper_rises_from_nothing() -> None:
    losses = [damper(radians(angle)) for angle in range(71)]
    # own limit: an open blade costs nothing, closing it never helps
    assert losses[0] == 0.0
    assert losses == sorted(losses)


def test_damper_meets_its_table() -> None:
    # from memory (Weisbach, throttle valve), plausibility only
    assert damper(radians(45.0)) == pytest.approx(18.7, rel=1e-9)


@pytest.mark.parametrize("row", rows("experiments_orifice_entrance.csv"))
def test_measured_opening_at_the_mouth_of_a_duct(row: dict[str, str]) -> None:
    model, measured = entrance_orifice(float(row["f"])), float(row["zeta_pipe_measured"])
    # Weisbach in Unwin 1911 (experiments_orifice_entrance.csv), E06: within 20 %, model high
    assert measured < model < 1.2 * measured


def test_opening_as_wide_as_the_duct_is_a_sharp_entrance() -> None:
    # own limit
    assert entrance_orifice(1.0) == pytest.approx(entrance_sharp(), abs=2e-4)


@pytest.mark.parametrize(
    ("law", "arguments", "match"),
    [
        (bend_rounded, (pi / 2, 0.4), "radius ratio"),
        (bend_rounded, (1.5 * pi, 1.0), "angle"),
        (mitre, (radians(170.0),), "angle"),
        (damper, (radians(75.0),), "angle"),
    ],
)
def test_extrapolation_warns(law, arguments: tuple[float, ...], match: str) -> None:
    with pytest.warns(ValidityWarning, match=match):
        law(*arguments)


@pytest.mark.parametrize(
    ("law", "arguments", "match"),
    [
        (entrance_rounded, (-0.1,), "radius_ratio"),
        (entrance_orifice, (0.0,), "area_ratio"),
        (sudden_expansion, (1.1,), "area_ratio"),
        (sudden_contraction, (-0.1,), "area_ratio"),
        (bend_rounded, (-1.0, 1.0), "angle"),
        (bend_rounded, (1.0, 0.0), "radius_ratio"),
        (mitre, (degrees(1.0),), "angle"),
        (damper, (pi / 2,), "shut damper"),
        (damper, (-0.1,), "angle"),
    ],
)
def test_impossible_fittings_are_refused(law, arguments: tuple[float, ...], match: str) -> None:
    with pytest.raises(RangeError, match=match):
        law(*arguments)
