"""All files of a plan of holes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from flowsim.report._folder import FolderKind, whole_folder
from flowsim.report._json import json_text, strict
from flowsim.report.drill_drawing import plate_dxf, plate_svg
from flowsim.report.drill_result import Pattern
from flowsim.report.drill_tables import drill_table, tube_drill_table
from flowsim.report.figures_holes import hole_pictures
from flowsim.report.holes_page import holes_page
from flowsim.report.holes_result import HolePlan, HolePoint, Proposal
from flowsim.report.holes_text import commands

__all__ = ["drill_files", "holes_document", "write_holes"]

DOCUMENT, PAGE, COMMANDS, FIGURES = "holes.json", "holes.html", "commands.txt", "figures"
PREFIXES = {"even": "", "graded": "graded_", "tube": "with_tube_"}
ENDINGS = ("drill_table.csv", "plate.svg", "plate.dxf")
TUBE_TABLE = "tube_drill_table.csv"
PLANS = FolderKind(
    DOCUMENT,
    "holes",
    frozenset(
        {
            DOCUMENT,
            PAGE,
            COMMANDS,
            TUBE_TABLE,
            *(f"{prefix}{ending}" for prefix in PREFIXES.values() for ending in ENDINGS),
        }
    ),
    frozenset({FIGURES}),
)


def _point(point: HolePoint | None) -> dict[str, Any] | None:
    """Return a solved plate as a document."""
    return None if point is None else asdict(point)


def _short(point: HolePoint | None) -> dict[str, Any] | None:
    """Return a solved plate as a document without its stations and warnings."""
    found = _point(point)
    if found is not None:
        del found["stations"], found["warnings"]
    return found


def _pattern(pattern: Pattern) -> dict[str, Any]:
    """Return drawn holes as a document, without their coordinates."""
    return {
        "arrangement": pattern.arrangement,
        "count": pattern.count,
        "diameter": pattern.diameter,
        "columns": pattern.columns,
        "rows": pattern.rows,
        "pitch_x": pattern.pitch_x,
        "pitch_y": pattern.pitch_y,
        "web": pattern.web,
        "edge": pattern.edge,
        "left_out": pattern.left_out,
        "hole_area": pattern.hole_area,
        "solved_area": pattern.solved_area,
    }


def _proposal(proposal: Proposal) -> dict[str, Any]:
    """Return a proposal as a document."""
    prefix = PREFIXES[proposal.kind]
    tube = (
        None if proposal.tube is None else {**asdict(proposal.tube), "count": proposal.tube.count}
    )
    return {
        "kind": proposal.kind,
        "state": proposal.state,
        "within_ceiling": proposal.within,
        "pattern": _pattern(proposal.pattern),
        "solved": _point(proposal.point),
        "changes": dict(proposal.changes),
        "tube": tube,
        "drill_table": f"{prefix}{ENDINGS[0]}",
    }


def holes_document(plan: HolePlan) -> dict[str, Any]:
    """Return a plan of holes as a document for strict JSON.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    dict
        SI values, null where there is none or it is not finite.
    """
    return strict(
        {
            "format": 1,
            "holes": plan.title,
            "case": plan.case_hash,
            "wanted_draw_ratio": plan.wanted,
            "suction_ceiling": plan.ceiling,
            "today": {**(_point(plan.today) or {}), "state": plan.today_state},
            "chosen": _proposal(plan.chosen),
            "needed": _point(plan.needed),
            "decided_by": plan.decided_by,
            "others": [_proposal(item) for item in plan.others],
            "sizes": [
                {
                    "diameter": row.diameter,
                    "pattern": None if row.proposal is None else _pattern(row.proposal.pattern),
                    "solved": None if row.proposal is None else _short(row.proposal.point),
                    "state": None if row.proposal is None else row.proposal.state,
                    "remark": row.remark,
                }
                for row in plan.sizes
            ],
            "curve": [_short(point) for point in plan.curve],
            "rules": [{**asdict(rule), "point": _short(rule.point)} for rule in plan.rules],
            "exhaust": asdict(plan.exhaust),
            "exhaust_as_set": _point(plan.left_alone),
            "columns": plan.columns,
            "figures": [asdict(row) for row in plan.figures],
            "graded": plan.graded_words,
            "tube": plan.tube_words,
            "notes": plan.notes,
            "warnings": plan.warnings,
            "solves": plan.solves,
        }
    )


def drill_files(plan: HolePlan) -> dict[str, str]:
    """Return drill tables and drawings of all proposals.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    dict of str to str
        File name -> its text, those of the chosen plate first.
    """
    found: dict[str, str] = {}
    for proposal in (plan.chosen, *plan.others):
        prefix, pattern = PREFIXES[proposal.kind], proposal.pattern
        texts = (
            drill_table(pattern),
            plate_svg(plan.floor, pattern, plan.title),
            plate_dxf(plan.floor, pattern),
        )
        found.update({f"{prefix}{name}": text for name, text in zip(ENDINGS, texts, strict=True)})
        if proposal.tube is not None:
            found[TUBE_TABLE] = tube_drill_table(proposal.tube)
    return found


def _commands(plan: HolePlan, case: str) -> str:
    """Return the commands as a text file."""
    return "\n\n".join(f"# {name}\n{text}" for name, text in commands(plan, case)) + "\n"


def write_holes(plan: HolePlan, folder: Path | str, case: str = "CASE.toml") -> None:
    """Write a plan of holes: JSON, page, drill tables, drawings, commands, figures.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    folder : Path or str
        Where; written complete or not at all. [-]
    case : str
        Name of the case file, for the commands. [text]

    Raises
    ------
    OutputError
        If the folder holds anything but an earlier plan of holes, or the disk refuses.
    """
    drawings = drill_files(plan)
    pictures = hole_pictures(plan)
    texts: Mapping[str, str] = {
        **drawings,
        COMMANDS: _commands(plan, case),
        PAGE: holes_page(plan, pictures, tuple(drawings), case),
        DOCUMENT: json_text(holes_document(plan)),
    }
    with whole_folder(Path(folder), PLANS) as fresh:
        for name, text in texts.items():
            (fresh / name).write_text(text, encoding="utf-8", newline="\n")
        (fresh / FIGURES).mkdir()
        for picture in pictures:
            (fresh / FIGURES / f"{picture.name}.png").write_bytes(picture.png)
