"""Drill tables, SVG and DXF of a plate."""

from __future__ import annotations

import csv
import io
import math
from collections import Counter
from typing import Any
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest

from flowsim.report.drill_drawing import plate_dxf, plate_svg
from flowsim.report.drill_result import Floor, Part, Pattern, TubeHoles
from flowsim.report.drill_tables import drill_table, tube_drill_table

SVG = "{http://www.w3.org/2000/svg}"
TRAY = Part('tray <b> & "é"\x01', "tray", 0.2, 0.5, 0.1, 0.3)
SHEET = Part("sheet", "covered", 0.6, 0.7, 0.1, 0.2)
PORT = Part("sump", "port", 0.3, 0.4, 0.2, 0.3)
FLOOR = Floor(
    1.0,
    0.4,
    0.012,
    (0.02, 0.98, 0.02, 0.38),
    (TRAY, SHEET),
    ("right end",),
    (("right", 0.1, 0.3), ("back", 0.2, 0.4)),
    (PORT,),
)


@pytest.fixture(scope="module")
def pattern() -> Pattern:
    x, y = np.meshgrid(0.05 + 0.1 * np.arange(10), 0.05 + 0.1 * np.arange(4))
    place = tuple("under tray" if k in (12, 13) else "" for k in range(40))
    size = 6.35e-3
    area = 40 * 0.25 * math.pi * size**2
    return Pattern(
        x.ravel(), y.ravel(), size, "square", 10, 4, (0.1, 0.1), 0.1, 0.09, 0.05, place, 0, area
    )


@pytest.fixture(scope="module")
def drawing(pattern: Pattern, tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("dxf") / "plate.dxf"
    path.write_text(plate_dxf(FLOOR, pattern), encoding="ascii")
    return ezdxf.readfile(path)


def test_dxf_is_sound(drawing: Any) -> None:
    audit = drawing.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    assert drawing.dxfversion == "AC1009"
    assert drawing.header["$INSUNITS"] == 4


def test_dxf_has_every_hole_on_its_layer(drawing: Any, pattern: Pattern) -> None:
    kinds = Counter((item.dxf.layer, item.dxftype()) for item in drawing.modelspace())
    assert kinds["HOLES", "CIRCLE"] == pattern.count
    assert kinds["OUTLINE", "LINE"] == 4
    assert {layer for layer, _ in kinds} == {"OUTLINE", "HOLES", "MARKS"}
    circles = drawing.modelspace().query("CIRCLE")
    found = sorted((item.dxf.center.x, item.dxf.center.y) for item in circles)
    wanted = sorted(zip((1e3 * pattern.x).tolist(), (1e3 * pattern.y).tolist(), strict=True))
    assert np.array(found) == pytest.approx(np.array(wanted), abs=1e-3)
    assert {item.dxf.radius for item in circles} == {3.175}


def test_dxf_outline_scale_bar_and_datum(drawing: Any) -> None:
    lines = {
        (tuple(item.dxf.start)[:2], tuple(item.dxf.end)[:2], item.dxf.layer)
        for item in drawing.modelspace().query("LINE")
    }
    assert ((0.0, 0.0), (1000.0, 0.0), "OUTLINE") in lines
    assert ((1000.0, 400.0), (0.0, 400.0), "OUTLINE") in lines
    assert ((0.0, -30.0), (100.0, -30.0), "MARKS") in lines
    assert ((-12.0, 0.0), (12.0, 0.0), "MARKS") in lines
    texts = " ".join(item.dxf.text for item in drawing.modelspace().query("TEXT"))
    assert "100 mm" in texts
    assert "datum" in texts
    assert "no holes" in texts
    assert "\\U+00E9" in texts


def test_svg_is_at_full_size(pattern: Pattern) -> None:
    root = ElementTree.fromstring(plate_svg(FLOOR, pattern, "a <title> & more"))
    assert root.attrib["width"] == "1060mm"
    wide, tall = root.attrib["viewBox"].split()[2:]
    assert f"{wide}mm" == root.attrib["width"]
    assert f"{tall}mm" == root.attrib["height"]
    groups = {item.attrib.get("id"): item for item in root.iter(f"{SVG}g")}
    circles = list(groups["HOLES"].iter(f"{SVG}circle"))
    assert len(circles) == pattern.count
    assert {float(item.attrib["r"]) for item in circles} == {3.175}
    box = next(groups["OUTLINE"].iter(f"{SVG}rect"))
    across = [float(item.attrib["cx"]) - float(box.attrib["x"]) for item in circles]
    low = float(box.attrib["y"]) + float(box.attrib["height"])
    up = [low - float(item.attrib["cy"]) for item in circles]
    # seen from above with the front below
    assert across == pytest.approx((1e3 * pattern.x).tolist())
    assert up == pytest.approx((1e3 * pattern.y).tolist())
    assert (float(box.attrib["width"]), float(box.attrib["height"])) == (1000.0, 400.0)


def test_drill_table_has_the_solved_area(pattern: Pattern) -> None:
    rows = list(csv.reader(io.StringIO(drill_table(pattern))))
    assert rows[0] == ["number", "x [mm]", "y [mm]", "diameter [mm]", "remark"]
    assert [int(row[0]) for row in rows[1:]] == list(range(1, 41))
    area = math.fsum(0.25 * math.pi * (1e-3 * float(row[3])) ** 2 for row in rows[1:])
    # the drawn area is the solved one, to round-off
    assert area == pytest.approx(pattern.solved_area, rel=1e-12)
    assert [float(row[1]) for row in rows[1:]] == pytest.approx((1e3 * pattern.x).tolist())
    assert [row[4] for row in rows[1:]].count("under tray") == 2


def test_tube_table_goes_row_by_row() -> None:
    tube = TubeHoles(0.14, 1.25, 3e-3, 0.3, 0.014, 4, 10, 0.125, 0.02, 0.8, "right", 14.0)
    rows = list(csv.reader(io.StringIO(tube_drill_table(tube))))
    assert rows[0] == ["number", "x [mm]", "angle [deg]", "diameter [mm]"]
    assert len(rows) == 41
    assert rows[1] == ["1", "62.50", "45", "14"]
    assert rows[-1] == ["40", "1187.50", "315", "14"]
