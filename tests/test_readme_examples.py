"""What the README shows runs as it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from flowsim.case.read import read_case
from flowsim.simulate.run import run_case

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_case_of_the_readme_runs_and_meets_its_limits(tmp_path: Path) -> None:
    """A newcomer copies it."""
    (text,) = re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL)
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    result = run_case(read_case(path))
    assert result.checks
    assert {check.state for check in result.checks} == {"met"}


def test_python_example_of_the_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As printed, from a folder that holds the cases."""
    (text,) = re.findall(r"```python\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "cases").symlink_to(ROOT / "cases")
    monkeypatch.chdir(tmp_path)
    exec(compile(text, "README.md", "exec"), {})
    assert len(capsys.readouterr().out.splitlines()) == 3
    assert (tmp_path / "results" / "high_front" / "report.html").is_file()


def test_pictures_of_the_readme_are_there() -> None:
    """At least two, each a file of the project."""
    pictures = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert len(pictures) >= 2
    assert all((ROOT / picture).is_file() for picture in pictures)


def test_figures_printed_in_the_readme_are_those_of_the_program() -> None:
    """The balance margin and draw ratio it quotes."""
    result = run_case(read_case(ROOT / "cases" / "mirror_bench.toml"))
    margin, ratio = result["balance_margin"], result["draw_ratio"]
    assert margin is not None
    assert ratio is not None
    assert f"balance margin: {100 * margin:.1f} %" in README
    assert f"port at the right end               {ratio:.3f}" in README
