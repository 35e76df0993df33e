"""The folder of a sweep: its store with a lock, whole files, folders of points."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from flowsim.errors import OutputError

__all__ = [
    "FORMAT",
    "POINTS",
    "STORE",
    "TABLE",
    "Lock",
    "clear_leftovers",
    "connect",
    "connect_to_read",
    "keep_earlier",
    "point_folder",
    "saying",
    "whole_file",
]

FORMAT = 1
"""Format of the store; counts up when older programs could not read it."""

STORE, LOCK, TABLE = "sweep.sqlite", "sweep.lock", "results.csv"
POINTS, EARLIER = "points", "earlier"

_MARK = 0x464C4F57  # "FLOW", in the header of every store
_PATIENCE = 5.0  # s, for another program that holds the store for a moment
_FRESH = ".fresh"  # end of the name of a file that is being written

_TABLES = (
    "CREATE TABLE about (name TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID",
    "CREATE TABLE plan (number INTEGER PRIMARY KEY, key TEXT NOT NULL, point TEXT NOT NULL)",
    "CREATE TABLE points (key TEXT PRIMARY KEY, number INTEGER NOT NULL, point TEXT NOT NULL, "
    "status TEXT NOT NULL, figures TEXT NOT NULL, checks TEXT NOT NULL, error TEXT NOT NULL, "
    "seconds REAL NOT NULL, started TEXT NOT NULL, version TEXT NOT NULL)",
    "CREATE TABLE files (number INTEGER PRIMARY KEY, key TEXT NOT NULL)",
)

_KEEP = "what was stored before stays as it is"


@contextmanager
def saying(folder: Path) -> Iterator[None]:
    """Turn what SQLite complains about inside a block into words for people.

    Parameters
    ----------
    folder : Path
        Folder of the sweep. [-]

    Raises
    ------
    OutputError
        What failed, where, and what to do.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise OutputError(_words(folder / STORE, error)) from error


def _words(store: Path, error: sqlite3.Error) -> str:
    """Return what a complaint means and what to do."""
    name = getattr(error, "sqlite_errorname", "")
    if name.startswith("SQLITE_FULL") or name == "SQLITE_IOERR_WRITE":
        what = f"the disk is full or the file may not grow; {_KEEP}"
        return f"{store}: {what}; make room and give the same command again"
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return f"{store}: may not be written to; name a folder that can be written to"
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return f"{store}: another program holds the store; close it and try again; {_KEEP}"
    if name.startswith(("SQLITE_CORRUPT", "SQLITE_NOTADB")) or "no such table" in str(error):
        return (
            f"{store}: is damaged or no store of a sweep ({error}); nothing was changed; bring "
            "back a copy, or move the folder away and start anew"
        )
    return f"{store}: {error}; {_KEEP}"


class Lock:
    """Keeps a second sweep out of a folder; gone with the process that holds it.

    Parameters
    ----------
    folder : Path
        Folder of the sweep; made if it is not there. [-]

    Raises
    ------
    OutputError
        If another process holds it, the folder holds other things, or the disk refuses.
    """

    def __init__(self, folder: Path) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            _refuse_foreign(folder)
            self._connection = sqlite3.connect(folder / LOCK, timeout=0.2, isolation_level=None)
        except OSError as error:
            raise OutputError(f"{folder}: {error.strerror or error}") from error
        except sqlite3.Error as error:
            raise OutputError(_words(folder / STORE, error)) from error
        try:
            self._connection.execute("PRAGMA journal_mode = MEMORY")
            self._connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            self._connection.close()
            if getattr(error, "sqlite_errorname", "").startswith("SQLITE_BUSY"):
                raise OutputError(
                    f"{folder}: another sweep is writing there; wait for it or name another folder"
                ) from error
            raise OutputError(_words(folder / STORE, error)) from error

    def release(self) -> None:
        """Let others in; a second time does nothing."""
        with suppress(sqlite3.Error):
            self._connection.close()


def _refuse_foreign(folder: Path) -> None:
    """Refuse a folder that holds things and no sweep."""
    if not folder.is_dir():
        raise OutputError(f"{folder}: is a file; name a folder for the sweep")
    if (folder / STORE).exists():
        return
    if (folder / f"{STORE}-wal").exists():
        raise OutputError(
            f"{folder}: {STORE} is missing but {STORE}-wal is there; bring the store back or move "
            "the folder away; nothing was changed"
        )
    ours = (LOCK, f"{STORE}{_FRESH}", f"{STORE}{_FRESH}-journal")
    others = sorted(item.name for item in folder.iterdir() if item.name not in ours)
    if others:
        raise OutputError(
            f"{folder}: is not empty and holds no sweep (found {', '.join(others[:3])}); name a "
            "new folder"
        )


def connect(folder: Path) -> sqlite3.Connection:
    """Open the store of a folder for writing; make a new one where there is none.

    Parameters
    ----------
    folder : Path
        Folder of the sweep, whose lock is held. [-]

    Returns
    -------
    sqlite3.Connection
        Without transactions of its own; every commit is forced to the disk.

    Raises
    ------
    OutputError
        If the store is damaged, of a newer format, or the disk refuses.
    """
    with saying(folder):
        if not (folder / STORE).exists():
            _make(folder)
        _refuse_damaged(folder)
        connection = _open(folder, "rw")
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            if mode != "wal":  # some network folders: the plain journal is as sound, only slower
                connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA synchronous = FULL")
            _check_whole(folder, connection)
        except BaseException:
            connection.close()
            raise
    return connection


