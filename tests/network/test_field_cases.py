"""Practitioners' cases that are network arithmetic; air 1.2 kg/m3, tolerance 1 %."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from network_parts import (
    CFM,
    DENSITY,
    FPM,
    INCH_WATER,
    VISCOSITY,
    chain,
    circle,
    duct,
    opening,
    resistance,
    straight_fan,
    table_fan,
)

from flowsim.network.graph import Branch, Closed, FixedFlow, Law, Network
from flowsim.network.laws import FaceLaw, FanLaw, Scaled, Series
from flowsim.network.solve import fan_operating_points, required_pressure, solve_network
from flowsim.physics.fan import fan_from_two_points, parallel, series
from flowsim.physics.filter_media import FilterMedium, filter_from_table, jet_on_filter_bound
from flowsim.physics.opening import orifice_area
from flowsim.physics.perforated_plate import PerforatedPlate

PERCENT = 0.01
F01_FAN = table_fan(
    [q * CFM for q in (0, 220, 380, 490, 570, 640, 700)],
    [p * INCH_WATER for p in (1.4, 1.25, 1.0, 0.75, 0.5, 0.25, 0.0)],
)
F01_FILTER = 0.8 * INCH_WATER / (400 * CFM)


def between(upstream: float, downstream: float, *laws: Law) -> Network:
    """Return laws one behind the other between two fixed pressures: b0, b1, ..."""
    nodes = ["up", *(f"n{k}" for k in range(1, len(laws))), "down"]
    branches = (Branch(f"b{k}", nodes[k], nodes[k + 1], law) for k, law in enumerate(laws))
    return Network({"up": upstream, "down": downstream}, tuple(branches))


@pytest.mark.parametrize(
    ("loading", "flow", "pressure", "velocity"),
    [(1.0, 436.2 * CFM, 217.3, 0.554), (2.0, 286.5 * CFM, 285.5, 0.364)],
)
def test_f01_f03_blower_on_a_bench_filter(
    loading: float, flow: float, pressure: float, velocity: float
) -> None:
    medium = FilterMedium(loading * F01_FILTER * 0.3716, 0.0)
    solution = solve_network(chain(F01_FAN, FaceLaw(0.3716, medium)))
    # common practice, no source (field.md F01, F03): table against a line
    assert solution.flows["b0"] == pytest.approx(flow, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(pressure, rel=PERCENT)
    assert solution.flows["b0"] / 0.3716 == pytest.approx(velocity, rel=PERCENT)


def test_f01_reading_the_sheet_at_the_rated_drop() -> None:
    sheet = solve_network(between(0.0, 0.8 * INCH_WATER, F01_FAN))
    # common practice, no source (field.md F01)
    assert sheet.flows["b0"] == pytest.approx(468 * CFM, rel=PERCENT)


def test_f02_pressure_a_blower_must_give() -> None:
    area, hour = 0.305 * 0.610, 3600.0
    table = filter_from_table(
        [q / hour / area for q in (100, 200, 300, 400)], [60.0, 122.0, 186.0, 252.0]
    )
    mat = resistance(30.0 / (335 / hour))
    network = chain(straight_fan(1.0, 1.0), mat, FaceLaw(area, table))
    flow = 0.5 * area
    # common practice, no source (field.md F02)
    assert flow * hour == pytest.approx(334.89, rel=1e-9)
    assert FaceLaw(area, table).drop(flow)[0] == pytest.approx(209.0, rel=PERCENT)
    assert required_pressure(network, "b0", flow) == pytest.approx(239.0, rel=PERCENT)


@pytest.mark.parametrize(
    ("shut_off", "free_flow", "flow", "pressure"),
    [(39.2, 0.02778, 4.552e-3, 32.8), (245.0, 0.01111, 8.376e-3, 60.3)],
)
def test_f04_case_fan_on_a_thick_filter(
    shut_off: float, free_flow: float, flow: float, pressure: float
) -> None:
    solution = solve_network(chain(straight_fan(shut_off, free_flow), resistance(7200.0)))
    # common practice, no source (field.md F04): q0/(1 + R q0/p0)
    assert solution.flows["b0"] == pytest.approx(flow, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(pressure, rel=PERCENT)


SECOND_FAN = [
    (0.2, (0.8333, 1.4286, 0.9091)),
    (1.0, (0.5, 0.6667, 0.6667)),
    (3.0, (0.25, 0.2857, 0.4)),
]


@pytest.mark.parametrize(("ratio", "expected"), SECOND_FAN)
def test_f05_second_fan_as_one_curve(ratio: float, expected: Sequence[float]) -> None:
    fan = fan_from_two_points(1.0, 1.0)
    curves = (fan, parallel([fan, fan]), series([fan, fan]))
    flows = [solve_network(chain(FanLaw(curve), resistance(ratio))).flows["b1"] for curve in curves]
    # common practice, no source (field.md F05, closed form C3)
    assert flows == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("ratio", "expected"), SECOND_FAN)
def test_f05_second_fan_as_a_branch(ratio: float, expected: Sequence[float]) -> None:
    fan = straight_fan(1.0, 1.0)
    beside = Network(
        {"room": 0.0},
        (
            Branch("one", "room", "box", fan),
            Branch("two", "room", "box", fan),
            Branch("filter", "box", "room", resistance(ratio)),
        ),
    )
    behind = chain(fan, fan, resistance(ratio))
    # common practice, no source (field.md F05, closed form C3)
    assert solve_network(beside).flows["filter"] == pytest.approx(expected[1], rel=1e-4)
    assert solve_network(behind).flows["b2"] == pytest.approx(expected[2], rel=1e-4)


@pytest.mark.parametrize(
    ("area", "velocity", "dynamic", "excess"),
    [(circle(0.15), 10.68, 68.5, 0.34), (0.04, 4.72, 13.4, 0.067)],
)
def test_f06_jet_on_the_filter_face(
    area: float, velocity: float, dynamic: float, excess: float
) -> None:
    speed = 400 * CFM / area
    # common practice, no source (field.md F06)
    assert speed == pytest.approx(velocity, rel=PERCENT)
    assert 0.5 * DENSITY * speed**2 == pytest.approx(dynamic, rel=PERCENT)
    assert jet_on_filter_bound(speed, DENSITY, 200.0) == pytest.approx(excess, abs=0.005)


def test_f07_stall_dip_has_three_crossings() -> None:
    fan = table_fan((0.0, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10), (100, 60, 40, 80, 72, 45, 0))
    points = fan_operating_points(chain(fan, resistance(1500.0)), "b0")
    # common practice, no source (field.md F07)
    assert [p.flow for p in points] == pytest.approx([0.02857, 0.03429, 0.05115], rel=PERCENT)
    assert [p.stable for p in points] == [True, False, True]


def test_f08_bathroom_fan_on_a_long_duct() -> None:
    pipe, ends, elbows = duct(0.1, 0.0, 9.14, 0.03), duct(0.1, 1.5), duct(0.1, 4 * 0.3)
    solution = solve_network(chain(straight_fan(60.0, 0.0519), Series((pipe, ends, elbows))))
    flow = solution.flows["b0"]
    parts = [law.drop(flow)[0] for law in (pipe, ends, elbows)]
    # common practice, no source (field.md F08)
    assert flow == pytest.approx(0.02447, rel=PERCENT)
    assert flow / circle(0.1) == pytest.approx(3.12, rel=PERCENT)
    assert solution.drops["b1"] == pytest.approx(31.7, rel=PERCENT)
    assert [p / sum(parts) for p in parts] == pytest.approx([0.50, 0.28, 0.22], abs=0.006)


def test_f09_claimed_flow_needs_an_impossible_pressure() -> None:
    flow = 2500 * CFM
    parts = [
        required_pressure(chain(straight_fan(1.0, 1.0), law), "b0", flow)
        for law in (duct(0.2032, 1.0), duct(0.2032, 0.0, 9.144, 0.02))
    ]
    speeds = [q * CFM / circle(0.2032) for q in (200, 250, 300, 2500)]
    # common practice, no source (field.md F09)
    assert speeds == pytest.approx([2.91, 3.64, 4.37, 36.4], rel=PERCENT)
    assert parts == pytest.approx([794.0, 715.0], rel=PERCENT)


@pytest.mark.parametrize(
    ("base", "exponent", "one", "four", "ratio"),
    [(0.184, 0.2, 13.33, 30.63, 2.297), (0.3164, 0.25, 12.75, 30.32, 2.378)],
)
def test_f10_four_small_pipes_for_one_large(
    base: float, exponent: float, one: float, four: float, ratio: float
) -> None:
    def friction(diameter: float) -> float:
        return base * (DENSITY * speed * diameter / VISCOSITY) ** -exponent

    speed = 0.30 / circle(0.2032)
    large = duct(0.2032, 0.0, 3.0, friction(0.2032))
    small = duct(0.1016, 0.0, 3.0, friction(0.1016))
    pipes = tuple(Branch(f"pipe {k}", "hood", "box", small) for k in range(4))
    pull = Branch("fan", "box", "room", FixedFlow(0.30))
    feed = Branch("hood", "room", "hood", resistance(1.0))
    solution = solve_network(Network({"room": 0.0}, (*pipes, feed, pull)))
    # common practice, no source (field.md F10)
    assert speed == pytest.approx(9.25, rel=PERCENT)
    for pipe in pipes:
        assert solution.flows[pipe.name] == pytest.approx(0.075, rel=1e-12)
    assert solution.drops["pipe 0"] == pytest.approx(four, rel=PERCENT)
    assert large.drop(0.30)[0] == pytest.approx(one, rel=PERCENT)
    assert solution.drops["pipe 0"] / large.drop(0.30)[0] == pytest.approx(ratio, rel=PERCENT)
    assert duct(0.2032, 0.5).drop(0.30)[0] == pytest.approx(25.7, rel=PERCENT)
    assert Scaled(duct(0.1016, 0.5), 0.25).drop(0.30)[0] == pytest.approx(25.7, rel=PERCENT)


@pytest.mark.parametrize(
    ("friction", "long_elbows", "expected"),
    [(0.03, 0.0, 1.55), (0.08, 0.0, 2.08), (0.08, 1.6, 2.28)],
)
def test_f11_shorter_duct_at_the_same_pressure(
    friction: float, long_elbows: float, expected: float
) -> None:
    long = duct(0.1524, 1.5 + long_elbows, 12.192, friction)
    short = duct(0.1524, 1.5, 0.6096, friction)
    flows = [solve_network(between(100.0, 0.0, law)).flows["b0"] for law in (short, long)]
    # common practice, no source (field.md F11)
    assert flows[0] / flows[1] == pytest.approx(expected, rel=PERCENT)


def test_f11_shorter_duct_on_a_falling_fan() -> None:
    fan = straight_fan(300.0, 0.15)
    short, long = (
        solve_network(chain(fan, duct(0.1524, 1.5, length, 0.08))).flows["b0"]
        for length in (0.6096, 12.192)
    )
    # common practice, no source (field.md F11)
    assert short / long == pytest.approx(1.37, rel=PERCENT)


def test_f12_wish_that_the_duct_cannot_carry() -> None:
    foot = 0.3048
    wish = 75 * FPM * (10 * foot**2 + circle(14 / 12 * foot))
    line = duct(0.1016, 1.5, 12.192, 0.02)
    flows = [solve_network(between(p, 0.0, line)).flows["b0"] for p in (250.0, 500.0, 1000.0)]
    # common practice, no source (field.md F12)
    assert wish == pytest.approx(830 * CFM, rel=PERCENT)
    assert required_pressure(chain(straight_fan(1.0, 1.0), line), "b0", wish) == pytest.approx(
        5463.0, rel=PERCENT
    )
    assert flows == pytest.approx([0.0838, 0.1185, 0.1676], rel=PERCENT)


def several_boxes(inlet: float, open_end: bool) -> Network:
    """Return two branches on one trunk and fan (field.md F13)."""
    end = duct(0.1, 2.5) if open_end else Closed()
    return Network(
        {"room": 0.0},
        (
            Branch("inlet", "room", "box", opening(inlet, 0.6)),
            Branch("a", "box", "node", duct(0.1, 3.0)),
            Branch("b", "room", "node", end),
            Branch("trunk", "node", "fan inlet", duct(0.15, 4.0)),
            Branch("fan", "fan inlet", "room", straight_fan(800.0, 0.35)),
        ),
    )


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
    solution = solve_network(several_boxes(inlet, open_end))
    # common practice, no source (field.md F13)
    assert solution.flows["a"] == pytest.approx(flow, rel=PERCENT)
    assert solution.flows["inlet"] / inlet == pytest.approx(speed, rel=PERCENT)
    assert solution.mass_residual <= 1e-14
    if open_end:
        assert solution.flows["b"] == pytest.approx(0.0906, rel=PERCENT)
        assert solution.pressures["node"] == pytest.approx(-199.5, rel=PERCENT)


@pytest.mark.parametrize(
    ("others", "total", "pressure", "hose", "hole"),
    [
        ((), 0.01737, -1895.0, 2.21, 0.01737),
        ((0.05,), 0.07460, -1471.0, 9.50, 0.01530),
        ((0.1,), 0.1612, -599.0, 20.5, 0.00977),
        ((0.05, 0.1), 0.1733, -454.0, 22.1, 0.00851),
    ],
)
def test_f14_big_hose_on_a_nearly_closed_cabinet(
    others: tuple[float, ...], total: float, pressure: float, hose: float, hole: float
) -> None:
    holes = tuple(
        Branch(f"hole {k}", "room", "cabinet", opening(circle(d), 0.61))
        for k, d in enumerate((0.0254, *others))
    )
    way = (
        Branch("hose", "cabinet", "fan inlet", duct(0.1, 1.9)),
        Branch("fan", "fan inlet", "room", straight_fan(2000.0, 0.35)),
    )
    solution = solve_network(Network({"room": 0.0}, holes + way))
    # common practice, no source (field.md F14)
    assert solution.flows["fan"] == pytest.approx(total, rel=PERCENT)
    assert solution.pressures["cabinet"] == pytest.approx(pressure, rel=PERCENT)
    assert solution.flows["hose"] / circle(0.1) == pytest.approx(hose, rel=PERCENT)
    assert solution.flows["hole 0"] == pytest.approx(hole, rel=PERCENT)


@pytest.mark.parametrize(
    ("area", "flow", "pressure", "digits"),
    [(0.01, 0.0501, -41.8, 0.4), (1.61, 0.1651, -0.018, 5e-4)],
)
def test_f15_strong_fan_until_the_door_is_shut(
    area: float, flow: float, pressure: float, digits: float
) -> None:
    solution = solve_network(chain(opening(area, 0.6), straight_fan(60.0, 0.1652)))
    # common practice, no source (field.md F15)
    assert solution.flows["b1"] == pytest.approx(flow, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(pressure, abs=digits)


def matched_fans(area: float, supply: float = 1.0, exhaust: float = 1.0) -> Network:
    """Return one fan in and one out, with loaded filters (field.md F16)."""
    fan = straight_fan(120.0, 0.10)
    return Network(
        {"room": 0.0},
        (
            Branch("supply", "room", "a", fan),
            Branch("supply filter", "a", "box", resistance(1250.0 * supply)),
            Branch("front", "room", "box", opening(area, 0.6)),
            Branch("duct", "box", "b", resistance(312.5 * exhaust, 6250.0)),
            Branch("exhaust", "b", "room", fan),
        ),
    )


@pytest.mark.parametrize(
    ("network", "supply", "exhaust", "inflow", "pressure"),
    [
        (matched_fans(0.10), 0.04899, 0.06295, 0.1395, -0.0324),
        (matched_fans(0.10, supply=2.0), 0.03247, 0.06289, 0.304, -0.154),
        (matched_fans(0.02), None, None, 0.668, -0.743),
        (matched_fans(1e-5), None, None, None, -16.4),
        (matched_fans(0.10, exhaust=2.0), None, None, 0.0630, None),
        (matched_fans(0.10, exhaust=4.0), None, None, -0.0494, 0.0041),
    ],
    ids=["clean", "supply x2", "small", "sealed", "exhaust x2", "exhaust x4"],
)
def test_f16_two_matched_fans_are_not_neutral(
    network: Network,
    supply: float | None,
    exhaust: float | None,
    inflow: float | None,
    pressure: float | None,
) -> None:
    solution = solve_network(network)
    front = network.branch("front").law
    speed = solution.flows["front"] / front.area  # type: ignore[union-attr]
    found = (solution.flows["supply"], solution.flows["exhaust"], speed, solution.pressures["box"])
    # common practice, no source (field.md F16)
    for value, expected in zip(found, (supply, exhaust, inflow, pressure), strict=True):
        if expected is not None:
            assert value == pytest.approx(expected, rel=PERCENT)


def test_f16_front_turns_at_an_exhaust_loading_of_3() -> None:
    low, high = (solve_network(matched_fans(0.1, exhaust=x)).flows["front"] for x in (2.99, 3.05))
    # common practice, no source (field.md F16): turns at 3.02
    assert low > 0 > high


def test_f17_sealed_box_and_the_intake_for_a_slight_suction() -> None:
    fan = straight_fan(60.0, 0.282)
    pushed = solve_network(Network({"room": 0.0}, (Branch("fan", "room", "box", fan),)))
    wanted = solve_network(between(-5.0, 0.0, fan)).flows["b0"]
    area = orifice_area(wanted, 5.0, 0.6, DENSITY)
    pulled = solve_network(chain(opening(area, 0.6), fan))
    # common practice, no source (field.md F17)
    assert pushed.pressures["box"] == pytest.approx(60.0, rel=1e-12)
    assert pushed.flows["fan"] == pytest.approx(0.0, abs=1e-12)
    assert wanted == pytest.approx(0.2585, rel=PERCENT)
    assert area == pytest.approx(0.1492, rel=PERCENT)
    assert pulled.pressures["n1"] == pytest.approx(-5.0, rel=1e-4)


@pytest.mark.parametrize(
    ("diameter", "pressure"), [(0.05, -932.0), (0.0827, -124.5), (0.0939, -75.0)]
)
def test_f18_gloves_stand_out_stiff(diameter: float, pressure: float) -> None:
    network = chain(opening(circle(diameter), 0.61), FixedFlow(0.0472))
    # common practice, no source (field.md F18)
    assert solve_network(network).pressures["n1"] == pytest.approx(pressure, rel=PERCENT)


@pytest.mark.parametrize(
    ("height", "flow", "pressure", "speed"),
    [(0.002, 3.402e-3, -54.6, 5.67), (0.020, 1.072e-2, -6.32, 1.79)],
)
def test_f21_tray_with_its_own_slit_and_pipe(
    height: float, flow: float, pressure: float, speed: float
) -> None:
    slit = 0.3 * height
    solution = solve_network(between(-1.0, -60.0, opening(slit, 0.6), duct(0.05, 3.0)))
    # common practice, no source (field.md F21)
    assert solution.flows["b0"] == pytest.approx(flow, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(pressure, rel=PERCENT)
    assert solution.flows["b0"] / slit == pytest.approx(speed, rel=PERCENT)


def test_f21_slit_at_which_the_tray_keeps_10_pascal() -> None:
    margins = [
        -1.0
        - solve_network(
            between(-1.0, -60.0, opening(0.3 * height, 0.6), duct(0.05, 3.0))
        ).pressures["n1"]
        for height in (0.0138, 0.0140)
    ]
    # common practice, no source (field.md F21): 10 Pa at 13.9 mm
    assert margins[0] > 10.0 > margins[1]


def test_f21_holes_in_series() -> None:
    hole = circle(0.00635)
    solution = solve_network(between(0.0, -25.0, opening(2 * hole, 0.61), opening(3 * hole, 0.61)))
    # common practice, no source (field.md F21): drop ratio (3/2)^2
    assert solution.flows["b0"] == pytest.approx(2.075e-4, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(-17.31, rel=PERCENT)


@pytest.mark.parametrize(
    ("free_area", "coefficient", "least", "most"),
    [
        (0.227, 0.62, 7.57 * 0.99, 7.57 * 1.01),
        (0.227, None, 5.0, 8.0),
        (0.10, 0.62, 37.0, 39.5),
        (0.10, None, 35.0, 39.5),
        (0.51, None, 0.56, 1.5),
    ],
)
def test_f26_table_and_its_perforated_sheet(
    free_area: float, coefficient: float | None, least: float, most: float
) -> None:
    plate = PerforatedPlate(free_area, 0.0, 0.004, DENSITY, VISCOSITY, coefficient)
    network = chain(FaceLaw(1.6, plate), FixedFlow(0.8))
    drop = solve_network(network).drops["b0"]
    # common practice, no source (field.md F26); 10 %: 37-39 Pa by orifice, thin plate 37.4 Pa
    assert least <= drop <= most
    if coefficient is not None:
        double = solve_network(chain(FaceLaw(1.6, plate), FixedFlow(1.6))).drops["b0"]
        assert double / drop == pytest.approx(4.0, rel=PERCENT)


def test_f27_one_panel_with_the_trade_coefficient() -> None:
    area, flow = 175 * 6.4516e-4, 1000 * CFM
    network = chain(opening(area, 2610 / 4005), FixedFlow(flow))
    # common practice, no source (field.md F27)
    assert solve_network(network).drops["b0"] == pytest.approx(24.7, abs=0.3)
    assert 0.5 * DENSITY * (flow / area) ** 2 == pytest.approx(10.48, rel=PERCENT)


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
    fan = straight_fan(400.0, 0.40)
    solution = solve_network(chain(opening(height, 0.6), resistance(0.0, 2500.0), fan))
    # common practice, no source (field.md F29)
    assert solution.flows["b0"] == pytest.approx(flow, rel=PERCENT)
    assert solution.flows["b0"] / height == pytest.approx(speed, rel=PERCENT)


def test_f32_dynamic_pressure_in_a_gauge_reading() -> None:
    section = circle(0.2)
    laws = (resistance(50.0 / (5.0 * section)), duct(0.2, 1.0))
    solution = solve_network(chain(FixedFlow(5.0 * section), *laws))
    # common practice, no source (field.md F32): dynamic 15.0 Pa, total less static reads 65 Pa
    assert solution.drops["b2"] == pytest.approx(15.0, rel=PERCENT)
    assert solution.pressures["n1"] == pytest.approx(65.0, rel=PERCENT)
    assert math.isclose(solution.pressures["n1"] / solution.drops["b1"], 1.3, rel_tol=PERCENT)
