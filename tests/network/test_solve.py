from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from network_parts import ParabolicFan, chain, opening, resistance, straight_fan, table_fan

from flowsim.errors import ConvergenceError, RangeError
from flowsim.network.graph import Branch, Closed, FixedFlow, Network
from flowsim.network.laws import FanLaw
from flowsim.network.solve import (
    fan_operating_points,
    network_validity,
    required_pressure,
    solve_network,
)
from flowsim.physics.fan import FanCurve

PARABOLA = ParabolicFan(400.0, 6400.0)
DIP = table_fan(
    (0.0, 0.02, 0.03, 0.045, 0.06, 0.08, 0.10), (100.0, 60.0, 40.0, 80.0, 72.0, 45.0, 0.0)
)


@pytest.mark.parametrize(
    ("fan", "linear", "quadratic", "flow", "pressure"),
    [
        (PARABOLA, 0.0, 2000.0, 0.2182179, 95.238),
        (PARABOLA, 0.0, 5000.0, 0.1873172, 175.439),
        (PARABOLA, 600.0, 2000.0, 0.1854069, 179.996),
        (PARABOLA, 1200.0, 2000.0, 0.1581822, 239.862),
        (ParabolicFan(256.0, 6400.0), 600.0, 2000.0, 0.1424758, 126.084),
    ],
)
def test_fan_meets_its_system(
    fan: ParabolicFan, linear: float, quadratic: float, flow: float, pressure: float
) -> None:
    solution = solve_network(chain(fan, resistance(linear, quadratic)))
    # own closed form and root finder (flow.md 6), strength A
    assert solution.flows["b0"] == pytest.approx(flow, rel=3e-7)
    assert solution.drops["b1"] == pytest.approx(pressure, rel=5e-6)


def test_slower_fan_through_a_filter_loses_more_than_its_speed() -> None:
    flows = np.linspace(0.0, 0.25, 201)
    curve = FanCurve(tuple(flows.tolist()), tuple((400.0 - 6400.0 * flows**2).tolist()), True)
    system = resistance(600.0, 2000.0)
    full, slow = (
        solve_network(chain(FanLaw(c), system)).flows["b0"] for c in (curve, curve.at(0.8, 1.0))
    )
    # own closed form and root finder (flow.md 6), strength A; a table of 201 points
    assert full == pytest.approx(0.1854069, rel=1e-5)
    assert slow / full == pytest.approx(0.76845, rel=1e-4)


def test_drops_of_filter_and_ducts_add_up() -> None:
    solution = solve_network(chain(PARABOLA, resistance(600.0), resistance(0.0, 2000.0)))
    # own closed form and root finder (flow.md 6), strength A
    assert solution.drops["b1"] == pytest.approx(111.244, rel=1e-5)
    assert solution.drops["b2"] == pytest.approx(68.751, rel=1e-5)


def test_sealed_box_sits_at_shut_off_pressure() -> None:
    network = Network({"room": 0.0}, (Branch("fan", "room", "box", straight_fan(60.0, 0.282)),))
    solution = solve_network(network)
    # law of nature; field.md F17
    assert solution.pressures["box"] == pytest.approx(60.0, rel=1e-12)
    assert solution.flows["fan"] == pytest.approx(0.0, abs=1e-12)


def test_all_fans_off_gives_no_flow() -> None:
    stopped = FanLaw(FanCurve((0.0, 0.3), (300.0, 0.0), False).at(0.0, 1.0))
    network = Network(
        {"room": 0.0},
        (
            Branch("supply", "room", "box", stopped),
            Branch("front", "box", "room", opening(0.1, 0.6)),
            Branch("plate", "box", "plenum", resistance(0.0, 900.0)),
            Branch("exhaust", "plenum", "room", stopped),
        ),
    )
    solution = solve_network(network)
    assert max(abs(q) for q in solution.flows.values()) <= 1e-12
    assert max(abs(p) for p in solution.pressures.values()) <= 1e-12


