"""What the supply brings in: through the filter, round it, or without any filter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Filter
from flowsim.physics.aerosol import air_of_state
from flowsim.physics.filter_class import filter_class
from flowsim.physics.filter_penetration import rated_filter
from flowsim.physics.leak import Gap
from flowsim.physics.slit_penetration import seal_gap_penetration
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.layout import actual

__all__ = ["Passing", "rated_flow_ratio", "supply_flow", "supply_passing"]

COARSE = 0.2  # penetration above which the theory of fine filters does not hold


@dataclass(frozen=True, eq=False)
class Passing:
    """Share of the particles in the intake that the supply carries on, by size.

    Parameters
    ----------
    media : array, shape (n,)
        Through the filter; 1 without one. [-]
    leak : array, shape (n,)
        Round the filter. [-]
    filtered : bool
        Whether there is a filter.
    """

    media: FloatArray
    leak: FloatArray
    filtered: bool = True


def supply_passing(state: Coupled, sizes: FloatArray) -> Passing | None:
    """Return which share of the particles comes in with the supply.

    Parameters
    ----------
    state : Coupled
        Solved models.
    sizes : array, shape (n,)
        Particle sizes. [m]

    Returns
    -------
    Passing or None
        None where there is a filter of which the case states neither grade nor penetration.

    Notes
    -----
    What the rating promises at the most penetrating size is used for every size; a flow below the
    rated one earns no credit, one above it costs what the theory of fibre filters says. Loading
    changes nothing. What passes round the filter is spread evenly over its face.
    """
    supply, none = state.layout.case.supply, np.zeros(sizes.size)
    if supply is None or supply_flow(state) <= 0.0:
        return Passing(none, none, supply is not None and supply.filter is not None)
    if supply.filter is None:
        return Passing(np.ones(sizes.size), none, filtered=False)
    rating = _rating(supply.filter)
    if rating is None:
        return None
    share, penetration = _leak(state, supply.filter, sizes)
    media = _through(rating, rated_flow_ratio(state))
    return Passing(np.full(sizes.size, media * (1.0 - share)), share * penetration)


def supply_flow(state: Coupled) -> float:
    """Return what comes through the filter, or from the fan without one.

    Parameters
    ----------
    state : Coupled
        Solved models.

    Returns
    -------
    float
        Into the chamber, as chamber air. [m3/s]
    """
    flows = state.solution.flows
    return actual(state.layout, flows.get("supply filter", flows.get("supply fan", 0.0)))


def _rating(media: Filter) -> float | None:
    """Return the penetration that the filter promises, None if the case does not say. [-]"""
    if media.penetration is not None:
        return media.penetration
    return None if media.grade is None else filter_class(media.grade).penetration


def rated_flow_ratio(state: Coupled) -> float:
    """Return the flow through the supply filter over its rated flow.

    Parameters
    ----------
    state : Coupled
        Solved models.

    Returns
    -------
    float
        1 where the case gives a table of drops instead of a rated point. [-]
    """
    supply = state.layout.case.supply
    if supply is None or supply.filter is None:
        return 1.0
    media = supply.filter
    rated = media.rated_flow
    if rated is None and media.rated_velocity is not None:
        rated = media.rated_velocity * media.area
    return 1.0 if rated is None else supply_flow(state) / rated


def _through(rating: float, flow_ratio: float) -> float:
    """Return the share that passes the medium. [-]"""
    if flow_ratio <= 1.0 or not 0.0 < rating <= COARSE:
        return rating
    return rated_filter(rating).penetration(1e-7, flow_ratio)


def _leak(state: Coupled, media: Filter, sizes: FloatArray) -> tuple[float, FloatArray]:
    """Return the share of the flow that goes round the filter, and what of its dust gets through.

    Medium and gap feel the same drop; that their sum is the supply's flow makes the share exact
    where both are laminar, and keeps it below 1 always.
    """
    gap, air = media.seal_gap, state.layout.chamber_air
    if gap is None:
        return media.leak, np.ones(sizes.size)
    drop = state.solution.drops["supply filter"]
    law = Gap(gap.height, gap.path, gap.length, air.density, air.viscosity)
    flow, _ = law.flow(drop)
    share = flow / (flow + supply_flow(state))
    body = air_of_state(air)
    through = [
        seal_gap_penetration(gap.height, gap.path, drop, float(size), body) for size in sizes
    ]
    return share, np.array(through)
