"""Sweeps on the command line: options, faults, what is said; the models stand aside."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from sweep_files import CASE, SWEEP

from flowsim.batch.runner import Outcome, Progress, Stopped
from flowsim.cli import main
from flowsim.errors import OutputError


@dataclass
class _Runner:
    """Stands for the runner, and notes what it was asked."""

    failure: BaseException | None = None
    left: int = 0
    ran: int = 6
    asked: dict[str, Any] = field(default_factory=dict)

    def __call__(self, sweep: Any, folder: Path, **options: Any) -> Outcome:
        """Return an outcome."""
        self.asked = {"sweep": sweep, "folder": folder, **options}
        if self.failure is not None:
            raise self.failure
        return _outcome(Path(folder), self.ran, self.left)


def _outcome(folder: Path, ran: int, left: int) -> Outcome:
    """Return how a sweep of six points stands."""
    return Outcome(folder, 6, 0, ran, left, {"done": 6 - left, "open": left}, 1.0)


@pytest.fixture
def runner(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> _Runner:
    """Put a stand-in in the place of the runner, and work in a folder with a case and a sweep."""
    runner = _Runner()
    monkeypatch.setattr("flowsim.batch.runner.run_sweep", runner)
    monkeypatch.setattr("flowsim.cli.sweep_words.finished_lines", lambda _: ["the summary"])
    monkeypatch.chdir(tmp_path)
    Path("bench.toml").write_text(CASE, encoding="utf-8")
    Path("night.toml").write_text(SWEEP, encoding="utf-8")
    return runner
