"""Sweeps of stand-in points: the same bytes however they run, and no point ends the night."""

from __future__ import annotations

import csv
import os
import random
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sweep_child
from point_sweeps import a_sweep, in_order
from sweep_points import (
    BEGINNING,
    FILING,
    FULL,
    ILL,
    KEY,
    LAST_QUICK,
    LOWEST,
    QUICK,
    REFUSING,
    STEP,
    figures_of,
)

from flowsim.batch.export import export_results
from flowsim.batch.plan_points import Sweep, sweep_from_python
from flowsim.batch.point import base_start, solve_point
from flowsim.batch.runner import Progress, run_sweep
from flowsim.batch.store import Store
from flowsim.case.read import change_case
from flowsim.errors import FlowsimError, OutputError

POINTS = 40


def cells(folder: Path) -> list[list[str]]:
    with (folder / "results.csv").open(newline="", encoding="utf-8") as stream:
        return list(csv.reader(stream))


@pytest.fixture(scope="module")
def sweep() -> Sweep:
    return a_sweep(POINTS)


@pytest.fixture(scope="module")
def calm(sweep: Sweep, tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the table of a sweep on one worker, in order."""
    folder = tmp_path_factory.mktemp("calm") / "out"
    outcome = run_sweep(sweep, folder, jobs=1, work=QUICK)
    assert outcome.counts == {"done": POINTS}
    return (folder / "results.csv").read_bytes()


def test_each_point_has_its_own_figures(calm: bytes) -> None:
    header, *rows = csv.reader(calm.decode().splitlines())
    assert header[:6] == [
        "number", "status", f"{KEY} [Pa]", "supply_flow [m3/s]", "draw_ratio [-]",
        "front_velocity_mean [m/s]",
    ]  # fmt: skip
    for place, row in enumerate(rows, 1):
        assert row[:3] == [str(place), "done", repr(LOWEST + place * STEP)]
        wanted = ["" if value is None else repr(value) for value in figures_of(place).values()]
        assert row[3:6] == wanted
    assert len(rows) == POINTS


def shuffled(sweep: Sweep) -> Sweep:
    return in_order(sweep, random.Random(4).sample(range(POINTS), POINTS))


@pytest.mark.parametrize(
    ("order", "more"),
    [
        (lambda same: same, {"jobs": 2}),
        (shuffled, {"jobs": 2}),
        (lambda same: in_order(same, range(POINTS)[::-1]), {"jobs": 1}),
        (shuffled, {"jobs": 2, "engine": "dask"}),
    ],
    ids=["two workers", "shuffled", "backward", "dask"],
)
def test_the_bytes_do_not_depend_on_how_it_runs(
    sweep: Sweep,
    calm: bytes,
    tmp_path: Path,
    order: Callable[[Sweep], Sweep],
    more: dict[str, Any],
) -> None:
    outcome = run_sweep(order(sweep), tmp_path, work=QUICK, **more)
    assert (outcome.ran, outcome.left) == (POINTS, 0)
    assert (tmp_path / "results.csv").read_bytes() == calm


def test_ill_points_are_rows_and_the_rest_goes_on(tmp_path: Path) -> None:
    ill = a_sweep(16)
    for engine in ("local", "dask"):
        folder = tmp_path / engine
        outcome = run_sweep(ill, folder, jobs=2, engine=engine, work=ILL, point_time_limit=1.0)
        assert outcome.counts == {"done": 10, "not converged": 1, "crashed": 4, "too long": 1}
    rows = {int(row[0]): (row[1], row[-1]) for row in cells(tmp_path / "local")[1:]}
    assert rows[3] == ("crashed", "ZeroDivisionError: by three")
    assert rows[5] == rows[7] == ("crashed", "its worker process ended under it, twice")
    assert rows[9] == ("too long", "took longer than 1 s; its worker was ended")
    assert rows[11] == ("not converged", "the worst element is the front")
    assert rows[13] == ("crashed", "SystemExit: 2")
    local, dask = ((tmp_path / name / "results.csv").read_bytes() for name in ("local", "dask"))
    assert local == dask


def test_a_limit_leaves_the_rest_to_the_next_time(
    sweep: Sweep, calm: bytes, tmp_path: Path
) -> None:
    first = run_sweep(sweep, tmp_path, jobs=1, limit=15, work=QUICK)
    assert (first.ran, first.left, first.counts) == (15, POINTS - 15, {"done": 15, "open": 25})
    second = run_sweep(sweep, tmp_path, jobs=1, work=QUICK)
    assert (second.ran, second.left) == (POINTS - 15, 0)
    third = run_sweep(sweep, tmp_path, jobs=1, work=QUICK)
    assert third.ran == 0
    assert (tmp_path / "results.csv").read_bytes() == calm


def test_failed_points_run_again_when_asked(tmp_path: Path) -> None:
    ill = in_order(a_sweep(13), [0, 2, 10, 12])
    assert run_sweep(ill, tmp_path, jobs=1, work=ILL).counts["crashed"] == 2
    assert run_sweep(ill, tmp_path, jobs=1, work=QUICK).ran == 0
    healed = run_sweep(ill, tmp_path, jobs=1, work=QUICK, retry_failed=True)
    assert (healed.ran, healed.counts) == (3, {"done": 4})


def test_a_changed_case_has_new_points_and_the_old_rows_stay(tmp_path: Path) -> None:
    before = a_sweep(3)
    run_sweep(before, tmp_path, jobs=1, work=QUICK)
    changed = change_case(before.base, {"room.temperature": 295.0})
    after = sweep_from_python(changed, {KEY: [LOWEST + STEP]}, keep=before.keep)
    outcome = run_sweep(after, tmp_path, jobs=1, work=QUICK)
    assert (outcome.ran, outcome.counts) == (1, {"done": 1})
    assert len(cells(tmp_path)) == 2
    assert len(export_results(tmp_path, old=True).read_text().splitlines()) == 1 + 4
    assert run_sweep(before, tmp_path, jobs=1, work=QUICK).ran == 0


def test_other_figures_to_keep_are_new_points(tmp_path: Path) -> None:
    run_sweep(a_sweep(2), tmp_path, jobs=1, work=QUICK)
    assert run_sweep(a_sweep(2, keep=["draw_rsd"]), tmp_path, jobs=1, work=QUICK).ran == 2


def test_a_longer_axis_runs_only_what_is_new(tmp_path: Path) -> None:
    values = [LOWEST + STEP, LOWEST + 3 * STEP]
    case = a_sweep(1).base
    run_sweep(sweep_from_python(case, {KEY: values}), tmp_path, jobs=1, work=QUICK)
    longer = sweep_from_python(case, {KEY: [LOWEST, *values]})
    assert run_sweep(longer, tmp_path, jobs=1, work=QUICK).ran == 1
    assert [row[0] for row in cells(tmp_path)[1:]] == ["1", "2", "3"]


def test_equal_points_run_once_and_stand_twice(tmp_path: Path) -> None:
    pair = a_sweep(2)
    first, second = pair.points
    twins = replace(pair, points=[first, second, replace(first, number=3)])
    assert run_sweep(twins, tmp_path, jobs=1, work=QUICK).ran == 2
    rows = cells(tmp_path)[1:]
    assert [row[0] for row in rows] == ["1", "2", "3"]
    assert rows[0][1:] == rows[2][1:]


def test_progress_tells_how_far_it_is(sweep: Sweep, tmp_path: Path) -> None:
    told: list[Progress] = []
    run_sweep(sweep, tmp_path, jobs=1, limit=10, work=QUICK)
    run_sweep(sweep, tmp_path, jobs=1, work=QUICK, progress=told.append)
    assert (told[-1].finished, told[-1].total) == (POINTS, POINTS)
    assert (told[-1].ran, told[-1].todo, told[-1].failed) == (POINTS - 10, POINTS - 10, 0)
    assert [item.ran for item in told] == sorted(item.ran for item in told)


def test_every_point_gets_the_first_guess_of_the_base_case(tmp_path: Path) -> None:
    few = a_sweep(3)
    run_sweep(few, tmp_path, jobs=1, work=BEGINNING)
    assert {row[-1] for row in cells(tmp_path)[1:]} == {f"began with {few.base.title}"}


def test_workers_that_cannot_begin_end_the_sweep_with_their_words(tmp_path: Path) -> None:
    with pytest.raises(FlowsimError, match="could not begin: OSError: no such library"):
        run_sweep(a_sweep(3), tmp_path, jobs=2, work=REFUSING)


def test_a_scheduler_that_does_not_answer_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("flowsim.batch.dask_engine._PATIENCE", 0.5)
    with pytest.raises(FlowsimError, match=r"tcp://127.0.0.1:9 does not answer"):
        run_sweep(a_sweep(3), tmp_path, scheduler="tcp://127.0.0.1:9", work=QUICK)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_keeps_what_had_finished(tmp_path: Path, number: int) -> None:
    folder = tmp_path / "out"
    words = [sys.executable, sweep_child.__file__, str(folder), str(POINTS), "ENDLESS"]
    program = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert program.stdout is not None
    for line in program.stdout:
        if line == f"stored {LAST_QUICK}\n":
            break
    os.kill(program.pid, number)
    out, _ = program.communicate(timeout=30)
    assert program.returncode == 130
    assert out.splitlines()[-1] == f"stopped {LAST_QUICK}"
    with Store.read(folder) as store:
        assert store.counts() == {"done": LAST_QUICK, "open": POINTS - LAST_QUICK}
    assert run_sweep(a_sweep(POINTS), folder, jobs=1, work=QUICK).ran == POINTS - LAST_QUICK


def chosen(folder: Path) -> dict[str, str]:
    return {
        path.parent.name: path.read_text()
        for path in sorted((folder / "points").glob("*/summary.json"))
    }


def test_the_best_points_get_files(tmp_path: Path) -> None:
    output = {"fields": "best", "best_by": "draw_ratio", "best": "smallest", "best_count": 2}
    some = a_sweep(6, output=output)
    run_sweep(some, tmp_path, jobs=1, work=FILING)
    assert chosen(tmp_path) == {"000005": "5", "000006": "6"}
    shutil.rmtree(tmp_path / "points" / "000005")
    run_sweep(some, tmp_path, jobs=1, work=FILING)
    assert chosen(tmp_path) == {"000005": "5", "000006": "6"}


def test_points_that_fail_a_limit_get_files(tmp_path: Path) -> None:
    run_sweep(a_sweep(4, output={"fields": "failed limits"}), tmp_path, jobs=1, work=FILING)
    assert chosen(tmp_path) == {"000002": "2", "000004": "4"}


def test_files_of_a_point_whose_number_is_taken_move_aside(tmp_path: Path) -> None:
    every = a_sweep(2, output={"fields": "all"})
    run_sweep(every, tmp_path, jobs=1, work=FILING)
    first = replace(every.points[1], number=1)
    run_sweep(replace(every, points=[first]), tmp_path, jobs=1, work=FILING)
    assert chosen(tmp_path) == {"000001": "2"}
    assert len(list((tmp_path / "points" / "earlier").iterdir())) == 2


def test_half_written_files_are_cleared_away(tmp_path: Path) -> None:
    every = a_sweep(1, output={"fields": "all"})
    run_sweep(every, tmp_path, jobs=1, limit=0, work=FILING)
    (tmp_path / "points" / ".000001.new-1-ab").mkdir(parents=True)
    (tmp_path / ".results.csv.fresh").write_text("1,do")
    run_sweep(every, tmp_path, jobs=1, work=FILING)
    names = sorted(path.name for path in tmp_path.rglob("*"))
    assert names == [
        "000001", "points", "results.csv", "summary.json", "sweep.lock", "sweep.sqlite",
    ]  # fmt: skip


def test_files_that_cannot_be_written_are_told_and_the_rows_stay(tmp_path: Path) -> None:
    every = a_sweep(2, output={"fields": "all"})
    with pytest.raises(OutputError, match=r"files of point 1: OSError.*No space left"):
        run_sweep(every, tmp_path, jobs=1, work=FULL)
    with Store.read(tmp_path) as store:
        assert store.counts() == {"done": 2}
    run_sweep(every, tmp_path, jobs=1, work=FILING)
    assert chosen(tmp_path) == {"000001": "1", "000002": "2"}


def test_stored_figures_equal_single_runs_bit_for_bit(tmp_path: Path) -> None:
    base = change_case(a_sweep(1).base, {"numerics.fidelity": "network"})
    real = sweep_from_python(base, {KEY: [99e3, "1 bar"]})
    run_sweep(real, tmp_path, jobs=1)
    start = base_start(base)
    with Store.read(tmp_path) as store:
        for row, point in zip(store.rows(), real.points, strict=True):
            single, _ = solve_point(base, start, point.changes, real.keep)
            assert (row.status, row.figures, row.checks) == ("done", single.figures, single.checks)
