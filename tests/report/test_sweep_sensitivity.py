"""First and total order of a sweep's axes, held against exact values and another program."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import qmc, sobol_indices, uniform

from flowsim._arrays import FloatArray
from flowsim.report.sweep_sensitivity import sensitivities, sensitivity

A, B = 7.0, 0.1

# source: Ishigami & Homma, Proc. 1st Int. Symp. Uncertainty Modeling and Analysis (1990), 398;
# variances in closed form, a = 7, b = 0.1: S = 0.3139, 0.4424, 0; S_T = 0.5576, 0.4424, 0.2437
# (derived: integrals of sin over a period)
_V1 = 0.5 * (1.0 + B * math.pi**4 / 5.0) ** 2
_V2 = A**2 / 8.0
_V13 = B**2 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
FIRST = np.array([_V1, _V2, 0.0]) / (_V1 + _V2 + _V13)
TOTAL = np.array([_V1 + _V13, _V2, _V13]) / (_V1 + _V2 + _V13)


def _ishigami(x: FloatArray) -> FloatArray:
    """Return the function of three angles from -pi to pi, shape (n, 3)."""
    one, two, three = x.T
    return np.asarray(np.sin(one) + A * np.sin(two) ** 2 + B * three**4 * np.sin(one))


def _angles(share: FloatArray) -> FloatArray:
    return math.pi * (2.0 * share - 1.0)


def _hypercube(count: int) -> FloatArray:
    return _angles(qmc.LatinHypercube(3, rng=1).random(count))


def test_exact_values_are_those_published() -> None:
    # source: Saltelli et al., Global Sensitivity Analysis (2008), table of the same function
    assert pytest.approx([0.3139, 0.4424, 0.0], abs=1e-4) == FIRST
    assert pytest.approx([0.5576, 0.4424, 0.2437], abs=1e-4) == TOTAL


def test_fit_on_a_hypercube_finds_the_exact_shares() -> None:
    points = _hypercube(1024)
    found = sensitivity(list(points.T), _ishigami(points))
    assert found.method == "fit"
    assert found.first == pytest.approx(FIRST, abs=0.01)
    assert found.total is not None
    assert found.total == pytest.approx(TOTAL, abs=0.01)
    assert "1024 points" in found.note


@pytest.mark.parametrize("count", [256, 512, 20_000])
def test_exact_shares_lie_within_the_stated_error(count: int) -> None:
    points = _hypercube(count)
    found = sensitivity(list(points.T), _ishigami(points))
    assert found.method == "fit"
    assert found.total is not None
    assert (np.abs(found.first - FIRST) <= found.first_error + 1e-3).all()
    assert (np.abs(found.total - TOTAL) <= found.total_error + 1e-3).all()


def test_fit_agrees_with_scipy_on_a_bench() -> None:
    def bench(x: FloatArray) -> FloatArray:
        return np.asarray(x[0] ** 2 * x[1] + np.exp(x[2]) + 0.1 * x[1])

    # source: scipy.stats.sobol_indices (library)
    judge = sobol_indices(
        func=bench, n=2**13, dists=[uniform(), uniform(), uniform()], rng=np.random.default_rng(1)
    )
    points = qmc.LatinHypercube(3, rng=2).random(300)
    found = sensitivity(list(points.T), bench(points.T))
    assert found.total is not None
    assert found.first == pytest.approx(judge.first_order, abs=0.02)
    assert found.total == pytest.approx(judge.total_order, abs=0.02)


def test_stored_sobol_design_goes_through_scipy() -> None:
    draws = _angles(qmc.Sobol(6, rng=1).random(1024))
    one, other = draws[:, :3], draws[:, 3:]
    blocks = [one, other]
    for axis in range(3):
        mixed = one.copy()
        mixed[:, axis] = other[:, axis]
        blocks.append(mixed)
    points = np.vstack(blocks)
    found = sensitivity(list(points.T), _ishigami(points))
    assert found.method == "stored Sobol design"
    assert found.total is not None
    assert (np.abs(found.first - FIRST) <= found.first_error).all()
    assert (np.abs(found.total - TOTAL) <= found.total_error).all()


def _full(sizes: tuple[int, ...]) -> FloatArray:
    lines = [(np.arange(size) + 0.5) / size for size in sizes]
    return np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, len(sizes))


def test_full_grid_tends_to_the_exact_shares() -> None:
    off = []
    for size in (11, 41):
        points = _angles(_full((size, size, size)))
        found = sensitivity(list(points.T), _ishigami(points))
        assert found.method == "all combinations"
        off.append(float(np.abs(found.first - FIRST).max()))
        assert found.first_error.max() == 0.0
    assert off[1] < 0.1 * off[0]
    assert off[1] < 0.003


@given(seed=st.integers(0, 10_000))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_shares_of_any_grid_sum_up(seed: int) -> None:
    # source: decomposition of the variance (derived): sum of first <= 1 <= sum of total
    rng = np.random.default_rng(seed)
    points = _full((4, 3, 2))
    found = sensitivity(list(points.T), rng.normal(size=len(points)))
    assert found.total is not None
    assert (found.first <= found.total + 1e-12).all()
    assert found.first.sum() <= 1.0 + 1e-12 <= found.total.sum() + 2e-12


def test_order_of_points_does_not_matter_on_a_grid() -> None:
    points = _full((5, 4))
    values = points[:, 0] ** 2 + 3.0 * points[:, 1]
    order = np.random.default_rng(0).permutation(len(points))
    plain = sensitivity(list(points.T), values)
    mixed = sensitivity(list(points[order].T), values[order])
    assert mixed.first == pytest.approx(plain.first, rel=1e-12)


def test_words_are_an_axis_too() -> None:
    wall = np.repeat(["left", "right", "back"], 40)
    size = np.tile(np.linspace(0.0, 1.0, 40), 3)
    values = 2.0 * (wall == "right") + size
    found = sensitivity([wall, size], values)
    assert found.method == "all combinations"
    assert found.order[0] == 0
    assert math.isnan(found.trend[0])
    draws = np.random.default_rng(3).uniform(size=120)
    by_fit = sensitivity([wall, draws], 2.0 * (wall == "right") + draws)
    assert by_fit.method == "fit"
    assert by_fit.first[0] == pytest.approx(found.first[0], abs=0.05)


def test_a_gap_in_a_grid_is_bridged_by_a_fit() -> None:
    points = _full((8, 8))
    values = points[:, 0] ** 2 + 0.5 * points[:, 1]
    exact = sensitivity(list(points.T), values)
    values[[3, 20, 41]] = np.nan
    found = sensitivity(list(points.T), values)
    assert found.method == "fit"
    assert found.count == 61
    assert found.first == pytest.approx(exact.first, abs=0.03)


def test_few_points_give_rank_correlation_with_a_wide_error() -> None:
    points = _hypercube(20)
    found = sensitivity(list(points.T), np.exp(points[:, 0]) + 0.1 * points[:, 1] ** 3)
    assert found.method in ("rank correlation", "fit")
    noisy = sensitivity(list(points.T), _ishigami(points))
    assert noisy.method == "rank correlation"
    assert noisy.total is None
    assert noisy.first_error.max() > 0.1
    assert "rank correlation" in noisy.note


def test_ups_and_downs_are_seen_without_a_fit() -> None:
    points = _hypercube(100)
    found = sensitivity(list(points.T), _ishigami(points))
    assert found.method == "means of groups"
    assert (np.abs(found.first - FIRST) <= found.first_error + 0.01).all()


@pytest.mark.parametrize(
    ("values", "words"),
    [(np.ones(30), "the same at all points"), (np.full(30, np.nan), "too few")],
)
def test_nothing_is_told_of_what_does_not_change(values: FloatArray, words: str) -> None:
    found = sensitivity([np.linspace(0.0, 1.0, 30)], values)
    assert found.method == "none"
    assert found.order == ()
    assert words in found.note


def test_figures_with_different_gaps_keep_their_order() -> None:
    points = _full((6, 6))
    gappy = points[:, 1].copy()
    gappy[0] = np.nan
    found = sensitivities(list(points.T), {"a": points[:, 0], "b": gappy, "c": points[:, 1]})
    assert list(found) == ["a", "b", "c"]
    assert [found[name].order[0] for name in found] == [0, 1, 1]
    assert found["b"].count == 35


def test_same_points_give_the_same_shares() -> None:
    points = _hypercube(300)
    one, two = (sensitivity(list(points.T), _ishigami(points)) for _ in range(2))
    assert (one.first == two.first).all()
    assert (one.first_error == two.first_error).all()
