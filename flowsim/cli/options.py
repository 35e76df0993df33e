"""Options that several commands share, and what they mean."""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

__all__ = [
    "FIDELITIES",
    "add_changes",
    "add_jobs",
    "add_output",
    "add_vary",
    "changes_of",
    "output_folder",
    "seed_number",
    "spread",
    "whole_number",
]

FIDELITIES = ("network", "section", "stacked", "volume")
"""Models of the chamber, as a case file names them. [-]"""

REPORTS = ("summary.json", "comparison.json")


def add_output(command: argparse.ArgumentParser, default: str) -> None:
    """Add the choice of the output folder.

    Parameters
    ----------
    command : ArgumentParser
        Command to add it to. [-]
    default : str
        Name of the folder where none is given. [-]
    """
    text = f"folder for the results (default: {default} in the current folder)"
    command.add_argument("--out", metavar="DIR", help=text)


def add_changes(command: argparse.ArgumentParser) -> None:
    """Add the options that change a case.

    Parameters
    ----------
    command : ArgumentParser
        Command to add them to. [-]
    """
    command.add_argument(
        "--set",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="change one value, such as openings.front.height='140 mm'; may be repeated",
    )
    command.add_argument("--fidelity", choices=FIDELITIES, help="model of the chamber")


def add_jobs(command: argparse.ArgumentParser) -> None:
    """Add the number of processes.

    Parameters
    ----------
    command : ArgumentParser
        Command to add it to. [-]
    """
    command.add_argument(
        "--jobs",
        metavar="N",
        type=whole_number,
        help="processes that work at the same time (default: one per processor)",
    )


def add_vary(command: argparse.ArgumentParser) -> None:
    """Add the option that varies a key.

    Parameters
    ----------
    command : ArgumentParser
        Command to add it to. [-]
    """
    command.add_argument(
        "--vary",
        metavar="KEY=V1,V2,...",
        action="append",
        default=[],
        help="values of one key, separated by commas (or by ';'); several keys are combined",
    )


def whole_number(text: str) -> int:
    """Read a whole number above zero.

    Parameters
    ----------
    text : str
        As typed. [-]

    Returns
    -------
    int
        The number. [-]

    Raises
    ------
    ArgumentTypeError
        If it is none.
    """
    if not (text.isascii() and text.isdigit() and int(text)):
        raise argparse.ArgumentTypeError(f"'{text}' is not a whole number above zero")
    return int(text)


def seed_number(text: str) -> int:
    """Read a whole number, zero or above.

    Parameters
    ----------
    text : str
        As typed. [-]

    Returns
    -------
    int
        The number. [-]

    Raises
    ------
    ArgumentTypeError
        If it is none.
    """
    return 0 if text == "0" else whole_number(text)


def spread(words: Sequence[str]) -> list[str]:
    """Return the arguments with the option repeated before each of several changes.

    Parameters
    ----------
    words : sequence of str
        Arguments as typed. [-]

    Returns
    -------
    list of str
        Arguments as the parser takes them. [-]
    """
    out: list[str] = []
    option = ""
    for word in words:
        if word in ("--set", "--vary"):
            option = word
        elif option and out[-1] != option:
            if re.match(r"[A-Za-z_][\w .\[\]-]*=", word):
                out.append(option)
            else:
                option = ""
        out.append(word)
    return out


def changes_of(arguments: argparse.Namespace) -> dict[str, str]:
    """Return the changes that the options ask for.

    Parameters
    ----------
    arguments : Namespace
        With ``set`` and ``fidelity``. [-]

    Returns
    -------
    dict of str to str
        Key path -> value. [as written]
    """
    from flowsim.case.written_changes import pairs

    changes = dict(pairs(arguments.set, "--set"))
    if arguments.fidelity:
        changes["numerics.fidelity"] = arguments.fidelity
    return changes


def output_folder(
    given: str | None, first: str, ending: str, markers: Sequence[str] = REPORTS
) -> Path:
    """Return the output folder, and refuse one that is not ours before any work is done.

    Parameters
    ----------
    given : str or None
        Folder that was asked for. [-]
    first : str
        File that names the folder where none was asked for. [-]
    ending : str
        What follows the file's name then. [-]
    markers : sequence of str
        Files of which one stands in an earlier result. [-]

    Returns
    -------
    Path
        A new or empty folder, or an earlier result. [-]

    Raises
    ------
    OutputError
        If it is a file, or holds something else.
    """
    from pathlib import Path

    from flowsim.errors import OutputError

    folder = Path(given) if given else Path(Path(first).stem + ending)
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is a file; expected a folder for the results")
    foreign = folder.exists() and not any((folder / name).is_file() for name in markers)
    if foreign and any(folder.iterdir()):
        raise OutputError(
            f"{folder}: is not empty and holds no earlier result; expected a new or an empty "
            "folder, or an earlier result (--out DIR names another)"
        )
    return folder
