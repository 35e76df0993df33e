"""Diffusion against an inflow, and the exchange of an opening with reversals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows
from scipy.integrate import quad
from scipy.stats import norm

from flowsim.errors import RangeError
from flowsim.physics.opening_exchange import (
    back_diffusion_flux,
    exchange_velocity,
    leak_fraction,
    reversal_speed,
    slit_profile,
)

CHECK = settings(deadline=None, max_examples=60, derandomize=True)


@pytest.mark.parametrize("row", rows("vapour_backdiffusion.csv"))
def test_back_diffusion(row: dict[str, str]) -> None:
    peclet = float(row["Pe"])
    if row["U_m_s"]:
        speed, depth = float(row["U_m_s"]), float(row["L_m"])
        diffusion = speed * depth / peclet
        # five digits; the diffusion coefficient stands rounded in the row
        assert diffusion == pytest.approx(float(row["D_m2_s"]), rel=2e-3)
        digits = 5e-5 * max(peclet, 1.0)
    else:
        speed, depth, diffusion, digits = 1.0, 1.0, 1.0 / peclet, 5e-6 * max(peclet, 1.0)
    # exact solution in one dimension (vapour_backdiffusion.csv)
    leak = leak_fraction(speed, depth, diffusion)
    assert leak == pytest.approx(
        float(row["J_over_U_C0 (=leak fraction of inflow)"]), rel=digits, abs=0.0
    )
    flux = back_diffusion_flux(2.0, speed, depth, diffusion) / (2.0 * diffusion / depth)
    expected = float(row["J_over_pure_diffusion_flux_DC0_L"])
    assert flux == pytest.approx(expected, rel=digits, abs=0.0)
    middle = slit_profile(0.5 * depth, speed, depth, diffusion)
    assert middle == pytest.approx(float(row["C_mid_over_C0"]), rel=digits, abs=0.0)


def test_back_diffusion_limits() -> None:
    # limits: pure diffusion, pure outflow, ends of the profile
    assert back_diffusion_flux(3.0, 0.0, 0.1, 1e-3) == pytest.approx(3.0 * 1e-3 / 0.1)
    assert back_diffusion_flux(3.0, 1e-12, 0.1, 1e-3) == pytest.approx(0.03, rel=1e-9)
    assert back_diffusion_flux(3.0, -50.0, 0.1, 1e-3) == pytest.approx(150.0)
    assert back_diffusion_flux(3.0, 1e6, 0.1, 1e-3) == 0.0
    assert leak_fraction(1e6, 0.1, 1e-3) == 0.0
    assert slit_profile(0.0, 0.1, 0.1, 1e-3) == 1.0
    assert slit_profile(0.1, 0.1, 0.1, 1e-3) == 0.0


@pytest.mark.parametrize(("share", "peclet"), [(1e-4, 9.2104), (1e-5, 11.5129)])
def test_needed_inflow(share: float, peclet: float) -> None:
    # exact (vapour.md 4.1)
    assert leak_fraction(peclet, 1.0, 1.0) == pytest.approx(share, rel=1e-4)


@CHECK
@given(speed=st.floats(0.01, 3.0), position=st.floats(0.01, 0.99))
def test_profile_carries_the_flux(speed: float, position: float) -> None:
    depth, diffusion, step = 0.1, 5e-3, 1e-6
    ends = [position * depth - step, position * depth + step]
    low, high = (slit_profile(x, speed, depth, diffusion) for x in ends)
    slope = (high - low) / (ends[1] - ends[0])
    mean = slit_profile(sum(ends) / 2.0, speed, depth, diffusion)
    flux = -diffusion * slope - speed * mean
    # conservation: diffusion outward less advection inward is the same everywhere
    expected = back_diffusion_flux(1.0, speed, depth, diffusion)
    assert flux == pytest.approx(expected, rel=1e-6, abs=1e-6 * speed)


def test_exchange_at_rest_and_at_three_deviations() -> None:
    # own derivation (design: exchange of an opening): 0.399 S and 3.82e-4 S
    assert exchange_velocity(0.0, 2.0) == pytest.approx(2.0 * 0.39894228, rel=1e-7)
    assert exchange_velocity(3.0, 1.0) == pytest.approx(3.8215e-4, rel=1e-4)
    assert exchange_velocity(0.9, 0.3) == pytest.approx(0.3 * 3.8215e-4, rel=1e-4)


@CHECK
@given(speed=st.floats(-3.0, 3.0), reversal=st.floats(0.05, 1.0))
def test_exchange_is_the_mean_of_the_reversed_part(speed: float, reversal: float) -> None:
    def against(velocity: float) -> float:
        return max(-velocity, 0.0) * norm.pdf(velocity, abs(speed), reversal)

    # definition: mean of the part of a normal velocity that runs against its mean
    mean = quad(against, -12.0 * reversal, 0.0, epsabs=1e-14)[0]
    assert exchange_velocity(speed, reversal) == pytest.approx(mean, rel=1e-6, abs=1e-13)


def test_exchange_of_arrays() -> None:
    speed = np.array([[0.0, 0.2, -0.2], [5.0, -50.0, 1e6]])
    reversal = np.array([[0.0, 0.1, 0.1], [0.1, 0.1, 0.1]])
    found = exchange_velocity(speed, reversal)
    assert found.shape == speed.shape
    assert found[0, 0] == 0.0
    assert found[0, 1] == found[0, 2] > 0.0
    assert (found[1] >= 0.0).all()
    assert (found[1] < 1e-100).all()
    # more reversal means more exchange
    assert (np.diff(exchange_velocity(0.3, np.linspace(0.01, 1.0, 50))) > 0.0).all()
    assert (np.diff(exchange_velocity(np.linspace(0.0, 1.0, 50), 0.1)) < 0.0).all()


def test_sleeve_damps() -> None:
    open_front = exchange_velocity(0.2, 0.1)
    # definition: exp(-v l/(S e))
    assert exchange_velocity(0.2, 0.1, 0.05) == pytest.approx(open_front * math.exp(-2.0))
    assert exchange_velocity(0.0, 0.1, 0.05) == exchange_velocity(0.0, 0.1)


def test_reversal_speed() -> None:
    # definition: tenth of the speed along, intensity, half the draught
    assert reversal_speed(0.0, 1.0, 0.0, 0.0) == pytest.approx(0.1)
    assert reversal_speed(2.0, 0.0, 0.2, 0.0) == pytest.approx(0.4)
    assert reversal_speed(-2.0, 3.0, 0.2, 0.0) == pytest.approx(0.5)
    assert reversal_speed(0.0, 0.0, 0.0, 0.3) == pytest.approx(0.15)
    assert reversal_speed(np.zeros(3), np.ones(3), 0.1, 0.0).shape == (3,)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: leak_fraction(0.0, 0.1, 1e-5), "inflow"),
        (lambda: back_diffusion_flux(1.0, math.nan, 0.1, 1e-5), "inflow is nan"),
        (lambda: back_diffusion_flux(-1.0, 0.1, 0.1, 1e-5), "concentration"),
        (lambda: slit_profile(0.2, 0.1, 0.1, 1e-5), "position"),
        (lambda: exchange_velocity(0.1, -0.1), "reversal 0 or more"),
        (lambda: exchange_velocity(math.inf, 0.1), "finite"),
        (lambda: exchange_velocity(0.1, 0.1, 0.1, 0.0), "eddy"),
        (lambda: reversal_speed(0.1, 0.1, -0.1, 0.0), "turbulence"),
    ],
)
def test_impossible_arguments_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()
