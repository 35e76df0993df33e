"""Where vapour and dust go in one solved case: everything that the air carries, put together."""

from __future__ import annotations

from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.simulate.carrier import CONDITIONS, MOLECULAR, Carrier
from flowsim.simulate.clearing import recovery_of
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.dust import results_in
from flowsim.simulate.dust_parts import Cloud, bodies_of, dust_cloud, is_light, light_release
from flowsim.simulate.maps import (
    ROUGH,
    THREADS,
    Asked,
    Maps,
    into_room_share,
    start_base,
    start_maps,
)
from flowsim.simulate.needs import ALL, CLASSES, ESCAPE, INGRESS, RELEASES, WORKPIECES, Needs
from flowsim.simulate.outlets import opening_reversals
from flowsim.simulate.tracks import Tracks, follow, start_of
from flowsim.simulate.transport_result import Recovery, ReleaseResult, Transport, WorkpieceResult
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


def _heavy_escape(
    pool: Executor, carrier: Carrier, needs: Needs
) -> dict[float, Future[FloatArray] | None]:
    """Begin with the escape share of the particles of the case, by size; None for light ones."""
    dust = carrier.case.dust
    if dust is None or not needs.everything:
        return {}

    def share(settling: float) -> FloatArray:
        problem = carrier.problem("in use", settling=settling, molecular=MOLECULAR)
        return into_room_share(carrier, problem, ROUGH)

    return {
        size: None if is_light(carrier, body) else pool.submit(share, body.settling_velocity)
        for size, body in zip(dust.sizes, bodies_of(carrier, dust), strict=True)
    }


def _asked(carrier: Carrier, needs: Needs) -> Asked:
    """Return which maps are needed."""
    case = carrier.case
    over_workpieces = bool(case.workpieces) and needs.any(WORKPIECES)
    judged = bool(case.workpieces) and needs.judged(CLASSES)
    return Asked(
        escape=needs.any(ESCAPE),
        ingress=over_workpieces or needs.any({"surface_room_air_share"}),
        age=needs.any({"air_age_max"}),
        escape_doubt=needs.judged(ESCAPE),
        ingress_doubt=needs.judged(INGRESS),
        release=light_release(carrier) if judged else None,
    )


def _dusty(
    carrier: Carrier, cloud: Cloud | None, maps: Maps, needs: Needs
) -> tuple[tuple[WorkpieceResult, ...], dict[str, FloatArray]]:
    """Return what is wanted of the workpieces and of the dust in the chamber."""
    if not needs.any(WORKPIECES):
        return (), {}
    if cloud is not None and (maps.released or not needs.judged(CLASSES)):
        cloud = replace(cloud, known_variants=maps.released)
    return results_in(carrier, cloud, maps.ingress, maps.age)


def _no_recovery(carrier: Carrier) -> Recovery | None:  # noqa: ARG001 (as `recovery_of`)
    """Return nothing where nobody asks for the recovery."""
    return None


def _no_cloud(carrier: Carrier) -> Cloud | None:  # noqa: ARG001 (as `dust_cloud`)
    """Return nothing where nobody asks for dust."""
    return None


def transport_of(state: Coupled, needs: Needs = ALL) -> Transport | None:
    """Return what the air of a solved case carries where.

    Parameters
    ----------
    state : Coupled
        Solved models.
    needs : Needs
        Which key figures are wanted; what they do not need is left empty or zero.

    Returns
    -------
    Transport
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
    asked = _asked(carrier, needs)
    with ThreadPoolExecutor(THREADS) as pool:
        base = start_base(pool, carrier, asked)
        cloudy = pool.submit(dust_cloud if needs.any(CLASSES) else _no_cloud, carrier)
        clear = recovery_of if needs.any({"recovery_time"}) else _no_recovery
        clearing = pool.submit(clear, carrier)
        coming = start_maps(pool, carrier, asked, base)
        heavy = _heavy_escape(pool, carrier, needs)
        maps = coming.result()
        releases: tuple[ReleaseResult, ...] = ()
        if needs.any(RELEASES):
            releases = release_results(carrier, maps.escape)
        tracks = Tracks((), {})
        if needs.everything:
            tracks = follow(carrier, start_of(carrier, releases))
        workpieces, dust = _dusty(carrier, cloudy.result(), maps, needs)
        return Transport(
            escape=maps.escape,
            ingress=maps.ingress,
            age=maps.age,
            particle_escape={
                size: maps.escape.in_use if share is None else share.result()
                for size, share in heavy.items()
            },
            eddy=_mean_eddies(carrier),
            reversal=opening_reversals(state, state.field),
            releases=releases,
            workpieces=workpieces,
            recovery=clearing.result(),
            dust=dust,
            paths=tracks.paths,
            tracked=tracks.shares,
        )
