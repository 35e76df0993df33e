"""The parser of all commands."""

from __future__ import annotations

import argparse
import re
import sys
from typing import NoReturn

from flowsim.cli import check, compare, example, holes, run, schema, sweep, uncertain, window
from flowsim.cli.codes import EXIT_INPUT

__all__ = ["Parser", "parser"]

_COMMANDS = (
    run.COMMAND,
    compare.COMMAND,
    sweep.COMMAND,
    uncertain.COMMAND,
    window.COMMAND,
    holes.COMMAND,
    check.COMMAND,
    example.COMMAND,
    schema.COMMAND,
)
_CAUTION = (
    "Caution: a screening calculation, not a test of the built enclosure. Work with hazardous "
    "substances needs a tested fume cupboard or licensed advice; look whether the air still "
    "flows the right way before every use."
)
_DESCRIPTION = (
    "Airflow in a home-built clean-air enclosure: which way the front blows, how evenly the "
    "work surface draws, how the pressures lie."
)
_EPILOG = (
    "exit codes: 0 done; 2 faulty input, all faults listed; 3 no solution found; "
    "4 with --strict, if a limit is not met or not shown. "
    "Results go to standard output, everything else to standard error. " + _CAUTION
)


class Parser(argparse.ArgumentParser):
    """Argument parser that names the nearest right word."""

    words: tuple[str, ...] = ()

    def error(self, message: str) -> NoReturn:
        """Leave with what is wrong and what was probably meant.

        Parameters
        ----------
        message : str
            What is wrong. [-]
        """
        import difflib

        match = re.search(r"invalid choice: '?([^' ]+)|unrecognized arguments: ([^\s=]+)", message)
        wrong = next((word for word in match.groups() if word), "") if match else ""
        close = difflib.get_close_matches(wrong, Parser.words, 1, 0.5) if wrong else []
        guess = f"; did you mean '{close[0]}'?" if close else ""
        self.print_usage(sys.stderr)
        self.exit(EXIT_INPUT, f"{self.prog}: {message}{guess}\n")


def parser() -> Parser:
    """Return the parser of all commands.

    Returns
    -------
    Parser
        Its namespaces hold ``handler``, the function of the command, or None. [-]
    """
    whole = Parser("flowsim", description=_DESCRIPTION, epilog=_EPILOG, allow_abbrev=False)
    version = sys.modules["flowsim"].__version__
    whole.add_argument("--version", action="version", version=f"flowsim {version}")
    whole.set_defaults(handler=None)
    commands = whole.add_subparsers(metavar="COMMAND", parser_class=Parser)
    words = set(whole._option_string_actions)
    for command in _COMMANDS:
        part = commands.add_parser(
            command.name,
            help=command.text,
            description=command.text,
            epilog=command.examples,
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        part.set_defaults(handler=command.run)
        command.add_arguments(part)
        for option, action in part._option_string_actions.items():
            words.update((option, *(action.choices or ())))
    Parser.words = (*commands.choices, *sorted(words))
    return whole
