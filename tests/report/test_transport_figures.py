from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imread
from report.synthetic_result import PARTS, build, network_only, section
from report.synthetic_transport import releases, transport, with_transport, workpieces

from flowsim.report._divide import divide_of
from flowsim.report._kit import Sheet, drawn, png_bytes, style
from flowsim.report._limit_lines import limit_lines, ppm_text
from flowsim.report._share_map import UNRESOLVED, percent, power
from flowsim.report._views import plan_view, section_view
from flowsim.report.figures import draw_pictures, draw_sheets
from flowsim.report.figures_certainty import escape_certainty
from flowsim.report.figures_class import class_bars
from flowsim.report.figures_escape import escape_plan, escape_section
from flowsim.report.figures_exposure import exposures
from flowsim.report.figures_ingress import ingress_plan, ingress_section
from flowsim.report.figures_paths import particle_paths
from flowsim.report.figures_recovery import recovery_curve
from flowsim.simulate.result import Check, Result
from flowsim.simulate.shares import ShareMaps
from flowsim.simulate.transport_result import Transport

STORY = ["escape_plan", "escape_section", "escape_certainty", "particle_paths", "exposure",
         "exposure_2", "ingress_plan", "ingress_section", "class_bars", "recovery"]  # fmt: skip
MAPS = ["escape_plan", "escape_section", "ingress_plan", "ingress_section"]


@pytest.fixture(scope="module")
def result() -> Result:
    return with_transport()


@pytest.fixture(scope="module")
def sheets(result: Result) -> dict[str, Sheet]:
    with style():
        return {sheet.name: sheet for sheet in draw_sheets(result)}


def _given(result: Result) -> Transport:
    assert result.transport is not None
    return result.transport


def _uniform(result: Result, value: float) -> ShareMaps:
    """Return maps with one value in all cells."""
    assert result.field is not None
    return ShareMaps(*(np.full(result.field.grid.shape, value) for _ in range(8)))


def _with(result: Result, **changes: object) -> Result:
    return replace(result, transport=replace(_given(result), **changes))


def _texts(figure: Figure) -> list[str]:
    found = [item.get_text() for axes in figure.axes for item in axes.texts]
    labels = [text for axes in figure.axes for text in (axes.get_xlabel(), axes.get_ylabel())]
    legends = [item.get_text() for legend in figure.legends for item in legend.get_texts()]
    top = [item.get_text() for item in figure.texts]
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    return [*found, *labels, *legends, *top, *titles]


def _all_text(sheet: Sheet | None) -> str:
    assert sheet is not None
    return " ".join(" ".join(_texts(sheet.figure)).split())


def _boxes(sheet: Sheet) -> list[tuple[str, np.ndarray]]:
    """Return text and corners of the labels on the first map, after drawing. [pixel]"""
    drawn(sheet.figure)
    canvas = sheet.figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    renderer = canvas.get_renderer()
    return [
        (item.get_text(), item.get_window_extent(renderer).get_points())
        for item in sheet.figure.axes[0].texts
    ]


def _shared(a: np.ndarray, b: np.ndarray) -> bool:
    return bool(np.all(np.minimum(a[1], b[1]) > np.maximum(a[0], b[0]) + 0.5))


def test_the_story_is_told_between_air_and_draw(sheets: dict[str, Sheet]) -> None:
    names = list(sheets)
    assert names[:3] == ["front_profile", "side_section", "downflow_plan"]
    assert names[3 : 3 + len(STORY)] == STORY
    assert names[3 + len(STORY) :] == ["plate_draw", "plate_map", "network_sketch"]


def test_without_transport_no_figure_of_it_is_drawn() -> None:
    with style():
        assert set(STORY) & {sheet.name for sheet in draw_sheets(build())} == set()
        assert {sheet.name for sheet in draw_sheets(network_only())} == {"network_sketch"}


