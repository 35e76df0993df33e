"""What a command is: a name, words of help, arguments, and a function."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Command"]


@dataclass(frozen=True)
class Command:
    """One command of the program.

    Parameters
    ----------
    name : str
        As it is typed. [-]
    text : str
        What it does, in one line. [-]
    examples : str
        One line for each option, printed below the options. [-]
    add_arguments : callable
        Adds the arguments to the command's parser. [-]
    run : callable
        Takes the parsed arguments and returns the exit code. [-]
    """

    name: str
    text: str
    examples: str
    add_arguments: Callable[[argparse.ArgumentParser], None]
    run: Callable[[argparse.Namespace], int]
