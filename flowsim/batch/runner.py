"""One sweep from its plan to its table: what is missing is run, what came of it is stored."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from itertools import chain
from pathlib import Path
from time import monotonic
from types import FrameType
from typing import Literal

from flowsim.batch.asked import Asked, asked, open_files, open_points, store_plan
from flowsim.batch.dask_engine import DaskEngine
from flowsim.batch.drain import drain
from flowsim.batch.engine import Engine, LocalEngine
from flowsim.batch.export import write_table
from flowsim.batch.files import clear_leftovers, point_folder
from flowsim.batch.plan_points import Point, Sweep
from flowsim.batch.point import base_start, run_point
from flowsim.batch.point_files import write_point
from flowsim.batch.store import Store, StoredRow
from flowsim.batch.worker import Answer, Job, Task, Work
from flowsim.case.read import case_hash
from flowsim.errors import OutputError

__all__ = ["LONGEST", "Outcome", "Progress", "Stopped", "run_sweep"]

LONGEST = 600.0
"""Longest time of one point. [s]"""


@dataclass(frozen=True)
class Progress:
    """How far a sweep is.

    Parameters
    ----------
    stage : {"points", "files"}
        Running points, or writing the field files of some.
    total, finished : int
        Points of the plan, and those of them that are stored. [-]
    todo, ran, failed : int
        What this run has to do, has done, and how much of that failed. [-]
    elapsed : float
        Since this run began. [s]
    """

    stage: str
    total: int
    finished: int
    todo: int
    ran: int
    failed: int
    elapsed: float


@dataclass(frozen=True)
class Outcome:
    """How a sweep stands at the end of a run.

    Parameters
    ----------
    folder : Path
        Folder of the sweep.
    total, skipped : int
        Points of the plan, and points left out by a condition. [-]
    ran, left : int
        Points run now, and points still to run. [-]
    counts : dict of str to int
        State -> points of the plan, "open" = not run. [-]
    elapsed : float
        Time of this run. [s]
    table : Path or None
        The table written, if the run came to its end.
    """

    folder: Path
    total: int
    skipped: int
    ran: int
    left: int
    counts: Mapping[str, int]
    elapsed: float
    table: Path | None = None


class Stopped(KeyboardInterrupt):
    """A sweep was stopped by a signal; what had finished is stored.

    Parameters
    ----------
    outcome : Outcome
        How it stands.
    number : int
        The signal. [-]
    """

    def __init__(self, outcome: Outcome, number: int) -> None:
        self.outcome = outcome
        self.signal = number
        super().__init__(f"stopped by {signal.Signals(number).name}")


DEFAULT_WORK = Work(run_point, base_start, write_point)


@dataclass
class _Run:
    """One run of a sweep while it goes on."""

    sweep: Sweep
    store: Store
    begin: Callable[[], Engine]
    version: str
    tell: Callable[[Progress], None]
    stop: Sequence[int]
    begun: float = field(default_factory=monotonic)
    engine: Engine | None = None
    ran: int = 0
    failed: int = 0

    def points(self, todo: Sequence[Asked], finished: int) -> None:
        """Run points and store each as soon as it is known."""
        names = self._names(todo)

        def keep(answers: Sequence[Answer]) -> None:
            self.store.record([self._row(found, names[found.number]) for found in answers])
            self.ran += len(answers)
            self.failed += sum(found.status != "done" for found in answers)
            self._say("points", finished + self.ran, len(todo), self.ran)

        self._all((Task(point.number, point.changes) for point in self._whole(todo)), keep)

    def files(self, todo: Sequence[Asked]) -> None:
        """Write the files of points."""
        names = self._names(todo)
        written: list[int] = []

        def keep(answers: Sequence[Answer]) -> None:
            for found in answers:
                if found.status != "done":
                    raise OutputError(f"files of point {found.number}: {found.error}")
                self.store.note_files(found.number, names[found.number].key)
                written.append(found.number)
            self._say("files", len(self.sweep.points), len(todo), len(written))

        self._all((self._file_task(point) for point in self._whole(todo)), keep)

    def _names(self, todo: Sequence[Asked]) -> dict[int, Asked]:
        """Return points by number."""
        return {point.number: item for point, item in zip(self._whole(todo), todo, strict=True)}

    def _whole(self, todo: Sequence[Asked]) -> Iterator[Point]:
        """Yield whole points."""
        return (self.sweep.points[item.place] for item in todo)

    def _file_task(self, point: Point) -> Task:
        """Return what has the files of a point written."""
        folder = str(point_folder(self.store.folder, point.number))
        return Task(point.number, point.changes, folder)

    def end(self) -> None:
        """End the workers, if there are any."""
        if self.engine is not None:
            self.engine.close()

    def _all(self, tasks: Iterable[Task], keep: Callable[[Sequence[Answer]], None]) -> None:
        """Run all tasks; workers start with the first."""
        first = next(waiting := iter(tasks), None)
        if first is None or self.stop:
            return
        self.engine = self.engine or self.begin()
        drain(self.engine, chain([first], waiting), keep, self.stop)

    def _row(self, found: Answer, item: Asked) -> StoredRow:
        """Return the row of an answer."""
        point = self.sweep.points[item.place]
        return StoredRow(
            number=point.number,
            key=item.key,
            point=dict(zip(self.sweep.keys, point.values, strict=True)),
            status=found.status,
            figures=found.figures,
            checks=found.checks,
            error=found.error,
            seconds=found.seconds,
            started=found.started,
            version=self.version,
        )

    def _say(self, stage: str, finished: int, todo: int, ran: int) -> None:
        """Tell how far it is."""
        total, passed = len(self.sweep.points), monotonic() - self.begun
        self.tell(Progress(stage, total, finished, todo, ran, self.failed, passed))


@contextmanager
def _signals() -> Iterator[list[int]]:
    """Note Ctrl-C and the wish to end in place of ending at once; a second one ends at once."""
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        if came:
            raise KeyboardInterrupt
        came.append(number)

    if threading.current_thread() is not threading.main_thread():
        yield came
        return
    before = {number: signal.signal(number, note) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _silent(_: Progress) -> None:
    """Tell nobody."""


def _processors() -> int:
    """Return how many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _engine(job: Job, jobs: int | None, engine: str, scheduler: str | None) -> Engine:
    """Start the workers."""
    count = max(jobs or _processors(), 1)
    if engine == "dask" or scheduler is not None:
        return DaskEngine(job, count, scheduler)
    return LocalEngine(job, count)


