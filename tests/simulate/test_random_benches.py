"""Random plausible benches of every kind on small grids: all of them are solved."""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from flowsim.case.read import case_from_mapping
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, RangeError
from flowsim.simulate.layout import lay_out
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

Data = dict[str, Any]
Draw = np.random.Generator

SEEDS = 120
BLOCK = 10
MODELS = (
    {"fidelity": "network"},
    {"fidelity": "section", "section": "yz"},
    {"fidelity": "section", "section": "xz"},
    {"fidelity": "stacked"},
    {"fidelity": "volume"},
)
PROMISE = re.compile(r"\bsafe", re.IGNORECASE)


def _of(draw: Draw, *names: str) -> str:
    """Return one of several words."""
    return names[int(draw.integers(len(names)))]


def _media(width: float, depth: float, drop: float, draw: Draw) -> Data:
    """Return a filter, rated at 0.45 m/s or by a table, more or less loaded."""
    size = {"width": width, "depth": depth, "loading": draw.uniform(1.0, 3.0)}
    if draw.random() < 0.3:
        flow = 0.45 * width * depth
        return {
            **size,
            "flow": [0.5 * flow, flow, 2.0 * flow],
            "drop": [0.48 * drop, drop, 2.3 * drop],
        }
    return {**size, "rated_velocity": 0.45, "rated_drop": drop}


def _fan(flow: float, pressure: float, draw: Draw) -> Data:
    """Return one or several fans for about a flow at about a pressure."""
    free, top = flow * draw.uniform(1.5, 2.5), pressure * draw.uniform(1.5, 2.5)
    group: Data = {"speed": draw.uniform(0.6, 1.1)}
    if draw.random() < 0.25:
        group.update(count=2, arrangement=_of(draw, "parallel", "series"))
    if draw.random() < 0.5:
        return {"shut_off_pressure": top, "free_flow": free, **group}
    curve = {
        "flow": [0.0, 0.4 * free, 0.8 * free, free],
        "pressure": [top, 0.9 * top, 0.4 * top, 0.0],
    }
    return {**curve, "interpolation": _of(draw, "smooth", "straight"), **group}


def _ducts(flow: float, draw: Draw) -> list[Data]:
    """Return a run of duct for about a flow, in one or two pipes."""
    count = int(draw.integers(1, 3))
    area = flow / draw.uniform(3.0, 8.0) / count
    fittings = [{"kind": "bend", "radius_ratio": 1.5, "count": int(draw.integers(1, 4))}]
    size = {"diameter": math.sqrt(4.0 * area / math.pi)}
    if draw.random() < 0.3:
        size = {"width": 2.0 * math.sqrt(area / 2.0), "height": math.sqrt(area / 2.0)}
    return [{**size, "length": draw.uniform(0.5, 6.0), "count": count, "fittings": fittings}]


def _supply(chamber: Data, flow: float, draw: Draw) -> Data:
    """Return a supply of about a flow through a filter in the ceiling."""
    width, depth = 0.95 * chamber["width"], 0.9 * chamber["depth"]
    media = _media(width, depth, draw.uniform(60.0, 200.0), draw)
    kind = _of(draw, "flow", "face_velocity", "fan", "fan")
    moved = {"flow": flow, "face_velocity": flow / (width * depth), "fan": _fan(flow, 200.0, draw)}
    supply: Data = {kind: moved[kind], "filter": media, "intake": _of(draw, "room", "outdoors")}
    if draw.random() < 0.3:
        supply["prefilter"] = _media(0.4, 0.4, draw.uniform(5.0, 30.0), draw)
    if draw.random() < 0.2:
        supply["ducts"] = _ducts(flow, draw)
    if draw.random() < 0.4:
        supply["box"] = _supply_box(width, depth, draw)
    return supply


