"""The tray compartment: pressure, slit, bypass."""

from __future__ import annotations

from math import pi
from typing import Any

import pytest
from benches import TRAY, bench

from flowsim.physics.air import air_state
from flowsim.physics.perforated_plate import PerforatedPlate
from flowsim.plenum.gap import GapUnder, solve_gap
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

AIR = air_state(293.15, 101325.0, 0.5)
HOLE = 0.25 * pi * 0.008**2


def plate(share: float, thickness: float, diameter: float) -> PerforatedPlate:
    """Return a plate in the bench's air."""
    return PerforatedPlate(share, thickness, diameter, AIR.density, AIR.viscosity)


def tray(**parts: Any) -> dict[str, Any]:
    """Return the tray with parts changed."""
    data = dict(TRAY)
    for name, part in parts.items():
        data[name] = {**data[name], **part} if isinstance(part, dict) else part
    return data


def run(*trays: dict[str, Any], **parts: Any) -> Result:
    """Run the bench with trays."""
    return run_case(bench(compartments=list(trays), **parts))


def test_wider_gap_under_the_box_robs_the_tray_of_its_suction() -> None:
    """The bypass grows and the compartment's pressure rises towards the chamber's."""
    results = [run(tray(floor={"gap": gap})) for gap in (0.002, 0.003, 0.004, 0.006)]
    pressures = [result["compartment_pressure"] for result in results]
    shares = [result["bypass_share"] for result in results]
    assert pressures == sorted(pressures)
    assert shares == sorted(shares)


def test_sealed_foot_has_no_bypass() -> None:
    """Nothing comes in round an edge that is sealed."""
    result = run(tray(floor={"gap": 0.0}))
    assert result["bypass_share"] == 0.0
    assert result["compartment_pressure"] < run(tray())["compartment_pressure"]


def test_gap_narrower_than_a_quarter_of_its_holes_chokes_the_tray() -> None:
    """The air turns sharply under the floor holes: less draw, said loudly."""
    narrow, free = run(tray(floor={"gap": 0.0005})), run(tray())
    assert narrow.compartments[0].flow < 0.7 * free.compartments[0].flow
    assert any("quarter of their diameter" in text for text in narrow.warnings)


def test_tray_agrees_with_its_resolved_gap() -> None:
    """The network's flows are those of the gap solved on its own at the network's pressures."""
    result = run(tray(), numerics={"fidelity": "network"})
    flows = {branch.name: branch.flow for branch in result.branches}
    chamber = result.nodes["chamber"]
    below = result.nodes["plenum"] - chamber
    gap = GapUnder(
        0.4,
        0.3,
        0.002,
        plate(0.04, 0.012, 0.008),
        plate(60 * HOLE / 0.12, 0.004, 0.008),
        AIR.density,
        AIR.viscosity,
    )
    found = solve_gap(gap, result.nodes["compartment tray"] - chamber, below)
    assert flows["floor tray"] == pytest.approx(found.floor_flow, rel=1e-6)
    assert flows["edge tray"] == pytest.approx(found.edge_flow, rel=1e-6)


def test_wider_slit_takes_more_air_but_leaves_less_margin() -> None:
    """The trade of the slit."""
    # common practice, no source (field.md F21)
    results = [run(tray(slit={"height": height})) for height in (0.002, 0.005, 0.010)]
    pressures = [result["compartment_pressure"] for result in results]
    flows = [result.compartments[0].flow for result in results]
    assert flows == sorted(flows)
    assert pressures == sorted(pressures)


def test_lid_off_lets_the_pressure_go() -> None:
    """Without its lid the tray is part of the chamber."""
    closed, opened = run(tray()), run(tray(lid="off"))
    assert closed["compartment_pressure"] < -3.0
    assert -0.05 < opened["compartment_pressure"] < 0.0
    assert any("less than 1 Pa" in text for text in opened.warnings)


def test_blocked_floor_stops_the_tray() -> None:
    """Nothing passes and the tray sits at the chamber's pressure."""
    result = run(tray(floor={"blocked": True}))
    assert result["slit_velocity_mean"] == pytest.approx(0.0, abs=1e-9)
    assert result["compartment_pressure"] == pytest.approx(0.0, abs=1e-9)


def test_own_pipe_holds_the_tray_deeper_than_the_plate() -> None:
    """The exhaust lies below the plenum."""
    piped = tray()
    piped.pop("floor")
    piped["pipe"] = {"diameter": 0.05, "length": 1.0}
    result = run(piped)
    assert result["compartment_pressure"] < run(tray())["compartment_pressure"]
    assert result["bypass_share"] is None


def test_plain_figure_is_the_worst_of_several_trays() -> None:
    """Each tray has its own figure beside the governing one."""
    weak = tray(label="weak", offset_x=0.8, slit={"height": 0.02})
    result = run(tray(), weak)
    assert result["compartment_pressure"] == result["compartment_pressure[weak]"]
    assert result["compartment_pressure[tray]"] < result["compartment_pressure[weak]"]


def test_slowest_part_of_the_slit_is_not_faster_than_its_mean() -> None:
    """Air passing the slit takes drive away from it."""
    result = run(tray())
    assert 0.0 < result["slit_velocity_min"] <= result["slit_velocity_mean"]


@pytest.mark.parametrize("fidelity", ["network", "section", "stacked", "volume"])
def test_every_fidelity_gives_the_tray(fidelity: str) -> None:
    """The tray's pressure hardly depends on the model of the chamber."""
    result = run(tray(), numerics={"fidelity": fidelity})
    assert result["compartment_pressure"] == pytest.approx(
        run(tray())["compartment_pressure"], rel=0.15
    )
