"""Key figures of a case before and after its plate is drilled anew."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.errors import CaseError, ConvergenceError
from flowsim.report._units import base_name, quantity_text
from flowsim.report.holes_result import FigureRow
from flowsim.simulate.result import Check, Result
from flowsim.simulate.run import run_case

__all__ = ["SHOWN", "outcome", "run_changed"]

SHOWN = (
    "draw_ratio",
    "plate_pressure_drop",
    "plenum_pressure_mean",
    "exhaust_fan_pressure",
    "exhaust_flow",
    "supply_flow",
    "front_outflow",
    "front_velocity_min",
    "front_velocity_max",
    "front_inflow_share",
    "balance_margin",
    "compartment_pressure",
    "slit_velocity_min",
)
"""Key figures that are shown whether the case limits them or not. [-]"""


def run_changed(
    case: Case, changes: Mapping[str, str], say: Callable[[str], None], name: str
) -> Result | None:
    """Run a changed case with all its limits.

    Parameters
    ----------
    case : Case
        Stays as it is. [SI]
    changes : mapping of str to str
        Key path -> value. [as written]
    say : callable
        Told what is done. [-]
    name : str
        What it is called. [text]

    Returns
    -------
    Result or None
        None where no solution is found.
    """
    say(f"all limits: {name}")
    try:
        return run_case(change_case(case, dict(changes)) if changes else case, SHOWN)
    except (CaseError, ConvergenceError):
        return None


def outcome(results: Sequence[Result | None]) -> tuple[FigureRow, ...]:
    """Return the key figures of several runs side by side.

    Parameters
    ----------
    results : sequence of Result or None
        Of the case and of the case changed.

    Returns
    -------
    tuple of FigureRow
        Those that the case limits, and those that are always shown.
    """
    return tuple(_rows(results))


def _rows(results: Sequence[Result | None]) -> Iterator[FigureRow]:
    first = next(result for result in results if result is not None)
    checks = [{} if result is None else _by_name(result.checks) for result in results]
    limited = {name for found in checks for name in found}
    bases = {base_name(name) for name in limited}
    for name, item in first.quantities.items():
        plain = name in SHOWN and name not in bases
        if name not in limited and not plain:
            continue
        values = tuple(
            result.quantities[name].value
            if result is not None and name in result.quantities
            else None
            for result in results
        )
        if all(value is None for value in values):
            continue
        states = tuple(_state(found.get(name, ())) for found in checks)
        limits = [check for found in checks for check in found.get(name, ())]
        yield FigureRow(name, item.unit, values, _wanted(limits, item.unit), states)


def _by_name(checks: Sequence[Check]) -> dict[str, list[Check]]:
    found: dict[str, list[Check]] = {}
    for check in checks:
        found.setdefault(check.name, []).append(check)
    return found


def _state(checks: Sequence[Check]) -> str:
    """Return the worst of the verdicts on one figure."""
    for state in ("not met", "not shown", "met"):
        if any(check.state == state for check in checks):
            return state
    return ""


def _wanted(checks: Sequence[Check], unit: str) -> str:
    """Return what is wanted of one figure."""
    words = {
        f"{'at least' if check.kind == 'min' else 'at most'} "
        f"{quantity_text(check.name, check.limit, unit)}"
        for check in checks
    }
    return ", ".join(sorted(words))
