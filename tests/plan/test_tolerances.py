"""Tables of tolerances: the usual one, files, faults, and how values are drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from benches import HOOD, TRAY, bench

from flowsim.batch.sampling import hypercube_draws
from flowsim.case.read import change_case, read_case
from flowsim.case.schema import Case
from flowsim.errors import CaseError
from flowsim.plan.tolerance import BELL_CUT, Tolerance
from flowsim.plan.tolerances import read_tolerances, stated_tolerances
from flowsim.plan.usual_tolerances import usual_tolerances

CASES = Path(__file__).parent.parent.parent / "cases"
MIRROR = CASES / "mirror_bench.toml"
EXAMPLE = CASES / "sweeps" / "mirror_bench_tolerances.toml"


def _usual(case: Case) -> dict[str, Tolerance]:
    return {item.key: item for item in usual_tolerances(case)}


def _stated(case: Case, **row: Any) -> Tolerance:
    (found,) = stated_tolerances(case, [row], usual=False)
    return found


def _complaints(case: Case, *rows: dict[str, Any]) -> str:
    with pytest.raises(CaseError, match="tolerances") as caught:
        stated_tolerances(case, rows, usual=False)
    return str(caught.value)


def test_usual_ends_are_the_published_and_assumed_ones() -> None:
    found = _usual(read_case(MIRROR))
    # coefficients of sharp openings as listed in the house's references: 0.586 to 0.65
    front = found["openings.front.discharge_coefficient"]
    assert (front.low, front.high) == pytest.approx((0.58, 0.65))
    assert (found["plenum.momentum_coefficient"].low, 1.35) == (1.0, pytest.approx(1.35))
    eddies = found["mixing.in_use"]
    assert (eddies.low, eddies.high, eddies.shape) == (1e-3, 2.5e-2, "ratio")
    hole = found["work_surface.hole_diameter"]
    assert (hole.low, hole.high) == pytest.approx((8e-3, 8.1e-3))
    assert found["supply.fan.pressure"].by_factor
    assert found["supply.fan.frequency"].high == pytest.approx(37.37)


def test_usual_tolerances_name_their_reason_and_source() -> None:
    assert all(item.reason and item.source for item in usual_tolerances(read_case(MIRROR)))


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_usual_tolerances_fit_every_shipped_case(path: Path) -> None:
    case = read_case(path)
    found = usual_tolerances(case)
    assert found
    lowest = {item.key: item.change(item.reach[0]) for item in found}
    highest = {item.key: item.change(item.reach[1]) for item in found}
    assert change_case(case, lowest) != change_case(case, highest)


def test_only_keys_that_the_case_has() -> None:
    found = _usual(bench(HOOD))
    assert set(found) == {
        "supply.flow",
        "supply.filter.rated_drop",
        "supply.filter.loading",
        "openings.front.discharge_coefficient",
    }


def test_plate_stated_by_its_free_area_has_more_of_it_for_larger_holes() -> None:
    found = _usual(bench())["work_surface.free_area_ratio"]
    assert found.high / found.low == pytest.approx((8.1 / 8.0) ** 2)


def test_value_outside_the_published_range_stays_inside_its_tolerance() -> None:
    found = _usual(bench(plenum={"momentum_coefficient": 0.8}))["plenum.momentum_coefficient"]
    assert (found.low, found.high) == (0.8, 1.35)


def test_lists_of_tables_are_named_by_label() -> None:
    found = _usual(bench(leaks=[{"label": "rear seam", "area": 1e-4}]))["leaks.rear seam.area"]
    assert (found.low, found.high) == pytest.approx((0.5e-4, 2e-4))


def test_example_file_fits_its_case() -> None:
    found = {item.key: item for item in read_tolerances(EXAMPLE, read_case(MIRROR))}
    assert found["work_surface.hole_diameter"].low == pytest.approx(7.95e-3)
    assert found["work_surface.hole_diameter"].shape == "bell"
    assert found["exhaust.fan.pressure"].high == pytest.approx(1.08)
    assert found["supply.filter.loading"].high == pytest.approx(1.15)
    assert "exhaust.fan.speed" not in found  # spread = 0
    assert found["plenum.momentum_coefficient"].source != "stated"  # usual one, not listed
    assert sum(item.key == "room.draught" for item in found.values()) == 1


def test_usual_ones_can_be_left_out(tmp_path: Path) -> None:
    text = 'format = 1\nusual = false\n[[tolerances]]\nkey = "chamber.width"\nspread = "2 mm"\n'
    (tmp_path / "t.toml").write_text(text, encoding="utf-8")
    (found,) = read_tolerances(tmp_path / "t.toml", bench())
    assert (found.low, found.high) == pytest.approx((1.298, 1.302))


def test_all_faults_of_a_file_come_at_once_with_lines(tmp_path: Path) -> None:
    path = tmp_path / "t.toml"
    path.write_text(
        "format = 1\n"
        '[[tolerances]]\nkey = "work_surface.hole_diamter"\nspread = "0.1 mm"\n'
        '[[tolerances]]\nkey = "supply.flow"\nspraed = "2 %"\n'
        '[[tolerances]]\nkey = "chamber.width"\nspread = "2 Pa"\n'
        '[[tolerances]]\nkey = "chamber.depth"\nspread = 0.002\n'
        '[[tolerances]]\nkey = "chamber.height"\nspread = "2 %"\nshape = "bel"\n',
        encoding="utf-8",
    )
    with pytest.raises(CaseError, match="hole_diamter") as caught:
        read_tolerances(path, bench())
    lines = caught.value.lines()
    assert [line.split(":")[1] for line in lines] == ["3", "7", "10", "13", "17"]
    assert "did you mean 'hole_diameter'?" in lines[0]
    assert "did you mean 'spread'?" in lines[1]
    assert "is a pressure, not a length" in lines[2]
    assert "has no unit" in lines[3]
    assert "did you mean 'bell'?" in lines[4]


@pytest.mark.parametrize(
    ("row", "message"),
    [
        ({"key": "openings.frnt.height", "spread": 0.001}, "did you mean 'front'"),
        ({"key": "exhaust.suction", "from": 50.0, "to": 60.0}, "would take the place of"),
        ({"key": "exhaust.suction", "spread": "5 %"}, "has no value in the case"),
        ({"key": "limits.draw_ratio.max", "spread": "5 %"}, "is no property of the bench"),
        ({"key": "supply.running", "spread": 0.1}, "names a word or a switch"),
        ({"key": "supply.filter", "spread": 0.1}, "names a list or a table"),
        ({"key": "chamber.width"}, "has neither; expected either spread, or from and to"),
        ({"key": "chamber.width", "spread": 0.1, "from": 1.0}, "has both"),
        ({"key": "chamber.width", "from": 1.3}, "to: is missing"),
        ({"key": "chamber.width", "from": 1.31, "to": 1.29}, "is not below to"),
        ({"key": "chamber.width", "spread": -0.1}, "is below 0"),
        ({"key": "chamber.width", "spread": True}, "is no spread"),
        ({"key": "chamber.width", "spread": "120 %"}, "reaches nothing"),
        ({"key": "room.draught", "spread": "20 %"}, "is a share of 0"),
        ({"key": "room.draught", "from": 0.0, "to": 0.1, "shape": "ratio"}, "no equal ratios"),
        ({"key": "chamber.width", "spread": 0.01, "shape": "ratio"}, "is no ratio"),
        ({"key": "room.temperature", "spread": "2 degC"}, "expected such as '2 K'"),
        ({"key": "room.relative_humidity", "spread": "5 %"}, "'5 % of value' or 0.05"),
        ({"key": "openings.front.discharge_coefficient", "spread": 0.5}, "at its upper end"),
        ({"key": "openings.front.width", "spread": 0.2}, "at its upper end"),
    ],
)
def test_faults_say_what_was_expected(row: dict[str, Any], message: str) -> None:
    case = bench(limits={"draw_ratio": {"max": 1.2}})
    assert message in _complaints(case, row)


def test_same_key_by_label_and_by_number_is_given_twice() -> None:
    rows = [
        {"key": "openings.front.height", "spread": "1 mm"},
        {"key": "openings[0].height", "spread": "2 mm"},
    ]
    assert "is given twice" in _complaints(bench(), *rows)


def test_share_and_points_of_a_ratio_are_told_apart() -> None:
    share = _stated(bench(), key="room.relative_humidity", spread="10 % of value")
    points = _stated(bench(), key="room.relative_humidity", spread=0.1)
    assert (share.low, share.high) == pytest.approx((0.45, 0.55))
    assert (points.low, points.high) == pytest.approx((0.4, 0.6))


def test_spread_of_a_ratio_is_a_factor_and_its_inverse() -> None:
    case = bench(room={"draught": 0.1})
    found = _stated(case, key="room.draught", spread="100 %", shape="ratio")
    assert (found.low, found.high) == pytest.approx((0.05, 0.2))


def test_temperatures_spread_by_kelvin() -> None:
    found = _stated(bench(), key="room.temperature", spread="2 K")
    assert (found.low, found.high) == pytest.approx((291.15, 295.15))
    assert found.span == "18 to 22 degC"


def test_value_left_out_in_the_file_is_spread_round_its_default() -> None:
    found = _stated(bench(compartments=[TRAY]), key="mixing.eddy_size", spread="50 %")
    assert (found.low, found.high) == pytest.approx((0.01, 0.03))


def test_curve_is_scaled_as_a_whole() -> None:
    curve = {"flow": [0.0, 0.2, 0.4], "pressure": [300.0, 200.0, 0.0]}
    case = bench(exhaust={"flow": None, "fan": curve})
    found = _stated(case, key="exhaust.fan.pressure", spread="5 %")
    changed = change_case(case, {found.key: found.change(1.05)})
    assert changed.exhaust is not None
    assert changed.exhaust.fan is not None
    assert changed.exhaust.fan.pressure == pytest.approx((315.0, 210.0, 0.0))
    assert "is no share, but the key is a list" in _complaints(
        case, {"key": "exhaust.fan.pressure", "spread": "5 Pa"}
    )


def test_even_draws_fill_the_range_evenly() -> None:
    found = Tolerance("chamber.width", 1.0, 0.9, 1.1, "even", "length")
    values = np.sort(found.values(hypercube_draws(200, 1, 3)[:, 0]))
    assert np.all(np.abs(values - np.linspace(0.9, 1.1, 200)) < 2e-3)


def test_ratio_draws_fill_the_decades_evenly() -> None:
    found = Tolerance("mixing.in_use", 5e-3, 1e-3, 1e-1, "ratio", "diffusivity")
    values = found.values(hypercube_draws(1000, 1, 3)[:, 0])
    assert np.mean(values < 1e-2) == pytest.approx(0.5, abs=2e-3)


def test_bell_has_95_percent_inside_and_no_far_tail() -> None:
    found = Tolerance("chamber.width", 1.0, 0.98, 1.02, "bell", "length")
    values = found.values(hypercube_draws(100_000, 1, 3)[:, 0])
    # normal distribution, cut at 2.94 standard deviations: 0.95 / 0.9967
    assert np.mean(np.abs(values - 1.0) < 0.02) == pytest.approx(0.9531, abs=1e-3)
    assert np.std(values) == pytest.approx(0.02 / 1.95996, rel=0.02)
    assert np.max(np.abs(values - 1.0)) <= BELL_CUT * 0.02 + 1e-15


def test_missing_file_is_refused_in_its_own_words(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="does not exist; expected a file of tolerances"):
        read_tolerances(tmp_path / "none.toml", bench())
