"""Sweeps through the face, as a script runs them."""

from __future__ import annotations

from pathlib import Path

from sweep_files import write_files

import flowsim


def test_face_runs_a_sweep_file_and_one_built_in_python_to_the_same_table(tmp_path: Path) -> None:
    write_files(tmp_path)
    first = flowsim.sweep(tmp_path / "night.toml", tmp_path / "one", jobs=1)
    assert (first.ran, first.left) == (6, 0)
    case = flowsim.read_case(tmp_path / "bench.toml")
    axes = {
        "exhaust.flow": ["0.18 m3/s", "0.21 m3/s", "0.24 m3/s"],
        "openings.front.height": flowsim.Range(0.12, 0.16, 2),
    }
    plan = flowsim.sweep_from_python(case, axes, keep=["balance_margin", "draw_ratio"])
    told: list[int] = []
    second = flowsim.sweep(
        plan, tmp_path / "two", jobs=1, limit=1, progress=lambda now: told.append(now.ran)
    )
    assert (second.ran, second.left) == (1, 5)
    assert told == [1]
    assert (tmp_path / "two" / "sweep.html").is_file()
    tables = [(tmp_path / name / "results.csv").read_text("utf-8") for name in ("one", "two")]
    assert tables[0].splitlines()[:2] == tables[1].splitlines()
