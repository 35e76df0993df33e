"""Where the vapour of each release goes, and what a person breathes of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema_release import Release
from flowsim.chamber.grid import wall_axes
from flowsim.physics.diffusion import fuller_diffusion
from flowsim.physics.flammability import flammable_ranges, share_of_lower_limit
from flowsim.physics.near_field import NearFarRoom
from flowsim.physics.vapour import diluted_ppm, ppm
from flowsim.simulate.breathing import (
    SHIFT,
    RoomSource,
    limit_checks,
    near_far_room,
    room_exposure,
)
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.evaporating import GivenOff, Liquid, given_off, liquid_of
from flowsim.simulate.layout import actual
from flowsim.simulate.shares import RESOLVED, ShareEstimate, ShareMaps
from flowsim.simulate.standing import Standing, standing_of
from flowsim.simulate.transport_result import ReleaseResult
from flowsim.simulate.vapour_words import Account, room_words, taken_for_granted, why
from flowsim.transport.operator import TransportProblem
from flowsim.transport.scalar import exit_flows, steady

__all__ = ["exhaust_flow", "release_results"]


@dataclass(frozen=True, eq=False)
class _Spread:
    """What one release does in the chamber.

    Parameters
    ----------
    release : Release
        What the case says.
    liquid : Liquid
        What it consists of.
    standing : Standing
        Where it stands.
    given : GivenOff
        How much it gives off.
    exits : dict of str to float
        Share by exit. [-]
    slit, escape : ShareEstimate
        Share out of the compartment, and into the room.
    concentration : array, shape (nx, ny, nz)
        In the chamber. [ppm]
    """

    release: Release
    liquid: Liquid
    standing: Standing
    given: GivenOff
    exits: dict[str, float]
    slit: ShareEstimate | None
    escape: ShareEstimate
    concentration: FloatArray

    @property
    def source(self) -> RoomSource:
        """What it lets into the room; at worst no less than the share that is not resolved."""
        rate, most = self.given.rate, self.given.rate * self.given.factor
        return RoomSource(
            rate * max(self.escape.value, 0.0),
            most * max(self.escape.highest, RESOLVED),
            most,
            SHIFT if self.release.duration is None else self.release.duration,
        )


def release_results(carrier: Carrier, escape: ShareMaps) -> tuple[ReleaseResult, ...]:
    """Return where the vapour of each release of a case goes.

    Parameters
    ----------
    carrier : Carrier
        The air.
    escape : ShareMaps
        Share of a release in each cell that leaves into the room.

    Returns
    -------
    tuple of ReleaseResult
        In the order of the case.

    Raises
    ------
    RangeError
        If a liquid is unknown or impossible, stands nowhere, or the air has no way out.
    ConvergenceError
        If a solver does not reach its tolerance.

    Notes
    -----
    One steady solve per release in use; its concentration over the liquid per rate closes the
    balance of evaporation. What is breathed of a substance counts all releases of it together.
    """
    if not carrier.case.releases:
        return ()
    problem = carrier.base
    zones = near_far_room(carrier.case.room)
    spreads = [_spread(carrier, problem, escape, one) for one in carrier.case.releases]
    return tuple(_result(carrier, escape, one, spreads, zones) for one in spreads)


def _spread(
    carrier: Carrier, problem: TransportProblem, maps: ShareMaps, release: Release
) -> _Spread:
    """Return what one release does in the chamber."""
    air = carrier.air
    liquid = liquid_of(release, air)
    item = liquid.item
    molecular = fuller_diffusion(
        item.molar_mass, item.diffusion_volume, air.temperature, air.pressure
    )
    standing = standing_of(carrier, release, molecular)
    weights, balance = standing.weights, standing.balance
    unit = steady(problem, 0.0, weights)
    chosen = np.nonzero(weights)
    local = float(weights[chosen] @ unit[chosen])
    gain = local if balance is None else balance.gain(local)
    given = given_off(release, liquid, standing.tray, standing.speed, air, gain)
    share = 1.0 if balance is None else balance.escaping()
    exits = {name: share * part for name, part in exit_flows(problem, unit).items()}
    slit, escape = None, maps.at(weights)
    if balance is not None:
        slit = balance.estimate
        escape = _through(slit, escape)
        exits = {f"compartment {release.compartment}": 1.0 - share, **exits}
    unit *= share * given.rate * ppm(1.0, item.molar_mass, air.temperature, air.pressure)
    return _Spread(release, liquid, standing, given, exits, slit, escape, unit)


def _through(slit: ShareEstimate, after: ShareEstimate) -> ShareEstimate:
    """Return the share of what passes a slit and then leaves into the room."""
    largest = max(slit.value, *slit.eddy, *slit.reversal)
    return ShareEstimate(
        slit.value * after.value,
        slit.at_rest * after.at_rest,
        slit.mean_flow * after.mean_flow,
        largest * after.numerical,
        (slit.eddy[0] * after.eddy[0], slit.eddy[1] * after.eddy[1]),
        (slit.reversal[0] * after.reversal[0], slit.reversal[1] * after.reversal[1]),
    )


def _front(carrier: Carrier, values: FloatArray) -> float:
    """Return the largest mean of a station in the air inside the open openings, 0 without one."""
    largest = 0.0
    for plan in carrier.state.layout.openings:
        normal = wall_axes(plan.opening.wall)[0]
        last = plan.opening.wall in ("right", "back", "ceiling")
        near = np.take(values, -1 if last else 0, axis=normal)
        area = plan.face_area[plan.stations]
        amount = np.where(area > 0.0, near[plan.stations], 0.0) * area
        largest = max(largest, float((amount.sum(axis=1) / area.sum(axis=1)).max()))
    return largest


def _front_highest(front: float, spread: _Spread) -> float:
    """Return the concentration at the front with everything at its worst, as the share grows."""
    escape = spread.escape
    growth = max(escape.highest / escape.value, 1.0) if escape.value > 0.0 else 1.0
    return max(front, min(front * growth * spread.given.factor, spread.liquid.most_ppm))


def exhaust_flow(state: Coupled) -> float:
    """Return the air drawn out by the exhaust.

    Parameters
    ----------
    state : Coupled
        Solved models.

    Returns
    -------
    float
        As chamber air, 0 without exhaust. [m3/s]
    """
    flows = state.solution.flows
    drawn = [flows[name] for name in ("exhaust fan", "exhaust suction") if name in flows]
    return actual(state.layout, max(drawn, default=0.0))


def _duct(carrier: Carrier, spread: _Spread) -> tuple[float | None, float | None, float | None]:
    """Return ppm in the exhaust duct, its share of the lower flammable limit, and the highest."""
    flow, air, item = exhaust_flow(carrier.state), carrier.air, spread.liquid.item
    if flow <= 0.0:
        return None, None, None
    rate, kept = spread.given.rate, min(1.0, max(0.0, 1.0 - spread.escape.value))
    held = diluted_ppm(rate * kept, item.molar_mass, flow, air.temperature, air.pressure)
    if not any(one.lower is not None for one in flammable_ranges(item.name)):
        return held, None, None
    most = ppm(rate * spread.given.factor / flow, item.molar_mass, air.temperature, air.pressure)
    highest = share_of_lower_limit(min(most, 1e6), item.name)
    return held, share_of_lower_limit(held, item.name), highest


def _result(
    carrier: Carrier,
    maps: ShareMaps,
    spread: _Spread,
    all_spreads: list[_Spread],
    zones: NearFarRoom | None,
) -> ReleaseResult:
    """Return all that is known of one release."""
    room, item, given = carrier.case.room, spread.liquid.item, spread.given
    alike = [one for one in all_spreads if one.liquid.item.name == item.name]
    sources = [one.source for one in alike]
    front = _front(carrier, spread.concentration)
    duct = _duct(carrier, spread)
    account = Account(
        carrier, spread.release, spread.liquid, spread.standing, given, spread.exits,
        spread.escape, spread.slit,
    )  # fmt: skip
    words = (*taken_for_granted(account), *room_words(room, sources, len(all_spreads)))
    return ReleaseResult(
        label=spread.release.label,
        substance=item.name,
        liquid=spread.liquid.words,
        place=spread.standing.place,
        compartment=spread.release.compartment,
        rate=given.rate,
        rate_factor=given.factor,
        rates=given.rates,
        air_speed=given.speed,
        filled=given.filled,
        exits=spread.exits,
        escape=spread.escape,
        slit=spread.slit,
        front_ppm=front,
        front_ppm_highest=_front_highest(front, spread),
        duct_ppm=duct[0],
        lfl_share=duct[1],
        lfl_share_highest=duct[2],
        room=None if zones is None else room_exposure(zones, sources, item, room),
        checks=() if zones is None else limit_checks(zones, sources, item, room),
        concentration=spread.concentration,
        why=why(account, maps),
        assumptions=words,
    )
