"""What a fresh interpreter loads for each command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

STARTER = Path(__file__).parents[2] / "flowsim" / "case" / "starter.toml"
HEAVY = {"numpy", "scipy", "numba", "matplotlib", "meshio", "pydantic", "rich", "jinja2"}
PROGRAM = """
import sys
from flowsim.cli import main
code = main(sys.argv[1:])
print("LOADED", *sorted(name for name in sys.modules if "." not in name))
sys.exit(code)
"""


def _loaded(*arguments: str) -> set[str]:
    """Return the top-level modules that a command loads."""
    command = [sys.executable, "-c", PROGRAM, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return set(done.stdout.split("LOADED", 1)[1].split())


@pytest.mark.parametrize(
    "arguments",
    [["--help"], ["--version"], ["run", "--help"], ["sweep", "--help"], ["example"]],
    ids=" ".join,
)
def test_help_loads_no_library(arguments: list[str]) -> None:
    assert not _loaded(*arguments) & HEAVY


def test_check_loads_neither_compiler_nor_plots() -> None:
    loaded = _loaded("check", str(STARTER))
    assert "pydantic" in loaded
    assert not loaded & {"numba", "matplotlib", "scipy", "meshio", "numpy"}


def test_installed_command_answers() -> None:
    program = Path(sys.executable).with_name("flowsim")
    if not program.exists():
        pytest.skip("not installed beside this interpreter")
    done = subprocess.run([program, "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("flowsim ")


def test_closed_pipe_is_no_failure() -> None:
    text = f"{sys.executable} -m flowsim.cli schema | head -c 1"
    done = subprocess.run(["/bin/sh", "-c", text], capture_output=True, text=True, check=True)
    assert done.stderr == ""
