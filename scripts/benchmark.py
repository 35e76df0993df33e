#!/usr/bin/env python3
"""Speed as ratios: each job against a well-known method timed in the same run.

    scripts/benchmark.py [--quick] [--json FILE]

Answers are compared in the same run. Exit 0 even if a goal is missed, 1 if an answer is wrong.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypedDict

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS")
for name in THREADS:  # before numpy is loaded anywhere
    os.environ.setdefault(name, "1")

INSTALLED = {**os.environ, "PYTHONSAFEPATH": "1"}  # not the folder one happens to stand in
ROOT = Path(__file__).resolve().parent.parent
CASE = ROOT / "cases" / "mirror_bench.toml"
LARGE = ("numpy", "scipy", "numba", "matplotlib", "meshio", "pydantic", "rich")
BARE = "import numpy, scipy.sparse.linalg, scipy.fft, numba, matplotlib.figure, meshio, pydantic"
HELP = f"""
import sys
from flowsim.cli import main
try:
    main(["--help"])
except SystemExit:
    pass
print("loaded:", *[name for name in {LARGE!r} if name in sys.modules])
"""
RUN = "import sys; from flowsim.cli import main; sys.exit(main())"  # as the installed command does


class Row(TypedDict):
    """One line of the table: the ratio, the goal it is held against, and whether it is met."""

    work: str
    ratio: float
    goal: float
    met: bool


class WrongAnswerError(Exception):
    """A job that was timed gave a wrong answer."""


def timed(command: Sequence[str]) -> tuple[float, float]:
    """Run a command and return its wall time [s] and its own peak memory [MB]."""
    with tempfile.TemporaryFile() as errors:
        start = time.perf_counter()
        with subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=errors, env=INSTALLED
        ) as process:
            _, status, usage = os.wait4(process.pid, 0)
            seconds = time.perf_counter() - start
            process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            errors.seek(0)
            said = errors.read().decode(errors="replace")
            raise WrongAnswerError(f"exit code {process.returncode}: {' '.join(command)}\n{said}")
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return seconds, usage.ru_maxrss / unit


def check_summary(folder: Path) -> None:
    """Raise if the run that was timed left no closed mass balance behind."""
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    error = summary["quantities"]["mass_balance_error"]["value"]
    if not 0.0 <= error <= 1e-10:
        raise WrongAnswerError(f"mass balance of {CASE.name} is off by {error}")


def start_up_rows(quick: bool) -> list[Row]:
    """Return the rows of the whole program: time, memory, and what `--help` loads."""
    repeats = 3 if quick else 9
    bare = [sys.executable, "-c", BARE]
    times: dict[str, list[float]] = {"run": [], "bare": []}
    memory = []
    with tempfile.TemporaryDirectory() as scratch:
        for number in range(repeats + 1):
            out = Path(scratch) / str(number)
            run = [sys.executable, "-c", RUN, "run", str(CASE), "--out", str(out)]
            pair = {"run": timed(run), "bare": timed(bare)}
            check_summary(out)
            if number:  # the first pair fills the caches
                memory.append(pair["run"][1])
                for key, (seconds, _) in pair.items():
                    times[key].append(seconds)
    ratio = statistics.median(times["run"]) / statistics.median(times["bare"])
    answer = subprocess.run(
        [sys.executable, "-c", HELP], capture_output=True, text=True, check=True, env=INSTALLED
    ).stdout
    loaded = len(answer.rsplit("loaded:", 1)[1].split())
    peak = max(memory)
    return [
        Row(
            work="warm run of mirror_bench / bare imports", ratio=ratio, goal=2.5, met=ratio <= 2.5
        ),
        Row(work="peak memory of that run, in MB", ratio=peak, goal=700.0, met=peak < 700.0),
        Row(work="large libraries loaded by --help", ratio=loaded, goal=0.0, met=not loaded),
    ]


def part_rows(module: str) -> Callable[[bool], list[Row]]:
    """Return the function that times the jobs of one file beside this one."""

    def rows(quick: bool) -> list[Row]:
        found: list[Row] = importlib.import_module(module).rows(quick)
        return found

    return rows


def readable(number: float) -> str:
    """Return a ratio as people read it: 1/369, 0.47, 2.4, 11,000."""
    if 0.0 < number <= 0.2:
        return f"1/{1.0 / number:.3g}" if 1.0 / number < 1000 else f"1/{1.0 / number:,.0f}"
    return f"{number:.3g}" if number < 1000 else f"{number:,.0f}"


def table(rows: Sequence[Row]) -> str:
    """Return the rows as plain columns."""
    width = max(len(row["work"]) for row in rows)
    lines = [f"{'work':{width}}  {'ratio':>8}  {'goal':>8}  met"]
    lines += [
        f"{row['work']:{width}}  {readable(row['ratio']):>8}  {readable(row['goal']):>8}  "
        f"{'yes' if row['met'] else 'no'}"
        for row in rows
    ]
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Time every part, print the table, write the JSON."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--quick", action="store_true", help="fewer repeats, smaller sizes")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the rows to this file")
    options = parser.parse_args(argv)
    parts = {  # the start-up first: a child's peak memory is at least its parent's
        "start-up": start_up_rows,
        "field": part_rows("benchmark_field"),
        "network": part_rows("benchmark_network"),
        "transport": part_rows("benchmark_transport"),
        "particle paths": part_rows("benchmark_tracking"),
        "sweeps": part_rows("benchmark_sweep"),
    }
    rows: list[Row] = []
    wrong = False
    for name, part in parts.items():
        print(f"timing: {name}", file=sys.stderr, flush=True)
        try:
            rows += part(options.quick)
        except Exception as error:  # noqa: BLE001 - one wrong part must not hide the others
            wrong = True
            print(f"wrong answer: {name}: {type(error).__name__}: {error}", file=sys.stderr)
    if rows:
        print(table(rows))
    if options.json:
        lines = [json.dumps({key: row[key] for key in Row.__annotations__}) for row in rows]
        options.json.write_text("[\n" + ",\n".join(lines) + "\n]\n", encoding="utf-8")
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
