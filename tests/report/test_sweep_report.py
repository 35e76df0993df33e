"""Words, pictures and files that sum up a sweep."""

from __future__ import annotations

import json
import os
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from report.swept import HIGH, KEYS, LOW, draws, grid, table, with_words

import flowsim.report._in_place as in_place
from flowsim.errors import OutputError, RangeError
from flowsim.report._kit import Sheet, png_bytes, style
from flowsim.report._sweep_axes import axes_of, is_grid
from flowsim.report._sweep_plane import least_margin, plane_of
from flowsim.report.figures_sweep import SweepChoice, sweep_sheets
from flowsim.report.sweep_answers import answers
from flowsim.report.sweep_page import sweep_page
from flowsim.report.sweep_reading import ALL_MET, read_sweep_table
from flowsim.report.sweep_table import Ranking, SweepTable
from flowsim.report.sweep_text import sweep_text
from flowsim.report.write_sweep import write_sweep

NOTHING_SAFE = re.compile(r"\bsafe", re.IGNORECASE)


def _sheets(swept: SweepTable, choice: SweepChoice | None = None) -> dict[str, Sheet]:
    with style():
        found = sweep_sheets(read_sweep_table(swept), choice or SweepChoice())
        return {sheet.name: sheet for sheet in found}


def _told(swept: SweepTable) -> dict[str, str]:
    return dict(answers(read_sweep_table(swept)))


def _legend(figure: Figure) -> list[str]:
    return [text.get_text() for legend in figure.legends for text in legend.get_texts()]


def _no_point() -> SweepTable:
    empty = grid((2,))
    return SweepTable(
        title="none", question="", keys=empty.keys, labels=empty.labels, units=empty.units,
        shown=empty.shown, values=(np.zeros(0),), numbers=np.zeros(0, dtype=np.int64),
        status=np.zeros(0, dtype="U4"), errors=(), figures={}, planned=20,
    )  # fmt: skip


def test_table_refuses_columns_of_different_length() -> None:
    with pytest.raises(ValueError, match="one row per point"):
        replace(grid((3,)), numbers=np.arange(2))


def test_numbers_are_shown_in_the_unit_they_were_written_in() -> None:
    axes = axes_of(grid((3, 2)))
    assert [axis.heading for axis in axes] == [f"{KEYS[0]} [Hz]", f"{KEYS[1]} [mm]"]
    assert axes[1].levels == pytest.approx([120.0, 240.0])
    warm = replace(grid((3,)), shown=("degC",), values=(np.array([283.15, 293.15, 303.15]),))
    assert axes_of(warm)[0].levels == pytest.approx([10.0, 20.0, 30.0])


def test_linked_keys_are_one_axis() -> None:
    plain = grid((4, 3))
    twin = replace(
        plain, keys=(*plain.keys, "twin"), labels=(*plain.labels, "twin"),
        units=(*plain.units, "Hz"), shown=(*plain.shown, "Hz"),
        values=(*plain.values, 60.0 - plain.values[0]),
    )  # fmt: skip
    axes = axes_of(twin)
    assert [len(axis.keys) for axis in axes] == [2, 1]
    assert axes[0].label.endswith("(+1 linked)")


def test_draws_are_no_grid_and_are_not_linked() -> None:
    axes = axes_of(draws(50))
    assert len(axes) == 4
    assert not is_grid(axes)
    assert is_grid(axes_of(grid((5, 4), failed=3)))


def test_best_points_meet_every_limit_and_are_ranked() -> None:
    swept = draws(300, failed=5)
    reading = read_sweep_table(swept)
    assert reading.any_meets
    values = swept.figures["balance_margin"][reading.best]
    assert swept.meets_all[reading.best].all()
    assert (np.diff(values) <= 0.0).all()
    assert values[0] == np.nanmax(swept.figures["balance_margin"][swept.meets_all])


def test_smallest_can_be_best() -> None:
    swept = replace(draws(100), ranking=Ranking("front_velocity_max", False, 3))
    reading = read_sweep_table(swept)
    values = swept.figures["front_velocity_max"][reading.best]
    assert len(values) == 3
    assert (np.diff(values) >= 0.0).all()


def test_a_point_that_is_not_shown_is_not_among_the_best() -> None:
    swept = grid((9, 8))
    unshown = np.flatnonzero((swept.misses == 0) & swept.done & ~swept.meets_all)
    assert len(unshown)
    assert not set(unshown) & set(read_sweep_table(swept).best)


def test_answers_name_axis_place_and_best_point() -> None:
    told = _told(grid((9, 8), failed=3))
    assert f"{KEYS[0]} matters most for balance margin" in told["Which axis matters most?"]
    assert "rises with it" in told["Which axis matters most?"]
    assert re.match(r"Point \d+: supply\.fan\.frequency = \d", told["Which point is best?"])
    assert re.match(
        r"At \d+ of 69 points, all of them at supply", told["Where is every limit met?"]
    )
    assert "69 of 72 points came to their end; 3 not converged" in told["How much was run?"]


