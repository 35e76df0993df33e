"""Vapour and dust as words for the report page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flowsim.report._kit import Picture
from flowsim.report._units import percent, quantity_text
from flowsim.report.cautions import LIMITS_OF_SHARES, substance_cautions
from flowsim.report.clean_tables import recovery_facts, room_air_facts, size_rows, workpiece_facts
from flowsim.report.instruments import transport_readings
from flowsim.report.transport_answers import basis_facts, short_answers
from flowsim.report.transport_tables import (
    LimitRow,
    limit_rows,
    release_facts,
    release_title,
    tightest,
)
from flowsim.simulate.transport_result import (
    Recovery,
    ReleaseResult,
    Transport,
    WorkpieceResult,
)

__all__ = ["LOOKS", "pictures_by_section", "transport_context"]

LOOKS = {"met": "met", "not met": "notmet", "not shown": "notshown"}
SECTIONS = {
    "vapour": ("escape", "exposure", "particle_paths", "paths", "concentration"),
    "clean": ("ingress", "class", "recovery", "age", "dust", "deposition"),
}


def pictures_by_section(pictures: Sequence[Picture]) -> dict[str, list[Picture]]:
    """Return the pictures of each section of the page.

    Parameters
    ----------
    pictures : sequence of Picture
        Figures in their order. [-]

    Returns
    -------
    dict of str to list of Picture
        ``vapour``, ``clean`` and ``other``.
    """
    found: dict[str, list[Picture]] = {name: [] for name in (*SECTIONS, "other")}
    for picture in pictures:
        homes = [name for name, starts in SECTIONS.items() if picture.name.startswith(starts)]
        found[homes[0] if homes else "other"].append(picture)
    return found


def _limit(row: LimitRow) -> dict[str, Any]:
    """Return one published limit as words; what is marked is not said twice."""
    status = "" if row.from_memory and row.status == "from memory" else row.status
    remark = "; ".join(text for text in (status, row.note) if text)
    return {**vars(row), "look": LOOKS[row.state], "remark": remark}


def _release(release: ReleaseResult, earlier: Sequence[ReleaseResult]) -> dict[str, Any]:
    """Return one release as words; a table of limits that was shown already is not repeated."""
    same = [item.label for item in earlier if release.checks and item.checks == release.checks]
    return {
        "title": release_title(release),
        "substance": release.substance,
        "why": release.why,
        "facts": release_facts(release),
        "limits": [_limit(row) for row in limit_rows(tightest(release.checks))],
        "limits_as": same[0] if same else "",
        "rates": [
            (name, quantity_text("evaporation_rate", rate, "kg/s", 2))
            for name, rate in release.rates.items()
        ],
        "assumptions": release.assumptions,
    }


def _piece(piece: WorkpieceResult) -> dict[str, Any]:
    """Return one workpiece as words."""
    return {
        "title": piece.label,
        "why": piece.why,
        "facts": [*workpiece_facts(piece), *room_air_facts(piece)],
        "sizes": [vars(row) for row in size_rows(piece)],
    }


def _recovery(recovery: Recovery | None) -> dict[str, Any] | None:
    """Return the recovery as words."""
    if recovery is None:
        return None
    return {"why": recovery.why, "facts": recovery_facts(recovery)}


def _tracked(tracked: Mapping[str, tuple[float, float]]) -> list[tuple[str, str]]:
    """Return where particles ended, with standard errors."""
    return [
        (name, f"{percent(share, 2)} (standard error {percent(error, 2)})")
        for name, (share, error) in tracked.items()
    ]


def transport_context(transport: Transport | None) -> dict[str, Any] | None:
    """Return what the template of the page needs on vapour and dust.

    Parameters
    ----------
    transport : Transport or None
        Vapour and dust. [SI]

    Returns
    -------
    dict or None
        Words only; None where nothing was computed.
    """
    if transport is None:
        return None
    return {
        "answers": short_answers(transport),
        "releases": [
            _release(release, transport.releases[:place])
            for place, release in enumerate(transport.releases)
        ],
        "workpieces": [_piece(piece) for piece in transport.workpieces],
        "recovery": _recovery(transport.recovery),
        "basis": basis_facts(transport),
        "tracked": _tracked(transport.tracked),
        "limits": LIMITS_OF_SHARES,
        "readings": transport_readings(transport),
        "cautions": [caution.full for caution in substance_cautions(transport.releases)],
    }
