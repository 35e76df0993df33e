"""Runs that give some figures only, and runs that begin with the solution of another case."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from benches import BENCH, TRAY, bench
from dusty import HANDS, MIRROR, media

from flowsim.case.schema import Case
from flowsim.errors import RangeError
from flowsim.simulate.coupling import couple
from flowsim.simulate.layout import lay_out
from flowsim.simulate.needs import CARRIED, CLASSES, RELEASES, WORKPIECES
from flowsim.simulate.registry import FIGURES
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

SPILL: dict[str, Any] = {
    "label": "spill",
    "substance": "acetone",
    "offset_x": 0.7,
    "offset_y": 0.2,
    "width": 0.1,
    "depth": 0.1,
}
BATH: dict[str, Any] = SPILL | {"label": "bath", "compartment": "tray", "width": 0.2}
BATH = {key: value for key, value in BATH.items() if not key.startswith("offset")}
ROOM = {"volume": 40.0, "fresh_air": 0.25}
LIMITS: dict[str, Any] = {
    "draw_ratio": {"max": 1.25},
    "balance_margin": {"min": 0.05},
    "vapour_escape_share": {"max": 0.01},
    "exposure_ratio": {"max": 0.5},
    "room_air_share": {"max": 0.001},
    "iso_class": {"max": 6.0},
    "recovery_time": {"max": 30.0},
}


def asking(limits: dict[str, Any] | None = None, **parts: Any) -> Case:
    """Return a bench with a tray, two releases, a workpiece and dust."""
    stated = {
        "room": ROOM,
        "supply": media(grade="H14", leak=1e-5),
        "compartments": [TRAY],
        "releases": [SPILL, BATH],
        "workpieces": [MIRROR | {"offset_x": 0.65}, MIRROR | {"label": "blank", "offset_x": 0.9}],
        "dust": {"sources": [HANDS | {"rates": [900.0, 500.0, 5.0]}]},
        "limits": {} if limits is None else limits,
    }
    return bench(**(stated | parts))


@cache
def whole(limited: bool) -> Result:
    """Return the full run."""
    return run_case(asking(LIMITS if limited else None))


SOME = [
    {"front_velocity_min"},
    {"balance_margin", "draw_ratio", "leak_flow"},
    {"air_age_max"},
    {"recovery_time"},
    {"surface_escape_share"},
    {"surface_room_air_share", "room_air_share"},
    RELEASES,
    CLASSES,
    WORKPIECES | {"vapour_front_ppm"},
    frozenset(FIGURES),
]


@pytest.mark.parametrize("wanted", SOME, ids=lambda names: f"{min(names)}-{len(names)}")
def test_some_figures_are_those_of_the_full_run_bit_for_bit(wanted: frozenset[str]) -> None:
    """And the others are not given."""
    found, full = run_case(asking(), wanted), whole(limited=False)
    for name, item in found.quantities.items():
        plain = name.split("[", 1)[0]
        assert item.value == (full[name] if plain in wanted else None), name
    missing = set(full.quantities) - set(found.quantities)
    assert all(name.split("[", 1)[0] not in wanted for name in missing)
    assert found.transport is None
    assert found.checks == ()


def test_limits_are_judged_as_in_the_full_run_whatever_is_wanted() -> None:
    """A figure with a limit is wanted, with all that its verdict needs."""
    found, full = run_case(asking(LIMITS), {"downflow_mean"}), whole(limited=True)
    assert found.checks == full.checks
    assert {check.name.split("[", 1)[0] for check in found.checks} == set(LIMITS)
    assert found["downflow_mean"] == full["downflow_mean"]
    assert found["downflow_rsd"] is None


@pytest.mark.parametrize("name", sorted(set(LIMITS) & CARRIED))
def test_one_limit_alone_gets_the_verdict_of_the_full_run(name: str) -> None:
    """What a verdict on vapour or dust rests on is not left out."""
    alone = asking({name: LIMITS[name]})
    assert run_case(alone, ()).checks == run_case(alone).checks


def test_labels_may_be_wanted() -> None:
    """A figure of one thing brings those of its kind."""
    found = run_case(asking(), {"room_air_share[blank]"})
    assert found["room_air_share[blank]"] == whole(limited=False)["room_air_share[blank]"]
    assert found["vapour_escape_share"] is None


def test_nothing_wanted_gives_the_fields_alone() -> None:
    """The coupled field is always solved."""
    found = run_case(asking(), ())
    assert found.field is not None
    assert all(item.value is None for item in found.quantities.values())


def test_unknown_name_is_refused_with_the_nearest() -> None:
    """Nobody shall wait a night for a column of nothing."""
    with pytest.raises(RangeError, match="no key figure 'draw_rato'; did you mean 'draw_ratio'"):
        run_case(bench(), {"draw_rato"})


def test_network_alone_has_no_vapour_to_give() -> None:
    """That is said where it is wanted, and not where nobody asked."""
    case = asking(numerics={"fidelity": "network"})
    asked, other = (run_case(case, {name}) for name in ("vapour_escape_share", "draw_ratio"))
    assert asked["vapour_escape_share"] is None
    assert any("Fidelity network has no field" in text for text in asked.warnings)
    assert not any("has no field" in text for text in other.warnings)


TRAYS: dict[str, Any] = {"compartments": [TRAY]}
CHANGES: list[dict[str, Any]] = [
    {},
    {"exhaust": {"flow": 0.1}},
    {"exhaust": {"flow": 0.32}},
    {"exhaust": {"flow": 0.2595}},
    {"openings": [BENCH["openings"][0] | {"height": 0.3}]},
    {"plenum": {"height": 0.2}},
    {"chamber": {"temperature": 298.15}},
    {"numerics": {"fidelity": "volume"}},
]


@pytest.mark.parametrize("trays", [{}, TRAYS], ids=["plain", "tray"])
@pytest.mark.parametrize("parts", CHANGES, ids=str)
def test_start_from_another_case_ends_where_a_cold_one_does(
    parts: dict[str, Any], trays: dict[str, Any]
) -> None:
    """To the tolerance of the coupling over the drive."""
    start = couple(lay_out(bench(**trays)))
    layout = lay_out(bench(**(trays | parts)))
    cold = couple(layout)
    drive = abs(cold.chamber_drive)
    for other in (start, start.corrections):
        warm = couple(layout, other)
        assert warm.residual <= layout.case.numerics.tolerance
        for one, two in zip(warm.opening_flows, cold.opening_flows, strict=True):
            assert one == pytest.approx(two, abs=2e-7 * float(abs(two).max()))
        crossflow = zip(warm.corrections.crossflow, cold.corrections.crossflow, strict=True)
        assert all(one == pytest.approx(two, abs=1e-6 * drive) for one, two in crossflow)
        flows = {name: pytest.approx(q, abs=1e-8) for name, q in cold.solution.flows.items()}
        assert warm.solution.flows == flows


def test_start_that_does_not_fit_is_not_used() -> None:
    """Other stations, other ports, other trays: the run is the cold one bit for bit."""
    start = couple(lay_out(bench(compartments=[TRAY])))
    case = bench()
    assert run_case(case, start=start).quantities == run_case(case).quantities
    assert run_case(case, start=start.corrections).quantities == run_case(case).quantities


def test_start_saves_rounds() -> None:
    """From the solution itself one round is left."""
    layout = lay_out(bench(compartments=[TRAY]))
    cold = couple(layout)
    assert cold.iterations > 3
    assert couple(layout, cold).iterations <= 2
