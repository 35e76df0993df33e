"""Sweeps as a user runs them: real processes, real stops, real files."""

from __future__ import annotations

import csv
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from time import monotonic, sleep

import pytest
from sweep_files import write_files

from flowsim.batch.store import Store
from flowsim.errors import OutputError

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


@dataclass(frozen=True)
class Night:
    """A small sweep that was run in two goes."""

    folder: Path
    first: subprocess.CompletedProcess[str]
    second: subprocess.CompletedProcess[str]
    rows_between: int

    def rows(self) -> list[dict[str, str]]:
        """Return the table."""
        return _rows(self.folder)


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Night:
    """Run two points, then the rest."""
    folder = tmp_path_factory.mktemp("night")
    write_files(folder)
    first = flowsim(folder, "sweep", "night.toml", "--jobs", "1", "--limit", "2")
    assert first.returncode == 0, first.stderr
    between = len(_rows(folder))
    second = flowsim(folder, "sweep", "night.toml", "--jobs", "1")
    assert second.returncode == 0, second.stderr
    return Night(folder, first, second, between)


def _rows(folder: Path) -> list[dict[str, str]]:
    """Return the table of the small sweep."""
    with (folder / "night.sweep" / "results.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_limit_leaves_points_for_another_time(night: Night) -> None:
    assert "2 points run in" in night.first.stderr
    assert "4 points left; go on with:" in night.first.stderr
    assert "4 not run yet" in night.first.stdout
    assert night.rows_between == 2


def test_the_rest_gives_a_table_a_page_and_a_summary(night: Night) -> None:
    assert "4 points run in" in night.second.stderr
    assert [row["status"] for row in night.rows()] == ["done"] * 6
    assert (night.folder / "night.sweep" / "sweep.html").is_file()
    out = night.second.stdout
    assert "How much exhaust does the front stand?" in out
    assert "6 of 6 points came to their end" in out
    assert "Best points" in out
    assert "night.sweep/results.csv" in out
    assert "night.sweep/sweep.html" in out


def test_without_a_terminal_progress_is_plain_lines(night: Night) -> None:
    err = night.second.stderr
    assert "6 points, into night.sweep" in err
    assert "6 of 6 points (100 %)" in err
    assert "\r" not in err
    assert "\x1b" not in err


def test_same_command_again_has_nothing_to_do_and_a_narrow_stream_loses_signs_only(
    night: Night,
) -> None:
    table = (night.folder / "night.sweep" / "results.csv").read_bytes()
    done = flowsim(night.folder, "sweep", "night.toml", encoding="ascii")
    assert done.returncode == 0, done.stderr
    assert "nothing was left to do" in done.stderr
    assert "bench of Zo?" in done.stdout
    assert (night.folder / "night.sweep" / "results.csv").read_bytes() == table
    status = flowsim(night.folder, "sweep", "--status", "night.sweep", encoding="ascii")
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
    """Return how many points the long sweep has stored."""
    try:
        with Store.read(folder / "long.sweep") as store:
            counts = store.counts()
    except OutputError:
        return 0
    return sum(counts.values()) - counts.get("open", 0)


def _wait_for_more(folder: Path, than: int) -> int:
    """Wait until more points are stored."""
    limit = monotonic() + SOON
    while (now := _finished(folder)) <= than:
        assert monotonic() < limit, "no point was stored"
        sleep(0.1)
    return now


def _told(folder: Path) -> int:
    """Return how many points the long sweep has stored, as another process tells."""
    status = flowsim(folder, "sweep", "--status", "long.sweep")
    assert status.returncode == 0, status.stderr
    found = re.search(r"([\d,]+) of 3,000 points finished", status.stdout)
    assert found, status.stdout
    return int(found[1].replace(",", ""))


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
    told = _told(tmp_path)
    assert told >= stored
    running.kill()
    running.wait()
    stored = _finished(tmp_path)
    assert stored >= told
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