def test_no_point_that_meets_every_limit_is_said_and_the_nearest_named() -> None:
    high = np.tile([50.0, 0.12, 0.06, 0.6], (6, 1))
    high[:, 0] = np.linspace(48.0, 50.0, 6)
    told = _told(table(high, 1))
    assert told["Where is every limit met?"].startswith("At none of 6 points.")
    assert told["Which point is best?"].startswith("No point meets every limit. Point ")


def test_end_of_a_range_sends_the_reader_further() -> None:
    assert "look further there" in _told(grid((9, 8)))["Which point is best?"]


def test_a_sweep_under_way_says_what_is_left() -> None:
    told = _told(replace(grid((5, 4)), planned=80, skipped=7))["How much was run?"]
    assert "60 not run yet" in told
    assert "25.0 % of the plan" in told
    assert "7 more were skipped" in told


def test_a_figure_that_turns_round_gets_no_direction() -> None:
    swept = grid((9, 4))
    bent = np.abs(swept.figures["balance_margin"] - 0.1)
    told = _told(replace(swept, figures={**swept.figures, "balance_margin": bent}))
    assert "with it" not in told["Which axis matters most?"].replace("together with others", "")


@pytest.mark.parametrize(
    ("swept", "names"),
    [
        (grid((12,)), ["lines"]),
        (grid((9, 8), 2), ["limits_map", "lines", "sensitivity", "maps"]),
        (grid((6, 5, 4), 2), ["limits_map", "lines", "sensitivity", "maps", "parallel"]),
        (with_words(), ["limits_map", "lines", "sensitivity", "maps"]),
        (draws(120, 3), ["pairs", "sensitivity", "trends", "parallel"]),
        (draws(60, 2, keys=1), ["lines"]),
        (_no_point(), []),
        (table(np.array([LOW]), 4), []),
    ],
    ids=["one", "two", "three", "words", "draws", "drawn line", "none", "single"],
)
def test_pictures_follow_the_kind_of_sweep(swept: SweepTable, names: list[str]) -> None:
    sheets = _sheets(swept)
    assert list(sheets) == names
    for sheet in sheets.values():
        assert sheet.title.endswith("?")
        assert sheet.reading.endswith(".")
        assert len(png_bytes(sheet.figure)) < 600_000


def test_map_marks_failed_points_and_draws_the_limits() -> None:
    sheet = _sheets(grid((9, 8), failed=3))["limits_map"]
    legend = _legend(sheet.figure)
    assert "front velocity max at most 0.450 m/s" in legend
    assert {"failed", "a limit is missed", "meets every limit"} <= set(legend)
    crosses = [line for line in sheet.figure.axes[0].lines if line.get_marker() == "x"]
    assert [len(np.atleast_1d(line.get_xdata())) for line in crosses] == [3]


def test_shading_agrees_with_the_verdicts_at_the_points() -> None:
    swept = grid((9, 8))
    reading = read_sweep_table(swept)
    plane = plane_of(reading, *reading.axes)
    assert plane is not None
    worst = least_margin(plane, reading)
    assert worst is not None
    shown_corner = worst[0, 0], worst[-1, -1], worst[0, -1], worst[-1, 0]
    rows = plane.rows[0, 0], plane.rows[-1, -1], plane.rows[0, -1], plane.rows[-1, 0]
    for margin, row in zip(shown_corner, rows, strict=True):
        assert (margin < 0.0) == bool(swept.misses[row] > 0)


def test_round_off_misses_no_limit() -> None:
    swept = grid((5, 4))
    tiny = np.where(np.arange(len(swept)) % 2 == 0, 1e-17, 0.0)
    clean = replace(
        swept, figures={"front_inflow_share": tiny}, limits={"front_inflow_share": (None, 0.0)},
        states={"front_inflow_share": np.full(len(swept), "met")}, ranking=Ranking(),
    )  # fmt: skip
    reading = read_sweep_table(clean)
    plane = plane_of(reading, *reading.axes)
    assert plane is not None
    assert least_margin(plane, reading) is None


def test_lines_are_few_and_tell_what_is_left_out() -> None:
    sheet = _sheets(grid((9, 12)))["lines"]
    lines = [text for text in _legend(sheet.figure) if " = " in text]
    assert len(lines) == 6
    note = " ".join(text.get_text() for text in sheet.figure.texts).replace("\n", " ")
    assert "6 of 12 values" in note


def test_chosen_figures_and_axes_are_drawn() -> None:
    choice = SweepChoice(("draw_ratio", "chamber_pressure"), KEYS[2], KEYS[1], KEYS[1], KEYS[2])
    sheets = _sheets(grid((4, 5, 6)), choice)
    panels = [axes for axes in sheets["lines"].figure.axes if axes.get_visible()]
    assert [axes.get_title(loc="left") for axes in panels] == [
        "draw ratio [-]",
        "chamber pressure [Pa]",
    ]
    axes = sheets["limits_map"].figure.axes[0]
    assert (axes.get_xlabel(), axes.get_ylabel()) == (f"{KEYS[1]} [mm]", f"{KEYS[2]} [mm]")


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        (SweepChoice(along="plenum.width"), "no axis that varies"),
        (SweepChoice(figures=("draw",)), "no figure"),
    ],
)
def test_an_unknown_choice_is_refused(choice: SweepChoice, words: str) -> None:
    with pytest.raises(RangeError, match=words):
        _sheets(grid((4, 5)), choice)


