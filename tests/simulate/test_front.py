"""The front opening: sign, profile, margins."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from benches import BENCH, HOOD, bench
from reference_data import rows

from flowsim.physics.opening import crossflow_coefficient
from flowsim.simulate.run import run_case


@pytest.mark.parametrize("surplus", [0.03, 0.05, 0.08])
def test_front_flow_is_supply_less_exhaust(surplus: float) -> None:
    """Continuity holds whatever the openings' law does."""
    # common practice, no source (field.md F33)
    result = run_case(bench(exhaust={"flow": 0.26 - surplus}))
    assert result["front_outflow"] == pytest.approx(surplus, rel=1e-10)
    assert result["front_velocity_mean"] == pytest.approx(surplus / (1.2 * 0.16), rel=1e-10)


def test_each_station_obeys_the_free_streamline_law() -> None:
    """Velocity: v = C(q/E) sqrt(2 E/rho) at every station, with its own q."""
    # own free-streamline solution, slot in a wall (numerics.md 4); 0.611 = Kirchhoff's slit
    result = run_case(bench())
    front = result.openings[0]
    density = 2.0 * front.crossflow[0] / _passing_speed(result) ** 2
    coefficient, _ = crossflow_coefficient(front.crossflow / front.drive)
    law = coefficient * np.sqrt(2.0 * front.drive / density)
    assert front.velocity == pytest.approx(law, rel=2e-3)


def _passing_speed(result: object) -> float:
    """Return the speed that belongs to the first station's q at the room's density."""
    from flowsim.physics.air import air_state

    front = result.openings[0]  # type: ignore[attr-defined]
    density = air_state(293.15, 101325.0, 0.5).density
    return float(np.sqrt(2.0 * front.crossflow[0] / density))


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


def test_strip_velocities_converge_under_refinement() -> None:
    """The profile settles as cells shrink: the strip mean does not hold the edges' peaks."""
    profiles = []
    for cells in ([13, 13, 15], [13, 26, 30], [13, 52, 60], [13, 104, 120]):
        front = run_case(bench(numerics={"cells": cells})).openings[0]
        profiles.append(front.crossflow)
    steps = [np.abs(b - a).max() for a, b in pairwise(profiles)]
    assert steps[2] < steps[0]
    assert steps[2] < 0.03 * profiles[-1].max()


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


def test_balance_margin_is_the_drift_that_turns_the_first_station() -> None:
    """Raising the exhaust by the margin brings the weakest station to rest."""
    calm = run_case(bench())
    margin = calm["balance_margin"]
    assert margin is not None
    assert margin > 0.0
    drift = margin * 0.26
    just = run_case(bench(exhaust={"flow": 0.21 + 0.97 * drift}))
    over = run_case(bench(exhaust={"flow": 0.21 + 1.05 * drift}))
    assert just["front_velocity_min"] is not None
    assert just["front_velocity_min"] > 0.0
    assert over["front_velocity_min"] is not None
    assert over["front_velocity_min"] < 0.0
    assert over["front_inflow_share"] is not None
    assert over["front_inflow_share"] > 0.0


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
