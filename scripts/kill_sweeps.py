"""Kill sweeps and their workers at random moments, and compare what they give in the end.

    scripts/kill_sweeps.py [--kills 500] [--points 1500] [--seed 1]

A sweep of cheap points (5 ms each) runs on two workers. At random moments the program that leads
it, or one of its workers, is killed in the hardest way there is; a killed program is started
again. When the sweep is through, its table must hold the same bytes as that of a sweep nobody
disturbed, and the next sweep begins in a new folder, until all kills are spent. On the way:

- a row that the program had reported as stored must be in the store after the kill;
- no point that was stored may be begun again;
- no worker may live longer than 5 s after its program;
- no file may be left half written.

The last line is the sum of it; exit code 1 if anything was lost, run twice or left over.
Linux only, as it finds the workers in /proc.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import random
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from types import SimpleNamespace
from typing import Any

KEY = "room.pressure"
LOWEST = 60e3
NOTES = "begun.txt"
LONGEST_LIFE = 5.0  # s a worker may outlive its program
LONGEST_SWEEP = 120.0  # s that nobody disturbs
LONGEST_PEACE = 0.7  # s between two kills


def a_point(base: object, start: object, changes: Any, keep: object, want: bool) -> SimpleNamespace:
    """Compute for 5 ms; note the beginning beside the sweep's folder."""
    del base, start, keep, want
    number = round(changes[KEY] - LOWEST)
    with Path(os.environ["KILL_SWEEPS_NOTES"]).open("a", encoding="utf-8") as stream:
        stream.write(f"{number}\n")
    limit = time.perf_counter() + 0.005
    while time.perf_counter() < limit:
        math.sqrt(2.0)
    figures = {"supply_flow": math.sin(number) / 3.0, "draw_ratio": 1.0 + math.exp(-number / 70.0)}
    return SimpleNamespace(status="done", figures=figures, checks={}, error="")


def write_a_point(base: object, start: object, changes: Any, folder: str) -> None:
    """Write the files of a point: slowly, so that kills find some half written."""
    del base, start
    place = Path(folder)
    fresh = place.with_name(f".{place.name}.new-{os.getpid()}-0a")
    fresh.mkdir(parents=True)
    for name in ("summary.json", "fields.vtu"):
        (fresh / name).write_text(f"{changes[KEY]}", encoding="utf-8")
        time.sleep(0.02)
    fresh.replace(place)


def lead(folder: str, points: int, told: Connection | None) -> None:
    """Run the sweep in this process, and tell how many of its rows are stored."""
    from importlib.resources import files

    from flowsim.batch.plan_points import Range, sweep_from_python
    from flowsim.batch.runner import Progress, run_sweep
    from flowsim.batch.worker import Work
    from flowsim.case.read import read_case

    case = read_case(str(files("flowsim.case").joinpath("starter.toml")))
    sweep = sweep_from_python(
        case,
        {KEY: Range(LOWEST + 1.0, LOWEST + points, points)},
        keep=("supply_flow", "draw_ratio"),
        output={"fields": "best", "best_by": "supply_flow", "best_count": 6},
    )

    def tell(progress: Progress) -> None:
        if told is not None and progress.stage == "points":
            told.send(progress.finished)

    run_sweep(sweep, folder, jobs=2, progress=tell, work=Work(a_point, None, write_a_point))


@dataclass
class Tally:
    """What came of the kills."""

    kills: int = 0
    sweeps: int = 0
    lost: int = 0
    twice: int = 0
    differing: int = 0
    left_over: list[str] = field(default_factory=list)
    longest_life: float = 0.0

    def wrong(self) -> bool:
        """Return whether anything is not as it must be."""
        late = self.longest_life > LONGEST_LIFE
        return bool(self.lost or self.twice or self.differing or self.left_over or late)


def alive(process: int) -> bool:
    """Return whether a process runs and is no mere entry of one that has ended."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


def workers_of(parent: int) -> list[int]:
    """Return the worker processes of a process."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            state = (place / "stat").read_text().rsplit(")", 1)[1].split()
            words = (place / "cmdline").read_bytes()
        except OSError:
            continue
        if state[0] != "Z" and int(state[1]) == parent and b"spawn_main" in words:
            found.append(int(place.name))
    return found


def stored(folder: Path) -> set[int]:
    """Return the numbers of the points in the store."""
    from flowsim.batch.store import STORE, Store

    if not (folder / STORE).exists():
        return set()
    with Store.read(folder) as store:
        return {row.number for row in store.rows()}


