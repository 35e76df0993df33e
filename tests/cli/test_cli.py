"""The command line: commands, options, exit codes, streams."""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from flowsim.cli import main
from flowsim.errors import ConvergenceError, OutputError, RangeError

HERE = Path(__file__).parent
STARTER = HERE.parents[1] / "flowsim" / "case" / "starter.toml"


@dataclass
class _Check:
    """Stands for a verdict."""

    state: str
    name: str = "draw_ratio"


@dataclass
class _Fake:
    """Stands for the models and the writer, and notes what they were asked."""

    state: str = "met"
    failure: Exception | None = None
    cases: list[Any] = field(default_factory=list)
    folders: list[Path] = field(default_factory=list)

    def run_case(self, case: Any) -> Any:
        """Return a result with one check."""
        self.cases.append(case)
        if self.failure is not None and not isinstance(self.failure, OutputError):
            raise self.failure
        result = ModuleType("result")
        result.checks = (_Check(self.state),)  # type: ignore[attr-defined]
        return result

    def write_report(self, result: Any, folder: Path, progress: Callable[[str], None]) -> None:
        """Note the folder."""
        del result
        if isinstance(self.failure, OutputError):
            raise self.failure
        progress("report.html")
        self.folders.append(Path(folder))

    def compare(self, cases: Sequence[tuple[str, Any]]) -> Any:
        """Note the cases."""
        self.cases.extend(cases)
        return "comparison"

    def write_comparison(self, comparison: Any, folder: Path) -> None:
        """Note the folder."""
        assert comparison == "comparison"
        self.folders.append(Path(folder))


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _Fake:
    """Put stand-ins in the place of the models, and work in an empty folder."""
    fake = _Fake()
    modules: dict[str, dict[str, Any]] = {
        "flowsim.simulate.run": {"run_case": fake.run_case},
        "flowsim.report.write": {"write_report": fake.write_report},
        "flowsim.report.summary": {
            "terminal_table": lambda _: "the table",
            "comparison_table": lambda _: "the comparison",
        },
        "flowsim.plan.compare": {
            "compare": fake.compare,
            "write_comparison": fake.write_comparison,
        },
    }
    for name, members in modules.items():
        module = ModuleType(name)
        vars(module).update(members)
        monkeypatch.setitem(sys.modules, name, module)
    monkeypatch.chdir(tmp_path)
    return fake


def test_run_prints_results_on_stdout_and_the_rest_on_stderr(
    fake: _Fake, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["run", str(STARTER)]) == 0
    captured = capsys.readouterr()
    assert captured.out == "the table\n"
    assert "solving (stacked, 60 x 30 x 40 cells)" in captured.err
    assert "written to starter.result" in captured.err
    assert fake.folders == [Path("starter.result")]
    assert fake.cases[0].title == "Eyepiece bench"


def test_run_takes_changes_folder_and_fidelity(fake: _Fake) -> None:
    command = ["run", str(STARTER), "--set", "exhaust.flow=300 m3/h", "chamber.width=1 m"]
    command += ["--set", "limits.draw_ratio={max=1.5}", "--fidelity", "network", "--out", "x/y"]
    assert main(command) == 0
    case = fake.cases[0]
    assert case.exhaust.flow == pytest.approx(300 / 3600)
    assert case.chamber.width == 1.0
    assert case.limits.draw_ratio.max == 1.5
    assert case.numerics.fidelity == "network"
    assert fake.folders == [Path("x/y")]


def test_changes_may_stand_before_the_case(fake: _Fake) -> None:
    assert main(["run", "--set", "chamber.width=1 m", str(STARTER)]) == 0
    assert fake.cases[0].chamber.width == 1.0


@pytest.mark.parametrize(
    ("state", "strict", "code"),
    [("met", True, 0), ("not met", True, 4), ("not shown", True, 4), ("not met", False, 0)],
)
def test_strict_wants_every_limit_met(fake: _Fake, state: str, strict: bool, code: int) -> None:
    fake.state = state
    assert main(["run", str(STARTER), *(["--strict"] if strict else [])]) == code
    assert fake.folders == [Path("starter.result")]


