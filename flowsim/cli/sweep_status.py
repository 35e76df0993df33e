"""How far the sweep in a folder is, told from another terminal while it runs."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from time import time

from flowsim.batch.store import STORE, Store
from flowsim.cli.progress import duration
from flowsim.cli.speak import printable

__all__ = ["status_lines"]


def status_lines(folder: str) -> list[str]:
    """Return how far a sweep is.

    Parameters
    ----------
    folder : str
        Folder of the sweep. [-]

    Returns
    -------
    list of str
        Lines to print. [-]

    Raises
    ------
    OutputError
        If the folder holds no sweep, or its store cannot be read.
    """
    with Store.read(folder) as store, store.still():
        about, counts = store.about(), store.counts()
    return [
        printable(f"{about.title or 'sweep without a plan'} ({folder})"),
        *_count_lines(counts),
        *_skipped(about.skipped),
        _last(Path(folder)),
    ]


def _count_lines(counts: Mapping[str, int]) -> list[str]:
    """Return how many points are in which state."""
    total = sum(counts.values())
    finished = total - counts.get("open", 0)
    lines = [
        f"  {finished:,} of {total:,} points finished ({100 * finished / max(total, 1):.1f} %)"
    ]
    width = max((len(f"{count:,}") for count in counts.values()), default=1)
    spoken = {"open": "still to run"}
    lines += [f"    {count:>{width},} {spoken.get(name, name)}" for name, count in counts.items()]
    return lines


def _skipped(number: int) -> list[str]:
    """Return how many points a condition leaves out."""
    return [f"  {number:,} more points are left out by a condition"] if number else []


def _last(folder: Path) -> str:
    """Return when a point was stored last."""
    newest = (folder / STORE).stat().st_mtime
    with suppress(OSError):  # there only while a sweep runs
        newest = max(newest, (folder / f"{STORE}-wal").stat().st_mtime)
    return f"  last change {duration(max(time() - newest, 0.0))} ago"
