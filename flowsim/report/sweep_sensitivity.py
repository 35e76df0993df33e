"""Which axis of a sweep a figure depends on: shares of its variance, or rank correlation."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata, sobol_indices

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.report._sweep_fit import Fit, fitted
from flowsim.report._units import percent
from flowsim.report.sweep_table import Column

__all__ = ["Method", "Sensitivity", "sensitivities", "sensitivity"]

Method = Literal[
    "all combinations",
    "stored Sobol design",
    "fit",
    "means of groups",
    "rank correlation",
    "none",
]
TRUSTED = 0.8  # share of the variance that a fit must foretell before its shares are told
SAME = 1e-9  # relative range below which a figure does not change
FEWEST = 5  # points for a rank correlation
FOR_GROUPS = 60  # points for means of groups
BINS = 8  # groups along an axis of numbers
LEFT_OUT = 20  # groups of points left out in turn
RESAMPLES = 200
TIMES = 1.96  # half width of 95 % over the standard error


@dataclass(frozen=True, eq=False)
class Sensitivity:
    """What each axis has of the variance of one figure.

    Parameters
    ----------
    method : Method
        How the shares were found; "none" where there are too few points or nothing changes.
    first : array, shape (k,)
        Share of the variance by each axis alone; by rank correlation its square. [-]
    total : array, shape (k,), or None
        Share with all that the axis takes part in; None where the method does not tell. [-]
    first_error, total_error : array, shape (k,)
        Half widths of 95 % from sampling and from what a fit misses. [-]
    trend : array, shape (k,)
        Rank correlation: 1 = always rises with the axis; nan for words. [-]
    explained : float
        Share of the variance that the method accounts for. [-]
    count : int
        Points it rests on. [-]
    note : str
        Method and sampling error in words.
    """

    method: Method
    first: FloatArray
    total: FloatArray | None
    first_error: FloatArray
    total_error: FloatArray
    trend: FloatArray
    explained: float = 0.0
    count: int = 0
    note: str = field(default="")

    @property
    def leading(self) -> FloatArray:
        """Total share of each axis, the first where there is no total, shape (k,) [-]."""
        return self.first if self.total is None else self.total

    @property
    def leading_error(self) -> FloatArray:
        """Half width of 95 % of `leading`, shape (k,) [-]."""
        return self.first_error if self.total is None else self.total_error

    @property
    def order(self) -> tuple[int, ...]:
        """Axes, the one that matters most first; empty where nothing is told."""
        if self.method == "none":
            return ()
        ranked = np.argsort(-np.nan_to_num(self.leading, nan=-1.0), kind="stable")
        return tuple(int(axis) for axis in ranked)


def _is_number(column: Column) -> bool:
    """Return whether a column holds numbers."""
    return column.dtype.kind in "fiu"


def _places(column: Column) -> IntArray:
    """Return which of its distinct values each point has."""
    places = np.unique(column, return_inverse=True)[1]
    return np.asarray(places, dtype=np.int64).reshape(-1)


def _nothing(axes: int, count: int, note: str) -> Sensitivity:
    """Return that nothing can be told."""
    gap = np.full(axes, np.nan)
    return Sensitivity("none", gap, None, gap, gap, gap, 0.0, count, note)


def _group_share(place: IntArray, outcome: FloatArray) -> float:
    """Return the variance of the means over the values of an axis, over the whole variance."""
    count = np.bincount(place)
    means = np.bincount(place, weights=outcome) / np.maximum(count, 1)
    part = float((count * (means - outcome.mean()) ** 2).sum()) / len(outcome)
    return part / float(outcome.var())


def _rank_correlation(column: Column, outcome: FloatArray) -> float:
    """Return the rank correlation of one axis of numbers and a figure; nan for words."""
    if not _is_number(column):
        return math.nan
    one, other = rankdata(column), rankdata(outcome)
    spread = float(one.std() * other.std())
    shared = float(((one - one.mean()) * (other - other.mean())).mean())
    return shared / spread if spread > 0.0 else math.nan


def _grid(columns: Sequence[Column], outcome: FloatArray) -> FloatArray | None:
    """Return the figure on the full grid, or None if a combination lacks or comes twice."""
    places = [_places(column) for column in columns]
    sizes = tuple(int(place.max()) + 1 for place in places)
    if math.prod(sizes) != len(outcome):
        return None
    cells = np.ravel_multi_index(tuple(places), sizes)
    if len(np.unique(cells)) != len(outcome):
        return None
    full = np.empty(len(outcome))
    full[cells] = outcome
    return full.reshape(sizes)


def _of_grid(full: FloatArray, trend: FloatArray) -> Sensitivity:
    """Return the shares where every combination was run."""
    axes = range(full.ndim)
    whole = float(full.var())
    others = [tuple(item for item in axes if item != axis) for axis in axes]
    first = np.array([full.mean(axis=other).var() for other in others]) / whole
    total = np.array([full.var(axis=axis).mean() for axis in axes]) / whole
    note = (
        f"from all {full.size} combinations: no sampling error, each listed value counts alike, "
        "what lies between them is not seen"
    )
    exact = np.zeros(full.ndim)
    return Sensitivity("all combinations", first, total, exact, exact, trend, 1.0, full.size, note)


def _is_saltelli(columns: Sequence[Column]) -> bool:
    """Return whether the rows are two sets A, B and then A with each axis in turn from B."""
    axes, count = len(columns), len(columns[0])
    size, rest = divmod(count, axes + 2)
    if rest or size < 2 or size & (size - 1):
        return False
    blocks = [np.asarray(column).reshape(axes + 2, size) for column in columns]
    return all(
        bool((block[2 + turn] == block[1 if turn == axis else 0]).all())
        for axis, block in enumerate(blocks)
        for turn in range(axes)
    )


def _saltelli_shares(blocks: FloatArray) -> FloatArray:
    """Return first and total shares of a stored design, shape (2, axes)."""
    parts: dict[Literal["f_A", "f_B", "f_AB"], NDArray[Any]]
    parts = {"f_A": blocks[[0]], "f_B": blocks[[1]], "f_AB": blocks[2:, None, :]}
    found = sobol_indices(func=parts, n=blocks.shape[1])
    return np.array([np.ravel(found.first_order), np.ravel(found.total_order)])


def _of_saltelli(axes: int, outcome: FloatArray, trend: FloatArray) -> Sensitivity:
    """Return the shares of a stored Sobol design, with errors by drawing its rows anew."""
    blocks = outcome.reshape(axes + 2, -1)
    size = blocks.shape[1]
    shares = _saltelli_shares(blocks)
    rng = np.random.default_rng(1)
    drawn = [_saltelli_shares(blocks[:, rng.integers(0, size, size)]) for _ in range(RESAMPLES)]
    error = TIMES * np.array(drawn).std(axis=0)
    note = f"from a stored Sobol design of {size} draws, sampling error at 95 % behind each share"
    return Sensitivity(
        "stored Sobol design", shares[0], shares[1], error[0], error[1], trend, 1.0,
        len(outcome), note,
    )  # fmt: skip


def _of_fit(fit: Fit, trend: FloatArray, count: int) -> Sensitivity:
    """Return the shares of a fit."""
    used = f"{fit.count} of {count} points" if fit.count < count else f"{count} points"
    note = (
        f"from a polynomial of degree {fit.degree} through {used}, which foretells "
        f"{percent(fit.explained)} of the variance at points left out; behind each share the error "
        "at 95 % from sampling and from what the fit misses"
    )
    return Sensitivity(
        "fit", fit.first, fit.total, fit.first_error, fit.total_error, trend, fit.explained,
        fit.count, note,
    )  # fmt: skip


def _bins(column: Column) -> IntArray:
    """Return to which group each point belongs along an axis: its values, or eighths of them."""
    places = _places(column)
    if not _is_number(column) or int(places.max()) < BINS:
        return places
    return np.asarray((rankdata(column, "min") - 1.0) * BINS // len(column), dtype=np.int64)


def _bare_share(bins: IntArray, outcome: FloatArray) -> float:
    """Return the share of the variance between groups, freed of what chance gives."""
    count, groups = len(outcome), len(np.unique(bins))
    whole = float(outcome.var())
    if whole <= 0.0 or count <= groups:
        return 0.0
    inside = 1.0 - _group_share(bins, outcome)
    return max(0.0, 1.0 - inside * (count - 1.0) / (count - groups))


def _why(fit: Fit | None) -> str:
    """Return why a fit does not serve."""
    if fit is None:
        return "too few points for a fit"
    return f"a fit foretells only {100.0 * max(fit.explained, 0.0):.2g} % of the variance"


def _of_groups(
    columns: Sequence[Column], outcome: FloatArray, trend: FloatArray, fit: Fit | None
) -> Sensitivity:
    """Return first-order shares from the means of groups of points along each axis."""
    bins = [_bins(column) for column in columns]
    first = np.array([_bare_share(item, outcome) for item in bins])
    part = np.random.default_rng(1).permutation(len(outcome)) % LEFT_OUT
    moved = np.array(
        [[_bare_share(item[part != one], outcome[part != one]) for item in bins]
         for one in range(LEFT_OUT)]
    )  # fmt: skip
    spread = (LEFT_OUT - 1) / LEFT_OUT * ((moved - moved.mean(axis=0)) ** 2).sum(axis=0)
    note = (
        f"from the means of groups of points along each axis, {len(outcome)} points ({_why(fit)}): "
        "what axes do together is not seen; sampling error at 95 % behind each share"
    )
    gap = np.full(len(first), np.nan)
    return Sensitivity(
        "means of groups", first, None, TIMES * np.sqrt(spread), gap, trend,
        min(float(first.sum()), 1.0), len(outcome), note,
    )  # fmt: skip


def _of_ranks(
    columns: Sequence[Column], outcome: FloatArray, trend: FloatArray, fit: Fit | None
) -> Sensitivity:
    """Return squared rank correlations; for words the share of the ranks' variance."""
    ranks = rankdata(outcome)
    size = np.array(
        [
            abs(rho) if _is_number(column) else math.sqrt(_group_share(_places(column), ranks))
            for column, rho in zip(columns, trend, strict=True)
        ]
    )
    size = np.minimum(np.nan_to_num(size), 1.0 - 1e-12)
    half = TIMES / math.sqrt(len(outcome) - 3.0)
    high = np.tanh(np.arctanh(size) + half) ** 2
    low = np.tanh(np.maximum(np.arctanh(size) - half, 0.0)) ** 2
    error = np.maximum(high - size**2, size**2 - low)
    note = (
        f"from squared rank correlations of {len(outcome)} points ({_why(fit)}): what rises "
        "and falls again along an axis is not seen; sampling error at 95 % behind each share"
    )
    explained = min(float((size**2).sum()), 1.0)
    gap = np.full(len(size), np.nan)
    return Sensitivity(
        "rank correlation", size**2, None, error, gap, trend, explained, len(outcome), note
    )


