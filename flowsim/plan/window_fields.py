"""Distances from all borders, as smooth surfaces through what was solved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RBFInterpolator

from flowsim._arrays import BoolArray, FloatArray
from flowsim.plan.window_solve import DRAW, FIELD, FRONT, Limit, Point
from flowsim.report.window_result import Setting

__all__ = ["FLIP_IN", "FLIP_OUT", "Levels", "Surfaces", "trust_name"]

FLIP_IN, FLIP_OUT = "turns in", "turns out"
GUIDES = {FRONT: ("passing", FLIP_IN), FIELD: (FLIP_IN,), DRAW: ("choking",)}
TRUST_NAMES = {
    FRONT: "front figures shown (the air that passes is weak enough)",
    FIELD: "downflow figures shown (no part of the front draws in)",
    DRAW: "draw shown (the plenum does not choke)",
}
FEWEST = 4  # points that carry a surface in two directions


def trust_name(kind: str) -> str:
    """Return in words where a kind of figure is shown."""
    return TRUST_NAMES[kind]


@dataclass(frozen=True)
class Levels:
    """Distances at some settings, positive on the wanted side.

    Parameters
    ----------
    limits : mapping of str to array, shape (n,)
        Met where not negative, as far as the figure is shown. [any]
    shown_limits : mapping of str to array, shape (n,)
        The same, nan where the figure is not shown. [any]
    unmet : mapping of str to array, shape (n,)
        Not met where negative. [any]
    trust : mapping of str to array, shape (n,)
        Shown where not negative, by kind. [any]
    flips : mapping of str to array, shape (n,)
        0 where the front turns. [m/s]
    met, hidden : array, shape (n,)
        Least of all, each on its own scale: every limit met; none unmet. [-]
    solvable : array of bool, shape (n,)
        False next to settings without a solution.
    """

    limits: Mapping[str, FloatArray]
    shown_limits: Mapping[str, FloatArray]
    unmet: Mapping[str, FloatArray]
    trust: Mapping[str, FloatArray]
    flips: Mapping[str, FloatArray]
    met: FloatArray
    hidden: FloatArray
    solvable: BoolArray


class Surfaces:
    """Surfaces through the solved settings of a plane.

    Parameters
    ----------
    axes : sequence of Setting
        The settings. [SI]
    limits : sequence of Limit
        Limits that are judged.
    points : sequence of Point
        What was solved.
    ignored : collection of str
        Limits of which no verdict is shown at any setting. [-]
    """

    def __init__(
        self,
        axes: Sequence[Setting],
        limits: Sequence[Limit],
        points: Sequence[Point],
        ignored: frozenset[str] = frozenset(),
    ) -> None:
        self._low = np.log([axis.low for axis in axes])
        self._span = np.log([axis.high for axis in axes]) - self._low
        good = [point for point in points if not point.error]
        self._bad = self.unit(
            np.array([p.values for p in points if p.error]).reshape(-1, len(axes))
        )
        self._places = self.unit(np.array([point.values for point in good]))
        self._names = list(dict.fromkeys(name for point in good for name in point.fields))
        self._limits = [
            limit for limit in limits if limit.label in self._names and limit.label not in ignored
        ]
        table = np.array(
            [[point.fields.get(name, np.nan) for name in self._names] for point in good]
        )
        self._groups = _fits(self._places, table)
        self._ones = {name: table[:, k] for k, name in enumerate(self._names)}
        self._scales = {name: _scale(table[:, k]) for k, name in enumerate(self._names)}

    def unit(self, values: FloatArray) -> FloatArray:
        """Return settings as places between 0 and 1 along the map, by their logarithm.

        Parameters
        ----------
        values : array, shape (n, d)
            Settings. [SI]
        """
        return np.asarray((np.log(values) - self._low) / self._span)

    def fields(self, values: FloatArray) -> dict[str, FloatArray]:
        """Return all smooth numbers between the solved settings.

        Parameters
        ----------
        values : array, shape (n, d)
            Settings. [SI]

        Returns
        -------
        dict of str to array, shape (n,)
            Nan where there are too few solved settings that have the number. [any]
        """
        places = self.unit(values)
        found = {name: np.full(len(values), np.nan) for name in self._names}
        for columns, fit in self._groups:
            table = fit(places)
            for place, column in enumerate(columns):
                found[self._names[column]] = table[:, place]
        return found

    def levels(self, values: FloatArray) -> Levels:
        """Return the distances from all borders.

        Parameters
        ----------
        values : array, shape (n, d)
            Settings. [SI]
        """
        fields = self.fields(values)
        kinds = {limit.trust for limit in self._limits if limit.trust}
        trust = {kind: self._trust(kind, fields, len(values)) for kind in sorted(kinds)}
        limits: dict[str, FloatArray] = {}
        unmet: dict[str, FloatArray] = {}
        seen: dict[str, FloatArray] = {}
        met, hidden = [np.full(len(values), np.inf)], [np.full(len(values), np.inf)]
        for limit in self._limits:
            spread = np.maximum(fields[f"spread {limit.label}"], 0.0)
            margin = fields[limit.label]
            margin = np.abs(margin) - limit.wanted if limit.signed else margin
            scale = self._scales[limit.label]
            limits[limit.label] = margin - spread
            unmet[limit.label] = margin + np.maximum(fields[f"slack {limit.label}"], 0.0)
            met.append(limits[limit.label] / scale)
            over = unmet[limit.label] / scale
            dark = trust[limit.trust] < 0.0 if limit.trust else np.zeros(len(values), np.bool_)
            seen[limit.label] = np.where(dark, np.nan, limits[limit.label])
            hidden.append(np.fmax(over, -trust[limit.trust]) if limit.trust else over)
        met += list(trust.values())
        self._veil(seen, np.fmin.reduce(self._flow_only(met)))
        flips = {name: fields[name] for name in (FLIP_IN, FLIP_OUT) if name in fields}
        return Levels(
            limits, seen, unmet, trust, flips, np.fmin.reduce(met), np.fmin.reduce(hidden),
            self._solvable(values),
        )  # fmt: skip

    def _flow_only(self, met: Sequence[FloatArray]) -> list[FloatArray]:
        """Return the levels without those of what the air carries."""
        carried = [False, *(limit.carried for limit in self._limits)]
        carried += [False] * (len(met) - len(carried))
        return [level for level, out in zip(met, carried, strict=True) if not out]

    def _veil(self, seen: dict[str, FloatArray], met: FloatArray) -> None:
        """Hide what the air carries where the flow meets no limit: it is not solved there."""
        for limit in self._limits:
            if limit.carried:
                seen[limit.label] = np.where(met >= 0.0, seen[limit.label], np.nan)

    def _trust(self, kind: str, fields: Mapping[str, FloatArray], count: int) -> FloatArray:
        """Return where a kind of figure is shown."""
        parts = [fields[name] / self._scales[name] for name in GUIDES[kind] if name in fields]
        return np.asarray(np.fmin.reduce([np.full(count, np.inf), *parts]))

    def _solvable(self, values: FloatArray) -> BoolArray:
        """Return False where the nearest solved setting has no solution."""
        if not len(self._bad):
            return np.ones(len(values), dtype=np.bool_)
        places = self.unit(values)[:, None, :]
        near = np.abs(places - self._places).max(axis=2).min(axis=1)
        return np.asarray(near < np.abs(places - self._bad).max(axis=2).min(axis=1))


def _fits(places: FloatArray, table: FloatArray) -> list[tuple[list[int], RBFInterpolator]]:
    """Return one interpolation for all columns that are known at the same points."""
    groups: dict[bytes, list[int]] = {}
    known = np.isfinite(table)
    for column in range(table.shape[1]):
        groups.setdefault(known[:, column].tobytes(), []).append(column)
    fits = []
    for columns in groups.values():
        rows = known[:, columns[0]]
        if rows.sum() >= FEWEST:
            values = table[rows][:, columns]
            fit = RBFInterpolator(places[rows], values, kernel="cubic")
            fits.append((columns, fit))
    return fits


def _scale(column: FloatArray) -> float:
    """Return the size of a number over all points, to weigh it against others."""
    known = np.abs(column[np.isfinite(column)])
    size = float(np.median(known)) if len(known) else 0.0
    return size if size > 0.0 else 1.0
