"""Which setting has the largest margin, or which is the least bad where none meets every limit."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from flowsim._arrays import BoolArray, FloatArray
from flowsim.plan.window_map import FINE, Plane, crossings, flat
from flowsim.report.window_result import Conflict, Setting, Values

__all__ = ["Choice", "least_bad", "most_central", "ridge", "rounded"]

PULL = 1e-3  # of a margin, by which a near setting is preferred to a far one of the same margin
FINER = (9, 9)  # points along each side of the two closer looks
CLOSE = 2.5  # cells of the map, half the side of the first closer look
BLOCK = 400  # settings weighed at once
LACK = 20.0  # holds that the whole range of a limit counts which is met nowhere
STEPS = 5.0  # parts of what can be held to which a setting is rounded


@dataclass(frozen=True)
class Choice:
    """A setting and how often what can be held fits round it.

    Parameters
    ----------
    values : tuple of float
        Settings. [SI]
    times : float
        Drift of all settings at once that reaches the nearest border, over what can be held. [-]
    """

    values: Values
    times: float


def rounded(axes: Sequence[Setting], values: Values) -> Values:
    """Return settings as somebody would set them: to about a fifth of what can be held.

    Parameters
    ----------
    axes : sequence of Setting
        The settings. [SI]
    values : tuple of float
        Their values. [SI]
    """
    return tuple(_round(axis, value) for axis, value in zip(axes, values, strict=True))


def _round(axis: Setting, value: float) -> float:
    """Return one setting as somebody would set it."""
    step = 10.0 ** math.floor(math.log10(axis.hold * value * axis.factor / STEPS * 2.0))
    found = round(value * axis.factor / step) * step / axis.factor
    return float(f"{found:.12g}")


def _margins(axes: Sequence[Setting], places: FloatArray, rim: FloatArray) -> FloatArray:
    """Return how often what can be held fits between settings and the nearest border.

    The ends of the map count as borders, but for full speed of a fan: it does not run faster.
    """
    hold = np.array([axis.hold for axis in axes])
    low = np.array([axis.low for axis in axes])
    high = np.array([math.inf if axis.most < axis.high else axis.high for axis in axes])
    ends = np.minimum((1.0 - low / places) / hold, (high / places - 1.0) / hold).min(axis=1)
    if not len(rim):
        return np.asarray(ends)
    near = [
        (np.abs(rim[None] / part[:, None] - 1.0) / hold).max(axis=2).min(axis=1)
        for part in np.array_split(places, max(len(places) // BLOCK, 1))
    ]
    return np.asarray(np.minimum(np.concatenate(near), ends))


def _best(axes: Sequence[Setting], places: FloatArray, rim: FloatArray) -> Choice:
    """Return the place with the largest margin; of equal ones the nearest to the present."""
    margins = _margins(axes, places, rim)
    present = np.array([axis.present for axis in axes])
    hold = np.array([axis.hold for axis in axes])
    away = (np.abs(np.log(places / present)) / hold).max(axis=1)
    index = int(np.argmax(margins - PULL * away))
    return Choice(tuple(places[index].tolist()), float(margins[index]))


def most_central(plane: Plane) -> Choice | None:
    """Return the setting round which the settings may drift most, in what can be held.

    Parameters
    ----------
    plane : Plane
        What was solved.

    Returns
    -------
    Choice or None
        Between the solved settings; None where no setting meets every limit.
    """
    axes, surfaces = plane.axes, plane.surfaces()
    values = plane.grid(FINE[len(axes)])
    places = flat(values)
    levels = surfaces.levels(places)
    met = np.where(levels.solvable, levels.met, -1.0)
    most = np.array([axis.most for axis in axes])
    allowed = (met >= 0.0) & (places <= most * (1.0 + 1e-9)).all(axis=1)
    if not allowed.any():
        return None
    rim = crossings(met.reshape([len(part) for part in values]), values)
    choice = _best(axes, places[allowed], rim)
    step = np.array([math.log(part[1] / part[0]) for part in values])
    for reach in (CLOSE, 4.0 * CLOSE / (FINER[0] - 1)):
        shifts = np.linspace(-reach, reach, FINER[0])
        grid = np.array(list(itertools.product(shifts, repeat=len(axes))))
        near = np.array(choice.values) * np.exp(grid * step)
        near = near[(near <= most * (1.0 + 1e-9)).all(axis=1)]
        near = near[surfaces.levels(near).met >= 0.0] if len(near) else near
        if len(near):
            found = _best(axes, near, rim)
            choice = found if found.times > choice.times else choice
    return choice


def ridge(plane: Plane, least: float) -> list[Choice]:
    """Return the best setting for each value of the first one, by rising value.

    Parameters
    ----------
    plane : Plane
        What was solved.
    least : float
        Margin that they have at least, in what can be held. [-]
    """
    axes, surfaces = plane.axes, plane.surfaces()
    values = plane.grid(FINE[len(axes)])
    places = flat(values)
    met = surfaces.levels(places).met
    allowed = (met >= 0.0) & (places <= [axis.most * (1.0 + 1e-9) for axis in axes]).all(axis=1)
    if not allowed.any():
        return []
    rim = crossings(met.reshape([len(part) for part in values]), values)
    places = places[allowed]
    margins = _margins(axes, places, rim)
    found = []
    for first in np.unique(places[:, 0]):
        row = np.flatnonzero(places[:, 0] == first)
        best = int(row[np.argmax(margins[row])])
        if margins[best] >= least:
            found.append(Choice(tuple(places[best].tolist()), float(margins[best])))
    return found


def least_bad(plane: Plane) -> tuple[Values, Conflict]:
    """Return the setting that needs the least drift to meet any limit, and what stands against it.

    Parameters
    ----------
    plane : Plane
        What was solved; no setting meets every limit.

    Returns
    -------
    values : tuple of float
        Settings. [SI]
    conflict : Conflict
        Which limits exclude each other.
    """
    axes, surfaces = plane.axes, plane.surfaces()
    places = flat(plane.grid(FINE[len(axes)]))
    levels = surfaces.levels(places)
    within = (places <= [axis.most * (1.0 + 1e-9) for axis in axes]).all(axis=1)
    within &= levels.solvable
    masks = {name: (np.nan_to_num(level, nan=-1.0) >= 0.0) & within
             for name, level in levels.limits.items()}  # fmt: skip
    for limit in plane.limits:
        if limit.trust in levels.trust and limit.label in masks:
            masks[limit.label] &= levels.trust[limit.trust] >= 0.0
    nowhere = tuple(name for name, mask in masks.items() if not mask.any())
    shifts = {
        name: _shifts(axes, places, mask) for name, mask in masks.items() if name not in nowhere
    }
    lacks = [_lack(levels.limits[name], within) for name in nowhere]
    table = np.array([*shifts.values(), *lacks, np.zeros(len(places))])
    present = np.array([axis.present for axis in axes])
    away = np.abs(np.log(places / present)).max(axis=1)
    cost = np.where(within, table.max(axis=0) + PULL * away, np.inf)
    index = int(np.argmin(cost))
    pair = () if nowhere else _pair(masks, shifts, index)
    hold = max(axis.hold for axis in axes)
    return tuple(places[index].tolist()), Conflict(
        nowhere=nowhere,
        never_shown=tuple(sorted(plane.never_shown)),
        pair=pair,
        shifts=tuple(float(shifts[name][index]) * hold for name in pair),
    )


def _shifts(axes: Sequence[Setting], places: FloatArray, mask: BoolArray) -> FloatArray:
    """Return the drift from each setting to the nearest that meets a limit, in holds."""
    scaled = np.log(places) / [axis.hold for axis in axes]
    distance, _ = cKDTree(scaled[mask]).query(scaled, p=np.inf)
    return np.asarray(distance)


def _lack(level: FloatArray, within: BoolArray) -> FloatArray:
    """Return how far a limit is missed that is met nowhere, over how far it varies."""
    known = level[within]
    least, most = float(known.min()), float(known.max())
    return LACK * (most - level) / (most - least) if most > least else np.zeros_like(level)


def _pair(
    masks: dict[str, BoolArray], shifts: dict[str, FloatArray], index: int
) -> tuple[str, ...]:
    """Return the limits that exclude each other: two if two do, else the fewest that do."""
    names = sorted(shifts, key=lambda name: -shifts[name][index])
    for count in (2, 3):
        for some in itertools.combinations(names, count):
            if not np.logical_and.reduce([masks[name] for name in some]).any():
                return some
    return tuple(name for name in names if shifts[name][index] > 0.0)
