"""Speed of sweeps: points per second, against plain runs, on two processes, cost of the runner.

Points of the mirror bench at its default resolution, fan, exhaust, opening, holes and plenum
varied, figures without vapour and dust. One BLAS thread. `scripts/benchmark.py` prints these rows.
"""

from __future__ import annotations

import statistics
import tempfile
import time
import warnings
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TypedDict

import numpy as np

from flowsim.batch.plan_points import Range, Sweep, sweep_from_python
from flowsim.batch.point import Row as Point
from flowsim.batch.point import base_start, run_point
from flowsim.batch.runner import Progress, run_sweep
from flowsim.batch.worker import Work
from flowsim.case.read import change_case, read_case
from flowsim.case.schema import Case
from flowsim.errors import ValidityWarning
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

CASE = Path(__file__).resolve().parent.parent / "cases" / "mirror_bench.toml"
KEEP = (
    "balance_margin",
    "front_velocity_min",
    "front_velocity_max",
    "draw_ratio",
    "compartment_pressure",
    "slit_velocity_min",
)
AXES = {
    "supply.fan.frequency": (33.0, 42.0, "Hz"),
    "exhaust.fan.speed": (75.0, 95.0, "%"),
    "openings.front.height": (120.0, 240.0, "mm"),
    "work_surface.hole_diameter": (6.0, 9.0, "mm"),
    "plenum.height": (95.0, 150.0, "mm"),
}
LEAST_RATE = 15.0
SHARE_WARM = 0.35  # of the points of a sweep that pass before its rate is taken


class Row(TypedDict):
    """One line of the table: the ratio, the goal it is held against, and whether it is met."""

    work: str
    ratio: float
    goal: float
    met: bool


class WrongAnswerError(Exception):
    """A job that was timed gave a wrong answer."""


def changes_of(count: int) -> list[dict[str, str]]:
    """Return some points of the bench, drawn from a fixed seed."""
    draw = np.random.default_rng(7)
    return [
        {key: f"{draw.uniform(low, high):.3f} {unit}" for key, (low, high, unit) in AXES.items()}
        for _ in range(count)
    ]


def seconds(job: Callable[[], object]) -> float:
    """Return the wall time of a job."""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def plain(base: Case, changes: Mapping[str, str], wanted: Sequence[str] | None) -> Result:
    """Return what a loop of one's own would run."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ValidityWarning)
        case = change_case(base, changes)
        if wanted is not None:
            limits = case.limits.model_copy(
                update={name: None for name in type(case.limits).model_fields if name not in wanted}
                | {"measure_height": case.limits.measure_height}
            )
            case = case.model_copy(update={"limits": limits})
        return run_case(case, wanted)


def check_point(row: Point, full: Result, same: Result) -> None:
    """Raise if a row of a sweep is not that of a plain run."""
    if row.status != "done":
        raise WrongAnswerError(f"point {row.status}: {row.error}")
    for name in KEEP:
        value, other = full[name], row.figures[name]
        if value != same[name]:
            raise WrongAnswerError(f"{name} alone is {same[name]}, in the full run {value}")
        if value is None or other is None or not abs(value - other) <= 1e-6 * abs(value) + 1e-9:
            raise WrongAnswerError(f"{name} of a point is {other}, of a plain run {value}")


def point_rows(quick: bool) -> list[Row]:
    """Return the rows of single points in this process."""
    base = read_case(CASE)
    start = base_start(base)
    changes = changes_of(6 if quick else 20)
    times: dict[str, list[float]] = {"point": [], "same": [], "full": []}
    for number, one in enumerate([changes[0], *changes]):
        row, full, same = (
            run_point(base, start, one, KEEP),
            plain(base, one, None),
            plain(base, one, KEEP),
        )
        check_point(row, full, same)
        if number:  # the first one fills the caches
            times["point"].append(seconds(lambda one=one: run_point(base, start, one, KEEP)))
            times["same"].append(seconds(lambda one=one: plain(base, one, KEEP)))
            times["full"].append(seconds(lambda one=one: plain(base, one, None)))
    point, same_time, full_time = (statistics.median(found) for found in times.values())
    rate = 1.0 / statistics.mean(times["point"])
    return [
        Row(
            work="sweep points per second and core",
            ratio=rate,
            goal=LEAST_RATE,
            met=rate >= LEAST_RATE,
        ),
        Row(
            work="sweep point / plain run_case of everything",
            ratio=point / full_time,
            goal=0.1,
            met=point <= 0.1 * full_time,
        ),
        Row(
            work="sweep point / plain run_case of its figures",
            ratio=point / same_time,
            goal=1.1,
            met=point <= 1.1 * same_time,
        ),
    ]


def sweep_of(count: int, keep: Sequence[str] = KEEP) -> Sweep:
    """Return a sweep of the bench."""
    axes = {
        key: Range(f"{low} {unit}", f"{high} {unit}") for key, (low, high, unit) in AXES.items()
    }
    sample = {"method": "latin hypercube", "count": count, "seed": 7}
    return sweep_from_python(read_case(CASE), axes, sample=sample, keep=list(keep))


def timed_sweep(sweep: Sweep, jobs: int, work: Work | None = None) -> tuple[float, bytes]:
    """Return seconds per point once the workers are warm, and the table."""
    marks: list[tuple[int, float]] = []

    def note(progress: Progress) -> None:
        if progress.stage == "points":
            marks.append((progress.ran, time.perf_counter()))

    more = {} if work is None else {"work": work}
    with tempfile.TemporaryDirectory() as scratch:
        outcome = run_sweep(sweep, scratch, jobs=jobs, progress=note, **more)
        if outcome.left or outcome.counts.get("done", 0) != len(sweep.points) or not outcome.table:
            raise WrongAnswerError(f"sweep did not end well: {dict(outcome.counts)}")
        table = outcome.table.read_bytes()
    warm = [mark for mark in marks if mark[0] >= SHARE_WARM * len(sweep.points)]
    (first, begun), (last, ended) = warm[0], warm[-1]
    return (ended - begun) / (last - first), table


def nothing(
    base: Case, start: object, changes: Mapping[str, object], keep: Sequence[str], fields: bool
) -> Point:
    """Return a row at once: what is left is the cost of runner and store."""
    del base, start, fields
    return Point("done", {name: float(len(changes)) for name in keep}, {})


def sweep_rows(quick: bool) -> list[Row]:
    """Return the rows of whole sweeps in processes of their own."""
    sweep = sweep_of(150 if quick else 300)
    (one, first), (two, second) = (timed_sweep(sweep, jobs) for jobs in (1, 2))
    if first != second:
        raise WrongAnswerError("the table of two processes is not that of one")
    bare, _ = timed_sweep(sweep_of(1000 if quick else 5000), 1, Work(nothing))
    gain, cost = one / two, 1000.0 * bare
    return [
        Row(work="sweep on two processes, times as fast", ratio=gain, goal=1.85, met=gain >= 1.85),
        Row(work="runner and store per point, in ms", ratio=cost, goal=1.0, met=cost <= 1.0),
    ]


def rows(quick: bool) -> list[Row]:
    """Return the rows of sweeps."""
    return [*point_rows(quick), *sweep_rows(quick)]
