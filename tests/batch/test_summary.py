"""The rows of a store as a table."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from flowsim.batch.store import About, Store, StoredRow
from flowsim.batch.summary import table_of
from flowsim.report.sweep_reading import read_sweep_table
from flowsim.report.sweep_table import SweepTable
from flowsim.report.write_sweep import write_sweep

KEYS = ("supply.fan.frequency", "plenum.ports[0].wall", "supply.filter.loading")
ABOUT = About(
    title="Night",
    question="Which one?",
    keys=KEYS,
    labels=("speed", "port", "loading"),
    dimensions={KEYS[0]: "frequency", KEYS[1]: "", KEYS[2]: "ratio"},
    units={KEYS[0]: "Hz", KEYS[1]: "", KEYS[2]: "-"},
    figures=("draw_ratio", "balance_margin"),
    figure_units={"draw_ratio": "-", "balance_margin": "-"},
    total=8,
    skipped=2,
    case={"title": "Bench", "limits": {"measure_height": 0.15, "draw_ratio": {"max": 1.25}}},
    output={"best_by": "balance_margin", "best": "smallest", "best_count": 2},
)


def _row(number: int, values: tuple[Any, ...], **more: Any) -> StoredRow:
    figures: Mapping[str, float | None] = {"balance_margin": 0.1 * number, "draw_ratio": None}
    facts = {"status": "done", "figures": figures, "checks": {"draw_ratio": "met"}, **more}
    return StoredRow(number, f"key{number}", dict(zip(KEYS, values, strict=True)), **facts)


ROWS = (
    _row(2, ("37 Hz", "left", 1.5)),
    _row(1, ("35 Hz", "right", 1.0)),
    _row(4, ("2400 rpm", "left", 2), status="crashed", figures={}, checks={}, error="killed"),
)


def _table(folder: Path, rows: tuple[StoredRow, ...] = ROWS, about: About = ABOUT) -> SweepTable:
    with Store.at(folder) as store:
        plan = [(row.number, row.key, tuple(row.point.values())) for row in rows]
        store.set_plan(about, plan)
        store.record(rows)
        return table_of(store)


def test_rows_become_columns_sorted_by_number(tmp_path: Path) -> None:
    found = _table(tmp_path / "night")
    assert found.numbers.tolist() == [1, 2, 4]
    assert found.values[0] == pytest.approx([35.0, 37.0, 40.0])
    assert found.values[1].tolist() == ["right", "left", "left"]
    assert found.values[2].tolist() == [1.0, 1.5, 2.0]
    assert found.status.tolist() == ["done", "done", "crashed"]
    assert found.errors == ("", "", "killed")
    assert (found.planned, found.skipped) == (8, 2)


def test_missing_figures_and_verdicts_are_gaps(tmp_path: Path) -> None:
    found = _table(tmp_path / "night")
    assert list(found.figures) == ["draw_ratio", "balance_margin"]
    assert np.isnan(found.figures["draw_ratio"]).all()
    assert math.isnan(found.figures["balance_margin"][2])
    assert found.states["draw_ratio"].tolist() == ["met", "met", ""]


def test_unit_is_as_written_or_a_usual_one(tmp_path: Path) -> None:
    assert _table(tmp_path / "mixed").shown == ("Hz", "", "")
    same = tuple(_row(n, (f"{n}000 rpm", "left", "90 %")) for n in (1, 2))
    assert _table(tmp_path / "same", same).shown == ("rpm", "", "%")
    bare = tuple(_row(n, (30.0 + n, "left", 0.9)) for n in (1, 2))
    assert _table(tmp_path / "bare", bare).shown == ("Hz", "", "")


def test_limits_and_ranking_come_from_the_plan(tmp_path: Path) -> None:
    found = _table(tmp_path / "night")
    assert found.limits == {"draw_ratio": (None, 1.25)}
    assert found.ranking.figure == "balance_margin"
    assert found.ranking.largest is False
    assert read_sweep_table(found).best.tolist() == [0, 1]


def test_without_a_wish_the_side_of_the_limit_is_best(tmp_path: Path) -> None:
    about = About(**{**vars(ABOUT), "output": {"best_by": "", "best": "largest"}})
    assert _table(tmp_path / "night", about=about).ranking.largest is None


def test_an_empty_store_gives_an_empty_table(tmp_path: Path) -> None:
    with Store.at(tmp_path / "night") as store:
        assert len(table_of(store)) == 0


def test_page_is_written_beside_the_store_and_read_only(tmp_path: Path) -> None:
    folder = tmp_path / "night"
    _table(folder)
    with Store.read(folder) as store:
        write_sweep(table_of(store), folder)
    assert "Night" in (folder / "sweep.html").read_text(encoding="utf-8")
    with Store.at(folder) as store:
        assert store.counts() == {"done": 2, "crashed": 1}
