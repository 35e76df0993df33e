"""Folders that are written complete or not at all."""

from __future__ import annotations

import json
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from flowsim.errors import OutputError

__all__ = ["FolderKind", "whole_folder"]

IGNORED = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})


@dataclass(frozen=True)
class FolderKind:
    """What a folder of ours holds.

    Parameters
    ----------
    marker : str
        JSON file by which an earlier folder is recognised.
    key : str
        Key that this file holds.
    files : frozenset of str
        Files we write.
    folders : frozenset of str
        Folders we write; they hold only pictures.
    """

    marker: str
    key: str
    files: frozenset[str]
    folders: frozenset[str] = frozenset()


def _is_marked(folder: Path, kind: FolderKind) -> bool:
    """Return whether the folder's marker file is one of ours."""
    try:
        document = json.loads((folder / kind.marker).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and document.get("format") == 1 and kind.key in document


def _foreign(folder: Path, kind: FolderKind) -> list[str]:
    """Return what lies in the folder and is not ours."""
    found = []
    for item in folder.iterdir():
        if item.is_dir() and not item.is_symlink() and item.name in kind.folders:
            inside = [part for part in item.iterdir() if part.suffix != ".png"]
            found += [f"{item.name}/{part.name}" for part in inside]
        elif item.name not in kind.files:
            found.append(item.name)
    return sorted(name for name in found if name.rsplit("/", 1)[-1] not in IGNORED)


def _check_target(folder: Path, kind: FolderKind) -> None:
    """Refuse a target that is not free and not an earlier folder of ours."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise OutputError(f"{folder} is a file; name a folder for the results")
    names = _foreign(folder, kind)
    if not any(folder.iterdir()):
        return
    if not _is_marked(folder, kind):
        raise OutputError(
            f"{folder} is not empty and holds no earlier results of this kind ({kind.marker}); "
            "name another folder or empty it"
        )
    if names:
        raise OutputError(
            f"{folder} holds earlier results but also {', '.join(names[:3])}; move that away or "
            "name another folder"
        )


def _put_in_place(fresh: Path, folder: Path) -> None:
    """Move the fresh folder to its place; an earlier one goes only when that has succeeded."""
    if not folder.exists():
        fresh.replace(folder)
        return
    earlier = _sibling(folder, "old")
    folder.replace(earlier)
    try:
        fresh.replace(folder)
    except OSError:
        earlier.replace(folder)
        raise
    shutil.rmtree(earlier, ignore_errors=True)


def _sibling(folder: Path, word: str) -> Path:
    """Return an unused name beside the folder."""
    return folder.with_name(f".{folder.name}.{word}-{os.getpid()}-{secrets.token_hex(4)}")


def _alive(process: int) -> bool:
    """Return whether a process of that number runs."""
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _sweep_leftovers(folder: Path) -> None:
    """Remove half-written folders whose writer was killed; never one that is being written."""
    if os.name != "posix" or not folder.parent.is_dir():
        return
    start = f".{folder.name}.new-"
    for item in folder.parent.iterdir():
        number = item.name.removeprefix(start).split("-")[0]
        if item.name.startswith(start) and number.isdigit() and not _alive(int(number)):
            shutil.rmtree(item, ignore_errors=True)


@contextmanager
def whole_folder(folder: Path, kind: FolderKind) -> Iterator[Path]:
    """Give a temporary folder to write into and put it in place at the end of the block.

    Parameters
    ----------
    folder : Path
        Where the results shall be. [-]
    kind : FolderKind
        What the folder holds. [-]

    Yields
    ------
    Path
        Temporary folder beside the target.

    Raises
    ------
    OutputError
        If the target holds anything that is not an earlier folder of this kind, or the disk
        refuses; nothing is left behind then and an earlier folder stays as it was.
    """
    target = folder.resolve()
    _check_target(target, kind)
    fresh = _sibling(target, "new")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep_leftovers(target)
        fresh.mkdir()
        yield fresh
        _put_in_place(fresh, target)
    except OutputError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{folder} could not be written: {reason}") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
