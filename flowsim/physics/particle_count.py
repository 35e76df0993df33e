"""Counting particles: how much air to sample, and what a count can prove."""

from __future__ import annotations

import math

from scipy.special import gammaincc, gammainccinv, gammaincinv

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive, warn_outside

__all__ = [
    "count_limits",
    "count_upper_limit",
    "pass_probability",
    "relative_count_deviation",
    "sampling_time",
    "sampling_volume",
    "zero_count_volume",
]

WANTED_COUNT = 20.0
LEAST_VOLUME = 2e-3  # m3
LEAST_TIME = 60.0  # s


def sampling_volume(limit: float, least: float = LEAST_VOLUME) -> float:
    """Return the air to sample at one place so that a class limit gives 20 counts.

    Parameters
    ----------
    limit : float
        Limit of the class at the largest size judged. [1/m3]
    least : float
        Least volume; 0 for the bare rule. [m3]

    Returns
    -------
    float
        Volume. [m3]

    Raises
    ------
    RangeError
        If the limit is not positive or the least volume negative.

    Notes
    -----
    [ISO14644-1]_, from memory: 20 counts, at least 2 litres. Valid for every printed limit.
    """
    positive(limit=limit)
    in_range("least", least, 0.0, math.inf)
    return max(WANTED_COUNT / limit, least)


def sampling_time(limit: float, sample_flow: float) -> float:
    """Return how long a counter must sample at one place.

    Parameters
    ----------
    limit : float
        Limit of the class at the largest size judged. [1/m3]
    sample_flow : float
        Flow that the counter draws. [m3/s]

    Returns
    -------
    float
        Time. [s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    [ISO14644-1]_, from memory: `sampling_volume`, at least one minute. Valid as that.
    """
    positive(sample_flow=sample_flow)
    return max(sampling_volume(limit) / sample_flow, LEAST_TIME)


def zero_count_volume(limit: float, confidence: float = 0.95) -> float:
    """Return the air that must be sampled without a count to prove a limit.

    Parameters
    ----------
    limit : float
        Concentration to be proved. [1/m3]
    confidence : float
        Confidence, one-sided. [-]

    Returns
    -------
    float
        Volume. [m3]

    Raises
    ------
    RangeError
        If the limit is not positive or the confidence not between 0 and 1.

    Notes
    -----
    Exact Poisson statistics: ``-ln(1 - confidence)/C``. Valid for particles that arrive
    independently and a counter that counts none by itself.
    """
    positive(limit=limit)
    _check_confidence(confidence)
    return -math.log1p(-confidence) / limit


def count_limits(count: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the limits between which the expected count lies, two-sided.

    Parameters
    ----------
    count : int
        Particles counted. [-]
    confidence : float
        Confidence. [-]

    Returns
    -------
    tuple of float
        Lower and upper limit of the expected count. [-]

    Raises
    ------
    RangeError
        If the count is negative or the confidence not between 0 and 1.

    Notes
    -----
    Exact Poisson limits of [Garwood1936]_. Valid for particles that arrive independently.
    """
    _check_count(count)
    _check_confidence(confidence)
    tail = 0.5 * (1.0 - confidence)
    lower = float(gammaincinv(count, tail)) if count else 0.0
    return lower, float(gammainccinv(count + 1.0, tail))


def count_upper_limit(count: int, confidence: float = 0.95) -> float:
    """Return the limit below which the expected count lies, one-sided.

    Parameters
    ----------
    count : int
        Particles counted. [-]
    confidence : float
        Confidence. [-]

    Returns
    -------
    float
        Upper limit of the expected count. [-]

    Raises
    ------
    RangeError
        If the count is negative or the confidence not between 0 and 1.

    Notes
    -----
    Exact Poisson limit of [Garwood1936]_. Valid for particles that arrive independently.
    """
    _check_count(count)
    _check_confidence(confidence)
    return float(gammainccinv(count + 1.0, 1.0 - confidence))


def relative_count_deviation(count: int) -> float:
    """Return the relative standard deviation of a count.

    Parameters
    ----------
    count : int
        Particles counted. [-]

    Returns
    -------
    float
        ``1/sqrt(n)``, infinite without a count. [-]

    Raises
    ------
    RangeError
        If the count is negative.

    Notes
    -----
    Poisson statistics. Valid for particles that arrive independently.
    """
    _check_count(count)
    return 1.0 / math.sqrt(count) if count else math.inf


def pass_probability(expected: float, allowed: int = 20) -> float:
    """Return the chance that a sample stays within an allowed count.

    Parameters
    ----------
    expected : float
        Expected count of the sample. [-]
    allowed : int
        Largest count that passes. [-]

    Returns
    -------
    float
        Probability. [-]

    Raises
    ------
    RangeError
        If the expected count is not positive or the allowed one negative.

    Notes
    -----
    Exact Poisson sum. Valid for particles that arrive independently.
    """
    positive(expected=expected)
    _check_count(allowed)
    return float(gammaincc(allowed + 1.0, expected))


def _check_count(count: int) -> None:
    if not (count == int(count) and count >= 0):
        raise RangeError(f"count is {count!r}; expected a whole number, 0 or more")


def _check_confidence(confidence: float) -> None:
    if not 0.0 < confidence < 1.0:
        raise RangeError(f"confidence is {confidence!r}; expected between 0 and 1")
    warn_outside("count statistics", "confidence", confidence, 0.5, 0.9999)
