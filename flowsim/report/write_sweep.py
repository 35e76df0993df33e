"""All files that sum up a sweep."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from flowsim import __version__
from flowsim.report._in_place import SharedKind, put_in_place
from flowsim.report._json import json_text, strict
from flowsim.report.figures_sweep import SweepChoice, sweep_pictures
from flowsim.report.sweep_answers import answers
from flowsim.report.sweep_page import sweep_page
from flowsim.report.sweep_reading import SweepReading, read_sweep_table
from flowsim.report.sweep_sensitivity import Sensitivity
from flowsim.report.sweep_table import SweepTable

__all__ = ["sweep_document", "write_sweep"]

SWEEPS = SharedKind("sweep.json", "sweep", ("sweep.html",), "figures")


def _sensitivity(reading: SweepReading, found: Sensitivity) -> dict[str, Any]:
    """Return what one figure depends on."""
    return {
        "method": found.method,
        "note": found.note,
        "points": found.count,
        "explained": found.explained,
        "axes": [
            {
                "keys": axis.keys,
                "first": found.first[place],
                "first_error": found.first_error[place],
                "total": None if found.total is None else found.total[place],
                "total_error": None if found.total is None else found.total_error[place],
                "trend": found.trend[place],
            }
            for place, axis in enumerate(reading.axes)
        ],
    }


def _point(reading: SweepReading, row: int) -> dict[str, Any]:
    """Return one point with its values and figures."""
    table = reading.table
    return {
        "number": table.numbers[row],
        "values": {key: column[row] for key, column in zip(table.keys, table.values, strict=True)},
        "figures": {name: values[row] for name, values in table.figures.items()},
        "checks": {name: states[row] for name, states in table.states.items()},
    }


def sweep_document(reading: SweepReading) -> dict[str, Any]:
    """Return what a sweep found as a document for strict JSON.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    dict
        SI values, null where there is none or it is not finite.
    """
    table = reading.table
    status, count = np.unique(table.status, return_counts=True)
    return strict(
        {
            "format": 1,
            "sweep": table.title,
            "question": table.question,
            "answers": [{"asked": asked, "answer": text} for asked, text in answers(reading)],
            "points": {
                "planned": max(table.planned, len(table)),
                "skipped": table.skipped,
                "status": dict(zip(status.tolist(), count.tolist(), strict=True)),
                "meet_every_limit": table.meets_all.sum(),
            },
            "axes": [
                {"key": key, "label": label, "unit": unit}
                for key, label, unit in zip(table.keys, table.labels, table.units, strict=True)
            ],
            "limits": {
                name: {"min": low, "max": high, "unit": table.unit(name)}
                for name, (low, high) in table.limits.items()
                if (low, high) != (None, None)
            },
            "ranked_by": {"figure": reading.leading, "largest": reading.largest},
            "any_meets": reading.any_meets,
            "best": [_point(reading, int(row)) for row in reading.best],
            "sensitivity": {
                name: _sensitivity(reading, found) for name, found in reading.found.items()
            },
        }
    )


def write_sweep(
    table: SweepTable, folder: Path | str, choice: SweepChoice | None = None
) -> SweepReading:
    """Write page, pictures and summary of a sweep into its folder.

    Parameters
    ----------
    table : SweepTable
        Finished points. [SI]
    folder : Path or str
        Folder of the sweep; ``sweep.html``, ``sweep.json`` and ``figures`` in it are replaced, all
        else stays. [-]
    choice : SweepChoice or None
        Figures and axes of lines and maps; None = chosen by what matters. [-]

    Returns
    -------
    SweepReading
        What the sweep found.

    Raises
    ------
    OutputError
        If something of these names is not ours, or the disk refuses; what was there stays then.
    RangeError
        If an axis or figure is asked for that the sweep does not have.
    """
    reading = read_sweep_table(table)
    pictures = sweep_pictures(reading, choice or SweepChoice())
    files = {f"figures/{item.name}.png": item.png for item in pictures}
    files["sweep.json"] = json_text(sweep_document(reading)).encode("utf-8")
    files["sweep.html"] = sweep_page(reading, pictures, __version__).encode("utf-8")
    put_in_place(Path(folder), SWEEPS, files)
    return reading
