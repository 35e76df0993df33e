from __future__ import annotations

import io
import sys
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.image import imread
from report.synthetic_result import BRANCHES, PARTS, build, network_only, section

from flowsim.report._kit import Sheet, png_bytes, style
from flowsim.report._network_layout import BOUNDARIES, plan_sketch
from flowsim.report.figures import draw_pictures, draw_sheets
from flowsim.report.figures_front import front_profiles
from flowsim.report.figures_network import network_sketch
from flowsim.report.figures_plan import downflow_plan
from flowsim.report.figures_plenum import plate_draw
from flowsim.report.figures_section import side_section
from flowsim.simulate.result import BranchState, Result

FULL = ["front_profile", "side_section", "downflow_plan", "plate_draw", "plate_map", "tube_draw",
        "network_sketch"]  # fmt: skip


@pytest.fixture(scope="module")
def result() -> Result:
    return build(tube=True)


@pytest.fixture(scope="module")
def sheets(result: Result) -> dict[str, Sheet]:
    with style():
        return {sheet.name: sheet for sheet in draw_sheets(result)}


def _texts(figure: Figure) -> list[str]:
    found = [item for axes in figure.axes for item in axes.texts]
    labels = [axes.get_xlabel() for axes in figure.axes] + [
        axes.get_ylabel() for axes in figure.axes
    ]
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    top = [figure.get_suptitle(), *(item.get_text() for item in figure.texts)]
    return [*(item.get_text() for item in found), *labels, *titles, *top]


def _legend(figure: Figure) -> list[str]:
    legends = [axes.get_legend() for axes in figure.axes]
    return [item.get_text() for legend in legends if legend for item in legend.get_texts()]


def test_every_figure_of_a_full_result_is_drawn(sheets: dict[str, Sheet]) -> None:
    assert list(sheets) == FULL


def test_network_alone_gives_the_sketch_only() -> None:
    assert [item.name for item in draw_pictures(network_only())] == ["network_sketch"]


def test_no_figure_where_its_data_is_missing(result: Result) -> None:
    bare = replace(result, plate=None, tube=None, downflow=None, branches=(), openings=())
    with style():
        assert [sheet.name for sheet in draw_sheets(bare)] == ["side_section"]


@pytest.mark.parametrize("name", FULL)
def test_titles_ask_and_units_stand_on_the_axes(sheets: dict[str, Sheet], name: str) -> None:
    sheet = sheets[name]
    assert sheet.title.endswith("?")
    assert sheet.reading.endswith(".")
    assert any(sheet.title in text for text in _texts(sheet.figure))
    if name != "network_sketch":
        labels = [axes.get_ylabel() for axes in sheet.figure.axes]
        assert all("[m/s]" in text or "[m]" in text or "[Pa]" in text or "[m3/h" in text
                   for text in labels)  # fmt: skip


def test_figures_leave_no_global_state(sheets: dict[str, Sheet]) -> None:
    assert "matplotlib.pyplot" not in sys.modules
    assert all(isinstance(sheet.figure.canvas, FigureCanvasAgg) for sheet in sheets.values())


def test_front_shows_out_and_in_and_the_mean(sheets: dict[str, Sheet]) -> None:
    texts = _texts(sheets["front_profile"].figure)
    assert {"out", "in"} <= set(texts)
    assert any(text.startswith("mean ") for text in _legend(sheets["front_profile"].figure))


def test_front_line_carries_the_station_velocities(result: Result) -> None:
    with style():
        (sheet,) = front_profiles(result)
    profile = result.openings[0]
    filled = sheet.figure.axes[0].collections[0].get_paths()[0].vertices[:, 1]
    assert np.isclose(filled.max(), profile.velocity.max())


def test_words_say_where_a_front_draws_in() -> None:
    with style():
        (turned,) = front_profiles(build(inward_share=0.3))
    assert "draws in along" in turned.reading
    with style():
        (whole,) = front_profiles(build())
    assert "blows out along its whole width" in whole.reading


def test_a_layered_front_gets_a_panel_over_its_height() -> None:
    with style():
        (sheet,) = front_profiles(build(layers=6))
    assert len(sheet.figure.axes) == 3
    assert sheet.figure.axes[2].get_ylabel() == "height [m]"


def test_plan_marks_least_most_and_front(result: Result) -> None:
    with style():
        sheet = downflow_plan(result)
    assert sheet is not None
    texts = _texts(sheet.figure)
    assert any(text.startswith("least ") for text in texts)
    assert any(text.startswith("most ") for text in texts)
    assert any("front side" in text for text in texts)
    assert any("mean" in text for text in texts)


