"""Finds the most open plate that draws as evenly as wanted, and its whole holes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from flowsim.case.read import change_case
from flowsim.errors import RangeError
from flowsim.plan.hole_bench import Bench, Plate
from flowsim.plan.hole_pattern import Spacing, draw_pattern, hole_free_area, most_free_area
from flowsim.plan.hole_roots import power_root, tightened
from flowsim.report.drill_result import Floor, Pattern
from flowsim.report.holes_result import HolePoint, Proposal

__all__ = ["Search", "free_area_for", "plate_changes", "suction_root"]


SUCTION_SLOPE = -1.7
FEWER = 0.985  # holes of the next pattern over those of one that will not do
TRIES = 12  # patterns with ever fewer holes
LAW_CROSSFLOW = 0.8  # speed in the plenum over that in a hole from which the plate's law warns
CROSSFLOW = "range of the plate's law (air in the plenum nearly as fast as in the holes)"


@dataclass(frozen=True)
class Search:
    """What is the same for every diameter.

    Parameters
    ----------
    bench : Bench
        Solves plates.
    floor : Floor
        Where the holes go.
    spacing : Spacing
        How close they may lie.
    ceiling : float or None
        Most suction behind the ports. [Pa]
    binding : set of str
        Limits that forbade a plate while it was looked for; filled on the way.
    """

    bench: Bench
    floor: Floor
    spacing: Spacing
    ceiling: float | None = None
    binding: set[str] = field(default_factory=set)

    @property
    def goal(self) -> float:
        """Wanted draw ratio over 1. [-]"""
        return self.bench.wanted - 1.0

    def count(self, free_area_ratio: float, diameter: float) -> float:
        """Return how many holes give a free area. [-]

        Parameters
        ----------
        free_area_ratio : float
            Hole area over perforated area. [-]
        diameter : float
            Of a hole. [m]
        """
        return free_area_ratio * hole_free_area(self.floor) / (0.25 * math.pi * diameter**2)

    def within(self, point: HolePoint) -> bool | None:
        """Return whether the suction stays under the ceiling.

        Parameters
        ----------
        point : HolePoint
            A solved plate.
        """
        return None if self.ceiling is None else point.suction <= self.ceiling

    def broken(self, point: HolePoint) -> tuple[str, ...]:
        """Return what forbids a plate beside its draw, and note it.

        Parameters
        ----------
        point : HolePoint
            A solved plate.

        Returns
        -------
        tuple of str
            Limits of the case that today's plate meets and this one does not, and the range of
            the plate's law.
        """
        today = {*self.bench.today.broken, "draw_ratio"}
        found = [name for name in point.broken if name not in today]
        if point.crossflow > LAW_CROSSFLOW:
            found.append(CROSSFLOW)
        self.binding.update(found)
        return tuple(found)

    def accepts(self, point: HolePoint) -> bool:
        """Return whether a plate draws as evenly as wanted and breaks no further limit.

        Parameters
        ----------
        point : HolePoint
            A solved plate.
        """
        return point.excess <= self.goal and not self.broken(point)

    def most_open(
        self, diameter: float, guess: float, solve: Callable[[float], HolePoint | None]
    ) -> tuple[float, HolePoint]:
        """Return the most open plate that draws as evenly as wanted and breaks no further limit.

        Parameters
        ----------
        diameter : float
            Of a hole. [m]
        guess : float
            Free area to begin with. [-]
        solve : callable
            Solves a plate of a free area.

        Returns
        -------
        tuple of float and HolePoint
            Free area [-] and the plate solved.

        Raises
        ------
        ConvergenceError
            If no plate does.
        """
        free, point = free_area_for(self, diameter, guess, solve)
        return tightened(solve, lambda item: not self.broken(item), free, point)

    def even(
        self,
        diameter: float,
        most: float,
        fits: Callable[[HolePoint], bool],
        further: Mapping[str, Any] | None = None,
        tries: int = TRIES,
    ) -> Proposal:
        """Return the even plate with the most holes that fits.

        Parameters
        ----------
        diameter : float
            Of a hole. [m]
        most : float
            Holes with which to begin. [-]
        fits : callable
            Whether a solved plate will do.
        further : mapping or None
            Further changes of the case. [SI]
        tries : int
            Patterns with ever fewer holes. [-]

        Returns
        -------
        Proposal
            Solved with just its holes.

        Raises
        ------
        RangeError
            If no pattern fits.
        """
        for _ in range(tries):
            pattern = draw_pattern(most, diameter, self.floor, self.spacing)
            changes = plate_changes(pattern, self.floor)
            plate = Plate({**changes, **(further or {})})
            point = self.bench.point(plate)
            if fits(point):
                return self.proposal("even", pattern, point, changes)
            most = min(pattern.count - 1, FEWER * pattern.count)
        raise RangeError(f"no pattern of whole holes of {1000 * diameter:g} mm will do")

    def proposal(
        self, kind: str, pattern: Pattern, point: HolePoint, changes: Mapping[str, str]
    ) -> Proposal:
        """Return a proposal whose pattern knows the hole area that was solved.

        Parameters
        ----------
        kind : str
            As in `Proposal`. [-]
        pattern : Pattern
            Drawn holes.
        point : HolePoint
            Solved with them.
        changes : mapping of str to str
            That make it out of the case.
        """
        solved = solved_area(self.bench, self.floor, changes) if changes else pattern.solved_area
        drawn = replace(pattern, solved_area=solved)
        state = self.bench.judged(point)
        return Proposal(kind, drawn, point, state, self.within(point), dict(changes))


def plate_changes(pattern: Pattern, floor: Floor) -> dict[str, str]:
    """Return the changes of a case that make a plate of it.

    Parameters
    ----------
    pattern : Pattern
        Drawn holes.
    floor : Floor
        Where they are.

    Returns
    -------
    dict of str to str
        Key path -> value as written in a case file; a number of holes, or the free area where
        parts of the zone are covered.
    """
    changes = {"work_surface.hole_diameter": f"{round(1000.0 * pattern.diameter, 9):g} mm"}
    x0, x1, y0, y1 = floor.zone
    area = hole_free_area(floor)
    if abs(area - (x1 - x0) * (y1 - y0)) <= 1e-12:
        changes["work_surface.hole_count"] = str(pattern.count)
    else:
        changes["work_surface.free_area_ratio"] = repr(pattern.hole_area / area)
    return changes


def solved_area(bench: Bench, floor: Floor, changes: Mapping[str, str]) -> float:
    """Return the hole area of a changed case over all the perforated area. [m2]

    Parameters
    ----------
    bench : Bench
        The case.
    floor : Floor
        Where the holes are.
    changes : mapping of str to str
        That make the plate.
    """
    return change_case(bench.case, dict(changes)).free_area_ratio * hole_free_area(floor)


def free_area_for(
    search: Search, diameter: float, guess: float, solve: Callable[[float], HolePoint | None]
) -> tuple[float, HolePoint]:
    """Return the most open plate that draws as evenly as wanted, its doubt included.

    Parameters
    ----------
    search : Search
        What is wanted.
    diameter : float
        Of a hole. [m]
    guess : float
        Free area to begin with. [-]
    solve : callable
        Solves an even plate of a free area.

    Returns
    -------
    free_area_ratio : float
        Hole area over perforated area; as open as holes may lie where even that is enough. [-]
    point : HolePoint
        That plate solved.

    Raises
    ------
    ConvergenceError
        If no plate does.
    """
    most = most_free_area(diameter, search.spacing)
    return power_root(solve, lambda point: point.excess, search.goal, guess, most)


def suction_root(
    search: Search, diameter: float, guess: float, ceiling: float
) -> tuple[float, HolePoint]:
    """Return the tightest plate that needs no more suction than a ceiling.

    Parameters
    ----------
    search : Search
        What is wanted.
    diameter : float
        Of a hole. [m]
    guess : float
        Free area to begin with. [-]
    ceiling : float
        Most suction behind the ports. [Pa]

    Returns
    -------
    free_area_ratio : float
        Hole area over perforated area. [-]
    point : HolePoint
        That plate solved.

    Raises
    ------
    ConvergenceError
        If no plate does.
    """
    most = most_free_area(diameter, search.spacing)
    return power_root(
        lambda free: search.bench.tried(Plate.even(free, diameter)),
        lambda point: point.suction,
        ceiling,
        guess,
        most,
        SUCTION_SLOPE,
    )
