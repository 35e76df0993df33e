"""All files of a comparison."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from flowsim.case.read import case_hash
from flowsim.report._folder import FolderKind, whole_folder
from flowsim.report._json import json_text, strict
from flowsim.report.comparison import Comparison
from flowsim.report.figures_compare import comparison_picture

__all__ = ["comparison_document", "comparison_sheet", "write_comparison"]

COMPARISONS = FolderKind(
    "comparison.json",
    "rows",
    frozenset({"comparison.json", "comparison.csv", "comparison.png"}),
)


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Return a comparison as a document for strict JSON.

    Parameters
    ----------
    comparison : Comparison
        The cases. [SI]

    Returns
    -------
    dict
        ``format``, ``cases`` and ``rows``; SI values, null where there is none.
    """
    cases = [
        {
            "label": label,
            "title": result.case.title,
            "hash": case_hash(result.case),
            "fidelity": result.fidelity,
            "checks": [
                {"name": check.name, "state": check.state, "margin": check.margin}
                for check in result.checks
            ],
            "warnings": list(result.warnings),
        }
        for label, result in zip(comparison.labels, comparison.results, strict=True)
    ]
    rows = [
        {
            "name": row.name,
            "unit": row.unit,
            "meaning": row.meaning,
            "values": row.values,
            "differences": row.differences,
            "ratios": row.ratios,
        }
        for row in comparison.rows
    ]
    return strict({"format": 1, "cases": cases, "rows": rows})


def comparison_sheet(comparison: Comparison) -> str:
    """Return a comparison as CSV: one line per case, one column per key figure.

    Parameters
    ----------
    comparison : Comparison
        The cases. [SI]

    Returns
    -------
    str
        Header with SI units in square brackets; empty where there is no value.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["case", *(f"{row.name} [{row.unit}]" for row in comparison.rows)])
    for index, label in enumerate(comparison.labels):
        values = [row.values[index] for row in comparison.rows]
        writer.writerow([label, *("" if value is None else repr(float(value)) for value in values)])
    return stream.getvalue()


def write_comparison(comparison: Comparison, folder: Path | str) -> None:
    """Write a comparison as JSON, CSV and one picture: all of them or none.

    Parameters
    ----------
    comparison : Comparison
        The cases. [SI]
    folder : Path or str
        Where; an earlier comparison is replaced. [-]

    Raises
    ------
    OutputError
        If the folder holds anything that is not an earlier comparison, or the disk refuses.
    """
    with whole_folder(Path(folder), COMPARISONS) as fresh:
        document = json_text(comparison_document(comparison))
        (fresh / "comparison.json").write_text(document, encoding="utf-8")
        (fresh / "comparison.csv").write_text(comparison_sheet(comparison), encoding="utf-8")
        (fresh / "comparison.png").write_bytes(comparison_picture(comparison))
