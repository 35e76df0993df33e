"""All files of the window of settings."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from flowsim.report._folder import FolderKind, whole_folder
from flowsim.report._json import json_text, strict
from flowsim.report.figures_window import window_pictures
from flowsim.report.window_page import window_page
from flowsim.report.window_result import Border, Follow, SetPoint, Setting, Window, WindowMap
from flowsim.report.window_words import point_text

__all__ = ["window_document", "write_window"]

DOCUMENT, PAGE, FIGURES = "window.json", "window.html", "figures"
WINDOWS = FolderKind(DOCUMENT, "window", frozenset({DOCUMENT, PAGE}), frozenset({FIGURES}))


def window_document(window: Window) -> dict[str, Any]:
    """Return the window of settings as a document for strict JSON.

    Parameters
    ----------
    window : Window
        The window. [SI]

    Returns
    -------
    dict
        SI values, null where there is none or it is not finite.
    """
    follow = window.follow
    return strict(
        {
            "format": 1,
            "window": window.title,
            "question": window.question,
            "case": window.case_hash,
            "fidelity": window.fidelity,
            "settings": [_setting(axis) for axis in window.axes],
            "hold_assumed": window.assumed_hold,
            "proposed": _point(window, window.proposed),
            "as_stated": _point(window, window.present),
            "conflict": None if window.conflict is None else asdict(window.conflict),
            "map": _map(window.map),
            "loading": None if follow is None else _follow(follow),
            "no_loading": window.still,
            "left_out": list(window.left_out),
            "notes": list(window.notes),
            "solves": {**window.solves, "all": sum(window.solves.values())},
        }
    )


def _setting(axis: Setting) -> dict[str, Any]:
    """Return what is set."""
    return {
        "key": axis.key,
        "name": axis.name,
        "shown_unit": axis.unit,
        "shown_factor": axis.factor,
        "as_stated": axis.present,
        "low": axis.low,
        "high": axis.high,
        "proposed_at_most": axis.most,
        "hold": axis.hold,
    }


def _point(window: Window, point: SetPoint) -> dict[str, Any]:
    """Return a set point."""
    return {
        "settings": dict(zip((axis.key for axis in window.axes), point.values, strict=True)),
        "words": point_text(window.axes, point.values),
        "state": point.state,
        "flows": dict(point.flows),
        "verdicts": [asdict(item) for item in point.verdicts],
        "drift": None if point.drift is None else asdict(point.drift),
    }


def _map(found: WindowMap) -> dict[str, Any]:
    """Return a map: what was solved, and the borders by the solved settings on them."""
    solved = zip(found.solved.tolist(), found.states, strict=True)
    return {
        "axes": [axis.key for axis in found.axes],
        "solved": [{"values": values, "state": state} for values, state in solved],
        "borders": [_border(border) for border in found.borders],
        "other_met_parts": found.others,
    }


def _border(border: Border) -> dict[str, Any]:
    """Return a border."""
    return {
        "name": border.name,
        "kind": border.kind,
        "points": border.verified.tolist(),
        "known_to_1_percent": not border.lacking,
    }


def _follow(follow: Follow) -> dict[str, Any]:
    """Return what the loading of the filter asks for."""
    return {
        "key": follow.key,
        "filter": follow.filter,
        "as_stated": follow.present,
        "followed": follow.map.axes[1].key,
        "flow_kept": follow.flow,
        "steps": [asdict(step) for step in follow.steps],
        "holds_up_to": follow.breaks,
        "beyond": None if follow.beyond is None else asdict(follow.beyond),
        "map": _map(follow.map),
    }


def write_window(window: Window, folder: Path | str) -> None:
    """Write the window of settings as JSON, page and pictures: all of them or none.

    Parameters
    ----------
    window : Window
        The window. [SI]
    folder : Path or str
        Where; an earlier window is replaced. [-]

    Raises
    ------
    OutputError
        If the folder holds anything that is not an earlier window, or the disk refuses.
    """
    pictures = window_pictures(window)
    page = window_page(window, pictures)
    document = json_text(window_document(window))
    with whole_folder(Path(folder), WINDOWS) as fresh:
        (fresh / FIGURES).mkdir()
        for picture in pictures:
            (fresh / FIGURES / f"{picture.name}.png").write_bytes(picture.png)
        (fresh / PAGE).write_text(page, encoding="utf-8")
        (fresh / DOCUMENT).write_text(document, encoding="utf-8")