def test_air_at_rest_from_a_running_start_comes_to_rest() -> None:
    running = solve_network(chain(straight_fan(100.0, 0.2), resistance(0.0, 500.0)))
    still = solve_network(chain(resistance(0.0, 20.0), resistance(0.0, 500.0)), start=running)
    assert abs(still.flows["b0"]) <= 1e-11


def test_closed_branches_are_taken_out() -> None:
    base = chain(straight_fan(100.0, 0.2), resistance(0.0, 500.0))
    closed = Branch("cap", "n1", "room", Closed())
    with_cap = Network(base.fixed, (*base.branches, closed))
    solution = solve_network(with_cap)
    assert solution.flows["cap"] == 0.0
    assert solution.drops["cap"] == solution.pressures["n1"]
    assert solution.flows["b0"] == pytest.approx(solve_network(base).flows["b0"], rel=1e-13)


def test_isolated_nodes_are_named_and_have_no_pressure() -> None:
    network = Network(
        {"room": 0.0},
        (
            Branch("fan", "room", "box", straight_fan(60.0, 0.1)),
            Branch("slit", "tray", "pipe", resistance(10.0)),
            Branch("lid", "box", "tray", Closed()),
        ),
    )
    solution = solve_network(network)
    assert solution.isolated == ("tray", "pipe")
    assert math.isnan(solution.pressures["tray"])
    assert math.isnan(solution.drops["lid"])
    assert solution.flows["slit"] == 0.0


def test_a_loop_without_fixed_pressure_still_turns() -> None:
    network = Network(
        {},
        (
            Branch("fan", "a", "b", straight_fan(100.0, 0.1)),
            Branch("way", "b", "a", resistance(1000.0)),
        ),
    )
    solution = solve_network(network)
    # p0/(p0/q0 + R), common practice, no source
    assert solution.flows["fan"] == pytest.approx(0.05, rel=1e-12)
    assert solution.isolated == ("a", "b")


def test_given_flow_into_a_sealed_node_is_refused() -> None:
    network = Network({"room": 0.0}, (Branch("in", "room", "box", FixedFlow(0.1)),))
    with pytest.raises(RangeError, match=r"0\.1 m3/s into 'box', and no branch lets it out"):
        solve_network(network)


def test_injection_is_a_given_flow() -> None:
    way = Branch("out", "box", "room", resistance(100.0))
    injected = solve_network(Network({"room": 0.0}, (way,), {"box": 0.2}))
    given = solve_network(
        Network({"room": 0.0}, (way, Branch("in", "room", "box", FixedFlow(0.2))))
    )
    assert injected.pressures["box"] == pytest.approx(20.0, rel=1e-13)
    assert given.pressures["box"] == pytest.approx(20.0, rel=1e-13)
    assert given.flows["in"] == 0.2


def test_a_source_acts_along_its_branch() -> None:
    warm = Branch("stack", "room", "box", resistance(50.0), source=3.0)
    cold = Branch("door", "box", "room", resistance(50.0))
    solution = solve_network(Network({"room": 0.0}, (warm, cold)))
    assert solution.flows["stack"] == pytest.approx(0.03, rel=1e-13)
    assert solution.drops["stack"] == pytest.approx(1.5, rel=1e-12)


def test_warm_start_gives_the_same_solution_in_fewer_steps() -> None:
    network = chain(straight_fan(300.0, 0.3), opening(0.01, 0.6), opening(0.1, 0.6))
    cold = solve_network(network)
    warm = solve_network(network, start=cold)
    assert warm.iterations <= 1 < cold.iterations
    assert warm.pressures["n2"] == pytest.approx(cold.pressures["n2"], rel=1e-12)


def test_warm_start_from_another_network_is_no_hindrance() -> None:
    other = solve_network(chain(straight_fan(500.0, 0.01), opening(1e-4, 0.6)))
    network = chain(straight_fan(300.0, 0.3), opening(0.01, 0.6), opening(0.1, 0.6))
    solution = solve_network(network, start=other)
    assert solution.flows["b2"] == pytest.approx(solve_network(network).flows["b2"], rel=1e-12)