def run_sweep(
    sweep: Sweep,
    folder: Path | str,
    *,
    jobs: int | None = None,
    engine: Literal["local", "dask"] = "local",
    scheduler: str | None = None,
    limit: int | None = None,
    retry_failed: bool = False,
    progress: Callable[[Progress], None] | None = None,
    point_time_limit: float = LONGEST,
    work: Work = DEFAULT_WORK,
) -> Outcome:
    """Run the points of a sweep that its folder does not hold yet, and write the table.

    Parameters
    ----------
    sweep : Sweep
        What to run. [-]
    folder : Path or str
        Where rows, table and field files go; the same folder again goes on where it stopped. [-]
    jobs : int or None
        Worker processes; None = one per processor this process may use. [-]
    engine : {"local", "dask"}
        Processes of this machine, or a Dask cluster.
    scheduler : str or None
        Address of a Dask scheduler; None = a cluster on this machine. [-]
    limit : int or None
        Most points to run now. [-]
    retry_failed : bool
        Whether points that failed are run again. [-]
    progress : callable or None
        Told how far it is, often. [-]
    point_time_limit : float
        Longest time of one point; its worker is ended then. [s]
    work : Work
        What a point is, for tests. [-]

    Returns
    -------
    Outcome
        How the sweep stands.

    Raises
    ------
    OutputError
        If the folder cannot be used or the disk refuses; what was stored stays.
    FlowsimError
        If no worker can be started.
    Stopped
        On Ctrl-C or SIGTERM, after what had finished was stored.
    """
    begun = monotonic()
    with _signals() as stop, Store.at(folder) as store:
        clear_leftovers(store.folder)
        points = asked(sweep)
        version = store_plan(store, sweep, points).version
        todo = open_points(store, points, retry_failed)
        job = Job(case_hash(sweep.base), sweep.base, sweep.keep, work, point_time_limit)
        start = partial(_engine, job, jobs, engine, scheduler)
        run = _Run(sweep, store, start, version, progress or _silent, stop, begun)
        try:
            run.points(todo if limit is None else todo[:limit], len(points) - len(todo))
            left = len(todo) - run.ran
            if not left and sweep.output.fields != "none":
                run.files(open_files(store, sweep, points))
        finally:
            run.end()
            clear_leftovers(store.folder)  # of workers that died while they wrote
        outcome = Outcome(
            folder=store.folder,
            total=len(points),
            skipped=sweep.skipped,
            ran=run.ran,
            left=left,
            counts=store.counts(),
            elapsed=monotonic() - begun,
            table=None if stop else write_table(store),
        )
    if stop:
        raise Stopped(outcome, stop[0])
    return outcome