def _one(columns: Sequence[Column], outcome: FloatArray, fit: Fit | None) -> Sensitivity:
    """Return the sensitivity of one finite, changing figure; a fit only where it was needed."""
    trend = np.array([_rank_correlation(column, outcome) for column in columns])
    full = _grid(columns, outcome)
    if full is not None:
        return _of_grid(full, trend)
    if _is_saltelli(columns):
        return _of_saltelli(len(columns), outcome, trend)
    if fit is not None and fit.explained >= TRUSTED:
        return _of_fit(fit, trend, len(outcome))
    if len(outcome) >= FOR_GROUPS:
        return _of_groups(columns, outcome, trend, fit)
    return _of_ranks(columns, outcome, trend, fit)


def _changes(outcome: FloatArray) -> bool:
    """Return whether a figure changes by more than round-off."""
    return bool(np.ptp(outcome) > SAME * np.abs(outcome).max())


def _together(
    columns: Sequence[Column], outcomes: Mapping[str, FloatArray]
) -> dict[str, Sensitivity]:
    """Return the sensitivity of figures that have a value at all points."""
    count, axes = len(columns[0]), len(columns)
    if count < FEWEST:
        note = f"{count} point(s) with a value are too few"
        return {name: _nothing(axes, count, note) for name in outcomes}
    changing = {name: item for name, item in outcomes.items() if _changes(item)}
    exact = _is_saltelli(columns) or _grid(columns, np.zeros(count)) is not None
    fits: list[Fit | None] = [None] * len(changing)
    if changing and not exact:
        fits = fitted(columns, np.column_stack(list(changing.values())))
    found = {
        name: _one(columns, item, fit)
        for (name, item), fit in zip(changing.items(), fits, strict=True)
    }
    same = _nothing(axes, count, "the same at all points")
    return {name: found.get(name, same) for name in outcomes}


