"""Command ``uncertain``: how sure the verdicts of a case are."""

from __future__ import annotations

import argparse
import sys

from flowsim.cli.command import Command
from flowsim.cli.options import (
    add_changes,
    add_jobs,
    add_output,
    changes_of,
    output_folder,
    seed_number,
    whole_number,
)
from flowsim.cli.resumable import resumable
from flowsim.cli.speak import printable, say

__all__ = ["COMMAND"]

_ENDING, _DRAWS, _SEED = ".uncertain", 256, 1
_STORED = ("uncertain.json", "draws/sweep.sqlite")
_EXAMPLES = """\
examples:
  flowsim uncertain bench.toml                   with the usual tolerances
  flowsim uncertain bench.toml --tolerances workshop.toml     with yours
  flowsim uncertain bench.toml --count 1000      more draws: narrower intervals
  flowsim uncertain bench.toml --seed 2          other draws of the same kind
  flowsim uncertain bench.toml --out results/sure --jobs 2
  flowsim uncertain bench.toml --set room.draught='0.1 m/s' --fidelity network

A file of tolerances says how far values of the case may be off:

  format = 1
  [[tolerances]]
  key = "work_surface.hole_diameter"
  spread = "0.1 mm"

Stop it by Ctrl-C whenever you like; the same command goes on where it stopped.
Results: uncertain.html and pictures in the output folder."""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``uncertain``."""
    command.add_argument("case", metavar="CASE", help="case file (TOML)")
    command.add_argument(
        "--tolerances",
        metavar="FILE",
        help="file that says how far values may be off (default: the usual tolerances)",
    )
    command.add_argument(
        "--count",
        metavar="N",
        type=whole_number,
        default=_DRAWS,
        help=f"how many times values are drawn (default: {_DRAWS})",
    )
    command.add_argument(
        "--seed",
        metavar="N",
        type=seed_number,
        default=_SEED,
        help=f"the same number draws the same values (default: {_SEED})",
    )
    add_output(command, "CASE" + _ENDING)
    add_jobs(command)
    add_changes(command)


def _run(arguments: argparse.Namespace) -> int:
    """Say how sure the verdicts of a case are."""
    from flowsim.case.read import read_case

    case = read_case(arguments.case, changes_of(arguments))
    folder = output_folder(arguments.out, arguments.case, _ENDING, _STORED)
    tolerances = None
    if arguments.tolerances is not None:
        from flowsim.plan.tolerances import read_tolerances

        tolerances = read_tolerances(arguments.tolerances, case)
    say(printable(f"{case.title}: {arguments.count:,} draws, into {folder}"))
    from flowsim.plan.uncertain import uncertain, uncertain_text, write_uncertain
    from flowsim.report.cautions import SHORT_CAUTION

    found, code = resumable(
        lambda line: uncertain(
            case,
            tolerances,
            count=arguments.count,
            seed=arguments.seed,
            folder=folder,
            jobs=arguments.jobs,
            progress=line,
        ),
        arguments.words,
        folder,
    )
    if found is None:
        return code
    try:
        write_uncertain(found, folder)
        say(f"written to {folder}")
    finally:
        print(uncertain_text(found), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    return 0


COMMAND = Command(
    "uncertain",
    "say how sure each limit is met when values of the case are off a little",
    _EXAMPLES,
    _add_arguments,
    _run,
)
"""The command ``uncertain``. [-]"""
