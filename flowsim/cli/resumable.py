"""Long work that goes on where it stopped: progress while it runs, the command after a stop."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, TypeVar

from flowsim.cli.codes import EXIT_INPUT, EXIT_STOPPED
from flowsim.cli.progress import LOADING, ProgressLine, points_in_words
from flowsim.cli.speak import complain

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["resumable", "same_command"]

Found = TypeVar("Found")


def resumable(
    work: Callable[[ProgressLine], Found],
    words: Sequence[str],
    folder: Path,
    waiting: str = LOADING,
) -> tuple[Found | None, int]:
    """Run work that stores its points, and say how to go on if it does not come to its end.

    Parameters
    ----------
    work : callable
        Takes what is to be told of its progress. [-]
    words : sequence of str
        Arguments of the command. [-]
    folder : Path
        Where points are stored. [-]
    waiting : str
        What is said until the work tells of its progress. [-]

    Returns
    -------
    tuple
        What the work found, or None and the exit code. [-]

    Raises
    ------
    FlowsimError
        If the work failed before any point was stored.
    """
    from flowsim.errors import FlowsimError

    again = f"flowsim: go on with: {same_command(words)}"
    line = ProgressLine(waiting)
    try:
        with line:
            return work(line), 0
    except KeyboardInterrupt as stop:
        complain([f"flowsim: stopped; {_kept(stop, folder)}", again])
        return None, EXIT_STOPPED
    except FlowsimError as error:
        if not line.ran:
            raise
        complain([f"flowsim: {error}", again])
        return None, EXIT_INPUT


def same_command(words: Sequence[str]) -> str:
    """Return the command that was given, ready to be given again.

    Parameters
    ----------
    words : sequence of str
        Its arguments. [-]

    Returns
    -------
    str
        Such as ``flowsim sweep night.toml --jobs 2``. [-]
    """
    return shlex.join([*_program(), *words])


def _program() -> list[str]:
    """Return how the program is started from the folder we are in."""
    import shutil

    script = sys.argv[0] if sys.argv else ""
    if os.path.basename(script).partition(".")[0] != "flowsim":  # noqa: PTH119 - no Path at start
        return [sys.executable, "-m", "flowsim"]
    found = shutil.which("flowsim")
    known = found is not None and os.path.realpath(found) == os.path.realpath(script)
    return ["flowsim" if known else script]


def _kept(stop: KeyboardInterrupt, folder: Path) -> str:
    """Return how much of stopped work is stored."""
    from flowsim.batch.runner import Stopped

    if not isinstance(stop, Stopped):
        return f"finished points are stored in {folder}"
    total = stop.outcome.total
    done = total - stop.outcome.counts.get("open", 0)
    return f"{done:,} of {points_in_words(total)} are stored in {folder}"
