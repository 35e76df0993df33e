"""Vapour and dust as plain text for a terminal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Sequence

from flowsim.report._text import WIDTH, wrapped
from flowsim.report.cautions import substance_cautions
from flowsim.report.clean_tables import recovery_facts, workpiece_facts
from flowsim.report.instruments import transport_readings
from flowsim.report.transport_answers import basis_facts, short_answers
from flowsim.report.transport_tables import (
    Fact,
    limit_rows,
    release_facts,
    release_title,
    tightest,
    working_limits,
)
from flowsim.simulate.transport_result import ReleaseResult, Transport, WorkpieceResult

__all__ = ["answer_lines", "transport_lines"]

INDENT = "  "
LABEL_WIDTH = 23
MOST_LIMITS = 3
CALM = 0.01  # share of a limit, below which one line is enough
TIED = "\u00a0"  # at which no line is broken
NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=[%a-zA-Z/]{1,5}\b|%)")


def _facts(facts: Sequence[Fact]) -> Iterator[str]:
    """Yield labelled texts, folded under themselves."""
    for label, text in facts:
        yield from _folded(f"{INDENT}{label.ljust(LABEL_WIDTH)} ", text)


def _folded(head: str, text: str) -> Iterator[str]:
    """Yield a text behind its head, further lines under its first word."""
    hanging = " " * len(head)
    lines = textwrap.wrap(_joined(text), WIDTH - len(head), break_long_words=False) or ["-"]
    yield head + lines[0].replace(TIED, " ")
    for line in lines[1:]:
        yield hanging + line.replace(TIED, " ")


def _joined(text: str) -> str:
    """Return a text whose numbers do not part from their units at the end of a line."""
    return NUMBER_AND_UNIT.sub(TIED, " ".join(text.split()))


def _why(text: str) -> Iterator[str]:
    """Yield the sentence that says why."""
    if text:
        yield from wrapped(text, INDENT)


def _limits(release: ReleaseResult) -> list[Fact]:
    """Return the tightest published limits, one fact each."""
    checks = working_limits(release)
    calm = all(check.state == "met" and check.ratio < CALM for check in checks)
    chosen = tightest(checks, 1 if calm else MOST_LIMITS)
    facts = [
        (
            f"  {row.state}",
            f"{row.value} (at worst {row.highest}) of {row.limit}: {row.who} {row.kind}, {row.year}"
            + (" [from memory]" if row.from_memory and "memory" not in row.year else ""),
        )
        for row in limit_rows(chosen)
    ]
    more = len(checks) - len(chosen)
    return facts + ([("", f"{more} more in report.html and summary.json")] if more else [])


def _release(release: ReleaseResult) -> Iterator[str]:
    """Yield the block of one release."""
    yield ""
    yield from wrapped(f"Where vapour goes: {release_title(release)}")
    yield from _why(release.why)
    facts = release_facts(release)
    at = next(place for place, fact in enumerate(facts) if fact[0] == "breathed") + 1
    yield from _facts([*facts[:at], *_limits(release), *facts[at:]])


def _workpiece(piece: WorkpieceResult) -> Iterator[str]:
    """Yield the block of one workpiece."""
    yield ""
    yield from wrapped(f"How clean it is: {piece.label}")
    yield from _why(piece.why)
    yield from _facts(workpiece_facts(piece))


def _listed(heading: str, texts: Sequence[str]) -> Iterator[str]:
    """Yield a list under its heading, nothing for an empty one."""
    if not texts:
        return
    yield ""
    yield heading
    for text in texts:
        yield from _folded("  - ", text)


def answer_lines(transport: Transport | None) -> Iterator[str]:
    """Yield the answers on vapour and dust, one line each.

    Parameters
    ----------
    transport : Transport or None
        Vapour and dust. [SI]

    Yields
    ------
    str
        A heading and a line per release and workpiece; nothing where there is none.
    """
    answers = [] if transport is None else short_answers(transport)
    if answers:
        yield ""
        yield "In short"
        for label, text in answers:
            yield from wrapped(f"{label}: {text}", INDENT)


def transport_lines(transport: Transport | None) -> Iterator[str]:
    """Yield where vapour goes and how clean it is, as lines of plain text.

    Parameters
    ----------
    transport : Transport or None
        Vapour and dust; nothing is said where they were not computed. [SI]

    Yields
    ------
    str
        A block per release and workpiece, the recovery, the mixing assumed, what an instrument
        can show, and the cautions of the substances.
    """
    if transport is None:
        return
    for release in transport.releases:
        yield from _release(release)
    for piece in transport.workpieces:
        yield from _workpiece(piece)
    if transport.recovery is not None:
        yield ""
        yield "How clean it is: after switching on, the chamber full of room air"
        yield from _why(transport.recovery.why)
        yield from _facts(recovery_facts(transport.recovery))
    yield ""
    yield "What the shares rest on"
    yield from _facts(basis_facts(transport))
    readings = [f"{text} ({source})" for text, source in transport_readings(transport)]
    yield from _listed("What an instrument can show of vapour and dust", readings)
    cautions = [caution.short for caution in substance_cautions(transport.releases)]
    yield from _listed("Mind the substances", cautions)
