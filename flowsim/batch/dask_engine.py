"""Points on the workers of a Dask cluster, or of a small one made here for the purpose."""

from __future__ import annotations

import logging
import math
from collections.abc import Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue
from time import monotonic
from typing import Any

from flowsim.batch.engine import Outcomes, one_thread_each, undisturbed
from flowsim.batch.worker import Job, Lost, Task, end_process, ended_under, run_together
from flowsim.errors import FlowsimError

__all__ = ["DaskEngine"]

_TOGETHER, _MOST_TOGETHER = 0.25, 64  # s of work and points in one task of the cluster
_AHEAD = 2  # tasks of the cluster per worker, so that none waits for the next
_LOOK = 1.0  # s between two looks at the number of workers
_PATIENCE = 30.0  # s for a scheduler to answer
_GRACE = 1.0  # s to end in


class DaskEngine:
    """Workers that a Dask scheduler leads.

    Parameters
    ----------
    job : Job
        What all points share. [-]
    jobs : int
        Worker processes, if no scheduler is named. [-]
    scheduler : str or None
        Address of a running scheduler; None = a cluster of this machine, for this sweep. [-]

    Raises
    ------
    FlowsimError
        If dask is not installed or the scheduler does not answer.
    """

    def __init__(self, job: Job, jobs: int, scheduler: str | None) -> None:
        self._job = job
        self._cluster: Any = None
        self._held: dict[str, tuple[Any, list[Task]]] = {}
        self._came: SimpleQueue[str] = SimpleQueue()
        self._looked, self._workers = -math.inf, jobs
        self._pace = _TOGETHER
        one_thread_each()
        try:
            import dask
            from distributed import Client, LocalCluster
        except ImportError as error:
            raise FlowsimError(
                f"the engine 'dask' needs more packages ({error}); install the extra 'cluster': "
                "pip install 'flowsim[cluster]'"
            ) from error
        try:
            with undisturbed(), dask.config.set({"distributed.scheduler.allowed-failures": 0}):
                if scheduler is None:
                    self._cluster = LocalCluster(
                        n_workers=jobs,
                        threads_per_worker=1,
                        processes=True,
                        dashboard_address=None,
                        silence_logs=logging.CRITICAL,
                    )
                self._client = Client(
                    self._cluster or scheduler, set_as_default=False, timeout=_PATIENCE
                )
        except (OSError, ValueError, TimeoutError) as error:
            where = scheduler or "on this machine"
            raise FlowsimError(f"the Dask scheduler {where} does not answer: {error}") from error

    def room(self) -> int:
        """Return how many more tasks may be given now."""
        if monotonic() - self._looked > _LOOK:
            self._looked, self._workers = monotonic(), max(self._look(), 1)
        held = sum(len(tasks) for _, tasks in self._held.values())
        return max(_AHEAD * self._workers * self._size() - held, 0)

    def give(self, tasks: Sequence[Task]) -> None:
        """Send tasks to the cluster, several together."""
        size = self._size()
        for first in range(0, len(tasks), size):
            batch = list(tasks[first : first + size])
            future = self._client.submit(run_together, self._job, batch, pure=False)
            self._held[str(future.key)] = (future, batch)
            future.add_done_callback(lambda done: self._came.put(str(done.key)))

    def collect(self, timeout: float) -> tuple[Outcomes, list[Task]]:
        """Return what came within a time, and tasks that are given back unbegun."""
        out: Outcomes = []
        back: list[Task] = []
        with suppress(Empty):
            name = self._came.get(timeout=timeout)
            while True:
                found, rest = self._take(name)
                out += found
                back += rest
                name = self._came.get_nowait()
        return out, back

    def close(self) -> None:
        """Give up what is running and leave the cluster; one made here ends."""
        with suppress(Exception):
            self._client.cancel([future for future, _ in self._held.values()], force=True)
        self._held.clear()
        for part in (self._client, self._cluster):
            if part is not None:
                with suppress(Exception):
                    part.close(timeout=_GRACE)

    def _size(self) -> int:
        """Return how many points go together."""
        return min(max(int(_TOGETHER / max(self._pace, 1e-4)), 1), _MOST_TOGETHER)

    def _look(self) -> int:
        """Return how many threads the cluster has now."""
        if self._client.status != "running":
            raise FlowsimError("the Dask scheduler no longer answers; finished points are stored")
        try:
            return sum(self._client.nthreads().values())
        except (OSError, TimeoutError) as error:
            raise FlowsimError(f"the Dask scheduler no longer answers: {error}") from error

    def _take(self, name: str) -> tuple[Outcomes, list[Task]]:
        """Return what came of one task of the cluster."""
        if name not in self._held:
            return [], []
        future, batch = self._held.pop(name)
        if future.status in ("cancelled", "lost"):
            self._look()
            return [], batch
        if future.status == "error":
            return self._failed(future.exception(), batch)
        out: Outcomes = future.result()
        if isinstance(out[-1], Lost):
            self._restart(future)
        self._note(out)
        return out, batch[len(out) :]

    def _note(self, out: Outcomes) -> None:
        """Learn how long a point takes."""
        for found in out:
            if not isinstance(found, Lost):
                self._pace += 0.2 * (found.seconds - self._pace)

    def _failed(self, error: Any, batch: list[Task]) -> tuple[Outcomes, list[Task]]:
        """Return the points under which a worker ended."""
        if type(error).__name__ != "KilledWorker":
            raise FlowsimError(f"the cluster could not run a point: {error}") from error
        return [ended_under(task) for task in batch], []

    def _restart(self, future: Any) -> None:
        """End the worker whose point took too long; its cluster starts another."""
        with suppress(Exception):
            places = [place for each in self._client.who_has([future]).values() for place in each]
            self._client.run(end_process, workers=places, wait=False)
