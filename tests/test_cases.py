"""Every shipped case runs, closes, and tells its story."""

from __future__ import annotations

import pytest
from case_runs import FILES, FOLDER, figure, result_of

from flowsim.case.read import read_case
from flowsim.simulate.run import run_case

SHOW_A_MISTAKE = (
    "concentrated_acid_open_tray.toml",
    "mirror_bench_front_240.toml",
    "mirror_bench_open_tray.toml",
    "mirror_bench_strong_exhaust.toml",
    "mirror_bench_weak_exhaust.toml",
)
"""Cases that miss a limit: that is what they are there to show."""


def test_cases_are_there() -> None:
    """The scenario's cases ship with the project."""
    assert len(FILES) >= 15
    assert "mirror_bench.toml" in FILES


@pytest.mark.parametrize("name", FILES)
def test_case_opens_with_its_question(name: str) -> None:
    """A reader learns at once what the case is for."""
    comments = [
        line
        for line in (FOLDER / name).read_text(encoding="utf-8").splitlines()[:6]
        if line.startswith("# ")
    ]
    assert any("?" in line for line in comments)
    assert "invented" in (FOLDER / name).read_text(encoding="utf-8").lower()


@pytest.mark.parametrize("name", FILES)
def test_case_closes_its_balances(name: str) -> None:
    """Relative mass balance at most 1e-10 everywhere."""
    assert figure(name, "mass_balance_error") <= 1e-10
    assert result_of(name).residuals["coupling"] <= 1e-8


@pytest.mark.parametrize("name", FILES)
def test_every_verdict_of_a_shipped_case_is_met(name: str) -> None:
    """The scenario shows a bench with a working window."""
    states = {check.name: check.state for check in result_of(name).checks}
    assert states
    if name not in SHOW_A_MISTAKE:
        assert set(states.values()) == {"met"}


def test_side_port_draws_ten_to_twenty_percent_unevenly() -> None:
    """The main story: without care the port at one end is felt."""
    assert 1.10 < figure("mirror_bench.toml", "draw_ratio") < 1.20


def test_two_ports_and_a_tube_even_the_draw() -> None:
    """Both cures work, the tube at the price of suction."""
    side = figure("mirror_bench.toml", "draw_ratio") - 1.0
    assert figure("mirror_bench_both_ends.toml", "draw_ratio") - 1.0 < 0.5 * side
    assert figure("mirror_bench_tube.toml", "draw_ratio") - 1.0 < 0.5 * side
    paid = -result_of("mirror_bench_tube.toml").nodes["exhaust inlet"]
    assert paid > -result_of("mirror_bench.toml").nodes["exhaust inlet"] + 20.0


def test_strip_tray_lies_several_pascal_below_the_chamber() -> None:
    """A barometer that resolves 1 Pa can show it."""
    assert figure("mirror_bench.toml", "compartment_pressure") < -3.0


def test_front_blows_out_by_tenths_of_a_pascal() -> None:
    """No gauge at hand shows the front's drive."""
    # common practice, no source
    assert 0.0 < figure("mirror_bench.toml", "chamber_pressure") < 1.0
    assert figure("mirror_bench.toml", "front_inflow_share") == 0.0


def test_higher_front_blows_slower() -> None:
    """The same surplus through more area."""
    speeds = [
        figure(f"mirror_bench_front_{height}.toml", "front_velocity_mean")
        for height in (120, 160, 240)
    ]
    assert speeds == sorted(speeds, reverse=True)


def test_hood_without_exhaust_sends_everything_to_the_person() -> None:
    """All the filter blows in leaves by the front."""
    # common practice, no source (field.md F38)
    supply = figure("collimator_hood.toml", "supply_flow")
    assert figure("collimator_hood.toml", "front_outflow") == pytest.approx(supply, rel=0.005)
    assert figure("collimator_hood.toml", "front_inflow_share") == 0.0


def test_new_filter_gives_more_air_than_the_loaded_one() -> None:
    """What loading costs."""
    loaded = figure("loaded_filter_bench.toml", "supply_flow")
    new = run_case(read_case(FOLDER / "loaded_filter_bench.toml", {"supply.filter.loading": "1"}))
    assert new["supply_flow"] is not None
    assert 1.3 < new["supply_flow"] / loaded < 1.8
