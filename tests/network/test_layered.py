from __future__ import annotations

import math

import numpy as np
import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.network.graph import Branch, FixedFlow, Network
from flowsim.network.inverse import drop_at_flow
from flowsim.network.layered import LayeredOpening
from flowsim.network.solve import solve_network

LAYERS = 4000
GRAVITY = 9.81


def plain(area: float = 0.1, crossflow: float = 0.0) -> LayeredOpening:
    """Return one patch in still or passing air of one density."""
    return LayeredOpening(
        np.array([[area]]), np.array([[crossflow]]), np.zeros(1), 0.611, 1.2, 1.2, 1.2
    )


def warm(row: dict[str, str]) -> LayeredOpening:
    """Return the opening of a row of the two-way table, seen from the warm side."""
    width, height, coefficient = (float(row[key]) for key in ("width_m", "height_m", "Cd"))
    inside, outside = (101325 / (287.05 * (273.15 + float(row[key]))) for key in ("t_i_C", "t_o_C"))
    z = (np.arange(LAYERS) + 0.5) * height / LAYERS
    area = np.full((1, LAYERS), width * height / LAYERS)
    head = (outside - inside) * GRAVITY * z
    return LayeredOpening(
        area, np.zeros((1, 1)), head, coefficient, inside, outside, outside, transition_speed=1e-5
    )


TWO_WAY = rows("flow_twoway.csv")


@pytest.mark.parametrize("row", TWO_WAY)
def test_exchange_without_net_flow_meets_its_table(row: dict[str, str]) -> None:
    law = warm(row)
    network = Network({"room": 0.0}, (Branch("front", "box", "room", law),))
    drop = solve_network(network).pressures["box"]
    velocity = law.velocities(drop)
    entering = float(law.area[velocity < 0] @ -velocity[velocity < 0])
    neutral = -drop / law.head[-1] * (LAYERS - 0.5) / LAYERS * float(row["height_m"])
    # closed form of Brown & Solvason's orifice model, quadrature (flow_twoway.csv), strength A
    assert entering == pytest.approx(float(row["q_in_m3_s"]), rel=2e-4)
    assert law.density_in * entering == pytest.approx(
        float(row["mass_flow_each_way_kg_s"]), rel=2e-4
    )
    assert neutral == pytest.approx(float(row["neutral_height_m"]), rel=2e-4)


@pytest.mark.parametrize("row", TWO_WAY)
def test_blocking_flow_meets_its_table(row: dict[str, str]) -> None:
    law = warm(row)
    blocking = -law.flow(law.neutral_drop()[0])[0]
    # closed form (flow_twoway.csv), strength A
    assert blocking == pytest.approx(float(row["q_one_way_block_m3_s"]), rel=2e-4)


def test_blocking_flow_pushed_through_a_network_stops_the_outflow() -> None:
    law = warm(TWO_WAY[2])
    push = 1.001 * float(TWO_WAY[2]["q_one_way_block_m3_s"])
    branches = (Branch("front", "box", "room", law), Branch("out", "box", "room", FixedFlow(push)))
    solution = solve_network(Network({"room": 0.0}, branches))
    velocity = law.velocities(solution.pressures["box"])
    # forced inflow that just stops outflow (flow.md 9), strength A
    assert velocity.max() <= 0
    assert velocity[0, -1] > 0.1 * velocity.min()


def test_still_opening_is_the_orifice_law_both_ways() -> None:
    expected = 0.611 * 0.1 * math.sqrt(2 * 0.3 / 1.2)
    assert plain().flow(0.3)[0] == pytest.approx(expected, rel=1e-4)
    assert plain().flow(-0.3)[0] == pytest.approx(-expected, rel=1e-4)


@pytest.mark.parametrize(
    ("ratio", "coefficient"), [(0.0, 0.6110), (0.25, 0.4758), (0.5, 0.3318), (0.75, 0.1760)]
)
def test_crossflow_takes_from_the_outflow(ratio: float, coefficient: float) -> None:
    flow = plain(1.0, 0.2 * ratio).flow(0.2)[0]
    # own free-streamline solution, C(xi) of a slot in a wall; Kirchhoff's slit at 0
    assert flow == pytest.approx(coefficient * math.sqrt(2 * 0.2 / 1.2), rel=3e-4)


def test_neutral_where_total_pressure_equals_crossflow() -> None:
    law = plain(crossflow=0.05)
    assert law.neutral_drop() == (0.05, 0.05)
    assert law.flow(0.05)[0] == 0.0
    assert law.flow(0.04)[0] < 0 < law.flow(0.06)[0]


def test_some_stations_blow_and_some_draw() -> None:
    crossflow = np.array([[0.02], [0.06], [0.10]])
    law = LayeredOpening(np.full((3, 1), 0.03), crossflow, np.zeros(1), 0.611, 1.2, 1.2, 1.2)
    velocity = law.velocities(0.06)[:, 0]
    assert velocity[0] > 0 == velocity[1] > velocity[2]


@pytest.mark.parametrize("crossflow", [0.0, 0.03])
def test_slope_is_the_derivative_and_the_law_rises(crossflow: float) -> None:
    area = np.full((2, 3), 0.01)
    law = LayeredOpening(
        area, np.array([[crossflow], [0.0]]), np.array([0.0, 0.02, 0.04]), 0.6, 1.1, 1.2, 1.2
    )
    drops = np.linspace(-0.2, 0.2, 801) + 1.3e-5
    flows = np.array([law.flow(float(d)) for d in drops])
    assert (np.diff(flows[:, 0]) > 0).all()
    step = 1e-8
    for drop in (-0.1505, -0.0405, 0.0095, 0.0705, 0.1805):
        difference = (law.flow(drop + step)[0] - law.flow(drop - step)[0]) / (2 * step)
        assert law.flow(drop)[1] == pytest.approx(difference, rel=1e-4)


def test_inverse_finds_the_drop_across_the_kink() -> None:
    law = plain(crossflow=0.05)
    for flow in (-0.2, -1e-6, 0.0, 1e-6, 0.05, 3.0):
        drop = law.drop_at(flow)
        assert law.flow(drop)[0] == pytest.approx(flow, rel=1e-12, abs=1e-15)
        far, slope = drop_at_flow(law, flow, guess=500.0)
        assert far == pytest.approx(drop, rel=1e-12, abs=1e-14)
        assert slope > 0


def test_sign_only_is_said_above_half_crossflow() -> None:
    law = plain(crossflow=0.05)
    assert law.validity_at(0.2) == ()
    assert "trust the sign" in law.validity_at(0.08)[0]
    assert law.validity(law.flow(0.08)[0]) == law.validity_at(0.08)


@pytest.mark.parametrize(
    ("message", "change"),
    [
        (r"do not fit head \(2,\)", {"head": np.zeros(2)}),
        (r"crossflow \(3, 1\)", {"crossflow": np.zeros((3, 1))}),
        ("must form a table", {"area": np.zeros((1, 1))}),
        ("cannot be negative", {"crossflow": np.array([[-0.1]])}),
        ("must be positive", {"density_in": 0.0}),
    ],
)
def test_impossible_openings_are_refused(message: str, change: dict[str, object]) -> None:
    values: dict[str, object] = {
        "area": np.ones((1, 1)),
        "crossflow": np.zeros((1, 1)),
        "head": np.zeros(1),
        "discharge_coefficient": 0.6,
        "density_out": 1.2,
        "density_in": 1.2,
        "density_reference": 1.2,
    }
    with pytest.raises(RangeError, match=message):
        LayeredOpening(**{**values, **change})  # type: ignore[arg-type]
