"""The rows of a sweep on disk: one file, one writer, any number of readers.

The store is ``sweep.sqlite`` in the folder of the sweep, in write-ahead mode; a finished point is
on the disk before the next one counts as given out. Rows of points that the sweep no longer asks
for, as its case was changed, stay in the file.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from flowsim.batch.files import FORMAT, STORE, Lock, connect, connect_to_read, saying
from flowsim.errors import OutputError

__all__ = ["FINISHED", "FORMAT", "STORE", "About", "Store", "StoredRow"]

FINISHED = ("done", "faulty", "not converged", "crashed", "too long")
"""States of a row: it came to its end, one way or another."""


@dataclass(frozen=True)
class About:
    """What a sweep is, as stored beside its rows.

    Parameters
    ----------
    title, question, version : str
        As written; which program made the plan. [-]
    keys, labels : tuple of str
        Axis keys in order, and their names for pictures. [-]
    dimensions, units : dict
        Axis key -> dimension of its numbers and their SI unit; empty for words. [-]
    figures, figure_units : tuple and dict
        Names of figures asked for, and name -> SI unit of all figures known. [-]
    total, skipped : int
        Points of the plan, and points left out by a condition. [-]
    case, output : dict
        Base case, resolved; which points get field files. [SI]
    fingerprint : str
        Of all points with their names and values. [-]
    """

    title: str = ""
    question: str = ""
    version: str = ""
    keys: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    dimensions: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    figures: tuple[str, ...] = ()
    figure_units: dict[str, str] = field(default_factory=dict)
    total: int = 0
    skipped: int = 0
    case: dict[str, Any] = field(default_factory=dict)
    output: dict[str, Any] = field(default_factory=dict)
    fingerprint: str = ""


@dataclass(frozen=True)
class StoredRow:
    """One finished point.

    Parameters
    ----------
    number, key : int and str
        Place in the plan; name of what the point asks. [-]
    point : dict
        Axis key -> value. [as written]
    status, error : str
        One of `FINISHED`; what went wrong, or nothing. [-]
    figures, checks : dict
        Name -> SI value or None; name of a limit -> its verdict. [SI]
    seconds, started, version : float, str and str
        How long it took, when it began (UTC), and which program ran it. [s]
    """

    number: int
    key: str
    point: Mapping[str, Any]
    status: str
    figures: Mapping[str, float | None]
    checks: Mapping[str, str]
    error: str = ""
    seconds: float = 0.0
    started: str = ""
    version: str = ""

    @property
    def values(self) -> tuple[Any, ...]:
        """One value per axis key, in their order [as written]."""
        return tuple(self.point.values())


_COLUMNS = "number, key, point, status, figures, checks, error, seconds, started, version"
_WRITE = f"INSERT OR REPLACE INTO points ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
_NOW = (
    "SELECT plan.number, plan.key, plan.point, status, figures, checks, error, seconds, started, "
    "version FROM plan JOIN points USING (key) ORDER BY plan.number"
)
_EVER = f"SELECT {_COLUMNS} FROM points ORDER BY number, version, started, key"


def _text(value: object) -> str:
    """Return a value as compact JSON."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False)


def _packed(row: StoredRow) -> tuple[object, ...]:
    """Return a row as the columns of the table."""
    return (
        row.number,
        row.key,
        _text(dict(row.point)),
        row.status,
        _text(dict(row.figures)),
        _text(dict(row.checks)),
        row.error,
        row.seconds,
        row.started,
        row.version,
    )


def _unpacked(columns: Sequence[Any], keys: tuple[str, ...]) -> StoredRow:
    """Return the columns of the table as a row; the plan holds values only, for these keys."""
    number, key, point, status, figures, checks, *rest = columns
    values = json.loads(point)
    named = values if isinstance(values, dict) else dict(zip(keys, values, strict=True))
    return StoredRow(number, key, named, status, json.loads(figures), json.loads(checks), *rest)


