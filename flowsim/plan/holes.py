"""Chooses the holes of a plate for a wanted evenness at the least suction."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from flowsim.case.read import case_hash
from flowsim.case.schema import Case
from flowsim.errors import CaseError, ConvergenceError, RangeError
from flowsim.physics.air import AirState
from flowsim.plan.hole_bench import Bench, Plate
from flowsim.plan.hole_exhaust import exhaust_for
from flowsim.plan.hole_floor import check_case, floor_of, plenum_run
from flowsim.plan.hole_grading import graded_plate
from flowsim.plan.hole_notes import notes_of, part_notes, trays_match
from flowsim.plan.hole_outcome import outcome, run_changed
from flowsim.plan.hole_pattern import Spacing, hole_free_area, most_free_area
from flowsim.plan.hole_rules import PlateLawAtFlow, cosh_free_area, perry_free_area
from flowsim.plan.hole_search import Search, suction_root
from flowsim.plan.hole_tube import plan_tube
from flowsim.report.holes_result import (
    Exhausting,
    FigureRow,
    HolePlan,
    HolePoint,
    Proposal,
    Rule,
    SizeRow,
)
from flowsim.simulate.layout import lay_out

__all__ = ["USUAL_SIZES", "HoleWish", "plan_holes"]

USUAL_SIZES = (4e-3, 5e-3, 6e-3, 8e-3, 10e-3, 12e-3)
"""Hole diameters that are tried beside today's where none are stated. [m]"""
MOST_SIZES = 8
LEAST_WANTED, MOST_WANTED = 1.005, 10.0
CURVE = (0.55, 0.7, 0.85, 1.2, 1.5, 1.9, 2.4)
"""Free areas of the curve over that of the chosen plate. [-]"""
EQUAL = 1.02  # suctions within this of the least count as equal; then fewer holes win
CEILING_STEPS = (1.01, 1.03, 1.06, 1.1)  # more holes until the suction stays under the ceiling
COARSE = 0.5  # most pitch over plenum height, for the many small jets below (own choice)
BOUND = 0.9  # of the wanted excess, below which something else than the draw decided
SAME_FLOW = 0.005  # relative change of the exhaust flow that is none
LEAST_EXCESS = 1e-3  # of today's draw over an even one, for the first guess

Tick = Callable[[int], None]
Say = Callable[[str], None]


@dataclass(frozen=True)
class HoleWish:
    """What is wanted, and what is at hand.

    Parameters
    ----------
    draw_ratio : float
        Largest over smallest draw along x, above 1. [-]
    suction : float or None
        Most suction behind the plenum's ports; None = as much as it takes. [Pa]
    sizes : tuple of float
        Hole diameters at hand; empty = today's and usual ones. [m]
    least_pitch : float
        Centres of holes are no closer. [m]
    arrangement : {"square", "triangular"} or None
        Pattern of the holes; None = as the case says.
    graded, tube : bool
        Whether a plate graded along x, and a distributor tube, are looked at too.
    """

    draw_ratio: float = 1.10
    suction: float | None = None
    sizes: tuple[float, ...] = ()
    least_pitch: float = 0.0
    arrangement: str | None = None
    graded: bool = False
    tube: bool = False

    def check(self) -> None:
        """Refuse the impossible.

        Raises
        ------
        RangeError
            If a wish cannot be met by any plate.
        """
        if not LEAST_WANTED <= self.draw_ratio <= MOST_WANTED:
            raise RangeError(
                f"a draw ratio of {self.draw_ratio:g} is wanted; expected {LEAST_WANTED:g} to "
                f"{MOST_WANTED:g} (1 would be perfectly even)"
            )
        if self.suction is not None and not 0.0 < self.suction < math.inf:
            raise RangeError(f"the suction ceiling is {self.suction:g} Pa; expected more than 0")
        if len(self.sizes) > MOST_SIZES:
            raise RangeError(
                f"{len(self.sizes)} hole diameters are at hand; at most {MOST_SIZES} are tried"
            )
        if any(not 1e-4 <= size <= 0.1 for size in self.sizes):
            raise RangeError("a hole diameter is outside 0.1 to 100 mm")


