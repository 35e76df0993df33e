"""Which points get field files and pictures of their own, and how a worker writes them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from flowsim.batch.point import solve_point
from flowsim.batch.store import StoredRow
from flowsim.case.schema import Case
from flowsim.errors import FlowsimError
from flowsim.report.write import write_report
from flowsim.simulate.coupling import Coupled

__all__ = ["chosen_points", "write_point"]


def write_point(base: Case, start: Coupled | None, changes: Mapping[str, Any], folder: str) -> None:
    """Run a point once more and write everything that a single run writes.

    Parameters
    ----------
    base : Case
        Case of the sweep. [SI]
    start : Coupled or None
        First guess, the one that gave the row. [-]
    changes : mapping
        Key path -> value. [as written]
    folder : str
        Where; complete or not at all. [-]

    Raises
    ------
    FlowsimError
        If the point has no solution this time.
    OutputError
        If the disk refuses.
    """
    row, result = solve_point(base, start, changes, (), True)
    if result is None:
        raise FlowsimError(f"{row.status}: {row.error}")
    write_report(result, Path(folder))


def chosen_points(rows: Iterable[StoredRow], output: Any) -> list[int]:
    """Return the numbers of the points whose files are wanted.

    Parameters
    ----------
    rows : iterable of StoredRow
        Finished points. [-]
    output : Output
        What the sweep wants: `fields`, `best_by`, `best`, `best_count`. [-]

    Returns
    -------
    list of int
        In the order in which they are written; the best first.
    """
    if output.fields == "none":
        return []
    done = (row for row in rows if row.status == "done")
    if output.fields == "all":
        return [row.number for row in done]
    if output.fields == "failed limits":
        return [row.number for row in done if "not met" in row.checks.values()]
    sign = -1.0 if output.best == "largest" else 1.0
    ranked: list[tuple[float, int]] = []
    for row in done:
        value = row.figures.get(output.best_by)
        if value is not None and not math.isnan(value):
            ranked.append((sign * value, row.number))
    return [number for _, number in sorted(ranked)[: output.best_count]]
