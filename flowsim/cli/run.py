"""Command ``run``: one case, solved and written."""

from __future__ import annotations

import argparse

from flowsim.cli.codes import EXIT_NOT_MET
from flowsim.cli.command import Command
from flowsim.cli.options import add_changes, add_output, changes_of, output_folder
from flowsim.cli.speak import Heartbeat, say

__all__ = ["COMMAND"]

_EXAMPLES = """\
examples:
  flowsim run bench.toml
  flowsim run bench.toml --out results/monday
  flowsim run bench.toml --set work_surface.hole_diameter='6 mm' exhaust.flow='300 m3/h'
  flowsim run bench.toml --fidelity network
  flowsim run bench.toml --strict && echo every limit is met"""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``run``."""
    command.add_argument("case", metavar="CASE", help="case file (TOML)")
    add_output(command, "CASE.result")
    add_changes(command)
    command.add_argument(
        "--strict", action="store_true", help="exit 4 unless every limit is shown to be met"
    )


def _run(arguments: argparse.Namespace) -> int:
    """Solve one case."""
    from time import perf_counter

    from flowsim.case.read import read_case

    case = read_case(arguments.case, changes_of(arguments))
    folder = output_folder(arguments.out, arguments.case, ".result")
    cells = " x ".join(str(number) for number in case.numerics.cells)
    grid = "" if case.numerics.fidelity == "network" else f", {cells} cells"
    say(f"{arguments.case}: solving ({case.numerics.fidelity}{grid})")
    from flowsim.report.summary import terminal_table
    from flowsim.report.write import write_report
    from flowsim.simulate.run import run_case

    start = perf_counter()
    with Heartbeat("still solving"):
        result = run_case(case)
    say(f"solved in {perf_counter() - start:.1f} s, writing")
    try:
        with Heartbeat("still writing"):
            write_report(result, folder, progress=say)
        say(f"written to {folder}")
    finally:
        print(terminal_table(result), flush=True)  # ends with the caution
    missed = [f"{check.name} {check.state}" for check in result.checks if check.state != "met"]
    if arguments.strict and missed:
        say(f"--strict: {', '.join(missed)}")
        return EXIT_NOT_MET
    return 0


COMMAND = Command(
    "run", "solve a case and write figures, pictures and a report", _EXAMPLES, _add_arguments, _run
)
"""The command ``run``. [-]"""
