"""One solve at given settings, read as distances from the borders of the window."""

from __future__ import annotations

import math
import warnings
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from flowsim.case.read import change_case
from flowsim.case.schema import Case, Limits
from flowsim.errors import ConvergenceError, RangeError
from flowsim.report._units import by_ratio, quantity_text, words
from flowsim.report.window_result import State, Values
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.indicators import CROSSFLOW_TRUST
from flowsim.simulate.layout import lay_out
from flowsim.simulate.needs import CARRIED
from flowsim.simulate.remarks import (
    CHOKING,
    DRAW_FIGURES,
    FIELD_FIGURES,
    FRONT_FIGURES,
    doubts,
)
from flowsim.simulate.result import Check, OpeningProfile, Result
from flowsim.simulate.run import run_case
from flowsim.simulate.transport_figures import transport_doubts
from flowsim.simulate.verdicts import Doubt

__all__ = [
    "DRAW",
    "FIELD",
    "FLOWS",
    "FRONT",
    "ORDER",
    "Bench",
    "Limit",
    "Point",
    "carried_limits",
    "flow_case",
    "label_of",
    "worst_of",
]

ORDER = ("not met", "not shown", "met")
FLOWS = ("supply_flow", "supply_face_velocity", "exhaust_flow")
HELPERS = (*FLOWS, "front_velocity_min", "front_velocity_max", "choking_number")
FRONT, FIELD, DRAW = "front", "field", "draw"
SIGNED = frozenset({"balance_margin", "draught_margin"})
MAY_LACK = frozenset({"draught_margin", "recovery_time"})  # none: as bad as can be
LEAST = 1e-12
NO_DOUBT = Doubt(0.0, 0.0)
NO_CHANGE: Mapping[str, float] = {}


@dataclass(frozen=True)
class Limit:
    """A limit as the map sees it.

    Parameters
    ----------
    label : str
        In words, such as "draw ratio at most 1.25". [-]
    name : str
        Key figure, plain or with a label in brackets. [-]
    wanted : float
        The limit in the figure's unit. [any]
    signed : bool
        Whether the figure counts from where the front turns, so that it is given with the sign
        of the front's direction.
    trust : str
        Which of the doubts about validity hides it, empty for none. [-]
    turning : bool
        Whether it asks that no part of a front turns in.
    carried : bool
        Whether it is on what the air carries.
    """

    label: str
    name: str
    wanted: float
    signed: bool
    trust: str
    turning: bool
    carried: bool


@dataclass(frozen=True)
class Point:
    """What one solve showed.

    Parameters
    ----------
    values : tuple of float
        Settings. [SI]
    fields : mapping of str to float
        Smooth numbers out of which distances from borders are made. [any]
    states : mapping of str to str
        Limit -> verdict.
    shown : mapping of str to str
        Limit -> its figure in words.
    hidden : frozenset of str
        Limits whose figure shows only the trend.
    flows : mapping of str to float
        Flows. [SI]
    error : str
        Why there is no solution, empty if there is one.
    """

    values: Values
    fields: Mapping[str, float] = field(default_factory=dict)
    states: Mapping[str, State] = field(default_factory=dict)
    shown: Mapping[str, str] = field(default_factory=dict)
    hidden: frozenset[str] = frozenset()
    flows: Mapping[str, float] = field(default_factory=dict)
    error: str = ""

    @property
    def state(self) -> State:
        """Worst verdict."""
        return "not shown" if self.error else worst_of(self.states)


def worst_of(states: Mapping[str, State]) -> State:
    """Return the worst of some verdicts, met if there is none.

    Parameters
    ----------
    states : mapping of str to {"met", "not met", "not shown"}
        By limit.
    """
    return min(states.values(), key=ORDER.index, default="met")


def label_of(check: Check) -> str:
    """Return a limit in words.

    Parameters
    ----------
    check : Check
        A verdict on it.
    """
    side = "at least" if check.kind == "min" else "at most"
    return f"{words(check.name)} {side} {quantity_text(check.name, check.limit, check.unit)}"


def carried_limits(case: Case) -> tuple[str, ...]:
    """Return the figures of vapour and dust to which a case sets limits.

    Parameters
    ----------
    case : Case
        The case. [SI]
    """
    named = (name for name in Limits.model_fields if name != "measure_height")
    return tuple(
        name for name in named if name in CARRIED and getattr(case.limits, name) is not None
    )


def flow_case(case: Case) -> Case:
    """Return a case without limits on what the air carries.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    Case
        Everything else is as it was.
    """
    gone = dict.fromkeys(carried_limits(case))
    return case.model_copy(update={"limits": case.limits.model_copy(update=gone)})


