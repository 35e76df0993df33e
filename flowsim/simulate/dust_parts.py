"""Dust in the air of the chamber by size and cause."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Dust, DustSource
from flowsim.physics.aerosol import Particle, air_of_state, particle
from flowsim.physics.cleanroom_class import iso_concentration
from flowsim.physics.particle_source import person_emission
from flowsim.simulate.backflow import backflow_faces
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.landing import closed_deposition
from flowsim.simulate.supply_dust import Passing, supply_passing
from flowsim.transport.cleanliness import AirParts, air_parts
from flowsim.transport.faces import FaceArrays
from flowsim.transport.operator import TransportProblem
from flowsim.transport.release import release_weights
from flowsim.transport.scalar import steady

__all__ = [
    "LIGHT",
    "PERSON_SPREAD",
    "Cloud",
    "bodies_of",
    "dust_cloud",
    "emission_rates",
    "is_light",
    "light_release",
    "room_concentrations",
]

PERSON_SPREAD = 5.0
"""Most that a person may give off over the published mean: upper end of the range in use, 1e7 per
minute from 0.5 um up, over 2.1e6; own judgement. [-]"""
LIGHT = 1e-4
"""Settling velocity over the mean downflow below which it is left out of the sums. [-]"""
TOLERANCE = 1e-10
ROUGH = 1e-8


@dataclass(frozen=True, eq=False)
class Cloud:
    """Dust in the chamber, size by size.

    Parameters
    ----------
    carrier : Carrier
        The air.
    dust : Dust
        What the case says.
    sizes : array, shape (n,)
        Particle sizes. [m]
    bodies : tuple of Particle
        Particles of these sizes.
    room : array, shape (n,)
        Concentration in the room. [1/m3]
    rates : array, shape (sources, n)
        What each source gives off. [1/s]
    passing : Passing or None
        Share of the room's dust that comes in with the supply, None if not known.
    parts : tuple of AirParts
        In the chamber, each cause of unit strength, by size.
    backflow : tuple of array, shape (nx, ny, nz)
        In the chamber, per concentration in air that comes back in, by size; empty if none does.
        [-]
    known_variants : tuple of array, shape (nx, ny, nz), or None
        `source_variants` where they are known already, empty to leave them out; None finds
        them. [s/m3]
    """

    carrier: Carrier
    dust: Dust
    sizes: FloatArray
    bodies: tuple[Particle, ...]
    room: FloatArray
    rates: FloatArray
    passing: Passing | None
    parts: tuple[AirParts, ...]
    backflow: tuple[FloatArray, ...]
    known_variants: tuple[FloatArray, ...] | None = None

    @cached_property
    def fields(self) -> tuple[FloatArray, ...]:
        """Concentration in every cell by size, nan in solids; empty if not known. [1/m3]"""
        if self.passing is None:
            return ()
        supply = self.room * (self.passing.media + self.passing.leak)
        return tuple(
            supply[i] * part.filter
            + self.room[i] * (part.room + (self.backflow[i] if self.backflow else 0.0))
            + sum(rate * own for rate, own in zip(self.rates[:, i], part.sources, strict=True))
            for i, part in enumerate(self.parts)
        )

    @cached_property
    def source_variants(self) -> tuple[FloatArray, ...]:
        """What all sources make of the air at the first size, varied. [s/m3]

        Per rate of all of them: linear, monotone, eddies halved, eddies doubled.
        """
        if self.known_variants is not None:
            return self.known_variants
        release = _all_sources(self.carrier, self.dust)
        if release is None:
            return ()
        variants = (("linear", 1.0), ("monotone", 1.0), ("linear", 0.5), ("linear", 2.0))
        return tuple(self._released(release, *variant) for variant in variants)

    def _released(self, release: FloatArray, scheme: str, eddy: float) -> FloatArray:
        """Return what a release of particles of the first size makes of the air. [s/m3]"""
        body = self.bodies[0]
        problem = self.carrier.problem(
            "in use",
            eddy=eddy,
            settling=body.settling_velocity,
            molecular=body.diffusion,
            scheme=scheme,
        )
        return steady(problem, 0.0, release, ROUGH)


def is_light(carrier: Carrier, body: Particle) -> bool:
    """Return whether particles move as the air does, near enough.

    Parameters
    ----------
    carrier : Carrier
        The air.
    body : Particle
        The particles.

    Returns
    -------
    bool
        True where their settling is less than a ten thousandth of the mean downflow.

    Notes
    -----
    Settling changes the speed at which the air carries them off by no more than that share in the
    stream, and by no more than its share of what eddies carry in corners; their deposition is
    smaller still. All light sizes are computed as the lightest one, or as vapour, which moved no
    map of the shipped cases by a thousandth of its largest value (own estimate, tested).
    """
    grid = carrier.grid
    flow = float(np.abs(carrier.field.flux.z[:, :, -1]).sum())
    return body.settling_velocity * grid.width * grid.depth < LIGHT * flow


def bodies_of(carrier: Carrier, dust: Dust) -> tuple[Particle, ...]:
    """Return the particles of a case.

    Parameters
    ----------
    carrier : Carrier
        The air.
    dust : Dust
        What the case says.

    Returns
    -------
    tuple of Particle
        By size, as stated.
    """
    air = air_of_state(carrier.air)
    return tuple(particle(size, air, dust.density) for size in dust.sizes)


def light_release(carrier: Carrier) -> FloatArray | None:
    """Return what all sources give off, if its first size moves as the air does.

    Parameters
    ----------
    carrier : Carrier
        The air.

    Returns
    -------
    array, shape (nx, ny, nz), or None
        Share of what all sources give off together in each cell; None without sources, or where
        the first size settles too fast. [-]

    Notes
    -----
    Its spread as that of a vapour, which a molecular diffusivity helps along, differs from that
    of the dust by less than 1/200 of the largest value (tested); it only serves the doubt.
    """
    dust = carrier.case.dust
    if dust is None or not is_light(carrier, bodies_of(carrier, dust)[0]):
        return None
    return _all_sources(carrier, dust)


def _all_sources(carrier: Carrier, dust: Dust) -> FloatArray | None:
    """Return the share of what all sources give off of the first size, None if nothing. [-]"""
    rates = emission_rates(dust)[:, 0]
    if not rates.sum() > 0.0:
        return None
    release = np.zeros(carrier.grid.shape)
    for rate, source in zip(rates.tolist(), dust.sources, strict=True):
        release += rate / rates.sum() * _weights(carrier, source)
    return release


def dust_cloud(carrier: Carrier) -> Cloud | None:
    """Return the dust in the air of a case.

    Parameters
    ----------
    carrier : Carrier
        The air.

    Returns
    -------
    Cloud or None
        None where the case has no statement on dust.

    Notes
    -----
    Particles of a size and larger move as those of that size. Outdoor air counts as room air.
    Air that comes back from the plenum or out of a compartment holds as much as the room's.
    """
    dust = carrier.case.dust
    if dust is None:
        return None
    sizes = np.array(dust.sizes)
    bodies = bodies_of(carrier, dust)
    parts, backflow = _parts_by_size(carrier, dust, bodies)
    return Cloud(
        carrier,
        dust,
        sizes,
        bodies,
        room_concentrations(dust),
        emission_rates(dust),
        supply_passing(carrier.state, sizes),
        parts,
        backflow,
    )


def _parts_by_size(
    carrier: Carrier, dust: Dust, bodies: tuple[Particle, ...]
) -> tuple[tuple[AirParts, ...], tuple[FloatArray, ...]]:
    """Return what each cause makes of the air, and what comes back in, by size."""
    outlets = carrier.outlets
    weights = [_weights(carrier, source) for source in dust.sources]
    light = [body for body in bodies if is_light(carrier, body)]
    lightest = min(light, key=lambda body: body.settling_velocity, default=None)
    movers = [lightest if lightest is not None and body in light else body for body in bodies]
    parts: dict[Particle, AirParts] = {}
    backflow: dict[Particle, FloatArray] = {}
    for body in movers:
        if body in parts:
            continue
        problem = _problem(carrier, body)
        parts[body] = air_parts(problem, outlets.supply, outlets.room, weights, TOLERANCE)
        back = backflow_faces(problem, outlets)
        if back is not None:
            backflow[body] = steady(problem, back, None, TOLERANCE)
    return (
        tuple(parts[body] for body in movers),
        tuple(backflow[body] for body in movers if body in backflow),
    )


def _problem(carrier: Carrier, body: Particle) -> TransportProblem:
    """Return the transport problem of one size in use."""
    outlets = carrier.outlets
    both = zip(outlets.supply.axes, carrier.exchange().axes, strict=True)
    taken = FaceArrays(*(supply + exchange for supply, exchange in both))
    speed = float(carrier.speed[carrier.grid.fluid].mean())
    return carrier.problem(
        "in use",
        settling=body.settling_velocity,
        molecular=body.diffusion,
        deposition=closed_deposition(carrier.field, taken, body, speed),
    )


def _weights(carrier: Carrier, source: DustSource) -> FloatArray:
    """Return the share of what a source gives off in each cell."""
    x0, y0, z0 = source.offset_x, source.offset_y, source.bottom
    limits = (x0, x0 + source.width, y0, y0 + source.depth, z0, z0 + source.height)
    return release_weights(carrier.grid, limits)


def room_concentrations(dust: Dust) -> FloatArray:
    """Return the concentration in the room.

    Parameters
    ----------
    dust : Dust
        What the case says.

    Returns
    -------
    array, shape (n,)
        Particles of each size and larger. [1/m3]
    """
    if dust.room_counts is not None:
        return np.array(dust.room_counts)
    return np.array([iso_concentration(dust.room_class, size) for size in dust.sizes])


def emission_rates(dust: Dust) -> FloatArray:
    """Return what each source gives off.

    Parameters
    ----------
    dust : Dust
        What the case says.

    Returns
    -------
    array, shape (sources, n)
        Particles of each size and larger. [1/s]
    """
    rates = [_rates(source, dust.sizes) for source in dust.sources]
    return np.array(rates).reshape(len(rates), len(dust.sizes))


def _rates(source: DustSource, sizes: tuple[float, ...]) -> tuple[float, ...]:
    """Return what one source gives off of each size and larger. [1/s]"""
    if source.person is None:
        return source.rates or ()
    clothing, share = source.person, source.share
    return tuple(share * person_emission(clothing, size) for size in sizes)
