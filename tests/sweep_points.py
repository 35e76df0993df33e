"""Stand-ins for the points of a sweep, which worker processes find by name, and sweeps of them."""

from __future__ import annotations

import math
import os
import signal
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from flowsim.batch.plan_points import Range, Sweep, sweep_from_python
from flowsim.batch.worker import Work
from flowsim.case.read import read_case

KEY = "room.pressure"
LOWEST = 60e3
STEP = 0.5


@dataclass(frozen=True)
class StandIn:
    status: str = "done"
    figures: dict[str, float | None] = field(default_factory=dict)
    checks: dict[str, str] = field(default_factory=dict)
    error: str = ""


def a_sweep(count: int, keep: Sequence[str] = ("supply_flow", "draw_ratio"), **more: Any) -> Sweep:
    """Return a sweep whose point number n has the room pressure LOWEST + n STEP."""
    case = read_case(str(files("flowsim.case").joinpath("starter.toml")))
    axes = {KEY: Range(LOWEST + STEP, LOWEST + count * STEP, count)}
    return sweep_from_python(case, axes, keep=keep, **more)


def in_order(sweep: Sweep, order: Sequence[int]) -> Sweep:
    """Return the same points in another order."""
    return replace(sweep, points=[sweep.points[place] for place in order])


def number_of(changes: Mapping[str, Any]) -> int:
    return round((changes[KEY] - LOWEST) / STEP)


def note(folder: str, number: int) -> None:
    """Note that a point was begun, in a way that survives kills."""
    with (Path(folder) / "begun.txt").open("a", encoding="utf-8") as stream:
        stream.write(f"{number} {os.getpid()}\n")


def begun(folder: Path) -> list[int]:
    """Return the numbers of points that were begun."""
    path = folder / "begun.txt"
    return [int(line.split()[0]) for line in path.read_text().splitlines()] if path.exists() else []


def _figures(number: int) -> dict[str, float | None]:
    values = {"supply_flow": math.sin(number) / 3.0, "draw_ratio": 1.0 + math.exp(-number / 7.0)}
    return {**values, "front_velocity_mean": None if number % 5 == 0 else -number / 3.0}


def quick(_base: Any, _start: Any, changes: Mapping[str, Any], _keep: Any, _want: bool) -> StandIn:
    number = number_of(changes)
    state = "met" if number % 2 else "not met"
    return StandIn(figures=_figures(number), checks={"draw_ratio": state})


def slow(base: Any, start: Any, changes: Mapping[str, Any], keep: Any, want: bool) -> StandIn:
    """Take about 5 ms, some of it with work, and note each beginning and end."""
    number = number_of(changes)
    place = os.environ.get("SWEEP_NOTES", "")
    if place:
        note(place, number)
    limit = time.perf_counter() + 0.004
    while time.perf_counter() < limit:
        math.sqrt(2.0)
    time.sleep(0.001)
    return quick(base, start, changes, keep, want)


def ill(base: Any, start: Any, changes: Mapping[str, Any], keep: Any, want: bool) -> StandIn:
    """Do every wrong thing at its number."""
    number = number_of(changes)
    if number == 3:
        raise ZeroDivisionError("by three")
    if number == 5:
        os._exit(7)
    if number == 7:
        os.kill(os.getpid(), signal.SIGSEGV)
    if number == 9:
        time.sleep(1000.0)
    if number == 11:
        return StandIn("not converged", error="the worst element is the front")
    if number == 13:
        raise SystemExit(2)
    return quick(base, start, changes, keep, want)


def never(_base: Any, _start: Any, _changes: Any, _keep: Any, _want: bool) -> StandIn:
    time.sleep(1000.0)
    return StandIn()


def long(base: Any, start: Any, changes: Mapping[str, Any], keep: Any, want: bool) -> StandIn:
    """Be quick up to point 20, then take for ever."""
    if number_of(changes) > 20:
        time.sleep(1000.0)
    return quick(base, start, changes, keep, want)


def a_file(_base: Any, _start: Any, changes: Mapping[str, Any], folder: str) -> None:
    """Write a point's files, complete or not at all."""
    place = Path(folder)
    fresh = place.with_name(f".{place.name}.new-{os.getpid()}-0a")
    fresh.mkdir(parents=True)
    (fresh / "summary.json").write_text(str(number_of(changes)), encoding="utf-8")
    fresh.replace(place)


def begin(_base: Any) -> str:
    return "first guess"


def refuse(_base: Any) -> str:
    raise OSError("no such library")


QUICK, SLOW, ILL, NEVER, LONG = Work(quick), Work(slow), Work(ill), Work(never), Work(long)
