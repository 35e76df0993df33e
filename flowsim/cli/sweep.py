"""Command ``sweep``: many points, resumed where they stopped."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from flowsim.cli.codes import EXIT_INPUT
from flowsim.cli.command import Command
from flowsim.cli.options import (
    add_changes,
    add_jobs,
    add_output,
    add_vary,
    changes_of,
    whole_number,
)
from flowsim.cli.progress import ProgressLine, duration, points_in_words
from flowsim.cli.resumable import resumable, same_command
from flowsim.cli.speak import complain, printable, say

if TYPE_CHECKING:
    from pathlib import Path

    from flowsim.batch.plan_points import Sweep
    from flowsim.batch.runner import Outcome

__all__ = ["COMMAND"]

_ENDING = ".sweep"
_EXAMPLES = """\
examples:
  flowsim sweep night.toml                     every point of a sweep file
  flowsim sweep night.toml --out results/june  into a folder of your choice
  flowsim sweep night.toml --jobs 2            two processes; default: one per processor
  flowsim sweep night.toml --limit 50          50 points now, the rest another time
  flowsim sweep night.toml --retry-failed      points that failed once more
  flowsim sweep --status night.sweep           how far it is, from another terminal
  flowsim sweep bench.toml --vary exhaust.flow='200 m3/h,300 m3/h,400 m3/h'
  flowsim sweep bench.toml --vary exhaust.flow='200 m3/h,300 m3/h' \\
                --set numerics.cells='[30, 15, 20]' --fidelity stacked
  flowsim sweep night.toml --engine dask       by dask, on this machine
  flowsim sweep night.toml --scheduler tcp://10.0.0.5:8786     on a cluster

Stop it by Ctrl-C whenever you like: finished points are kept, and the same
command goes on where it stopped. It does so after a power cut too.
If the terminal will close:  nohup flowsim sweep night.toml > night.log 2>&1 &
Results: results.csv and sweep.html in the output folder."""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``sweep``."""
    command.add_argument(
        "file", metavar="FILE", nargs="?", help="sweep file (TOML), or with --vary a case file"
    )
    command.add_argument("--status", metavar="DIR", help="say how far the sweep in a folder is")
    add_output(command, "FILE" + _ENDING)
    add_jobs(command)
    command.add_argument(
        "--limit", metavar="N", type=whole_number, help="stop after so many points"
    )
    command.add_argument(
        "--retry-failed", action="store_true", help="run points that failed once more"
    )
    command.add_argument(
        "--engine",
        choices=("local", "dask"),
        help="what runs the points: processes of this machine (default), or dask",
    )
    command.add_argument(
        "--scheduler", metavar="ADDRESS", help="dask scheduler of a cluster (means --engine dask)"
    )
    add_vary(command)
    add_changes(command)


def _run(arguments: argparse.Namespace) -> int:
    """Run a sweep, or say how far one is."""
    _check(arguments)
    if arguments.status is not None:
        from flowsim.cli.sweep_status import status_lines

        print("\n".join(status_lines(arguments.status)))
        return 0
    folder = _folder(arguments)
    sweep = _sweep(arguments)
    skipped = f", {sweep.skipped:,} left out by a condition" if sweep.skipped else ""
    say(printable(f"{sweep.title}: {points_in_words(len(sweep.points))}{skipped}, into {folder}"))
    return _go(arguments, sweep, folder)


def _check(arguments: argparse.Namespace) -> None:
    """Refuse options that do not go together."""
    from flowsim.errors import CaseError, Fault

    faults = []
    if (arguments.file is None) == (arguments.status is None):
        faults.append(Fault("", "expected a sweep file, or --status DIR (one of them)"))
    if not arguments.vary and (arguments.set or arguments.fidelity):
        message = "--set and --fidelity go with --vary; in a sweep file write: changes = {...}"
        faults.append(Fault("", message))
    if arguments.engine == "local" and arguments.scheduler:
        faults.append(Fault("", "--scheduler goes with --engine dask, not with local"))
    if faults:
        raise CaseError("flowsim sweep", faults)


def _folder(arguments: argparse.Namespace) -> Path:
    """Return the folder of the sweep."""
    from pathlib import Path

    given: str | None = arguments.out
    return Path(given) if given else Path(Path(arguments.file).stem + _ENDING)


def _sweep(arguments: argparse.Namespace) -> Sweep:
    """Read what is asked for."""
    if arguments.vary:
        from flowsim.cli.vary import varied_sweep

        return varied_sweep(arguments.file, changes_of(arguments), arguments.vary)
    from flowsim.batch.read_sweep import read_sweep

    return read_sweep(arguments.file)


def _go(arguments: argparse.Namespace, sweep: Sweep, folder: Path) -> int:
    """Run the points, and say what came of it."""

    def work(line: ProgressLine) -> Outcome:
        from flowsim.batch.runner import run_sweep

        return run_sweep(
            sweep,
            folder,
            jobs=arguments.jobs,
            engine="dask" if arguments.scheduler else arguments.engine or "local",
            scheduler=arguments.scheduler,
            limit=arguments.limit,
            retry_failed=arguments.retry_failed,
            progress=line,
        )

    outcome, code = resumable(work, arguments.words, folder)
    if outcome is None:
        return code
    _say_end(outcome, arguments.words)
    return _finish(arguments.words, folder)


def _finish(words: Sequence[str], folder: Path) -> int:
    """Write the page and print the morning summary."""

    def work(_: ProgressLine) -> tuple[list[str], str]:
        from flowsim.cli.sweep_words import finished

        return finished(folder)

    found, code = resumable(work, words, folder, "drawing pictures")
    if found is None:
        return code
    from flowsim.report.cautions import SHORT_CAUTION

    lines, fault = found
    print("\n".join(lines), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    if fault:
        complain([f"flowsim: {fault}"])
    return EXIT_INPUT if fault else 0


def _say_end(outcome: Outcome, words: Sequence[str]) -> None:
    """Say what this run did and what is left."""
    if not outcome.ran and not outcome.left:
        say("nothing was left to do")
    else:
        say(f"{points_in_words(outcome.ran)} run in {duration(outcome.elapsed)}")
    if outcome.left:
        say(f"{points_in_words(outcome.left)} left; go on with: {same_command(words)}")


COMMAND = Command(
    "sweep",
    "run many points overnight, resumed where they stopped",
    _EXAMPLES,
    _add_arguments,
    _run,
)
"""The command ``sweep``. [-]"""
