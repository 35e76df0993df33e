"""The result as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from flowsim.case.read import case_hash
from flowsim.report._kit import Picture
from flowsim.report._units import base_name, quantity_text, resolution_note, words
from flowsim.report.cautions import CAUTIONS, LIMITS_OF_MODEL
from flowsim.report.instruments import reading_of
from flowsim.report.summary import (
    LEADING,
    MODELS,
    grouped,
    residual_text,
    shown_pressures,
)
from flowsim.report.transport_page import LOOKS, pictures_by_section, transport_context
from flowsim.simulate.result import Check, Quantity, Result

__all__ = ["report_page"]


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
    return environment.get_template("report.html.jinja")


def _row(name: str, quantity: Quantity) -> dict[str, Any]:
    """Return one key figure as words."""
    return {
        "name": words(name),
        "text": quantity_text(name, quantity.value, quantity.unit),
        "meaning": quantity.meaning,
        "indicative": quantity.indicative,
        "note": resolution_note(name, quantity.value),
    }


def _check(check: Check) -> dict[str, str]:
    """Return one check as words."""
    bound = "at least" if check.kind == "min" else "at most"
    return {
        "state": check.state,
        "look": LOOKS[check.state],
        "name": words(check.name),
        "value": quantity_text(check.name, check.value, check.unit),
        "wanted": f"{bound} {quantity_text(check.name, check.limit, check.unit)}",
        "margin": quantity_text(check.name, check.margin, check.unit),
        "basis": check.basis,
    }


def _picture(picture: Picture) -> dict[str, str]:
    """Return one picture with its bytes in the page."""
    data = base64.b64encode(picture.png).decode("ascii")
    return {
        "uri": f"data:image/png;base64,{data}",
        "title": picture.title,
        "reading": picture.reading,
    }


def _absent(result: Result) -> str:
    """Return the names of key figures without a value."""
    names = [
        words(name)
        for name, item in result.quantities.items()
        if item.value is None and base_name(name) == name
    ]
    return ", ".join(names)


def report_page(result: Result, pictures: Sequence[Picture], version: str) -> str:
    """Return the result as one HTML page without scripts or links.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]
    pictures : sequence of Picture
        Figures in their order. [-]
    version : str
        Version of the package. [text]

    Returns
    -------
    str
        The page; text from the case is escaped.
    """
    lead = result.quantities.get(LEADING)
    shown = {
        name: [_picture(picture) for picture in items]
        for name, items in pictures_by_section(pictures).items()
    }
    return _template().render(
        title=result.case.title,
        question=result.case.question,
        note=result.case.note,
        model=f"Model: {MODELS.get(result.fidelity, result.fidelity)}",
        hash=case_hash(result.case)[:12],
        version=version,
        lead=_row(LEADING, lead) if lead is not None else None,
        checks=[_check(check) for check in result.checks],
        groups=[
            {"heading": heading, "rows": [_row(name, item) for name, item in items.items()]}
            for heading, items in grouped(result.quantities).items()
        ],
        absent=_absent(result),
        pressures=[
            {**_row(name, item), "reading": reading_of(name, item.value)}
            for name, item in shown_pressures(result)
            if item.value is not None
        ],
        pictures=shown["other"],
        vapour_pictures=shown["vapour"],
        clean_pictures=shown["clean"],
        transport=transport_context(result.transport),
        assumptions=result.assumptions,
        warnings=result.warnings,
        residuals=[
            {"name": words(name), "text": residual_text(value)}
            for name, value in result.residuals.items()
        ],
        limits_of_model=LIMITS_OF_MODEL,
        cautions=CAUTIONS,
    )
