"""Which share of the particles gets through a slit, crack or seal gap with the air."""

from __future__ import annotations

import numpy as np

from flowsim.physics._ranges import non_negative, positive, warn_outside
from flowsim.physics.aerosol import particle
from flowsim.physics.leak import Gap
from flowsim.physics.particle_motion import BASE_AIR, ParticleAir

__all__ = ["seal_gap_penetration", "slit_diffusion_penetration", "slit_settling_penetration"]

# own eigenvalues of diffusion between plates in a parabolic flow, and their shares
EIGENVALUES = (
    1.6815953222390, 5.6698573458951, 9.6682424625104, 13.6676614426075, 17.6673735653493,
    21.6672053243248, 25.6670964863338, 29.6670210446857, 33.6669660686665, 37.6669244562646,
)  # fmt: skip
SHARES = (
    0.9103521682288, 0.0531425497218, 0.0152789273048, 0.0068088188134, 0.0037397986330,
    0.0023226197077, 0.0015640964855, 0.0011155111752, 0.0008303902494, 0.0006390008395,
)  # fmt: skip
TERMS = 4000
TAIL_SHARE = 3.03877  # share times eigenvalue^(7/3) of the far terms
SHORT = 1e-8  # below this D L/(U h^2) the series gives way to the thin layer at the walls
THIN_LAYER = 2.93483  # of the loss over (D L/(U h^2))^(2/3)

FULL_LEAK_HEIGHT = 0.25e-3  # m
FULL_LEAK_DROP = 4.0  # Pa
LONGEST = 0.102  # m, the longest way measured
FULL_LEAK_SIZES = (0.1e-6, 1e-6)  # m


def slit_diffusion_penetration(
    velocity: float, height: float, depth: float, diffusion: float
) -> float:
    """Return the share that diffusion lets through a slit in laminar flow.

    Parameters
    ----------
    velocity : float
        Mean velocity in the slit. [m/s]
    height : float
        Clear height of the slit. [m]
    depth : float
        Length of the way through it. [m]
    diffusion : float
        Diffusion coefficient of the particle. [m2/s]

    Returns
    -------
    float
        Penetration, flow-weighted. [-]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Series of diffusion between absorbing plates in a parabolic flow; eigenvalues derived by two
    methods, thin layer of [Leveque1928]_ for short ways. Exact for ideal plates; valid as a lower
    bound of what enters: in a real slit 0.4 to 0.45 of the loss (its logarithm) was measured
    [Mosley2001]_.
    """
    positive(velocity=velocity, height=height, depth=depth, diffusion=diffusion)
    length = diffusion * depth / (velocity * height**2)
    if length < SHORT:
        return 1.0 - THIN_LAYER * float(length ** (2.0 / 3.0))
    far = 4.0 * np.arange(len(EIGENVALUES), TERMS) + 5.0 / 3.0
    values = np.concatenate([EIGENVALUES, far])
    shares = np.concatenate([SHARES, TAIL_SHARE * far ** (-7.0 / 3.0)])
    return float(shares @ np.exp(-(8.0 / 3.0) * length * values**2))


def slit_settling_penetration(
    velocity: float, height: float, depth: float, settling: float
) -> float:
    """Return the share that gravity lets through a level slit.

    Parameters
    ----------
    velocity : float
        Mean velocity in the slit. [m/s]
    height : float
        Clear height of the slit. [m]
    depth : float
        Length of the way through it. [m]
    settling : float
        Settling velocity of the particle. [m/s]

    Returns
    -------
    float
        ``1 - v_s L/(U h)``, not below 0. [-]

    Raises
    ------
    RangeError
        If a size or the velocity is not positive, or the settling velocity negative.

    Notes
    -----
    Exact for laminar flow between level plates without diffusion, own derivation. Valid as
    `slit_diffusion_penetration`: a lower bound of what enters.
    """
    positive(velocity=velocity, height=height, depth=depth)
    non_negative(settling=settling)
    return max(0.0, 1.0 - settling * depth / (velocity * height))


def seal_gap_penetration(
    height: float,
    depth: float,
    drop: float,
    diameter: float,
    air: ParticleAir = BASE_AIR,
    level: bool = True,
) -> float:
    """Return the share of particles that a gap in a seal lets through.

    Parameters
    ----------
    height : float
        Clear height of the gap. [m]
    depth : float
        Length of the way through it. [m]
    drop : float
        Pressure drop over it. [Pa]
    diameter : float
        Particle diameter. [m]
    air : ParticleAir
        The air.
    level : bool
        Whether the gap lies level, so that particles settle in it.

    Returns
    -------
    float
        Penetration. [-]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Measured near 1 for 0.1 to 1 um through slots of 0.25 and 1 mm, 4 to 10 cm long, at 4 and 10 Pa
    [LiuNazaroff2003]_: from 0.25 mm and 4 Pa up such a gap counts as an open leak, 1. Elsewhere
    diffusion times settling in laminar gap flow (`flowsim.physics.leak.Gap`), a lower bound of
    what enters. Valid up to a gap Reynolds number of 2000 and for ways up to 0.102 m.
    """
    positive(height=height, depth=depth, drop=drop, diameter=diameter)
    warn_outside("seal gap", "way in m", depth, 0.0, LONGEST)
    small, large = FULL_LEAK_SIZES
    sized = small * (1.0 - 1e-9) <= diameter <= large * (1.0 + 1e-9)
    if sized and height >= FULL_LEAK_HEIGHT and drop >= FULL_LEAK_DROP:
        return 1.0
    gap = Gap(height, depth, 1.0, air.density, air.viscosity)
    flow, _ = gap.flow(drop)
    warn_outside("seal gap", "Reynolds number", gap.reynolds(flow), 0.0, 2000.0)
    body = particle(diameter, air)
    fall = body.settling_velocity if level else 0.0
    velocity = flow / height
    share = slit_diffusion_penetration(velocity, height, depth, body.diffusion)
    return share * slit_settling_penetration(velocity, height, depth, fall)
