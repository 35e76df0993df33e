"""Sampling volume and counting statistics."""

from __future__ import annotations

import math

import pytest
from reference_data import rows
from scipy.stats import chi2, poisson

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.cleanroom_class import iso_limit
from flowsim.physics.fs209e import CUBIC_FOOT
from flowsim.physics.particle_count import (
    count_limits,
    count_upper_limit,
    pass_probability,
    relative_count_deviation,
    sampling_time,
    sampling_volume,
    zero_count_volume,
)


@pytest.mark.parametrize("row", rows("aerosol_sampling_volume.csv"))
def test_sampling_table(row: dict[str, str]) -> None:
    number, size = int(row["iso_class"]), float(row["size_um"]) * 1e-6
    limit = iso_limit(number, size, 1999)
    # ISO 14644-1 limits; 5 um of class 5 from the edition of 1999 (aerosol_sampling_volume.csv)
    assert limit == float(row["limit_per_m3"])
    # rule from memory, computed (same file)
    assert sampling_volume(limit, 0.0) * 1e3 == pytest.approx(float(row["V_formula_L"]), rel=5e-6)
    assert sampling_volume(limit) * 1e3 == pytest.approx(float(row["V_used_L"]), rel=5e-6)
    # same: counters of 0.1 and 1 cubic foot a minute, the foot rounded there
    for litres, cubic_feet in (("2.83", 0.1), ("28.3", 1.0)):
        minutes = sampling_time(limit, cubic_feet * CUBIC_FOOT / 60.0) / 60.0
        assert minutes == pytest.approx(float(row[f"min_at_{litres}_L_min"]), rel=1e-5)
    assert zero_count_volume(limit) * 1e3 == pytest.approx(float(row["zero_count_V_L"]), rel=5e-6)


@pytest.mark.parametrize("row", rows("aerosol_poisson.csv"))
def test_poisson_table(row: dict[str, str]) -> None:
    count = int(row["count"])
    # exact limits of Garwood (aerosol_poisson.csv)
    expected = (float(row["lo95"]), float(row["hi95"]))
    assert count_limits(count) == pytest.approx(expected, rel=5e-6)
    assert count_upper_limit(count) == pytest.approx(float(row["upper95_onesided"]), rel=5e-6)
    deviation = 100.0 * relative_count_deviation(count)
    if row["rel_std_pct"]:
        assert deviation == pytest.approx(float(row["rel_std_pct"]), rel=5e-6)
    else:
        assert deviation == math.inf


@pytest.mark.parametrize("count", [1, 7, 33])
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_limits_leave_their_tails(count: int, confidence: float) -> None:
    lower, upper = count_limits(count, confidence)
    tail = 0.5 * (1.0 - confidence)
    # definition, by the sums of scipy
    assert poisson.sf(count - 1, lower) == pytest.approx(tail, rel=1e-9)
    assert poisson.cdf(count, upper) == pytest.approx(tail, rel=1e-9)
    assert upper == pytest.approx(0.5 * chi2.ppf(1.0 - tail, 2 * count + 2), rel=1e-9)


def test_a_room_at_its_limit() -> None:
    # computed (aerosol.md 7): passes one sample of 20 counts with 0.559
    assert pass_probability(20.0) == pytest.approx(0.559, abs=5e-4)
    # own limit
    assert pass_probability(1e-3, 0) == pytest.approx(math.exp(-1e-3))


def test_proof_without_a_count() -> None:
    # computed (aerosol.md 7): 0.85 L without a count prove ISO 5 at 0.5 um
    assert zero_count_volume(3520.0) * 1e3 == pytest.approx(0.85, abs=0.005)
    # own: the volume in which the one-sided limit of no count is met
    assert zero_count_volume(3520.0) * 3520.0 == pytest.approx(count_upper_limit(0))


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: sampling_volume(0.0), "limit"),
        (lambda: sampling_volume(1.0, -1.0), "least"),
        (lambda: sampling_time(1.0, 0.0), "sample_flow"),
        (lambda: zero_count_volume(1.0, 1.0), "confidence"),
        (lambda: count_limits(-1), "count"),
        (lambda: count_limits(1, 0.0), "confidence is 0"),
        (lambda: relative_count_deviation(-1), "count is -1"),
        (lambda: pass_probability(0.0), "expected"),
    ],
)
def test_impossible_counts_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()


def test_odd_confidence_warns() -> None:
    with pytest.warns(ValidityWarning, match="confidence"):
        count_limits(3, 0.2)