def test_many_points_are_thinned_and_said_so() -> None:
    sheets = _sheets(draws(20_000, failed=20))
    note = " ".join(text.get_text() for text in sheets["pairs"].figure.texts).replace("\n", " ")
    assert re.search(r"Drawn are 600 of \d+ points that meet every limit", note)
    dots = [item for axes in sheets["trends"].figure.axes for item in axes.collections]
    assert max(len(np.asarray(item.get_offsets())) for item in dots) <= 600


def test_sensitivity_is_told_for_the_limits_too() -> None:
    reading = read_sweep_table(grid((9, 8)))
    assert list(reading.found)[-1] == ALL_MET
    assert reading.found["balance_margin"].method == "all combinations"


def test_page_answers_first_and_escapes() -> None:
    evil = "<script>alert(1)</script>"
    swept = replace(
        grid((5, 4), failed=2), title=evil, question=f"{evil}?", labels=(evil, "height")
    )
    page = sweep_page(read_sweep_table(replace(swept, errors=tuple([evil] * 20))), (), "1")
    assert "<script" not in page
    assert page.count("&lt;script&gt;") > 4
    assert page.index("Which point is best?") < page.index("Best points")
    assert "http" not in page
    assert not NOTHING_SAFE.search(re.sub(r"does not[^.]*", "", page))


def test_text_says_the_same() -> None:
    text = sweep_text(read_sweep_table(grid((9, 8))))
    assert text.startswith("Balance map\n")
    assert "Best points:" in text


def test_files_are_written_beside_a_running_store(tmp_path: Path) -> None:
    (tmp_path / "sweep.sqlite").write_bytes(b"store")
    (tmp_path / "points").mkdir()
    write_sweep(grid((9, 8), failed=2), tmp_path)
    names = {item.name for item in tmp_path.iterdir()}
    assert names == {"sweep.sqlite", "points", "sweep.html", "sweep.json", "figures"}
    assert (tmp_path / "sweep.sqlite").read_bytes() == b"store"
    document = json.loads((tmp_path / "sweep.json").read_text(encoding="utf-8"))
    assert document["points"]["status"] == {"done": 70, "not converged": 2}
    assert document["sensitivity"]["balance_margin"]["method"] == "fit"
    page = (tmp_path / "sweep.html").read_text(encoding="utf-8")
    assert page.count("data:image/png") == len(list((tmp_path / "figures").iterdir())) == 4


def test_writing_again_replaces_and_gives_the_same_bytes(tmp_path: Path) -> None:
    write_sweep(draws(80), tmp_path)
    write_sweep(grid((6, 5)), tmp_path)
    first = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert tmp_path / "figures" / "pairs.png" not in first
    write_sweep(grid((6, 5)), tmp_path)
    assert first == {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}


def test_a_sweep_without_points_still_has_a_page(tmp_path: Path) -> None:
    write_sweep(_no_point(), tmp_path)
    assert "0 of 20 points" in (tmp_path / "sweep.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["sweep.html", "figures"])
def test_what_is_not_ours_is_not_replaced(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"has not written|not a folder"):
        write_sweep(grid((3,)), tmp_path)
    assert (tmp_path / name).read_text(encoding="utf-8") == "mine"


def test_foreign_files_among_the_pictures_are_kept(tmp_path: Path) -> None:
    write_sweep(grid((3,)), tmp_path)
    (tmp_path / "figures" / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError, match=r"notes\.txt"):
        write_sweep(grid((3,)), tmp_path)


def test_a_full_disk_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_sweep(grid((4, 3)), tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    written: list[int] = []

    def full(number: int) -> None:
        written.append(number)
        if len(written) > 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(in_place.os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        write_sweep(draws(80), tmp_path)
    assert before == {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}


@pytest.mark.skipif(os.name != "posix", reason="process numbers are told apart on POSIX only")
def test_leftovers_of_a_killed_writer_go(tmp_path: Path) -> None:
    dead, alive = (
        tmp_path / ".summary.new-999999999-aa",
        tmp_path / f".summary.new-{os.getppid()}-bb",
    )
    dead.mkdir()
    alive.mkdir()
    write_sweep(grid((3,)), tmp_path)
    assert not dead.exists()
    assert alive.exists()


def test_ranges_of_the_bench_are_covered() -> None:
    """The bench of these tests meets its limits somewhere, and misses each somewhere."""
    swept = draws(300)
    assert (HIGH > LOW).all()
    assert swept.meets_all.any()
    assert all((states == "not met").any() for states in swept.states.values())
