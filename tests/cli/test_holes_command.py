"""The command holes, on a small bench."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from flowsim.cli import main

STARTER = Path(__file__).parents[2] / "flowsim" / "case" / "starter.toml"
SMALL = ["--set", "numerics.cells=[24, 12, 16]", "numerics.fidelity=stacked"]


@pytest.fixture(autouse=True)
def _here(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)


def test_command_writes_and_answers(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["holes", str(STARTER), "--sizes", "4 mm; 5 mm", "--draw-ratio", "1,05", *SMALL]
    assert main(words) == 0
    captured = capsys.readouterr()
    lines = captured.out.splitlines()
    assert "draw ratio of at most 1.05" in lines[0]
    assert lines[1].startswith("Drill ")
    assert "written to starter.holes" in captured.err
    assert "flowsim: holes of 5 mm" in captured.err
    data = json.loads(Path("starter.holes/holes.json").read_text(encoding="utf-8"))
    assert [row["diameter"] for row in data["sizes"]] == [0.004, 0.005]
    assert data["solves"] < 60
    assert Path("starter.holes/plate.dxf").is_file()


def test_all_faulty_options_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["holes", str(STARTER), "--sizes", "5 Pa", "--suction", "3 mm", "--least-pitch", "2"]
    assert main([*words, "--draw-ratio", "much"]) == 2
    error = capsys.readouterr().err
    for option in ("--sizes", "--suction", "--least-pitch", "--draw-ratio"):
        assert option in error


def test_impossible_wish_is_input(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["holes", str(STARTER), "--draw-ratio", "1", *SMALL]) == 2
    assert "perfectly even" in capsys.readouterr().err


def test_foreign_folder_is_refused_before_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "a.txt").write_text("a", encoding="utf-8")
    assert main(["holes", str(STARTER), "--out", "mine"]) == 2
    assert "no earlier result" in capsys.readouterr().err
