"""What a number of draws says: probabilities, quantiles and rank correlations with their errors."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.stats import beta, binom, norm, rankdata, t

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.report.uncertainty import Chance, Influence

__all__ = ["chance_of", "chance_rank", "influences_of", "quantile", "quantile_error"]

LEVEL = 0.95
"""Of all intervals. [-]"""


def chance_of(count: int, total: int, missing: int = 0) -> Chance:
    """Return what a count of draws says of a probability.

    Parameters
    ----------
    count, total : int
        Draws in which it was so, of those that gave an answer. [-]
    missing : int
        Draws without an answer; they count against it at the lower end of the interval, and for
        it at the upper end. [-]

    Returns
    -------
    Chance
        Share of the answers, and the 95 % interval.

    Raises
    ------
    RangeError
        If the counts cannot be.

    Notes
    -----
    [ClopperPearson1934]_: exact for independent draws, never too narrow. The draws of a Latin
    hypercube are spread more evenly, so that the true error is smaller still as a rule.
    """
    if not (0 <= count <= total and missing >= 0 and total + missing > 0):
        raise RangeError(f"{count} of {total} draws and {missing} without an answer cannot be")
    whole, tail = total + missing, 0.5 * (1.0 - LEVEL)
    most = count + missing
    low = 0.0 if count == 0 else float(beta.ppf(tail, count, whole - count + 1))
    high = 1.0 if most == whole else float(beta.ppf(1.0 - tail, most + 1, whole - most))
    return Chance(count, total, count / total if total else math.nan, low, high)


def quantile(values: FloatArray, share: float) -> float:
    """Return the value below which a share of the draws lies.

    Parameters
    ----------
    values : array, shape (n,)
        Draws, without nan; infinite ones allowed. [any]
    share : float
        0 to 1. [-]

    Returns
    -------
    float
        Median-unbiased; one of the draws where some are infinite. [as values]
    """
    finite = bool(np.all(np.isfinite(values)))
    method = "median_unbiased" if finite else "inverted_cdf"
    return float(np.quantile(values, share, method=method))  # type: ignore[call-overload]


def quantile_error(values: FloatArray, share: float) -> tuple[float | None, float | None]:
    """Return the 95 % interval of a quantile.

    Parameters
    ----------
    values : array, shape (n,)
        Draws, without nan. [any]
    share : float
        0 to 1. [-]

    Returns
    -------
    tuple of float or None
        Two of the draws; None where even the outermost draw does not lie far enough out.
        [as values]

    Notes
    -----
    The number of draws below a quantile is binomial, whatever the distribution: [Thompson1936]_.
    """
    ordered, count, tail = np.sort(values), len(values), 0.5 * (1.0 - LEVEL)
    below = int(binom.ppf(tail, count, share))
    above = int(binom.ppf(1.0 - tail, count, share))
    low = float(ordered[below - 1]) if below >= 1 else None
    return low, float(ordered[above]) if above < count else None


def chance_rank(draws: int, inputs: int) -> float:
    """Return the rank correlation that chance alone exceeds in any input one time in twenty.

    Parameters
    ----------
    draws, inputs : int
        Draws with a value, and inputs that are looked at. [-]

    Returns
    -------
    float
        1 with fewer than four draws. [-]

    Notes
    -----
    Student's t of a rank correlation, the level shared among the inputs: [Kendall1948]_.
    """
    if draws < 4:
        return 1.0
    score = float(t.ppf(1.0 - 0.5 * (1.0 - LEVEL) / max(inputs, 1), draws - 2))
    return score / math.sqrt(draws - 2 + score**2)


def influences_of(
    keys: Sequence[str], inputs: FloatArray, values: FloatArray
) -> tuple[tuple[Influence, ...], float]:
    """Rank inputs by how strongly they move a figure.

    Parameters
    ----------
    keys : sequence of str, length k
        Names of the inputs. [-]
    inputs : array, shape (n, k)
        Their draws. [any]
    values : array, shape (n,)
        The figure; nan where a draw has none. [any]

    Returns
    -------
    tuple of Influence
        The strongest first, equally strong ones in the order of the keys; empty where the figure
        does not move or too few draws have it.
    float
        What chance alone exceeds. [-]

    Notes
    -----
    Rank correlation of [Spearman1904]_; its interval by Fisher's transformation with the variance
    of [BonettWright2000]_.
    """
    known = ~np.isnan(values)
    count = int(known.sum())
    line = chance_rank(count, len(keys))
    if count < 4 or float(np.min(values[known])) == float(np.max(values[known])):
        return (), line
    order = rankdata(values[known])
    found = [
        _influence(key, float(rank), count, line)
        for key, rank in zip(keys, _correlations(inputs[known], order), strict=True)
    ]
    return tuple(sorted(found, key=lambda item: -abs(item.rank))), line


def _correlations(inputs: FloatArray, order: FloatArray) -> FloatArray:
    """Return the rank correlation of each column with ranks; 0 for a column that stands still."""
    ranks = rankdata(inputs, axis=0)
    ranks = ranks - ranks.mean(axis=0)
    other = order - order.mean()
    size = np.sqrt((ranks**2).sum(axis=0) * (other**2).sum())
    raw = np.divide(other @ ranks, size, out=np.zeros(len(size)), where=size > 0.0)
    return np.asarray(np.round(raw, 12))


def _influence(key: str, rank: float, count: int, line: float) -> Influence:
    """Return one input with the interval of its rank correlation."""
    if abs(rank) >= 1.0:
        return Influence(key, rank, rank, rank, True)
    half = float(norm.ppf(0.5 + 0.5 * LEVEL)) * math.sqrt((1.0 + 0.5 * rank**2) / (count - 3))
    low, high = math.tanh(math.atanh(rank) - half), math.tanh(math.atanh(rank) + half)
    return Influence(key, rank, low, high, abs(rank) > line)
