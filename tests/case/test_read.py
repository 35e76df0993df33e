"""Cases from files and mappings, changed values, and the hash of a case."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowsim.case.read import case_from_mapping, case_hash, change_case, read_case
from flowsim.errors import CaseError

STARTER = Path(str(files("flowsim.case").joinpath("starter.toml")))
MAPPING: dict[str, Any] = {
    "format": 1,
    "title": "mapping",
    "chamber": {"width": 1.3, "depth": "650 mm", "height": np.float64(0.75)},
    "openings": [
        {
            "label": "front slot",
            "wall": "front",
            "offset": 0.0,
            "bottom": 0.0,
            "width": 1.0,
            "height": "160 mm",
        }
    ],
}


def test_starter_is_read_in_si() -> None:
    case = read_case(STARTER)
    assert case.chamber.width == 0.9
    assert case.room.temperature == pytest.approx(293.15)
    assert case.openings[0].height == pytest.approx(0.11)
    assert case.compartments[0].floor is not None
    assert case.limits.compartment_pressure is not None
    assert case.limits.compartment_pressure.max == -0.5


def test_starter_names_no_key_that_is_unknown_in_its_remarks(tmp_path: Path) -> None:
    text = STARTER.read_text(encoding="utf-8")
    active = "\n".join(
        line.removeprefix("# ") if line.startswith(("# [[", "# [mixing", "# label", "# offset",
        "# wid", "# dep", "# hei", "# draught", "# state", "# bottom = \"60", "# person", "# share",
        "# intensity", "# eddy_size", "# in_use")) else line
        for line in text.splitlines()
    )  # fmt: skip
    (tmp_path / "all.toml").write_text(active, encoding="utf-8")
    case = read_case(tmp_path / "all.toml")
    assert case.objects[0].label == "clamp stand"
    assert case.room.draught == 0.1
    assert case.dust is not None
    assert case.dust.sources[0].share == pytest.approx(0.1)
    assert "intensity" in case.mixing.model_fields_set


def test_mapping_takes_si_strings_and_numpy() -> None:
    case = case_from_mapping(MAPPING)
    assert (case.chamber.width, case.chamber.depth, case.chamber.height) == (1.3, 0.65, 0.75)


def test_mapping_faults_carry_key_paths() -> None:
    faulty = {**MAPPING, "chamber": {"width": -1.0, "depth": 0.65, "hight": 1.0}}
    with pytest.raises(CaseError, match=r"chamber.width: is too small") as caught:
        case_from_mapping(faulty, "bench")
    assert [fault.key for fault in caught.value.faults] == ["chamber.hight", "chamber.width"]
    assert "did you mean 'height'?" in str(caught.value)


def test_changes_of_a_file_by_label_index_and_new_table() -> None:
    changes = {
        "openings.front.height": "120 mm",
        "leaks[0].gap.height": "0.5 mm",
        "limits.draw_ratio": "{ max = 1.1 }",
        "limits.downflow_min.min": "0.2 m/s",
        "numerics.cells": "[10, 10, 10]",
        "numerics.fidelity": "network",
        "exhaust.running": "false",
        "title": "1",
    }
    case = read_case(STARTER, changes)
    assert case.openings[0].height == pytest.approx(0.12)
    assert case.leaks[0].gap is not None
    assert case.leaks[0].gap.height == pytest.approx(5e-4)
    assert case.limits.draw_ratio is not None
    assert case.limits.draw_ratio.max == 1.1
    assert case.limits.downflow_min is not None
    assert case.numerics.cells == (10, 10, 10)
    assert case.numerics.fidelity == "network"
    assert case.exhaust is not None
    assert case.exhaust.running is False
    assert case.title == "1"


def test_a_change_takes_out_what_it_replaces() -> None:
    case = read_case(STARTER, {"work_surface.hole_count": "900", "supply.face_velocity": "90 fpm"})
    assert case.work_surface is not None
    assert case.work_surface.pitch is None
    assert case.work_surface.hole_count == 900
    assert case.supply is not None
    assert case.supply.fan is None
    faster = read_case(STARTER, {"supply.fan.speed": "0.9"})
    assert faster.supply is not None
    assert faster.supply.fan is not None
    assert faster.supply.fan.speed_ratio == 0.9


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("openings.frnt.height", "120 mm", "expected one of front; did you mean 'front'?"),
        ("openings[3].height", "120 mm", "has 1 element"),
        ("supply.fliter.width", "1 m", "did you mean 'filter'?"),
        ("chamber.widht", "1 m", "did you mean 'width'?"),
        ("chamber.width.mm", "1 m", "is not a list of tables"),
        ("chamber[0]", "1 m", "is not a list of tables"),
        ("", "1 m", "is not a key path"),
        ("[0].width", "1 m", "is not a key path"),
        ("chamber.width", "1300", "has no unit"),
        ("chamber.width", "13 m3", "is a volume, not a length"),
        ("exhaust.flow", "-1 m3/h", "is too small"),
        ("exhaust.running", "no", "is neither true nor false"),
    ],
)
def test_a_faulty_change_is_named(key: str, value: str, words: str) -> None:
    with pytest.raises(CaseError, match=r".") as caught:
        read_case(STARTER, {key: value})
    assert words in str(caught.value)
    assert caught.value.faults[0].line is None


def test_faults_of_file_and_changes_are_listed_together(tmp_path: Path) -> None:
    text = STARTER.read_text(encoding="utf-8").replace('height = "600 mm"', 'height = "600"')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match=r"chamber.height: has no unit") as caught:
        read_case(tmp_path / "case.toml", {"exhaust.flow": "3 Pa"})
    assert [fault.key for fault in caught.value.faults] == ["exhaust.flow", "chamber.height"]
    assert "[changed, not as in the file]" in caught.value.faults[0].message


def test_change_case_leaves_the_case_as_it_was() -> None:
    case = read_case(STARTER)
    changed = change_case(
        case, {"work_surface.hole_diameter": 0.005, "openings[0].height": "100 mm", "exhaust": None}
        | {"plenum": None, "work_surface": None, "compartments": [], "releases": []}
    )  # fmt: skip
    assert case.work_surface is not None
    assert case.work_surface.hole_diameter == pytest.approx(0.006)
    assert changed.exhaust is None
    assert changed.openings[0].height == pytest.approx(0.1)


def test_change_case_keeps_everything_else() -> None:
    case = read_case(STARTER)
    assert change_case(case, {}) == case
    assert change_case(case, {"chamber.width": 0.95}).plenum == case.plenum


def test_hash_follows_the_figures_and_not_the_spelling() -> None:
    case = read_case(STARTER)
    same = read_case(STARTER, {"chamber.width": "90 cm"})
    other = read_case(STARTER, {"chamber.width": "901 mm"})
    assert len(case_hash(case)) == 64
    assert case_hash(case) == case_hash(same)
    assert case_hash(case) != case_hash(other)


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    text = STARTER.read_text(encoding="utf-8").replace("\n", "\r\n").replace('"600 mm"', '"600"')
    (tmp_path / "case.toml").write_bytes(b"\xef\xbb\xbf" + text.encode())
    with pytest.raises(CaseError, match=r"chamber.height: has no unit") as caught:
        read_case(tmp_path / "case.toml")
    line = STARTER.read_text(encoding="utf-8").splitlines().index('height = "600 mm"') + 1
    assert caught.value.faults[0].line == line


def test_values_of_a_file_are_never_evaluated(tmp_path: Path) -> None:
    text = STARTER.read_text(encoding="utf-8")
    text = text.replace("Eyepiece bench", "{__import__('os').getcwd()} {0} %s")
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert read_case(tmp_path / "case.toml").title == "{__import__('os').getcwd()} {0} %s"


@pytest.mark.parametrize("sign", ["\u001b[31m", "\u0000", "\u202e", "\u2066"])
def test_signs_that_steer_a_terminal_are_refused(sign: str) -> None:
    """A title from a stranger's file must not reach the terminal raw."""
    with pytest.raises(CaseError, match="control character U\\+"):
        case_from_mapping(
            {
                "format": 1,
                "title": f"bench {sign}",
                "chamber": {"width": 1.0, "depth": 0.6, "height": 0.7},
            }
        )


def test_measuring_height_that_was_not_stated_fits_a_low_chamber() -> None:
    """No fault at a key that the user never wrote."""
    case = case_from_mapping(
        {"format": 1, "title": "low", "chamber": {"width": 1.0, "depth": 0.6, "height": 0.1}}
    )
    assert case.measure_height == pytest.approx(0.05)