@pytest.mark.parametrize("name", STORY)
def test_each_asks_a_question_and_reads_its_answer(sheets: dict[str, Sheet], name: str) -> None:
    sheet = sheets[name]
    assert sheet.title.endswith("?")
    assert sheet.reading.endswith(".")
    assert any(letter.isdigit() for letter in sheet.reading)
    assert sheet.title in _all_text(sheet)


@pytest.mark.parametrize("name", STORY)
def test_nothing_is_cut_off_at_the_edge(sheets: dict[str, Sheet], name: str) -> None:
    ink = drawn(sheets[name].figure)[:, :, :3].min(axis=2) < 200
    assert not ink[:, 0].any()
    assert not ink[:, -1].any()
    assert not ink[0].any()
    assert not ink[-1].any()


@pytest.mark.parametrize("name", STORY)
def test_files_stay_small(sheets: dict[str, Sheet], name: str) -> None:
    assert len(png_bytes(sheets[name].figure)) < 150_000


@pytest.mark.parametrize("name", MAPS)
def test_a_map_tells_the_assumed_eddies_halved_and_doubled(
    sheets: dict[str, Sheet], name: str
) -> None:
    text = _all_text(sheets[name]).replace("\u00a0", " ")
    assert "0.005 m2/s, an assumption" in text
    assert "eddies halved" in text
    assert "doubled" in text


@pytest.mark.parametrize("name", MAPS)
def test_a_map_says_what_is_not_in_it(sheets: dict[str, Sheet], name: str) -> None:
    on_map = [" ".join(item.get_text().split()) for item in sheets[name].figure.axes[0].texts]
    assert any("wakes" in text and "not in this map" in text for text in on_map)


def test_escape_map_draws_the_parts_it_is_read_by(sheets: dict[str, Sheet]) -> None:
    text = _all_text(sheets["escape_plan"])
    for word in ("strip tray", "rinse tray, wrongly in the open: 4.4 %", "drying mirror", "front",
                 "here the mean flow parts", "one hand-size eddy (100 mm)", "not resolved",
                 "Particles of 0.5, 5 um"):  # fmt: skip
        assert word in text


@pytest.mark.parametrize("name", ["escape_plan", "ingress_plan", "escape_section"])
def test_labels_on_a_map_keep_off_each_other(sheets: dict[str, Sheet], name: str) -> None:
    boxes = _boxes(sheets[name])
    pairs = [(a, b) for i, (a, p) in enumerate(boxes) for b, q in boxes[i + 1 :] if _shared(p, q)]
    assert pairs == []


def test_what_is_below_the_model_has_one_colour_that_is_not_pale(result: Result) -> None:
    nothing = _with(result, escape=_uniform(result, 0.0))
    with style():
        sheet = escape_plan(nothing)
    assert sheet is not None
    image = sheet.figure.axes[0].images[0]
    colours = np.unique(image.to_rgba(image.get_array()).reshape(-1, 4), axis=0)
    assert colours.shape[0] == 1
    assert np.allclose(colours[0, :3] * 255, [int(UNRESOLVED[i : i + 2], 16) for i in (1, 3, 5)],
                       atol=1.0)  # fmt: skip
    assert colours[0, :3].max() < 0.75
    assert "nothing from here to the room, eddies do" in _all_text(sheet)


def test_the_band_runs_along_an_opening_that_nothing_is_carried_to(result: Result) -> None:
    grid = result.field.grid if result.field else None
    assert grid is not None
    view = plan_view(grid, np.zeros(grid.shape))
    assert view is not None
    divide = divide_of(result.case, view, np.zeros(grid.shape))
    assert not divide.parts
    assert divide.distance is not None
    middle = divide.x.size // 2
    # the front lies at y = 0
    assert divide.distance[middle] == pytest.approx(divide.y, abs=0.02)


