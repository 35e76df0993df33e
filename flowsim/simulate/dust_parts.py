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

__all__ = ["PERSON_SPREAD", "Cloud", "dust_cloud", "emission_rates", "room_concentrations"]

PERSON_SPREAD = 5.0
"""Most that a person may give off over the published mean: upper end of the range in use, 1e7 per
minute from 0.5 um up, over 2.1e6; own judgement. [-]"""
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
        whole = self.rates[:, 0].sum()
        if not whole > 0.0:
            return ()
        release = sum(
            (rate / whole * _weights(self.carrier, source) for rate, source in self._emitters),
            np.zeros(self.carrier.grid.shape),
        )
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

    @property
    def _emitters(self) -> list[tuple[float, DustSource]]:
        """Sources with their rate at the first size. [1/s]"""
        return list(zip(self.rates[:, 0].tolist(), self.dust.sources, strict=True))


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
    air = air_of_state(carrier.air)
    bodies = tuple(particle(size, air, dust.density) for size in dust.sizes)
    weights = [_weights(carrier, source) for source in dust.sources]
    outlets = carrier.outlets
    parts, backflow = [], []
    for body in bodies:
        problem = _problem(carrier, body)
        parts.append(air_parts(problem, outlets.supply, outlets.room, weights, TOLERANCE))
        back = backflow_faces(problem, outlets)
        if back is not None:
            backflow.append(steady(problem, back, None, TOLERANCE))
    return Cloud(
        carrier,
        dust,
        sizes,
        bodies,
        room_concentrations(dust),
        emission_rates(dust),
        supply_passing(carrier.state, sizes),
        tuple(parts),
        tuple(backflow),
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
