"""The front opening: sign, profile, margins."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from benches import BENCH, HOOD, TRAY, bench
from reference_data import rows

from flowsim.chamber.velocity import cell_velocity
from flowsim.simulate.run import run_case


@pytest.mark.parametrize("surplus", [0.03, 0.05, 0.08])
def test_front_flow_is_supply_less_exhaust(surplus: float) -> None:
    """Continuity holds whatever the openings' law does."""
    # common practice, no source (field.md F33)
    result = run_case(bench(exhaust={"flow": 0.26 - surplus}))
    assert result["front_outflow"] == pytest.approx(surplus, rel=1e-10)
    assert result["front_velocity_mean"] == pytest.approx(surplus / (1.2 * 0.16), rel=1e-10)


def free_streamline(ratio: np.ndarray) -> np.ndarray:
    """Return C(xi) as printed, written out here once more."""
    root = np.sqrt(ratio)
    turning = 2.0 * (1.0 + ratio) / (1.0 - ratio) + root * np.log((1.0 + root) / (1.0 - root))
    return np.pi / (np.pi * np.sqrt(1.0 - ratio) + turning)


def test_each_station_obeys_the_free_streamline_law() -> None:
    """Velocity: v = C(q/E) sqrt(2 E/rho) at every station, with its own q."""
    # own free-streamline solution, slot in a wall (numerics.md 4); 0.611 = Kirchhoff's slit
    result = run_case(bench(room={"relative_humidity": 0.0}))
    front = result.openings[0]
    density = 101325.0 / (287.05 * 293.15)
    law = free_streamline(front.crossflow / front.drive) * np.sqrt(2.0 * front.drive / density)
    assert front.velocity == pytest.approx(law, rel=1e-3)


def test_passing_air_is_that_of_the_cells_behind_the_opening() -> None:
    """Q from the flow field by plain averages of cells, without the wall's extrapolation."""
    result = run_case(bench(numerics={"cells": [52, 52, 64], "fidelity": "volume"}))
    field, front = result.field, result.openings[0]
    assert field is not None
    across, _, up = cell_velocity(field)
    x, _, z = field.grid.centres
    low = z < 0.16
    window = (x > 0.65 - 0.08) & (x < 0.65 + 0.08)
    means = [part[window][:, :2][:, :, low].mean(axis=(0, 2)) for part in (across, up)]
    speeds = [1.5 * mean[0] - 0.5 * mean[1] for mean in means]
    passing = 0.5 * 1.199 * (speeds[0] ** 2 + speeds[1] ** 2)
    middle = np.argmin(np.abs(front.position - 0.65))
    assert front.crossflow[middle] == pytest.approx(passing, rel=0.05)


def test_front_neither_blows_nor_draws_where_the_static_pressure_is_zero() -> None:
    """Neutral is E = q: both signs appear on either side of it."""
    # numerics.md 4: neutral where the chamber's static pressure is the room's
    for exhaust in (0.2595, 0.26, 0.2605):
        front = run_case(bench(exhaust={"flow": exhaust})).openings[0]
        static = front.drive - front.crossflow
        assert np.array_equal(np.sign(front.velocity), np.sign(static))
        slow = np.abs(front.velocity) < 2e-3
        assert np.all(np.abs(static[slow]) < 0.01 * front.drive[slow])
        assert front.velocity.min() < 0.0 < front.velocity.max()


@pytest.mark.parametrize("fidelity", ["stacked", "volume"])
def test_front_converges_when_all_cells_shrink(fidelity: str) -> None:
    """Passing air, margin and profile settle, at the ends of the opening too."""
    # numerics.md 4: largest cell values grow without limit there, the means must not
    found = []
    names = ("balance_margin", "front_velocity_min", "front_velocity_max", "crossflow_ratio")
    for cells in ([20, 10, 12], [40, 20, 24], [80, 40, 48], [160, 80, 96]):
        result = run_case(bench(numerics={"cells": cells, "fidelity": fidelity}), names)
        found.append(np.array([result[name] for name in names]))
    steps = [np.abs(b / a - 1.0).max() for a, b in pairwise(found)]
    assert steps[-1] < 0.02
    assert steps[-1] < steps[0]


def test_tray_leaves_the_front_converging() -> None:
    """Also beside a solid, where the stacked sections step."""
    margins = []
    for cells in ([40, 20, 24], [80, 40, 48]):
        result = run_case(
            bench(compartments=[TRAY], numerics={"cells": cells, "fidelity": "volume"})
        )
        margins.append(result["balance_margin"])
    assert margins[1] == pytest.approx(margins[0], rel=0.02)