def plan_holes(
    case: Case,
    wish: HoleWish | None = None,
    tick: Tick | None = None,
    say: Say | None = None,
) -> HolePlan:
    """Choose the holes of a plate.

    Parameters
    ----------
    case : Case
        With plate, plenum and exhaust. [SI]
    wish : HoleWish or None
        What is wanted; None = a draw ratio of 1.10.
    tick : callable or None
        Told how often the models were solved. [-]
    say : callable or None
        Told in words what is done. [-]

    Returns
    -------
    HolePlan
        What to drill; every proposal solved with just its holes.

    Raises
    ------
    RangeError
        If the case has nothing to drill, or no plate can do what is wished.
    ConvergenceError
        If the models find no solution for today's plate.
    """
    wish = wish or HoleWish()
    wish.check()
    check_case(case)
    return _Planner(case, wish, tick or _quiet, say or _quiet).plan()


def _quiet(_: object) -> None:
    """Say nothing."""


class _Planner:
    """Looks for the holes of one case."""

    def __init__(self, case: Case, wish: HoleWish, tick: Tick, say: Say) -> None:
        self.case, self.wish, self.say = case, wish, say
        surface = case.work_surface
        assert surface is not None
        self.bench = Bench(case, wish.draw_ratio, tick)
        self.today = self.bench.today
        arrangement = wish.arrangement or surface.pattern
        assert case.plenum is not None
        spacing = Spacing(arrangement, wish.least_pitch, case.plenum.height)
        self.search = Search(self.bench, floor_of(case), spacing, wish.suction)
        self.air: AirState = lay_out(self.bench.case).chamber_air
        self.sizes = tuple(sorted(set(wish.sizes or (*USUAL_SIZES, surface.hole_diameter))))
        own = surface.hole_diameter
        self.first = min(self.sizes, key=lambda size: abs(math.log(size / own)))

    def plan(self) -> HolePlan:
        """Return what to drill."""
        rows, goal = self.rows(), self.search.goal
        chosen, needed = self.choice(rows)
        diameter = chosen.pattern.diameter
        curve = self.curve(chosen, needed)
        rules = self.rules(diameter)
        left_alone = self.bench.point(Plate(chosen.changes, None, held=False))
        solves = self.bench.solves
        exhaust = exhaust_for(
            self.case, self.air, chosen.point.fan_pressure, self.today.exhaust_flow
        )
        columns, figures, warnings = self.figures(chosen, left_alone, exhaust)
        graded, graded_words = self.graded(chosen)
        tube, tube_words = self.tube(chosen)
        return HolePlan(
            self.case.title,
            case_hash(self.case),
            self.wish.draw_ratio,
            self.wish.suction,
            self.search.floor,
            self.today,
            self.bench.judged(self.today),
            curve,
            rows,
            chosen,
            needed,
            tuple(item for item in (graded, tube) if item is not None),
            rules,
            columns,
            figures,
            exhaust,
            left_alone,
            graded_words,
            tube_words,
            notes_of(self.search, chosen),
            warnings,
            tuple(sorted(self.search.binding)) if chosen.point.excess < BOUND * goal else (),
            solves,
        )

    def law(self, diameter: float) -> PlateLawAtFlow:
        """Return the plate's law at today's mean draw."""
        surface = self.case.work_surface
        assert surface is not None
        face = self.today.exhaust_flow / hole_free_area(self.search.floor)
        coefficient = surface.discharge_coefficient
        return PlateLawAtFlow(diameter, surface.thickness, face, self.air, coefficient)

    @property
    def bound(self) -> bool:
        """Whether a limit of the case has forbidden a plate that draws evenly enough."""
        return bool(self.search.binding)

    def rows(self) -> tuple[SizeRow, ...]:
        """Return what every diameter comes to."""
        goal = self.search.goal
        excess = max(self.today.excess, LEAST_EXCESS)
        guess = (
            0.02 if math.isinf(excess) else self.today.free_area_ratio * math.sqrt(goal / excess)
        )
        order = sorted(self.sizes, key=lambda size: size != self.first)
        found: dict[float, SizeRow] = {}
        reference: tuple[float, float] | None = None
        for size in order:
            self.say(f"holes of {1000 * size:g} mm")
            if reference is not None:
                drop = self.law(reference[0]).drop(reference[1])
                guess = self.law(size).free_area_for(drop)
            found[size], free = self.row(size, guess, reference is not None and self.bound)
            if free is not None and reference is None:
                reference = (size, free)
        if all(row.proposal is None for row in found.values()):
            reasons = "; ".join(dict.fromkeys(row.remark for row in found.values()))
            raise RangeError(f"no plate at hand will do: {reasons}")
        return tuple(found[size] for size in self.sizes)

    def row(self, size: float, guess: float, bound: bool) -> tuple[SizeRow, float | None]:
        """Return what one diameter comes to, and the free area it needs.

        Where a limit of the case binds, plates of the same drop are taken to do the same, and
        only holes are taken away until all is met.
        """
        search, free = self.search, guess
        limit = most_free_area(size, search.spacing)
        try:
            if not bound:
                free, _ = search.most_open(
                    size, guess, lambda value: search.bench.tried(Plate.even(value, size))
                )
            free = min(free, limit)
            proposal = search.even(size, search.count(free, size), search.accepts)
        except (CaseError, ConvergenceError, RangeError) as error:
            return SizeRow(size, None, str(error)), None
        close = free >= limit * 0.999
        remark = "as close as holes may lie; it draws more evenly than wanted" if close else ""
        return SizeRow(size, proposal, remark), free

    def choice(self, rows: Sequence[SizeRow]) -> tuple[Proposal, HolePoint | None]:
        """Return the plate to drill, and what the wanted ratio would take beyond the ceiling."""
        solved = [row.proposal for row in rows if row.proposal is not None]
        within = [item for item in solved if item.within is not False]
        if within:
            return self.least(within), None
        assert self.wish.suction is not None
        best = self.least(solved)
        return self.under_ceiling(best, self.wish.suction), best.point

    def least(self, proposals: Sequence[Proposal]) -> Proposal:
        """Return the least suction; of nearly equal ones that with fewest, yet not coarse holes."""
        assert self.case.plenum is not None
        least = min(proposal.point.suction for proposal in proposals)
        near = [proposal for proposal in proposals if proposal.point.suction <= EQUAL * least]
        coarse = COARSE * self.case.plenum.height
        fine = [
            item for item in near if max(item.pattern.pitch_x[1], item.pattern.pitch_y) <= coarse
        ]
        if not fine:
            return max(near, key=lambda item: item.pattern.count)
        matched = [item for item in fine if trays_match(self.search.floor, item.pattern)]
        return min(matched or fine, key=lambda item: item.pattern.count)

    def under_ceiling(self, best: Proposal, ceiling: float) -> Proposal:
        """Return the most even plate of the same holes that needs no more than a ceiling."""
        search, size = self.search, best.pattern.diameter
        guess = best.point.free_area_ratio * (best.point.suction / ceiling) ** 0.6
        impossible = RangeError(
            f"no plate of {1000 * size:g} mm holes draws today's "
            f"{3600 * self.today.exhaust_flow:.0f} m3/h at {ceiling:g} Pa behind the ports without "
            "breaking another limit of the case; allow more suction"
        )
        try:
            free, _ = suction_root(search, size, guess, ceiling)
            for extra in CEILING_STEPS:
                count = extra * search.count(free, size)
                found = search.even(size, count, lambda point: not search.broken(point), tries=1)
                if found.within and found.point.draw_ratio is not None:
                    return found
        except (ConvergenceError, RangeError) as error:
            raise impossible from error
        raise impossible

    def curve(self, chosen: Proposal, needed: HolePoint | None) -> tuple[HolePoint, ...]:
        """Return even plates of the chosen diameter from tight to open."""
        self.say("the trade-off curve")
        size, free = chosen.pattern.diameter, chosen.point.free_area_ratio
        most = most_free_area(size, self.search.spacing)
        wanted = {min(factor * free, most) for factor in CURVE}
        points = [self.bench.tried(Plate.even(value, size)) for value in sorted(wanted)]
        solved = [point for point in points if point is not None and point.draw_ratio is not None]
        solved.append(chosen.point)
        if needed is not None:
            solved.append(needed)
        return tuple(sorted(solved, key=lambda point: point.free_area_ratio))

    def rules(self, diameter: float) -> tuple[Rule, ...]:
        """Return what closed form and rule of thumb would drill, and what comes of it."""
        length = plenum_run(self.case, hole_free_area(self.search.floor))
        plenum = self.case.plenum
        if length is None or plenum is None or self.case.distributor is not None:
            return ()
        law = self.law(diameter)
        header = (length, plenum.height, plenum.momentum_coefficient)
        wanted = self.wish.draw_ratio
        found = (
            (
                "cosh law of a header",
                cosh_free_area(wanted, law, *header),
                "friction, ports narrower than the plenum, trays",
            ),
            (
                "Perry's rule, the cautious rule of thumb",
                perry_free_area(wanted, law, *header),
                "ports narrower than the plenum, trays; from memory, stricter than the cosh law",
            ),
        )
        return tuple(
            Rule(name, free, law.drop(free), self.bench.tried(Plate.even(free, diameter)), note)
            for name, free, note in found
        )

    def figures(
        self, chosen: Proposal, left_alone: HolePoint, exhaust: Exhausting
    ) -> tuple[tuple[str, ...], tuple[FigureRow, ...], tuple[str, ...]]:
        """Return key figures before and after, and what the models say only of the new plate."""
        columns = ["today", "new, exhaust as set"]
        changes = [{}, dict(chosen.changes)]
        change = left_alone.exhaust_flow / self.today.exhaust_flow - 1.0
        if exhaust.kind != "flow" and abs(change) > SAME_FLOW:
            columns.append("new, exhaust reset")
            kept = dict(exhaust.changes)
            if exhaust.beyond_rating:
                columns[-1] = "new, stronger exhaust"
                kept = {"exhaust.flow": f"{3600.0 * self.today.exhaust_flow:.9g} m3/h"}
            changes.append({**chosen.changes, **kept})
        results = [
            run_changed(self.case, keys, self.say, name)
            for name, keys in zip(columns, changes, strict=True)
        ]
        old = {_told(text) for text in (results[0].warnings if results[0] is not None else ())}
        new = results[-1].warnings if results[-1] is not None else ()
        fresh = tuple(text for text in new if _told(text) not in old)
        return tuple(columns), outcome(results), fresh

    def graded(self, chosen: Proposal) -> tuple[Proposal | None, tuple[str, ...]]:
        """Return the plate graded along the width if it is asked for, or why there is none."""
        if not self.wish.graded:
            return None, ()
        self.say("a plate graded along the width")
        size, guess = chosen.pattern.diameter, chosen.point.free_area_ratio
        try:
            found = graded_plate(self.search, size, guess)
        except (CaseError, ConvergenceError, RangeError) as error:
            return None, (f"A graded plate does not help: {error}.",)
        return replace(found, notes=part_notes(self.search, found.pattern)), ()

    def tube(self, chosen: Proposal) -> tuple[Proposal | None, tuple[str, ...]]:
        """Return the plate with a distributor tube if it is asked for, and what is said of it."""
        if not self.wish.tube:
            return None, ()
        self.say("a distributor tube")
        plan = plan_tube(self.search, self.case, self.air, chosen)
        found = plan.proposal
        if found is not None:
            found = replace(found, notes=part_notes(self.search, found.pattern))
        return found, plan.words


def _told(text: str) -> str:
    """Return a warning without its numbers."""
    return re.sub(r"[-+.\d]*\d(e-?\d+)?", "#", text)
