"""A case under its tolerances as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from flowsim.report._kit import Picture
from flowsim.report._units import number, quantity_text, words
from flowsim.report.cautions import CAUTIONS
from flowsim.report.uncertain_text import (
    METHOD,
    chance_text,
    draws_text,
    moved_text,
    moving_figures,
    percent_text,
    wanted_text,
)
from flowsim.report.uncertainty import FigureSpread, LimitOdds, Spread, Uncertainty

__all__ = ["uncertain_page"]

SHAPES = {
    "even": "all values equally likely",
    "bell": "bell, 95 % inside",
    "ratio": "all ratios equally likely",
}
LOOKS = {"met": "met", "not met": "notmet", "not shown": "notshown"}
MOST_NAMED = 5


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
    return environment.get_template("uncertain.html.jinja")


def uncertain_page(found: Uncertainty, pictures: Sequence[Picture]) -> str:
    """Return a case under its tolerances as one HTML page without scripts or links.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [SI]
    pictures : sequence of Picture
        In their order. [-]

    Returns
    -------
    str
        The page; text from the case is escaped.
    """
    limits = sorted(found.limits, key=lambda item: item.met.share)
    return _template().render(
        title=found.title,
        question=found.question,
        hash=found.case_hash[:12],
        draws=draws_text(found),
        errors=found.errors,
        together=[chance_text(chance) for chance in found.together],
        limits=[_limit(limit) for limit in limits],
        method=METHOD,
        figures=[_figure(item) for item in moving_figures(found)],
        inputs=[_input(item) for item in found.inputs],
        pictures=[_picture(picture) for picture in pictures],
        cautions=CAUTIONS,
    )


def _limit(limit: LimitOdds) -> dict[str, Any]:
    """Return one limit as words."""
    return {
        "name": words(limit.name),
        "wanted": wanted_text(limit),
        "met": chance_text(limit.met),
        "not_met": percent_text(limit.not_met.share),
        "not_shown": percent_text(limit.not_shown.share),
        "nominal": quantity_text(limit.name, limit.nominal, limit.unit),
        "state": limit.nominal_state,
        "look": LOOKS.get(limit.nominal_state, "notshown"),
        "moved": moved_text(limit, MOST_NAMED),
    }


def _figure(item: FigureSpread) -> dict[str, Any]:
    """Return one key figure as words."""
    return {
        "name": words(item.name),
        "nominal": quantity_text(item.name, item.nominal, item.unit),
        "quantiles": [
            {
                "text": quantity_text(item.name, value, item.unit),
                "error": " to ".join(
                    "?" if end is None else quantity_text(item.name, end, item.unit) for end in ends
                ),
            }
            for value, ends in zip(item.quantiles, item.errors, strict=True)
        ],
        "meaning": item.meaning,
    }


def _input(item: Spread) -> dict[str, str]:
    """Return one input as words."""
    return {
        "key": item.key,
        "span": item.span,
        "shape": SHAPES[item.shape],
        "nominal": "" if item.nominal is None else f"{number(item.nominal, 4)} {item.unit}",
        "reason": item.reason,
        "source": item.source,
    }


def _picture(picture: Picture) -> dict[str, str]:
    """Return one picture with its bytes in the page."""
    data = base64.b64encode(picture.png).decode("ascii")
    return {
        "uri": f"data:image/png;base64,{data}",
        "title": picture.title,
        "reading": picture.reading,
    }