def _supply_box(width: float, depth: float, draw: Draw) -> Data:
    """Return a box above a filter with an inlet in any of its walls."""
    wall, height = _of(draw, "left", "right", "front", "back", "ceiling"), draw.uniform(0.12, 0.3)
    along = depth if wall in ("left", "right") else width
    up = depth if wall == "ceiling" else height
    inlet = {"inlet_width": draw.uniform(0.4, 1.0) * along, "inlet_height": 0.7 * up}
    return {"height": height, "inlet_wall": wall, **inlet}


def _openings(chamber: Data, draw: Draw) -> list[Data]:
    """Return a front, and at times another opening in any wall."""
    width, depth, height = chamber["width"], chamber["depth"], chamber["height"]
    size = {"offset": 0.05 * width, "width": 0.9 * width, "height": draw.uniform(0.1, 0.3) * height}
    found: list[Data] = [{"label": "front", "wall": "front", "bottom": 0.0, **size}]
    if draw.random() < 0.5:
        wall = _of(draw, "front", "back", "left", "right", "ceiling")
        along = depth if wall in ("left", "right") else width
        place = {"offset": 0.3 * along, "width": draw.uniform(0.1, 0.5) * along}
        low, high = (0.0, 0.04 * depth) if wall == "ceiling" else (0.5 * height, 0.2 * height)
        state = _of(draw, "open", "open", "covered", "shut")
        found.append(
            {"label": "other", "wall": wall, "bottom": low, "height": high, "state": state, **place}
        )
    return found


def _ports(chamber: Data, height: float, tube: bool, draw: Draw) -> list[Data]:
    """Return one or two ports in different walls; the first in a side wall where a tube is."""
    walls = ["left", "right", "front", "back", "bottom"]
    first = _of(draw, "left", "right") if tube else _of(draw, *walls)
    chosen = [first]
    if draw.random() < 0.4:
        chosen.append(_of(draw, *[wall for wall in walls if wall != first]))
    ports: list[Data] = []
    for wall in chosen:
        share = draw.uniform(0.3, 0.9)
        if wall == "bottom":
            size = {"width": 0.3 * chamber["width"], "depth": share * chamber["depth"]}
        else:
            along = chamber["depth"] if wall in ("left", "right") else chamber["width"]
            size = {"width": share * along, "height": draw.uniform(0.5, 1.0) * height}
        ports.append({"label": wall, "wall": wall, "entry_loss": draw.uniform(0.1, 1.0), **size})
    return ports


def _plate(chamber: Data, draw: Draw) -> Data:
    """Return a perforated floor, at times of a smaller zone or partly covered."""
    width, depth, share = chamber["width"], chamber["depth"], draw.uniform(0.01, 0.06)
    plate: Data = {
        "thickness": draw.uniform(0.002, 0.012),
        "hole_diameter": draw.uniform(0.003, 0.01),
        "free_area_ratio": share,
    }
    if draw.random() < 0.3:
        plate["zone"] = _rectangle(0.1 * width, 0.1 * depth, 0.8 * width, 0.85 * depth)
    if draw.random() < 0.3:
        plate["covered"] = [_rectangle(0.3 * width, 0.5 * depth, 0.3 * width, 0.3 * depth)]
    return plate


def _rectangle(x: float, y: float, width: float, depth: float) -> Data:
    """Return a place seen from above."""
    return {"offset_x": x, "offset_y": y, "width": width, "depth": depth}


def _tube(chamber: Data, height: float, draw: Draw) -> Data:
    """Return a perforated tube as wide as the plenum allows, its holes half of its section."""
    diameter = 0.9 * min(height, 0.3 * chamber["depth"]) - 0.006
    hole = draw.uniform(0.006, 0.015)
    count = max(int(draw.uniform(0.3, 0.8) * (diameter / hole) ** 2), 4)
    length = draw.uniform(0.6, 1.0) * chamber["width"]
    return {"diameter": diameter, "length": length, "hole_diameter": hole, "hole_count": count}