@pytest.mark.parametrize(
    ("failure", "code", "words"),
    [
        (ConvergenceError("the front opening still moves"), 3, "not converged: the front"),
        (RangeError("the tube is too short"), 2, "the tube is too short"),
        (OutputError("the disk is full"), 2, "the disk is full"),
        (KeyboardInterrupt(), 130, "stopped"),
    ],
)
def test_failure_has_a_code_and_words(
    fake: _Fake,
    failure: Exception,
    code: int,
    words: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    fake.failure = failure
    assert main(["run", str(STARTER)]) == code
    captured = capsys.readouterr()
    assert words in captured.err
    assert "Traceback" not in captured.err
    assert fake.folders == []


def test_foreign_folder_is_refused_before_any_work(
    fake: _Fake, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "starter.result").mkdir()
    (tmp_path / "starter.result" / "thesis.txt").touch()
    assert main(["run", str(STARTER)]) == 2
    assert "starter.result: is not empty" in capsys.readouterr().err
    assert fake.cases == []


def test_earlier_result_and_empty_folder_are_taken(fake: _Fake, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "earlier").mkdir()
    (tmp_path / "earlier" / "summary.json").write_text("{}")
    assert main(["run", str(STARTER), "--out", "empty"]) == 0
    assert main(["run", str(STARTER), "--out", "earlier"]) == 0
    assert len(fake.folders) == 2


def test_file_in_the_place_of_the_folder_is_refused(
    fake: _Fake, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    assert main(["run", str(STARTER), "--out", "file"]) == 2
    assert "file: is a file" in capsys.readouterr().err
    assert fake.cases == []


def test_compare_varies_keys(fake: _Fake, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["compare", str(STARTER), "--vary", "openings.front.height=100 mm,140 mm"]
    assert main([*command, "--vary", "numerics.cells=[10,10,10],[20,20,20]"]) == 0
    assert [name for name, _ in fake.cases] == [
        "openings.front.height = 100 mm, numerics.cells = [10,10,10]",
        "openings.front.height = 100 mm, numerics.cells = [20,20,20]",
        "openings.front.height = 140 mm, numerics.cells = [10,10,10]",
        "openings.front.height = 140 mm, numerics.cells = [20,20,20]",
    ]
    assert fake.cases[2][1].openings[0].height == pytest.approx(0.14)
    assert fake.folders == [Path("starter.comparison")]
    captured = capsys.readouterr()
    assert captured.out == "the comparison\n"
    assert "creening model" in captured.err


def test_compare_takes_decimal_commas_between_semicolons(fake: _Fake) -> None:
    command = ["compare", str(STARTER), "--vary", "supply.face_velocity=0,35 m/s; 0,45 m/s"]
    assert main(command) == 0
    assert [case.supply.face_velocity for _, case in fake.cases] == [0.35, 0.45]


def test_compare_names_files(fake: _Fake, tmp_path: Path) -> None:
    text = STARTER.read_text(encoding="utf-8")
    for name in ("low.toml", "high.toml"):
        (tmp_path / name).write_text(text, encoding="utf-8")
    assert main(["compare", "low.toml", "high.toml"]) == 0
    assert [name for name, _ in fake.cases] == ["low", "high"]
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "low.toml").write_text(text, encoding="utf-8")
    fake.cases.clear()
    assert main(["compare", "low.toml", "old/low.toml", "--out", "both"]) == 0
    assert [name for name, _ in fake.cases] == ["low.toml", "old/low.toml"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ([], "is one case; expected two or more"),
        (["--vary", "chamber.width"], "--vary: is not a change"),
        (["--vary", "chamber.width=1300,1400"], "chamber.width: has no unit (got '1300')"),
        (["--vary", "chamber.widht=1 m,2 m"], "did you mean 'width'?"),
        (["--vary", "title=" + ",".join("abcdefghijk"), "--vary", "note=a,b,c,d,e,f,g,h,i,j"],
         "makes 110 cases; expected at most 100"),
    ],
)  # fmt: skip
def test_compare_refuses(
    fake: _Fake, options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["compare", str(STARTER), *options]) == 2
    assert words in capsys.readouterr().err
    assert fake.cases == []


def test_check_says_which_files_are_good(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(STARTER), "nowhere.toml"]) == 2
    captured = capsys.readouterr()
    assert captured.out == f"{STARTER}: no faults found ('Eyepiece bench')\n"
    assert captured.err.startswith("nowhere.toml: does not exist")
    assert main(["check", str(STARTER), "--set", "chamber.width=1 m"]) == 0


def test_example_is_written_once_and_is_good(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["example", "bench.toml"]) == 0
    assert main(["check", "bench.toml"]) == 0
    capsys.readouterr()
    (tmp_path / "bench.toml").write_text("mine")
    assert main(["example", "bench.toml"]) == 2
    assert "exists already; nothing was written" in capsys.readouterr().err
    assert (tmp_path / "bench.toml").read_text() == "mine"
    assert main(["example", "nowhere/bench.toml"]) == 2
    assert "nowhere/bench.toml: No such file" in capsys.readouterr().err


def test_example_without_a_file_goes_to_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["example"]) == 0
    assert tomllib.loads(capsys.readouterr().out)["title"] == "Eyepiece bench"


def test_schema_is_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out)["properties"]["format"]["const"] == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["rnu", "x.toml"], "did you mean 'run'?"),
        (["run", "x.toml", "--stirct"], "did you mean '--strict'?"),
        (["run", "x.toml", "--otu=y"], "did you mean '--out'?"),
        (["run", "x.toml", "--fidelity", "staked"], "did you mean 'stacked'?"),
        (["run"], "CASE"),
        (["run", "x.toml", "--set", "chamber.width"], "--set: is not a change"),
        (["run", "x.toml", "--set", "=3"], "--set: is not a change"),
        ([], "usage: flowsim"),
    ],
)
def test_wrong_arguments(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert words in captured.err
    assert captured.out == ""


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version(option: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([option]) == 0
    assert "flowsim" in capsys.readouterr().out


def test_control_characters_of_a_case_do_not_reach_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = STARTER.read_text(encoding="utf-8").replace('"900 mm"', '"\\u001b[2J\\n9 mm"')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert main(["check", str(tmp_path / "case.toml")]) == 2
    err = capsys.readouterr().err
    assert "\x1b" not in err
    assert len(err.splitlines()) == 1
