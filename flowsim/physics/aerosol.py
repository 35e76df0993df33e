"""One particle size with all that the transport of it needs."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.physics.air import AirState
from flowsim.physics.particle_motion import (
    BASE_AIR,
    UNIT_DENSITY,
    ParticleAir,
    SlipForm,
    brownian_diffusion,
    mean_free_path,
    relaxation_time,
    settling_velocity,
    slip_correction,
)

__all__ = ["Particle", "air_of_state", "particle"]


@dataclass(frozen=True)
class Particle:
    """A particle in air.

    Parameters
    ----------
    diameter : float
        Diameter. [m]
    density : float
        Density of the particle. [kg/m3]
    slip : float
        Slip correction. [-]
    relaxation_time : float
        Time to take up the speed of the air. [s]
    settling_velocity : float
        Steady fall in still air. [m/s]
    diffusion : float
        Brownian diffusion coefficient. [m2/s]
    schmidt : float
        Kinematic viscosity over diffusion coefficient. [-]

    Notes
    -----
    Made by `particle`; valid as that.
    """

    diameter: float
    density: float
    slip: float
    relaxation_time: float
    settling_velocity: float
    diffusion: float
    schmidt: float


def particle(
    diameter: float,
    air: ParticleAir = BASE_AIR,
    density: float = UNIT_DENSITY,
    form: SlipForm = "hinds",
) -> Particle:
    """Return the properties of a sphere in air.

    Parameters
    ----------
    diameter : float
        Particle diameter. [m]
    air : ParticleAir
        The air around it.
    density : float
        Density of the particle. [kg/m3]
    form : {"hinds", "allen-raabe", "davies", "kim"}
        Set of slip constants.

    Returns
    -------
    Particle
        The properties.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Laws of `flowsim.physics.particle_motion`, [Hinds1999]_. Valid from 0.01 to 100 um for smooth
    spheres without charge; the sets of slip constants differ by up to 3 %.
    """
    diffusion = brownian_diffusion(diameter, air, form)
    return Particle(
        diameter=diameter,
        density=density,
        slip=slip_correction(diameter, air.mean_free_path, form),
        relaxation_time=relaxation_time(diameter, air, density, form),
        settling_velocity=settling_velocity(diameter, air, density, form),
        diffusion=diffusion,
        schmidt=air.viscosity / air.density / diffusion,
    )


def air_of_state(state: AirState) -> ParticleAir:
    """Return the air around a particle for a state of the room.

    Parameters
    ----------
    state : AirState
        Temperature, pressure, density and viscosity.

    Returns
    -------
    ParticleAir
        The same air with its mean free path.

    Notes
    -----
    Mean free path of [Kim2005]_; valid as `mean_free_path`.
    """
    path = mean_free_path(state.temperature, state.pressure)
    return ParticleAir(state.temperature, state.density, state.viscosity, path)
