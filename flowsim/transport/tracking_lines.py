"""Exact lines along the air, and along the way of a settling particle, in three dimensions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError
from flowsim.transport.tracking import Ends, Record, TrackResult, Walk, track

__all__ = ["Streamline", "exact_streamline", "exact_streamlines"]

_FOREVER = 1e200  # s, one step


@dataclass(frozen=True, eq=False)
class Streamline:
    """One line along the flow.

    Parameters
    ----------
    points : array, shape (n, 3)
        Points on it, start and end included. [m]
    exit : str
        Name of the exit, wall or patch it ends at, ``unfinished`` where it comes to rest. [-]
    end : array, shape (3,)
        Where it ends. [m]
    time : float
        From the start to the end. [s]
    """

    points: FloatArray
    exit: str
    end: FloatArray
    time: float


def exact_streamlines(
    field: Field,
    starts: FloatArray,
    settling: float = 0.0,
    backward: bool = False,
    ends: Ends | None = None,
) -> TrackResult:
    """Return where lines along the flow end.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]
    starts : array, shape (n, 3)
        Points of the lines. [m]
    settling : float
        Added to the air, downward. [m/s]
    backward : bool
        Follow the air to where it came from. [-]
    ends : Ends or None
        Named exits and patches; None for the six walls and all solids. [-]

    Returns
    -------
    TrackResult
        Ends and times; lines that come to rest count as ``unfinished``. [-]

    Raises
    ------
    RangeError
        As `track`.

    Notes
    -----
    Velocity linear between opposite faces of a cell gives each coordinate an exponential in time,
    so each cell is crossed in one step and only round-off is left: [Pollock1988]_.
    """
    walk = Walk(settling=settling, step_time=_FOREVER, step_limit=2, unfinished_limit=1.0)
    return track(_turned(field, backward), starts, walk, ends)


def exact_streamline(
    field: Field,
    start: FloatArray,
    settling: float = 0.0,
    backward: bool = False,
    ends: Ends | None = None,
    points: int = 512,
) -> Streamline:
    """Return one line along the flow with points on it.

    Parameters
    ----------
    field : Field
        Air flow. [m3/s]
    start : array, shape (3,)
        A point of the line. [m]
    settling : float
        Added to the air, downward. [m/s]
    backward : bool
        Follow the air to where it came from. [-]
    ends : Ends or None
        Named exits and patches; None for the six walls and all solids. [-]
    points : int
        Largest number of points, a quarter of a cell apart at most if they suffice. [-]

    Returns
    -------
    Streamline
        The line; its points and its end lie on the exact path. [-]

    Raises
    ------
    RangeError
        As `track`.

    Notes
    -----
    As `exact_streamlines`: [Pollock1988]_.
    """
    first = np.asarray(start, dtype=np.float64)
    if first.shape != (3,):
        raise RangeError(f"the start of a line must have shape (3,), got {first.shape}")
    walk = Walk(settling=settling, cell_fraction=0.25, step_limit=100_000, unfinished_limit=1.0)
    record = Record(paths=1, path_points=points)
    found = track(_turned(field, backward), first[np.newaxis], walk, ends, record=record)
    name = found.names[int(found.end_names[0])]
    time = float(found.residence_time[0])
    return Streamline(found.paths[0], name, found.end_positions[0], time)


def _turned(field: Field, backward: bool) -> Field:
    """Return the field, its fluxes turned round if asked for."""
    if not backward:
        return field
    return replace(field, flux=FaceFlux(*(-values for values in field.flux.axes)))
