"""One point of a sweep: a changed case, run, as one row of the table."""

from __future__ import annotations

import warnings
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

from flowsim.case.read import change_case
from flowsim.case.schema import Case, Limits
from flowsim.errors import CaseError, ConvergenceError, RangeError
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.layout import lay_out
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

__all__ = [
    "EVERYTHING",
    "Row",
    "Status",
    "base_start",
    "judged_case",
    "row_of",
    "run_point",
    "solve_point",
]

Status = Literal["done", "faulty", "not converged", "crashed", "too long"]
State = Literal["met", "not met", "not shown"]

EVERYTHING = "all"
"""Stands for every key figure among those to keep."""
ORDER: tuple[State, ...] = ("not met", "not shown", "met")


@dataclass(frozen=True)
class Row:
    """What is stored of one point; no time is in it, so that the same point gives the same row.

    Parameters
    ----------
    status : {"done", "faulty", "not converged", "crashed", "too long"}
        How it went.
    figures : dict of str to float or None
        Key figures that were asked for, in SI units, in the order of the result; None where the
        point has no such figure. Empty unless done. [any]
    checks : dict of str to {"met", "not met", "not shown"}
        Verdicts on the limits of these figures, the worse of two sides. Empty unless done.
    error : str
        What went wrong; empty if done.
    """

    status: Status
    figures: dict[str, float | None] = field(default_factory=dict)
    checks: dict[str, State] = field(default_factory=dict)
    error: str = ""


def base_start(base: Case) -> Coupled | None:
    """Return the solution of the base case, with which its points begin.

    Parameters
    ----------
    base : Case
        The base case.

    Returns
    -------
    Coupled or None
        The same in every process; None where the base case itself has no solution.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return couple(lay_out(base))
        except (ConvergenceError, RangeError):
            return None


def judged_case(case: Case, keep: Collection[str]) -> Case:
    """Return a case without the limits on figures that are not kept.

    Parameters
    ----------
    case : Case
        A case.
    keep : collection of str
        Names of key figures; "all" for all. [-]

    Returns
    -------
    Case
        The rest is unchanged: a figure that nobody keeps costs nothing.
    """
    if EVERYTHING in keep:
        return case
    kept = {name.split("[", 1)[0] for name in keep} | {"measure_height"}
    given = {name: getattr(case.limits, name) for name in Limits.model_fields if name in kept}
    limits = case.limits.model_copy(
        update={name: given.get(name) for name in Limits.model_fields if name not in given}
    )
    return case.model_copy(update={"limits": limits})


def row_of(result: Result, keep: Collection[str]) -> Row:
    """Return the row of a solved case.

    Parameters
    ----------
    result : Result
        What a run gave.
    keep : collection of str
        Names of key figures; "all" for all. [-]

    Returns
    -------
    Row
        With the status "done".
    """
    known = {name: item.value for name, item in result.quantities.items()}
    everything = EVERYTHING in keep
    kept = {name.split("[", 1)[0] for name in keep}
    checks: dict[str, State] = {}
    for check in result.checks:
        if everything or check.name.split("[", 1)[0] in kept:
            both = (check.state, checks.get(check.name, "met"))
            checks[check.name] = min(both, key=ORDER.index)
    return Row("done", known if everything else {name: known.get(name) for name in keep}, checks)


def solve_point(
    base: Case,
    start: Coupled | None,
    changes: Mapping[str, object],
    keep: Collection[str],
    want_fields: bool = False,
) -> tuple[Row, Result | None]:
    """Run one point and return its row with the result it was taken from.

    Parameters
    ----------
    base : Case
        The base case.
    start : Coupled or None
        From `base_start`; None begins cold.
    changes : mapping of str to value
        Key path -> SI number or string with a unit, as of `change_case`. [any]
    keep : collection of str
        Names of key figures; "all" for all. [-]
    want_fields : bool
        Whether the result must hold everything that a report shows. The row is the same.

    Returns
    -------
    row : Row
        Faults and failures are rows too.
    result : Result or None
        None unless the row is done.

    Notes
    -----
    A point begins with the solution of the base case or with nothing, never with that of another
    point: its row does not depend on what ran before.
    """
    everything = want_fields or EVERYTHING in keep
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            case = change_case(base, changes)
            if everything:
                result = run_case(case, None, start)
            else:
                result = run_case(judged_case(case, keep), keep, start)
            return row_of(result, keep), result
        except (CaseError, RangeError) as error:
            return Row("faulty", error=str(error)), None
        except ConvergenceError as error:
            return Row("not converged", error=str(error)), None
        except Exception as error:  # noqa: BLE001 - one bad point must not end a night's work
            return Row("crashed", error=f"{type(error).__name__}: {error}"), None


def run_point(
    base: Case,
    start: Coupled | None,
    changes: Mapping[str, object],
    keep: Collection[str],
    want_fields: bool = False,
) -> Row:
    """Run one point of a sweep.

    Parameters
    ----------
    base : Case
        The base case.
    start : Coupled or None
        From `base_start`; None begins cold.
    changes : mapping of str to value
        Key path -> SI number or string with a unit, as of `change_case`. [any]
    keep : collection of str
        Names of key figures; "all" for all. [-]
    want_fields : bool
        Whether to compute everything that a report shows. The row is the same.

    Returns
    -------
    Row
        As of `solve_point`, which also gives the result.
    """
    return solve_point(base, start, changes, keep, want_fields)[0]
