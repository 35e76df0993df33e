"""What a person in the room breathes, over time and against every published limit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Room
from flowsim.errors import RangeError
from flowsim.physics.exposure_limits import ExposureLimit, applicable_limits
from flowsim.physics.near_field import NearFarRoom, hemisphere_exchange, hemisphere_volume
from flowsim.physics.substances import Substance
from flowsim.physics.vapour import ppm
from flowsim.simulate.shares import RESOLVED
from flowsim.simulate.transport_result import LimitCheck, RoomExposure, State

__all__ = [
    "LEAST_DRAUGHT",
    "NEAR_RADIUS",
    "SHIFT",
    "RoomSource",
    "limit_checks",
    "near_far_room",
    "room_exposure",
    "verdict",
]

NEAR_RADIUS = 0.8
"""Of the half ball of air round the person: an arm's length. [m]"""
LEAST_DRAUGHT = 0.06
"""Random air speed at its surface, where the case states no stronger draught; assumed. [m/s]"""
SHIFT = 8.0 * 3600.0
"""How long a release lasts unless stated, and what the picture over time shows. [s]"""
STEPS, FIRST = 97, 5.0
DANGER = "IDLH"


@dataclass(frozen=True)
class RoomSource:
    """What one release lets into the room.

    Parameters
    ----------
    rate : float
        Mass in a time. [kg/s]
    highest : float
        With everything that is uncertain at its worst. [kg/s]
    whole : float
        All that the release gives off, its rate at the worst. [kg/s]
    duration : float
        How long. [s]
    """

    rate: float
    highest: float
    whole: float
    duration: float


def near_far_room(room: Room) -> NearFarRoom | None:
    """Return the room as a zone round the person and the rest.

    Parameters
    ----------
    room : Room
        What the case says.

    Returns
    -------
    NearFarRoom or None
        None where volume or fresh air is not stated.

    Raises
    ------
    RangeError
        If the room is no larger than the zone round the person.

    Notes
    -----
    Half a ball of 0.8 m [Nicas1996]_; random air speed as the stated draught, at least 0.06 m/s.
    """
    if room.volume is None or room.fresh_air is None:
        return None
    near = hemisphere_volume(NEAR_RADIUS)
    if room.volume <= near:
        raise RangeError(
            f"room.volume is {room.volume:g} m3, no more than the {near:.2f} m3 of air round the "
            "person; expected the volume of the whole room"
        )
    speed = max(room.draught, LEAST_DRAUGHT)
    exchange = hemisphere_exchange(NEAR_RADIUS, speed)
    return NearFarRoom(room.volume - near, room.fresh_air, near, exchange)


def room_exposure(
    zones: NearFarRoom, sources: Sequence[RoomSource], item: Substance, room: Room
) -> RoomExposure:
    """Return the concentration in the room over eight hours.

    Parameters
    ----------
    zones : NearFarRoom
        The room.
    sources : sequence of RoomSource
        All that let this substance into it, from time 0.
    item : Substance
        What is breathed.
    room : Room
        Its temperature and pressure turn mass into ppm.

    Returns
    -------
    RoomExposure
        Near and far zone. [ppm]
    """
    times = _times([source.duration for source in sources])
    scale = ppm(1.0, item.molar_mass, room.temperature, room.pressure)
    near, far, highest = (np.zeros(times.shape) for _ in range(3))
    for source in sources:
        both = zones.concentration(times, source.rate, source.duration)
        near += scale * both[0]
        far += scale * both[1]
        highest += scale * zones.concentration(times, source.highest, source.duration)[0]
    return RoomExposure(times, near, far, highest)


def _times(ends: Sequence[float]) -> FloatArray:
    """Return times for a smooth curve over a shift, dense at the start and after each end. [s]"""
    parts = [np.linspace(0.0, SHIFT, STEPS), np.geomspace(FIRST, SHIFT, STEPS)]
    for end in dict.fromkeys(ends):
        if end < SHIFT:
            parts.append(np.geomspace(FIRST, SHIFT - end, STEPS // 2) + end)
            parts.append(np.array([end]))
    times = np.concatenate(parts)
    return np.unique(times[times <= SHIFT])


def limit_checks(
    zones: NearFarRoom, sources: Sequence[RoomSource], item: Substance, room: Room
) -> tuple[LimitCheck, ...]:
    """Return what a person breathes against every published limit that applies.

    Parameters
    ----------
    zones : NearFarRoom
        The room.
    sources : sequence of RoomSource
        All that let this substance into it, from time 0.
    item : Substance
        What is breathed.
    room : Room
        Its temperature and pressure turn mass into ppm.

    Returns
    -------
    tuple of LimitCheck
        Lowest limit first; empty where none is known.

    Notes
    -----
    Mean over the averaging time of the limit in the near zone, in the worst stretch of that
    length; where it has none, the highest moment. Danger to life (IDLH) is no limit to work at, so
    it is never called met. Sources that last differently long each count
    with their own worst stretch, which is an upper bound of their sum.
    """
    scale = ppm(1.0, item.molar_mass, room.temperature, room.pressure)

    def worst(window: float, amount: Callable[[RoomSource], float]) -> float:
        parts = [zones.worst_average(window, amount(one), one.duration) for one in sources]
        return scale * sum(parts)

    found = []
    for limit in applicable_limits(item.name):
        window = limit.averaging_time
        value = worst(window, lambda one: one.rate)
        highest = max(value, worst(window, lambda one: one.highest))
        found.append(_check(limit, value, highest, worst(window, lambda one: one.whole)))
    return tuple(found)


def _check(limit: ExposureLimit, value: float, highest: float, whole: float) -> LimitCheck:
    """Return what is breathed against one limit."""
    bound = limit.ppm or 0.0
    state = verdict(value, highest, whole, bound)
    if limit.kind == DANGER and state == "met":
        state = "not shown"
    return LimitCheck(
        limit.publisher,
        limit.kind,
        limit.averaging_text,
        limit.year,
        limit.status,
        limit.note,
        bound,
        value,
        highest,
        state,
    )


def verdict(value: float, highest: float, whole: float, limit: float) -> State:
    """Return whether a limit is met, or cannot be shown to be.

    Parameters
    ----------
    value, highest : float
        What is breathed, and the same with everything uncertain at its worst. [ppm]
    whole : float
        What would be breathed if all that is given off got into the room, rate at its worst. [ppm]
    limit : float
        The limit. [ppm]

    Returns
    -------
    {"met", "not met", "not shown"}
        Met only if the highest lies below the limit and the share that may get into the room is
        one that the model can tell: no arms and no wakes are in it.
    """
    if value > limit:
        return "not met"
    told = whole * RESOLVED <= limit
    return "met" if highest < limit and told else "not shown"
