"""Sweeps on the command line: options, faults, what is said; the runner stands aside."""

from __future__ import annotations

import signal
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from sweep_files import write_files

from flowsim.batch.runner import Outcome, Progress, Stopped
from flowsim.cli import main
from flowsim.errors import OutputError


@dataclass
class _Runner:
    """Stands for the runner, and notes what it was asked."""

    failure: BaseException | None = None
    ran: int = 6
    left: int = 0
    told: int = 0
    asked: dict[str, Any] = field(default_factory=dict)

    def __call__(self, sweep: Any, folder: Path, **options: Any) -> Outcome:
        """Return an outcome."""
        self.asked = {"sweep": sweep, "folder": folder, **options}
        if self.told:
            options["progress"](Progress("points", 6, self.told, 6, self.told, 0, 1.0))
        if self.failure is not None:
            raise self.failure
        return _outcome(Path(folder), self.ran, self.left)


def _outcome(folder: Path, ran: int, left: int) -> Outcome:
    """Return how a sweep of six points stands."""
    return Outcome(folder, 6, 0, ran, left, {"done": 6 - left, "open": left}, 1.0)


@pytest.fixture
def runner(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _Runner:
    """Put a stand-in in the place of the runner, and work in a folder with a case and sweeps."""
    runner = _Runner()
    monkeypatch.setattr("flowsim.batch.runner.run_sweep", runner)
    monkeypatch.setattr("flowsim.cli.sweep_words.finished", lambda _: (["the summary"], ""))
    monkeypatch.chdir(tmp_path)
    write_files(tmp_path)
    return runner


def test_sweep_runs_here_into_a_folder_named_after_its_file(
    runner: _Runner, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sweep", "night.toml"]) == 0
    captured = capsys.readouterr()
    assert captured.out == "the summary\n"
    assert "6 points, into night.sweep" in captured.err
    assert "creening model" in captured.err
    asked = runner.asked
    assert asked["folder"] == Path("night.sweep")
    assert (asked["engine"], asked["scheduler"], asked["jobs"]) == ("local", None, None)
    assert (asked["limit"], asked["retry_failed"]) == (None, False)


def test_options_reach_the_runner(runner: _Runner) -> None:
    options = ["--out", "x/y", "--jobs", "2", "--limit", "5", "--retry-failed"]
    assert main(["sweep", "night.toml", *options, "--engine", "dask"]) == 0
    asked = runner.asked
    assert asked["folder"] == Path("x/y")
    assert (asked["jobs"], asked["limit"], asked["retry_failed"]) == (2, 5, True)
    assert asked["engine"] == "dask"


def test_scheduler_means_dask(runner: _Runner) -> None:
    assert main(["sweep", "night.toml", "--scheduler", "tcp://10.0.0.5:8786"]) == 0
    assert runner.asked["engine"] == "dask"
    assert runner.asked["scheduler"] == "tcp://10.0.0.5:8786"


def test_vary_makes_a_sweep_of_a_case(runner: _Runner) -> None:
    command = ["sweep", "bench.toml", "--vary", "exhaust.flow=0,18 m3/s; 0,21 m3/s"]
    command += ["numerics.cells=[10,8,8],[12,8,8]", "--set", "plenum.height=100 mm"]
    assert main(command) == 0
    sweep = runner.asked["sweep"]
    assert sweep.keys == ("exhaust.flow", "numerics.cells")
    assert [point.values for point in sweep.points] == [
        ("0,18 m3/s", [10, 8, 8]),
        ("0,18 m3/s", [12, 8, 8]),
        ("0,21 m3/s", [10, 8, 8]),
        ("0,21 m3/s", [12, 8, 8]),
    ]
    assert sweep.base.plenum.height == pytest.approx(0.1)
    assert runner.asked["folder"] == Path("bench.sweep")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "expected a sweep file, or --status DIR"),
        (["night.toml", "--status", "x"], "(one of them)"),
        (["night.toml", "--set", "chamber.width=1 m"], "--set and --fidelity go with --vary"),
        (["night.toml", "--engine", "local", "--scheduler", "x"], "--scheduler goes with"),
        (["night.toml", "--jobs", "0"], "--jobs: '0' is not a whole number above zero"),
        (["night.toml", "--limit", "ten"], "--limit: 'ten' is not a whole number"),
        (["night.toml", "--engine", "daks"], "did you mean 'dask'?"),
        (["night.toml", "--retry-faild"], "did you mean '--retry-failed'?"),
        (["bench.toml"], "is a case, not a sweep"),
        (["nigth.toml"], "did you mean 'night.toml'?"),
        (["bench.toml", "--vary", "exhaust.flow=1,2"], "has no unit (got 2)"),
        (["bench.toml", "--vary", "exhaust.flwo=1 m3/h,2 m3/h"], "did you mean 'flow'?"),
        (["bench.toml", "--vary", "exhaust.flow"], "--vary: is not a change"),
        (["--status", "nowhere"], "holds no sweep"),
    ],
)
def test_wrong_arguments_are_told(
    runner: _Runner, arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sweep", *arguments]) == 2
    captured = capsys.readouterr()
    assert words in captured.err
    assert captured.out == ""
    assert runner.asked == {}


def test_all_faults_of_a_sweep_file_are_listed_with_their_lines(
    runner: _Runner, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["sweep", "faulty.toml"]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert [line.partition(": ")[0] for line in lines] == [
        "faulty.toml:5", "faulty.toml:9", "faulty.toml:12",
    ]  # fmt: skip
    assert "did you mean 'keep'?" in lines[0]
    assert "parsec" in lines[1]
    assert "did you mean 'height'?" in lines[2]
    assert runner.asked == {}
    assert not Path("faulty.sweep").exists()


def test_points_left_by_a_limit_are_told_with_the_command(
    runner: _Runner, capsys: pytest.CaptureFixture[str]
) -> None:
    runner.ran, runner.left = 1, 5
    assert main(["sweep", "night.toml", "--limit", "1"]) == 0
    err = capsys.readouterr().err
    assert "1 point run in 1 s" in err
    assert "5 points left; go on with: " in err
    assert err.splitlines()[-2].endswith("sweep night.toml --limit 1")


def test_nothing_left_to_do_is_told(runner: _Runner, capsys: pytest.CaptureFixture[str]) -> None:
    runner.ran = 0
    assert main(["sweep", "night.toml"]) == 0
    assert "nothing was left to do" in capsys.readouterr().err


def test_page_that_cannot_be_written_is_told_below_the_summary(
    runner: _Runner, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    home = "flowsim.cli.sweep_words.finished"
    monkeypatch.setattr(home, lambda _: (["the summary"], "the disk is full"))
    assert main(["sweep", "night.toml"]) == 2
    captured = capsys.readouterr()
    assert captured.out == "the summary\n"
    assert captured.err.endswith("flowsim: the disk is full\n")
    assert runner.asked


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_sweep_tells_how_to_go_on(
    runner: _Runner, number: signal.Signals, capsys: pytest.CaptureFixture[str]
) -> None:
    runner.failure = Stopped(_outcome(Path("my night"), 2, 4), number)
    assert main(["sweep", "night.toml", "--out", "my night"]) == 130
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "stopped; 2 of 6 points are stored in my night" in captured.err
    assert captured.err.splitlines()[-1].endswith("sweep night.toml --out 'my night'")


def test_second_interrupt_still_tells_how_to_go_on(
    runner: _Runner, capsys: pytest.CaptureFixture[str]
) -> None:
    runner.failure = KeyboardInterrupt()
    assert main(["sweep", "night.toml"]) == 130
    assert "go on with: " in capsys.readouterr().err


@pytest.mark.parametrize("ran", [0, 3])
def test_failure_tells_how_to_go_on_once_points_are_stored(
    runner: _Runner, ran: int, capsys: pytest.CaptureFixture[str]
) -> None:
    runner.told = ran
    runner.failure = OutputError("the disk is full")
    assert main(["sweep", "night.toml"]) == 2
    captured = capsys.readouterr()
    assert "flowsim: the disk is full" in captured.err
    assert ("go on with: " in captured.err) == (ran > 0)
    assert captured.out == ""
