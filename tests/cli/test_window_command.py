"""The window of settings, asked on the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sweep_files import write_files

from flowsim.cli import main
from flowsim.errors import ConvergenceError
from flowsim.plan.window import Told


class _Stand:
    """Stands for the window, and notes what it was asked."""

    def __init__(self) -> None:
        self.asked: dict[str, Any] = {}
        self.written: list[Path] = []
        self.failure: BaseException | None = None

    def window(self, case: Any, **options: Any) -> str:
        """Note what was asked."""
        self.asked = {"case": case, **options}
        if self.failure is not None:
            raise self.failure
        options["tell"](Told("map", 1, 150))
        return "found"

    def write_window(self, found: Any, folder: Path) -> None:
        """Note the folder."""
        assert found == "found"
        self.written.append(folder)


@pytest.fixture
def stand(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _Stand:
    """Put stand-ins in the place of the window, and work in a folder with a case."""
    stand = _Stand()
    monkeypatch.setattr("flowsim.plan.window.window", stand.window)
    monkeypatch.setattr("flowsim.plan.window.write_window", stand.write_window)
    monkeypatch.setattr("flowsim.plan.window.window_text", lambda _: "the answer")
    monkeypatch.chdir(tmp_path)
    write_files(tmp_path)
    return stand


def test_answer_goes_to_standard_output_alone(
    stand: _Stand, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["window", "bench.toml"]) == 0
    captured = capsys.readouterr()
    assert captured.out == "the answer\n"
    assert "map: 1 solves so far" in captured.err
    assert "creening model" in captured.err
    assert stand.asked["hold"] is None
    assert stand.asked["ranges"] == {}
    assert (stand.asked["most"], stand.asked["carried"]) == (150, False)
    assert stand.written == [Path("bench.window")]


def test_options_reach_the_window(stand: _Stand) -> None:
    command = ["window", "bench.toml", "--hold", "2 %, 5 %", "--supply", "25 Hz to 50 Hz"]
    command += ["--exhaust", "60 % to 100 %", "--transport", "--solves", "90", "--out", "o"]
    command += ["--set", "plenum.height=100 mm", "--fidelity", "network"]
    assert main(command) == 0
    asked = stand.asked
    assert asked["hold"] == "2 %, 5 %"
    assert asked["ranges"] == {"supply": "25 Hz to 50 Hz", "exhaust": "60 % to 100 %"}
    assert (asked["most"], asked["carried"]) == (90, True)
    assert asked["case"].plenum.height == pytest.approx(0.1)
    assert asked["case"].numerics.fidelity == "network"
    assert stand.written == [Path("o")]


def test_no_solution_is_exit_code_3(stand: _Stand) -> None:
    stand.failure = ConvergenceError("the case as stated: no")
    assert main(["window", "bench.toml"]) == 3
    assert stand.written == []


def test_foreign_folder_is_refused_before_any_work(stand: _Stand) -> None:
    Path("o").mkdir()
    Path("o/mine.txt").write_text("keep", encoding="utf-8")
    assert main(["window", "bench.toml", "--out", "o"]) != 0
    assert stand.asked == {}


def test_help_names_every_option(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["window", "--help"]) == 0
    text = capsys.readouterr().out
    for option in ("--hold", "--supply", "--exhaust", "--transport", "--solves", "--fidelity"):
        assert option in text
