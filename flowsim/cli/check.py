"""Command ``check``: all faults of case files."""

from __future__ import annotations

import argparse

from flowsim.cli.codes import EXIT_INPUT
from flowsim.cli.command import Command
from flowsim.cli.options import add_changes, changes_of
from flowsim.cli.speak import complain, printable

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  flowsim check bench.toml other.toml
  flowsim check bench.toml --set chamber.width='1 m'
  flowsim check bench.toml --fidelity volume"""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``check``."""
    command.add_argument("cases", metavar="CASE", nargs="+", help="case file (TOML)")
    add_changes(command)


def _run(arguments: argparse.Namespace) -> int:
    """Read case files and list their faults."""
    from flowsim.case.read import read_case
    from flowsim.errors import CaseError

    changes = changes_of(arguments)
    faulty = 0
    for path in arguments.cases:
        try:
            case = read_case(path, changes)
        except CaseError as error:
            complain(error.lines())
            faulty += 1
        else:
            print(printable(f"{path}: no faults found ('{case.title}')"))
    return EXIT_INPUT if faulty else 0


COMMAND = Command(
    "check", "read case files and list all their faults", _EXAMPLES, _add_arguments, _run
)
"""The command ``check``. [-]"""
