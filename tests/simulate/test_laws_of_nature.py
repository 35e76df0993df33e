"""What every bench must obey, whatever its figures."""

from __future__ import annotations

import numpy as np
import pytest
from benches import BENCH, HOOD, TRAY, bench

from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case


def value(result: Result, name: str) -> float:
    """Return a key figure that must be there."""
    number = result[name]
    assert number is not None
    return number


def test_flows_close_in_network_plenum_and_chamber() -> None:
    """Air is neither made nor lost anywhere."""
    result = run_case(bench(compartments=[TRAY]))
    assert value(result, "mass_balance_error") <= 1e-10
    out = value(result, "front_outflow") + value(result, "exhaust_flow")
    assert out == pytest.approx(value(result, "supply_flow"), rel=1e-10)


def test_plate_and_tray_pass_what_the_exhaust_draws() -> None:
    """The field of the plate carries the flow of the network."""
    result = run_case(bench(compartments=[TRAY]))
    plate = result.plate
    assert plate is not None
    cell = 1.3 * 0.65 / plate.velocity.size
    through = float(np.nansum(plate.velocity * plate.open_share)) * cell
    under = next(b.flow for b in result.branches if b.name == "plate under tray")
    assert through + under == pytest.approx(0.21, rel=1e-9)


@pytest.mark.parametrize("fidelity", ["stacked", "volume"])
def test_mirrored_bench_gives_mirrored_flow(fidelity: str) -> None:
    """Left and right are the same to physics."""
    tray = {**TRAY, "offset_x": 1.3 - 0.2 - 0.4}
    left = {"ports": [{"label": "left", "wall": "left", "width": 0.4, "height": 0.09}]}
    numerics = {"fidelity": fidelity, "tolerance": 1e-11}
    one = run_case(bench(compartments=[TRAY], numerics=numerics))
    two = run_case(bench(compartments=[tray], plenum=left, numerics=numerics))
    for name in ("front_velocity_min", "draw_ratio", "compartment_pressure", "downflow_rsd"):
        assert value(one, name) == pytest.approx(value(two, name), rel=1e-7)
    assert one.openings[0].velocity == pytest.approx(two.openings[0].velocity[::-1], rel=1e-7)
    assert one.plate is not None
    assert two.plate is not None
    mirrored = two.plate.velocity[::-1]
    assert np.allclose(one.plate.velocity, mirrored, rtol=1e-7, equal_nan=True)


def _random_bench(seed: int) -> Case:
    """Return a plausible bench drawn at random; the plenum does not choke."""
    draw = np.random.default_rng(seed)
    width, depth = draw.uniform(0.5, 2.0), draw.uniform(0.4, 0.9)
    height = draw.uniform(0.4, 1.0)
    supply = width * depth * draw.uniform(0.15, 0.5)
    share = draw.uniform(0.01, 0.06)
    plenum = max(draw.uniform(0.05, 0.2), 1.2 * share * width)
    parts = {
        "chamber": {"width": width, "depth": depth, "height": height},
        "supply": {
            "flow": supply,
            "filter": {
                "width": 0.95 * width,
                "depth": 0.9 * depth,
                "rated_velocity": 0.45,
                "rated_drop": 120.0,
            },
        },
        "openings": [
            {
                "label": "front",
                "wall": "front",
                "offset": 0.05 * width,
                "bottom": 0.0,
                "width": 0.9 * width,
                "height": draw.uniform(0.08, 0.3),
            }
        ],
        "work_surface": {
            "thickness": draw.uniform(0.002, 0.012),
            "hole_diameter": draw.uniform(0.003, 0.01),
            "free_area_ratio": share,
        },
        "plenum": {
            "height": plenum,
            "ports": [
                {
                    "label": "port",
                    "wall": str(draw.choice(["left", "right", "back"])),
                    "width": 0.5 * depth,
                    "height": 0.8 * plenum,
                }
            ],
        },
        "exhaust": {"flow": supply * draw.uniform(0.5, 1.3)},
        "numerics": {"cells": [16, 8, 10]},
    }
    if draw.random() < 0.3:
        parts["chamber"]["temperature"] = 293.15 + draw.uniform(-3.0, 8.0)
    return bench(**parts)


@pytest.mark.parametrize("block", range(10))
def test_random_plausible_benches_converge_from_cold(block: int) -> None:
    """200 benches in all, M below 4 (seeded)."""
    for seed in range(20 * block, 20 * block + 20):
        try:
            result = run_case(_random_bench(seed))
        except ConvergenceError as error:
            pytest.fail(f"seed {seed}: {error}")
        assert value(result, "choking_number") < 4.0
        assert value(result, "mass_balance_error") <= 1e-10


@pytest.mark.parametrize("fidelity", ["network", "section", "stacked", "volume"])
def test_supply_without_exhaust_blows_out_everywhere(fidelity: str) -> None:
    """The chamber lies above the room and all air leaves by the front."""
    result = run_case(bench(HOOD, numerics={"fidelity": fidelity}))
    assert value(result, "chamber_pressure") > 0.0
    assert value(result, "front_inflow_share") == 0.0
    assert value(result, "front_velocity_min") > 0.0
    assert value(result, "front_outflow") == pytest.approx(0.26, rel=1e-10)


