"""The command that goes on where a sweep stopped."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Sequence

__all__ = ["same_command"]


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
