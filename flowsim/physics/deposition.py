"""How fast particles leave the air at a surface: floor, wall, ceiling, workpiece.

A deposition velocity times the concentration in the air above is what lands per area and time.
Gravity decides above 0.5 um, Brownian diffusion below 0.2 um; charge and heat are left out.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from flowsim.errors import RangeError
from flowsim.physics._ranges import non_negative, positive, warn_outside

__all__ = [
    "Facing",
    "disk_gradient",
    "disk_mean_transfer",
    "landed",
    "room_loss_rate",
    "shear_transfer",
    "stagnation_deposition",
    "surface_deposition",
    "turbulent_transfer",
]

Facing = Literal["floor", "wall", "ceiling"]
Shape = Literal["axisymmetric", "plane"]

# second derivative at the wall of the stagnation profile, over the directions that spread
WALL_SHEAR = {"axisymmetric": 1.31194, "plane": 1.23259 / 2.0}
LEVEQUE = 0.53837
LIU_AHN = 1.08
# one occupied house, fan off: middle of the size bin in m, loss rate per hour
ROOM_LOSS = ((0.4e-6, 0.3), (11e-6, 5.2))
QUADRATURE = 64


def disk_gradient(velocity: float, diameter: float) -> float:
    """Return the velocity gradient at the middle of a disk that faces an even flow.

    Parameters
    ----------
    velocity : float
        Speed of the flow. [m/s]
    diameter : float
        Diameter of the disk. [m]

    Returns
    -------
    float
        ``4 U/(pi D)``. [1/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Potential flow, own derivation. Valid for a free disk, thin boundary layer.
    """
    positive(velocity=velocity, diameter=diameter)
    return 4.0 * velocity / (math.pi * diameter)


def stagnation_deposition(
    settling: float,
    diffusion: float,
    gradient: float,
    kinematic_viscosity: float,
    shape: Shape = "axisymmetric",
) -> float:
    """Return the deposition velocity where a downflow meets a level surface.

    Parameters
    ----------
    settling : float
        Settling velocity towards the surface, 0 or more. [m/s]
    diffusion : float
        Diffusion coefficient. [m2/s]
    gradient : float
        Velocity gradient a of the outer flow u = a r. [1/s]
    kinematic_viscosity : float
        Kinematic viscosity of the air. [m2/s]
    shape : {"axisymmetric", "plane"}
        Flow that spreads to all sides, or to two.

    Returns
    -------
    float
        Deposition velocity. [m/s]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``D / int_0^inf exp(-(v_s z + beta z^3/3)/D) dz``: exact for high Schmidt numbers, own
    derivation on the stagnation flows of [Homann1936]_ and [Hiemenz1911]_. Valid for Schmidt
    numbers above 100. Adding settling and diffusion instead is up to 24 % too much.
    """
    non_negative(settling=settling)
    positive(diffusion=diffusion, gradient=gradient, kinematic_viscosity=kinematic_viscosity)
    if shape not in WALL_SHEAR:
        raise RangeError(f"shape is {shape!r}; expected one of {', '.join(WALL_SHEAR)}")
    schmidt = kinematic_viscosity / diffusion
    warn_outside("stagnation deposition", "Schmidt number", schmidt, 100.0, math.inf)
    beta = WALL_SHEAR[shape] * gradient**1.5 / math.sqrt(kinematic_viscosity)
    layer = float((3.0 * diffusion / beta) ** (1.0 / 3.0))
    return diffusion / (layer * _layer_integral(settling * layer / diffusion))


def _layer_integral(drift: float) -> float:
    """Integrate exp(-(drift y + y^3)) over y from 0 to infinity."""
    width = 1.0 + drift
    end = min(45.0, 3.5 * width)
    nodes, weights = np.polynomial.legendre.leggauss(QUADRATURE)
    place = 0.5 * end * (nodes + 1.0) / width
    return float(0.5 * end / width * weights @ np.exp(-(drift * place + place**3)))


def disk_mean_transfer(
    velocity: float, diameter: float, diffusion: float, kinematic_viscosity: float
) -> float:
    """Return the mean Brownian transfer velocity onto a disk that faces an even flow.

    Parameters
    ----------
    velocity : float
        Speed of the flow. [m/s]
    diameter : float
        Diameter of the disk. [m]
    diffusion : float
        Diffusion coefficient. [m2/s]
    kinematic_viscosity : float
        Kinematic viscosity of the air. [m2/s]

    Returns
    -------
    float
        Transfer velocity without settling. [m/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    ``Sh = 1.08 Sc^(1/3) Re^(1/2)`` [LiuAhn1987]_, constant from memory; the exact value at the
    middle is 0.959. Valid for laminar flow and Schmidt numbers above 100.
    """
    positive(velocity=velocity, diameter=diameter)
    positive(diffusion=diffusion, kinematic_viscosity=kinematic_viscosity)
    schmidt = kinematic_viscosity / diffusion
    reynolds = velocity * diameter / kinematic_viscosity
    warn_outside("transfer to a disk", "Schmidt number", schmidt, 100.0, math.inf)
    return float(LIU_AHN * schmidt ** (1.0 / 3.0) * math.sqrt(reynolds) * diffusion / diameter)


def shear_transfer(diffusion: float, shear_rate: float, length: float) -> float:
    """Return the mean transfer velocity onto a wall along which air flows.

    Parameters
    ----------
    diffusion : float
        Diffusion coefficient. [m2/s]
    shear_rate : float
        Velocity gradient at the wall. [1/s]
    length : float
        Length of the wall along the flow. [m]

    Returns
    -------
    float
        Mean over the length, 1.5 times the value at its end. [m/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    [Leveque1928]_: ``k(x) = 0.53837 D^(2/3) (gamma/x)^(1/3)``, derived again. Valid while the
    layer of thinned air is thinner than the layer in which the speed rises evenly.
    """
    positive(diffusion=diffusion, shear_rate=shear_rate, length=length)
    return float(1.5 * LEVEQUE * diffusion ** (2.0 / 3.0) * (shear_rate / length) ** (1.0 / 3.0))


def turbulent_transfer(
    friction_velocity: float, diffusion: float, kinematic_viscosity: float
) -> float:
    """Return the Brownian transfer velocity through a turbulent boundary layer.

    Parameters
    ----------
    friction_velocity : float
        Square root of wall shear stress over density. [m/s]
    diffusion : float
        Diffusion coefficient. [m2/s]
    kinematic_viscosity : float
        Kinematic viscosity of the air. [m2/s]

    Returns
    -------
    float
        Transfer velocity without settling or impaction. [m/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    ``0.084 u* Sc^(-2/3)`` [CleaverYates1975]_, from memory; walls measured at 1 um by
    [SippolaNazaroff2004]_ lie within a factor 1.5 at u* 0.12 m/s. Valid for smooth walls, Schmidt
    numbers above 100 and particles that inertia does not throw at the wall (relaxation time below
    0.2 nu/u*^2).
    """
    positive(friction_velocity=friction_velocity)
    positive(diffusion=diffusion, kinematic_viscosity=kinematic_viscosity)
    schmidt = kinematic_viscosity / diffusion
    warn_outside("turbulent transfer", "Schmidt number", schmidt, 100.0, math.inf)
    return float(0.084 * friction_velocity * schmidt ** (-2.0 / 3.0))


def surface_deposition(settling: float, transfer: float, facing: Facing) -> float:
    """Return the deposition velocity onto a floor, wall or ceiling.

    Parameters
    ----------
    settling : float
        Settling velocity. [m/s]
    transfer : float
        Transfer velocity by diffusion alone, as onto a wall. [m/s]
    facing : {"floor", "wall", "ceiling"}
        Which way the surface lies; a floor faces up.

    Returns
    -------
    float
        Deposition velocity, 0 or more. [m/s]

    Raises
    ------
    RangeError
        If a velocity is negative or the facing unknown.

    Notes
    -----
    Drift and diffusion through a still film, exact in one dimension, own derivation: floor
    ``v/(1 - exp(-v/k))``, ceiling ``v/(exp(v/k) - 1)``, wall ``k``. Valid as the transfer velocity;
    up to 5 % below the exact stagnation flow at the worst size. Inertia, charge and heat are left
    out: a turbulent duct at 5 m/s puts up to 26 % of the floor's share on its walls.
    """
    non_negative(settling=settling, transfer=transfer)
    if facing not in ("floor", "wall", "ceiling"):
        raise RangeError(f"facing is {facing!r}; expected floor, wall or ceiling")
    if facing == "wall" or settling == 0.0:
        return transfer
    if transfer == 0.0:
        return settling if facing == "floor" else 0.0
    ratio = settling / transfer
    if facing == "floor":
        return settling / -math.expm1(-ratio)
    return settling * math.exp(-ratio) / -math.expm1(-ratio)


def landed(concentration: float, deposition_velocity: float, area: float, time: float) -> float:
    """Return how many particles land on a surface.

    Parameters
    ----------
    concentration : float
        Particles in the air above. [1/m3]
    deposition_velocity : float
        Deposition velocity. [m/s]
    area : float
        Surface. [m2]
    time : float
        Time. [s]

    Returns
    -------
    float
        Number of particles. [-]

    Raises
    ------
    RangeError
        If an argument is negative.

    Notes
    -----
    Definition of the deposition velocity. Valid for a concentration that does not change.
    """
    non_negative(concentration=concentration, deposition_velocity=deposition_velocity)
    non_negative(area=area, time=time)
    return concentration * deposition_velocity * area * time


def room_loss_rate(diameter: float) -> float:
    """Return the rate at which particles settle out of a lived-in room.

    Parameters
    ----------
    diameter : float
        Particle diameter. [m]

    Returns
    -------
    float
        Share lost per time. [1/s]

    Raises
    ------
    RangeError
        If the diameter is not positive.

    Notes
    -----
    Measured in one occupied house with the fan off [HowardReed2003]_: 0.3 per hour at 0.3-0.5 um,
    5.2 above 10 um (read as 11 um); straight line between the two on log scales, own. Valid from
    0.4 to 11 um as an order of magnitude. Below 1 um thirty times more than settling explains.
    """
    positive(diameter=diameter)
    (small, slow), (large, fast) = ROOM_LOSS
    warn_outside("loss in a room", "diameter in m", diameter, small, large)
    slope = math.log(fast / slow) / math.log(large / small)
    return float(slow * (diameter / small) ** slope) / 3600.0
