"""The window of settings: where every limit is met, what to set, and how far it may drift."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flowsim.case.read import case_hash
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, RangeError
from flowsim.plan.window_carried import agreeing, sample_region
from flowsim.plan.window_choice import Choice, least_bad, most_central, rounded
from flowsim.plan.window_drift import drift_from
from flowsim.plan.window_follow import follow_loading
from flowsim.plan.window_map import Plane, draw_map, explore
from flowsim.plan.window_settings import holds_of, loading_of, settings_of
from flowsim.plan.window_solve import Bench, Point, carried_limits
from flowsim.report._units import words
from flowsim.report.window_result import (
    Conflict,
    Follow,
    SetPoint,
    Setting,
    Values,
    Verdict,
    Window,
)
from flowsim.report.window_text import window_text
from flowsim.report.window_words import point_text
from flowsim.report.write_window import write_window

__all__ = ["MOST_SOLVES", "Told", "window", "window_text", "write_window"]

MOST_SOLVES, FEWEST_SOLVES = 150, 80
"""Solves in all. [-]"""
SHARES = {1: 0.3, 2: 0.5}  # of them, for the map
LOADING_LEAST = 32  # solves without which the loading of the filter is not mapped


@dataclass(frozen=True)
class Told:
    """How far it is.

    Parameters
    ----------
    stage : str
        What is done. [-]
    done, most : int
        Solves so far, and at most. [-]
    """

    stage: str
    done: int
    most: int


def window(
    case: Case,
    hold: str | None = None,
    ranges: Mapping[str, str] | None = None,
    most: int = MOST_SOLVES,
    carried: bool = False,
    tell: Callable[[Told], None] | None = None,
) -> Window:
    """Map the settings of supply and exhaust, and propose the set point with the largest margin.

    Parameters
    ----------
    case : Case
        The case. [SI]
    hold : str or None
        How far settings stray from where they are set, such as "3 %" or "2 %, 5 %" for supply
        and exhaust; None = 3 %, which is then said to be assumed. [-]
    ranges : mapping of str to str, optional
        "supply" or "exhaust" -> what is mapped, such as "25 Hz to 50 Hz". [-]
    most : int
        Solves at most, not counting those that map vapour and dust. [-]
    carried : bool
        Whether limits on vapour and dust are mapped too, at about fifty full solves; else they are
        judged at the proposal alone.
    tell : callable or None
        Told how far it is. [-]

    Returns
    -------
    Window
        The map, the present and the proposed set point, and what the filter's loading asks for.

    Raises
    ------
    RangeError
        If nothing is set, no limit can be mapped, or an option is out of its range.
    ConvergenceError
        If the case as stated has no solution.
    """
    if most < FEWEST_SOLVES:
        raise RangeError(f"{most} solves; expected at least {FEWEST_SOLVES}")
    work = _Work(case, settings_of(case, holds_of(hold), ranges), most, tell)
    work.carried = carried and work.judges_carried
    return work.window(hold is None)


class _Work:
    """One run of the window."""

    def __init__(
        self,
        case: Case,
        axes: tuple[Setting, ...],
        most: int,
        tell: Callable[[Told], None] | None,
    ) -> None:
        self.case, self.axes, self.most, self.tell = case, axes, most, tell
        self.carried = False
        self.stage = ""
        self.bench = Bench(case, self._say)
        self.plane = Plane(self.bench, axes)
        self.notes: list[str] = []
        self.full: dict[Values, Point] = {}

    @property
    def judges_carried(self) -> bool:
        """Whether limits on what the air carries can be judged."""
        return bool(carried_limits(self.case)) and self.case.numerics.fidelity != "network"

    def _say(self, done: int) -> None:
        """Tell how far it is."""
        if self.tell is not None:
            self.tell(Told(self.stage, done, self.most))

    def _begin(self, stage: str) -> None:
        """Note what is done from here on."""
        self.stage = self.bench.stage = stage
        self._say(self.bench.total)

    def window(self, assumed: bool) -> Window:
        """Return the window."""
        self._begin("map")
        here = tuple(axis.present for axis in self.axes)
        self._check(self.plane.solve(here))
        explore(self.plane, int(SHARES[len(self.axes)] * self.most))
        if self.carried:
            self._begin("vapour and dust")
            sample_region(self.plane)
        values, conflict = self._chosen()
        self._begin("drift")
        self.plane.full = self.carried
        present, proposed = self._set_point(here), self._set_point(values)
        follow, still = self._follow(proposed)
        return Window(
            title=self.case.title,
            question=self.case.question,
            case_hash=case_hash(self.case),
            fidelity=self.case.numerics.fidelity,
            axes=self.axes,
            assumed_hold=assumed,
            map=draw_map(self.plane, proposed.values if proposed.drift else None),
            present=present,
            proposed=proposed,
            conflict=conflict,
            follow=follow,
            still=still,
            left_out=self._left_out(),
            notes=self._notes(),
            solves=dict(self.bench.count),
        )

    def _check(self, first: Point) -> None:
        """Refuse a case that has no solution or no limit."""
        if first.error:
            raise ConvergenceError(f"the case as stated: {first.error}")
        if not self.bench.limits:
            carried = ", ".join(words(name) for name in carried_limits(self.case))
            also = f"; those on {carried} are judged only beside such" if carried else ""
            raise RangeError(
                f"this case states no limit on flow, pressure or velocity{also}: state some under "
                '[limits], such as front_inflow_share = { max = "0 %" }'
            )

    def _judge(self, values: Values) -> Point:
        """Return what a full solve shows."""
        self._begin("vapour and dust")
        point = self.bench.at([axis.key for axis in self.axes], values, full=True)
        self.full[values] = point
        return point

    def _chosen(self) -> tuple[Values, Conflict | None]:
        """Return the set point to propose, and why none is met if so."""
        choice = most_central(self.plane)
        if choice is None:
            best, against = least_bad(self.plane)
            values = rounded(self.axes, best)
            if self.judges_carried:
                self._judge(values)
            return values, against
        never = tuple(sorted(self.plane.never_shown))
        conflict = Conflict((), never, (), ()) if never else None
        if not self.judges_carried or self.carried:
            return rounded(self.axes, choice.values), conflict
        values, passed = agreeing(self.plane, choice, self._judge)
        self._note_passed(values, choice, passed)
        return values, conflict

    def _note_passed(self, values: Values, choice: Choice, passed: tuple[Point, ...]) -> None:
        """Note which set point with a larger margin was passed over, and why."""
        if not passed:
            return
        told = point_text(self.axes, passed[0].values)
        states = passed[0].states.items()
        reasons = ", ".join(f"{name} ({state})" for name, state in states if state != "met")
        if passed[0].values == values:
            self.notes.append(
                f"No set point was found that meets the limits on vapour and dust too; "
                f"{len(passed)} were tried. At the one proposed: {reasons or 'no solution'}."
            )
            return
        self.notes.append(
            f"For the mapped limits alone {told} would have the largest margin "
            f"({choice.times:.2g} times what can be held); it was passed over for: "
            f"{reasons or 'no solution'}."
        )

    def _set_point(self, values: Values) -> SetPoint:
        """Return a set point with its drifts."""
        point = self.plane.judge(values)
        full = self.full.get(values, point)
        known = {**full.states, **point.states}
        verdicts = tuple(
            Verdict(name, full.shown.get(name, "-"), state, name in point.states)
            for name, state in known.items()
        )
        met = point.state == "met" and not point.error
        drift = drift_from(self.plane, values) if met else None
        return SetPoint(values, point.state, verdicts, drift, point.flows)

    def _follow(self, proposed: SetPoint) -> tuple[Follow | None, str]:
        """Return what the loading of the filter asks for, or why nothing is said of it."""
        found = loading_of(self.case)
        if found is None:
            return None, "no filter loads before a fan here, so that no setting must follow one"
        if proposed.drift is None:
            return None, "no set point meets every limit, so that none is followed"
        left = self.most + (self.bench.count["full"] if self.carried else 0) - self.bench.total
        if left < LOADING_LEAST:
            return None, f"{self.most} solves leave too few to map it (--solves allows more)"
        self._begin("loading")
        most = self.most + (self.bench.count["full"] if self.carried else 0)
        follow = follow_loading(self.bench, self.axes, proposed, found, most)
        return follow, "" if follow is not None else "its flow is not known"

    def _left_out(self) -> tuple[str, ...]:
        """Return the limits that are not mapped, with the reason."""
        fidelity = self.case.numerics.fidelity
        gone = [
            f"{name}: fidelity {fidelity} gives no such figure"
            for name in sorted(self.bench.missing)
        ]
        names = carried_limits(self.case)
        named = ", ".join(words(name) for name in names)
        if names and not self.judges_carried:
            gone.append(f"{named}: fidelity {fidelity} cannot tell where vapour and dust go")
        elif names and not self.carried:
            gone.append(
                f"{named}: judged at the proposed set point alone, not over its drift "
                "(--transport maps them too, coarser, in some minutes)"
            )
        return tuple(gone)

    def _notes(self) -> tuple[str, ...]:
        """Return what else must be known."""
        failed = sum(bool(point.error) for point in self.plane.points)
        if failed:
            self.notes.append(
                f"At {failed} of the settings no solution was found; near them nothing is met."
            )
        return tuple(self.notes)
