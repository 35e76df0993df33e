"""Several cases side by side, as plain text."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from flowsim.report._text import columns, wrapped
from flowsim.report._units import (
    by_ratio,
    lone_copies,
    number,
    quantity_text,
    resolution_note,
    shown,
    words,
)
from flowsim.report.comparison import Comparison, ComparisonRow

__all__ = ["comparison_table"]

CASES_IN_A_BLOCK = 4
SAME = 5e-4  # relative difference that three digits do not show
THOUSAND = 1e3
NO_SHARE = 1e-9  # share below which only round-off differs
LEFT_OUT = ("mass_balance_error",)


def _differs(row: ComparisonRow) -> bool:
    """Return whether any case has another value than the first."""
    least = NO_SHARE if by_ratio(row.name) and row.unit == "-" else 0.0
    return any(not _equal(row.values[0], value, least) for value in row.values[1:])


def _equal(first: float | None, value: float | None, least: float) -> bool:
    """Return whether two values are the same to three digits, or both less than the least."""
    if first is None or value is None or not math.isfinite(first + value):
        return first == value
    return abs(value - first) <= SAME * max(abs(value), abs(first)) + least


def _bare(row: ComparisonRow, value: float | None) -> str:
    """Return a value as shown, without its unit."""
    factor, unit = shown(row.name, row.unit)
    if unit == "s":
        return number(None if value is None else factor * value)
    return quantity_text(row.name, value, row.unit).removesuffix(f" {unit}")


def _cell(row: ComparisonRow, index: int) -> str:
    """Return a value and, in brackets, its difference or ratio to the first case."""
    text = _bare(row, row.values[index])
    difference, ratio = row.differences[index], row.ratios[index]
    if index == 0 or difference is None or not math.isfinite(difference):
        return text
    if by_ratio(row.name):
        told = not any(resolution_note(row.name, row.values[place]) for place in (0, index))
        return f"{text} (x {_times(ratio)})" if told and ratio is not None else text
    change = _bare(row, difference)
    return f"{text} ({change if change.startswith('-') or change == '0' else '+' + change})"


def _times(ratio: float) -> str:
    """Return how many times as much, as a power of ten from a thousand on."""
    return f"{ratio:.1e}" if ratio >= THOUSAND else number(ratio, 2)


def _block(rows: Sequence[ComparisonRow], picks: range) -> Iterator[str]:
    """Yield a table of the first case and some others."""
    chosen = [0, *picks]
    letters = [f"{index + 1}" for index in chosen]
    lines = [("", "", *letters)]
    for row in rows:
        unit = shown(row.name, row.unit)[1]
        lines.append((words(row.name), unit, *(_cell(row, index) for index in chosen)))
    yield from columns(lines, indent="  ", right=range(2, len(chosen) + 2))


def _times_words(rows: Sequence[ComparisonRow]) -> str:
    """Return what the sign for a ratio means, where it is used."""
    return ", or with x how many times as much" if any(by_ratio(row.name) for row in rows) else ""


def comparison_table(comparison: Comparison) -> str:
    """Return several cases side by side as plain text.

    Parameters
    ----------
    comparison : Comparison
        Key figures of the cases. [SI]

    Returns
    -------
    str
        One column per case with differences to the first in brackets, what is the same in all,
        and the checks that are not met.
    """
    lines = [f"{index + 1}: {label}" for index, label in enumerate(comparison.labels)]
    copies = {*lone_copies(row.name for row in comparison.rows), *LEFT_OUT}
    shown_rows = [row for row in comparison.rows if row.name not in copies]
    rows = [row for row in shown_rows if _differs(row) or len(comparison.labels) == 1]
    count = len(comparison.labels)
    for start in range(1, max(count, 2), CASES_IN_A_BLOCK):
        lines.append("")
        lines += _block(rows, range(start, min(start + CASES_IN_A_BLOCK, count)))
    lines += ["", f"In brackets: difference to case 1{_times_words(rows)}."]
    same = [words(row.name) for row in shown_rows if row not in rows]
    if same:
        lines += wrapped("Same to three digits in every case: " + ", ".join(same) + ".")
    lines += _verdicts(comparison)
    return "\n".join(lines)


def _verdicts(comparison: Comparison) -> Iterator[str]:
    """Yield one line per case on its checks."""
    if not any(comparison.checks):
        return
    yield ""
    for place, checks in enumerate(comparison.checks, 1):
        failed = [f"{words(check.name)} {check.state}" for check in checks if check.state != "met"]
        text = ", ".join(failed) or ("every check met" if checks else "no limits stated")
        yield from wrapped(f"Case {place}: {text}")
