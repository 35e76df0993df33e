"""How far settings may drift from a set point before a limit is no longer met."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.plan.window_fields import Surfaces
from flowsim.plan.window_map import Plane
from flowsim.plan.window_solve import Point
from flowsim.report.window_result import Drift, Outside, Side, Together, Values

__all__ = ["Way", "drift_from", "walk"]

CLOSE = 0.02  # of a drift, to which it is found
LEAST = 5e-4  # of a setting, the same for small drifts
COARSE, COARSE_LEAST = 0.1, 5e-3  # the same where what the air carries is judged too
LOOKS = 400  # along a way, on the surfaces
TRIALS = 14
RIVALS, RATIO = 4, 1.25  # directions that are followed besides, if they look as short
EDGES = 8  # directions from one corner to the next


@dataclass(frozen=True)
class Way:
    """A way out of the met region.

    Parameters
    ----------
    inside : float
        Last solved place at which every limit is met. [of the direction]
    outside : float or None
        First solved place beyond; None where the map ends first.
    beyond : Outside or None
        What is found there.
    """

    inside: float
    outside: float | None
    beyond: Outside | None


@dataclass(frozen=True)
class _Ray:
    """A straight way from a set point: values = start (1 + t direction)."""

    start: FloatArray
    direction: FloatArray
    end: float

    def at(self, place: float) -> Values:
        """Return the settings at a place."""
        return tuple((self.start * (1.0 + place * self.direction)).tolist())

    @property
    def unit(self) -> float:
        """Largest drift of a setting per place."""
        return float(np.abs(self.direction).max())


def _ray(plane: Plane, start: Values, direction: FloatArray) -> _Ray:
    """Return a way that ends where the map ends."""
    begin = np.array(start)
    ends = [math.inf]
    for axis, value, part in zip(plane.axes, start, direction.tolist(), strict=True):
        if part > 0.0:
            ends.append((axis.high / value - 1.0) / part)
        elif part < 0.0:
            ends.append((axis.low / value - 1.0) / part)
    return _Ray(begin, direction, max(min(ends), 0.0))


def _guess(surfaces: Surfaces, ray: _Ray) -> float:
    """Return where the surfaces say that the met region ends, infinite if the map ends first."""
    places = np.linspace(0.0, ray.end, LOOKS + 1)[1:]
    values = ray.start * (1.0 + places[:, None] * ray.direction)
    levels = surfaces.levels(values)
    out = np.flatnonzero((levels.met < 0.0) | ~levels.solvable)
    if not len(out):
        return math.inf
    first = int(out[0])
    if first == 0 or not levels.solvable[first]:
        return float(places[first])
    over, under = float(levels.met[first - 1]), float(levels.met[first])
    return float(places[first - 1] + over / (over - under) * (places[first] - places[first - 1]))


def walk(plane: Plane, surfaces: Surfaces, start: Values, direction: FloatArray) -> Way:
    """Find where every limit is met for the last time on a way from a set point.

    Parameters
    ----------
    plane : Plane
        Solves.
    surfaces : Surfaces
        Where to look first.
    start : tuple of float
        Set point at which every limit is met. [SI]
    direction : array, shape (d,)
        Relative change of each setting per place. [-]

    Returns
    -------
    Way
        Both ends solved, closer together than 2 % of the drift.
    """
    ray = _ray(plane, start, direction)
    if ray.end * ray.unit < LEAST:
        return Way(0.0, None, None)
    share, least = (COARSE, COARSE_LEAST) if plane.full else (CLOSE, LEAST)
    inside, outside, last = 0.0, math.inf, None
    for trial in range(TRIALS):
        close = max(share * inside, least / ray.unit)
        if outside - inside <= close:
            break
        surfaces = plane.surfaces() if trial else surfaces
        guess = _guess(surfaces, ray)
        place = _trial(trial, guess, close, (inside, min(outside, ray.end)))
        point = plane.judge(ray.at(place))
        if point.state == "met":
            inside = place
            if place >= ray.end:
                return Way(inside, None, None)
        else:
            outside, last = place, point
    return Way(inside, None if last is None else outside, None if last is None else _out(last))


def _trial(trial: int, guess: float, close: float, between: tuple[float, float]) -> float:
    """Return the next place: just before the guess and just beyond it in turns, else the middle."""
    low, high = between
    if trial >= TRIALS // 2:
        return 0.5 * (low + high)
    if not math.isfinite(guess):
        return high if trial == 0 else 0.5 * (low + high)
    step = 0.45 * max(close, CLOSE * guess)
    for place in (guess - step, guess + step)[:: 1 if trial % 2 == 0 else -1]:
        if low < place < high:
            return place
    return 0.5 * (low + high)


def _out(point: Point) -> Outside:
    """Return what is found outside: what is not met, else what is not shown."""
    if point.error:
        return Outside(("no solution there",), "not shown")
    for state in ("not met", "not shown"):
        names = tuple(name for name, found in point.states.items() if found == state)
        if names:
            return Outside(names, "not met" if state == "not met" else "not shown")
    return Outside((), "not shown")


def drift_from(plane: Plane, start: Values) -> Drift:
    """Find how far the settings may drift from a set point, each alone and all at once.

    Parameters
    ----------
    plane : Plane
        Solves.
    start : tuple of float
        Set point at which every limit is met. [SI]

    Returns
    -------
    Drift
        Last solved settings at which every limit is met.
    """
    size = len(plane.axes)
    ways: dict[tuple[int, int], Way] = {}
    for index, sign in itertools.product(range(size), (-1, 1)):
        direction = np.zeros(size)
        direction[index] = float(sign)
        ways[index, sign] = walk(plane, plane.surfaces(), start, direction)
    alone = tuple(
        (_side(start[k], -1, ways[k, -1]), _side(start[k], 1, ways[k, 1])) for k in range(size)
    )
    return Drift(alone, _together(plane, start, ways))


def _side(value: float, sign: int, way: Way) -> Side:
    """Return one side."""
    return Side(way.inside, value * (1.0 + sign * way.inside), way.beyond)


def _directions(size: int) -> list[tuple[float, ...]]:
    """Return directions all round, the largest part of each 1."""
    if size == 1:
        return [(-1.0,), (1.0,)]
    steps = np.linspace(-1.0, 1.0, 2 * EDGES + 1).tolist()
    sides = [(end, step) for end in (-1.0, 1.0) for step in steps]
    return list(dict.fromkeys([*sides, *((b, a) for a, b in sides)]))


def _together(plane: Plane, start: Values, ways: dict[tuple[int, int], Way]) -> Together:
    """Return how far all settings may drift at once."""
    hold = np.array([axis.hold for axis in plane.axes])
    best, corner, beyond = math.inf, (0,) * len(hold), None
    for (index, sign), way in ways.items():
        if way.inside / hold[index] < best:
            best, beyond = way.inside / float(hold[index]), way.beyond
            corner = tuple(sign if k == index else 0 for k in range(len(hold)))
    surfaces = plane.surfaces()
    looked: list[tuple[float, tuple[float, ...]]] = []
    for direction in _directions(len(hold)):
        ray = _ray(plane, start, np.array(direction) * hold)
        looked.append((min(_guess(surfaces, ray), ray.end), direction))
    looked.sort()
    for guess, direction in looked[:RIVALS] if len(hold) > 1 else []:
        if guess > RATIO * min(best, looked[0][0]):
            break
        way = walk(plane, plane.surfaces(), start, np.array(direction) * hold)
        if way.inside < best:
            best, beyond = way.inside, way.beyond
            corner = tuple(int(np.sign(part)) for part in direction)
    return Together(best, tuple((best * hold).tolist()), corner, beyond)
