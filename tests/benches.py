"""Small benches for tests, built in Python with SI figures."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from flowsim.case.read import case_from_mapping
from flowsim.case.schema import Case

BENCH: dict[str, Any] = {
    "format": 1,
    "title": "test bench",
    "chamber": {"width": 1.3, "depth": 0.65, "height": 0.75},
    "supply": {
        "flow": 0.26,
        "filter": {
            "width": 1.22,
            "depth": 0.61,
            "rated_velocity": 0.45,
            "rated_drop": 110.0,
        },
    },
    "openings": [
        {
            "label": "front",
            "wall": "front",
            "offset": 0.05,
            "bottom": 0.0,
            "width": 1.2,
            "height": 0.16,
        },
    ],
    "work_surface": {"thickness": 0.012, "hole_diameter": 0.008, "free_area_ratio": 0.04},
    "plenum": {
        "height": 0.11,
        "ports": [{"label": "right", "wall": "right", "width": 0.4, "height": 0.09}],
    },
    "exhaust": {"flow": 0.21},
    "numerics": {"cells": [26, 13, 16]},
}

TRAY: dict[str, Any] = {
    "label": "tray",
    "offset_x": 0.2,
    "offset_y": 0.25,
    "width": 0.4,
    "depth": 0.3,
    "height": 0.14,
    "slit": {"side": "front", "length": 0.36, "height": 0.008, "bottom": 0.1},
    "floor": {"hole_diameter": 0.008, "hole_count": 60, "thickness": 0.004, "gap": 0.002},
}

HOOD: dict[str, Any] = {
    key: value for key, value in BENCH.items() if key not in ("work_surface", "plenum", "exhaust")
}


def bench(base: dict[str, Any] | None = None, **parts: Any) -> Case:
    """Return a bench with whole parts put in, or taken out by None."""
    data = deepcopy(BENCH if base is None else base)
    for name, part in parts.items():
        if part is None:
            data.pop(name, None)
        elif isinstance(part, dict) and isinstance(data.get(name), dict):
            data[name] = {**data[name], **part}
        else:
            data[name] = part
    return case_from_mapping(data)