class Store:
    """The rows of one sweep; open it with `Store.open` to write or `Store.read` to look.

    Parameters
    ----------
    folder : Path
        Folder of the sweep. [-]
    connection : sqlite3.Connection
        To its store. [-]
    lock : Lock or None
        Held while the store is written to. [-]
    """

    def __init__(
        self, folder: Path, connection: sqlite3.Connection, lock: Lock | None = None
    ) -> None:
        self.folder = folder
        self._connection = connection
        self._lock = lock

    @classmethod
    def at(cls, folder: Path | str) -> Self:
        """Open the store of a folder for writing; a new one is made where there is none.

        Parameters
        ----------
        folder : Path or str
            Folder of the sweep. [-]

        Returns
        -------
        Store
            Hold it in a ``with`` block.

        Raises
        ------
        OutputError
            If the folder holds other things, another sweep writes there, the store is damaged or
            of a newer format, or the disk refuses.
        """
        place = Path(folder).absolute()
        lock = Lock(place)
        try:
            return cls(place, connect(place), lock)
        except BaseException:
            lock.release()
            raise

    @classmethod
    def read(cls, folder: Path | str) -> Self:
        """Open the store of a folder to look, also while a sweep runs.

        Parameters
        ----------
        folder : Path or str
            Folder of a sweep. [-]

        Returns
        -------
        Store
            Hold it in a ``with`` block.

        Raises
        ------
        OutputError
            If there is no store, it is damaged, or of a newer format.
        """
        place = Path(folder).absolute()
        return cls(place, connect_to_read(place))

    def __enter__(self) -> Self:
        """Return the store."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the store."""
        self.close()

    def close(self) -> None:
        """Close the store and let others write to it; a second time does nothing."""
        try:
            self._connection.close()
        except sqlite3.Error:
            return  # a full disk: what was committed stays in the write-ahead file
        finally:
            if self._lock is not None:
                self._lock.release()

    def set_plan(self, about: About, points: Iterable[tuple[int, str, tuple[Any, ...]]]) -> None:
        """Store which points the sweep asks for now, all at once or not at all.

        Parameters
        ----------
        about : About
            What the sweep is. [-]
        points : iterable of tuple
            Number, key and values as written of each point. [-]

        Raises
        ------
        OutputError
            If the disk refuses; the earlier plan stays then.
        """
        rows = ((number, key, _text(values)) for number, key, values in points)
        with self._transaction():
            self._connection.execute("DELETE FROM plan")
            self._connection.executemany("INSERT INTO plan VALUES (?, ?, ?)", rows)
            self._connection.execute(
                "INSERT OR REPLACE INTO about VALUES ('sweep', ?)", (_text(asdict(about)),)
            )

    def about(self) -> About:
        """Return what the sweep is; empty before its first plan."""
        with saying(self.folder):
            found = self._connection.execute("SELECT text FROM about WHERE name = 'sweep'")
            line = found.fetchone()
        if line is None:
            return About()
        known = {key: value for key, value in json.loads(line[0]).items() if key in _ABOUT}
        for name in ("keys", "labels", "figures"):
            known[name] = tuple(known.get(name, ()))
        return About(**known)

    def finished(self, failed: bool = True) -> set[str]:
        """Return the keys that need no run.

        Parameters
        ----------
        failed : bool
            Whether points that failed count as finished. [-]

        Returns
        -------
        set of str
            Keys, also of points that the plan no longer asks for.
        """
        where = "" if failed else " WHERE status = 'done'"
        with saying(self.folder):
            return {key for (key,) in self._connection.execute(f"SELECT key FROM points{where}")}

    def record(self, rows: Sequence[StoredRow]) -> None:
        """Store finished points, all at once; they are on the disk when this returns.

        Parameters
        ----------
        rows : sequence of StoredRow
            Finished points. [-]

        Raises
        ------
        OutputError
            If the disk refuses; none of these rows is stored then, all earlier ones are.
        """
        with self._transaction():
            self._connection.executemany(_WRITE, map(_packed, rows))

    def counts(self) -> dict[str, int]:
        """Return how many points of the plan are in which state, those not run as "open"."""
        with saying(self.folder):
            lines = self._connection.execute(
                "SELECT coalesce(status, 'open'), count(*) FROM plan LEFT JOIN points USING (key) "
                "GROUP BY 1"
            ).fetchall()
        found = dict(lines)
        return {name: found[name] for name in (*FINISHED, "open") if name in found}

    def rows(self, old: bool = False) -> Iterator[StoredRow]:
        """Yield the finished points in the order of their numbers.

        Parameters
        ----------
        old : bool
            All rows ever stored in place of those that the plan asks for. [-]

        Yields
        ------
        StoredRow
            One point.
        """
        keys = self.about().keys
        with saying(self.folder), closing(self._connection.cursor()) as cursor:
            for columns in cursor.execute(_EVER if old else _NOW):
                yield _unpacked(columns, keys)

    @contextmanager
    def still(self) -> Iterator[None]:
        """Have everything read in this block belong to one moment, whoever writes meanwhile."""
        with saying(self.folder):
            self._connection.execute("BEGIN")
            try:
                yield
            finally:
                self._connection.execute("ROLLBACK")

    def note_files(self, number: int, key: str) -> None:
        """Note that the folder of a point holds its files.

        Parameters
        ----------
        number, key : int and str
            The point. [-]
        """
        with self._transaction():
            self._connection.execute("INSERT OR REPLACE INTO files VALUES (?, ?)", (number, key))

    def files(self) -> dict[int, str]:
        """Return number -> key of the points whose folder holds their files."""
        with saying(self.folder):
            return dict(self._connection.execute("SELECT number, key FROM files"))

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """Run a block whose changes reach the disk as a whole or not at all."""
        if self._lock is None:
            raise OutputError(f"{self.folder}: the store was opened to look, not to write")
        with saying(self.folder):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):  # the failure itself may have taken it back
                    self._connection.execute("ROLLBACK")
                raise


_ABOUT = frozenset(About.__dataclass_fields__)
