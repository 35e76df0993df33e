"""Vapour and dust as a document for strict JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.report.vtu import path_ends
from flowsim.simulate.shares import ShareEstimate
from flowsim.simulate.transport_result import (
    LimitCheck,
    Recovery,
    ReleaseResult,
    RoomExposure,
    Transport,
    WorkpieceResult,
)

__all__ = ["transport_document"]

MOST_TIMES = 60


def _share(share: ShareEstimate | None) -> dict[str, Any] | None:
    """Return a share with what it depends on."""
    if share is None:
        return None
    return {
        "value": share.value,
        "lowest": share.lowest,
        "highest": share.highest,
        "resolved": share.resolved,
        "states": {
            "mean flow": share.mean_flow,
            "at rest": share.at_rest,
            "in use": share.value,
        },
        "numerical": share.numerical,
        "eddy": {"halved": share.eddy[0], "doubled": share.eddy[1]},
        "reversal": {"halved": share.reversal[0], "doubled": share.reversal[1]},
    }


def _limit(check: LimitCheck) -> dict[str, Any]:
    """Return one published limit and what is held against it."""
    return {**asdict(check), "ratio": check.ratio, "unit": "ppm"}


def _picked(times: FloatArray, *values: FloatArray) -> list[int]:
    """Return few places of a series: evenly spread, and where each of the values is largest."""
    if len(times) == 0:
        return []
    spread = np.linspace(0, len(times) - 1, min(len(times), MOST_TIMES)).round().astype(int)
    return sorted({*spread.tolist(), *(int(np.argmax(item)) for item in values)})


def _room(room: RoomExposure | None) -> dict[str, Any] | None:
    """Return the concentration in the room over time, thinned out."""
    if room is None:
        return None
    places = _picked(room.times, room.near, room.far, room.near_highest)
    return {
        "times": room.times[places],
        "near": room.near[places],
        "far": room.far[places],
        "near_highest": room.near_highest[places],
        "units": {"times": "s", "near": "ppm", "far": "ppm", "near_highest": "ppm"},
    }


def _release(release: ReleaseResult) -> dict[str, Any]:
    """Return one release, without its field."""
    return {
        "label": release.label,
        "substance": release.substance,
        "liquid": release.liquid,
        "place": release.place,
        "compartment": release.compartment,
        "rate": release.rate,
        "rate_factor": release.rate_factor,
        "rates": dict(release.rates),
        "air_speed": release.air_speed,
        "filled": release.filled,
        "exits": dict(release.exits),
        "escape": _share(release.escape),
        "slit": _share(release.slit),
        "front_ppm": release.front_ppm,
        "front_ppm_highest": release.front_ppm_highest,
        "duct_ppm": release.duct_ppm,
        "lfl_share": release.lfl_share,
        "lfl_share_highest": release.lfl_share_highest,
        "exposure_ratio": release.exposure_ratio,
        "limits": [_limit(check) for check in release.checks],
        "room": _room(release.room),
        "why": release.why,
        "assumptions": list(release.assumptions),
    }


def _workpiece(piece: WorkpieceResult) -> dict[str, Any]:
    """Return one workpiece."""
    return {
        "label": piece.label,
        "place": piece.place,
        "room_air": _share(piece.room_air),
        "age": piece.age,
        "sizes": piece.sizes,
        "concentration": piece.concentration,
        "concentration_highest": piece.concentration_highest,
        "causes": dict(piece.causes),
        "iso_class": piece.iso_class,
        "iso_class_highest": piece.iso_class_highest,
        "worst_size": piece.worst_size,
        "class_text": piece.class_text,
        "deposition": piece.deposition,
        "cause": piece.cause,
        "why": piece.why,
    }


def _recovery(recovery: Recovery | None) -> dict[str, Any] | None:
    """Return how the air gets clean."""
    if recovery is None:
        return None
    places = _picked(recovery.times)
    return {
        "time": recovery.time,
        "mixed_time": recovery.mixed_time,
        "piston_time": recovery.piston_time,
        "times": recovery.times[places],
        "shares": {
            label: recovery.shares[places, column] for column, label in enumerate(recovery.places)
        },
        "why": recovery.why,
    }


def transport_document(transport: Transport) -> dict[str, Any]:
    """Return vapour and dust as a document, without fields.

    Parameters
    ----------
    transport : Transport
        Vapour and dust. [SI]

    Returns
    -------
    dict
        ``units``, ``releases``, ``workpieces``, ``recovery``, ``eddy``, ``reversal``,
        ``tracked`` and ``path_ends``; SI values but ppm, null where there is none.
    """
    return {
        "units": {
            "share": "-",
            "rate": "kg/s",
            "front_ppm": "ppm",
            "duct_ppm": "ppm",
            "place": "m",
            "sizes": "m",
            "concentration": "1/m3",
            "deposition": "1/(m2 s)",
            "age": "s",
            "time": "s",
            "eddy": "m2/s",
            "reversal": "m/s",
        },
        "releases": [_release(release) for release in transport.releases],
        "workpieces": [_workpiece(piece) for piece in transport.workpieces],
        "recovery": _recovery(transport.recovery),
        "eddy": dict(transport.eddy),
        "reversal": {
            label: {"reversal": size, "exchange": exchange}
            for label, (size, exchange) in transport.reversal.items()
        },
        "tracked": {
            name: {"share": share, "standard_error": error}
            for name, (share, error) in transport.tracked.items()
        },
        "path_ends": path_ends(transport.paths),
    }
