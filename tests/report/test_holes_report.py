"""Text, page, pictures and files of a plan of holes."""

from __future__ import annotations

import csv
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from hole_plans import fan_plan

from flowsim.errors import OutputError
from flowsim.report.cautions import CAUTIONS
from flowsim.report.drill_result import TubeHoles
from flowsim.report.figures_holes import hole_pictures
from flowsim.report.holes_answer import answer, exhaust_words, front_words
from flowsim.report.holes_page import holes_page
from flowsim.report.holes_result import Exhausting, FigureRow, HolePlan
from flowsim.report.holes_tables import figure_cells, size_cells
from flowsim.report.holes_text import commands, holes_text
from flowsim.report.holes_words import other_words, pattern_words
from flowsim.report.write_holes import drill_files, write_holes

NASTY = 'a <script>x</script> & "b"'


@pytest.fixture(scope="module")
def plan() -> HolePlan:
    return fan_plan()


@pytest.fixture(scope="module")
def folder(plan: HolePlan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("holes") / "out"
    write_holes(replace(plan, title=NASTY), place, "my bench.toml")
    return place


def test_answer_stands_in_the_first_five_lines(plan: HolePlan) -> None:
    lines = holes_text(plan).splitlines()[:5]
    assert lines == answer(plan)
    count = plan.chosen.pattern.count
    assert lines[1].startswith(f"Drill {count} holes of ")
    assert ": met." in lines[2]
    assert "Pa at today's" in lines[3]
    assert "Graded plate:" in lines[3]
    assert lines[4].startswith("Exhaust: set the fan from 84.0 % speed to")
    assert max(map(len, lines)) < 125


def test_text_says_what_the_front_does(plan: HolePlan) -> None:
    words = " ".join(front_words(plan))
    assert "the front blows outwards everywhere, as today" in words
    assert "balance margin" in words


def test_text_never_promises(plan: HolePlan) -> None:
    text = holes_text(plan).lower()
    assert not any(word in text for word in ("safe", "certified", "compliant"))
    assert "perry" in text
    assert "cosh" in text


def test_front_that_turns_is_named(plan: HolePlan) -> None:
    rows = [
        replace(row, values=(0.0, 0.4, 0.0)) if row.name == "front_inflow_share" else row
        for row in plan.figures
    ]
    words = " ".join(front_words(replace(plan, figures=tuple(rows))))
    assert "draws in over 40.0 % of its area (today 0 %)" in words


@pytest.mark.parametrize(
    ("exhaust", "words"),
    [
        (Exhausting("fan", 0.84, None, None, True, {}), "at no speed"),
        (Exhausting("fan", 0.84, 1.2, None, True, {}), "a stronger fan is needed"),
        (Exhausting("fan", 0.84, 0.9, 50.0, False, {}), "from 42.0 Hz to 45.0 Hz"),
        (Exhausting("suction", 150.0, 201.3, None, False, {}), "from 150.0 Pa to 201.3 Pa"),
        (Exhausting("flow", 0.2, 0.2, None, False, {}), "the case fixes its flow"),
    ],
)
def test_exhaust_in_words(plan: HolePlan, exhaust: Exhausting, words: str) -> None:
    assert words in exhaust_words(replace(plan, exhaust=exhaust))


def test_exhaust_that_may_stay_as_it_is(plan: HolePlan) -> None:
    same = replace(plan, left_alone=replace(plan.today))
    assert "leave it as it is set" in exhaust_words(same)


def test_ceiling_in_words(plan: HolePlan) -> None:
    chosen = replace(plan.chosen, state="not met", within=True)
    held = replace(plan, ceiling=60.0, chosen=chosen, needed=plan.chosen.point)
    lines = answer(held)
    assert "not met under the ceiling; 1.10 takes" in lines[2]
    assert "at most 60.0 Pa wanted" in lines[3]


def test_sizes_say_what_is_over_the_ceiling(plan: HolePlan) -> None:
    row = next(row for row in plan.sizes if row.proposal is not None)
    assert row.proposal is not None
    over = replace(row, proposal=replace(row.proposal, within=False))
    assert size_cells(over)[-1] == "met, over the ceiling"
    assert size_cells(row)[-1] == "met"


def test_figures_name_only_what_is_not_met() -> None:
    row = FigureRow("draw_ratio", "-", (1.2, 1.1), "at most 1.15", ("not met", "met"))
    assert figure_cells(row) == ("draw ratio", "at most 1.15", "1.20, not met", "1.10")


def test_triangular_pattern_in_words(plan: HolePlan) -> None:
    pattern = replace(plan.chosen.pattern, arrangement="triangular", left_out=7)
    words = pattern_words(pattern)
    assert "less 7 left out" in words
    assert "every other row shifted" in words


def test_graded_plate_says_what_it_rests_on(plan: HolePlan) -> None:
    words = " ".join(other_words(plan, plan.others[0]))
    assert "wrong where they are wrong" in words
    assert "Tray -" in words


def test_commands_can_be_pasted(plan: HolePlan) -> None:
    found = dict(commands(plan, "my bench.toml"))
    first = found["new plate, exhaust as set"]
    assert first.startswith("flowsim run 'my bench.toml' \\\n  --set work_surface.hole_diameter='")
    changed = replace(plan, given={"room.draught": "0.2 m/s"})
    assert "--set room.draught='0.2 m/s'" in dict(commands(changed))["new plate, exhaust as set"]
    both = found["new plate, exhaust reset to keep today's flow"]
    assert "--set exhaust.fan.speed='" in both


def test_folder_is_whole(plan: HolePlan, folder: Path) -> None:
    names = {item.name for item in folder.iterdir()}
    drawings = {"drill_table.csv", "plate.svg", "plate.dxf"}
    graded = {f"graded_{name}" for name in drawings}
    assert names == {"holes.json", "holes.html", "commands.txt", "figures"} | drawings | graded
    pictures = {item.name for item in (folder / "figures").iterdir()}
    assert pictures == {"trade_off.png", "plate.png", "draw_along_width.png", "graded_plate.png"}
    assert set(drill_files(plan)) == drawings | graded


def test_document_is_strict_and_agrees_with_the_table(plan: HolePlan, folder: Path) -> None:
    text = (folder / "holes.json").read_text(encoding="utf-8")
    assert "NaN" not in text
    assert "Infinity" not in text
    data = json.loads(text)
    assert data["format"] == 1
    assert data["wanted_draw_ratio"] == 1.1
    chosen = data["chosen"]
    with (folder / chosen["drill_table"]).open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert len(rows) == chosen["pattern"]["count"] == plan.chosen.pattern.count
    area = math.fsum(0.25 * math.pi * (1e-3 * float(row["diameter [mm]"])) ** 2 for row in rows)
    # drill table against the solved area, to round-off
    assert area == pytest.approx(chosen["pattern"]["solved_area"], rel=1e-12)


def test_page_escapes_and_stands_alone(folder: Path) -> None:
    page = (folder / "holes.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert CAUTIONS[0][:40] in page
    assert "my bench.toml" in page
    words = re.sub(r"base64,[^\"]*", "", page).lower()
    assert not any(word in words for word in ("safe", "certified", "compliant"))


def test_earlier_plan_is_replaced_and_other_things_are_not(
    plan: HolePlan, folder: Path, tmp_path: Path
) -> None:
    write_holes(plan, folder)
    (tmp_path / "mine.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(OutputError, match="holds no earlier results"):
        write_holes(plan, tmp_path)
    assert [item.name for item in tmp_path.iterdir()] == ["mine.txt"]


def test_plate_with_a_tube_has_its_own_files(plan: HolePlan) -> None:
    tube = TubeHoles(0.14, 1.25, 3e-3, 0.325, 0.014, 4, 30, 1.25 / 30, 0.02, 0.9, "right", 14.0)
    item = replace(plan.chosen, kind="tube", tube=tube)
    both = replace(plan, others=(item,))
    assert "tube_drill_table.csv" in drill_files(both)
    names = [picture.name for picture in hole_pictures(both)]
    assert names == ["trade_off", "plate", "draw_along_width", "plate_with_tube"]
    page = holes_page(both, [], (), "bench.toml")
    assert "120 holes of 14 mm" in page