def test_a_tiny_drive_beside_a_large_one_is_resolved() -> None:
    network = Network(
        {"room": 0.0},
        (
            Branch("supply", "room", "box", straight_fan(2000.0, 0.3)),
            Branch("front", "box", "room", opening(20.0, 0.6)),
        ),
    )
    solution = solve_network(network)
    flow = solution.flows["front"]
    expected = 0.6 * (flow / (0.6 * 20.0)) ** 2
    assert solution.pressures["box"] < 1e-3
    # orifice law at 0.0004 Pa beside a fan of 2000 Pa (law of nature)
    assert solution.pressures["box"] == pytest.approx(expected, rel=1e-3)
    own = network.branch("front").law.drop(flow)[0]  # type: ignore[union-attr]
    assert solution.pressures["box"] == pytest.approx(own, rel=1e-11)


def test_sparse_and_dense_steps_agree() -> None:
    laws = [resistance(10.0 + k, 100.0) for k in range(200)]
    long = chain(straight_fan(500.0, 0.5), *laws)
    flow = solve_network(long).flows["b0"]
    linear = 1000.0 + sum(10.0 + k for k in range(200))
    quadratic = 100.0 * 200
    exact = (-linear + math.sqrt(linear**2 + 4 * quadratic * 500.0)) / (2 * quadratic)
    # quadratic formula, exact
    assert flow == pytest.approx(exact, rel=1e-12)


def test_dip_has_three_operating_points() -> None:
    points = fan_operating_points(chain(DIP, resistance(1500.0)), "b0")
    # common practice, no source (field.md F07): closed form on the straight pieces
    assert [p.flow for p in points] == pytest.approx([0.02857, 0.03429, 0.05115], rel=2e-4)
    assert [p.pressure for p in points] == pytest.approx([42.9, 51.4, 76.7], abs=0.05)
    assert [p.stable for p in points] == [True, False, True]


@pytest.mark.parametrize("linear", [400.0, 1000.0, 1500.0, 1700.0, 4000.0])
def test_a_dipped_fan_settles_at_a_stable_point(linear: float) -> None:
    network = chain(DIP, resistance(linear))
    flow = solve_network(network).flows["b0"]
    stable = [p.flow for p in fan_operating_points(network, "b0") if p.stable]
    assert min(abs(flow - q) for q in stable) <= 1e-9


def test_fan_against_a_shut_way_stands_still() -> None:
    network = Network({"room": 0.0}, (Branch("fan", "room", "box", DIP),))
    (point,) = fan_operating_points(network, "fan")
    assert point.flow == pytest.approx(0.0, abs=1e-12)
    assert point.pressure == pytest.approx(100.0, rel=1e-12)


def test_only_a_fan_has_operating_points() -> None:
    with pytest.raises(RangeError, match="'b1' is no fan"):
        fan_operating_points(chain(DIP, resistance(1.0)), "b1")


def test_required_pressure_is_what_the_rest_takes() -> None:
    network = chain(straight_fan(1.0, 1.0), resistance(10.0), resistance(0.0, 50.0))
    assert required_pressure(network, "b0", 0.2) == pytest.approx(4.0, rel=1e-13)


def test_validity_names_the_branch() -> None:
    network = chain(straight_fan(100.0, 0.1), opening(1e-5, 0.6))
    flow = solve_network(network)
    assert network_validity(network, flow) == ()
    slow = chain(straight_fan(1e-3, 0.1), opening(1e-6, 0.6))
    (message,) = network_validity(slow, solve_network(slow))
    assert message.startswith("b1: ")


@dataclass(frozen=True)
class Broken:
    """A law that is not a number beyond a point."""

    def drop(self, flow: float) -> tuple[float, float]:
        """Return nan above 1 m3/s."""
        return (flow, 1.0) if flow < 1.0 else (math.nan, math.nan)

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing."""
        return ()


def test_failure_names_the_worst_branch() -> None:
    network = Network(
        {"room": 0.0, "main": 5.0},
        (
            Branch("in", "main", "box", resistance(1.0)),
            Branch("bad", "box", "room", Broken()),
        ),
    )
    with pytest.raises(ConvergenceError, match=r"worst branch 'bad' \(box to room\)"):
        solve_network(network)
