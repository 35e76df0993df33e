"""Drill tables: every hole with its number, place and diameter."""

from __future__ import annotations

import csv
import io

from flowsim.report.drill_result import Pattern, TubeHoles

__all__ = ["HEADER", "TUBE_HEADER", "drill_table", "tube_drill_table"]

HEADER = ("number", "x [mm]", "y [mm]", "diameter [mm]", "remark")
TUBE_HEADER = ("number", "x [mm]", "angle [deg]", "diameter [mm]")
MILLIMETRES = 1000.0


def _text(value: float) -> str:
    """Return a length in millimetres, to 0.01 mm."""
    return f"{MILLIMETRES * value:.2f}"


def _size(value: float) -> str:
    """Return a diameter in millimetres, as exactly as it was given."""
    return f"{round(MILLIMETRES * value, 9):.12g}"


def drill_table(pattern: Pattern) -> str:
    """Return the holes of a plate as CSV.

    Parameters
    ----------
    pattern : Pattern
        Drawn holes. [m]

    Returns
    -------
    str
        Numbered row by row from the front, in a row from the left; places from the inner front
        left corner of the chamber, seen from above. [mm]
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(HEADER)
    size = _size(pattern.diameter)
    holes = zip(pattern.x, pattern.y, pattern.place, strict=True)
    for number, (x, y, place) in enumerate(holes, start=1):
        writer.writerow([number, _text(x), _text(y), size, _harmless(place)])
    return stream.getvalue()


def _harmless(text: str) -> str:
    """Return a remark that no spreadsheet takes for a formula or a new line."""
    return " ".join(text.split())


def tube_drill_table(tube: TubeHoles) -> str:
    """Return the holes of a distributor tube as CSV.

    Parameters
    ----------
    tube : TubeHoles
        The tube. [m]

    Returns
    -------
    str
        Along the tube from the wall of its port [mm], and round it from its top [deg]; row by
        row.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(TUBE_HEADER)
    number = 0
    for row in range(tube.rows):
        angle = 360.0 * (row + 0.5) / tube.rows
        for column in range(tube.columns):
            number += 1
            place = (column + 0.5) * tube.pitch
            writer.writerow([number, _text(place), f"{angle:g}", _size(tube.hole_diameter)])
    return stream.getvalue()
