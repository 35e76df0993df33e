"""A plan of holes as text for the terminal, and the commands that run it."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence

from flowsim.report._text import columns, wrapped
from flowsim.report.holes_answer import answer, front_words
from flowsim.report.holes_result import HolePlan, SizeRow
from flowsim.report.holes_tables import (
    BEFORE,
    FIGURES_HEAD,
    SIZES_HEAD,
    figure_cells,
    rule_cells,
    size_cells,
)
from flowsim.report.holes_words import KINDS, millimetres, other_words

__all__ = ["commands", "holes_text"]


def commands(plan: HolePlan, case: str = "CASE.toml") -> list[tuple[str, str]]:
    """Return the commands that run a case with the proposals.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    case : str
        Name of the case file. [text]

    Returns
    -------
    list of tuple of str
        What it is, and a command in several lines, each change on its own. [-]
    """
    found = [("new plate, exhaust as set", _command(plan, case, plan.chosen.changes))]
    if plan.exhaust.changes and not plan.exhaust.beyond_rating and len(plan.columns) > 2:
        both = {**plan.chosen.changes, **plan.exhaust.changes}
        found.append(("new plate, exhaust reset to keep today's flow", _command(plan, case, both)))
    found += [
        (f"{KINDS[item.kind]}, exhaust as set", _command(plan, case, item.changes))
        for item in plan.others
        if item.changes
    ]
    return found


def _command(plan: HolePlan, case: str, changes: Mapping[str, str]) -> str:
    """Return one command."""
    changes = {**plan.given, **changes}
    lines = [f"flowsim run {shlex.quote(case)}"]
    lines += [f"  --set {key}={shlex.quote(value)}" for key, value in changes.items()]
    return " \\\n".join(lines)


def holes_text(plan: HolePlan) -> str:
    """Return a plan of holes as text for a terminal.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    str
        The answer in the first five lines; without a newline at the end. [-]
    """
    return "\n".join(_lines(plan))


def _lines(plan: HolePlan) -> Iterator[str]:
    yield from answer(plan)
    for text in front_words(plan):
        yield from wrapped(text)
    yield ""
    yield "Hole diameters at hand, each at today's exhaust flow"
    yield from columns([SIZES_HEAD, *_solved_sizes(plan.sizes)], right=range(1, 9))
    for row in plan.sizes:
        if row.remark:
            yield from wrapped(f"{millimetres(row.diameter, 3)} mm: {row.remark}.", "  ")
    yield ""
    yield f"{BEFORE}; limits are met where nothing else is said"
    head = (*FIGURES_HEAD, *plan.columns)
    yield from columns([head, *map(figure_cells, plan.figures)], right=range(2, len(head)))
    for proposal in plan.others:
        yield ""
        for text in other_words(plan, proposal):
            yield from wrapped(text)
    for title, lines in _further(plan):
        if lines:
            yield ""
            yield title
            for text in lines:
                yield from wrapped(text, "  ")


def _solved_sizes(rows: Sequence[SizeRow]) -> list[tuple[str, ...]]:
    return [size_cells(row) for row in rows if row.proposal is not None]


def _further(plan: HolePlan) -> Iterator[tuple[str, Sequence[str]]]:
    """Yield what else there is to say."""
    yield "Graded plate", plan.graded_words
    yield "Distributor tube", plan.tube_words
    rules = []
    for rule in plan.rules:
        name, free, drop, solved, note = rule_cells(rule)
        rules.append(f"{name}: {free}, {drop}; solved it draws {solved}. Leaves out: {note}.")
    yield "Rules, for the same wanted ratio", rules
    yield "Before you drill", plan.notes
    yield "Warnings that today's plate does not have", plan.warnings
