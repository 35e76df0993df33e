"""The morning summary of a sweep."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from flowsim.cli.sweep_words import summary_lines
from flowsim.report.sweep_reading import read_sweep_table
from flowsim.report.sweep_table import SweepTable


def _table(status: list[str], errors: list[str], margins: list[float]) -> SweepTable:
    """Return a sweep over the flow of the exhaust."""
    count = len(status)
    return SweepTable(
        title="Night\x1b[2J",
        question="How much exhaust?",
        keys=("exhaust.flow",),
        labels=("exhaust.flow",),
        units=("m3/s",),
        shown=("m3/h",),
        values=(np.linspace(0.1, 0.2, count),),
        numbers=np.arange(1, count + 1),
        status=np.array(status),
        errors=tuple(errors),
        figures={"balance_margin": np.array(margins)},
        states={"balance_margin": np.array(["met" if x > 0.2 else "" for x in margins])},
        limits={"balance_margin": (0.2, None)},
        planned=count,
    )


def _lines(table: SweepTable, folder: Path) -> list[str]:
    """Return the summary."""
    return summary_lines(read_sweep_table(table), folder)


def test_best_points_come_first_and_failures_are_counted_by_error(tmp_path: Path) -> None:
    status = ["done", "done", "done", "not converged", "not converged", "faulty"]
    errors = ["", "", "", "front\nmoves", "front\nmoves", "too narrow"]
    gap = float("nan")
    (tmp_path / "results.csv").touch()
    lines = _lines(_table(status, errors, [0.3, 0.4, 0.1, gap, gap, gap]), tmp_path)
    head = lines.index("Best points:")
    assert lines[head + 1].split() == ["point", "exhaust.flow", "balance", "margin"]
    assert lines[head + 2].split() == ["2", "432", "m3/h", "40.0", "%"]
    assert lines[head + 3].split()[0] == "1"
    assert "Failed: 3 (their errors stand in results.csv)" in lines
    assert "  point 4 and 1 more: not converged: front moves" in lines
    assert "  point 6: faulty: too narrow" in lines
    assert f"  table: {tmp_path / 'results.csv'}" in lines
    assert not any("sweep.html" in line for line in lines)


def test_many_errors_are_not_all_told(tmp_path: Path) -> None:
    errors = [f"error {number}" for number in range(10)]
    lines = _lines(_table(["crashed"] * 10, errors, [float("nan")] * 10), tmp_path)
    assert "  and 7 other errors" in lines
    assert "Best points:" not in lines


def test_control_signs_of_a_file_do_not_reach_the_terminal(tmp_path: Path) -> None:
    lines = _lines(_table(["done"], [""], [0.3]), tmp_path)
    assert not any("\x1b" in line for line in lines)
