"""What passes an opening against the flow: diffusion in a slit, and eddies that reverse it."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import erfcx

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, non_negative, positive

__all__ = [
    "back_diffusion_flux",
    "exchange_velocity",
    "leak_fraction",
    "reversal_speed",
    "slit_profile",
]

EDDY = 0.05  # m, size of the eddies that reach into a sleeve
TANGENTIAL_SHARE = 0.1  # of the speed along the opening
DRAUGHT_SHARE = 0.5  # of the draught


def leak_fraction(inflow: float, depth: float, diffusion: float) -> float:
    """Return what diffuses out of a slit against an inflow, over what the inflow could carry.

    Parameters
    ----------
    inflow : float
        Mean velocity through the slit, inward. [m/s]
    depth : float
        Depth of the slit along the flow. [m]
    diffusion : float
        Diffusion coefficient, molecular and eddy added. [m2/s]

    Returns
    -------
    float
        Outward flux over inflow times inner concentration, ``1/(exp(Pe) - 1)``. [-]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Exact steady solution in one dimension, own derivation, Pe = U L/D. Valid for one-dimensional
    flow; clean air outside. Molecular diffusion alone never decides a real opening: the answer is
    as good as the eddy part.
    """
    positive(inflow=inflow, depth=depth, diffusion=diffusion)
    peclet = inflow * depth / diffusion
    return math.exp(-peclet) / -math.expm1(-peclet)


def back_diffusion_flux(
    concentration: float, inflow: float, depth: float, diffusion: float
) -> float:
    """Return the flux out of a slit against an inflow.

    Parameters
    ----------
    concentration : float
        Mass concentration inside; the air outside is clean. [kg/m3]
    inflow : float
        Mean velocity through the slit, inward positive, outward negative. [m/s]
    depth : float
        Depth of the slit along the flow. [m]
    diffusion : float
        Diffusion coefficient, molecular and eddy added. [m2/s]

    Returns
    -------
    float
        Mass flux outward. [kg/(s m2)]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``U C/(exp(Pe) - 1)``, without inflow ``D C/L``; own derivation. Valid as `leak_fraction`.
    """
    non_negative(concentration=concentration)
    positive(depth=depth, diffusion=diffusion)
    if not math.isfinite(inflow):
        raise RangeError(f"inflow is {inflow!r}; expected a finite number")
    peclet = inflow * depth / diffusion
    size = abs(peclet)
    share = size * math.exp(-size) / -math.expm1(-size) if size > 0.0 else 1.0
    return concentration * diffusion / depth * (share + max(-peclet, 0.0))


def slit_profile(position: float, inflow: float, depth: float, diffusion: float) -> float:
    """Return the concentration in a slit with an inflow, over that inside.

    Parameters
    ----------
    position : float
        Distance from the inner end, 0 to the depth. [m]
    inflow : float
        Mean velocity through the slit, inward. [m/s]
    depth : float
        Depth of the slit along the flow. [m]
    diffusion : float
        Diffusion coefficient, molecular and eddy added. [m2/s]

    Returns
    -------
    float
        Concentration over that at the inner end. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``(exp(-U x/D) - exp(-Pe))/(1 - exp(-Pe))``, own derivation. Valid as `leak_fraction`.
    """
    positive(inflow=inflow, depth=depth, diffusion=diffusion)
    in_range("position", position, 0.0, depth)
    here, end = inflow * position / diffusion, inflow * depth / diffusion
    return math.exp(-here) * math.expm1(here - end) / math.expm1(-end)


def reversal_speed(
    speed: float | FloatArray,
    tangential_speed: float | FloatArray,
    turbulence: float,
    draught: float,
) -> FloatArray:
    """Return the standard deviation of the velocity through an opening.

    Parameters
    ----------
    speed : float or array
        Mean velocity through the opening, either sign. [m/s]
    tangential_speed : float or array
        Air speed along the opening. [m/s]
    turbulence : float
        Turbulence intensity of the flow through the opening. [-]
    draught : float
        Speed of the draught in front of the opening. [m/s]

    Returns
    -------
    array, shape of the speeds
        Standard deviation S. [m/s]

    Raises
    ------
    RangeError
        If turbulence or draught is negative.

    Notes
    -----
    ``S^2 = (0.1 u_t)^2 + (I v)^2 + (u_d/2)^2``: own assumption, order of magnitude; no source.
    Valid to a factor of two, so results show S halved and doubled.
    """
    non_negative(turbulence=turbulence, draught=draught)
    along = TANGENTIAL_SHARE * np.asarray(tangential_speed, dtype=float)
    through = turbulence * np.asarray(speed, dtype=float)
    found: FloatArray = np.sqrt(along**2 + through**2 + (DRAUGHT_SHARE * draught) ** 2)
    return found


def exchange_velocity(
    speed: float | FloatArray,
    reversal: float | FloatArray,
    sleeve: float = 0.0,
    eddy: float = EDDY,
) -> FloatArray:
    """Return the velocity of the exchange through an opening on top of its mean flow.

    Parameters
    ----------
    speed : float or array, any shape
        Mean velocity through the opening, either sign. [m/s]
    reversal : float or array, same shape
        Standard deviation of that velocity, `reversal_speed`. [m/s]
    sleeve : float
        Depth of the sleeve round the opening. [m]
    eddy : float
        Size of the eddies that reach into the sleeve. [m]

    Returns
    -------
    array, same shape
        Exchange velocity k: ``max(v, 0) + k`` goes one way and ``max(-v, 0) + k`` the other. [m/s]

    Raises
    ------
    RangeError
        If a number is not finite, the reversal or the sleeve negative, or the eddy not positive.

    Notes
    -----
    Own model, no source: the velocity is normal with mean v and deviation S, and k is the mean of
    its part against v, ``S pdf(v/S) - v cdf(-v/S)``, damped in a sleeve by ``exp(-v l/(S e))``.
    At v = 0 it is 0.399 S, at v = 3 S 3.82e-4 S. Valid to decades only; arms and wakes are not
    in it.
    """
    non_negative(sleeve=sleeve)
    positive(eddy=eddy)
    v, s = np.broadcast_arrays(
        np.abs(np.asarray(speed, dtype=float)), np.asarray(reversal, dtype=float)
    )
    if not (np.isfinite(v).all() and np.isfinite(s).all() and (s >= 0.0).all()):
        raise RangeError("speed and reversal must be finite, and reversal 0 or more")
    moving = s > 0.0
    ratio = np.divide(v, s, out=np.zeros(v.shape), where=moving)
    tail = np.sqrt(0.5 * np.pi) * erfcx(ratio / np.sqrt(2.0))
    part = np.exp(-0.5 * ratio**2 - ratio * sleeve / eddy) / np.sqrt(2.0 * np.pi)
    found: FloatArray = s * part * np.maximum(1.0 - ratio * tail, 0.0)
    return found
