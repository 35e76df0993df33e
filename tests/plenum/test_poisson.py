from __future__ import annotations

import numpy as np
import pytest

from flowsim.plenum.poisson import DENSE_LIMIT, neumann_solver


def laplacian(values: np.ndarray, dx: float, dy: float) -> np.ndarray:
    """Return the five-point operator with closed walls, written plainly."""
    along = np.diff(values, axis=0) / dx**2
    across = np.diff(values, axis=1) / dy**2
    out = np.zeros_like(values)
    out[:-1] += along
    out[1:] -= along
    out[:, :-1] += across
    out[:, 1:] -= across
    return out


@pytest.mark.parametrize(
    "shape", [(1, 1), (7, 1), (1, 7), (12, 5), (60, 30), (6, DENSE_LIMIT + 9)], ids=str
)
def test_solution_satisfies_the_equation(shape):
    source = np.random.default_rng(1).normal(size=shape)
    source -= source.mean()
    values = neumann_solver(*shape, 0.02, 0.05).solve(source)
    # definition of the operator, exact
    assert laplacian(values, 0.02, 0.05) == pytest.approx(source, abs=1e-9)


def test_second_order_against_a_cosine():
    errors = []
    for n in (20, 40):
        x = (np.arange(n) + 0.5) / n
        exact = np.cos(np.pi * x)[:, None] * np.cos(2.0 * np.pi * x)[None, :]
        values = neumann_solver(n, n, 1.0 / n, 1.0 / n).solve(-5.0 * np.pi**2 * exact)
        errors.append(np.abs(values - values.mean() - exact).max())
    # exact eigenfunction of the closed square
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.05)


def test_equal_grids_share_their_factors():
    # definition of the cache
    assert neumann_solver(9, 4, 0.1, 0.1) is neumann_solver(9, 4, 0.1, 0.1)
