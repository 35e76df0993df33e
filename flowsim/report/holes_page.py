"""A plan of holes as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from flowsim.report._kit import Picture
from flowsim.report.cautions import CAUTIONS, LIMITS_OF_MODEL
from flowsim.report.holes_answer import answer, front_words
from flowsim.report.holes_result import FigureRow, HolePlan, SizeRow
from flowsim.report.holes_tables import (
    BEFORE,
    RULES_HEAD,
    SIZES_HEAD,
    figure_cells,
    rule_cells,
    size_cells,
)
from flowsim.report.holes_text import commands
from flowsim.report.holes_words import millimetres, other_words, wanted_text

__all__ = ["holes_page"]

LOOKS = {"met": "met", "not met": "notmet", "not shown": "notshown"}


@lru_cache(maxsize=1)
def _template() -> Template:
    """Return the template; everything put into it is escaped."""
    environment = Environment(
        loader=PackageLoader("flowsim.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("holes.html.jinja")


def holes_page(plan: HolePlan, pictures: Sequence[Picture], files: Sequence[str], case: str) -> str:
    """Return a plan of holes as one HTML page without scripts or links.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]
    pictures : sequence of Picture
        Figures in their order. [-]
    files : sequence of str
        Names of the drawings and drill tables. [text]
    case : str
        Name of the case file. [text]

    Returns
    -------
    str
        The page; text from the case is escaped.
    """
    return _template().render(
        title=plan.title,
        hash=plan.case_hash[:12],
        wanted=wanted_text(plan),
        ports="; ".join(plan.floor.ports),
        answer=answer(plan),
        consequences=front_words(plan),
        sizes_head=SIZES_HEAD,
        sizes=[_size(plan, row) for row in plan.sizes if row.proposal is not None],
        size_remarks=[
            f"{millimetres(row.diameter, 3)} mm: {row.remark}." for row in plan.sizes if row.remark
        ],
        notes=plan.notes,
        files=", ".join(files),
        before=BEFORE,
        columns=plan.columns,
        figures=[_figure(row) for row in plan.figures],
        others=[other_words(plan, item) for item in plan.others],
        tube_words=(*plan.graded_words, *plan.tube_words),
        rules_head=RULES_HEAD,
        rules=[rule_cells(rule) for rule in plan.rules],
        commands=[f"# {name}\n{text}" for name, text in commands(plan, case)],
        warnings=plan.warnings,
        pictures=[_picture(picture) for picture in pictures],
        limits_of_model=LIMITS_OF_MODEL,
        cautions=CAUTIONS,
        solves=plan.solves,
    )


def _size(plan: HolePlan, row: SizeRow) -> dict[str, Any]:
    """Return one diameter as cells."""
    chosen = row.diameter == plan.chosen.pattern.diameter and plan.needed is None
    return {"cells": size_cells(row), "chosen": chosen}


def _figure(row: FigureRow) -> dict[str, Any]:
    """Return one key figure as cells."""
    name, limit, *texts = figure_cells(row)
    cells = [
        {
            "text": text.removesuffix(f", {state}"),
            "state": state,
            "look": LOOKS.get(state, ""),
        }
        for text, state in zip(texts, row.states, strict=True)
    ]
    return {"name": name, "limit": limit, "cells": cells}


def _picture(picture: Picture) -> dict[str, str]:
    """Return one picture with its bytes in the page."""
    data = base64.b64encode(picture.png).decode("ascii")
    return {
        "uri": f"data:image/png;base64,{data}",
        "title": picture.title,
        "reading": picture.reading,
    }
