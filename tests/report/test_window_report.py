"""Files, page, pictures and words of the window of settings, from windows made by hand."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowsim.errors import OutputError
from flowsim.report.figures_window import window_pictures, window_sheets
from flowsim.report.window_page import window_page
from flowsim.report.window_result import (
    Border,
    Conflict,
    Drift,
    Follow,
    FollowStep,
    Outside,
    SetPoint,
    Setting,
    Side,
    Together,
    Verdict,
    Window,
    WindowMap,
)
from flowsim.report.window_text import window_text
from flowsim.report.window_words import end_text, flip_texts, percent_text, sides_text
from flowsim.report.write_window import window_document, write_window

SUPPLY = Setting("supply.fan.frequency", "supply fan", "Hz", 1.0, 37.0, 20.0, 55.0, 50.0, 0.03)
EXHAUST = Setting("exhaust.fan.speed", "exhaust fan", "%", 100.0, 0.84, 0.4, 1.1, 1.0, 0.03)
LOADING = Setting(
    "supply.filter.loading", "filter loading", "times the clean drop", 1.0, 1.0, 1.0, 2.0, 2.0, 0.03
)
FAST = Outside(("front velocity max at most 0.450 m/s",), "not met")
DARK = Outside(
    ("front velocity max at most 0.450 m/s", "balance margin at least 5.00 %"), "not shown"
)


def hand_map(axes: tuple[Setting, ...], slopes: tuple[float, ...]) -> WindowMap:
    """Return a map with a band of met settings between two straight borders."""
    values = tuple(np.geomspace(axis.low, axis.high, 41) for axis in axes)
    grids = np.meshgrid(*values, indexing="ij")
    rise = sum(slope * grid for slope, grid in zip(slopes, grids, strict=True))
    fast, turn = np.asarray(12.0 - rise), np.asarray(rise - 2.0)
    borders = (
        Border("front velocity max at most 0.450 m/s", "limit", fast, _on(values)),
        Border("front figures shown (why)", "shown", turn - 1.0, _on(values), True),
        Border("flip line: part of the front begins to draw in", "flip", turn, _on(values)),
    )
    met = np.minimum(fast, turn - 1.0)
    solved = _on(values)
    return WindowMap(
        axes, values, met, np.minimum(fast, turn), borders, solved, ("met",) * len(solved)
    )


def _on(values: tuple[Any, ...]) -> Any:
    return np.stack([part[10:30:5] for part in values], axis=1)


def point(values: tuple[float, ...], drift: Drift | None, state: Any = "met") -> SetPoint:
    """Return a set point."""
    verdicts = (
        Verdict("front velocity max at most 0.450 m/s", "0.3 m/s", state, True),
        Verdict("ISO class <b> at most 6.00", "5.1", "met", False),
    )
    return SetPoint(values, state, verdicts, drift, {"supply_flow": 0.22})


def drift(values: tuple[float, ...]) -> Drift:
    """Return drifts of 8.19 % down and 9.01 % up."""
    alone = tuple(
        (Side(0.0819, v * (1 - 0.0819), DARK), Side(0.0901, v * 1.0901, FAST)) for v in values
    )
    corner = (1, -1)[: len(values)]
    return Drift(alone, Together(1.9, (0.057,) * len(values), corner, FAST))


@pytest.fixture
def found() -> Window:
    best, now = (33.1, 0.647), (37.0, 0.84)
    steps = (
        FollowStep(1.0, 33.1, "met", 30.0, 36.0),
        FollowStep(1.5, 36.9, "met", 33.0, 39.0),
        FollowStep(2.0, None, None, None, None),
    )
    follow = Follow(
        "supply.filter.loading", "supply filter", 1.0, best, 0, 0.2237,
        hand_map((LOADING, SUPPLY), (-7.0, 1.0)), steps, 1.42, DARK,
    )  # fmt: skip
    return Window(
        title="Bench <1>",
        question="What to set?",
        case_hash="0123456789abcdef",
        fidelity="stacked",
        axes=(SUPPLY, EXHAUST),
        assumed_hold=True,
        map=hand_map((SUPPLY, EXHAUST), (1.0, -40.0)),
        present=point(now, drift(now)),
        proposed=point(best, drift(best)),
        conflict=None,
        follow=follow,
        still="",
        left_out=("ISO class: judged at the proposed set point alone",),
        notes=(),
        solves={"map": 60, "full": 1},
    )


def test_the_first_five_lines_answer(found: Window) -> None:
    assert window_text(found).splitlines()[:5] == [
        "Set supply fan 33.1 Hz, exhaust fan 64.7 %: every limit met, vapour and dust too.",
        "May drift alone: supply fan 30.4 to 36.0 Hz (-8.1/+9.0 %), exhaust fan 59.5 to 70.5 % "
        "(-8.1/+9.0 %).",
        "Both together: +-5.7 %, 1.9 times the 3 % assumed to be held. Vapour and dust not mapped.",
        "Breaks first: supply fan too low: front figures not shown; too high: front velocity max "
        "not met;",
        "exhaust fan too low: front figures not shown; too high: front velocity max not met.",
    ]


def test_ends_are_never_rounded_out_of_what_was_found() -> None:
    assert end_text(SUPPLY, 30.389, up=True) == "30.4"
    assert end_text(SUPPLY, 30.311, up=True) == "30.4"
    assert end_text(SUPPLY, 36.089, up=False) == "36.0"
    assert percent_text(0.0899) == "8.9 %"
    ends = (Side(0.10, 90.0, None), Side(0.2, 120.0, None))
    assert sides_text(ends) == "-10 or more/+20 % or more"


def test_less_than_can_be_held_is_said(found: Window) -> None:
    assert found.proposed.drift is not None
    small = replace(found.proposed.drift.together, times=0.4, shares=(0.012, 0.012))
    weak = replace(found.proposed, drift=replace(found.proposed.drift, together=small))
    assert "less than the 3 % assumed to be held" in window_text(replace(found, proposed=weak))


def test_loading_is_told_with_where_it_cannot_follow(found: Window) -> None:
    text = " ".join(window_text(found).split())
    assert "keep 805 m3/h through it: supply fan 33.1 Hz at 1, 36.9 Hz at 1.5." in text
    assert "At a loading of 2 and more it cannot: that takes more than supply fan 50.0 Hz." in text
    assert "it holds up to a loading of 1.42; then front figures not shown." in text


def test_flip_is_read_off_the_map(found: Window) -> None:
    """On the map by hand the front turns at supply - 40 exhaust = 2."""
    border = next(item for item in found.map.borders if item.kind == "flip")
    told = flip_texts(found.map, border, (33.1, 0.647))
    assert told[0] == "supply fan 27.9 Hz"
    assert told[1] == "exhaust fan 77.8 %"


def test_vapour_that_is_not_met_comes_first(found: Window) -> None:
    bad = Verdict("vapour escape share at most 1.00 %", "14 %", "not met", False)
    worse = replace(found.proposed, verdicts=(*found.proposed.verdicts, bad))
    lines = window_text(replace(found, proposed=worse)).splitlines()
    assert lines[0].startswith("No setting was found at which the limits on vapour and dust")
    assert "vapour escape share not met" in f"{lines[1]} {lines[2]}"


def test_conflict_is_told(found: Window) -> None:
    conflict = Conflict(("a at most 1",), ("b at least 2",), ("c at most 3", "d at least 4"),
                        (0.03, 0.04))  # fmt: skip
    least = point((33.1, 0.647), None, "not met")
    text = window_text(replace(found, proposed=least, conflict=conflict, follow=None, still="no"))
    for words in ("No setting on the map is shown to meet every limit.", "gives no verdict",
                  "These exclude each other: c at most 3 / d at least 4.", "Least bad: supply fan",
                  "No setting on the map meets a at most 1."):  # fmt: skip
        assert words in text
    assert "Limit                                 least bad" in text


def test_pictures_are_drawn_the_same_twice(found: Window) -> None:
    first, second = window_pictures(found), window_pictures(found)
    assert [item.name for item in first] == ["window_map", "drifts", "loading"]
    assert [item.png for item in first] == [item.png for item in second]


def test_every_border_is_named_on_the_map(found: Window) -> None:
    sheet = window_sheets(found)[0]
    axes, side = sheet.figure.axes[:2]
    drawn = " ".join(text.get_text().replace("\n", " ") for text in axes.texts)
    legend = side.get_legend()
    assert legend is not None
    listed = " ".join(text.get_text().replace("\n", " ") for text in legend.get_texts())
    for border in found.map.borders:
        assert border.name.split(" (")[0] in drawn
        assert border.name in listed
    assert "dotted: not within 1 %" in listed


def test_one_setting_alone_is_drawn_as_bars(found: Window) -> None:
    alone = replace(
        found, axes=(SUPPLY,), map=hand_map((SUPPLY,), (0.25,)), follow=None, still="why",
        present=point((37.0,), drift((37.0,))), proposed=point((40.0,), drift((40.0,))),
    )  # fmt: skip
    names = [item.name for item in window_pictures(alone)]
    assert names == ["window_map", "drifts"]
    assert window_text(alone).splitlines()[2].startswith("Either way: +-5.7 %")


def test_page_holds_answer_and_pictures_and_escapes(found: Window) -> None:
    page = window_page(found, window_pictures(found))
    assert "Bench &lt;1&gt;" in page
    assert "ISO class &lt;b&gt;" in page
    assert page.count("data:image/png;base64,") == 3
    assert "Set supply fan 33.1 Hz" in page
    assert "http" not in page


def test_document_is_strict_json_in_si(found: Window) -> None:
    document = json.loads(json.dumps(window_document(found), allow_nan=False))
    assert document["format"] == 1
    assert document["proposed"]["settings"] == {
        "supply.fan.frequency": 33.1, "exhaust.fan.speed": 0.647,
    }  # fmt: skip
    assert document["proposed"]["drift"]["together"]["times"] == 1.9
    assert document["loading"]["holds_up_to"] == 1.42
    assert document["solves"]["all"] == 61
    assert len(document["map"]["borders"]) == 3


def test_folder_is_written_whole_or_not(found: Window, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    write_window(found, folder)
    names = sorted(str(item.relative_to(folder)) for item in folder.rglob("*.*"))
    assert names == [
        "figures/drifts.png", "figures/loading.png", "figures/window_map.png",
        "window.html", "window.json",
    ]  # fmt: skip
    write_window(found, folder)
    (folder / "mine.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(OutputError, match=r"mine\.txt"):
        write_window(found, folder)
    assert (folder / "mine.txt").read_text(encoding="utf-8") == "keep"