def test_plan_puts_the_front_below_and_left_at_zero(result: Result) -> None:
    shape = result.downflow.shape
    plan = np.arange(shape[0] * shape[1], dtype=float).reshape(shape)
    with style():
        sheet = downflow_plan(replace(result, downflow=plan))
    assert sheet is not None
    image = sheet.figure.axes[0].images[0]
    assert image.origin == "lower"
    assert image.get_array()[0, -1] == plan[-1, 0]


def test_section_draws_filter_plate_opening_and_objects() -> None:
    thing = {"label": "beaker", "offset_x": 0.6, "offset_y": 0.3, "width": 0.2, "depth": 0.1,
             "height": 0.15}  # fmt: skip
    with style():
        sheet = side_section(build(objects=[thing], compartments=[]))
    assert sheet is not None
    texts = _texts(sheet.figure)
    assert {"supply filter", "opening\nfront", "beaker"} <= set(texts)
    assert any("plenum" in text for text in texts)
    assert any("streamlines" in text for text in texts)


@pytest.mark.parametrize("axis", [0, 1])
def test_single_sections_are_drawn(axis: int) -> None:
    result = replace(section(build(), axis), plate=None, openings=())
    names = [item.name for item in draw_pictures(result)]
    assert names == ["side_section", "downflow_plan", "network_sketch"]


def test_draw_marks_the_port_and_names_the_ratio(result: Result) -> None:
    with style():
        sheet = plate_draw(result)
    assert sheet is not None
    texts = _texts(sheet.figure)
    assert "port" in texts
    assert any("Draw ratio 1.16" in text for text in texts)


@pytest.mark.parametrize("wall", ["front", "back", "bottom"])
def test_ports_in_other_walls_are_marked(wall: str) -> None:
    port = {"wall": wall, "width": 0.4, "height": 0.09}
    if wall == "bottom":
        port = {"wall": wall, "width": 0.4, "depth": 0.2}
    result = build(plenum={"height": 0.11, "ports": [port]})
    with style():
        sheets = {sheet.name: sheet for sheet in draw_sheets(result)}
    assert f"port ({wall})" in _texts(sheets["plate_draw"].figure)


def test_sketch_shows_flow_and_drop_of_every_branch(sheets: dict[str, Sheet]) -> None:
    text = " ".join(" ".join(_texts(sheets["network_sketch"].figure)).split())
    for branch in BRANCHES:
        assert branch.name in text
    assert "1206 m3/h, +146 Pa" in text
    assert "chamber: 0.310 Pa" in text


def test_sketch_puts_nothing_on_anything_else() -> None:
    plan = plan_sketch(BRANCHES)
    cells = [(node.row, node.lane) for node in plan.nodes]
    for place in plan.branches:
        rows = range(place.upper.row + 1, place.lower.row)
        cells += [(row, place.lane) for row in rows]
    assert len(cells) == len(set(cells))


def test_sketch_runs_from_supply_to_exhaust() -> None:
    rows = {node.name: node.row for node in plan_sketch(BRANCHES).nodes}
    order = ["supply inlet", "supply box", "chamber", "plenum", "exhaust inlet", "exhaust duct end"]
    assert [rows[name] for name in order] == sorted(rows[name] for name in order)
    assert all(node.lane == 0 for node in plan_sketch(BRANCHES).nodes if node.name in order)


def test_sketch_draws_one_box_for_a_boundary_at_each_of_its_branches() -> None:
    plan = plan_sketch(BRANCHES)
    ends = [name for branch in BRANCHES for name in (branch.start, branch.end)]
    drawn = [node for node in plan.nodes if node.name in BOUNDARIES]
    assert len(drawn) == sum(name in BOUNDARIES for name in ends)


def test_sketch_survives_loops_still_air_and_long_names(result: Result) -> None:
    loop = (
        BranchState("there", "a", "b", "duct", 0.0, 0.0),
        BranchState(
            "and back again through a very long and winding duct", "b", "a", "duct", 0.0, 0.0
        ),
        BranchState("room leaks", "outdoors", "room", "leak", 1e-9, 0.0),
    )
    with style():
        sheet = network_sketch(replace(result, branches=loop, nodes={"a": 1.0}))
    assert sheet is not None
    assert png_bytes(sheet.figure)


def test_pictures_are_repeatable_files(result: Result) -> None:
    first, again = draw_pictures(result), draw_pictures(result)
    assert [item.png for item in first] == [item.png for item in again]
    pixels = imread(io.BytesIO(first[0].png))
    assert pixels.shape[0] > 300
    assert pixels.shape[1] > 600


def test_signs_of_mathematics_and_foreign_letters_stay_text() -> None:
    opening = {**PARTS["openings"][0], "label": "a$b$ \u4e2d\u6587_{x"}
    profile = replace(build().openings[0], label=opening["label"])
    result = replace(build(openings=[opening]), openings=(profile, profile))
    pictures = draw_pictures(result)
    assert [item.name for item in pictures][:2] == ["front_profile", "front_profile_2"]
