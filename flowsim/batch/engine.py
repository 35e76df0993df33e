"""Where points run: worker processes of this machine, or the workers of a Dask cluster.

Both are handed tasks and give back what came of them, in any order; neither knows of stores.
"""

from __future__ import annotations

import math
import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import wait
from time import monotonic
from typing import Any, Protocol

from flowsim.batch.worker import (
    READY,
    Answer,
    Job,
    Lost,
    Task,
    ended_under,
    serve,
    took_too_long,
)
from flowsim.errors import FlowsimError

__all__ = ["Engine", "LocalEngine", "Outcomes", "one_thread_each", "undisturbed"]

_AHEAD, _MOST_AHEAD = 0.1, 8  # s of work and points that wait in a worker beside the one it runs
_LONG = 1.0  # s, from which on points are handed out singly
_FIRST_ALONE = 60.0  # s that the first worker has to compile before the others begin
_LOADING = 300.0  # s that a worker may take to load and to prepare
_FEW, _MANY = 3, 20  # workers in a row that end before they are ready: by error, by a signal
_GRACE = 1.0  # s to end in, before a worker is killed
_DEATH = 5.0  # s that the system may take to end a killed one

Outcomes = list[Answer | Lost]


class Engine(Protocol):
    """Runs tasks somewhere."""

    def room(self) -> int:
        """Return how many more tasks may be given now."""

    def give(self, tasks: Sequence[Task]) -> None:
        """Take tasks to run."""

    def collect(self, timeout: float) -> tuple[Outcomes, list[Task]]:
        """Return what came meanwhile, and tasks that were not begun and are given back."""

    def close(self) -> None:
        """End all workers, whatever they do."""


def one_thread_each() -> None:
    """Have workers that start from now on compute in one thread each."""
    for name in ("OMP", "OPENBLAS", "MKL", "NUMBA", "VECLIB_MAXIMUM", "NUMEXPR"):
        os.environ[f"{name}_NUM_THREADS"] = "1"


@contextmanager
def undisturbed() -> Iterator[None]:
    """Start processes and threads in this block that Ctrl-C does not reach."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class _Seat:
    """One worker process, and the tasks it holds in the order in which it runs them."""

    def __init__(self, job: Job) -> None:
        context = multiprocessing.get_context("spawn")
        self.connection, theirs = context.Pipe()
        self.tasks: deque[Task] = deque()
        self.ready = False
        self.complaint = ""
        self.since = monotonic()
        with undisturbed():
            self.process = context.Process(target=serve, args=(theirs,), daemon=True)
            self.process.start()
        theirs.close()
        with suppress(OSError):  # it may have ended already, which is seen later
            self.connection.send(job)

    def give(self, task: Task) -> None:
        """Hand over one task."""
        if not self.tasks:
            self.since = monotonic()
        self.tasks.append(task)
        with suppress(OSError):
            self.connection.send(task)

    def receive(self) -> Iterator[Answer]:
        """Yield the answers that have come."""
        with suppress(EOFError, OSError):
            while self.connection.poll():
                message = self.connection.recv()
                self.since = monotonic()
                if isinstance(message, Answer):
                    self.tasks.popleft()
                    yield message
                elif message == READY:
                    self.ready = True
                else:
                    self.complaint = str(message)

    def ended(self) -> bool:
        """Return whether the process has ended."""
        return not self.process.is_alive()

    def end(self) -> None:
        """End the process at once."""
        self.connection.close()
        if self.process.is_alive():
            self.process.kill()
        self.process.join(_DEATH)


class LocalEngine:
    """Worker processes of this machine.

    Each has a connection of its own, so that it is known which point a process that ended was at,
    and one process can be ended without disturbing the others. The first one starts alone: it
    compiles, the others find the compiled code.

    Parameters
    ----------
    job : Job
        What all points share. [-]
    jobs : int
        Worker processes. [-]
    """

    def __init__(self, job: Job, jobs: int) -> None:
        self._job = job
        self._jobs = jobs
        self._begun = monotonic()
        self._warm = False
        self._early = 0
        self._pace = _LONG
        one_thread_each()
        self._seats = [_Seat(job)]

    def room(self) -> int:
        """Return how many more tasks may be given now."""
        self._fill()  # all may have ended, and then nothing else would start the next
        held = sum(len(seat.tasks) for seat in self._seats)
        return max(self._depth() * len(self._seats) - held, 0)

    def give(self, tasks: Sequence[Task]) -> None:
        """Hand tasks to the workers that have least to do."""
        for task in tasks:
            min(self._seats, key=lambda seat: len(seat.tasks)).give(task)

    def collect(self, timeout: float) -> tuple[Outcomes, list[Task]]:
        """Return what came within a time, and tasks that are given back unbegun."""
        self._fill()
        places: list[Any] = [seat.connection for seat in self._seats]
        places += [seat.process.sentinel for seat in self._seats]
        wait(places, timeout)
        out: Outcomes = []
        back: list[Task] = []
        left: list[_Seat] = []
        for seat in self._seats:
            gone = seat.ended()  # asked before the last answers are read
            answers = list(seat.receive())
            self._note(answers)
            out += answers
            if seat.complaint:
                raise FlowsimError(f"a worker process could not begin: {seat.complaint}")
            lost = self._lost(seat, gone)
            if lost is not None:
                out += lost
                back += seat.tasks
                seat.end()
                left.append(seat)
        self._seats = [seat for seat in self._seats if seat not in left]
        return out, back

    def close(self) -> None:
        """End all workers, whatever they do."""
        for seat in self._seats:
            with suppress(OSError):
                seat.process.terminate()
        limit = monotonic() + _GRACE
        for seat in self._seats:
            seat.process.join(max(limit - monotonic(), 0.0))
            seat.end()
        self._seats = []

    def _depth(self) -> int:
        """Return how many tasks a worker may hold."""
        if self._pace >= _LONG:
            return 1
        return 1 + min(math.ceil(_AHEAD / max(self._pace, 1e-4)), _MOST_AHEAD)

    def _fill(self) -> None:
        """Start workers that are missing."""
        warm = self._warm or monotonic() - self._begun > _FIRST_ALONE
        while len(self._seats) < (self._jobs if warm else 1):
            self._seats.append(_Seat(self._job))

    def _note(self, answers: Sequence[Answer]) -> None:
        """Learn from answers that workers work, and how long a point takes."""
        for found in answers:
            self._warm, self._early = True, 0
            self._pace += 0.2 * (found.seconds - self._pace)

    def _lost(self, seat: _Seat, gone: bool) -> Outcomes | None:
        """Return the point that a worker was ended under, or None if it goes on."""
        if gone and not seat.ready:
            self._count_early(seat.process.exitcode)
            return []
        if gone:
            return [ended_under(seat.tasks.popleft())] if seat.tasks else []
        passed = monotonic() - seat.since
        if not seat.ready and passed > _LOADING + self._job.limit:
            raise FlowsimError(f"a worker process was not ready after {passed:.0f} s")
        if seat.ready and seat.tasks and passed > self._job.limit:
            return [took_too_long(seat.tasks.popleft(), self._job.limit)]
        return None

    def _count_early(self, code: int | None) -> None:
        """Give up when no worker lives until it is ready."""
        self._early += 1 if code is not None and code < 0 else _MANY // _FEW + 1
        if self._early > _MANY:
            raise FlowsimError(
                f"worker processes end before they are ready (code {code}); a script that starts "
                "a sweep needs the line: if __name__ == '__main__':"
            )