def _drawn(chamber: Data, flow: float, draw: Draw) -> Data:
    """Return plate, plenum, at times a tube, and an exhaust of about a flow."""
    plate = _plate(chamber, draw)
    tube = draw.random() < 0.25
    height = max(draw.uniform(0.06, 0.2), 1.2 * plate["free_area_ratio"] * chamber["width"])
    parts: Data = {"work_surface": plate}
    parts["plenum"] = {"height": height, "ports": _ports(chamber, height, tube, draw)}
    if tube:
        parts["distributor"] = _tube(chamber, height, draw)
        section = 0.25 * math.pi * parts["distributor"]["diameter"] ** 2
        flow = min(flow, draw.uniform(2.0, 6.0) * section)
    kind = _of(draw, "flow", "suction", "fan")
    pull = {"flow": flow, "suction": draw.uniform(10.0, 120.0), "fan": _fan(flow, 120.0, draw)}
    parts["exhaust"] = {kind: pull[kind], "outlet_pressure": draw.uniform(-5.0, 5.0)}
    if draw.random() < 0.4:
        parts["exhaust"]["ducts"] = _ducts(flow, draw)
    if draw.random() < 0.2:
        parts["exhaust"]["filter"] = _media(0.6, 0.6, 60.0, draw)
    return parts


def _tray(chamber: Data, draw: Draw) -> Data:
    """Return a tray in the left half, over the plate or with a pipe of its own."""
    width, depth, height = chamber["width"], chamber["depth"], chamber["height"]
    size = _rectangle(draw.uniform(0.1, 0.2) * width, 0.3 * depth, 0.25 * width, 0.45 * depth)
    side, high = _of(draw, "front", "back", "left", "right", "top"), draw.uniform(0.2, 0.3) * height
    along = size["depth"] if side in ("left", "right") else size["width"]
    slit = {
        "side": side,
        "length": 0.9 * along,
        "height": draw.uniform(0.003, 0.012),
        "bottom": 0.04,
    }
    tray: Data = {"label": "tray", **size, "height": high, "slit": slit}
    tray["lid"] = _of(draw, "on", "on", "on", "off")
    if draw.random() < 0.4:
        return {**tray, "pipe": {"diameter": draw.uniform(0.03, 0.06), "length": 1.0}}
    gap = 0.0 if draw.random() < 0.3 else draw.uniform(0.0002, 0.002)
    holes = {"hole_diameter": 0.006, "hole_count": int(draw.integers(10, 60)), "gap": gap}
    return {**tray, "floor": {**holes, "blocked": draw.random() < 0.1}}


def _object(chamber: Data, draw: Draw) -> Data:
    """Return a solid box in the right half, on the plate or above it."""
    width, depth, height = chamber["width"], chamber["depth"], chamber["height"]
    place = _rectangle(
        draw.uniform(0.55, 0.65) * width, draw.uniform(0.2, 0.5) * depth, 0.2 * width, 0.3 * depth
    )
    bottom = 0.0 if draw.random() < 0.5 else draw.uniform(0.2, 0.5) * height
    return {"label": "block", **place, "bottom": bottom, "height": draw.uniform(0.15, 0.3) * height}


def _leaks(parts: Data, draw: Draw) -> list[Data]:
    """Return leaks of every kind in what the bench has."""
    places = ["chamber"]
    places += ["plenum"] if "plenum" in parts else []
    places += ["supply box"] if "box" in parts.get("supply", {}) else []
    kinds: tuple[Data, ...] = (
        {"area": draw.uniform(1e-5, 5e-4)},
        {"gap": {"height": draw.uniform(1e-4, 5e-4), "length": 1.0, "path": 0.02}},
        {"coefficient": draw.uniform(1e-5, 5e-4), "exponent": draw.uniform(0.5, 0.9)},
    )
    count = int(draw.integers(0, 3))
    return [
        {"label": f"leak {number}", "at": _of(draw, *places), **kinds[int(draw.integers(3))]}
        for number in range(count)
    ]