def sensitivities(
    columns: Sequence[Column], outcomes: Mapping[str, FloatArray], use: BoolArray | None = None
) -> dict[str, Sensitivity]:
    """Return what each axis has of the variance of several figures.

    Parameters
    ----------
    columns : sequence of array, each of shape (n,)
        Numbers or words along each axis, independent of each other. [any]
    outcomes : mapping of str to array, shape (n,)
        Figures; what is not finite is left out. [any]
    use : array of bool, shape (n,), or None
        Points that count; None = all. [-]

    Returns
    -------
    dict of str to Sensitivity
        In the order of the figures.

    Notes
    -----
    Exact where every combination was run; else by `scipy.stats.sobol_indices` where the points
    are a stored design of [Saltelli2010]_ (rows A, rows B, then A with each axis from B); else by
    a polynomial fit [Sudret2008]_ where that foretells left-out points; else from means of groups
    (correlation ratio of [Kelley1935]_); of few points rank correlation, error of [Fisher1921]_.
    """
    alike: dict[bytes, list[str]] = {}
    masks: dict[str, BoolArray] = {}
    for name, outcome in outcomes.items():
        masks[name] = np.isfinite(outcome) & (True if use is None else use)
        alike.setdefault(masks[name].tobytes(), []).append(name)
    found: dict[str, Sensitivity] = {}
    for names in alike.values():
        mask = masks[names[0]]
        kept = [np.asarray(column)[mask] for column in columns]
        found |= _together(kept, {name: outcomes[name][mask] for name in names})
    return {name: found[name] for name in outcomes}


def sensitivity(columns: Sequence[Column], outcome: FloatArray) -> Sensitivity:
    """Return what each axis has of the variance of one figure.

    Parameters
    ----------
    columns : sequence of array, each of shape (n,)
        Numbers or words along each axis, independent of each other. [any]
    outcome : array, shape (n,)
        Figure; what is not finite is left out. [any]

    Returns
    -------
    Sensitivity
        As `sensitivities`.
    """
    return sensitivities(columns, {"": outcome})[""]