class Bench:
    """Solves a case at given settings and remembers what came of it.

    Parameters
    ----------
    case : Case
        The case; limits on what the air carries are judged only where that is asked. [SI]
    tell : callable or None
        Told the number of solves after each. [-]
    """

    def __init__(self, case: Case, tell: Callable[[int], None] | None = None) -> None:
        self._whole, self._case, self._tell = case, flow_case(case), tell
        self._done: dict[tuple[tuple[tuple[str, float], ...], bool], Point] = {}
        self.limits: dict[str, Limit] = {}
        self.missing: set[str] = set()
        self.count: Counter[str] = Counter()
        self.stage = "map"

    @property
    def total(self) -> int:
        """Solves so far."""
        return sum(self.count.values())

    def at(
        self,
        keys: Sequence[str],
        values: Values,
        fixed: Mapping[str, float] = NO_CHANGE,
        full: bool = False,
    ) -> Point:
        """Return what a solve shows.

        Parameters
        ----------
        keys : sequence of str
            Key paths of the settings. [-]
        values : tuple of float
            Their values. [SI]
        fixed : mapping of str to float
            What else is changed in the case. [SI]
        full : bool
            Whether limits on what the air carries are judged too.

        Returns
        -------
        Point
            The same settings are solved once.
        """
        changes = {**fixed, **dict(zip(keys, values, strict=True))}
        name = (tuple(sorted(changes.items())), full)
        if name not in self._done:
            case = change_case(self._whole if full else self._case, changes)
            self._done[name] = self._solve(values, case, full)
            self.count["full" if full else self.stage] += 1
            if self._tell is not None:
                self._tell(self.total)
        return self._done[name]

    def _solve(self, values: Values, case: Case, full: bool) -> Point:
        """Solve once."""
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                state = couple(lay_out(case))
                result = run_case(case, None if full else HELPERS, state)
                return self._point(values, state, result)
        except (ConvergenceError, RangeError) as error:
            return Point(values, error=str(error))

    def _point(self, values: Values, state: Coupled, result: Result) -> Point:
        """Read a result."""
        spread = _doubts(state, result)
        fields = _guides(result)
        states: dict[str, State] = {}
        shown: dict[str, str] = {}
        hidden = set()
        for check in result.checks:
            label = label_of(check)
            if check.value is None and check.name.partition("[")[0] not in MAY_LACK:
                self.missing.add(label)
                continue
            states[label] = check.state
            shown[label] = quantity_text(check.name, check.value, check.unit)
            if result.quantities[check.name].indicative:
                hidden.add(label)
            limit = self.limits.setdefault(label, _limit(check, label, result))
            doubt = spread.get(check.name, spread.get(check.name.partition("[")[0], NO_DOUBT))
            fields |= _fields(check, limit, fields, doubt)
        flows = {name: result[name] for name in FLOWS}
        known = {name: value for name, value in flows.items() if value is not None}
        fields |= {name: known.get(name, math.nan) for name in FLOWS}
        return Point(values, fields, states, shown, frozenset(hidden), known)


def _limit(check: Check, label: str, result: Result) -> Limit:
    """Return a limit as the map sees it."""
    base = check.name.partition("[")[0]
    trust = ""
    if base in FRONT_FIGURES:
        trust = FRONT
    elif base in FIELD_FIGURES:
        trust = FIELD
    elif base in DRAW_FIGURES | {"plate_pressure_drop"}:
        trust = DRAW
    if result.field is None:
        trust = ""
    signed = base in SIGNED and check.kind == "min"
    turning = base == "front_inflow_share" and check.kind == "max" and check.limit == 0.0
    return Limit(label, check.name, check.limit, signed, trust, turning, base in CARRIED)


def _doubts(state: Coupled, result: Result) -> dict[str, Doubt]:
    """Return how far figures may lie from their values, by name."""
    even = doubts(state, dict(result.quantities))
    found = {name: Doubt.even(size) for name, size in even.items()}
    if result.transport is not None:
        found |= transport_doubts(result.case, state.layout.grid, result.transport)
    return found


def _fields(
    check: Check, limit: Limit, guides: Mapping[str, float], doubt: Doubt
) -> dict[str, float]:
    """Return the smooth numbers of a limit: margin, and what doubt takes off it and puts on it.

    A figure that runs over decades is weighed by its logarithm; one that counts from where the
    front turns is given with the front's direction.
    """
    name, against, in_favour = limit.label, doubt.above, doubt.below
    if check.kind == "min":
        against, in_favour = in_favour, against
    margin = -abs(limit.wanted) if check.margin is None else check.margin
    if limit.turning and math.isfinite(guides["turns in"]):
        margin = guides["turns in"]
    elif limit.signed:
        outward, inward = guides["turns in"] > 0.0, guides["turns out"] > 0.0
        margin = (check.value or 0.0) * (float(outward) - float(inward))
    elif check.value is not None and by_ratio(check.name) and limit.wanted > 0.0:
        ends = np.maximum([check.value + against, check.value, check.value - in_favour], LEAST)
        under, middle, over = np.log(limit.wanted / ends).tolist()
        margin, against, in_favour = middle, middle - under, over - middle
    return {name: margin, f"spread {name}": against, f"slack {name}": in_favour}


def _guides(result: Result) -> dict[str, float]:
    """Return how far the front is from turning, and from where the model stops being trusted.

    "turns in" is the least outward speed of any part of a front, "turns out" the least inward
    one; "passing" is how much of the drive is left over the air that passes, as roots of both:
    these grow with the flows.
    """
    fronts = result.openings
    slowest = [float(profile.layer_velocity.min()) for profile in fronts]
    fastest = [float(profile.layer_velocity.max()) for profile in fronts]
    left = [_left_over(profile) for profile in fronts]
    number = result.quantities["choking_number"].value
    nothing = math.nan
    return {
        "turns in": min(slowest, default=nothing),
        "turns out": -max(fastest, default=nothing),
        "passing": min(left, default=nothing),
        "choking": nothing if number is None else CHOKING - number,
    }


def _left_over(profile: OpeningProfile) -> float:
    """Return the least drive that the air passing a front leaves to it, as a root. [Pa^0.5]"""
    drive = np.sign(profile.drive) * np.sqrt(CROSSFLOW_TRUST * np.abs(profile.drive))
    return float(np.min(drive - np.sqrt(profile.crossflow)))
