"""How a small sphere moves in air: slip, drag, settling, Brownian diffusion, stopping."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from flowsim.errors import ConvergenceError, RangeError
from flowsim.physics._ranges import non_negative, positive, warn_outside

__all__ = [
    "BASE_AIR",
    "ParticleAir",
    "SlipForm",
    "brownian_diffusion",
    "mean_free_path",
    "relaxation_time",
    "rms_displacement",
    "settling_velocity",
    "slip_correction",
    "sphere_drag_coefficient",
    "stopping_distance",
]

BOLTZMANN = 1.380649e-23  # J/K
GRAVITY = 9.80665  # m/s2
UNIT_DENSITY = 1000.0  # kg/m3
SMALLEST, LARGEST = 1e-8, 1e-4  # m, the published table of slip
NEWTON_STEPS = 60

SlipForm = Literal["hinds", "allen-raabe", "davies", "kim"]
SLIP_CONSTANTS: dict[str, tuple[float, float, float]] = {
    "hinds": (1.17, 0.525, 0.78),
    "allen-raabe": (1.142, 0.558, 0.999),
    "davies": (1.257, 0.400, 1.10),
    "kim": (1.165, 0.483, 0.997),
}


@dataclass(frozen=True)
class ParticleAir:
    """The air around a particle.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    density : float
        Density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    mean_free_path : float
        Mean free path of the air molecules. [m]

    Raises
    ------
    RangeError
        If a value is not positive.

    Notes
    -----
    The defaults are air at 20 C and 101325 Pa as the tables of [Hinds1999]_ round it. Valid as
    the values given.
    """

    temperature: float = 293.15
    density: float = 1.204
    viscosity: float = 1.81e-5
    mean_free_path: float = 6.6e-8

    def __post_init__(self) -> None:
        """Check the values."""
        positive(temperature=self.temperature, density=self.density)
        positive(viscosity=self.viscosity, mean_free_path=self.mean_free_path)


BASE_AIR = ParticleAir()


def mean_free_path(temperature: float, pressure: float = 101325.0) -> float:
    """Return the mean free path of air molecules.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Absolute pressure. [Pa]

    Returns
    -------
    float
        Mean free path. [m]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    [Kim2005]_: ``67.3 nm (T/296.15)^2 (101325/p) (296.15 + 110.4)/(T + 110.4)``. Valid from 253 to
    373 K near atmospheric pressure.
    """
    positive(temperature=temperature, pressure=pressure)
    warn_outside("mean free path", "temperature in K", temperature, 253.0, 373.0)
    scale = (temperature / 296.15) ** 2 * (101325.0 / pressure)
    return 67.3e-9 * scale * (296.15 + 110.4) / (temperature + 110.4)


def slip_correction(
    diameter: float, mean_free_path: float = BASE_AIR.mean_free_path, form: SlipForm = "hinds"
) -> float:
    """Return the factor by which slip at the surface eases the motion of a small sphere.

    Parameters
    ----------
    diameter : float
        Particle diameter. [m]
    mean_free_path : float
        Mean free path of the air molecules. [m]
    form : {"hinds", "allen-raabe", "davies", "kim"}
        Which published set of constants.

    Returns
    -------
    float
        Slip correction, 1 or more. [-]

    Raises
    ------
    RangeError
        If a length is not positive or the form unknown.

    Notes
    -----
    ``C = 1 + Kn (A + B exp(-G/Kn))``, Kn = 2 lambda/d, with the constants of [Davies1945]_,
    [AllenRaabe1985]_, [Kim2005]_ or, the default, the set that [Hinds1999]_ attributes to the
    second. The sets differ by up to 2.7 % from 0.1 um up and 3.1 % at 0.01 um. Valid from 0.01
    to 100 um in air near atmospheric pressure.
    """
    positive(diameter=diameter, mean_free_path=mean_free_path)
    if form not in SLIP_CONSTANTS:
        raise RangeError(f"slip form is {form!r}; expected one of {', '.join(SLIP_CONSTANTS)}")
    warn_outside("slip correction", "diameter in m", diameter, SMALLEST, LARGEST)
    first, second, decay = SLIP_CONSTANTS[form]
    knudsen = 2.0 * mean_free_path / diameter
    return 1.0 + knudsen * (first + second * math.exp(-decay / knudsen))


def sphere_drag_coefficient(reynolds: float) -> float:
    """Return the drag coefficient of a sphere.

    Parameters
    ----------
    reynolds : float
        Reynolds number of the diameter and the speed through the air. [-]

    Returns
    -------
    float
        Drag over frontal area and dynamic pressure. [-]

    Raises
    ------
    RangeError
        If the Reynolds number is not positive.

    Notes
    -----
    [SchillerNaumann1933]_: ``24/Re (1 + 0.15 Re^0.687)``; single points measured by
    [RoosWillmarth1971]_ lie within 15 %. Valid for Reynolds numbers up to 1000.
    """
    positive(reynolds=reynolds)
    warn_outside("sphere drag", "Reynolds number", reynolds, 0.0, 1000.0)
    return 24.0 / reynolds * _drag_excess(reynolds)


def relaxation_time(
    diameter: float,
    air: ParticleAir = BASE_AIR,
    density: float = UNIT_DENSITY,
    form: SlipForm = "hinds",
) -> float:
    """Return the time in which a particle takes up the speed of the air.

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
    float
        ``rho_p d^2 C/(18 mu)``; times gravity it is the Stokes settling velocity. [s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Stokes drag with slip, [Hinds1999]_. Valid for Reynolds numbers far below 1 (speeds through
    the air below 0.1 m/s at 10 um) and sizes as `slip_correction`.
    """
    positive(diameter=diameter, density=density)
    slip = slip_correction(diameter, air.mean_free_path, form)
    return density * diameter**2 * slip / (18.0 * air.viscosity)


def settling_velocity(
    diameter: float,
    air: ParticleAir = BASE_AIR,
    density: float = UNIT_DENSITY,
    form: SlipForm = "hinds",
) -> float:
    """Return the steady speed at which a particle falls in still air.

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
    float
        Settling velocity. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.
    ConvergenceError
        If the drag balance does not close.

    Notes
    -----
    Stokes with slip, and the drag of [SchillerNaumann1933]_ for inertia:
    ``v (1 + 0.15 Re^0.687) = tau g``. The correction is 0.9 % at 20 um. Buoyancy of the air is left
    out. Valid up to a Reynolds number of 1000 and for sizes as `slip_correction`.
    """
    stokes = relaxation_time(diameter, air, density, form) * GRAVITY
    scale = air.density * diameter / air.viscosity
    speed = _balanced_speed(stokes, scale)
    warn_outside("settling", "Reynolds number", scale * speed, 0.0, 1000.0)
    return speed


def _balanced_speed(stokes: float, scale: float) -> float:
    """Solve v (1 + 0.15 (scale v)^0.687) = stokes; Newton falls from above without overshoot."""
    speed = stokes
    for _ in range(NEWTON_STEPS):
        excess = float(0.15 * (scale * speed) ** 0.687)
        step = (speed * (1.0 + excess) - stokes) / (1.0 + 1.687 * excess)
        speed -= step
        if abs(step) <= 1e-14 * speed:
            return speed
    raise ConvergenceError(f"settling: the drag balance did not close at {speed:.3g} m/s")


def brownian_diffusion(
    diameter: float, air: ParticleAir = BASE_AIR, form: SlipForm = "hinds"
) -> float:
    """Return the Brownian diffusion coefficient of a particle.

    Parameters
    ----------
    diameter : float
        Particle diameter. [m]
    air : ParticleAir
        The air around it.
    form : {"hinds", "allen-raabe", "davies", "kim"}
        Set of slip constants.

    Returns
    -------
    float
        Diffusion coefficient. [m2/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Stokes and Einstein with slip, [Hinds1999]_: ``D = k T C/(3 pi mu d)``. Valid for sizes as
    `slip_correction`.
    """
    slip = slip_correction(diameter, air.mean_free_path, form)
    return BOLTZMANN * air.temperature * slip / (3.0 * math.pi * air.viscosity * diameter)


def stopping_distance(
    diameter: float,
    speed: float,
    air: ParticleAir = BASE_AIR,
    density: float = UNIT_DENSITY,
    form: SlipForm = "hinds",
) -> float:
    """Return how far a particle thrown into still air flies before it stops.

    Parameters
    ----------
    diameter : float
        Particle diameter. [m]
    speed : float
        First speed. [m/s]
    air : ParticleAir
        The air.
    density : float
        Density of the particle. [kg/m3]
    form : {"hinds", "allen-raabe", "davies", "kim"}
        Set of slip constants.

    Returns
    -------
    float
        Distance, gravity left out. [m]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``tau int dv/(1 + 0.15 Re^0.687)`` with the drag of [SchillerNaumann1933]_. Stokes drag alone
    is 3 % long at 1 um and 30 % at 10 um from 10 m/s. Valid up to a Reynolds number of 1000.
    """
    non_negative(speed=speed)
    time = relaxation_time(diameter, air, density, form)
    reynolds = air.density * diameter * speed / air.viscosity
    warn_outside("stopping distance", "Reynolds number", reynolds, 0.0, 1000.0)
    nodes, weights = np.polynomial.legendre.leggauss(32)
    place = 0.5 * (nodes + 1.0)
    # v = V s^3 takes the kink of the drag law out of the integrand
    integrand = 3.0 * place**2 / (1.0 + 0.15 * (reynolds * place**3) ** 0.687)
    return time * speed * float(0.5 * weights @ integrand)


def rms_displacement(diffusion: float, time: float) -> float:
    """Return the root mean square displacement along one axis.

    Parameters
    ----------
    diffusion : float
        Diffusion coefficient. [m2/s]
    time : float
        Time. [s]

    Returns
    -------
    float
        ``sqrt(2 D t)``. [m]

    Raises
    ------
    RangeError
        If an argument is negative.

    Notes
    -----
    [Einstein1905]_. Valid for times far above the relaxation time and away from walls.
    """
    non_negative(diffusion=diffusion, time=time)
    return math.sqrt(2.0 * diffusion * time)


def _drag_excess(reynolds: float) -> float:
    return float(1.0 + 0.15 * reynolds**0.687)