def test_the_band_follows_the_line(result: Result) -> None:
    grid = result.field.grid if result.field else None
    assert grid is not None
    mean = np.broadcast_to(np.where(grid.centres[1] < 0.3, 1.0, 0.0)[None, :, None], grid.shape)
    view = plan_view(grid, mean)
    assert view is not None
    divide = divide_of(result.case, view, mean)
    assert divide.parts
    assert divide.distance is not None
    # the line lies half way between the cells on either side of 0.3
    edge = 0.5 * (grid.centres[1][grid.centres[1] < 0.3][-1]
                  + grid.centres[1][grid.centres[1] >= 0.3][0])  # fmt: skip
    assert divide.distance[5] == pytest.approx(np.abs(divide.y - edge), abs=1e-9)


def test_a_hood_that_only_blows_out_is_drawn_and_said_so(result: Result) -> None:
    hood = _with(result, escape=_uniform(result, 1.0 + 3e-4))
    with style():
        plan, side = escape_plan(hood), escape_section(hood)
    for sheet in (plan, side):
        assert sheet is not None
        assert "carries everything from here to the room" in _all_text(sheet)
        assert "from everywhere" in sheet.reading
        assert "not resolved" not in _all_text(sheet)


def test_values_beside_0_and_1_reach_the_map_unchanged(result: Result) -> None:
    maps = _given(result).escape
    beyond = np.where(np.isfinite(maps.in_use), 1.02, np.nan)
    beyond[0] = -0.01
    with style():
        sheet = escape_plan(_with(result, escape=replace(maps, in_use=beyond)))
    assert sheet is not None
    shown = sheet.figure.axes[0].images[0].get_array()
    assert shown is not None
    assert float(shown.max()) == pytest.approx(np.log10(1.02))
    assert "from 95 % of it" in sheet.reading


@pytest.mark.parametrize("axis", [0, 1])
def test_a_single_section_has_sections_and_no_plan(axis: int) -> None:
    full = section(build(), axis)
    with style():
        names = [sheet.name for sheet in draw_sheets(with_transport(full))]
    assert "escape_plan" not in names
    assert "ingress_plan" not in names
    assert {"escape_section", "ingress_section", "particle_paths"} <= set(names)


def test_sections_cut_where_the_picture_of_the_air_does(result: Result) -> None:
    assert result.field is not None
    tray = result.case.compartments[0]
    view = section_view(result.case, result.field.grid)
    assert view.holds(tray.offset_x, tray.offset_x + tray.width)
    assert view.of(np.zeros(result.field.grid.shape)).shape == (12, 16)


def test_an_empty_bench_with_openings_all_round_is_drawn() -> None:
    walls = [
        {**PARTS["openings"][0], "height": 0.1},
        {"label": "back", "wall": "back", "offset": 0.2, "bottom": 0.3, "width": 0.4,
         "height": 0.1},
        {"label": "hatch", "wall": "left", "offset": 0.1, "bottom": 0.0, "width": 0.3,
         "height": 0.2},
        {"label": "lid", "wall": "ceiling", "offset": 0.0, "bottom": 0.0, "width": 0.03,
         "height": 0.6},
    ]  # fmt: skip
    bench = build(openings=walls, compartments=[])
    assert bench.field is not None
    bare = transport(bench.field.grid, releases=(), workpieces=(), recovery=None, paths=(),
                     tracked={}, particle_escape={})  # fmt: skip
    with style():
        sheets = {sheet.name: sheet for sheet in draw_sheets(replace(bench, transport=bare))}
    assert set(STORY) & set(sheets) == set(MAPS)
    assert {"front", "back", "hatch"} <= set(_texts(sheets["escape_plan"].figure))


def test_certainty_shows_every_assumption_of_every_release(result: Result) -> None:
    with style():
        sheet = escape_certainty(result)
    assert sheet is not None
    text = _all_text(sheet)
    for word in ("in use", "at rest", "mean flow alone", "halved and doubled", "two schemes",
                 "not resolved"):  # fmt: skip
        assert word in text
    names = " ".join(" ".join(item.get_text() for item in
                              sheet.figure.axes[0].get_yticklabels()).split())  # fmt: skip
    for item in releases():
        assert f"{item.label}: into the room" in names
    assert "strip tray: out of its compartment" in names
    assert "4.4 % gets into the room in use" in sheet.reading


