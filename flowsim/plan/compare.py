"""Several cases, or one case with varied values, side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, RangeError
from flowsim.report.comparison import Comparison, ComparisonRow
from flowsim.report.write_comparison import write_comparison
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

__all__ = ["compare", "vary", "write_comparison"]


def vary(case: Case, key: str, values: Sequence[Any]) -> tuple[tuple[str, Case], ...]:
    """Return a case once for each value of one of its keys.

    Parameters
    ----------
    case : Case
        Stays as it is. [SI]
    key : str
        Key path such as ``openings.front.height``. [-]
    values : sequence
        SI numbers, or strings with a unit. [SI]

    Returns
    -------
    tuple of tuple of str and Case
        Label such as ``openings.front.height = 140 mm``, and the changed case.

    Raises
    ------
    CaseError
        If the path names nothing or a changed case is faulty.
    """
    return tuple((f"{key} = {value}", change_case(case, {key: value})) for value in values)


def _solve(label: str, case: Case, run: Callable[[Case], Result]) -> Result:
    """Run one case; its failure names it."""
    try:
        return run(case)
    except ConvergenceError as error:
        raise ConvergenceError(f"{label}: {error}") from error


def _difference(value: float | None, first: float | None) -> float | None:
    """Return value less first, None where one of them is missing."""
    return None if value is None or first is None else value - first


def _rows(results: Sequence[Result]) -> tuple[ComparisonRow, ...]:
    """Return the key figures that at least one result has, in the order of the results."""
    rows = []
    known = {name: item for result in reversed(results) for name, item in result.quantities.items()}
    order = dict.fromkeys(name for result in results for name in result.quantities)
    for name in order:
        found = [result.quantities.get(name) for result in results]
        values = tuple(None if item is None else item.value for item in found)
        if any(value is not None for value in values):
            differences = tuple(_difference(value, values[0]) for value in values)
            item = known[name]
            rows.append(ComparisonRow(name, item.unit, item.meaning, values, differences))
    return tuple(rows)


def compare(
    cases: Sequence[tuple[str, Case]], run: Callable[[Case], Result] = run_case
) -> Comparison:
    """Run cases and put their key figures side by side.

    Parameters
    ----------
    cases : sequence of tuple of str and Case
        Label and case; the first is the one the others are compared with. [SI]
    run : callable
        What runs one case. [-]

    Returns
    -------
    Comparison
        Key figures, differences to the first case, checks and results.

    Raises
    ------
    RangeError
        If there is no case, or two have the same label.
    ConvergenceError
        If a case does not converge; the message names it.
    """
    labels = tuple(label for label, _ in cases)
    if not labels:
        raise RangeError("nothing to compare: no case was given")
    twice = sorted({label for label in labels if labels.count(label) > 1})
    if twice:
        raise RangeError(f"two cases have the label '{twice[0]}'; labels must differ")
    results = tuple(_solve(label, case, run) for label, case in cases)
    checks = tuple(result.checks for result in results)
    return Comparison(labels, _rows(results), checks, results)
