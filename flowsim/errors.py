"""The exception tree.

::

    FlowsimError
    ├── CaseError(ValueError)          a case file or a change to it is faulty
    ├── RangeError(ValueError)         an argument is physically impossible
    ├── ConvergenceError(RuntimeError) a solver did not reach its tolerance
    └── OutputError(OSError)           a result could not be written

    ValidityWarning(UserWarning)       a law is used outside its published range
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "CaseError",
    "ConvergenceError",
    "Fault",
    "FlowsimError",
    "OutputError",
    "RangeError",
    "ValidityWarning",
]


class FlowsimError(Exception):
    """Any failure that flowsim foresees."""


@dataclass(frozen=True)
class Fault:
    """One mistake in a case.

    Parameters
    ----------
    key : str
        Dotted path of the key, empty for the whole file.
    message : str
        What is wrong, which value was found, what was expected, the nearest right name.
    line : int or None
        Line in the file, counted from 1.
    """

    key: str
    message: str
    line: int | None = None


class CaseError(FlowsimError, ValueError):
    """A case is faulty; all its faults are listed at once.

    Parameters
    ----------
    source : str
        File name, or a word for a case built in Python.
    faults : sequence of Fault
        At least one.
    """

    def __init__(self, source: str, faults: Sequence[Fault]) -> None:
        self.source = source
        self.faults = tuple(faults)
        super().__init__("\n".join(self.lines()))

    def lines(self) -> list[str]:
        """Return one printable line per fault: ``file:line: key: message``."""
        out = []
        for fault in self.faults:
            place = self.source if fault.line is None else f"{self.source}:{fault.line}"
            key = f"{fault.key}: " if fault.key else ""
            out.append(f"{place}: {key}{fault.message}")
        return out


class RangeError(FlowsimError, ValueError):
    """An argument is physically impossible."""


class ConvergenceError(FlowsimError, RuntimeError):
    """A solver did not reach its tolerance; the message names the worst element."""


class OutputError(FlowsimError, OSError):
    """A result could not be written."""


class ValidityWarning(UserWarning):
    """A law is used outside the range for which its source gives it."""
