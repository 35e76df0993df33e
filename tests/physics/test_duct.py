"""The law of a duct run."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.duct import DuctRun, friction_factor_churchill

RUN = DuctRun(
    area=0.0314,
    hydraulic_diameter=0.2,
    length=6.0,
    roughness=1.5e-4,
    loss=2.0,
    density=1.204,
    viscosity=1.813e-5,
)
FLOWS = st.floats(-9.0, 1.0).map(lambda power: 10.0**power)


def test_drop_is_friction_and_fittings() -> None:
    flow = 0.1
    speed = flow / RUN.area
    factor = friction_factor_churchill(RUN.reynolds(flow), RUN.roughness / 0.2)
    expected = (factor * 30.0 + 2.0) * 0.5 * RUN.density * speed**2
    # definition of the friction factor; the smoothing at Re 42,000 adds less than 3e-7
    assert RUN.drop(flow)[0] == pytest.approx(expected, rel=3e-7)


def test_laminar_drop_uses_the_section() -> None:
    run = replace(RUN, loss=0.0, laminar_product=56.9083)
    flow = 500.0 / RUN.reynolds(1.0)
    speed = flow / RUN.area
    # exact laminar friction of a square duct (flow.md section 2), strength A
    expected = 56.9083 / 500.0 * 30.0 * 0.5 * RUN.density * speed**2
    assert run.drop(flow)[0] == pytest.approx(expected, rel=1e-6)


def test_bathroom_fan_duct() -> None:
    run = DuctRun(0.007854, 0.1, 9.14, 0.0, 2.7, 1.2, 1.8e-5, friction_factor=0.03)
    # common practice, no source (field.md F08)
    assert run.drop(0.02447)[0] == pytest.approx(31.7, rel=0.01)


def test_claimed_flow_needs_a_huge_pressure() -> None:
    run = DuctRun(0.032429, 0.2032, 9.144, 0.0, 1.0, 1.2, 1.8e-5, friction_factor=0.02)
    # common practice, no source (field.md F09): dynamic 794 Pa and friction 715 Pa
    assert run.drop(1.18)[0] == pytest.approx(794.0 + 715.0, rel=0.01)


@pytest.mark.parametrize(
    ("friction", "loss", "ratio"), [(0.03, 1.5, 1.55), (0.08, 1.5, 2.08), (0.08, 0.0, 2.28)]
)
def test_shorter_duct_gives_at_most_twice_the_air(
    friction: float, loss: float, ratio: float
) -> None:
    elbows = 1.6 if loss == 0.0 else 0.0
    long = DuctRun(0.01824, 0.1524, 12.192, 0.0, 1.5 + elbows, 1.2, 1.8e-5, friction)
    short = DuctRun(0.01824, 0.1524, 0.6096, 0.0, 1.5, 1.2, 1.8e-5, friction)
    # common practice, no source (field.md F11): sqrt(K_long/K_short)
    assert (long.drop(0.1)[0] / short.drop(0.1)[0]) ** 0.5 == pytest.approx(ratio, rel=0.01)


def test_measured_pressure_gradient_of_air() -> None:
    for row in rows("experiments_duct_air.csv"):
        if row["duct"] != "round":
            continue
        density, diameter = float(row["rho_kg_m3"]), float(row["Dh_m"])
        viscosity = density * float(row["V_m_s"]) * diameter / float(row["Re"])
        run = DuctRun(0.0326, diameter, 1.0, 0.0, 0.0, density, viscosity)
        drop = run.drop(float(row["V_m_s"]) * 0.0326)[0]
        # Huebscher 1947 (experiments_duct_air.csv), E01: all round points within 8 %, smooth
        assert float(row["dp_per_m_Pa"]) == pytest.approx(drop, rel=0.08)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(flow=FLOWS, length=st.sampled_from([0.0, 6.0]), fixed=st.sampled_from([None, 0.02]))
def test_slope_is_the_derivative(flow: float, length: float, fixed: float | None) -> None:
    run = replace(RUN, length=length, friction_factor=fixed)
    step = 1e-5 * flow
    difference = (run.drop(flow + step)[0] - run.drop(flow - step)[0]) / (2.0 * step)
    # own derivation against a central difference
    assert run.drop(flow)[1] == pytest.approx(difference, rel=1e-6)


@settings(deadline=None, max_examples=100, derandomize=True)
@given(flow=FLOWS, growth=st.floats(1e-4, 2.0), loss=st.sampled_from([0.0, 2.0]))
def test_drop_is_odd_and_rises_strictly(flow: float, growth: float, loss: float) -> None:
    run = replace(RUN, loss=loss)
    assert run.drop(-flow) == (-run.drop(flow)[0], run.drop(flow)[1])
    assert run.drop(flow * (1.0 + growth))[0] > run.drop(flow)[0]


def test_slope_is_finite_at_rest() -> None:
    drop, slope = replace(RUN, length=0.0).drop(0.0)
    assert drop == 0.0
    assert slope > 0.0


@pytest.mark.parametrize(
    ("run", "reynolds", "match"),
    [
        (RUN, 3000.0, "between laminar and turbulent"),
        (replace(RUN, roughness=0.02), 1e5, "5 % of the diameter"),
        (RUN, 1e6, "speed of sound"),
    ],
)
def test_doubts_are_told(run: DuctRun, reynolds: float, match: str) -> None:
    assert match in " ".join(run.validity(reynolds / RUN.reynolds(1.0)))


def test_ordinary_flow_raises_no_doubt() -> None:
    assert RUN.validity(0.1) == ()


@pytest.mark.parametrize("name", ["area", "hydraulic_diameter", "density", "viscosity"])
def test_impossible_ducts_are_refused(name: str) -> None:
    with pytest.raises(RangeError, match=name):
        replace(RUN, **{name: 0.0})


@pytest.mark.parametrize("name", ["length", "roughness", "loss", "friction_factor"])
def test_negative_parts_are_refused(name: str) -> None:
    with pytest.raises(RangeError, match=name):
        replace(RUN, **{name: -1.0})
