from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from report.synthetic_result import build, case, network_only

from flowsim.case.schema import Case
from flowsim.errors import CaseError, ConvergenceError, OutputError, RangeError
from flowsim.plan.compare import compare, vary, write_comparison
from flowsim.report._kit import style
from flowsim.report.comparison import Comparison
from flowsim.report.figures_compare import comparison_figure
from flowsim.report.summary import comparison_table
from flowsim.report.write_comparison import comparison_sheet
from flowsim.simulate.result import Result

FULL = build((12, 6, 8))


def _run(item: Case) -> Result:
    """Return a result whose front velocity falls as the opening grows."""
    height = item.openings[0].height
    velocity = 0.234 * 0.16 / height
    mean = replace(FULL.quantities["front_velocity_mean"], value=velocity)
    quantities = {**FULL.quantities, "front_velocity_mean": mean}
    return replace(FULL, case=item, quantities=quantities)


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    return compare(vary(case(), "openings.front.height", ["160 mm", "120 mm", "240 mm"]), _run)


def test_varied_cases_differ_in_that_key_only() -> None:
    first, second = vary(case(), "openings.front.height", ["160 mm", 0.12])
    assert first[0] == "openings.front.height = 160 mm"
    assert first[1] == case()
    assert second[1].openings[0].height == 0.12
    assert second[1].chamber == first[1].chamber


def test_a_wrong_key_or_value_is_a_case_error() -> None:
    with pytest.raises(CaseError, match="heigth"):
        vary(case(), "openings.front.heigth", ["160 mm"])
    with pytest.raises(CaseError, match="height"):
        vary(case(), "openings.front.height", ["-160 mm"])


def test_differences_are_to_the_first_case(comparison: Comparison) -> None:
    row = next(row for row in comparison.rows if row.name == "front_velocity_mean")
    assert row.values[0] == pytest.approx(0.234)
    assert row.differences[0] == 0.0
    assert row.differences[1] == pytest.approx(row.values[1] - row.values[0])


def test_figures_that_no_case_has_are_left_out(comparison: Comparison) -> None:
    assert "tube_draw_ratio" not in [row.name for row in comparison.rows]


def test_a_figure_of_one_case_only_stands_without_difference() -> None:
    def run(item: Case) -> Result:
        result = _run(item)
        if item.openings[0].height > 0.15:
            return result
        fewer = {name: value for name, value in result.quantities.items() if name != "draw_rsd"}
        return replace(result, quantities=fewer)

    rows = compare(vary(case(), "openings.front.height", ["120 mm", "160 mm"]), run).rows
    row = next(row for row in rows if row.name == "draw_rsd")
    assert row.values == (None, FULL["draw_rsd"])
    assert row.differences == (None, None)


def test_a_failure_names_its_case() -> None:
    def run(item: Case) -> Result:
        raise ConvergenceError(f"branch opening {item.openings[0].label}")

    with pytest.raises(ConvergenceError, match=r"height = 1 m.*branch opening front"):
        compare([("height = 1 m", case())], run)


def test_nothing_and_twice_the_same_label_are_refused() -> None:
    with pytest.raises(RangeError, match="no case"):
        compare([], _run)
    with pytest.raises(RangeError, match="label 'a'"):
        compare([("a", case()), ("a", case())], _run)


def test_table_shows_differences_and_what_is_the_same(comparison: Comparison) -> None:
    text = comparison_table(comparison)
    line = next(line for line in text.splitlines() if "front velocity mean" in line)
    assert line.split() == ["front", "velocity", "mean", "m/s", "0.234", "0.312", "(+0.0780)",
                            "0.156", "(-0.0780)"]  # fmt: skip
    same = text.split("Same to three digits in every case:")[1]
    assert "supply flow" in same
    assert "draw ratio not met" in text
    assert text.isascii()


def test_many_cases_stand_in_blocks() -> None:
    heights = [f"{height} mm" for height in (100, 110, 120, 130, 140, 150, 160)]
    text = comparison_table(compare(vary(case(), "openings.front.height", heights), _run))
    assert text.count("front velocity mean") == 2
    assert max(len(line) for line in text.splitlines()) <= 140


def test_one_case_alone_is_a_comparison_too() -> None:
    alone = compare([("one", case())], _run)
    assert "supply flow" in comparison_table(alone)


def test_sheet_has_units_in_its_header(comparison: Comparison) -> None:
    rows = list(csv.reader(io.StringIO(comparison_sheet(comparison))))
    assert rows[0][0] == "case"
    assert "front_outflow [m3/s]" in rows[0]
    column = rows[0].index("front_velocity_mean [m/s]")
    assert float(rows[1][column]) == pytest.approx(0.234)
    assert len(rows) == 4


def test_files_are_written_and_replaced(comparison: Comparison, tmp_path: Path) -> None:
    for _ in range(2):
        write_comparison(comparison, tmp_path / "out")
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {"comparison.json", "comparison.csv", "comparison.png"}
    document = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))
    assert [item["label"] for item in document["cases"]] == list(comparison.labels)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_foreign_folder_is_refused(comparison: Comparison, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match="holds no earlier results"):
        write_comparison(comparison, tmp_path)


def test_picture_has_fronts_draws_and_bars_with_limits(comparison: Comparison) -> None:
    with style():
        figure = comparison_figure(comparison)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles[0] == "Which way does the front blow?"
    assert titles[1] == "How evenly does the work surface draw?"
    assert "balance margin" in titles
    bars = figure.axes[titles.index("draw ratio")]
    limits = [line for line in bars.lines if set(line.get_xdata()) == {1.1}]
    assert len(limits) == 1


def test_picture_without_fields_has_bars_only() -> None:
    def run(item: Case) -> Result:
        return replace(network_only(), case=item)

    with style():
        figure = comparison_figure(compare([("a", case()), ("b", case())], run))
    assert all("?" not in axes.get_title(loc="left") for axes in figure.axes)
    assert figure.axes
