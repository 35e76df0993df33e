"""The store: what goes in comes out, also while it is written to, and old rows stay."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from flowsim.batch.export import export_results, write_table
from flowsim.batch.store import About, Store, StoredRow
from flowsim.errors import OutputError

ABOUT = About(
    title="A sweep",
    keys=("exhaust.flow", "room.intake"),
    labels=("exhaust", "intake"),
    dimensions={"exhaust.flow": "flow", "room.intake": ""},
    units={"exhaust.flow": "m3/s", "room.intake": ""},
    figures=("supply_flow", "front_outflow"),
    figure_units={"supply_flow": "m3/s", "front_outflow": "m3/s", "draw_ratio": "-"},
    total=3,
)
POINTS = [
    (1, "a", ("360 m3/h", "room")),
    (2, "b", (0.2, "=1+1")),
    (3, "c", ("1080 m3/h", True)),
]


def row(number: int, key: str, **more: object) -> StoredRow:
    values = dict(zip(ABOUT.keys, POINTS[number - 1][2], strict=True))
    fresh = StoredRow(number, key, values, "done", {"supply_flow": number / 3.0}, {})
    return replace(fresh, **more)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.at(tmp_path / "night") as opened:
        opened.set_plan(ABOUT, POINTS)
        yield opened


def table(store: Store) -> list[str]:
    return write_table(store).read_text(encoding="utf-8").splitlines()


def test_rows_come_back_as_stored_in_the_order_of_their_numbers(store: Store) -> None:
    second = row(2, "b", checks={"draw_ratio": "met"}, seconds=0.25, started="then", version="v")
    first = row(1, "a", status="faulty", figures={}, error="a word: “é”")
    store.record([second])
    store.record([first])
    assert list(store.rows()) == [first, second]


def test_numbers_keep_all_their_digits(store: Store) -> None:
    figures = {"supply_flow": 0.1 + 0.2, "front_outflow": -5e-324, "draw_ratio": None}
    store.record([row(1, "a", figures=figures)])
    assert next(store.rows()).figures == figures


def test_counts_tell_states_and_points_not_run(store: Store) -> None:
    store.record([row(1, "a"), row(2, "b", status="too long", figures={})])
    assert store.counts() == {"done": 1, "too long": 1, "open": 1}


def test_failed_points_count_as_finished_unless_they_are_to_run_again(store: Store) -> None:
    store.record([row(1, "a"), row(2, "b", status="crashed", figures={})])
    assert store.finished() == {"a", "b"}
    assert store.finished(failed=False) == {"a"}


def test_a_changed_plan_keeps_old_rows_aside(store: Store) -> None:
    old = row(1, "a")
    store.record([old])
    store.set_plan(replace(ABOUT, total=1), [(1, "new", ("1 m3/s", "room"))])
    assert list(store.rows()) == []
    assert list(store.rows(old=True)) == [old]
    assert store.counts() == {"open": 1}


def test_what_the_sweep_is_comes_back(store: Store) -> None:
    assert store.about() == ABOUT


def test_a_store_without_a_plan_is_about_nothing(tmp_path: Path) -> None:
    with Store.at(tmp_path / "new") as fresh:
        assert fresh.about() == About()
        assert fresh.counts() == {}


def test_a_plan_that_breaks_off_leaves_the_earlier_one(store: Store) -> None:
    def broken() -> Iterator[tuple[int, str, tuple[object, ...]]]:
        yield POINTS[0]
        raise ValueError("half way")

    with pytest.raises(ValueError, match="half way"):
        store.set_plan(replace(ABOUT, title="Another"), broken())
    assert store.about().title == "A sweep"
    assert store.counts() == {"open": 3}


def test_rows_are_stored_together_or_not_at_all(store: Store) -> None:
    with pytest.raises(OutputError, match="NOT NULL"):
        store.record([row(1, "a"), row(2, "b", status=None)])
    assert store.finished() == set()
    store.record([row(1, "a")])
    assert store.finished() == {"a"}


def test_others_see_stored_rows_while_the_sweep_goes_on(store: Store) -> None:
    with Store.read(store.folder) as looking:
        assert looking.counts() == {"open": 3}
        store.record([row(1, "a")])
        assert looking.counts() == {"done": 1, "open": 2}


def test_a_block_of_reading_sees_one_moment(store: Store) -> None:
    with Store.read(store.folder) as looking, looking.still():
        before = looking.counts()
        store.record([row(1, "a")])
        assert looking.counts() == before


def test_who_looks_cannot_write(store: Store) -> None:
    with (
        Store.read(store.folder) as looking,
        pytest.raises(OutputError, match="opened to look, not to write"),
    ):
        looking.record([row(1, "a")])


def test_a_look_leaves_no_files_behind(store: Store) -> None:
    store.close()
    with Store.read(store.folder) as looking:
        looking.counts()
    assert sorted(path.name for path in store.folder.iterdir()) == ["sweep.lock", "sweep.sqlite"]


def test_the_table_has_units_and_si_numbers_and_no_times(store: Store) -> None:
    store.record([row(1, "a", seconds=12.345, started="2026-11-25", checks={"draw_ratio": "met"})])
    assert table(store) == [
        "number,status,exhaust.flow [m3/s],room.intake,supply_flow [m3/s],limit of draw_ratio,"
        "error",
        "1,done,0.1,room,0.3333333333333333,met,",
    ]


def test_cells_that_a_spreadsheet_would_run_are_disarmed(store: Store) -> None:
    errors = ["=cmd()", "+1", "-1", "@sum", "\tx", "=first\nsecond"]
    for error in errors:
        store.record([row(2, "b", status="faulty", figures={}, error=error)])
        words = table(store)[1].split(",")
        assert words[3] == "'=1+1"
        assert words[-1][0] == "'" or words[-1] == "x"


def test_a_negative_number_stays_a_number(store: Store) -> None:
    store.record([row(1, "a", figures={"front_outflow": -0.25})])
    assert table(store)[1].split(",")[4] == "-0.25"


def test_an_error_of_many_lines_stands_on_one(store: Store) -> None:
    store.record([row(3, "c", status="faulty", figures={}, error="one\n  two\x1b\n")])
    assert table(store)[1].endswith("one; two")


def test_columns_stand_in_the_order_asked_for_with_labels_behind(store: Store) -> None:
    names = ["draw_ratio", "supply_flow", "front_outflow[left]", "front_outflow", "supply_flow[a]"]
    store.record([row(1, "a", figures=dict.fromkeys(names[:3], 1.0))])
    store.record([row(2, "b", figures=dict.fromkeys(names[3:], None))])
    assert [word.split(" [")[0] for word in table(store)[0].split(",")][4:-1] == [
        "supply_flow", "supply_flow[a]", "front_outflow", "front_outflow[left]", "draw_ratio",
    ]  # fmt: skip


def test_the_table_does_not_depend_on_the_order_of_storing(tmp_path: Path) -> None:
    rows = [row(1, "a"), row(2, "b", figures={"draw_ratio": 1.0}), row(3, "c")]
    texts = []
    for name, order in (("one", rows), ("two", rows[::-1])):
        with Store.at(tmp_path / name) as opened:
            opened.set_plan(ABOUT, POINTS)
            for each in order:
                opened.record([each])
            texts.append(write_table(opened).read_bytes())
    assert texts[0] == texts[1]


def test_old_rows_are_exported_when_asked_for(store: Store) -> None:
    store.record([row(1, "a", version="older")])
    store.set_plan(replace(ABOUT, keys=("room.intake",)), [(1, "new", ("outdoors",))])
    store.record([StoredRow(1, "new", {"room.intake": "outdoors"}, "done", {}, {}, version="v")])
    store.close()
    now = export_results(store.folder).read_text().splitlines()
    ever = export_results(store.folder, old=True).read_text().splitlines()
    assert now[1:] == ["1,done,outdoors,"]
    assert ever[0].split(",")[2:4] == ["room.intake", "exhaust.flow [m3/s]"]
    assert ever[1:] == [
        "1,done,room,0.1,0.3333333333333333,,older",
        "1,done,outdoors,,,,v",
    ]


def statements(store: Store, count: int) -> list[int]:
    """Return the statements that storing, a status, a resume and a table take, with many rows."""
    points = [(number, f"k{number}", ("1 m3/s", "room")) for number in range(1, count + 1)]
    store.set_plan(replace(ABOUT, total=count), points)
    seen: list[str] = []
    store._connection.set_trace_callback(seen.append)
    took = []
    rows = [replace(row(1, f"k{number}"), number=number) for number in range(1, count + 1)]
    for work in (
        lambda: store.record(rows),
        store.counts,
        store.finished,
        lambda: write_table(store),
    ):
        seen.clear()
        work()
        took.append(len(seen))
    store._connection.set_trace_callback(None)
    return took


def test_many_rows_take_no_more_statements_than_few(store: Store) -> None:
    stored, *few = statements(store, 10)
    stored_many, *many = statements(store, 5000)
    assert many == few
    assert max(few) < 10
    assert (stored, stored_many) == (10 + 2, 5000 + 2)


def test_every_commit_is_forced_to_the_disk(store: Store) -> None:
    ask = store._connection.execute
    assert ask("PRAGMA synchronous").fetchone() == (2,)
    assert ask("PRAGMA journal_mode").fetchone() == ("wal",)


def test_a_store_made_half_way_does_not_stand_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "sweep.sqlite.fresh").write_bytes(b"half")
    with Store.at(tmp_path) as opened:
        assert opened.counts() == {}
    assert not (tmp_path / "sweep.sqlite.fresh").exists()


def test_the_store_is_plain_sqlite_that_anyone_can_read(store: Store) -> None:
    store.record([row(1, "a")])
    store.close()
    connection = sqlite3.connect(store.folder / "sweep.sqlite")
    found = connection.execute("SELECT json_extract(figures, '$.supply_flow') FROM points")
    assert found.fetchall() == [(1.0 / 3.0,)]
    connection.close()
