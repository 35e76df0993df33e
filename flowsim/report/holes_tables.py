"""Tables of a plan of holes, cell by cell."""

from __future__ import annotations

from flowsim.report._units import quantity_text, words
from flowsim.report.holes_result import FigureRow, Rule, SizeRow
from flowsim.report.holes_words import millimetres

__all__ = [
    "BEFORE",
    "FIGURES_HEAD",
    "RULES_HEAD",
    "SIZES_HEAD",
    "figure_cells",
    "rule_cells",
    "size_cells",
]

SIZES_HEAD = (
    "hole",
    "holes",
    "row x rows",
    "pitch",
    "web",
    "free area",
    "draw ratio",
    "plate",
    "suction",
    "wanted ratio",
)
"""Head of the table of hole diameters. [-]"""
RULES_HEAD = ("rule", "free area", "plate drop", "draw ratio when solved", "leaves out")
"""Head of the table of rules. [-]"""
BEFORE = "Key figures before and after"
"""Title of the table of key figures. [-]"""
FIGURES_HEAD = ("Key figure", "limit")
"""Head of its first columns. [-]"""


def size_cells(row: SizeRow) -> tuple[str, ...]:
    """Return what one diameter comes to as the cells of a table.

    Parameters
    ----------
    row : SizeRow
        One diameter. [SI]

    Returns
    -------
    tuple of str
        As `SIZES_HEAD`. [-]
    """
    name = f"{millimetres(row.diameter, 3)} mm"
    if row.proposal is None:
        return (name, "-", row.remark, *("",) * 7)
    pattern, point = row.proposal.pattern, row.proposal.point
    ratio = "-" if point.draw_ratio is None else f"{point.draw_ratio:.3f} +- {point.spread:.3f}"
    ceiling = "" if row.proposal.within is not False else ", over the ceiling"
    return (
        name,
        str(pattern.count),
        f"{pattern.columns} x {pattern.rows}",
        f"{millimetres(pattern.pitch_x[0])} x {millimetres(pattern.pitch_y)} mm",
        f"{millimetres(pattern.web)} mm",
        f"{100.0 * point.free_area_ratio:.2f} %",
        ratio,
        f"{point.plate_drop:.0f} Pa",
        f"{point.suction:.0f} Pa",
        f"{row.proposal.state}{ceiling}",
    )


def rule_cells(rule: Rule) -> tuple[str, ...]:
    """Return a rule as the cells of a table.

    Parameters
    ----------
    rule : Rule
        The rule. [SI]

    Returns
    -------
    tuple of str
        As `RULES_HEAD`. [-]
    """
    solved = "-"
    if rule.point is not None and rule.point.draw_ratio is not None:
        solved = f"{rule.point.draw_ratio:.3f}"
    return (
        rule.name,
        f"{100.0 * rule.free_area_ratio:.2f} %",
        f"{rule.plate_drop:.0f} Pa",
        solved,
        rule.note,
    )


def figure_cells(row: FigureRow) -> tuple[str, ...]:
    """Return a key figure before and after as the cells of a table.

    Parameters
    ----------
    row : FigureRow
        Key figure. [SI]

    Returns
    -------
    tuple of str
        Name, limit, and a value for each column, with its verdict unless that is met. [-]
    """
    cells = []
    for value, state in zip(row.values, row.states, strict=True):
        text = quantity_text(row.name, value, row.unit)
        cells.append(f"{text}, {state}" if state in ("not met", "not shown") else text)
    return (words(row.name), row.limit, *cells)
