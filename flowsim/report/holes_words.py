"""Plates, tubes and proposals in words."""

from __future__ import annotations

from flowsim.report._units import number, words
from flowsim.report.drill_result import Pattern, TubeHoles
from flowsim.report.holes_result import HolePlan, HolePoint, Proposal

__all__ = [
    "KINDS",
    "capital",
    "flow_text",
    "millimetres",
    "other_words",
    "pattern_words",
    "ratio_text",
    "tube_words",
    "wanted_text",
]

KINDS = {"even": "even plate", "graded": "graded plate", "tube": "plate with a tube"}
"""Kinds of proposals. [-]"""
SAVES = 0.97  # suction over that of the even plate from which grading is not worth it


def capital(text: str) -> str:
    """Return a text with a capital letter.

    Parameters
    ----------
    text : str
        Any. [-]
    """
    return text[:1].upper() + text[1:]


def flow_text(value: float) -> str:
    """Return a flow in m3/h.

    Parameters
    ----------
    value : float
        Flow. [m3/s]
    """
    return f"{3600.0 * value:.0f} m3/h"


def ratio_text(point: HolePoint) -> str:
    """Return a draw ratio with its doubt.

    Parameters
    ----------
    point : HolePoint
        Solved plate. [SI]
    """
    if point.draw_ratio is None:
        return "a station blows upwards"
    return f"{point.draw_ratio:.3f}, doubt {point.spread:.3f}"


def millimetres(value: float, digits: int = 1) -> str:
    """Return a length in millimetres without its unit.

    Parameters
    ----------
    value : float
        Length. [m]
    digits : int
        Decimals at most. [-]
    """
    return f"{round(1000.0 * value, digits):g}"


def _pitches(pattern: Pattern) -> str:
    """Return how far apart holes are along a row."""
    least, most = pattern.pitch_x
    if pattern.arrangement == "graded":
        return f"{millimetres(least)} to {millimetres(most)} mm apart"
    return f"{millimetres(least)} mm apart"


def pattern_words(pattern: Pattern) -> str:
    """Return a pattern in one sentence.

    Parameters
    ----------
    pattern : Pattern
        Drawn holes. [m]

    Returns
    -------
    str
        Such as ``465 holes of 8 mm: 15 rows of 31, 41.9 mm apart, rows 43.3 mm apart``. [-]
    """
    staggered = ", every other row shifted by half of it" if _is_triangular(pattern) else ""
    left = f" less {pattern.left_out} left out" if pattern.left_out else ""
    return (
        f"{pattern.count} holes of {millimetres(pattern.diameter, 3)} mm: {pattern.rows} rows of "
        f"{pattern.columns}{left}, {_pitches(pattern)}{staggered}, rows "
        f"{millimetres(pattern.pitch_y)} mm apart"
    )


def _is_triangular(pattern: Pattern) -> bool:
    return pattern.arrangement == "triangular"


def tube_words(tube: TubeHoles) -> str:
    """Return the holes of a tube in one sentence.

    Parameters
    ----------
    tube : TubeHoles
        The tube. [m]

    Returns
    -------
    str
        What to drill. [-]
    """
    return (
        f"Tube {millimetres(tube.diameter)} mm inside, {millimetres(tube.length)} mm long, joined "
        f"to {tube.port}, its axis {millimetres(tube.axis)} mm from the front: {tube.count} holes "
        f"of {millimetres(tube.hole_diameter)} mm, {tube.rows} rows round it of {tube.columns}, "
        f"{millimetres(tube.pitch)} mm apart; air at its end {tube.speed:.0f} m/s."
    )


def other_words(plan: HolePlan, proposal: Proposal) -> list[str]:
    """Return a graded plate or a plate with a tube in words.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    proposal : Proposal
        The other plate. [SI]

    Returns
    -------
    list of str
        Sentences. [-]
    """
    point = proposal.point
    found = [
        f"{capital(KINDS[proposal.kind])}: {pattern_words(proposal.pattern)}.",
        f"Draw ratio {ratio_text(point)}: {proposal.state}. Suction {point.suction:.0f} Pa, even "
        f"plate {plan.chosen.point.suction:.0f} Pa; fan {point.fan_pressure:.0f} Pa, both at "
        f"today's {flow_text(point.exhaust_flow)}.",
    ]
    if proposal.tube is not None:
        found.append(tube_words(proposal.tube))
    if point.tray_pressure is not None:
        found.append(f"Tray {number(point.tray_pressure)} Pa against the chamber.")
    if point.broken:
        names = ", ".join(words(name) for name in point.broken)
        found.append(f"Limits of the case that it does not meet: {names}.")
    found += proposal.notes
    if proposal.kind == "graded":
        if point.suction > SAVES * plan.chosen.point.suction:
            found.append("It saves no suction worth the trouble: drill the even plate.")
        found.append(
            "A graded plate evens out what the models compute; it is wrong where they are wrong, "
            "and for any other plenum or port. A case file knows only one density of holes: these "
            "figures come from the same models with the drawn density at each station."
        )
    return found


def wanted_text(plan: HolePlan) -> str:
    """Return the wanted draw ratio as people write it.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    """
    two = f"{plan.wanted:.2f}"
    return two if float(two) == plan.wanted else f"{plan.wanted:g}"