def connect_to_read(folder: Path) -> sqlite3.Connection:
    """Open the store of a folder to look.

    Parameters
    ----------
    folder : Path
        Folder of a sweep. [-]

    Returns
    -------
    sqlite3.Connection
        Read-only.

    Raises
    ------
    OutputError
        If there is no store, or it is damaged or of a newer format.
    """
    if not (folder / STORE).is_file():
        raise OutputError(f"{folder}: holds no sweep (there is no {STORE}); name its folder")
    _refuse_damaged(folder)
    with saying(folder):
        try:
            connection = _open(folder, "rw")  # the last one to leave also clears the log away
        except sqlite3.OperationalError:
            return _open_unwritable(folder)
        connection.execute("PRAGMA query_only = ON")
        return connection


def _open_unwritable(folder: Path) -> sqlite3.Connection:
    """Return a connection to a store in a folder that this user may only read."""
    try:
        return _open(folder, "ro")
    except sqlite3.OperationalError:
        log = folder / f"{STORE}-wal"
        if log.exists() and log.stat().st_size:
            raise
        return _open(folder, "ro&immutable=1")


def _open(folder: Path, mode: str) -> sqlite3.Connection:
    """Return a connection to a store of our kind and format."""
    address = f"{(folder / STORE).as_uri()}?mode={mode}"
    connection = sqlite3.connect(address, uri=True, isolation_level=None, timeout=_PATIENCE)
    try:
        mark = connection.execute("PRAGMA application_id").fetchone()[0]
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        if mark != _MARK:
            raise OutputError(f"{folder / STORE}: is no store of a sweep; name another folder")
        if version > FORMAT:
            raise OutputError(
                f"{folder / STORE}: was written by a newer program (format {version}, this one "
                f"reads up to {FORMAT}); use that program or name another folder"
            )
    except BaseException:
        connection.close()
        raise
    return connection


def _make(folder: Path) -> None:
    """Make an empty store; it appears under its name when it is whole."""
    fresh = folder / f"{STORE}{_FRESH}"
    try:
        for leftover in (fresh, folder / f"{fresh.name}-journal"):
            leftover.unlink(missing_ok=True)
        connection = sqlite3.connect(fresh, isolation_level=None)
        try:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("BEGIN")
            for statement in _TABLES:
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {_MARK}")
            connection.execute(f"PRAGMA user_version = {FORMAT}")
            connection.execute("COMMIT")
        finally:
            connection.close()
        fresh.replace(folder / STORE)
        _force_names(folder)
    except OSError as error:
        raise OutputError(f"{folder}: {error.strerror or error}") from error


def _refuse_damaged(folder: Path) -> None:
    """Refuse a store that was cut off, before SQLite takes it for a new one."""
    try:
        size = (folder / STORE).stat().st_size
        with (folder / STORE).open("rb") as stream:
            start = stream.read(16)
    except OSError as error:
        raise OutputError(f"{folder / STORE}: {error.strerror or error}") from error
    if size < 512 or start != b"SQLite format 3\0":
        raise OutputError(
            f"{folder / STORE}: is damaged or no store of a sweep ({size} bytes); nothing was "
            "changed; bring back a copy, or move the folder away and start anew"
        )


def _check_whole(folder: Path, connection: sqlite3.Connection) -> None:
    """Read through the store once; refuse it if pages are missing or mixed up."""
    found = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise OutputError(
            f"{folder / STORE}: is damaged ({' '.join(str(found).split())}); nothing was changed; "
            "bring back a copy, or move the folder away and start anew"
        )


def _force_names(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can do that."""
    if os.name != "posix":
        return
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


@contextmanager
def whole_file(path: Path) -> Iterator[TextIO]:
    """Give a text file to write that takes its name only when it is complete.

    Parameters
    ----------
    path : Path
        Where it shall be; an earlier file there is replaced. [-]

    Yields
    ------
    TextIO
        UTF-8, line ends as written.

    Raises
    ------
    OutputError
        If the disk refuses; an earlier file stays then, and nothing else is left behind.
    """
    fresh = path.with_name(f".{path.name}{_FRESH}")
    try:
        with fresh.open("w", encoding="utf-8", newline="") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(path)
        _force_names(path.parent)
    except OutputError:
        raise
    except OSError as error:
        raise OutputError(f"{path}: could not be written: {error.strerror or error}") from error
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def point_folder(folder: Path | str, number: int) -> Path:
    """Return where the files of a point stand.

    Parameters
    ----------
    folder : Path or str
        Folder of the sweep. [-]
    number : int
        Of the point. [-]

    Returns
    -------
    Path
        Such as ``points/000123`` in the folder of the sweep.
    """
    return Path(folder) / POINTS / f"{number:06d}"


def keep_earlier(folder: Path, number: int, key: str) -> None:
    """Move the files of a point aside whose number another point has now.

    Parameters
    ----------
    folder : Path
        Folder of the sweep, whose lock is held. [-]
    number, key : int and str
        The point that the files belong to. [-]
    """
    here = point_folder(folder, number)
    aside = folder / POINTS / EARLIER / key[:16]
    with suppress(OSError):
        if here.is_dir() and not aside.exists():
            aside.parent.mkdir(parents=True, exist_ok=True)
            here.replace(aside)


def clear_leftovers(folder: Path) -> None:
    """Remove what a killed run was in the middle of writing.

    Parameters
    ----------
    folder : Path
        Folder of the sweep, whose lock is held. [-]
    """
    for leftover in folder.glob(f".*{_FRESH}"):
        with suppress(OSError):
            leftover.unlink()
    points = folder / POINTS
    if not points.is_dir():
        return
    for item in points.iterdir():
        if re.fullmatch(r"\.\d+\.(new|old)-\d+-[0-9a-f]+", item.name):
            shutil.rmtree(item, ignore_errors=True)
