"""Fixed points: found where mixing stalls, refused where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError
from flowsim.simulate.accelerate import fixed_point


def test_linear_map_is_solved_exactly() -> None:
    """A contraction with a known fixed point."""
    matrix = np.array([[0.3, 0.2], [-0.1, 0.5]])
    offset = np.array([1.0, 2.0])
    exact = np.linalg.solve(np.eye(2) - matrix, offset)
    found = fixed_point(
        lambda x: (matrix @ x + offset, np.ones(2)), np.zeros(2), 1e-12, lambda n: str(n)
    )
    assert found.value == pytest.approx(exact, rel=1e-11)
    assert found.residual <= 1e-12


def test_steep_map_that_plain_iteration_cannot_solve() -> None:
    """A square root near zero throws plain iteration back and forth."""

    def steep(x: FloatArray) -> tuple[FloatArray, FloatArray]:
        return 0.5 - 6.0 * np.sign(x - 0.4) * np.sqrt(np.abs(x - 0.4) + 1e-8), np.ones(3)

    found = fixed_point(steep, np.array([0.0, 0.7, 3.0]), 1e-9, lambda n: str(n))
    assert steep(found.value)[0] == pytest.approx(found.value, abs=1e-7)


def test_map_without_fixed_point_names_what_moves() -> None:
    """No figure is made up where nothing settles."""
    with pytest.raises(ConvergenceError, match="the second one still moves"):
        fixed_point(
            lambda x: (x + np.array([0.0, 1.0]), np.ones(2)),
            np.zeros(2),
            1e-9,
            lambda n: ("the first one", "the second one")[n],
        )


def test_map_that_breaks_down_is_refused() -> None:
    """Not-a-number never passes for convergence."""
    with pytest.raises(ConvergenceError, match="did not settle"):
        fixed_point(lambda x: (x * np.nan, np.ones(1)), np.zeros(1), 1e-9, lambda n: str(n))


def test_nothing_to_settle_is_settled() -> None:
    """A case without any coupling has an empty vector."""
    found = fixed_point(lambda x: (x, np.ones(0)), np.zeros(0), 1e-9, lambda n: str(n))
    assert found.residual == 0.0


def slow(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Map 20 values with 20 different slopes, too many for the memory of the mixing."""
    slopes = np.linspace(-0.9, 0.8, 20)
    return np.cos(slopes * x) + 0.5 * np.roll(x, 1) * slopes, np.ones(20)


def test_better_steps_save_rounds_and_end_at_the_same_point() -> None:
    """Newton's step in place of the plain change."""

    def better(change: FloatArray) -> FloatArray:
        slopes = np.linspace(-0.9, 0.8, 20)
        matrix = np.eye(20) - np.roll(np.diag(0.5 * slopes), -1, axis=1)
        return np.linalg.solve(matrix, change)

    plain = fixed_point(slow, np.zeros(20), 1e-10, lambda n: str(n))
    found = fixed_point(slow, np.zeros(20), 1e-10, lambda n: str(n), improve=better)
    assert found.iterations < plain.iterations
    assert found.value == pytest.approx(plain.value, abs=1e-9)


def test_misleading_steps_do_no_harm() -> None:
    """Where better steps are none the plain ones take over."""
    plain = fixed_point(slow, np.zeros(20), 1e-10, lambda n: str(n))
    found = fixed_point(
        slow, np.zeros(20), 1e-10, lambda n: str(n), improve=lambda change: -1e3 * change[::-1]
    )
    assert found.value == pytest.approx(plain.value, abs=1e-9)
