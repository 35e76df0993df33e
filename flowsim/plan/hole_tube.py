"""A distributor tube below the plate: whether it helps, its holes, and why if it does not."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.case.schema import Case
from flowsim.errors import CaseError, ConvergenceError, RangeError
from flowsim.physics.air import AirState
from flowsim.plan.hole_bench import Plate
from flowsim.plan.hole_search import Search
from flowsim.plan.hole_tube_words import (
    as_well,
    chokes,
    gain,
    kind_of,
    left_out,
    no_gain,
    no_port,
    too_flat,
)
from flowsim.plan.hole_tubes import Design, Tubes, port_of, tube_size
from flowsim.report.holes_result import HolePoint, Proposal

__all__ = ["TubePlan", "plan_tube"]

RATIOS = (0.35, 0.6, 1.0, 1.6)
"""Discharge coefficient times hole area over section that are tried. [-]"""
PAYS = 0.97  # suction with a tube over suction without, from which it is worth the work


@dataclass(frozen=True)
class TubePlan:
    """What came of the question whether a tube helps.

    Parameters
    ----------
    proposal : Proposal or None
        The plate with its tube; None where it does not help.
    words : tuple of str
        What there is to say, the answer first.
    """

    proposal: Proposal | None
    words: tuple[str, ...]


def plan_tube(search: Search, case: Case, air: AirState, without: Proposal) -> TubePlan:
    """Say whether a distributor tube gets the wanted evenness for less suction.

    Parameters
    ----------
    search : Search
        What is wanted.
    case : Case
        As it stands. [SI]
    air : AirState
        Of the chamber.
    without : Proposal
        The even plate that is proposed without a new tube.

    Returns
    -------
    TubePlan
        Solved tubes; of those that do not help, why.
    """
    found = port_of(case)
    if found is None:
        return TubePlan(None, (no_port(),))
    if tube_size(case) is None:
        return TubePlan(None, (too_flat(case),))
    tubes = Tubes(case, search, *found, air)
    price = without.point.suction
    alone = _alone(search, case, without)
    if tubes.head > price:
        return TubePlan(None, (*chokes(tubes, price, _shown(tubes, without)), *left_out(alone)))
    best = _best(tubes, without)
    if best is None:
        text = (
            f"A tube does not help: no plate over {kind_of(tubes)} draws as evenly as wanted with "
            "any number of holes that was tried."
        )
        return TubePlan(None, (text, *left_out(alone)))
    if best.point.suction > PAYS * price:
        return TubePlan(None, (*no_gain(tubes, best, price), *left_out(alone)))
    proposal = _whole(tubes, best, without)
    if alone is not None and proposal.point.suction > PAYS * alone.suction:
        return TubePlan(proposal, as_well(tubes, proposal, price, alone))
    return TubePlan(proposal, (*gain(tubes, proposal, price), *left_out(alone)))


def _best(tubes: Tubes, without: Proposal) -> Design | None:
    """Return the tube that needs the least suction."""
    diameter, guess = without.pattern.diameter, without.point.free_area_ratio
    best: Design | None = None
    for ratio in RATIOS:
        design = tubes.design(ratio, diameter, guess)
        if design is None:
            continue
        guess = design.free_area_ratio
        if best is None or design.point.suction < best.point.suction:
            best = design
    return best


def _whole(tubes: Tubes, best: Design, without: Proposal) -> Proposal:
    """Return a tube with whole holes in the plate over it."""
    search, diameter = tubes.search, without.pattern.diameter
    most = search.count(best.free_area_ratio, diameter)
    even = search.even(diameter, most, search.accepts, dict(best.changes))
    changes = {**even.changes, **best.changes}
    return Proposal("tube", even.pattern, even.point, even.state, even.within, changes, best.tube)


def _shown(tubes: Tubes, without: Proposal) -> HolePoint | None:
    """Return the plate without a tube, solved with a very open tube below it."""
    try:
        changes = tubes.changes(tubes.holes(RATIOS[-1]).count)
        return tubes.search.bench.tried(Plate({**without.changes, **changes}))
    except (CaseError, RangeError):
        return None


def _alone(search: Search, case: Case, without: Proposal) -> HolePoint | None:
    """Return the plate that draws as evenly without the tube that the case has."""
    if case.distributor is None:
        return None
    diameter = without.pattern.diameter

    def solve(free: float) -> HolePoint | None:
        keys = {**Plate.even(free, diameter).changes, "distributor": None}
        return search.bench.tried(Plate(keys))

    try:
        return search.most_open(diameter, without.point.free_area_ratio, solve)[1]
    except (CaseError, ConvergenceError, RangeError):
        return None
