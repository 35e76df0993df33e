"""Draws put in another order so that no input seems to move with another."""

from __future__ import annotations

import numpy as np
from scipy.linalg import LinAlgError, cholesky, solve_triangular
from scipy.stats import rankdata

from flowsim._arrays import FloatArray

__all__ = ["unlinked"]

PASSES = 3


def unlinked(shares: FloatArray) -> FloatArray:
    """Reorder each column of draws so that the columns are nearly uncorrelated.

    Parameters
    ----------
    shares : array, shape (n, k)
        Draws of a Latin hypercube, 0 <= share < 1. [-]

    Returns
    -------
    array, shape (n, k)
        The same values in each column. Unchanged where there are fewer than two draws for each
        column, as then there is no such order.

    Notes
    -----
    Columns paired by chance correlate by about 1/sqrt(n), and an input then seems to have part of
    the effect of another. Order by the ranks of uncorrelated scores: [ImanConover1982]_.
    """
    count, columns = shares.shape
    if columns < 2 or count < 2 * columns:
        return shares
    found = shares
    for _ in range(PASSES):
        scores = rankdata(found, axis=0) - 0.5 * (count + 1)
        try:
            factor = cholesky(np.corrcoef(scores, rowvar=False), lower=True)
        except LinAlgError:
            return found
        apart = solve_triangular(factor, scores.T, lower=True).T
        places = np.argsort(np.argsort(apart, axis=0, kind="stable"), axis=0, kind="stable")
        found = np.take_along_axis(np.sort(shares, axis=0), places, axis=0)
    return found
