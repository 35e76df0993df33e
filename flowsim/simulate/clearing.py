"""How the air over the workpieces gets clean after switching on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.physics.air_cleaning import mixed_recovery_time, piston_recovery_time
from flowsim.simulate.backflow import backflow_faces
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.dust_words import percent, ways_in
from flowsim.simulate.supply_dust import supply_flow
from flowsim.simulate.transport_result import Recovery
from flowsim.transport.faces import FaceArrays
from flowsim.transport.recovery import recovery
from flowsim.transport.release import patch_weights

__all__ = ["WORK_SURFACE", "recovery_of"]

WORK_SURFACE = "work surface"
RATIO = 100.0
LONGEST = 40.0  # air changes after which nobody waits on
SLACK = 1e-6


@dataclass(frozen=True)
class _Pace:
    """Two closed answers, all mixed and moved as a piston, and the end of patience. [s]"""

    mixed: float
    piston: float
    longest: float


def recovery_of(carrier: Carrier) -> Recovery | None:
    """Return how the chamber, full of room air, gets clean after switching on.

    Parameters
    ----------
    carrier : Carrier
        Solved models with what carries vapour and dust.

    Returns
    -------
    Recovery or None
        None where no supply blows into the chamber.

    Notes
    -----
    Supply air counts as 0, whatever the filter passes, and all that enters elsewhere as room air;
    nothing settles.
    """
    flow = supply_flow(carrier.state)
    if flow <= 0.0:
        return None
    problem = carrier.base
    volume, height = float(problem.volume.sum()), carrier.grid.height
    pace = _Pace(
        mixed_recovery_time(flow / volume, RATIO),
        piston_recovery_time(height, flow * height / volume),
        LONGEST * volume / flow,
    )
    places = dict(_places(carrier))
    times, shares, time = recovery(
        problem,
        list(places.values()),
        room=FaceArrays(*(1.0 - part for part in carrier.outlets.supply.axes)),
        longest=pace.longest,
        ratio=RATIO,
    )
    names = tuple(places)
    back = "" if backflow_faces(problem, carrier.outlets) is None else " and from below"
    why = _why(ways_in(carrier) + back, names, (times, shares, time), pace)
    return Recovery(times, shares, names, time, pace.mixed, pace.piston, why)


def _places(carrier: Carrier) -> Iterator[tuple[str, FloatArray]]:
    """Yield the places that are watched with their weights over cells."""
    for item in carrier.case.workpieces:
        x1, y1 = item.offset_x + item.width, item.offset_y + item.depth
        weights = patch_weights(carrier.grid, item.offset_x, x1, item.offset_y, y1, item.bottom)
        yield item.label, weights
    if not carrier.case.workpieces:
        zone = carrier.case.work_zone
        x1, y1 = zone.offset_x + zone.width, zone.offset_y + zone.depth
        yield WORK_SURFACE, patch_weights(carrier.grid, zone.offset_x, x1, zone.offset_y, y1, 0.0)


def _why(
    ways: str,
    names: tuple[str, ...],
    found: tuple[FloatArray, FloatArray, float | None],
    pace: _Pace,
) -> str:
    """Say in one sentence how it went."""
    times, shares, time = found
    worst = int(np.argmax(shares[-1]))
    if time is not None:
        return f"Down to a hundredth of room air after {_seconds(time)}, {_compared(time, pace)}."
    last = float(shares[-1, worst])
    if times[-1] < pace.longest * (1.0 - SLACK):
        return (
            f"Never falls to a hundredth: the air over {names[worst]} keeps {percent(last)} of "
            f"room air, which comes in {ways} all the time."
        )
    return (
        f"Not down to a hundredth after {_seconds(times[-1])}: {percent(last)} of the first air "
        f"is still over {names[worst]}."
    )


def _compared(time: float, pace: _Pace) -> str:
    """Compare a time with the two closed answers."""
    if time > pace.mixed:
        return f"longer than fully mixed air would take ({_seconds(pace.mixed)}): dead corners"
    return (
        f"between air that moves as a piston ({_seconds(pace.piston)}) and air that is fully "
        f"mixed ({_seconds(pace.mixed)})"
        if time >= pace.piston
        else f"sooner than a piston over the whole chamber ({_seconds(pace.piston)}): the place "
        "lies in the fresh stream"
    )


def _seconds(time: float) -> str:
    """Write a time. [s]"""
    return f"{time:.3g} s" if time < 100.0 else f"{time:.0f} s"