@pytest.mark.parametrize("row", rows("flow_twoway.csv"))
def test_two_way_exchange_of_a_warm_box(row: dict[str, str]) -> None:
    """Brown & Solvason's orifice model through a case at fidelity network."""
    # Brown & Solvason 1962 (flow_twoway.csv), strength A; 200 layers: 0.2 %
    width, height = float(row["width_m"]), float(row["height_m"])
    case = bench(
        HOOD,
        supply=None,
        room={"temperature": 273.15 + float(row["t_o_C"]), "relative_humidity": 0.0},
        chamber={
            "width": 1.5,
            "depth": 1.0,
            "height": 2.5,
            "temperature": 273.15 + float(row["t_i_C"]),
        },
        openings=[
            {
                "label": "door",
                "wall": "front",
                "offset": 0.1,
                "bottom": 0.0,
                "width": width,
                "height": height,
                "discharge_coefficient": float(row["Cd"]),
            }
        ],
        numerics={"fidelity": "network"},
    )
    result = run_case(case)
    assert result["front_in_flow"] == pytest.approx(float(row["q_in_m3_s"]), rel=3e-3)
    block = float(row["q_one_way_block_m3_s"])
    assert result["blocking_flow"] == pytest.approx(block, rel=1e-3)
    layers = result.openings[0].layer_velocity[0]
    heights = result.openings[0].layer_height
    neutral = heights[np.argmax(layers > 0.0)]
    assert neutral == pytest.approx(float(row["neutral_height_m"]), abs=height / 150)


def test_front_pressure_is_tenths_of_a_pascal_while_the_plenum_is_measurable() -> None:
    """No phone barometer (1 Pa) shows the front; it does show the plenum."""
    # common practice, no source
    result = run_case(bench())
    assert result["chamber_pressure"] is not None
    assert result["plenum_pressure_mean"] is not None
    assert 0.05 < result["chamber_pressure"] < 1.0
    assert result["plenum_pressure_mean"] < -10.0


def test_small_drift_of_both_fans_moves_the_front_much() -> None:
    """At 10 % surplus, 5 % on each fan (as independent drifts) moves the front by some 70 %."""

    # common practice, no source
    def front(supply: float, exhaust: float) -> float:
        data = {**BENCH["supply"], "flow": supply}
        number = run_case(bench({**BENCH, "supply": data}, exhaust={"flow": exhaust}))
        mean = number["front_velocity_mean"]
        assert mean is not None
        return mean

    still = front(0.26, 0.234)
    moves = (front(0.26 * 1.05, 0.234) - still, front(0.26, 0.234 * 0.95) - still)
    assert float(np.hypot(*moves)) / still == pytest.approx(0.70, abs=0.05)


def _turned(**parts: Any) -> bool:
    """Return whether any part of a front draws in."""
    share = run_case(bench(**parts))["front_inflow_share"]
    assert share is not None
    return share > 0.0


@pytest.mark.parametrize("exhaust", [0.20, 0.22])
def test_balance_margin_is_the_drift_that_turns_the_first_station(exhaust: float) -> None:
    """By brute force: the supply turned down, the exhaust turned up, the least of both."""
    margin = run_case(bench(exhaust={"flow": exhaust}))["balance_margin"]
    assert margin is not None

    def supply_turns(drift: float) -> bool:
        less = {**BENCH["supply"], "flow": 0.26 * (1.0 - drift)}
        return _turned(base={**BENCH, "supply": less}, exhaust={"flow": exhaust})

    def exhaust_turns(drift: float) -> bool:
        return _turned(exhaust={"flow": exhaust * (1.0 + drift)})

    assert not supply_turns(0.97 * margin)
    assert not exhaust_turns(0.97 * margin)
    assert supply_turns(1.03 * margin) or exhaust_turns(1.03 * margin)


def test_balance_margin_of_an_inward_front() -> None:
    """By brute force where the front draws in: never too large, at most 15 % too small."""
    margin = run_case(bench(exhaust={"flow": 0.32}))["balance_margin"]
    assert margin is not None

    def outward(supply: float, exhaust: float) -> bool:
        more = {**BENCH["supply"], "flow": supply}
        result = run_case(bench({**BENCH, "supply": more}, exhaust={"flow": exhaust}))
        share = result["front_inflow_share"]
        assert share is not None
        return share < 1.0

    assert not outward(0.26 * (1.0 + 0.96 * margin), 0.32)
    assert not outward(0.26, 0.32 * (1.0 - 0.96 * margin))
    both = (1.0 + 1.15 * margin, 1.0 - 1.15 * margin)
    assert outward(0.26 * both[0], 0.32) or outward(0.26, 0.32 * both[1])


def test_hood_without_exhaust_never_turns_by_its_supply() -> None:
    """Whatever is blown in goes out: the margin is the whole supply."""
    assert run_case(bench(HOOD))["balance_margin"] == pytest.approx(1.0, abs=1e-3)


def test_opening_that_ends_on_a_cell_edge_has_no_sliver_of_a_station() -> None:
    """0.05 + 0.9 is a hair above 0.95: round-off must not make a station of it."""
    opening = {**BENCH["openings"][0], "offset": 0.05, "width": 0.9}
    result = run_case(
        bench(
            HOOD,
            openings=[opening],
            chamber={"width": 1.0},
            supply={
                "flow": 0.2,
                "filter": {**BENCH["supply"]["filter"], "width": 0.9},
            },
            numerics={"cells": [20, 8, 10]},
        )
    )
    front = result.openings[0]
    assert front.position.size == 18
    assert front.station_width == pytest.approx(np.full(18, 0.05))
