"""Progress on a terminal, without one, and when the terminal has gone."""

from __future__ import annotations

import io
import sys

import pytest

from flowsim.batch.runner import Progress
from flowsim.cli import progress
from flowsim.cli.progress import Pace, ProgressLine, duration


class _Stream(io.StringIO):
    """Stands for standard error."""

    def __init__(self, terminal: bool, broken: bool = False) -> None:
        super().__init__()
        self._terminal, self._broken = terminal, broken

    def isatty(self) -> bool:
        return self._terminal

    def write(self, text: str) -> int:
        if self._broken:
            raise OSError(5, "Input/output error")
        return super().write(text)


def _stream(
    monkeypatch: pytest.MonkeyPatch, terminal: bool, broken: bool = False
) -> tuple[_Stream, ProgressLine]:
    """Return a stream in the place of standard error, and a line on it."""
    stream = _Stream(terminal, broken)
    monkeypatch.setattr(sys, "stderr", stream)
    return stream, ProgressLine()


def _at(ran: int, total: int = 1000, failed: int = 0, stage: str = "points") -> Progress:
    """Return how far it is when so many points have run."""
    return Progress(stage, total, ran, total, ran, failed, 1.0)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Put a clock that stands still in the place of the real one."""
    now = [0.0]
    monkeypatch.setattr(progress, "monotonic", lambda: now[0])
    return now


def test_without_a_terminal_there_is_a_line_every_five_percent(
    monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    stream, line = _stream(monkeypatch, terminal=False)
    with line:
        for ran in range(1, 1001):
            clock[0] = ran / 10
            line(_at(ran))
    lines = stream.getvalue().splitlines()
    assert len(lines) == 20
    assert lines[0].startswith("flowsim: 50 of 1,000 points (5 %), 10 a second")
    assert lines[-1] == "flowsim: 1,000 of 1,000 points (100 %)"
    assert "\r" not in stream.getvalue()
    assert "\x1b" not in stream.getvalue()


def test_without_a_terminal_a_quick_sweep_says_little(
    monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    stream, line = _stream(monkeypatch, terminal=False)
    for ran in range(1, 1001):
        clock[0] = ran / 500
        line(_at(ran))
    assert len(stream.getvalue().splitlines()) == 2


def test_without_a_terminal_there_is_a_line_every_minute(
    monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    stream, line = _stream(monkeypatch, terminal=False)
    for second in range(1, 601):
        clock[0] = float(second)
        line(_at(second, total=1_000_000))
    lines = stream.getvalue().splitlines()
    assert len(lines) == 10
    assert lines[0].endswith("60 of 1,000,000 points (0 %), 1 a second, about 277 h 46 min left")


def test_on_a_terminal_one_line_moves_and_goes_at_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    stream, line = _stream(monkeypatch, terminal=True)
    monkeypatch.setattr(progress, "_TERMINAL_SECONDS", 0.0)
    monkeypatch.setenv("COLUMNS", "29")
    with line:
        line(_at(500, failed=3))
        line(_at(501, failed=3))
    text = stream.getvalue()
    assert "\n" not in text
    assert text.endswith("\r\x1b[K")
    assert "\rflowsim: 500 of 1,000 points\x1b[K" in text


def test_failed_points_and_files_are_told(
    monkeypatch: pytest.MonkeyPatch, clock: list[float]
) -> None:
    stream, line = _stream(monkeypatch, terminal=False)
    clock[0] = 2.0
    line(_at(500, failed=3))
    clock[0] = 4.0
    line(_at(2, total=4, stage="files"))
    first, second = stream.getvalue().splitlines()
    assert first == "flowsim: 500 of 1,000 points (50 %), 3 failed"
    assert second == "flowsim: files of 2 of 4 points"


def test_a_terminal_that_has_gone_stops_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    _, line = _stream(monkeypatch, terminal=True, broken=True)
    with line:
        line(_at(500))


def test_pace_leaves_out_the_time_before_the_first_point() -> None:
    pace = Pace(100)
    assert pace.words(0, 50.0) == ""
    assert pace.words(1, 60.0) == ""
    assert pace.words(11, 65.0) == "2 a second, about 44 s left"
    assert pace.words(100, 120.0) == ""


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.4, "0 s"),
        (89.0, "89 s"),
        (90.0, "2 min"),
        (3599.0, "1 h 00 min"),
        (12000.0, "3 h 20 min"),
    ],
)
def test_duration_is_said_as_people_say_it(seconds: float, words: str) -> None:
    assert duration(seconds) == words
