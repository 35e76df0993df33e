"""What passes an installed filter: its rated class, the theory by size, and its leaks.

An installed filter is as good as its frame: no size passes less than the leak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, non_negative, positive
from flowsim.physics.fibre_medium import (
    TYPICAL_VELOCITY,
    FibreMedium,
    FibreModel,
    medium_for_rating,
)
from flowsim.physics.particle_motion import BASE_AIR

__all__ = ["RatedFilter", "leak_share", "rated_filter", "with_leak"]


def leak_share(
    area: float,
    drop: float,
    flow: float,
    density: float = BASE_AIR.density,
    discharge_coefficient: float = 0.6,
    loading: float = 1.0,
) -> float:
    """Return the share of the flow that goes past the filter through holes.

    Parameters
    ----------
    area : float
        Open area of all holes and gaps of the frame. [m2]
    drop : float
        Pressure drop of the clean filter at this flow. [Pa]
    flow : float
        Flow through filter and holes. [m3/s]
    density : float
        Density of the air. [kg/m3]
    discharge_coefficient : float
        Share of the ideal flow in the holes. [-]
    loading : float
        Drop of the dusty filter over that of the clean one, 1 or more. [-]

    Returns
    -------
    float
        Bypassed share. [-]

    Raises
    ------
    RangeError
        If an argument is impossible or the holes would carry more than the flow.

    Notes
    -----
    Orifice flow, own derivation; dust raises the share as the root of the loading, and no credit
    is taken for the better filtering of a dusty layer. Valid for sharp holes at Reynolds numbers
    above some 1000; narrow gaps pass less.
    """
    non_negative(area=area, drop=drop)
    positive(flow=flow, density=density, discharge_coefficient=discharge_coefficient)
    in_range("loading", loading, 1.0, math.inf)
    leak = discharge_coefficient * area * math.sqrt(2.0 * drop * loading / density)
    if leak > flow:
        raise RangeError(f"leak of {leak:.3g} m3/s is above the whole flow {flow:.3g} m3/s")
    return leak / flow


def with_leak(penetration: float, leak: float) -> float:
    """Return the penetration of a filter and its leak together.

    Parameters
    ----------
    penetration : float
        Penetration of the filter alone. [-]
    leak : float
        Share of the flow that goes past it. [-]

    Returns
    -------
    float
        ``P (1 - f) + f``, never below the leak. [-]

    Raises
    ------
    RangeError
        If a share is outside 0 to 1.

    Notes
    -----
    Balance, exact. Valid for leaks that let every particle through.
    """
    in_range("penetration", penetration, 0.0, 1.0)
    in_range("leak", leak, 0.0, 1.0)
    return penetration * (1.0 - leak) + leak


@dataclass(frozen=True)
class RatedFilter:
    """A filter known by its class, with its leak, at any flow.

    Parameters
    ----------
    rated_penetration : float
        Penetration at the most penetrating size and the rated flow. [-]
    medium : FibreMedium
        Theory tied to that rating.
    media_velocity : float
        Velocity through the medium at the rated flow. [m/s]
    leak : float
        Share of the flow that goes past the filter. [-]
    by_size : bool
        True: follow the theory by size. False: the rated share for every size.

    Notes
    -----
    Made by `rated_filter`. Valid as its class [EN1822-1]_ where ``by_size`` is off and the flow is
    not above the rated one; else as `FibreMedium`.
    """

    rated_penetration: float
    medium: FibreMedium
    media_velocity: float
    leak: float = 0.0
    by_size: bool = False

    def penetration(self, diameter: float, flow_ratio: float = 1.0) -> float:
        """Return the share of particles of a size that passes filter and leak.

        Parameters
        ----------
        diameter : float
            Particle diameter. [m]
        flow_ratio : float
            Flow over rated flow. [-]

        Returns
        -------
        float
            Penetration. [-]

        Raises
        ------
        RangeError
            If an argument is not positive.
        """
        positive(diameter=diameter, flow_ratio=flow_ratio)
        velocity = self.media_velocity * flow_ratio
        if self.by_size:
            share = float(self.medium.penetration(diameter, velocity))
        elif flow_ratio <= 1.0:
            share = self.rated_penetration  # no credit for a slower flow
        else:
            share = self.medium.worst_size(velocity)[1]
        return with_leak(share, self.leak)

    def validity(self, flow_ratio: float = 1.0) -> tuple[str, ...]:
        """Say what is doubtful at a flow.

        Parameters
        ----------
        flow_ratio : float
            Flow over rated flow. [-]

        Returns
        -------
        tuple of str
            Empty where the rating itself is used.
        """
        if not self.by_size and flow_ratio <= 1.0:
            return ()
        return self.medium.validity(self.media_velocity * flow_ratio)


def rated_filter(
    penetration: float,
    leak: float = 0.0,
    by_size: bool = False,
    media_velocity: float = TYPICAL_VELOCITY,
    model: FibreModel = "fitted",
) -> RatedFilter:
    """Return a filter from its rated penetration.

    Parameters
    ----------
    penetration : float
        Rated penetration at the most penetrating size. [-]
    leak : float
        Share of the flow that goes past the filter. [-]
    by_size : bool
        True: follow the theory by size. False: the rated share for every size.
    media_velocity : float
        Velocity through the medium at the rated flow. [m/s]
    model : {"fitted", "five terms"}
        Theory, as `FibreMedium`.

    Returns
    -------
    RatedFilter
        The filter.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    `medium_for_rating`; valid as `RatedFilter`.
    """
    in_range("leak", leak, 0.0, 1.0)
    medium = medium_for_rating(penetration, media_velocity, model)
    return RatedFilter(penetration, medium, media_velocity, leak, by_size)
