"""Sweeps as a user runs them: real processes, real stops, real files."""

from __future__ import annotations

import csv
import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from time import monotonic, sleep

import pytest
from sweep_files import write_files

pytestmark = pytest.mark.skipif(os.name != "posix", reason="needs process groups")

SOON = 60.0  # s until a process of a busy machine has loaded everything


def flowsim(
    folder: Path, *arguments: str, encoding: str = "utf-8"
) -> subprocess.CompletedProcess[str]:
    """Run the command line in a folder, without a terminal."""
    return subprocess.run(
        [sys.executable, "-m", "flowsim", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding=encoding,
        timeout=120,
        check=False,
    )


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, str]:
    """Run a small sweep once; return the folder it was run in, what it printed and said."""
    folder = tmp_path_factory.mktemp("night")
    write_files(folder)
    done = flowsim(folder, "sweep", "night.toml", "--jobs", "1")
    assert done.returncode == 0, done.stderr
    return folder, done.stdout, done.stderr


@pytest.fixture
def again(night: tuple[Path, str, str], tmp_path: Path) -> Path:
    """Return a copy of the folder of the finished sweep."""
    shutil.copytree(night[0], tmp_path / "again")
    return tmp_path / "again"


def _rows(folder: Path) -> list[dict[str, str]]:
    """Return the table of a sweep."""
    with (folder / "night.sweep" / "results.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_sweep_gives_a_table_a_page_and_a_summary(night: tuple[Path, str, str]) -> None:
    folder, out, _ = night
    assert [row["status"] for row in _rows(folder)] == ["done"] * 6
    assert (folder / "night.sweep" / "sweep.html").is_file()
    assert "How much exhaust does the front stand?" in out
    assert "6 of 6 points came to their end" in out
    assert "Best points" in out
    assert "night.sweep/results.csv" in out
    assert "night.sweep/sweep.html" in out


def test_without_a_terminal_progress_is_plain_lines(night: tuple[Path, str, str]) -> None:
    err = night[2]
    assert "6 points, into night.sweep" in err
    assert "6 of 6 points (100 %)" in err
    assert "\r" not in err
    assert "\x1b" not in err


def test_same_command_again_has_nothing_to_do(again: Path) -> None:
    table = (again / "night.sweep" / "results.csv").read_bytes()
    done = flowsim(again, "sweep", "night.toml")
    assert done.returncode == 0
    assert "nothing was left to do" in done.stderr
    assert (again / "night.sweep" / "results.csv").read_bytes() == table


def test_limit_leaves_points_for_another_time(night: tuple[Path, str, str], tmp_path: Path) -> None:
    write_files(tmp_path)
    some = flowsim(tmp_path, "sweep", "night.toml", "--limit", "2", "--jobs", "1")
    assert some.returncode == 0, some.stderr
    assert "4 points left; go on with:" in some.stderr
    assert "4 not run yet" in some.stdout
    assert len(_rows(tmp_path)) == 2
    rest = flowsim(tmp_path, "sweep", "night.toml", "--jobs", "1")
    assert "4 points run" in rest.stderr
    whole = night[0] / "night.sweep" / "results.csv"
    assert (tmp_path / "night.sweep" / "results.csv").read_bytes() == whole.read_bytes()


def test_narrow_stream_loses_signs_and_nothing_else(again: Path) -> None:
    done = flowsim(again, "sweep", "night.toml", encoding="ascii")
    assert done.returncode == 0, done.stderr
    assert "bench of Zo?" in done.stdout
    status = flowsim(again, "sweep", "--status", "night.sweep", encoding="ascii")
    assert status.returncode == 0, status.stderr
    assert "6 of 6 points finished" in status.stdout


def test_vary_sweeps_a_case_without_a_sweep_file(tmp_path: Path) -> None:
    write_files(tmp_path)
    vary = ["--vary", "exhaust.flow=0,18 m3/s; 0,21 m3/s", "--limit", "1"]
    done = flowsim(tmp_path, "sweep", "bench.toml", *vary, "--set", "numerics.cells=[10, 8, 8]")
    assert done.returncode == 0, done.stderr
    assert "1 point left; go on with:" in done.stderr
    assert (tmp_path / "bench.sweep" / "results.csv").is_file()


@pytest.fixture
def running(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """Start a long sweep in a process group of its own, and end what is left of it."""
    write_files(tmp_path)
    process = _start(tmp_path)
    yield process
    _end_group(process)


def _start(folder: Path) -> subprocess.Popen[str]:
    """Start the long sweep."""
    return subprocess.Popen(
        [sys.executable, "-m", "flowsim", "sweep", "long.toml", "--jobs", "1"],
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def _end_group(process: subprocess.Popen[str]) -> None:
    """End a process group that may have ended."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.communicate()


def _finished(folder: Path) -> int:
    """Return how many points the long sweep has stored, as another process is told."""
    status = flowsim(folder, "sweep", "--status", "long.sweep")
    found = re.search(r"([\d,]+) of 3,000 points finished", status.stdout)
    return int(found[1].replace(",", "")) if found else 0


def _wait_for_more(folder: Path, than: int) -> int:
    """Wait until more points are stored."""
    limit = monotonic() + SOON
    while (now := _finished(folder)) <= than:
        assert monotonic() < limit, "no point was stored"
        sleep(0.1)
    return now


def _wait_until_gone(process: subprocess.Popen[str]) -> None:
    """Wait until no process of a group is left."""
    limit = monotonic() + 5.0
    with suppress(ProcessLookupError):
        while monotonic() < limit:
            os.killpg(process.pid, 0)
            sleep(0.1)
        pytest.fail("a process outlives its parent")


def test_kill_status_resume_and_interrupt(running: subprocess.Popen[str], tmp_path: Path) -> None:
    """One night: looked at, killed, begun again, and stopped by Ctrl-C."""
    stored = _wait_for_more(tmp_path, 0)
    running.kill()
    running.wait()
    stored = max(_finished(tmp_path), stored)
    _wait_until_gone(running)

    resumed = _start(tmp_path)
    try:
        stored = _wait_for_more(tmp_path, stored)
        begun = monotonic()
        os.killpg(resumed.pid, signal.SIGINT)
        out, err = resumed.communicate(timeout=30)
        assert monotonic() - begun < 3.0
        _wait_until_gone(resumed)
    finally:
        _end_group(resumed)
    assert resumed.returncode == 130
    assert out == ""
    lines = err.splitlines()
    kept = re.fullmatch(
        r"flowsim: stopped; ([\d,]+) of 3,000 points are stored in long.sweep", lines[-2]
    )
    assert kept
    assert int(kept[1].replace(",", "")) >= stored
    assert lines[-1].endswith("-m flowsim sweep long.toml --jobs 1")
    assert lines[-1].startswith("flowsim: go on with: ")
    assert "Traceback" not in err


def test_faulty_sweep_file_is_refused_with_all_faults(tmp_path: Path) -> None:
    write_files(tmp_path)
    done = flowsim(tmp_path, "sweep", "faulty.toml")
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 3
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "faulty.sweep").exists()
