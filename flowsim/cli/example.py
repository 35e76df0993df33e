"""Command ``example``: a commented case to start from."""

from __future__ import annotations

import argparse

from flowsim.cli.command import Command
from flowsim.cli.speak import say

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  flowsim example bench.toml
  flowsim example | less"""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``example``."""
    command.add_argument(
        "file", metavar="FILE", nargs="?", help="file to write; left out = standard output"
    )


def _run(arguments: argparse.Namespace) -> int:
    """Write the starter case, never over a file."""
    from importlib.resources import files
    from pathlib import Path

    from flowsim.errors import OutputError

    text = files("flowsim.case").joinpath("starter.toml").read_text(encoding="utf-8")
    if arguments.file is None:
        print(text, end="")
        return 0
    path = Path(arguments.file)
    try:
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except FileExistsError:
        raise OutputError(f"{path}: exists already; nothing was written") from None
    say(f"written to {path}; now: flowsim run {path}")
    return 0


COMMAND = Command(
    "example", "write a commented case to start from", _EXAMPLES, _add_arguments, _run
)
"""The command ``example``. [-]"""
