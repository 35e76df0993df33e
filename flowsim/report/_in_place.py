"""Files that are put whole into a folder in which others are at work."""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from flowsim.errors import OutputError

__all__ = ["SharedKind", "put_in_place"]

IGNORED = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
FRESH = ".summary.new-"


@dataclass(frozen=True)
class SharedKind:
    """What of ours lies in a folder beside other things.

    Parameters
    ----------
    marker, key : str
        JSON file by which earlier files of ours are recognised, and a key that it holds.
    pages : tuple of str
        Other files, moved into place last.
    pictures : str
        Folder that holds only our pictures.
    """

    marker: str
    key: str
    pages: tuple[str, ...]
    pictures: str


def _is_marked(folder: Path, kind: SharedKind) -> bool:
    """Return whether the marker is one of ours."""
    try:
        document = json.loads((folder / kind.marker).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and document.get("format") == 1 and kind.key in document


def _check(folder: Path, kind: SharedKind) -> None:
    """Refuse to replace what is not ours."""
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder} is a file; name a folder for the results")
    names = (kind.marker, *kind.pages, kind.pictures)
    there = [name for name in names if (folder / name).exists()]
    if there and not _is_marked(folder, kind):
        raise OutputError(
            f"{folder} holds {', '.join(there)} that this program has not written; move that away"
        )
    pictures = folder / kind.pictures
    if pictures.is_symlink() or (pictures.exists() and not pictures.is_dir()):
        raise OutputError(f"{pictures} is not a folder; move it away")
    if pictures.is_dir():
        found = sorted(item.name for item in pictures.iterdir() if item.suffix != ".png")
        foreign = [name for name in found if name not in IGNORED]
        if foreign:
            raise OutputError(
                f"{pictures} also holds {', '.join(foreign[:3])}; move that away first"
            )


def _alive(process: int) -> bool:
    """Return whether a process of that number runs."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _clear_leftovers(folder: Path) -> None:
    """Remove what a writer left that was killed; never what one is writing now."""
    if os.name != "posix":
        return
    for item in folder.glob(f"{FRESH}*"):
        number = item.name.removeprefix(FRESH).split("-")[0]
        if number.isdigit() and not _alive(int(number)):
            shutil.rmtree(item, ignore_errors=True)


def _write(place: Path, data: bytes) -> None:
    """Write a file and see it onto the disk."""
    place.parent.mkdir(exist_ok=True)
    with place.open("wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def _move(fresh: Path, folder: Path, kind: SharedKind) -> None:
    """Move what is written to its place: the marker, the pictures, at last the pages."""
    (fresh / kind.marker).replace(folder / kind.marker)
    pictures, earlier = folder / kind.pictures, fresh / "earlier"
    if pictures.exists():
        pictures.replace(earlier)
    try:
        (fresh / kind.pictures).replace(pictures)
    except OSError:
        with suppress(OSError):
            earlier.replace(pictures)
        raise
    for name in kind.pages:
        (fresh / name).replace(folder / name)


def put_in_place(folder: Path, kind: SharedKind, files: Mapping[str, bytes]) -> None:
    """Write files into a folder; nothing in it changes before all of them are on the disk.

    Parameters
    ----------
    folder : Path
        Where; what is not of this kind stays untouched. [-]
    kind : SharedKind
        What the files are. [-]
    files : mapping of str to bytes
        Marker, pages, and pictures with their folder before the name. [-]

    Raises
    ------
    OutputError
        If something of these names is not ours, or the disk refuses; what was there stays then.
    """
    target = folder.resolve()
    _check(target, kind)
    fresh = target / f"{FRESH}{os.getpid()}-{secrets.token_hex(4)}"
    try:
        target.mkdir(parents=True, exist_ok=True)
        _clear_leftovers(target)
        fresh.mkdir()
        (fresh / kind.pictures).mkdir()
        for name, data in files.items():
            _write(fresh / name, data)
        _move(fresh, target, kind)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{folder} could not be written: {reason}") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
