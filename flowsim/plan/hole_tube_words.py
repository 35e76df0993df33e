"""Why a distributor tube helps, or why it does not."""

from __future__ import annotations

import math

from flowsim.case.schema import Case
from flowsim.plan.hole_rules import equal_area_diameter, least_tube_price, most_tube_holes
from flowsim.plan.hole_tubes import CLEARANCE, PIPES, Design, Tubes, mm_text
from flowsim.report.holes_result import HolePoint, Proposal

__all__ = ["as_well", "chokes", "gain", "kind_of", "left_out", "no_gain", "no_port", "too_flat"]

HEAD_SHARE = 0.25  # of the suction without a tube that its dynamic pressure should stay under


def no_port() -> str:
    """Say that a tube has no port to join. [-]"""
    return (
        "A tube does not help: it lies along the width and must join a port in the left or right "
        "wall of the plenum, and this plenum has none."
    )


def too_flat(case: Case) -> str:
    """Say that no tube fits into a plenum.

    Parameters
    ----------
    case : Case
        The case. [SI]
    """
    assert case.plenum is not None
    return (
        f"A tube does not help: the plenum is too flat ({mm_text(case.plenum.height)} high); not "
        f"even a tube of {mm_text(min(PIPES))} with air round it fits in."
    )


def _wide_enough(tubes: Tubes, price: float) -> float:
    """Return the tube whose dynamic pressure is a quarter of a suction. [m]"""
    speed = math.sqrt(2.0 * HEAD_SHARE * price / tubes.air.density)
    return math.sqrt(4.0 * tubes.flow / (math.pi * speed))


def kind_of(tubes: Tubes) -> str:
    """Return which tube is spoken of.

    Parameters
    ----------
    tubes : Tubes
        What was tried.

    Returns
    -------
    str
        In words. [-]
    """
    if tubes.case.distributor is not None:
        return f"the tube of {mm_text(tubes.diameter)}"
    assert tubes.case.plenum is not None
    return (
        f"the widest tube that fits the {mm_text(tubes.case.plenum.height)} high plenum "
        f"({mm_text(tubes.diameter)} inside)"
    )


def chokes(tubes: Tubes, price: float, shown: HolePoint | None) -> tuple[str, ...]:
    """Say that a tube chokes.

    Parameters
    ----------
    tubes : Tubes
        What was tried.
    price : float
        Suction of the plate without a new tube. [Pa]
    shown : HolePoint or None
        The plate solved over a very open tube.

    Returns
    -------
    tuple of str
        In words. [-]
    """
    wide = 1000.0 * _wide_enough(tubes, price)
    even = least_tube_price(
        tubes.flow, tubes.diameter, tubes.air.density, tubes.search.bench.wanted
    )
    first = (
        f"A tube does not help: it chokes. In {kind_of(tubes)} the air would run at "
        f"{tubes.speed:.0f} m/s; its dynamic pressure of {tubes.head:.0f} Pa alone is more than "
        f"the {price:.0f} Pa that the plate needs without a tube, and a tube that draws as evenly "
        f"as wanted by itself costs {even:.0f} Pa (cosh law)."
    )
    words = [first]
    if shown is not None:
        words.append(
            f"Solved with the proposed plate over such a tube, as open as holes allow: "
            f"{shown.suction:.0f} Pa behind the port."
        )
    words.append(
        f"The plenum is too flat for this flow: a tube would have to be about {wide:.0f} mm wide, "
        f"and the plenum {wide + 1000.0 * (2.0 * tubes.wall + CLEARANCE):.0f} mm high, before its "
        "dynamic pressure falls to a quarter of what the plate needs."
    )
    return tuple(words)


