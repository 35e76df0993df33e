"""The window of settings as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from flowsim.report._kit import Picture
from flowsim.report._units import number
from flowsim.report.cautions import CAUTIONS
from flowsim.report.window_result import Drift, Follow, SetPoint, Setting, Side, Window
from flowsim.report.window_text import (
    answer_lines,
    flip_line,
    follow_lines,
    present_lines,
    solves_text,
)
from flowsim.report.window_words import (
    METHOD,
    beyond_text,
    end_text,
    hold_text,
    kind_text,
    percent_text,
    point_text,
    setting_text,
    together_text,
)

__all__ = ["window_page"]

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
    return environment.get_template("window.html.jinja")


def window_page(window: Window, pictures: Sequence[Picture]) -> str:
    """Return the window of settings as one HTML page without scripts or links.

    Parameters
    ----------
    window : Window
        The window. [SI]
    pictures : sequence of Picture
        In their order. [-]

    Returns
    -------
    str
        The page; text from the case is escaped.
    """
    first, *answer = answer_lines(window)
    kind = kind_text(window).capitalize()
    points = [(kind, window.proposed), ("As stated", window.present)]
    return _template().render(
        title=window.title,
        question=window.question,
        hash=window.case_hash[:12],
        first=first,
        answer=answer,
        present=[*present_lines(window), *filter(None, [flip_line(window)])],
        loading=follow_lines(window),
        pictures=[_picture(picture) for picture in pictures],
        drifts=[row for name, point in points for row in _drift_rows(window, name, point)],
        steps=[] if window.follow is None else _steps(window.follow),
        followed="" if window.follow is None else window.follow.map.axes[1].name,
        verdicts=_verdicts(window),
        kind=kind,
        axes=[_axis(axis) for axis in window.axes],
        left_out=window.left_out,
        notes=[*window.notes, solves_text(window), *METHOD],
        cautions=CAUTIONS,
    )


def _drift_rows(window: Window, name: str, point: SetPoint) -> list[dict[str, str]]:
    """Return how far each setting may drift from a set point, and all at once."""
    if point.drift is None:
        return []
    pairs = zip(window.axes, point.values, point.drift.alone, strict=True)
    rows = [_drift_row(name, axis, value, sides) for axis, value, sides in pairs]
    if len(window.axes) > 1:
        rows.append(_both_row(window, name, point, point.drift))
    return rows


def _both_row(window: Window, name: str, point: SetPoint, drift: Drift) -> dict[str, str]:
    """Return how far all settings may drift at once."""
    signs = {-1: "lower", 0: "as set", 1: "higher"}
    corner = ", ".join(
        f"{axis.name} {signs[sign]}"
        for axis, sign in zip(window.axes, drift.together.corner, strict=True)
    )
    text = f"{corner}: {beyond_text(drift.together.beyond)}"
    return {
        "point": name,
        "name": "both together",
        "value": point_text(window.axes, point.values),
        "low": f"+-{percent_text(min(drift.together.shares))}",
        "high": together_text(window, drift),
        "low_breaks": "",
        "high_breaks": text,
    }


def _drift_row(name: str, axis: Setting, value: float, sides: tuple[Side, Side]) -> dict[str, str]:
    """Return how far one setting may drift alone."""
    low, high = sides
    return {
        "point": name,
        "name": f"{axis.name} alone",
        "value": setting_text(axis, value),
        "low": f"{end_text(axis, low.value, True)} {axis.unit} (-{percent_text(low.share)})",
        "high": f"{end_text(axis, high.value, False)} {axis.unit} (+{percent_text(high.share)})",
        "low_breaks": beyond_text(low.beyond),
        "high_breaks": beyond_text(high.beyond),
    }


def _steps(follow: Follow) -> list[dict[str, str]]:
    """Return the setting at each loading."""
    axis = follow.map.axes[1]

    def told(value: float | None) -> str:
        return "-" if value is None else setting_text(axis, value)

    return [
        {
            "loading": number(step.loading),
            "value": told(step.value),
            "state": step.state or "cannot follow",
            "look": LOOKS.get(step.state or "", "notshown"),
            "low": told(step.low),
            "high": told(step.high),
        }
        for step in follow.steps
    ]


def _verdicts(window: Window) -> list[dict[str, Any]]:
    """Return the limits at both set points."""
    here = {item.name: item for item in window.present.verdicts}
    rows = []
    for item in window.proposed.verdicts:
        now = here.get(item.name)
        rows.append(
            {
                "name": item.name,
                "value": item.value,
                "state": item.state,
                "look": LOOKS[item.state],
                "now": "not judged" if now is None else now.value,
                "now_state": "" if now is None else now.state,
                "now_look": "" if now is None else LOOKS[now.state],
                "mapped": "yes" if item.mapped else "no, only here",
            }
        )
    return rows


def _axis(axis: Setting) -> dict[str, str]:
    """Return what is set."""
    return {
        "name": axis.name,
        "key": axis.key,
        "present": setting_text(axis, axis.present),
        "span": f"{number(axis.factor * axis.low)} to {setting_text(axis, axis.high)}",
        "most": setting_text(axis, axis.most),
        "hold": hold_text(axis.hold),
    }


def _picture(picture: Picture) -> dict[str, str]:
    """Return a picture for the page."""
    data = base64.b64encode(picture.png).decode("ascii")
    return {
        "title": picture.title,
        "reading": picture.reading,
        "uri": f"data:image/png;base64,{data}",
    }
