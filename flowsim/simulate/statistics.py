"""Statistics of a set of readings or cells, with the divisor named."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError

__all__ = ["SampleStatistics", "relative_deviation", "sample_statistics"]


@dataclass(frozen=True)
class SampleStatistics:
    """Mean, extremes and relative standard deviation of readings.

    Parameters
    ----------
    mean, smallest, largest : float
        In the unit of the readings. [any]
    relative_deviation : float
        Standard deviation over the mean. [-]
    divisor : {"n-1", "n"}
        What the sum of squares was divided by.
    """

    mean: float
    smallest: float
    largest: float
    relative_deviation: float
    divisor: Literal["n-1", "n"]


def sample_statistics(values: FloatArray, divisor: Literal["n-1", "n"] = "n-1") -> SampleStatistics:
    """Return the statistics of readings on a grid of equal weight.

    Parameters
    ----------
    values : array, shape (n,)
        Readings. [any]
    divisor : {"n-1", "n"}
        For the standard deviation: a sample of few readings, or all cells of a field.

    Returns
    -------
    SampleStatistics
        Mean, extremes and relative deviation.

    Raises
    ------
    RangeError
        If there are too few readings, one is not finite, or their mean is zero.
    """
    data = np.asarray(values, dtype=float).ravel()
    less = 1 if divisor == "n-1" else 0
    if data.size <= less or not np.isfinite(data).all():
        raise RangeError(f"statistics need more than {less} finite readings, got {data.size}")
    mean = float(data.mean())
    if mean == 0.0:
        raise RangeError("readings whose mean is 0 have no relative deviation")
    deviation = float(data.std(ddof=less)) / abs(mean)
    return SampleStatistics(mean, float(data.min()), float(data.max()), deviation, divisor)


def relative_deviation(values: FloatArray, weights: FloatArray) -> float:
    """Return the weighted standard deviation (divisor n) over the weighted mean.

    Parameters
    ----------
    values : array, shape (n,)
        Cells. [any]
    weights : array, shape (n,)
        Area or any other weight of each. [any]

    Returns
    -------
    float
        Relative standard deviation. [-]

    Raises
    ------
    RangeError
        If the weights or the mean add up to zero.
    """
    total = float(weights.sum())
    if not total > 0.0:
        raise RangeError("weights must add up to more than 0")
    mean = float((values * weights).sum()) / total
    if mean == 0.0:
        raise RangeError("values whose mean is 0 have no relative deviation")
    return float(np.sqrt((weights * (values - mean) ** 2).sum() / total)) / abs(mean)
