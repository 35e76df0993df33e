"""Paths of particles from one place of a case, and where they end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.physics.aerosol import air_of_state, particle
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.transport_result import ParticlePath, ReleaseResult
from flowsim.transport.release import face_weights, release_weights
from flowsim.transport.tracking import Ends, Record, Walk, track
from flowsim.transport.tracking_ends import Patch

__all__ = ["Start", "Tracks", "follow", "start_of"]

PARTICLES = 2000
PATHS = 24
PATH_POINTS = 160
SEED = 20
LONGEST = 20.0
"""Time limit over the time in which the supply fills the chamber. [-]"""


@dataclass(frozen=True, eq=False)
class Start:
    """Where particles are let go.

    Parameters
    ----------
    name : str
        Of the place.
    weights : array, shape (nx, ny, nz)
        Share of them in each cell, summing to 1. [-]
    size : float
        0 for vapour, else the size of the particles. [m]
    """

    name: str
    weights: FloatArray
    size: float


@dataclass(frozen=True, eq=False)
class Tracks:
    """Some paths, and the shares of all particles.

    Parameters
    ----------
    paths : tuple of ParticlePath
        The first particles.
    shares : dict of str to tuple of float
        Share by end and its standard error. [-]
    """

    paths: tuple[ParticlePath, ...]
    shares: dict[str, tuple[float, float]]


def start_of(carrier: Carrier, releases: tuple[ReleaseResult, ...]) -> Start:
    """Return the place whose particles tell most.

    Parameters
    ----------
    carrier : Carrier
        The air.
    releases : tuple of ReleaseResult
        Of which the one that escapes most is followed.

    Returns
    -------
    Start
        That release, else the first source of dust, else the whole work surface.
    """
    case, grid = carrier.case, carrier.grid
    worst = max(releases, key=lambda item: item.escape.value, default=None)
    if (
        worst is not None
        and worst.compartment is not None
        and worst.compartment in carrier.outlets.slits
    ):
        slit = carrier.outlets.slits[worst.compartment]
        return Start(f"slit of {worst.compartment}", face_weights(grid, slit), 0.0)
    if worst is not None:
        return Start(worst.label, release_weights(grid, worst.place), 0.0)
    if case.dust is not None and case.dust.sources:
        source = case.dust.sources[0]
        box = (
            source.offset_x,
            source.offset_x + source.width,
            source.offset_y,
            source.offset_y + source.depth,
            source.bottom,
            source.bottom + source.height,
        )
        return Start(source.label, release_weights(grid, box), max(case.dust.sizes))
    zone = case.work_zone
    across = (zone.offset_x, zone.offset_x + zone.width)
    along = (zone.offset_y, zone.offset_y + zone.depth)
    return Start("work surface", release_weights(grid, (*across, *along, 0.0, 0.0)), 0.0)


def _places(carrier: Carrier, start: Start) -> FloatArray:
    """Return where the particles begin, drawn evenly within cells, shape (n, 3). [m]"""
    grid, draw = carrier.grid, np.random.default_rng(SEED)
    cells = np.flatnonzero(start.weights.ravel() > 0.0)
    share = start.weights.ravel()[cells]
    picked = draw.choice(cells, PARTICLES, p=share / share.sum())
    index = np.stack(np.unravel_index(picked, grid.shape), axis=1)
    places: FloatArray = (index + draw.random(index.shape)) * np.array(grid.spacing)
    return places


def follow(carrier: Carrier, start: Start) -> Tracks:
    """Let particles walk in use and return some of their paths.

    Parameters
    ----------
    carrier : Carrier
        The air.
    start : Start
        Where they begin.

    Returns
    -------
    Tracks
        Paths and shares; the same for the same case.

    Raises
    ------
    ConvergenceError
        If too many do not end.
    """
    settling = 0.0
    if start.size > 0.0 and carrier.case.dust is not None:
        density = carrier.case.dust.density
        settling = particle(
            start.size, density=density, air=air_of_state(carrier.air)
        ).settling_velocity
    chamber = carrier.case.chamber
    flow = float(np.abs(carrier.field.flux.z[:, :, -1]).sum())
    longest = LONGEST * chamber.volume / flow if flow > 0.0 else 1e3
    walk = Walk(
        diffusivity=float(carrier.case.mixing.in_use),
        settling=settling,
        exchange=carrier.exchange(),
        time_limit=longest,
    )
    patches = [
        Patch(
            item.label,
            item.offset_x,
            item.offset_x + item.width,
            item.offset_y,
            item.offset_y + item.depth,
            item.bottom,
        )
        for item in carrier.case.workpieces
    ]
    ends = Ends(carrier.outlets.exits, patches if settling > 0.0 else ())
    record = Record(paths=PATHS, path_points=PATH_POINTS)
    found = track(carrier.field, _places(carrier, start), walk, ends, SEED, record)
    names = found.names
    paths = tuple(
        ParticlePath(points, names[int(end)], start.name)
        for points, end in zip(found.paths, found.end_names, strict=False)
    )
    shares = {
        name: (found.shares[name], found.standard_errors[name])
        for name in names
        if found.counts[name]
    }
    return Tracks(paths, shares)
