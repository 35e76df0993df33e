"""Malformed case files through the command line: every fault with its key path and line."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import pytest

from flowsim.cli import main

HERE = Path(__file__).parent
FILES = HERE / "files"


def _expected() -> dict[str, list[dict[str, str]]]:
    """Return the faults of each file from the table beside this test."""
    table = defaultdict(list)
    with (HERE / "expected.csv").open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            table[row["file"]].append(row)
    return dict(table)


EXPECTED = _expected()


def _start(row: dict[str, str]) -> str:
    """Return how the line of a fault begins."""
    line = f":{row['line']}" if row["line"] else ""
    key = f"{row['key']}: " if row["key"] else ""
    return f"{FILES / row['file']}{line}: {key}"


def _check_output(name: str, code: int, out: str, err: str) -> None:
    """Check exit code and messages of one malformed file."""
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    lines = err.splitlines()
    assert len(lines) == len(EXPECTED[name]), err
    for row in EXPECTED[name]:
        found = [line for line in lines if line.startswith(_start(row))]
        assert any(row["words"] in line for line in found), (row, err)


def test_every_file_stands_in_the_table() -> None:
    assert {path.name for path in FILES.iterdir()} == set(EXPECTED)
    assert len(EXPECTED) >= 50


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_every_fault_is_listed_with_key_and_line(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    code = main(["run", str(FILES / name)])
    captured = capsys.readouterr()
    _check_output(name, code, captured.out, captured.err)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["many_faults.toml", "binary.toml", "fan_with_one_point.toml"])
def test_a_real_process_does_the_same(name: str, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "flowsim.cli", "run", str(FILES / name), "--out", "results"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    _check_output(name, done.returncode, done.stdout, done.stderr)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("command", ["run", "check"])
def test_missing_file_names_its_neighbour(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mirror_bench.toml").touch()
    assert main([command, str(tmp_path / "miror_bench.toml")]) == 2
    err = capsys.readouterr().err
    assert "miror_bench.toml: does not exist" in err
    assert "did you mean" in err
    assert "mirror_bench.toml'?" in err


def test_folder_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["run", str(tmp_path)]) == 2
    assert "is a folder; expected a case file" in capsys.readouterr().err


def test_pipe_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    assert main(["run", str(tmp_path / "pipe.toml")]) == 2
    assert "is not a regular file" in capsys.readouterr().err


def test_huge_file_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "huge.toml").write_bytes(b"#" * 4_100_000)
    assert main(["run", str(tmp_path / "huge.toml")]) == 2
    assert "is larger than 4 MB" in capsys.readouterr().err


def test_faults_of_all_compared_files_are_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    names = ["nan.toml", "holes_too_close.toml"]
    assert main(["compare", *(str(FILES / name) for name in names)]) == 2
    err = capsys.readouterr().err
    for name in names:
        assert _start(EXPECTED[name][0]) in err
    assert list(tmp_path.iterdir()) == []
