"""How far a long computation is: one line that moves on a terminal, plain lines elsewhere."""

from __future__ import annotations

import shutil
import sys
import threading
from time import monotonic
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flowsim.batch.runner import Progress

__all__ = ["LOADING", "Pace", "ProgressLine", "duration", "points_in_words"]

_PLAIN_LEAST, _PLAIN_SECONDS, _PLAIN_PARTS = 1.0, 60.0, 20
_TERMINAL_SECONDS = 0.2
LOADING = "loading; the first point may take a minute"
"""Said before the first point. [-]"""

_CLEAR = "\r\x1b[K"


def duration(seconds: float) -> str:
    """Return a time in words.

    Parameters
    ----------
    seconds : float
        Time. [s]

    Returns
    -------
    str
        Such as "40 s", "12 min" or "3 h 20 min". [-]
    """
    if seconds < 90:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def points_in_words(number: int) -> str:
    """Return a number of points.

    Parameters
    ----------
    number : int
        How many. [-]

    Returns
    -------
    str
        Such as "1 point" or "20,000 points". [-]
    """
    return f"{number:,} point{'' if number == 1 else 's'}"


class Pace:
    """How fast points come, from the first one on: what is loaded and compiled before is left out.

    Parameters
    ----------
    todo : int
        Points to do. [-]
    """

    def __init__(self, todo: int) -> None:
        self._todo = todo
        self._first: tuple[int, float] | None = None

    def words(self, ran: int, now: float) -> str:
        """Return how fast it goes and how long it will take.

        Parameters
        ----------
        ran : int
            Points done so far. [-]
        now : float
            Time of any clock. [s]

        Returns
        -------
        str
            Such as "12 a second, about 3 min left"; empty while nobody can know. [-]
        """
        if self._first is None and ran:
            self._first = (ran, now)
        begun, since = self._first or (0, now)
        if ran <= begun or now <= since or ran >= self._todo:
            return ""
        rate = (ran - begun) / (now - since)
        spoken = f"{rate:.3g} a second" if rate >= 1 else f"{60 * rate:.3g} a minute"
        left = (self._todo - ran) / rate
        return f"{spoken}, about {duration(left)} left" if left >= 1 else spoken


class ProgressLine:
    """Says how many points are done, how fast, and how long it will take.

    A line that cannot be printed, as its terminal has gone, is left out: the work goes on.

    Parameters
    ----------
    waiting : str
        What is said before anything is known. [-]
    """

    def __init__(self, waiting: str = LOADING) -> None:
        self._now: Progress | None = None
        self._pace: Pace | None = None
        self._text = waiting
        self._said, self._said_ran = monotonic(), 0
        self._terminal = sys.stderr.isatty()
        self._lock = threading.Lock()
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def __enter__(self) -> ProgressLine:
        self._said = monotonic()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._end.set()
        self._thread.join(1.0)
        if self._terminal:
            _write(_CLEAR)

    def __call__(self, now: Progress) -> None:
        """Note how far it is, and say so if it is time.

        Parameters
        ----------
        now : Progress
            How far it is. [-]
        """
        with self._lock:
            if self._now is None or now.stage != self._now.stage:
                self._pace, self._said_ran = Pace(now.todo), 0
            self._now = now
            self._text = self._words(now)
            if self._is_time():
                self._say()

    @property
    def ran(self) -> int:
        """Points that are known to have run [-]."""
        return 0 if self._now is None else self._now.ran

    def _words(self, now: Progress) -> str:
        """Return the state in one line."""
        if now.stage == "points":
            text = f"{now.finished:,} of {now.total:,} points"
            text += f" ({100 * now.finished / max(now.total, 1):.0f} %)"
        else:
            text = f"files of {now.ran:,} of {now.todo:,} points"
        failed = f"{now.failed:,} failed" if now.failed else ""
        pace = self._pace.words(now.ran, monotonic()) if self._pace else ""
        return ", ".join(part for part in (text, failed, pace) if part)

    def _is_time(self) -> bool:
        """Return whether a line is due."""
        passed = monotonic() - self._said
        if self._terminal:
            return passed >= _TERMINAL_SECONDS
        todo = 1 if self._now is None else self._now.todo
        if (self.ran - self._said_ran) * _PLAIN_PARTS < todo:
            return passed >= _PLAIN_SECONDS
        return passed >= _PLAIN_LEAST or self.ran >= todo

    def _say(self) -> None:
        """Print the line."""
        self._said, self._said_ran = monotonic(), self.ran
        text = f"flowsim: {self._text}"
        if self._terminal:
            width = shutil.get_terminal_size().columns - 1
            _write(f"\r{text[:width]}\x1b[K")
        else:
            _write(f"{text}\n")

    def _beat(self) -> None:
        """Print also where no point ends for long."""
        while not self._end.wait(1.0):
            with self._lock:
                if self._is_time() and not self._end.is_set():
                    self._say()


def _write(text: str) -> None:
    """Write to standard error, if it is still there."""
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except (OSError, ValueError):
        return
