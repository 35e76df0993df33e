"""What a result says about vapour and dust in one line each, and which mixing it assumed."""

from __future__ import annotations

import math

from flowsim.report._units import duration_text, number
from flowsim.report.clean_tables import class_number
from flowsim.report.transport_tables import (
    STATES,
    Fact,
    short_percent,
    times_tightest,
    working_limits,
)
from flowsim.simulate.shares import RESOLVED
from flowsim.simulate.transport_result import ReleaseResult, Transport, WorkpieceResult

__all__ = ["basis_facts", "short_answers"]

SQUARE_CENTIMETRES = 1e4  # in a square metre


def short_answers(transport: Transport) -> list[Fact]:
    """Return the answers in one line each.

    Parameters
    ----------
    transport : Transport
        Vapour and dust. [SI]

    Returns
    -------
    list of tuple of str
        Release, workpiece or recovery, and what is to be said of it.
    """
    answers = [(release.label, _short_release(release)) for release in transport.releases]
    answers += [(piece.label, _short_piece(piece)) for piece in transport.workpieces]
    if transport.recovery is not None:
        time = transport.recovery.time
        text = "never down to 1/100" if time is None else f"clean after {duration_text(time)}"
        answers.append(("switching on", text))
    return answers


def _short_release(release: ReleaseResult) -> str:
    """Return where the vapour of a release goes, in one line."""
    share = release.escape
    out = short_percent(share.value) if share.resolved else f"less than {100.0 * RESOLVED:g} %"
    worst = f" (at worst {short_percent(share.highest)})" if share.highest >= RESOLVED else ""
    text = f"{out} of the vapour comes out into the room{worst}"
    checks = working_limits(release)
    if not checks:
        return text
    states = [check.state for check in checks]
    state = next(state for state in STATES if state in states)
    count = f"{states.count(state)} of {len(states)} published limits {state}"
    met = "every published limit met" if state == "met" else count
    return f"{text}; {met}, {times_tightest(checks[0])}"


def _short_piece(piece: WorkpieceResult) -> str:
    """Return how clean it is at a workpiece, in one line."""
    room = f"{short_percent(piece.room_air.value)} room air"
    if piece.iso_class is None:
        return room
    number_text = class_number(piece.iso_class)
    worst = class_number(piece.iso_class_highest)
    name = piece.class_text.split(";")[0]
    return f"{name} (number {number_text}, at worst {worst}), mostly {piece.cause}; {room}"


def basis_facts(transport: Transport) -> list[Fact]:
    """Return which mixing was assumed.

    Parameters
    ----------
    transport : Transport
        Vapour and dust. [SI]

    Returns
    -------
    list of tuple of str
        Eddy diffusivity by state, exchange at each opening.
    """
    eddies = ", ".join(
        f"{state} {number(value * SQUARE_CENTIMETRES, 2)} cm2/s"
        for state, value in transport.eddy.items()
        if math.isfinite(value)
    )
    facts = [("eddies assumed", f"{eddies}; each share also with half and double of it")]
    facts += [
        (
            f"at {label}",
            f"velocity reverses with {number(size, 2)} m/s about its mean, exchange "
            f"{number(exchange, 2)} m/s each way; each share also with half and double of it",
        )
        for label, (size, exchange) in transport.reversal.items()
    ]
    return facts