def begun(notes: Path) -> list[int]:
    """Return the numbers of the points that were begun, in order."""
    text = notes.read_text() if notes.exists() else ""
    return [int(line) for line in text.split("\n")[:-1] if line]


class Trial:
    """One sweep, killed until it is through."""

    def __init__(self, place: Path, points: int, tally: Tally, dice: random.Random) -> None:
        self.folder = place / "sweep"
        self.notes = place / NOTES
        self.points = points
        self.tally = tally
        self.dice = dice
        self.context = multiprocessing.get_context("forkserver")

    def go(self, kills: int) -> None:
        """Run to the end, with at most so many kills."""
        limit = self.tally.kills + kills
        finished = False
        while not finished:
            finished = self.one_life(limit)
        self.tally.sweeps += 1

    def one_life(self, limit: int) -> bool:
        """Start the program; return whether it came to its end."""
        kept, seen = stored(self.folder), len(begun(self.notes))
        ours, theirs = self.context.Pipe(duplex=False)
        os.environ["KILL_SWEEPS_NOTES"] = str(self.notes)
        program = self.context.Process(target=lead, args=(str(self.folder), self.points, theirs))
        program.start()
        theirs.close()
        ended = self.torment(program, limit)
        told = 0
        try:
            while ours.poll(0.5 if ended else 0.0):
                told = ours.recv()
        except (EOFError, OSError):
            pass
        self.tally.lost += max(told - len(stored(self.folder)), 0)
        self.tally.twice += len(kept & set(begun(self.notes)[seen:]))
        return ended

    def torment(self, program: Any, limit: int) -> bool:
        """Kill until the program is dead or through; return whether it came through."""
        while program.is_alive():
            program.join(self.dice.uniform(0.0, LONGEST_PEACE))
            if not program.is_alive() or self.tally.kills >= limit:
                break
            workers = workers_of(program.pid)
            if workers and self.dice.random() < 0.6:
                self.kill(self.dice.choice(workers))
            else:
                self.kill(program.pid)
                program.join()
                self.outlive(workers)
                return False
        program.join(LONGEST_SWEEP)
        if program.exitcode != 0:
            raise SystemExit(f"the sweep hangs or failed (code {program.exitcode})")
        return True

    def kill(self, process: int) -> None:
        """Kill one process."""
        try:
            os.kill(process, signal.SIGKILL)
        except ProcessLookupError:
            return
        self.tally.kills += 1

    def outlive(self, workers: list[int]) -> None:
        """See how long workers live on without their program."""
        start = time.monotonic()
        while any(alive(worker) for worker in workers):
            if time.monotonic() - start > 2.0 * LONGEST_LIFE:
                break
            time.sleep(0.01)
        self.tally.longest_life = max(self.tally.longest_life, time.monotonic() - start)


def files_of(folder: Path) -> dict[str, bytes]:
    """Return what a finished sweep left, but for its store and lock."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name not in ("sweep.sqlite", "sweep.lock")
    }


def differing(first: bytes, second: bytes) -> int:
    """Return how many bytes differ."""
    return sum(a != b for a, b in zip(first, second, strict=False)) + abs(len(first) - len(second))


def compare(calm: dict[str, bytes], killed: dict[str, bytes], tally: Tally) -> None:
    """Compare all files of two sweeps."""
    tally.left_over += sorted(set(killed) - set(calm))
    for name, content in calm.items():
        tally.differing += differing(content, killed.get(name, b""))


def main() -> int:
    """Run all sweeps and print what came of it."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--points", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    multiprocessing.get_context("forkserver").set_forkserver_preload(["flowsim.batch.runner"])
    tally, dice = Tally(), random.Random(arguments.seed)
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        os.environ["KILL_SWEEPS_NOTES"] = str(place / NOTES)
        lead(str(place / "calm"), arguments.points, None)
        calm = files_of(place / "calm")
        while tally.kills < arguments.kills:
            own = place / f"{tally.sweeps}"
            own.mkdir()
            Trial(own, arguments.points, tally, dice).go(arguments.kills - tally.kills)
            compare(calm, files_of(own / "sweep"), tally)
            print(f"sweep {tally.sweeps} through after {tally.kills} kills", flush=True)
    print(
        f"{tally.twice} finished points run again, {len(tally.left_over)} files left over "
        f"{tally.left_over[:3]}, longest life of a worker without its program "
        f"{tally.longest_life:.2f} s"
    )
    print(f"{tally.kills} kills, {tally.lost} rows lost, {tally.differing} differing bytes")
    return 1 if tally.wrong() else 0


if __name__ == "__main__":
    sys.exit(main())