def test_paths_are_told_by_their_end_with_standard_errors(sheets: dict[str, Sheet]) -> None:
    text = _all_text(sheets["particle_paths"])
    assert "opening front: 4.60 ± 0.20 % (4 of 32 drawn)" in text
    assert "mirror blank at the front: 0.600 ± 0.080 % (1 of 32 drawn)" in text


def test_class_bars_say_size_number_limit_and_cause(result: Result) -> None:
    check = Check("iso_class[drying mirror]", 2.8, 5.0, 2.2, "max", "met", "limit of the case", "-")
    with style():
        sheet = class_bars(replace(result, checks=(check,)))
    assert sheet is not None
    text = _all_text(sheet)
    assert "limit of the case: ISO 5" in text
    assert "part: room air" in text
    ticks = [item.get_text() for item in sheet.figure.axes[0].get_xticklabels()]
    # 0.5 um: 2e-4 of 3.52e6 in the room and 41 by the person
    assert "0.5 um\n750" in ticks
    assert sheet.reading.startswith("mirror blank at the front is the worst workpiece, ISO 5")
    assert "ISO 5" in [item.get_text() for item in sheet.figure.axes[0].get_yticklabels()]


def test_a_bar_is_as_high_as_its_class(result: Result) -> None:
    with style():
        sheet = class_bars(result)
    assert sheet is not None
    axes = sheet.figure.axes[0]
    tops = [bar.get_y() + bar.get_height() for bar in axes.patches]
    for item in workpieces():
        assert item.iso_class is not None
        assert min(abs(top - item.iso_class) for top in tops) < 1e-9


def test_clean_air_and_many_workpieces_are_drawn(result: Result) -> None:
    first = workpieces()[0]
    none = replace(first, label="none", concentration=0.0 * first.concentration, causes={},
                   concentration_highest=0.0 * first.concentration, iso_class=-np.inf)  # fmt: skip
    many = tuple(replace(first, label=f"a rather long name of workpiece {n}") for n in range(11))
    with style():
        assert class_bars(_with(result, workpieces=(none,))) is not None
        sheet = class_bars(_with(result, workpieces=many))
        assert class_bars(_with(result, workpieces=(replace(first, sizes=np.array([])),))) is None
    assert sheet is not None
    assert len(sheet.figure.axes[0].patches) == 24


def test_exposure_holds_curves_band_and_every_limit(sheets: dict[str, Sheet]) -> None:
    text = _all_text(sheets["exposure"])
    for word in ("2 ppm, not met: ACGIH TLV ceiling (2003); Ontario ceiling",
                 "10 ppm, not shown: EU IOELV STEL 15 min (2000)",
                 "50 ppm, met: NIOSH IDLH 30 min escape (1994)",
                 "everything uncertain at its worst", "at the person",
                 "rest of the room"):  # fmt: skip
        assert word in text
    assert "1.7 times it, not met" in sheets["exposure"].reading


def test_labels_of_limits_keep_off_each_other(sheets: dict[str, Sheet]) -> None:
    for name in ("exposure", "exposure_2"):
        boxes = [points for text, points in _boxes(sheets[name]) if "ppm" in text]
        assert len(boxes) == 4
        assert not any(_shared(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :])


def test_limits_of_one_concentration_share_a_line() -> None:
    lines = limit_lines(releases()[1].checks)
    assert [line.ppm for line in lines] == [2.0, 5.0, 10.0, 50.0]
    assert lines[0].state == "not met"


def test_a_window_that_counts_most_is_shaded(result: Result) -> None:
    item = releases()[1]
    short = tuple(check for check in item.checks if check.averaging == "15 min")
    with style():
        (sheet,) = exposures(_with(result, releases=(replace(item, checks=short),)))
    axes = sheet.figure.axes[0]
    span = next(patch for patch in axes.patches if "15 min" in str(patch.get_label()))
    assert span.get_width() == pytest.approx(0.25)  # h
    # the concentration rises until the release ends after 4 h
    assert span.get_x() + span.get_width() == pytest.approx(4.0, abs=0.06)


