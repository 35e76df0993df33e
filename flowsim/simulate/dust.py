"""How clean the air is at each workpiece, why, and what lands on it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Workpiece
from flowsim.physics.cleanroom_class import Cleanliness, cleanliness
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.dust_parts import PERSON_SPREAD, Cloud, dust_cloud
from flowsim.simulate.dust_words import (
    BACKFLOW,
    FILTER,
    LEAK,
    ROOM,
    UNFILTERED,
    UNKNOWN_FILTER,
    UNSTATED,
    cause_words,
    microns,
    percent,
    source_name,
)
from flowsim.simulate.landing import landing_rates, stagnation_gradient, workpiece_deposition
from flowsim.simulate.shares import RESOLVED, ShareEstimate, ShareMaps
from flowsim.simulate.transport_result import WorkpieceResult
from flowsim.transport.release import patch_weights

__all__ = ["dust_assumptions", "results_in", "workpiece_results"]

CLEANEST = 1.0  # class below which none has a name
SPOKEN = 0.01  # part of the count from which on it is mentioned


@dataclass(frozen=True, eq=False)
class _Spot:
    """The air over one workpiece.

    Parameters
    ----------
    item : Workpiece
        What the case says.
    weights : array, shape (nx, ny, nz)
        Cells over it, summing to 1. [-]
    room_air : ShareEstimate
        Share of room air.
    age : float
        Mean age of the air. [s]
    """

    item: Workpiece
    weights: FloatArray
    room_air: ShareEstimate
    age: float

    def mean(self, values: FloatArray) -> float:
        """Return the mean of a field over the workpiece."""
        chosen = np.nonzero(self.weights)
        return float(self.weights[chosen] @ values[chosen])

    @property
    def place(self) -> tuple[float, float, float, float, float]:
        """x0, x1, y0, y1 and height. [m]"""
        item = self.item
        x0, y0 = item.offset_x, item.offset_y
        return x0, x0 + item.width, y0, y0 + item.depth, item.bottom


@dataclass(frozen=True, eq=False)
class _Class:
    """What the counts over one workpiece say. Fields as of `WorkpieceResult`."""

    iso_class: float | None
    iso_class_highest: float | None
    worst_size: float | None
    class_text: str
    cause: str
    why: str


def workpiece_results(
    carrier: Carrier, ingress: ShareMaps, age: FloatArray
) -> tuple[tuple[WorkpieceResult, ...], dict[str, FloatArray]]:
    """Return how clean it is at each workpiece, and the dust in the whole chamber.

    Parameters
    ----------
    carrier : Carrier
        The air.
    ingress : ShareMaps
        Share of room air. [-]
    age : array, shape (nx, ny, nz)
        Mean age of the air. [s]

    Returns
    -------
    tuple
        One result per workpiece; concentration by size in um, shape (nx, ny, nz) [1/m3], empty
        where the case says nothing on dust or on the supply filter.

    Raises
    ------
    RangeError
        If a workpiece or source lies outside the air.
    ConvergenceError
        If a solver does not reach its tolerance.
    """
    return results_in(carrier, dust_cloud(carrier), ingress, age)


def results_in(
    carrier: Carrier, cloud: Cloud | None, ingress: ShareMaps, age: FloatArray
) -> tuple[tuple[WorkpieceResult, ...], dict[str, FloatArray]]:
    """Return how clean it is at each workpiece in a known cloud of dust.

    Parameters
    ----------
    carrier : Carrier
        The air.
    cloud : Cloud or None
        Its dust; None where nothing is said of it.
    ingress : ShareMaps
        Share of room air. [-]
    age : array, shape (nx, ny, nz)
        Mean age of the air. [s]

    Returns
    -------
    tuple
        As `workpiece_results`.

    Raises
    ------
    RangeError
        If a workpiece lies outside the air.
    """
    spots = [_spot(carrier, item, ingress, age) for item in carrier.case.workpieces]
    if cloud is None:
        return tuple(_bare(spot, UNSTATED) for spot in spots), {}
    if cloud.passing is None:
        return tuple(_bare(spot, _least(cloud, spot)) for spot in spots), {}
    fields = dict(zip(map(microns, cloud.dust.sizes), cloud.fields, strict=True))
    return tuple(_result(cloud, spot) for spot in spots), fields


def _spot(carrier: Carrier, item: Workpiece, ingress: ShareMaps, age: FloatArray) -> _Spot:
    """Return the air over a workpiece."""
    x1, y1 = item.offset_x + item.width, item.offset_y + item.depth
    weights = patch_weights(carrier.grid, item.offset_x, x1, item.offset_y, y1, item.bottom)
    chosen = np.nonzero(weights)
    return _Spot(item, weights, ingress.at(weights), float(weights[chosen] @ age[chosen]))


def _bare(spot: _Spot, text: str) -> WorkpieceResult:
    """Return a result without a class."""
    none = np.zeros(0)
    why = f"The air over it holds {percent(spot.room_air.value)} of room air; class {text}."
    fixed = (spot.item.label, spot.place, spot.room_air, spot.age)
    return WorkpieceResult(*fixed, none, none, none, {}, None, None, None, text, none, "", why)


def _least(cloud: Cloud, spot: _Spot) -> str:
    """Return what is known where the filter is not: what the other causes make of the air."""
    total = np.sum([part for _, part in _other_causes(cloud, spot)], axis=0)
    found = _judge(cloud, total)
    if found is None or found.number < CLEANEST:
        return UNKNOWN_FILTER
    return f"{UNKNOWN_FILTER}; no cleaner than {found.number:.1f}, by room air and sources alone"


def _other_causes(cloud: Cloud, spot: _Spot) -> Iterator[tuple[str, FloatArray]]:
    """Yield what room air and sources bring. [1/m3]

    Where the linear scheme falls below zero they count as nothing.
    """
    means = np.array([spot.mean(part.room) for part in cloud.parts])
    yield ROOM, cloud.room * np.maximum(means, 0.0)
    if cloud.backflow:
        means = np.array([spot.mean(part) for part in cloud.backflow])
        yield BACKFLOW, cloud.room * np.maximum(means, 0.0)
    for number, source in enumerate(cloud.dust.sources):
        means = np.array([spot.mean(part.sources[number]) for part in cloud.parts])
        yield source_name(source.label), cloud.rates[number] * np.maximum(means, 0.0)


def _causes(cloud: Cloud, spot: _Spot) -> dict[str, FloatArray]:
    """Return the concentration by cause. [1/m3]"""
    passing = cloud.passing
    assert passing is not None
    share = cloud.room * np.array([spot.mean(part.filter) for part in cloud.parts])
    if passing.filtered:
        causes = {FILTER: share * passing.media, LEAK: share * passing.leak}
    else:
        causes = {UNFILTERED: share * passing.media}
    return causes | dict(_other_causes(cloud, spot))


def _highest(cloud: Cloud, spot: _Spot, total: FloatArray) -> FloatArray:
    """Return the concentration with everything uncertain at its worst. [1/m3]"""
    room = spot.room_air.highest - max(spot.room_air.value, 0.0)
    return total + cloud.room * max(room, 0.0) + _source_doubt(cloud, spot)


def _source_doubt(cloud: Cloud, spot: _Spot) -> FloatArray:
    """Return what sources may bring on top: by eddies, scheme, and how much a person sheds."""
    if not cloud.source_variants:
        return np.zeros(cloud.sizes.size)
    base, monotone, half, double = (spot.mean(part) for part in cloud.source_variants)
    more = max(base, half, double, 0.0) + abs(base - monotone) - max(base, 0.0)
    doubt = np.zeros(cloud.sizes.size)
    for number, source in enumerate(cloud.dust.sources):
        factor = 1.0 if source.person is None else PERSON_SPREAD
        means = np.array([spot.mean(part.sources[number]) for part in cloud.parts])
        own = np.maximum(means, 0.0)
        doubt += cloud.rates[number] * (factor * (own + more) - own)
    return doubt


def _judge(cloud: Cloud, counts: FloatArray) -> Cleanliness | None:
    """Return the class of some counts; None without particles."""
    sizes = cloud.sizes.tolist()
    found = cleanliness(dict(zip(sizes, np.maximum(counts, 0.0).tolist(), strict=True)))
    return found if math.isfinite(found.number) else None


def _result(cloud: Cloud, spot: _Spot) -> WorkpieceResult:
    """Return the result at one workpiece."""
    causes = _causes(cloud, spot)
    total = np.asarray(np.sum(list(causes.values()), axis=0))
    highest = _highest(cloud, spot, total)
    judged = _classify(cloud, spot, causes, (total, highest))
    gradient = stagnation_gradient(cloud.carrier.field, spot.weights, spot.item.area)
    velocity = np.array([workpiece_deposition(body, gradient) for body in cloud.bodies])
    return WorkpieceResult(
        label=spot.item.label,
        place=spot.place,
        room_air=spot.room_air,
        age=spot.age,
        sizes=cloud.sizes,
        concentration=total,
        concentration_highest=highest,
        causes=causes,
        iso_class=judged.iso_class,
        iso_class_highest=judged.iso_class_highest,
        worst_size=judged.worst_size,
        class_text=judged.class_text,
        deposition=landing_rates(cloud.sizes, total, velocity),
        cause=judged.cause,
        why=judged.why,
    )


def _classify(
    cloud: Cloud,
    spot: _Spot,
    causes: dict[str, FloatArray],
    counts: tuple[FloatArray, FloatArray],
) -> _Class:
    """Return the class with its words."""
    found, high = (_judge(cloud, values) for values in counts)
    worst_number = None if high is None else high.number
    if found is None:
        text = "no particles were computed to reach it"
        return _Class(None, worst_number, None, text, "", f"{text.capitalize()}.")
    number, size = found.number, found.worst_size
    place = cloud.dust.sizes.index(size)
    cause = max(causes, key=lambda name: float(causes[name][place]))
    share = float(causes[cause][place] / counts[0][place])
    words = cause_words(cloud.carrier, cause)
    why = f"Class {number:.1f} at {microns(size)} um: {percent(share)} of it is {words}."
    notes = [found.label, *found.doubts, *_notes(cloud, spot, (found, high), float(counts[0][0]))]
    return _Class(number, worst_number, size, "; ".join(notes), cause, why)


def _notes(
    cloud: Cloud,
    spot: _Spot,
    judged: tuple[Cleanliness, Cleanliness | None],
    count: float,
) -> Iterator[str]:
    """Yield what speaks against a class, given the count at the first size."""
    found, high = judged
    if high is not None and high.label != found.label:
        yield f"{high.label} with everything uncertain at its worst"
    outside = float(cloud.room[0])
    short = -spot.mean(cloud.parts[0].room) * outside
    if short > SPOKEN * count:
        yield "its share of room air is below what the grid resolves and counts as none"
    elif spot.room_air.highest < RESOLVED and count < RESOLVED * outside:
        yield "arms and wakes, which are left out, may bring in more room air"
    if cloud.backflow and spot.mean(cloud.backflow[0]) * outside > SPOKEN * count:
        yield "air that comes back from below counts as room air"


def dust_assumptions(carrier: Carrier) -> tuple[str, ...]:
    """Return what the results on dust take for granted.

    Parameters
    ----------
    carrier : Carrier
        The air.

    Returns
    -------
    tuple of str
        Sentences; empty where the case says nothing on dust.
    """
    dust = carrier.case.dust
    return () if dust is None else tuple(_assumptions(carrier))


def _assumptions(carrier: Carrier) -> Iterator[str]:
    """Yield the assumptions of a case with dust."""
    dust, supply = carrier.case.dust, carrier.case.supply
    assert dust is not None
    yield (
        "Dust: particles of a size and larger move as those of that size (larger ones settle "
        "faster); what lands between two sizes follows power laws."
    )
    if dust.room_counts is None:
        yield f"Dust: the room's air is ISO {dust.room_class:g}; rooms scatter by a factor of ten."
    if supply is not None and supply.filter is not None:
        yield (
            "Dust: every size passes the filter as its rating promises for the worst size at the "
            "rated flow; below that flow no credit, above it by fibre theory; loading changes "
            "nothing; a leak is spread over the whole face, so right under it there is more."
        )
    if supply is not None and supply.intake == "outdoors":
        yield "Dust: outdoor air is taken to hold as much as the room's."
    if any(source.person is not None for source in dust.sources):
        yield (
            "Dust: a person gives off the published mean of 55 people; at the worst "
            f"{PERSON_SPREAD:g} times as much (own judgement)."
        )
