"""Tasks run to the last one, whatever becomes of the workers."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from itertools import islice

from flowsim.batch.engine import Engine
from flowsim.batch.worker import CRASHED, Answer, Lost, Task

__all__ = ["drain"]

_WAKE = 0.2  # s between two looks whether to stop


def drain(
    engine: Engine,
    tasks: Iterable[Task],
    keep: Callable[[Sequence[Answer]], None],
    stop: Sequence[int],
) -> None:
    """Run tasks until all are answered or a signal comes.

    A task whose worker ended under it is run a second time, last and alone, as it may only have
    stood beside the culprit; the second time it is the culprit.

    Parameters
    ----------
    engine : Engine
        Runs them. [-]
    tasks : iterable of Task
        Each with a number of its own; asked for as they are given out. [-]
    keep : callable
        Told the answers that came together. [-]
    stop : sequence of int
        Not empty when the work shall end: what runs is left. [-]
    """
    work = _Work(engine, tasks)
    while work.goes_on():
        answers = work.step()
        if answers:
            keep(answers)
        if stop:
            return


class _Work:
    """Tasks that wait, that an engine holds, and that are to be run once more."""

    def __init__(self, engine: Engine, tasks: Iterable[Task]) -> None:
        self._engine = engine
        self._coming = iter(tasks)
        self._back: deque[Task] = deque()
        self._held: dict[int, Task] = {}
        self._suspects: deque[Task] = deque()
        self._tried: set[int] = set()
        self._more = True

    def goes_on(self) -> bool:
        """Return whether anything is left to do."""
        return bool(self._more or self._back or self._held or self._suspects)

    def step(self) -> list[Answer]:
        """Give out what there is room for and return what came."""
        given = self._next()
        self._held.update((task.number, task) for task in given)
        self._engine.give(given)
        if not self.goes_on():
            return []
        came, back = self._engine.collect(_WAKE)
        self._back.extendleft(self._held.pop(task.number) for task in reversed(back))
        answers = [self._answer(found) for found in came]
        return [found for found in answers if found is not None]

    def _next(self) -> list[Task]:
        """Return the tasks to give out now."""
        room = self._engine.room()
        given = [self._back.popleft() for _ in range(min(room, len(self._back)))]
        if self._more:
            wanted = room - len(given)
            fresh = list(islice(self._coming, wanted))
            self._more = len(fresh) == wanted
            given += fresh
        alone = not (self._more or self._back or self._held or given)
        return [self._suspects.popleft()] if alone and self._suspects else given

    def _answer(self, found: Answer | Lost) -> Answer | None:
        """Return the answer for a task; None if it is to be run once more."""
        task = self._held.pop(found.number)
        if isinstance(found, Answer):
            return found
        if found.status == CRASHED and found.number not in self._tried:
            self._tried.add(found.number)
            self._suspects.append(task)
            return None
        return Answer(found.number, found.status, found.error)
