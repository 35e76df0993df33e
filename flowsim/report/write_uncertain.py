"""All files of a case under its tolerances."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

from flowsim.errors import OutputError
from flowsim.report._json import json_text, strict
from flowsim.report.figures_uncertain import uncertain_pictures
from flowsim.report.uncertain_page import uncertain_page
from flowsim.report.uncertainty import QUANTILES, Uncertainty

__all__ = ["DRAWS", "uncertain_document", "write_uncertain"]

DRAWS = "draws"
"""Folder of the draws, beside the files."""
DOCUMENT, PAGE = "uncertain.json", "uncertain.html"
PICTURES = ("probabilities.png", "spreads.png", "influences.png")
IGNORED = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
FRESH = ".fresh-"


def uncertain_document(found: Uncertainty) -> dict[str, Any]:
    """Return a case under its tolerances as a document for strict JSON.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [SI]

    Returns
    -------
    dict
        SI values, null where there is none or it is not finite.
    """
    together = dict(zip(("met", "not_met", "not_shown"), map(asdict, found.together), strict=False))
    return strict(
        {
            "format": 1,
            "uncertain": found.title,
            "question": found.question,
            "case": found.case_hash,
            "draws": {"count": found.count, "seed": found.seed, "method": "latin hypercube"},
            "statuses": dict(found.statuses),
            "errors": list(found.errors),
            "inputs": [asdict(item) for item in found.inputs],
            "limits": [asdict(item) for item in found.limits],
            "all_limits": together,
            "quantiles": list(QUANTILES),
            "figures": [asdict(item) for item in found.figures],
        }
    )


def write_uncertain(found: Uncertainty, folder: Path | str) -> None:
    """Write a case under its tolerances as JSON, page and pictures.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [SI]
    folder : Path or str
        Where; its folder ``draws`` stays, earlier files of this kind are replaced, each whole. [-]

    Raises
    ------
    OutputError
        If the folder holds anything else, or the disk refuses.
    """
    place = Path(folder)
    _check_place(place)
    pictures = uncertain_pictures(found)
    files: dict[str, bytes] = {f"{item.name}.png": item.png for item in pictures}
    files[PAGE] = uncertain_page(found, pictures).encode("utf-8")
    files[DOCUMENT] = json_text(uncertain_document(found)).encode("utf-8")
    try:
        place.mkdir(parents=True, exist_ok=True)
        _replace(place, files)
        for name in set(PICTURES) - set(files):
            (place / name).unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{place} could not be written: {error.strerror or error}") from error


def _check_place(place: Path) -> None:
    """Refuse a folder that holds other things."""
    if not place.exists():
        return
    if not place.is_dir():
        raise OutputError(f"{place} is a file; name a folder for the results")
    ours = {DRAWS, DOCUMENT, PAGE, *PICTURES} | IGNORED
    others = sorted(
        item.name
        for item in place.iterdir()
        if item.name not in ours and not item.name.startswith(FRESH)
    )
    if others:
        raise OutputError(
            f"{place} holds other things ({', '.join(others[:3])}); name another folder or empty it"
        )


def _replace(place: Path, files: Mapping[str, bytes]) -> None:
    """Write all files beside their places, then move them there."""
    start = f"{FRESH}{os.getpid()}-{secrets.token_hex(4)}-"
    try:
        for name, data in files.items():
            (place / f"{start}{name}").write_bytes(data)
        for name in files:
            (place / f"{start}{name}").replace(place / name)
    finally:
        for name in files:
            with suppress(OSError):
                (place / f"{start}{name}").unlink(missing_ok=True)
