"""Command ``compare``: several cases side by side."""

from __future__ import annotations

import argparse
import sys

from flowsim.cli.codes import EXIT_INPUT
from flowsim.cli.command import Command
from flowsim.cli.options import add_changes, add_output, add_vary, changes_of, output_folder
from flowsim.cli.speak import Heartbeat, complain, say

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  flowsim compare bench.toml other.toml
  flowsim compare bench.toml --vary openings.front.height='120 mm,160 mm,200 mm'
  flowsim compare bench.toml --vary supply.face_velocity='0,35 m/s; 0,45 m/s'
  flowsim compare bench.toml other.toml --set room.draught='0.1 m/s' --out results/draught
  flowsim compare bench.toml other.toml --fidelity network"""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``compare``."""
    command.add_argument("cases", metavar="CASE", nargs="+", help="case file (TOML)")
    add_vary(command)
    add_output(command, "CASE.comparison")
    add_changes(command)


def _run(arguments: argparse.Namespace) -> int:
    """Solve several cases and lay them side by side."""
    from flowsim.case.variants import read_variants

    cases, complaints = read_variants(arguments.cases, changes_of(arguments), arguments.vary)
    if complaints:
        complain(complaints)
        return EXIT_INPUT
    folder = output_folder(arguments.out, arguments.cases[0], ".comparison")
    say(f"solving {len(cases)} cases")
    from flowsim.plan.compare import compare, write_comparison
    from flowsim.report.cautions import SHORT_CAUTION
    from flowsim.report.summary import comparison_table

    with Heartbeat("still solving"):
        comparison = compare(cases)
    try:
        write_comparison(comparison, folder)
        say(f"written to {folder}")
    finally:
        print(comparison_table(comparison), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    return 0


COMMAND = Command(
    "compare", "solve several cases and lay them side by side", _EXAMPLES, _add_arguments, _run
)
"""The command ``compare``. [-]"""
