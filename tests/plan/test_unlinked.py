"""Draws in an order without chance correlations."""

from __future__ import annotations

import numpy as np

from flowsim.batch.sampling import hypercube_draws
from flowsim.plan.unlinked import unlinked


def _largest(shares: np.ndarray) -> float:
    off = np.corrcoef(shares, rowvar=False) - np.eye(shares.shape[1])
    return float(np.abs(off).max())


def test_columns_keep_their_values_and_lose_their_correlation() -> None:
    for seed in range(5):
        shares = hypercube_draws(64, 10, seed)
        found = unlinked(shares)
        assert np.array_equal(np.sort(found, axis=0), np.sort(shares, axis=0))
        assert _largest(found) < 0.06 < _largest(shares)


def test_few_draws_for_many_columns_stay_as_they_are() -> None:
    shares = hypercube_draws(12, 10, 1)
    assert unlinked(shares) is shares


def test_single_column_stays_as_it_is() -> None:
    shares = hypercube_draws(12, 1, 1)
    assert unlinked(shares) is shares
