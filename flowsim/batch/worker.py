"""What a worker process does: points, one after another, until there are none or its parent goes.

This module loads nothing large, so that a fresh process watches its parent from the start.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from time import perf_counter
from typing import Any

__all__ = [
    "CRASHED",
    "READY",
    "TOO_LONG",
    "Answer",
    "Job",
    "Lost",
    "Task",
    "Work",
    "answer",
    "end_process",
    "ended_under",
    "run_together",
    "serve",
    "took_too_long",
]

READY = "ready"
CRASHED, TOO_LONG = "crashed", "too long"


@dataclass(frozen=True)
class Work:
    """The functions that a sweep runs; they go to the workers by name, so they stand in a module.

    Parameters
    ----------
    run : callable
        (base, start, changes, keep, want_fields) -> row with `status`, `figures`, `checks` and
        `error`. [-]
    start : callable or None
        base -> first guess for every point, computed once in each worker. [-]
    write : callable or None
        (base, start, changes, folder): writes the field files of a point. [-]
    """

    run: Callable[..., Any]
    start: Callable[[Any], Any] | None = None
    write: Callable[..., None] | None = None


@dataclass(frozen=True)
class Job:
    """What all points of a sweep share.

    Parameters
    ----------
    name : str
        The same for the same base. [-]
    base : Case
        The case before its changes. [SI]
    keep : tuple of str
        Figures to keep. [-]
    work : Work
        What to run. [-]
    limit : float
        Longest time of one point. [s]
    """

    name: str
    base: Any
    keep: tuple[str, ...]
    work: Work
    limit: float


@dataclass(frozen=True)
class Task:
    """One point to run, or whose files to write.

    Parameters
    ----------
    number : int
        Of the point. [-]
    changes : mapping
        Key path -> value. [as written]
    folder : str or None
        Where its files go; None = no files, only the row. [-]
    """

    number: int
    changes: Mapping[str, Any]
    folder: str | None = None


@dataclass(frozen=True)
class Answer:
    """What came of one point.

    Parameters
    ----------
    number : int
        Of the point. [-]
    status, error : str
        How it ended, and what went wrong. [-]
    figures, checks : dict
        Name -> SI value or None; name of a limit -> its verdict. [SI]
    seconds, started : float and str
        How long it took, and when it began (UTC). [s]
    """

    number: int
    status: str
    error: str = ""
    figures: Mapping[str, float | None] = field(default_factory=dict)
    checks: Mapping[str, str] = field(default_factory=dict)
    seconds: float = 0.0
    started: str = ""


@dataclass(frozen=True)
class Lost:
    """A point whose worker ended under it, or had to be ended.

    Parameters
    ----------
    number : int
        Of the point. [-]
    status : str
        `CRASHED` or `TOO_LONG`. [-]
    error : str
        What happened. [-]
    """

    number: int
    status: str
    error: str


def _now() -> str:
    """Return the time of day at Greenwich."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def answer(job: Job, start: Any, task: Task) -> Answer:
    """Run one point; whatever goes wrong is an answer too.

    Parameters
    ----------
    job : Job
        What all points share. [-]
    start : object
        First guess. [-]
    task : Task
        The point. [-]

    Returns
    -------
    Answer
        Its row.
    """
    began, clock = _now(), perf_counter()
    try:
        if task.folder is not None and job.work.write is not None:
            job.work.write(job.base, start, task.changes, task.folder)
            return Answer(task.number, "done", seconds=perf_counter() - clock, started=began)
        row = job.work.run(job.base, start, task.changes, job.keep, False)
        seconds = perf_counter() - clock
        figures, checks = dict(row.figures), dict(row.checks)
        return Answer(task.number, row.status, row.error, figures, checks, seconds, began)
    except (Exception, SystemExit) as error:  # noqa: BLE001 - one bad point must not end a night
        text = f"{type(error).__name__}: {error}".rstrip(": ")
        seconds = perf_counter() - clock
        return Answer(task.number, CRASHED, text, seconds=seconds, started=began)


def die_with_parent() -> None:
    """End this process as soon as its parent has ended, however that came."""
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, name="parent watch", daemon=True).start()


def serve(connection: Connection) -> None:
    """Answer tasks from a connection until it closes: the life of a worker process.

    First comes the job, which is answered by `READY` or by what is wrong; then tasks, each
    answered in turn.

    Parameters
    ----------
    connection : Connection
        To the parent. [-]
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the parent too, which decides
    die_with_parent()
    try:
        try:
            job: Job = connection.recv()
            start = None if job.work.start is None else job.work.start(job.base)
        except EOFError:
            return
        except Exception as error:  # noqa: BLE001 - told to the parent, which ends the sweep
            connection.send(f"{type(error).__name__}: {error}")
            return
        connection.send(READY)
        while True:
            connection.send(answer(job, start, connection.recv()))
    except (EOFError, OSError):
        return


_ONE_AT_A_TIME = threading.Lock()
_STARTS: dict[object, Any] = {}


def run_together(job: Job, tasks: Sequence[Task]) -> list[Answer | Lost]:
    """Run several points in a worker that a cluster leads.

    Parameters
    ----------
    job : Job
        What all points share. [-]
    tasks : sequence of Task
        The points. [-]

    Returns
    -------
    list of Answer or Lost
        In the same order; it ends with the first point that takes too long.
    """
    out: list[Answer | Lost] = []
    with _ONE_AT_A_TIME:  # a point may own the warnings of its process
        name = (job.name, job.work.start)
        if name not in _STARTS:
            _STARTS.clear()
            _STARTS[name] = None if job.work.start is None else job.work.start(job.base)
        for task in tasks:
            out.append(_within(job, _STARTS[name], task))
            if isinstance(out[-1], Lost):
                break
    return out


def _within(job: Job, start: Any, task: Task) -> Answer | Lost:
    """Run one point, and give it up when it takes too long."""
    found: list[Answer] = []

    def run() -> None:
        found.append(answer(job, start, task))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(job.limit)
    return found[0] if found else took_too_long(task, job.limit)


def took_too_long(task: Task, limit: float) -> Lost:
    """Return what becomes of a point that took too long.

    Parameters
    ----------
    task : Task
        The point. [-]
    limit : float
        Longest time of one point. [s]

    Returns
    -------
    Lost
        In the same words wherever it ran.
    """
    return Lost(task.number, TOO_LONG, f"took longer than {limit:g} s; its worker was ended")


def ended_under(task: Task) -> Lost:
    """Return what becomes of a point whose worker ended under it.

    Parameters
    ----------
    task : Task
        The point. [-]

    Returns
    -------
    Lost
        In the same words wherever it ran.
    """
    return Lost(task.number, CRASHED, "its worker process ended under it, twice")


def end_process() -> None:
    """End this process at once."""
    os._exit(1)
