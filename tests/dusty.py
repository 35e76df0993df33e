"""Benches with dust, workpieces and a rated filter, for the tests of cleanliness."""

from __future__ import annotations

from typing import Any

from benches import BENCH, bench

from flowsim.simulate.carrier import Carrier
from flowsim.simulate.coupling import couple
from flowsim.simulate.dust import workpiece_results
from flowsim.simulate.layout import lay_out
from flowsim.simulate.maps import chamber_maps
from flowsim.simulate.transport_result import WorkpieceResult

MIRROR: dict[str, Any] = {
    "label": "mirror",
    "offset_x": 0.5,
    "offset_y": 0.3,
    "width": 0.2,
    "depth": 0.2,
}
HANDS: dict[str, Any] = {
    "label": "hands",
    "offset_x": 0.5,
    "offset_y": 0.1,
    "bottom": 0.1,
    "width": 0.3,
    "depth": 0.2,
    "height": 0.1,
}
BARE: dict[str, Any] = BENCH["supply"]["filter"]


def media(**parts: Any) -> dict[str, Any]:
    """Return a supply through a filter with these statements on its dust."""
    return {"flow": 0.26, "filter": BARE | parts}


def carrier(base: dict[str, Any] | None = None, **parts: Any) -> Carrier:
    """Return the air of a bench with an H14 filter, one workpiece and dust."""
    stated = {"supply": media(grade="H14"), "workpieces": [MIRROR], "dust": {}}
    return Carrier.of(couple(lay_out(bench(base, **(stated | parts)))))


def results(air: Carrier) -> dict[str, WorkpieceResult]:
    """Return the results of the workpieces by label."""
    maps = chamber_maps(air)
    return {item.label: item for item in workpiece_results(air, maps.ingress, maps.age)[0]}


def judged(base: dict[str, Any] | None = None, **parts: Any) -> WorkpieceResult:
    """Return the result of the first workpiece of a bench with dust."""
    return next(iter(results(carrier(base, **parts)).values()))
