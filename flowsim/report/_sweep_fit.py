"""A smooth fit through the points of a sweep, and what each axis has of its variance."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.report.sweep_table import Column

__all__ = ["Fit", "fitted"]

MOST_POINTS = 4096  # more do not make the shares better
MOST_TERMS = 300
MOST_DEGREE = 10
POINTS_PER_TERM = 4
JOINT = (1, 2, 3, 4, 6, 8)  # degrees of products of two and more axes
ENOUGH = 0.9995  # share foretold from which no larger set of terms is tried
GROUPS = 20
RIDGE = 1e-10  # keeps points that cannot tell two terms apart from blowing up
TIMES = 1.96  # half width of 95 % over the standard error

Term = tuple[tuple[int, int], ...]
"""Axis and which of its functions, for each axis that takes part."""


@dataclass(frozen=True, eq=False)
class Fit:
    """Shares of the variance by a polynomial fit.

    Parameters
    ----------
    first, total : array, shape (k,)
        By each axis alone, and with all that it takes part in. [-]
    first_error, total_error : array, shape (k,)
        Half widths of 95 %: sampling, and what the fit misses. [-]
    explained : float
        Share of the variance that the fit foretells at points it has not seen. [-]
    degree, count : int
        Degree of the polynomial, and points it rests on. [-]
    """

    first: FloatArray
    total: FloatArray
    first_error: FloatArray
    total_error: FloatArray
    explained: float
    degree: int
    count: int


def _functions(column: Column, degree: int) -> FloatArray:
    """Return functions of one axis that are orthonormal over its points, without the constant."""
    levels, place, count = np.unique(column, return_inverse=True, return_counts=True)
    if column.dtype.kind in "fiu":
        middle = np.cumsum(count) - 0.5 * count
        most = min(degree, len(levels) - 1)
        raw = np.polynomial.legendre.legvander(2.0 * middle / len(column) - 1.0, most)
    else:
        raw = np.column_stack([np.ones(len(levels)), np.eye(len(levels))[:, 1:]])
    weight = np.sqrt(count / len(column))[:, None]
    straight, _ = np.linalg.qr(weight * raw)
    return np.asarray((straight / weight)[place.reshape(-1), 1:])


def _degrees(column: Column, functions: FloatArray) -> list[int]:
    """Return the degree of each function of one axis; words have no order and so degree 1."""
    count = functions.shape[1]
    return list(range(1, count + 1)) if column.dtype.kind in "fiu" else [1] * count


def _terms(degrees: Sequence[Sequence[int]], left: int, axis: int = 0) -> Iterator[Term]:
    """Yield all products of functions of different axes whose degrees sum up to at most `left`."""
    if axis == len(degrees):
        yield ()
        return
    yield from _terms(degrees, left, axis + 1)
    for place, degree in enumerate(degrees[axis]):
        if degree <= left:
            for rest in _terms(degrees, left - degree, axis + 1):
                yield ((axis, place), *rest)


def _matrix(functions: Sequence[FloatArray], terms: Sequence[Term]) -> FloatArray:
    """Return the terms at all points, shape (n, terms)."""
    matrix = np.ones((len(functions[0]), len(terms)))
    for column, term in enumerate(terms):
        for axis, place in term:
            matrix[:, column] *= functions[axis][:, place]
    return matrix


def _members(terms: Sequence[Term], axes: int) -> BoolArray:
    """Return which axes take part in which term, shape (axes, terms)."""
    members = np.zeros((axes, len(terms)), dtype=bool)
    for column, term in enumerate(terms):
        members[[axis for axis, _ in term], column] = True
    return members


def _solved(gram: FloatArray, right: FloatArray) -> FloatArray:
    """Solve the normal equations."""
    ridge = RIDGE * np.trace(gram) / len(gram)
    factor = scipy.linalg.cho_factor(gram + ridge * np.eye(len(gram)))
    return np.asarray(scipy.linalg.cho_solve(factor, right))


def _shares(members: BoolArray, coefficients: FloatArray, rest: FloatArray) -> FloatArray:
    """Return first and total shares, shape (2, axes, outcomes)."""
    parts = coefficients**2
    parts[~members.any(axis=0)] = 0.0
    alone = members & (members.sum(axis=0) == 1)
    whole = np.maximum(parts.sum(axis=0) + rest, np.finfo(float).tiny)
    return np.asarray(np.stack([alone @ parts, members @ parts]) / whole)


def _one_degree(
    matrix: FloatArray, outcomes: FloatArray, groups: IntArray
) -> tuple[FloatArray, FloatArray, NDArray[np.float64]]:
    """Fit all points, and all without each group: coefficients of both, and the unexplained."""
    count = int(groups.max()) + 1
    parts = [matrix[groups == group] for group in range(count)]
    rights = [outcomes[groups == group] for group in range(count)]
    grams = np.array([part.T @ part for part in parts])
    sides = np.array([part.T @ right for part, right in zip(parts, rights, strict=True)])
    gram, side = grams.sum(axis=0), sides.sum(axis=0)
    without = np.array([_solved(gram - grams[g], side - sides[g]) for g in range(count)])
    missed = sum(
        ((right - part @ coefficients) ** 2).sum(axis=0)
        for part, right, coefficients in zip(parts, rights, without, strict=True)
    )
    return _solved(gram, side), without, np.asarray(missed) / len(outcomes)


def _thinned(count: int) -> IntArray:
    """Return the points that are used, in an order that knows nothing of theirs."""
    order = np.random.default_rng(1).permutation(count)
    return np.asarray(order[:MOST_POINTS], dtype=np.int64)


def _set_of(degrees: Sequence[Sequence[int]], single: int, joint: int) -> list[Term]:
    """Return functions of one axis up to a degree, and products up to another one."""
    alone: list[Term] = [
        ((axis, place),)
        for axis, own in enumerate(degrees)
        for place, degree in enumerate(own)
        if degree <= single
    ]
    products = (term for term in _terms(degrees, joint) if len(term) > 1)
    return [(), *alone, *itertools.islice(products, MOST_TERMS)]


def _candidates(columns: Sequence[Column]) -> Iterator[tuple[int, FloatArray, BoolArray]]:
    """Yield degree, terms at the points and who takes part, as far as the points allow."""
    most = min(MOST_TERMS, len(columns[0]) // POINTS_PER_TERM)
    functions = [_functions(column, MOST_DEGREE) for column in columns]
    degrees = [_degrees(*pair) for pair in zip(columns, functions, strict=True)]
    tried = set()
    for joint, single in itertools.product(JOINT, range(1, MOST_DEGREE + 1)):
        terms = _set_of(degrees, single, joint)
        if single >= joint and len(terms) <= most and frozenset(terms) not in tried:
            tried.add(frozenset(terms))
            yield single, _matrix(functions, terms), _members(terms, len(columns))


def fitted(columns: Sequence[Column], outcomes: FloatArray) -> list[Fit | None]:
    """Fit polynomials of rising degree and keep the one that foretells left-out points best.

    Parameters
    ----------
    columns : sequence of array, each of shape (n,)
        Numbers or words of each axis. [any]
    outcomes : array, shape (n, m)
        Figures, finite, none of them constant. [any]

    Returns
    -------
    list of Fit or None, length m
        None where there are too few points even for straight lines.

    Notes
    -----
    Variance shares from the coefficients of orthonormal polynomials: [Sudret2008]_. Numbers enter
    by their rank, so that draws at equal ratios count alike. Error by leaving out each of 20
    groups in turn (jackknife): [Efron1981]_. Points of 20 groups also judge the degree.
    """
    rows = _thinned(len(outcomes))
    used = [np.asarray(column)[rows] for column in columns]
    values = (outcomes[rows] - outcomes[rows].mean(axis=0)) / outcomes[rows].std(axis=0)
    groups = np.arange(len(rows)) % min(GROUPS, max(len(rows) // 2, 2))
    best: list[Fit | None] = [None] * outcomes.shape[1]
    for degree, matrix, members in _candidates(used):
        if all(known is not None and known.explained > ENOUGH for known in best):
            break
        whole, without, missed = _one_degree(matrix, values, groups)
        for place, rest in enumerate(np.minimum(missed, 1.0)):
            known = best[place]
            if known is None or 1.0 - rest > known.explained:
                one = (whole[:, [place]], without[:, :, [place]])
                best[place] = _fit(members, one, float(rest), (degree, len(rows)))
    return best


def _fit(
    members: BoolArray,
    coefficients: tuple[FloatArray, FloatArray],
    rest: float,
    size: tuple[int, int],
) -> Fit:
    """Return the shares of one outcome and how far they move as a group is left out."""
    whole, without = coefficients
    shares = _shares(members, whole, np.array([rest]))[:, :, 0]
    moved = np.array([_shares(members, one, np.array([rest]))[:, :, 0] for one in without])
    count = len(moved)
    spread = np.sqrt((count - 1) / count * ((moved - moved.mean(axis=0)) ** 2).sum(axis=0))
    error = TIMES * spread + rest
    return Fit(shares[0], shares[1], error[0], error[1], 1.0 - rest, *size)
