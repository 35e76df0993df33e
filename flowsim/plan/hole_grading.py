"""A plate whose columns of holes lie closer together where it draws less."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError, RangeError
from flowsim.plan.hole_bench import Plate, station_draw
from flowsim.plan.hole_pattern import Grading, draw_pattern, hole_free_area, most_free_area
from flowsim.plan.hole_roots import power_root, tightened
from flowsim.plan.hole_search import Search
from flowsim.report.drill_result import Floor, Pattern
from flowsim.report.holes_result import HolePoint, Proposal

__all__ = ["MOST_GRADING", "drawn_density", "graded_plate"]

MOST_GRADING = 1.5
"""Most holes per area over least: beyond it the plate is a bet on the model (own choice). [-]"""
MOST_CROSSFLOW = 0.75  # speed in the plenum over that in a hole that is aimed at
ROUNDS = 2  # corrections of the density at one free area
DEGREE = 4  # of the polynomial that the logarithm of the density is smoothed by
TRIES = 8
TIGHTER = 0.96  # free area of the next try over that of the last


@dataclass(frozen=True)
class _Graded:
    """A graded plate while it is looked for."""

    point: HolePoint
    density: FloatArray  # over its largest
    free_area_ratio: float  # where it is densest

    @property
    def size(self) -> float:
        """Grading, and crossflow under the holes, over what is allowed; 1 is the goal."""
        grading = float(self.density.max() / self.density.min())
        crossflow = (self.point.crossflow / MOST_CROSSFLOW) ** 2
        return max((grading - 1.0) / (MOST_GRADING - 1.0), crossflow)


def _smoothed(x: FloatArray, logs: FloatArray, weight: FloatArray) -> FloatArray:
    """Return a smooth curve through logarithms of a density."""
    known = np.isfinite(logs) & (weight > 0.0)
    degree = min(DEGREE, int(known.sum()) - 1)
    middle = 0.5 * (x[0] + x[-1])
    scaled = (x - middle) / max(float(x[-1] - middle), 1e-12)
    fit = np.polynomial.polynomial.polyfit(
        scaled[known], logs[known], degree, w=np.sqrt(weight[known])
    )
    curve: FloatArray = np.polynomial.polynomial.polyval(scaled, fit)
    return curve


class _Grader:
    """Looks for the density that makes the draw even."""

    def __init__(self, search: Search, diameter: float) -> None:
        self.search = search
        self.diameter = diameter
        self.logs: FloatArray | None = None
        self.free = 0.0

    def plate(self, free: float, density: FloatArray) -> Plate:
        """Return a plate of a mean free area and a relative density."""
        keys = {
            "work_surface.free_area_ratio": free / float(density.mean()),
            "work_surface.hole_diameter": self.diameter,
        }
        return Plate(keys, density)

    def settled(self, free: float) -> _Graded | None:
        """Return the plate of a mean free area with its best density."""
        count = self.search.bench.case.numerics.cells[0]
        logs = np.zeros(count)
        if self.logs is not None:  # the unevenness goes with the square of the free area
            logs = self.logs * (free / self.free) ** 2
        try:
            for _ in range(ROUNDS):
                logs = self._bettered(free, logs)
            density = _relative(logs)
            point, _ = self.search.bench.solved(self.plate(free, density))
        except ConvergenceError:
            return None
        self.logs, self.free = logs, free
        return _Graded(point, density, free / float(density.mean()))

    def _bettered(self, free: float, logs: FloatArray) -> FloatArray:
        """Return the logarithms of a better density."""
        density = _relative(logs)
        _, state = self.search.bench.solved(self.plate(free, density))
        draw = station_draw(state, density)
        if not np.all(draw[np.isfinite(draw)] > 0.0):
            raise ConvergenceError("a station of the graded plate blows upwards")
        layout = state.layout
        x = 0.5 * (layout.x_edges[1:] + layout.x_edges[:-1])
        weight = layout.open_share.sum(axis=1)
        with np.errstate(invalid="ignore"):
            off = np.log(np.nanmean(draw) / draw)
        return logs + _smoothed(x, off, weight)


def _relative(logs: FloatArray) -> FloatArray:
    """Return a density over its largest."""
    density: FloatArray = np.exp(logs - logs.max())
    return density


def graded_plate(search: Search, diameter: float, guess: float) -> Proposal:
    """Return the most open graded plate that draws as evenly as wanted.

    Parameters
    ----------
    search : Search
        What is wanted.
    diameter : float
        Of a hole. [m]
    guess : float
        Mean free area to begin with. [-]

    Returns
    -------
    Proposal
        Solved with the density of its whole holes, station by station.

    Raises
    ------
    ConvergenceError
        If no graded plate does.
    RangeError
        If no pattern fits.
    """
    grader = _Grader(search, diameter)
    most = most_free_area(diameter, replace(search.spacing, arrangement="square")) / MOST_GRADING

    def size(plate: _Graded) -> float:
        return max(plate.point.excess / search.goal, plate.size)

    free, found = power_root(grader.settled, size, 1.0, guess, most)
    free, found = tightened(
        grader.settled, lambda plate: not search.broken(plate.point), free, found
    )
    for _ in range(TRIES):
        proposal = _drawn(search, diameter, free, found)
        if proposal is not None:
            return proposal
        free *= TIGHTER
        better = grader.settled(free)
        found = found if better is None else better
    raise RangeError(f"no graded pattern of whole holes of {1000 * diameter:g} mm will do")


def _drawn(search: Search, diameter: float, free: float, found: _Graded) -> Proposal | None:
    """Return a graded plate with whole holes, None where they do not draw evenly enough."""
    grading = Grading(_station_places(search), found.density)
    count = search.count(free, diameter)
    pattern = draw_pattern(count, diameter, search.floor, search.spacing, grading)
    plate, solved = drawn_density(search, pattern)
    point = search.bench.point(plate)
    if not search.accepts(point):
        return None
    return search.proposal("graded", replace(pattern, solved_area=solved), point, {})


def _station_places(search: Search) -> FloatArray:
    """Return the centres of the stations. [m]"""
    count = search.bench.case.numerics.cells[0]
    places: FloatArray = (np.arange(count) + 0.5) * search.floor.width / count
    return places


def drawn_density(search: Search, pattern: Pattern) -> tuple[Plate, float]:
    """Return the plate that drawn columns make, station by station.

    Parameters
    ----------
    search : Search
        Case and floor.
    pattern : Pattern
        Drawn holes in columns.

    Returns
    -------
    plate : Plate
        To be solved.
    area : float
        Hole area that it is solved with. [m2]

    Notes
    -----
    Each column stands for the strip halfway to its neighbours.
    """
    floor = search.floor
    x0, x1 = floor.zone[:2]
    columns = np.unique(pattern.x)
    strips = np.concatenate(([x0], 0.5 * (columns[1:] + columns[:-1]), [x1]))
    edges = np.linspace(0.0, floor.width, search.bench.case.numerics.cells[0] + 1)
    inside = np.clip(edges, x0, x1)
    passed = np.interp(inside, strips, np.arange(strips.size, dtype=np.float64))
    wide = np.diff(inside)
    per_metre = np.divide(np.diff(passed), wide, out=np.zeros_like(wide), where=wide > 1e-12)
    free = np.array([_free(floor, *pair) for pair in pairwise(inside.tolist())])
    open_area = float((per_metre * free).sum())
    local = per_metre * (pattern.hole_area / open_area)
    densest = float(local.max())
    density = np.where(local > 0.0, local / densest, 1.0)
    keys = {
        "work_surface.free_area_ratio": densest,
        "work_surface.hole_diameter": pattern.diameter,
    }
    return Plate(keys, density), math.fsum(densest * density * free)


def _free(floor: Floor, start: float, end: float) -> float:
    """Return the area of a strip that holes may lie in. [m2]"""
    if end - start <= 1e-12:
        return 0.0
    return hole_free_area(replace(floor, zone=(start, end, *floor.zone[2:])))
