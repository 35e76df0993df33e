"""What a sweep asks for, held against what its store has."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from flowsim import __version__
from flowsim.batch.case_keys import case_data, find_key
from flowsim.batch.files import keep_earlier, point_folder
from flowsim.batch.plan_points import Sweep, point_key
from flowsim.batch.point_files import chosen_points
from flowsim.batch.store import About, Store
from flowsim.case.read import MODEL_VERSION
from flowsim.simulate.registry import FIGURES

__all__ = ["Asked", "about_sweep", "asked", "open_files", "open_points", "store_plan"]


@dataclass(frozen=True)
class Asked:
    """One point by its place, as tens of thousands of whole ones fill the memory.

    Parameters
    ----------
    key : str
        Name of what it asks. [-]
    place : int
        In the points of the sweep, from 0. [-]
    """

    key: str
    place: int


def about_sweep(sweep: Sweep) -> About:
    """Return what is stored of a sweep beside its points.

    Parameters
    ----------
    sweep : Sweep
        The sweep. [-]

    Returns
    -------
    About
        Without its fingerprint.
    """
    data = case_data(sweep.base)
    found = [find_key(sweep.base, data, name) for name in sweep.keys]
    return About(
        title=sweep.title,
        question=sweep.question,
        version=f"flowsim {__version__}, models {MODEL_VERSION}",
        keys=sweep.keys,
        labels=sweep.labels,
        dimensions={key.name: key.dimension for key in found},
        units={key.name: key.unit for key in found},
        figures=sweep.keep,
        figure_units={name: figure.unit for name, figure in FIGURES.items()},
        total=len(sweep.points),
        skipped=sweep.skipped,
        case=sweep.base.model_dump(mode="json"),
        output=sweep.output.model_dump(mode="json"),
    )


def asked(sweep: Sweep) -> list[Asked]:
    """Return all points of a sweep by name and place.

    Parameters
    ----------
    sweep : Sweep
        The sweep. [-]

    Returns
    -------
    list of Asked
        In the order of the sweep.
    """
    return [Asked(point_key(sweep, point), place) for place, point in enumerate(sweep.points)]


def store_plan(store: Store, sweep: Sweep, points: Sequence[Asked]) -> About:
    """Store what the sweep asks for, if it is not what it asked for before.

    Parameters
    ----------
    store : Store
        Open for writing. [-]
    sweep : Sweep
        The sweep. [-]
    points : sequence of Asked
        All its points. [-]

    Returns
    -------
    About
        What was stored of the sweep beside its points.
    """
    digest = hashlib.sha256()
    for number, key, values in _lines(sweep, points):
        digest.update(json.dumps([number, key, values], default=str).encode())
    about = replace(about_sweep(sweep), fingerprint=digest.hexdigest())
    if store.about() != about:
        store.set_plan(about, _lines(sweep, points))
    return about


def _lines(sweep: Sweep, points: Sequence[Asked]) -> Iterator[tuple[int, str, tuple[object, ...]]]:
    """Yield number, key and values of each point."""
    for item in points:
        point = sweep.points[item.place]
        yield point.number, item.key, point.values


def open_points(store: Store, points: Sequence[Asked], retry_failed: bool) -> list[Asked]:
    """Return the points that are to be run, equal ones once.

    Parameters
    ----------
    store : Store
        What there is. [-]
    points : sequence of Asked
        All points of the sweep. [-]
    retry_failed : bool
        Whether points that failed are run again. [-]

    Returns
    -------
    list of Asked
        In the order of the sweep.
    """
    seen = store.finished(failed=not retry_failed)
    out = []
    for item in points:
        if item.key not in seen:
            seen.add(item.key)
            out.append(item)
    return out


def open_files(store: Store, sweep: Sweep, points: Sequence[Asked]) -> list[Asked]:
    """Return the points whose files are wanted and not there.

    Folders that hold the files of another point, as the sweep was changed and its points have
    other numbers now, are moved aside.

    Parameters
    ----------
    store : Store
        With all points run. [-]
    sweep : Sweep
        The sweep. [-]
    points : sequence of Asked
        All its points. [-]

    Returns
    -------
    list of Asked
        In the order in which they are to be written.
    """
    place = {sweep.points[item.place].number: item for item in points}
    there = store.files()
    for number, key in there.items():
        if number not in place or place[number].key != key:
            keep_earlier(store.folder, number, key)
    chosen = chosen_points(store.rows(), sweep.output)
    return [
        place[number]
        for number in chosen
        if there.get(number) != place[number].key or not point_folder(store.folder, number).is_dir()
    ]
