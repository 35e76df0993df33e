"""The result as JSON and as plain text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from flowsim.case.read import case_hash
from flowsim.report._json import strict
from flowsim.report._text import columns, wrapped
from flowsim.report._units import (
    base_name,
    lone_copies,
    quantity_text,
    resolution_note,
    words,
)
from flowsim.report.cautions import SHORT_CAUTION
from flowsim.report.comparison_text import comparison_table
from flowsim.report.instruments import reading_of
from flowsim.report.transport_document import transport_document
from flowsim.report.transport_text import answer_lines, transport_lines
from flowsim.simulate.result import Check, Quantity, Result

__all__ = [
    "GROUPS",
    "LEADING",
    "MODELS",
    "comparison_table",
    "grouped",
    "residual_text",
    "shown_pressures",
    "summary_document",
    "terminal_table",
]

LEADING = "balance_margin"
TRANSPORT_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Where vapour goes",
        (
            "vapour_",
            "exposure_",
            "lfl_",
            "surface_escape_",
            "slit_escape_",
            "evaporation_",
        ),
    ),
    (
        "How clean it is",
        ("iso_", "room_air_", "surface_room_air_", "recovery_", "deposition_", "air_age_"),
    ),
)
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    *TRANSPORT_GROUPS,
    (
        "What moves",
        ("supply_", "exhaust_", "leak_", "room_pressure", "chamber_pressure", "air_change"),
    ),
    (
        "The front",
        ("front_", "draught_", "crossflow_", "blocking_", "chamber_static"),
    ),
    ("The draw of the work surface", ("plate_", "plenum_", "draw_", "tube_", "choking_")),
    ("The downflow", ("downflow_",)),
    ("The compartment", ("compartment_", "slit_", "bypass_")),
)
OTHER = "Other figures"
MODELS = {
    "network": "network only (no field)",
    "section": "one section of the chamber (2D)",
    "stacked": "stacked sections (quasi-3D)",
    "volume": "whole volume (3D)",
}


def _quantity(name: str, quantity: Quantity) -> dict[str, Any]:
    """Return one key figure; its meaning also says what an instrument can show of it."""
    meaning = quantity.meaning
    if quantity.indicative:
        meaning += "; indicative: take the trend, not the size"
    note = resolution_note(name, quantity.value)
    if note:
        meaning += f"; {note}"
    if quantity.unit == "Pa" and quantity.value is not None:
        meaning += f"; to read it: {reading_of(name, quantity.value)}"
    return {"value": quantity.value, "unit": quantity.unit, "meaning": meaning}


def _check(check: Check) -> dict[str, Any]:
    """Return one check."""
    return {
        "name": check.name,
        "value": check.value,
        "limit": check.limit,
        "margin": check.margin,
        "state": check.state,
        "basis": check.basis,
        "kind": check.kind,
        "unit": check.unit,
    }


def summary_document(result: Result) -> dict[str, Any]:
    """Return the result as a document for strict JSON.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    dict
        ``format``, ``case``, ``quantities``, ``checks``, ``residuals``, ``assumptions``,
        ``warnings`` and, where vapour and dust were computed, ``transport``; SI values, null
        where there is none.
    """
    case = result.case
    document: dict[str, Any] = {
        "format": 1,
        "case": {
            "title": case.title,
            "question": case.question,
            "hash": case_hash(case),
            "fidelity": result.fidelity,
            "resolved": case.model_dump(mode="json"),
        },
        "quantities": {name: _quantity(name, item) for name, item in result.quantities.items()},
        "checks": [_check(check) for check in result.checks],
        "residuals": dict(result.residuals),
        "assumptions": list(result.assumptions),
        "warnings": list(result.warnings),
    }
    if result.transport is not None:
        document["transport"] = transport_document(result.transport)
    return strict(document)


def _group_of(name: str) -> str:
    """Return the heading under which a key figure stands."""
    for heading, starts in GROUPS:
        if name.startswith(starts):
            return heading
    return OTHER


def grouped(quantities: Mapping[str, Quantity]) -> dict[str, dict[str, Quantity]]:
    """Return key figures that have a value under plain headings, in the order of the report.

    Parameters
    ----------
    quantities : mapping of str to Quantity
        Key figures. [SI]

    Returns
    -------
    dict of str to dict
        Heading -> name -> figure; empty headings and the leading figure are left out.
    """
    groups: dict[str, dict[str, Quantity]] = {heading: {} for heading, _ in GROUPS}
    groups[OTHER] = {}
    copies = lone_copies(quantities)
    for name, item in quantities.items():
        if base_name(name) == LEADING or name in copies or item.value is None:
            continue
        groups[_group_of(name)][name] = item
    return {heading: items for heading, items in groups.items() if items}


def _split(name: str, quantity: Quantity) -> tuple[str, str]:
    """Return value and unit of a key figure as shown."""
    text = quantity_text(name, quantity.value, quantity.unit)
    value, _, unit = text.partition(" ")
    return value, unit


def _head(result: Result) -> Iterator[str]:
    """Yield the title and the leading figure."""
    case = result.case
    yield from wrapped(case.title)
    yield from wrapped(f"Model: {MODELS.get(result.fidelity, result.fidelity)}", "  ")
    if case.question:
        yield from wrapped(f"Question: {case.question}", "  ")
    yield ""
    leading = result.quantities.get(LEADING)
    if leading is not None:
        value = quantity_text(LEADING, leading.value, leading.unit)
        yield f"{words(LEADING)}: {value}"
        yield from wrapped(leading.meaning, "  ")


def _shown_groups(result: Result) -> dict[str, dict[str, Quantity]]:
    """Return the groups; of vapour and dust only the governing one, as each has its block."""
    headings = {heading for heading, _ in TRANSPORT_GROUPS} if result.transport else set()
    groups = {
        heading: {
            name: item
            for name, item in items.items()
            if heading not in headings or name == base_name(name)
        }
        for heading, items in grouped(result.quantities).items()
    }
    return {heading: items for heading, items in groups.items() if items}


def _figures(result: Result) -> Iterator[str]:
    """Yield the key figures under their headings."""
    groups = _shown_groups(result)
    names = [words(name) for items in groups.values() for name in items]
    widest = max((len(name) for name in names), default=0)
    for heading, items in groups.items():
        yield ""
        yield heading
        rows = []
        for name, item in items.items():
            notes = ["indicative"] if item.indicative else []
            notes += [text for text in (resolution_note(name, item.value),) if text]
            rows.append((words(name).ljust(widest), *_split(name, item), ", ".join(notes)))
        yield from columns(rows)


def shown_pressures(result: Result) -> list[tuple[str, Quantity]]:
    """Return the key figures that are pressures and not zero.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    list of tuple of str and Quantity
        Name and figure, in the order of the report.
    """
    copies = lone_copies(result.quantities)
    return [
        (name, item)
        for name, item in result.quantities.items()
        if item.unit == "Pa" and item.value and name not in copies
    ]


def _pressures(result: Result) -> Iterator[str]:
    """Yield one line per pressure: whether an instrument can show it."""
    rows = [
        (words(name), quantity_text(name, item.value, item.unit), reading_of(name, item.value))
        for name, item in shown_pressures(result)
        if item.value is not None
    ]
    if rows:
        yield ""
        yield "Can an instrument show it? (common practice, no source)"
        yield from columns(rows)


def _checks(checks: tuple[Check, ...]) -> Iterator[str]:
    """Yield the verdicts."""
    yield ""
    if not checks:
        yield "Checks: the case states no limits."
        return
    yield "Checks against the limits of the case"
    rows = []
    for check in checks:
        bound = "at least" if check.kind == "min" else "at most"
        texts = [
            quantity_text(check.name, value, check.unit)
            for value in (check.value, check.limit, check.margin)
        ]
        limit = f"{bound} {texts[1]}"
        rows.append((check.state, words(check.name), texts[0], limit, f"margin {texts[2]}"))
    yield from columns(rows, right=(2,))
    for check in checks:
        if check.state != "met":
            yield from wrapped(f"{words(check.name)} {check.state}: {check.basis}", "    ")


def _tail(result: Result) -> Iterator[str]:
    """Yield warnings, residuals and cautions."""
    if result.warnings:
        yield ""
        yield "Warnings"
        for text in result.warnings:
            lines = list(wrapped(text, "    "))
            yield "  - " + lines[0].lstrip() if lines else "  -"
            yield from lines[1:]
    if result.residuals:
        yield ""
        parts = [f"{name} {residual_text(value)}" for name, value in result.residuals.items()]
        yield from wrapped("Residuals: " + ", ".join(parts))
    yield ""
    yield from wrapped(SHORT_CAUTION)


def residual_text(value: float | str) -> str:
    """Return a residual, a count or a choice as text.

    Parameters
    ----------
    value : float or str
        As the solver gives it. [any]

    Returns
    -------
    str
        Whole numbers in full, others with two digits.
    """
    if isinstance(value, str):
        return value
    return f"{value:.0f}" if float(value).is_integer() else f"{value:.1e}"


def terminal_table(result: Result) -> str:
    """Return the result as plain text for a terminal.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    str
        Lines in units people use: the leading figure, the answers on vapour and dust, key figures
        under headings, vapour and dust in detail, what an instrument can show, checks, warnings,
        residuals and cautions.
    """
    lines = [*_head(result), *answer_lines(result.transport), *_figures(result)]
    lines += [*transport_lines(result.transport), *_pressures(result)]
    lines += [*_checks(result.checks), *_tail(result)]
    return "\n".join(lines)