def no_gain(tubes: Tubes, best: Design, price: float) -> tuple[str, ...]:
    """Say that a tube costs more than it saves.

    Parameters
    ----------
    tubes : Tubes
        What was tried.
    best : Design
        The tube with the least suction.
    price : float
        Suction of the plate without a new tube. [Pa]

    Returns
    -------
    tuple of str
        In words. [-]
    """
    point = best.point
    tube_part = point.suction - point.plate_drop
    return (
        f"A tube does not pay: the best one found ({best.tube.count} holes of "
        f"{mm_text(best.tube.hole_diameter)} in {kind_of(tubes)}) needs {point.suction:.0f} Pa, "
        f"the plate without it {price:.0f} Pa. It lets the plate be more open "
        f"({100 * best.free_area_ratio:.2f} %, {point.plate_drop:.0f} Pa), but takes "
        f"{tube_part:.0f} Pa itself: its own dynamic pressure is {tubes.head:.0f} Pa at "
        f"{tubes.speed:.0f} m/s.",
    )


def gain(tubes: Tubes, proposal: Proposal, price: float) -> tuple[str, ...]:
    """Say what a tube saves, and what the rule of thumb would drill.

    Parameters
    ----------
    tubes : Tubes
        What was tried.
    proposal : Proposal
        Plate with its tube.
    price : float
        Suction of the plate without a new tube. [Pa]

    Returns
    -------
    tuple of str
        In words. [-]
    """
    tube, point = proposal.tube, proposal.point
    assert tube is not None
    even = most_tube_holes(tubes.search.bench.wanted, tube.diameter, tube.hole_diameter)
    equal = 1000.0 * equal_area_diameter(tube.diameter, tube.count)
    drawn = "" if point.tube_draw_ratio is None else f" (tube ratio {point.tube_draw_ratio:.2f})"
    before = "today's holes in it" if tubes.case.distributor is not None else "no tube"
    return (
        f"A tube helps: with {tube.count} holes of {mm_text(tube.hole_diameter)} in "
        f"{kind_of(tubes)} the plate draws as evenly at {point.suction:.0f} Pa; with "
        f"{before} it takes {price:.0f} Pa.",
        f"The tube itself need not draw evenly{drawn}: the plate over it does. By itself it would "
        f"do so with at most {even} such holes (cosh law). The rule of thumb 'hole area equal to "
        f"tube area' would drill {tube.count} holes of {equal:.1f} mm: by the same law that tube "
        "draws about 1.4 times as much at its open end as at its closed one.",
    )


def left_out(alone: HolePoint | None) -> tuple[str, ...]:
    """Say what the plate needs without the tube of the case.

    Parameters
    ----------
    alone : HolePoint or None
        The plate without the tube of the case.

    Returns
    -------
    tuple of str
        In words. [-]
    """
    if alone is None:
        return ()
    return (
        f"Without any tube an even plate of {100 * alone.free_area_ratio:.2f} % free area would "
        f"draw as evenly at {alone.suction:.0f} Pa behind the port.",
    )


def as_well(tubes: Tubes, proposal: Proposal, price: float, alone: HolePoint) -> tuple[str, ...]:
    """Say that the tube of the case may as well be left out.

    Parameters
    ----------
    tubes : Tubes
        What was tried.
    proposal : Proposal
        Plate with its tube.
    price : float
        Suction of the plate without a new tube. [Pa]
    alone : HolePoint or None
        The plate without the tube of the case.

    Returns
    -------
    tuple of str
        In words. [-]
    """
    tube = proposal.tube
    assert tube is not None
    return (
        f"The tube may as well be left out: without any tube an even plate of "
        f"{100 * alone.free_area_ratio:.2f} % free area draws as evenly at {alone.suction:.0f} Pa "
        f"behind the port. With today's holes in the tube it takes {price:.0f} Pa, with "
        f"{tube.count} holes of {mm_text(tube.hole_diameter)} in it "
        f"{proposal.point.suction:.0f} Pa: the dynamic pressure in the tube is "
        f"{tubes.head:.0f} Pa at {tubes.speed:.0f} m/s.",
        "To leave it out, delete the table [distributor] from the case file and run holes again.",
    )
