"""Command ``window``: what to set, and how far it may drift."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from flowsim.cli.command import Command
from flowsim.cli.options import add_changes, add_output, changes_of, output_folder, whole_number
from flowsim.cli.speak import Heartbeat, printable, say

if TYPE_CHECKING:
    from flowsim.plan.window import Told

__all__ = ["COMMAND"]

_ENDING, _STORED = ".window", ("window.json",)
_EVERY = 25
_EXAMPLES = """\
examples:
  flowsim window bench.toml
  flowsim window bench.toml --hold '2 %'            what both settings can be held to
  flowsim window bench.toml --hold '2 %, 5 %'       supply and exhaust
  flowsim window bench.toml --supply '25 Hz to 50 Hz' --exhaust '60 % to 100 %'
  flowsim window bench.toml --transport             vapour and dust too: a minute or more
  flowsim window bench.toml --solves 80             fewer solves, coarser borders
  flowsim window bench.toml --set supply.filter.loading=1.5 --out results/window
  flowsim window bench.toml --fidelity network      a quick look, resistances alone

What is set is what the case has: speed or frequency of a fan, a flow, a face
velocity, a suction. The limits are those of the case."""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    """Add the arguments of ``window``."""
    command.add_argument("case", metavar="CASE", help="case file (TOML)")
    command.add_argument(
        "--hold",
        metavar="SHARE",
        help="how far settings stray from where they are set, one for both or supply and exhaust "
        "(default: '3 %%', which is assumed)",
    )
    for part in ("supply", "exhaust"):
        command.add_argument(
            f"--{part}", metavar="RANGE", help=f"what is mapped of the {part} (default: around now)"
        )
    command.add_argument(
        "--transport",
        action="store_true",
        help="map limits on vapour and dust too, coarser (default: judged at the proposal alone)",
    )
    command.add_argument(
        "--solves",
        metavar="N",
        type=whole_number,
        default=150,
        help="solves at most (default: 150); those of --transport come on top",
    )
    add_output(command, "CASE" + _ENDING)
    add_changes(command)


class _Line:
    """Says now and then how far it is."""

    def __init__(self) -> None:
        self._stage, self._said = "", 0

    def __call__(self, now: Told) -> None:
        """Note how far it is, and say so at a new stage or after some solves."""
        if now.stage == self._stage and now.done < self._said + _EVERY:
            return
        self._stage, self._said = now.stage, now.done
        say(f"{now.stage}: {now.done} solves so far")


def _run(arguments: argparse.Namespace) -> int:
    """Map the settings and propose a set point."""
    from flowsim.case.read import read_case

    case = read_case(arguments.case, changes_of(arguments))
    folder = output_folder(arguments.out, arguments.case, _ENDING, _STORED)
    say(printable(f"{case.title}: mapping what can be set"))
    from flowsim.plan.window import window, window_text, write_window
    from flowsim.report.cautions import SHORT_CAUTION

    ranges = {"supply": arguments.supply, "exhaust": arguments.exhaust}
    with Heartbeat("still solving"):
        found = window(
            case,
            hold=arguments.hold,
            ranges={part: text for part, text in ranges.items() if text is not None},
            most=arguments.solves,
            carried=arguments.transport,
            tell=_Line(),
        )
    try:
        write_window(found, folder)
        say(f"written to {folder}")
    finally:
        print(window_text(found), flush=True)
    print(SHORT_CAUTION, file=sys.stderr)
    return 0


COMMAND = Command(
    "window",
    "map supply against exhaust: what to set, how far it may drift, what breaks first",
    _EXAMPLES,
    _add_arguments,
    _run,
)
"""The command ``window``. [-]"""
