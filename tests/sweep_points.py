"""Stand-ins for the points of a sweep, which worker processes find by name.

Nothing large is loaded here, as every worker loads it; sweeps of these stand in `point_sweeps`.
"""

from __future__ import annotations

import math
import os
import signal
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flowsim.batch.worker import Work

KEY = "room.pressure"
LOWEST = 60e3
STEP = 0.5
LAST_QUICK = 20


@dataclass(frozen=True)
class StandIn:
    status: str = "done"
    figures: dict[str, float | None] = field(default_factory=dict)
    checks: dict[str, str] = field(default_factory=dict)
    error: str = ""


def number_of(changes: Mapping[str, Any]) -> int:
    return round((changes[KEY] - LOWEST) / STEP)


def figures_of(number: int) -> dict[str, float | None]:
    values = {"supply_flow": math.sin(number) / 3.0, "draw_ratio": 1.0 + math.exp(-number / 7.0)}
    return {**values, "front_velocity_mean": None if number % 5 == 0 else -number / 3.0}


def quick(_base: Any, start: Any, changes: Mapping[str, Any], _keep: Any, _want: bool) -> StandIn:
    number = number_of(changes)
    state = "met" if number % 2 else "not met"
    return StandIn("done", figures_of(number), {"draw_ratio": state}, str(start or ""))


def ill(base: Any, start: Any, changes: Mapping[str, Any], keep: Any, want: bool) -> StandIn:
    """Do every wrong thing, each at its number."""
    number = number_of(changes)
    if number == 3:
        raise ZeroDivisionError("by three")
    if number == 5:
        os._exit(7)
    if number == 7:
        os.kill(os.getpid(), signal.SIGKILL)
    if number == 9:
        time.sleep(1000.0)
    if number == 11:
        return StandIn("not converged", error="the worst element is the front")
    if number == 13:
        raise SystemExit(2)
    return quick(base, start, changes, keep, want)


def endless(base: Any, start: Any, changes: Mapping[str, Any], keep: Any, want: bool) -> StandIn:
    """Be quick up to point `LAST_QUICK`, then take for ever."""
    if number_of(changes) > LAST_QUICK:
        time.sleep(1000.0)
    return quick(base, start, changes, keep, want)


def a_file(_base: Any, _start: Any, changes: Mapping[str, Any], folder: str) -> None:
    """Write a point's files, complete or not at all."""
    place = Path(folder)
    fresh = place.with_name(f".{place.name}.new-{os.getpid()}-0a")
    fresh.mkdir(parents=True)
    (fresh / "summary.json").write_text(str(number_of(changes)), encoding="utf-8")
    fresh.replace(place)


def full_disk(_base: Any, _start: Any, _changes: Any, _folder: str) -> None:
    raise OSError(28, "No space left on device")


def begin(base: Any) -> str:
    return f"began with {base.title}"


def refuse(_base: Any) -> str:
    raise OSError("no such library")


QUICK, ILL, ENDLESS = Work(quick), Work(ill), Work(endless)
BEGINNING, REFUSING = Work(quick, begin), Work(quick, refuse)
FILING, FULL = Work(quick, None, a_file), Work(quick, None, full_disk)
