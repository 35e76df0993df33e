"""README and the project agree: commands, files, options and the checks that run them."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from flowsim.case.read import read_case
from flowsim.cli import main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

RUN = (
    "python3 -m venv .venv && .venv/bin/pip install . && "
    ".venv/bin/flowsim run cases/mirror_bench.toml"
)
TEST = "python3 -m venv .venv && .venv/bin/pip install '.[test]' && .venv/bin/python -m pytest"

PATHS = sorted(set(re.findall(r"\b(?:scripts|cases|\.ci)/[\w./-]*\w", README + GUIDE)))
COMMANDS = sorted(
    set(
        re.findall(
            r"\bflowsim (run|compare|sweep|uncertain|window|holes|check|example|schema)\b", README
        )
    )
)


def _code() -> str:
    return "\n".join(re.findall(r"^```\w*\n(.*?)^```", README, re.MULTILINE | re.DOTALL))


def test_first_paragraph_says_what_the_program_is_for() -> None:
    paragraph = README.split("\n\n")[1]
    assert not paragraph.startswith(("#", "```"))
    assert {"air", "enclosure"} <= set(re.findall(r"\w+", paragraph))


@pytest.mark.parametrize("command", [RUN, TEST])
def test_set_up_commands_stand_verbatim_on_one_line(command: str) -> None:
    assert README.splitlines().count(command) == 1


def test_check_script_takes_the_test_command_out_of_readme() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    pattern = next(line for line in script.splitlines() if line.startswith("command="))
    found = subprocess.run(
        ["bash", "-c", f"{pattern}; printf '%s' \"$command\""],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert found == TEST


@pytest.mark.parametrize("name", PATHS)
def test_named_files_exist(name: str) -> None:
    assert (ROOT / name).exists()


def test_pictures_exist_and_are_small() -> None:
    names = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    assert [name for name in names if not (ROOT / name).is_file()] == []
    assert [name for name in names if (ROOT / name).stat().st_size > 400_000] == []


@pytest.mark.parametrize("command", COMMANDS)
def test_commands_exist(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    assert capsys.readouterr().out


def test_options_in_readme_exist(capsys: pytest.CaptureFixture[str]) -> None:
    texts = []
    for command in COMMANDS:
        assert main([command, "--help"]) == 0
        texts.append(capsys.readouterr().out)
    lines = [line for line in _code().splitlines() if re.search(r"\bflowsim [a-z]+", line)]
    options = {option for line in lines for option in re.findall(r"(?<=\s)--[a-z-]+", line)}
    assert [option for option in options if option not in " ".join(texts)] == []


def _blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_case_in_readme_is_a_valid_case(tmp_path: Path) -> None:
    blocks = _blocks("toml")
    assert blocks
    for number, block in enumerate(blocks):
        path = tmp_path / f"{number}.toml"
        path.write_text(block, encoding="utf-8")
        assert read_case(path).openings


def test_case_in_readme_has_about_twenty_lines_of_content() -> None:
    lines = [line for line in _blocks("toml")[0].splitlines() if line and line[0] not in "#["]
    assert len(lines) <= 22


def test_python_in_readme_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "cases").symlink_to(ROOT / "cases")
    monkeypatch.chdir(tmp_path)
    blocks = _blocks("python")
    assert blocks
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {"__name__": "__main__"})
    assert capsys.readouterr().out
    assert list((tmp_path / "results").glob("*/summary.json"))


def test_readme_says_its_cautions_and_limits() -> None:
    for heading in ("## Cautions", "## What the physics leaves out", "### Unreleased"):
        assert f"\n{heading}" in README
