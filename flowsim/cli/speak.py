"""What the program says while it works; results go to standard output, this does not."""

from __future__ import annotations

import sys
from collections.abc import Sequence

__all__ = ["Heartbeat", "complain", "printable", "say", "tolerate_narrow_streams"]


def say(text: str) -> None:
    """Print one line of progress.

    Parameters
    ----------
    text : str
        The line. [-]
    """
    print(f"flowsim: {text}", file=sys.stderr, flush=True)


def printable(text: str) -> str:
    """Return a line without control characters.

    Parameters
    ----------
    text : str
        Anything, also out of a case file. [-]

    Returns
    -------
    str
        The same with control characters written out. [-]
    """
    return "".join(sign if sign.isprintable() else f"\\x{ord(sign):02x}" for sign in text)


def complain(lines: Sequence[str]) -> None:
    """Print messages, one a line.

    Parameters
    ----------
    lines : sequence of str
        The messages. [-]
    """
    for line in lines:
        print(printable(line), file=sys.stderr)


def tolerate_narrow_streams() -> None:
    """Replace signs that a stream cannot encode, in place of failing."""
    for stream in (sys.stdout, sys.stderr):
        narrow = (getattr(stream, "encoding", None) or "utf-8").lower() not in ("utf-8", "utf8")
        if narrow and hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


class Heartbeat:
    """Says once a minute that work is still going on.

    Parameters
    ----------
    text : str
        What is going on. [-]
    seconds : float
        Time between two lines. [s]
    """

    def __init__(self, text: str, seconds: float = 60.0) -> None:
        import threading

        self._text, self._seconds = text, seconds
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def _beat(self) -> None:
        passed = 0.0
        while not self._done.wait(self._seconds):
            passed += self._seconds
            say(f"{self._text} ({passed:.0f} s so far)")

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._done.set()
