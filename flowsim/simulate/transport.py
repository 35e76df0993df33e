"""Where vapour and dust go in one solved case: everything that the air carries, put together."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.physics.aerosol import air_of_state, particle
from flowsim.simulate.carrier import CONDITIONS, MOLECULAR, Carrier
from flowsim.simulate.clearing import recovery_of
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.dust import workpiece_results
from flowsim.simulate.maps import ROUGH, chamber_maps, into_room_share
from flowsim.simulate.outlets import opening_reversals
from flowsim.simulate.tracks import follow, start_of
from flowsim.simulate.transport_result import Transport
from flowsim.simulate.vapours import release_results

__all__ = ["transport_of"]


def _mean_eddies(carrier: Carrier) -> dict[str, float]:
    """Return the mean eddy diffusivity of each condition. [m2/s]"""
    fluid = carrier.grid.fluid
    means = {}
    for condition in CONDITIONS:
        values = np.broadcast_to(carrier.eddy_diffusivity(condition), fluid.shape)
        means[str(condition)] = float(values[fluid].mean())
    return means


def _particle_escape(carrier: Carrier) -> dict[float, FloatArray]:
    """Return the escape share in use of the particles of the case, by size."""
    dust = carrier.case.dust
    if dust is None:
        return {}
    air, found = air_of_state(carrier.air), {}
    for size in dust.sizes:
        settling = particle(size, air=air, density=dust.density).settling_velocity
        problem = carrier.problem("in use", settling=settling, molecular=MOLECULAR)
        found[size] = into_room_share(carrier, problem, ROUGH)
    return found


def transport_of(state: Coupled) -> Transport | None:
    """Return what the air of a solved case carries where.

    Parameters
    ----------
    state : Coupled
        Solved models.

    Returns
    -------
    Transport or None
        None without a field.

    Raises
    ------
    RangeError
        If some air has no way out, so that a steady state does not exist.
    ConvergenceError
        If a solver does not reach its tolerance.
    """
    if state.field is None:
        return None
    carrier = Carrier.of(state)
    maps = chamber_maps(carrier)
    with ThreadPoolExecutor(2) as pool:
        clearing = pool.submit(recovery_of, carrier)
        dusty = pool.submit(workpiece_results, carrier, maps.ingress, maps.age)
        sized = pool.submit(_particle_escape, carrier)
        releases = release_results(carrier, maps.escape)
        tracks = follow(carrier, start_of(carrier, releases))
        workpieces, dust = dusty.result()
        return Transport(
            escape=maps.escape,
            ingress=maps.ingress,
            age=maps.age,
            particle_escape=sized.result(),
            eddy=_mean_eddies(carrier),
            reversal=opening_reversals(state, state.field),
            releases=releases,
            workpieces=workpieces,
            recovery=clearing.result(),
            dust=dust,
            paths=tracks.paths,
            tracked=tracks.shares,
        )