def test_vapours_breathed_together_share_a_figure(result: Result) -> None:
    first, second = releases()
    both = (first, replace(second, room=first.room, checks=first.checks))
    with style():
        (sheet,) = exposures(_with(result, releases=both))
        assert exposures(_with(result, releases=(replace(first, room=None),))) == ()
        (free,) = exposures(_with(result, releases=(replace(first, checks=()),)))
    assert "strip tray and rinse tray, wrongly in the open together" in _all_text(sheet)
    assert "no published limit" in free.reading


def test_a_curve_far_below_every_limit_is_said_in_words(result: Result) -> None:
    first = releases()[0]
    assert first.room is not None
    room = replace(first.room, near=1e-9 * first.room.near, far=0.0 * first.room.far,
                   near_highest=1e-9 * first.room.near_highest)  # fmt: skip
    with style():
        (sheet,) = exposures(_with(result, releases=(replace(first, room=room),)))
    assert "below 1e-6 ppm at all times" in _all_text(sheet)


def test_recovery_marks_the_three_times_and_survives_never(result: Result) -> None:
    recovery = _given(result).recovery
    assert recovery is not None
    with style():
        sheet = recovery_curve(result)
        never = recovery_curve(_with(result, recovery=replace(recovery, time=None, why="")))
    assert sheet is not None
    legend = sheet.figure.axes[0].get_legend()
    assert legend is not None
    texts = [item.get_text() for item in legend.get_texts()]
    assert texts[2:] == ["1 in 100 at the worst place: 13 s", "if fully mixed: 8.7 s",
                         "as a piston: 1.9 s"]  # fmt: skip
    assert never is not None
    assert "does not stay below" in never.reading


def test_shares_are_told_no_finer_than_they_are_known() -> None:
    assert [percent(value) for value in (-2e-5, 9e-4, 0.0012, 0.0442, 0.9996)] == [
        "below 0.1 %", "below 0.1 %", "0.12 %", "4.4 %", "100 %"]  # fmt: skip
    assert [power(value) for value in (3e-30, 3.4e-8, 0.02)] == ["below 1e-9", "3e-8", "2.0 %"]
    assert [ppm_text(value) for value in (3.21e-6, 0.0012, 5.0, 250.0)] == [
        "3e-6", "0.0012", "5", "250"]  # fmt: skip


def test_signs_of_mathematics_and_long_names_stay_text(result: Result) -> None:
    name = "a$b$_{x" + " and so on" * 4
    changed = _with(
        result,
        releases=tuple(replace(item, label=name, liquid=name) for item in releases()),
        workpieces=tuple(replace(item, label=name) for item in workpieces()),
    )
    with style():
        made = (escape_plan(changed), escape_certainty(changed), class_bars(changed),
                particle_paths(changed), ingress_plan(changed), *exposures(changed))  # fmt: skip
        for sheet in made:
            assert sheet is not None
            assert drawn(sheet.figure).shape[1] > 500
    assert name in _all_text(made[0])


def test_pictures_of_transport_are_repeatable(result: Result) -> None:
    first = [item for item in draw_pictures(result) if item.name in STORY]
    again = [item for item in draw_pictures(result) if item.name in STORY]
    assert [item.png for item in first] == [item.png for item in again]
    assert imread(io.BytesIO(first[0].png)).shape[1] == 860


def test_ingress_reads_the_worst_workpiece_and_the_oldest_air(result: Result) -> None:
    with style():
        plan, side = ingress_plan(result), ingress_section(result)
    assert plan is not None
    assert side is not None
    assert "over the worst workpiece, mirror blank at the front" in plan.reading
    assert "2e-4" in plan.reading
    assert "oldest air of the section" in side.reading
    assert any(text.startswith("oldest ") for text in _texts(side.figure))
