"""How sure a case is, asked on the command line."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from sweep_files import write_files

from flowsim.batch.runner import Outcome, Stopped
from flowsim.cli import main

TOLERANCES = """
format = 1
[[tolerances]]
key = "work_surface.hole_diameter"
spread = "0.1 mm"
"""


@dataclass
class _Draws:
    """Stands for the draws, and notes what it was asked."""

    failure: BaseException | None = None
    asked: dict[str, Any] = field(default_factory=dict)
    written: list[Path] = field(default_factory=list)

    def uncertain(self, case: Any, tolerances: Any, **options: Any) -> str:
        """Note what was asked."""
        self.asked = {"case": case, "tolerances": tolerances, **options}
        if self.failure is not None:
            raise self.failure
        return "found"

    def write_uncertain(self, found: Any, folder: Path) -> None:
        """Note the folder."""
        assert found == "found"
        self.written.append(folder)


@pytest.fixture
def draws(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _Draws:
    """Put stand-ins in the place of the draws, and work in a folder with a case."""
    draws = _Draws()
    home = "flowsim.plan.uncertain"
    monkeypatch.setattr(f"{home}.uncertain", draws.uncertain)
    monkeypatch.setattr(f"{home}.write_uncertain", draws.write_uncertain)
    monkeypatch.setattr(f"{home}.uncertain_text", lambda _: "the odds")
    monkeypatch.chdir(tmp_path)
    write_files(tmp_path)
    Path("tolerances.toml").write_text(TOLERANCES, encoding="utf-8")
    return draws


def test_usual_tolerances_are_taken_where_none_are_named(
    draws: _Draws, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["uncertain", "bench.toml"]) == 0
    captured = capsys.readouterr()
    assert captured.out == "the odds\n"
    assert "Tiny bench: 256 draws, into bench.uncertain" in captured.err
    assert "creening model" in captured.err
    assert draws.asked["tolerances"] is None
    assert (draws.asked["count"], draws.asked["seed"]) == (256, 1)
    assert draws.written == [Path("bench.uncertain")]


def test_options_reach_the_draws(draws: _Draws) -> None:
    command = ["uncertain", "bench.toml", "--tolerances", "tolerances.toml", "--count", "20"]
    command += ["--seed", "0", "--jobs", "2", "--out", "sure", "--set", "plenum.height=100 mm"]
    assert main(command) == 0
    asked = draws.asked
    assert asked["tolerances"][0].key == "work_surface.hole_diameter"
    assert (asked["count"], asked["seed"], asked["jobs"]) == (20, 0, 2)
    assert asked["case"].plenum.height == pytest.approx(0.1)
    assert draws.written == [Path("sure")]


def test_faulty_tolerances_are_told_before_any_work(
    draws: _Draws, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("tolerances.toml").write_text(TOLERANCES.replace("diameter", "diamter"), "utf-8")
    assert main(["uncertain", "bench.toml", "--tolerances", "tolerances.toml"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("tolerances.toml:4: ")
    assert "did you mean 'hole_diameter'?" in line
    assert draws.asked == {}


def test_folder_with_other_things_is_refused(
    draws: _Draws, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("bench.uncertain").mkdir()
    Path("bench.uncertain", "thesis.txt").touch()
    assert main(["uncertain", "bench.toml"]) == 2
    assert "bench.uncertain: is not empty" in capsys.readouterr().err
    assert draws.asked == {}


def test_earlier_draws_are_gone_on_with(draws: _Draws) -> None:
    Path("bench.uncertain", "draws").mkdir(parents=True)
    Path("bench.uncertain", "draws", "sweep.sqlite").touch()
    assert main(["uncertain", "bench.toml"]) == 0
    assert draws.written == [Path("bench.uncertain")]


def test_stop_tells_how_to_go_on(draws: _Draws, capsys: pytest.CaptureFixture[str]) -> None:
    outcome = Outcome(Path("x"), 256, 0, 9, 247, {"done": 9, "open": 247}, 1.0)
    draws.failure = Stopped(outcome, 2)
    assert main(["uncertain", "bench.toml"]) == 130
    captured = capsys.readouterr()
    assert "stopped; 9 of 256 points are stored in bench.uncertain" in captured.err
    assert captured.err.splitlines()[-1].endswith("uncertain bench.toml")
    assert captured.out == ""


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--count", "0"], "--count: '0' is not a whole number above zero"),
        (["--seed", "-1"], "--seed"),
        (["--tolerances", "nowhere.toml"], "nowhere.toml: does not exist"),
        (["--conut", "9"], "did you mean '--count'?"),
    ],
)
def test_wrong_options_are_told(
    draws: _Draws, options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["uncertain", "bench.toml", *options]) == 2
    assert words in capsys.readouterr().err
    assert draws.asked == {}
