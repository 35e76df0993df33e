"""Practitioners' cases as cases of their own; air 1.2 kg/m3, tolerance 1 %.

A hall of 10 x 10 x 5 m stands for the box where a case gives none: the air rests in it, and a
floor of large holes over a plenum without an entry loss takes nothing from the exhaust.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest

from flowsim.case.read import case_from_mapping
from flowsim.physics.air import air_state
from flowsim.simulate.result import BranchState, Result
from flowsim.simulate.run import run_case

PERCENT = 0.01
DENSITY = 1.2
CFM = 4.719474432e-4
INCH_WATER = 249.08891
HOUR = 3600.0

Data = dict[str, Any]

AIR: Data = {
    "temperature": 293.15,
    "pressure": DENSITY / air_state(293.15, 1e5).density * 1e5,
    "relative_humidity": 0.0,
}
HALL: Data = {"width": 10.0, "depth": 10.0, "height": 5.0}
DRAWN: Data = {
    "work_surface": {
        "thickness": 0.001,
        "hole_diameter": 0.01,
        "free_area_ratio": 0.9,
        "discharge_coefficient": 1.0,
    },
    "plenum": {
        "height": 1.0,
        "ports": [{"wall": "left", "width": 9.0, "height": 1.0, "entry_loss": 0.0}],
    },
}


def circle(diameter: float) -> float:
    """Return the area of a circle."""
    return math.pi * diameter**2 / 4


def hole(area: float, coefficient: float = 0.6, label: str = "front", **other: Any) -> Data:
    """Return an opening of a given area, wide and low, in the front unless said otherwise."""
    width = min(9.9, max(10.0 * math.sqrt(area), area / 4.9))
    place = {"wall": "front", "offset": 0.0, "bottom": 0.0, "width": width, "height": area / width}
    return {"label": label, "discharge_coefficient": coefficient, **place, **other}


WIDE = hole(45.0)


def fan(shut_off: float, free_flow: float, **other: Any) -> Data:
    """Return a straight-line fan."""
    line = {"shut_off_pressure": shut_off, "free_flow": free_flow}
    return {"fan": {**line, "rated_density": DENSITY, **other}}


def media(resistance: float, width: float = 1.0, depth: float = 1.0, **other: Any) -> Data:
    """Return a linear filter of a resistance in Pa s/m3."""
    rated = {"rated_flow": 0.1, "rated_drop": 0.1 * resistance, "inertial_share": 0.0}
    return {"width": width, "depth": depth, **rated, **other}


def duct(diameter: float, loss: float, length: float = 0.0, friction: float = 0.0) -> Data:
    """Return a round duct with a constant friction factor and one single loss."""
    fittings = [{"kind": "loss", "loss": loss}]
    size = {"diameter": diameter, "length": length, "friction_factor": friction}
    return {**size, "fittings": fittings}


def square_law(factor: float) -> Data:
    """Return a duct that drops `factor` Q^2."""
    return duct(1.0, factor * 2.0 * circle(1.0) ** 2 / DENSITY)


def run(*openings: Data, fidelity: str = "network", **parts: Any) -> Result:
    """Run a case in air of 1.2 kg/m3; without a chamber of its own, in the hall."""
    data: Data = {"format": 1, "title": "field", "room": AIR, "chamber": HALL, **parts}
    data["openings"] = list(openings)
    data["numerics"] = {"fidelity": fidelity, "cells": [12, 8, 10]}
    return run_case(case_from_mapping(data))


def value(result: Result, name: str) -> float:
    """Return a key figure that must be there."""
    number = result[name]
    assert number is not None
    return number


def branch(result: Result, name: str) -> BranchState:
    """Return a branch by name."""
    return next(item for item in result.branches if item.name == name)


F01_FAN: Data = {
    "fan": {
        "flow": [q * CFM for q in (0, 220, 380, 490, 570, 640, 700)],
        "pressure": [p * INCH_WATER for p in (1.4, 1.25, 1.0, 0.75, 0.5, 0.25, 0.0)],
        "interpolation": "straight",
        "rated_density": DENSITY,
    }
}


@pytest.mark.parametrize(
    ("loading", "flow", "pressure", "velocity"),
    [(1.0, 436.2 * CFM, 217.3, 0.554), (2.0, 286.5 * CFM, 285.5, 0.364)],
)
def test_f01_f03_blower_on_a_bench_filter(
    loading: float, flow: float, pressure: float, velocity: float
) -> None:
    resistance = 0.8 * INCH_WATER / (400 * CFM)
    clean = media(resistance, 0.6096, 0.6096, loading=loading)
    result = run(WIDE, supply={**F01_FAN, "filter": clean})
    # common practice, no source (field.md F01, F03): table against a line
    assert value(result, "supply_flow") == pytest.approx(flow, rel=PERCENT)
    assert value(result, "supply_fan_pressure") == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "supply_filter_pressure_drop") == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "supply_face_velocity") == pytest.approx(velocity, rel=PERCENT)


def test_f01_reading_the_sheet_at_the_rated_drop() -> None:
    against = {**F01_FAN, "outlet_pressure": 0.8 * INCH_WATER}
    result = run(WIDE, exhaust=against, **DRAWN)
    # common practice, no source (field.md F01)
    assert value(result, "exhaust_flow") == pytest.approx(468 * CFM, rel=PERCENT)


def test_f02_pressure_a_blower_must_give() -> None:
    table = {
        "width": 0.305,
        "depth": 0.610,
        "flow": [q / HOUR for q in (100, 200, 300, 400)],
        "drop": [60.0, 122.0, 186.0, 252.0],
    }
    mat = media(30.0 / (335 / HOUR))
    result = run(WIDE, supply={"face_velocity": 0.5, "filter": table, "prefilter": mat})
    # common practice, no source (field.md F02)
    assert value(result, "supply_flow") * HOUR == pytest.approx(334.89, rel=1e-4)
    assert value(result, "supply_filter_pressure_drop") == pytest.approx(209.0, rel=PERCENT)
    assert branch(result, "prefilter").drop == pytest.approx(30.0, rel=PERCENT)
    assert value(result, "supply_fan_pressure") == pytest.approx(239.0, rel=PERCENT)


@pytest.mark.parametrize(
    ("shut_off", "free_flow", "flow", "pressure"),
    [(39.2, 0.02778, 4.552e-3, 32.8), (245.0, 0.01111, 8.376e-3, 60.3)],
)
def test_f04_case_fan_on_a_thick_filter(
    shut_off: float, free_flow: float, flow: float, pressure: float
) -> None:
    result = run(WIDE, supply={**fan(shut_off, free_flow), "filter": media(7200.0)})
    # common practice, no source (field.md F04): q0/(1 + R q0/p0)
    assert value(result, "supply_flow") == pytest.approx(flow, rel=PERCENT)
    assert value(result, "supply_fan_pressure") == pytest.approx(pressure, rel=PERCENT)


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [
        (0.2, (0.8333, 1.4286, 0.9091)),
        (1.0, (0.5, 0.6667, 0.6667)),
        (3.0, (0.25, 0.2857, 0.4)),
    ],
)
def test_f05_second_fan_beside_or_behind_the_first(ratio: float, expected: Sequence[float]) -> None:
    groups: tuple[Data, ...] = (
        {},
        {"count": 2, "arrangement": "parallel"},
        {"count": 2, "arrangement": "series"},
    )
    flows = []
    for group in groups:
        blower = fan(100.0, 0.1, **group)
        result = run(WIDE, supply={**blower, "filter": media(1000.0 * ratio)})
        flows.append(value(result, "supply_flow") / 0.1)
    # common practice, no source (field.md F05, closed form C3)
    assert flows == pytest.approx(expected, rel=1e-3)


def test_f08_bathroom_fan_on_a_long_duct() -> None:
    pipe, ends, elbows = duct(0.1, 0.0, 9.14, 0.03), duct(0.1, 1.5), duct(0.1, 4 * 0.3)
    result = run(WIDE, supply={**fan(60.0, 0.0519), "ducts": [pipe, ends, elbows]})
    parts = [branch(result, f"supply duct {number}").drop for number in (1, 2, 3)]
    flow = value(result, "supply_flow")
    # common practice, no source (field.md F08)
    assert flow == pytest.approx(0.02447, rel=PERCENT)
    assert flow / circle(0.1) == pytest.approx(3.12, rel=PERCENT)
    assert value(result, "supply_fan_pressure") == pytest.approx(31.7, rel=PERCENT)
    assert [part / sum(parts) for part in parts] == pytest.approx([0.50, 0.28, 0.22], abs=0.006)


@pytest.mark.parametrize(
    ("pull", "friction", "elbows", "expected"),
    [
        ({"suction": 100.0}, 0.03, 0.0, 1.55),
        ({"suction": 100.0}, 0.08, 0.0, 2.08),
        ({"suction": 100.0}, 0.08, 1.6, 2.28),
        (fan(300.0, 0.15), 0.08, 0.0, 1.37),
    ],
    ids=["smooth", "hose", "elbows gone", "falling fan"],
)
def test_f11_shorter_duct(pull: Data, friction: float, elbows: float, expected: float) -> None:
    ducts = (duct(0.1524, 1.5, 0.6096, friction), duct(0.1524, 1.5 + elbows, 12.192, friction))
    short, long = (run(WIDE, exhaust={**pull, "ducts": [item]}, **DRAWN) for item in ducts)
    ratio = value(short, "exhaust_flow") / value(long, "exhaust_flow")
    # common practice, no source (field.md F11)
    assert ratio == pytest.approx(expected, rel=PERCENT)


def several_boxes(inlet: float, open_end: bool) -> Result:
    """Run two branches on one trunk and fan; branch B ends in a box without a lid, or is shut."""
    box: Data = {"offset_x": 0.0, "offset_y": 1.0, "width": 4.0, "depth": 8.0, "height": 1.0}
    slit = {"length": 3.5, "height": inlet / 3.5, "discharge_coefficient": 0.6, "side": "front"}
    first = {"label": "a", **box, "slit": slit, "pipe": duct(0.1, 3.0)}
    other = {"label": "b", **box, "offset_x": 5.0, "slit": slit, "lid": "off"}
    boxes = [first, {**other, "pipe": duct(0.1, 2.5)}] if open_end else [first]
    return run(WIDE, compartments=boxes, exhaust={**fan(800.0, 0.35), "ducts": [duct(0.15, 4.0)]})


@pytest.mark.parametrize(
    ("inlet", "open_end", "flow", "speed"),
    [
        (0.02, False, 0.1145, 5.73),
        (0.02, True, 0.0773, 0.0773 / 0.02),
        (0.2, False, 0.1195, 0.597),
    ],
)
def test_f13_several_boxes_on_one_fan(
    inlet: float, open_end: bool, flow: float, speed: float
) -> None:
    result = several_boxes(inlet, open_end)
    # common practice, no source (field.md F13)
    assert result.compartments[0].flow == pytest.approx(flow, rel=PERCENT)
    assert result.compartments[0].slit_velocity_mean == pytest.approx(speed, rel=PERCENT)
    assert value(result, "mass_balance_error") <= 1e-12
    if open_end:
        assert result.compartments[1].flow == pytest.approx(0.0906, rel=PERCENT)
        assert result.nodes["exhaust inlet"] == pytest.approx(-199.5, rel=PERCENT)


@pytest.mark.parametrize(
    ("others", "total", "pressure", "hose", "first"),
    [
        ((), 0.01737, -1895.0, 2.21, 0.01737),
        ((0.05,), 0.07460, -1471.0, 9.50, 0.01530),
        ((0.1,), 0.1612, -599.0, 20.5, 0.00977),
        ((0.05, 0.1), 0.1733, -454.0, 22.1, 0.00851),
    ],
)
def test_f14_big_hose_on_a_nearly_closed_cabinet(
    others: tuple[float, ...], total: float, pressure: float, hose: float, first: float
) -> None:
    holes = [
        hole(circle(d), 0.61, f"hole {k}", bottom=float(k)) for k, d in enumerate((0.0254, *others))
    ]
    result = run(*holes, exhaust={**fan(2000.0, 0.35), "ducts": [duct(0.1, 1.9)]}, **DRAWN)
    # common practice, no source (field.md F14)
    assert value(result, "exhaust_flow") == pytest.approx(total, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "exhaust_flow") / circle(0.1) == pytest.approx(hose, rel=PERCENT)
    assert branch(result, "opening hole 0").flow == pytest.approx(-first, rel=PERCENT)


@pytest.mark.parametrize(
    ("door", "flow", "pressure", "digits"),
    [("shut", 0.0501, -41.8, 0.4), ("open", 0.1651, -0.018, 5e-4)],
)
def test_f15_strong_fan_until_the_door_is_shut(
    door: str, flow: float, pressure: float, digits: float
) -> None:
    openings = hole(0.01), hole(1.6, label="door", wall="back", state=door)
    result = run(*openings, exhaust=fan(60.0, 0.1652), **DRAWN)
    # common practice, no source (field.md F15)
    assert value(result, "exhaust_flow") == pytest.approx(flow, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(pressure, abs=digits)


def matched_fans(area: float, supply: float = 1.0, exhaust: float = 1.0) -> Result:
    """Run one fan in and one out, with loaded filters."""
    blower = fan(120.0, 0.10)
    way = {"ducts": [square_law(6250.0)], "filter": media(312.5, loading=exhaust)}
    feed = {**blower, "filter": media(1250.0, loading=supply)}
    return run(hole(area), supply=feed, exhaust={**blower, **way}, **DRAWN)


@pytest.mark.parametrize(
    ("loads", "supply", "exhaust", "inflow", "pressure"),
    [
        ((0.10,), 0.04899, 0.06295, 0.1395, -0.0324),
        ((0.10, 2.0), 0.03247, 0.06289, 0.304, -0.154),
        ((0.02,), None, None, 0.668, -0.743),
        ((1e-5,), None, None, None, -16.4),
        ((0.10, 1.0, 2.0), None, None, 0.0630, None),
        ((0.10, 1.0, 4.0), None, None, -0.0494, 0.0041),
    ],
    ids=["clean", "supply x2", "small", "sealed", "exhaust x2", "exhaust x4"],
)
def test_f16_two_matched_fans_are_not_neutral(
    loads: tuple[float, ...],
    supply: float | None,
    exhaust: float | None,
    inflow: float | None,
    pressure: float | None,
) -> None:
    result = matched_fans(*loads)
    found = {
        "supply_flow": supply,
        "exhaust_flow": exhaust,
        "front_velocity_mean": None if inflow is None else -inflow,
        "chamber_pressure": pressure,
    }
    # common practice, no source (field.md F16)
    for name, expected in found.items():
        if expected is not None:
            assert value(result, name) == pytest.approx(expected, rel=PERCENT), name


def test_f16_front_turns_at_an_exhaust_loading_of_3() -> None:
    outflow = [value(matched_fans(0.1, exhaust=x), "front_outflow") for x in (2.99, 3.05)]
    # common practice, no source (field.md F16): turns at 3.02
    assert outflow[0] < 0.0 < outflow[1]


def test_f17_fan_into_a_sealed_box() -> None:
    result = run(supply=fan(60.0, 0.282))
    # common practice, no source (field.md F17)
    assert value(result, "supply_flow") == pytest.approx(0.0, abs=1e-12)
    assert value(result, "chamber_pressure") == pytest.approx(60.0, rel=1e-9)


def test_f17_intake_for_a_slight_suction() -> None:
    result = run(hole(0.1492), exhaust=fan(60.0, 0.282), **DRAWN)
    # common practice, no source (field.md F17)
    assert value(result, "exhaust_flow") == pytest.approx(0.2585, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(-5.0, rel=PERCENT)


@pytest.mark.parametrize(
    ("diameter", "pressure"), [(0.05, -932.0), (0.0827, -124.5), (0.0939, -75.0)]
)
def test_f18_gloves_stand_out_stiff(diameter: float, pressure: float) -> None:
    result = run(hole(circle(diameter), 0.61), exhaust={"flow": 0.0472}, **DRAWN)
    # common practice, no source (field.md F18)
    assert value(result, "chamber_pressure") == pytest.approx(pressure, rel=PERCENT)


@pytest.mark.parametrize(("leak", "pressure"), [(0.03, -71.7), (0.1136, -5.0)])
def test_f19_room_is_pulled_down(leak: float, pressure: float) -> None:
    room = {**AIR, "leak_area": leak}
    result = run(WIDE, room=room, exhaust={"flow": 0.20}, **DRAWN)
    # common practice, no source (field.md F19): the room's leaks have Cd 0.61
    assert value(result, "room_pressure") == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(0.0, abs=1e-3)


def piped_tray(height: float) -> Result:
    """Run a tray with a slit of 300 mm between a chamber at 0 Pa and 59 Pa of suction."""
    slit = {"side": "front", "length": 0.3, "height": height, "discharge_coefficient": 0.6}
    size = {"offset_x": 1.0, "offset_y": 1.0, "width": 0.4, "depth": 0.3, "height": 0.1}
    tray = {"label": "tray", **size, "slit": slit, "pipe": duct(0.05, 3.0)}
    return run(WIDE, compartments=[tray], exhaust={"suction": 60.0 - 1.0})


@pytest.mark.parametrize(
    ("height", "flow", "pressure", "speed"),
    [(0.002, 3.402e-3, -54.6, 5.67), (0.020, 1.072e-2, -6.32, 1.79)],
)
def test_f21_tray_with_its_own_slit_and_pipe(
    height: float, flow: float, pressure: float, speed: float
) -> None:
    result = piped_tray(height)
    # common practice, no source (field.md F21): the chamber's -1 Pa taken as zero
    assert result.compartments[0].flow == pytest.approx(flow, rel=PERCENT)
    assert value(result, "compartment_pressure") - 1.0 == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "slit_velocity_mean") == pytest.approx(speed, rel=PERCENT)


def test_f21_slit_at_which_the_tray_keeps_10_pascal() -> None:
    margins = [-value(piped_tray(height), "compartment_pressure") for height in (0.0138, 0.0140)]
    # common practice, no source (field.md F21): 10 Pa at 13.9 mm
    assert margins[0] > 10.0 > margins[1]


def test_f21_holes_in_series() -> None:
    one = circle(0.00635)
    holes = {"hole_diameter": 0.00635, "hole_count": 3, "thickness": 0.003}
    plate = {"work_surface": {**holes, "discharge_coefficient": 0.61}, "plenum": DRAWN["plenum"]}
    result = run(hole(2 * one, 0.61), exhaust={"suction": 25.0}, **plate)
    # common practice, no source (field.md F21): drop ratio (3/2)^2
    assert value(result, "exhaust_flow") == pytest.approx(2.075e-4, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(-17.31, rel=PERCENT)


def test_f27_one_panel_with_the_trade_coefficient() -> None:
    panel = hole(175 * 6.4516e-4, 2610 / 4005)
    result = run(panel, supply={"flow": 1000 * CFM})
    # common practice, no source (field.md F27)
    assert value(result, "chamber_pressure") == pytest.approx(24.7, abs=0.3)


@pytest.mark.parametrize(
    ("height", "flow", "speed"),
    [
        (0.05, 0.2310, 4.62),
        (0.10, 0.2428, 2.43),
        (0.20, 0.2461, 1.23),
        (0.30, 0.2467, 0.822),
        (0.45, 0.2470, 0.549),
        (0.494, 0.494 * 0.5, 0.5),
        (0.60, 0.2471, 0.412),
    ],
)
def test_f29_speed_falls_when_the_front_is_opened(height: float, flow: float, speed: float) -> None:
    front = hole(height, width=1.0, height=height)
    line = {**fan(400.0, 0.40), "ducts": [square_law(2500.0)]}
    result = run(front, exhaust=line, **DRAWN)
    # common practice, no source (field.md F29)
    assert value(result, "exhaust_flow") == pytest.approx(flow, rel=PERCENT)
    assert value(result, "front_velocity_mean") == pytest.approx(-speed, rel=PERCENT)


BENCH: Data = {"width": 1.0, "depth": 0.65, "height": 1.2}
BENCH_PLATE: Data = {
    "work_surface": {"thickness": 0.006, "hole_diameter": 0.008, "free_area_ratio": 0.04},
    "plenum": {"height": 0.12, "ports": [{"wall": "left", "width": 0.5, "height": 0.1}]},
}


@pytest.mark.parametrize("fidelity", ["network", "section", "stacked", "volume"])
def test_f33_front_flow_is_exhaust_less_supply(fidelity: str) -> None:
    front = hole(0.10, offset=0.05, width=0.8, height=0.125)
    for supply in (0.10, 0.14, 0.18):
        for exhaust in (0.12, 0.14, 0.18):
            parts = {"supply": {"flow": supply}, "exhaust": {"flow": exhaust}, **BENCH_PLATE}
            result = run(front, fidelity=fidelity, chamber=BENCH, **parts)
            # common practice, no source (field.md F33): 0.4 m/s in at a difference of 0.040 m3/s
            inflow = -value(result, "front_velocity_mean")
            assert inflow == pytest.approx((exhaust - supply) / 0.10, rel=1e-9, abs=1e-9)
            net = value(result, "front_out_flow") - value(result, "front_in_flow")
            assert net == pytest.approx(supply - exhaust, rel=1e-9, abs=1e-10)


@pytest.mark.parametrize(("height", "speed", "pressure"), [(0.25, 1.30, 2.8), (0.125, 2.60, 11.3)])
def test_f38_downflow_box_with_no_exhaust(height: float, speed: float, pressure: float) -> None:
    feed = {"face_velocity": 0.45, "filter": media(400.0, 1.0, 0.65)}
    front = hole(0.9 * height, offset=0.05, width=0.9, height=height)
    result = run(front, chamber=BENCH, supply=feed)
    # common practice, no source (field.md F38)
    assert value(result, "front_outflow") == pytest.approx(0.2925, rel=1e-9)
    assert value(result, "front_velocity_mean") == pytest.approx(speed, rel=PERCENT)
    assert value(result, "chamber_pressure") == pytest.approx(pressure, rel=PERCENT)
    assert value(result, "front_inflow_share") == 0.0