def _random_bench(seed: int) -> Case:
    """Return a plausible bench drawn at random."""
    draw = np.random.default_rng([7, seed])
    width, depth, height = draw.uniform(0.6, 2.0), draw.uniform(0.4, 0.9), draw.uniform(0.4, 1.0)
    chamber: Data = {"width": width, "depth": depth, "height": height}
    flow = width * depth * draw.uniform(0.15, 0.5)
    parts: Data = {"openings": _openings(chamber, draw)}
    if draw.random() < 0.9:
        parts["supply"] = _supply(chamber, flow, draw)
    if draw.random() < 0.9 or "supply" not in parts:
        parts |= _drawn(chamber, flow * draw.uniform(0.5, 1.3), draw)
        parts["compartments"] = [_tray(chamber, draw)] if draw.random() < 0.5 else []
    parts["objects"] = [_object(chamber, draw)] if draw.random() < 0.4 else []
    parts["leaks"] = _leaks(parts, draw)
    room: Data = {"temperature": draw.uniform(285.0, 303.0), "draught": draw.uniform(0.0, 0.3)}
    if draw.random() < 0.2:
        room["leak_area"] = draw.uniform(0.02, 0.2)
    if draw.random() < 0.4:
        chamber["temperature"] = room["temperature"] + draw.uniform(-3.0, 8.0)
    cells = [int(draw.integers(*span)) for span in ((12, 21), (6, 11), (8, 13))]
    numerics = {"cells": cells, **MODELS[seed % len(MODELS)]}
    top: Data = {"format": 1, "title": f"bench {seed}", "room": room, "chamber": chamber}
    return case_from_mapping({**top, **parts, "numerics": numerics})


def _imbalance(result: Result) -> float:
    """Return supply - exhaust - fronts - leaks over the largest of them, at room density."""
    factor = lay_out(result.case).density_factor
    moved = [
        result["supply_flow"] or 0.0,
        -(result["exhaust_flow"] or 0.0) / factor,
        -(result["leak_flow"] or 0.0) / factor,
    ]
    for front in result.openings:
        moved += [-float(front.outflow.sum()) / factor, float(front.inflow.sum())]
    return abs(sum(moved)) / max(abs(part) for part in moved)


def _texts(result: Result) -> list[str]:
    """Return everything a run says in words."""
    spoken = [*result.warnings, *result.assumptions]
    spoken += [check.basis for check in result.checks]
    return spoken + [item.meaning for item in result.quantities.values()]


def _faults(result: Result) -> list[str]:
    """Return what a result breaks of the laws of nature and of the house."""
    error = result["mass_balance_error"]
    numbers = {name: item.value for name, item in result.quantities.items()}
    wrong = {
        "mass balance": error is None or error > 1e-10,
        "coupling": result.residuals["coupling"] > result.case.numerics.tolerance,
        "flows": _imbalance(result) > 1e-9,
        "nodes": {name for name, p in result.nodes.items() if not math.isfinite(p)} != set(),
        "promise": any(PROMISE.search(text) for text in _texts(result)),
    }
    found = [name for name, is_wrong in wrong.items() if is_wrong]
    return found + [
        name for name, number in numbers.items() if number is not None and not math.isfinite(number)
    ]


@pytest.mark.parametrize("start", range(0, SEEDS, BLOCK))
def test_random_benches_of_every_kind_are_solved(start: int) -> None:
    """120 benches in all (seeded): 24 of each fidelity, the section cut both ways."""
    wrong = {}
    for seed in range(start, start + BLOCK):
        case = _random_bench(seed)
        try:
            found = _faults(run_case(case))
        except (ConvergenceError, RangeError) as error:
            found = [f"{type(error).__name__}: {error}"]
        if found:
            wrong[seed] = found
    assert wrong == {}