def test_exhaust_without_supply_draws_in_everywhere() -> None:
    """The chamber lies below the room."""
    result = run_case(bench(supply=None))
    assert value(result, "chamber_pressure") < 0.0
    assert value(result, "front_velocity_max") < 0.0
    assert value(result, "front_outflow") == pytest.approx(-0.21, rel=1e-10)
    assert any("draws in" in text for text in result.warnings)


def test_nothing_moves_when_nothing_drives() -> None:
    """All fans off, one temperature."""
    still = {"flow": 0.21, "running": False}
    supply = {**BENCH["supply"], "running": False}
    result = run_case(bench(supply=supply, exhaust=still))
    assert value(result, "front_outflow") == pytest.approx(0.0, abs=1e-9)
    assert value(result, "chamber_pressure") == pytest.approx(0.0, abs=1e-9)
    assert result["balance_margin"] is None


def test_warm_chamber_blows_out_at_the_top_and_draws_in_at_the_bottom() -> None:
    """No fans: the stack effect alone moves air both ways."""
    result = run_case(
        bench(HOOD, supply=None, chamber={"temperature": 303.15}, numerics={"cells": [8, 8, 30]})
    )
    layers = result.openings[0].layer_velocity
    assert (layers[:, -1] > 0.0).all()
    assert (layers[:, 0] < 0.0).all()
    assert value(result, "front_in_flow") > 0.0


def test_even_draw_where_the_plate_drops_far_more_than_the_plenum() -> None:
    """The far limit: nearly closed plate over a high plenum (common practice, no source)."""
    plate = {"thickness": 0.006, "hole_diameter": 0.006, "free_area_ratio": 0.004}
    result = run_case(bench(work_surface=plate, plenum={"height": 0.3}))
    assert value(result, "draw_ratio") == pytest.approx(1.0, abs=1e-3)


def test_smaller_holes_at_the_same_count_never_draw_less_evenly() -> None:
    """Same total flow, same number of holes."""
    ratios = []
    for diameter in (0.010, 0.008, 0.006, 0.005):
        plate = {
            "thickness": 0.012,
            "hole_diameter": diameter,
            "hole_count": 650,
            "free_area_ratio": None,
        }
        plate = {key: item for key, item in plate.items() if item is not None}
        data = {**BENCH, "work_surface": plate}
        ratios.append(value(run_case(bench(data)), "draw_ratio"))
    assert ratios == sorted(ratios, reverse=True)
    assert ratios[0] > ratios[-1] + 0.01


def test_port_at_both_ends_draws_more_evenly_than_at_one() -> None:
    """Half the way for the air, a quarter of the momentum."""
    ports = [
        {"label": side, "wall": side, "width": 0.4, "height": 0.09} for side in ("left", "right")
    ]
    one = run_case(bench())
    two = run_case(bench(plenum={"ports": ports}))
    assert value(two, "draw_ratio") - 1.0 < 0.5 * (value(one, "draw_ratio") - 1.0)


def test_more_loaded_filter_never_gives_more_supply() -> None:
    """A fan against a growing resistance."""
    flows = []
    for loading in (1.0, 1.5, 2.0, 3.0):
        media = {**BENCH["supply"]["filter"], "loading": loading}
        supply = {"fan": {"shut_off_pressure": 300.0, "free_flow": 0.45}, "filter": media}
        flows.append(value(run_case(bench({**BENCH, "supply": supply})), "supply_flow"))
    assert flows == sorted(flows, reverse=True)


def test_sealed_box_sits_at_the_shut_off_pressure_of_its_fan() -> None:
    """Nothing flows, and nothing breaks."""
    supply = {
        "fan": {"shut_off_pressure": 120.0, "free_flow": 0.2, "rated_density": 1.0},
        "filter": BENCH["supply"]["filter"],
    }
    shut = [{**BENCH["openings"][0], "state": "shut"}]
    dry = {"relative_humidity": 0.0}
    result = run_case(bench({**HOOD, "supply": supply, "openings": shut}, room=dry))
    assert value(result, "supply_flow") == pytest.approx(0.0, abs=1e-12)
    density = 101325.0 / (287.05 * 293.15)
    assert value(result, "chamber_pressure") == pytest.approx(120.0 * density, rel=1e-5)


def test_nearly_sealed_box_lies_just_below_shut_off() -> None:
    """A pinhole leaks a little."""
    supply = {
        "fan": {"shut_off_pressure": 120.0, "free_flow": 0.2},
        "filter": BENCH["supply"]["filter"],
    }
    covered = [{**BENCH["openings"][0], "state": "covered", "cover_gap": 2e-5}]
    result = run_case(bench({**HOOD, "supply": supply, "openings": covered}))
    assert 0.0 < value(result, "leak_flow") < 1e-3
    assert 100.0 < value(result, "chamber_pressure") < 121.0
