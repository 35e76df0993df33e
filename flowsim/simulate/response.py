"""How the passing air at the openings answers to a change of itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.velocity import wall_tangential
from flowsim.network.graph import Network
from flowsim.network.layered import LayeredOpening
from flowsim.simulate.fronts import OpeningPlan
from flowsim.simulate.layout import Layout

__all__ = [
    "crossflow_response",
    "opening_laws",
    "opening_states",
    "station_response",
    "strip_means",
    "window_weights",
]

STEP = 1e-7  # of the drive, for the slopes of the opening's law
LEAST_STEP = 1e-12  # Pa


def window_weights(plan: OpeningPlan) -> FloatArray:
    """Return the share of each station in the window round each station, shape (n, n). [-]

    The window is as long as the opening is high, or as the opening is long, and lies within it.
    """
    opening = plan.opening
    start, end = opening.offset, opening.offset + opening.width
    length = min(opening.height, opening.width)
    low = np.clip(plan.position - 0.5 * length, start, end - length)[:, None]
    half = 0.5 * plan.station_width
    left, right = (plan.position - half)[None, :], (plan.position + half)[None, :]
    shared = np.minimum(right, low + length) - np.maximum(left, low)
    weight = np.maximum(shared, 0.0)
    share: FloatArray = weight / weight.sum(axis=1, keepdims=True)
    return share


def strip_means(plan: OpeningPlan, field: Field) -> FloatArray:
    """Return the mean tangential velocity of the air that passes each station of an opening.

    The mean is taken over the height of the opening and along it over a window as long as the
    opening is high: at its ends the velocity of potential flow grows without limit as cells
    shrink, but its mean over a given length does not.

    Parameters
    ----------
    plan : OpeningPlan
        The opening on its wall.
    field : Field
        The chamber's flow.

    Returns
    -------
    array, shape (2, n)
        Both components along the wall. [m/s]
    """
    pick = np.ix_(plan.stations, plan.layers)
    weight = plan.face_area[pick]
    weight = weight / weight.sum(axis=1, keepdims=True)
    along = wall_tangential(field, plan.opening.wall)
    strips = np.stack([(part[pick] * weight).sum(axis=1) for part in along])
    means: FloatArray = strips @ window_weights(plan).T
    return means


def opening_laws(layout: Layout, network: Network) -> list[LayeredOpening]:
    """Return the laws of the open openings.

    Parameters
    ----------
    layout : Layout
        Geometry.
    network : Network
        With a branch for each of them.

    Returns
    -------
    list of LayeredOpening
        In the order of the layout.
    """
    laws = []
    for plan in layout.openings:
        law = network.branch(f"opening {plan.opening.label}").law
        assert isinstance(law, LayeredOpening)
        laws.append(law)
    return laws


def opening_states(
    layout: Layout, laws: list[LayeredOpening], drive: float
) -> list[tuple[FloatArray, FloatArray]]:
    """Return what passes the openings.

    Parameters
    ----------
    layout : Layout
        Geometry and air.
    laws : list of LayeredOpening
        From `opening_laws`.
    drive : float
        Total pressure of the chamber over the room's. [Pa]

    Returns
    -------
    list of tuple of array, shape (n, m)
        Flow out per station and layer [m3/s], and its volume as chamber air over that [-].
    """
    states = []
    for plan, law in zip(layout.openings, laws, strict=True):
        flow = law.velocities(drive) * plan.area
        states.append((flow, np.where(flow < 0.0, layout.density_factor, 1.0)))
    return states


def station_response(layout: Layout, share: FloatArray) -> FloatArray:
    """Return the strip means that a unit outflow of each single station causes.

    Parameters
    ----------
    layout : Layout
        Geometry; the potential flow is linear in its fluxes, so that this holds for any state.
    share : array, shape (nx, ny)
        Share of the supply per ceiling face, through which the unit flow comes in. [-]

    Returns
    -------
    array, shape (2, n, n)
        Tangential velocity at each station per flow out of each, all openings one after the
        other. [m/s per m3/s]
    """
    columns = []
    for source in layout.openings:
        for station in range(source.stations.size):
            flux = zero_flux(layout.grid)
            faces = np.zeros_like(source.face_area)
            row = source.face_area[source.stations[station]]
            faces[source.stations[station]] = row / row.sum()
            add_wall_flux(flux, layout.grid, source.opening.wall, faces, inward=False)
            add_wall_flux(flux, layout.grid, "ceiling", share)
            field = solve_field(layout.grid, flux, layout.case.numerics.fidelity)
            means = [strip_means(plan, field) for plan in layout.openings]
            columns.append(np.concatenate(means, axis=1))
    return np.stack(columns, axis=2)


def _slopes(law: LayeredOpening, plan: OpeningPlan, drive: float) -> tuple[FloatArray, FloatArray]:
    """Return how each station's outflow changes with passing air and drive. [m3/(s Pa)]"""
    step = max(STEP * abs(drive), LEAST_STEP)
    moved = replace(law, crossflow=law.crossflow + step)
    still = (law.velocities(drive) * plan.area).sum(axis=1)
    by_passing = ((moved.velocities(drive) * plan.area).sum(axis=1) - still) / step
    by_drive = ((law.velocities(drive + step) * plan.area).sum(axis=1) - still) / step
    return np.asarray(by_passing, dtype=np.float64), np.asarray(by_drive, dtype=np.float64)


def crossflow_response(
    layout: Layout,
    laws: list[LayeredOpening],
    drive: float,
    means: FloatArray,
    unit: FloatArray,
) -> FloatArray:
    """Return how the new passing air changes with the assumed one, at given total outflow.

    Parameters
    ----------
    layout : Layout
        Geometry and air.
    laws : list of LayeredOpening
        One per opening, with the assumed passing air.
    drive : float
        Total pressure of the chamber over the room's. [Pa]
    means : array, shape (2, n)
        Strip means of the tangential velocity at all stations. [m/s]
    unit : array, shape (2, n, n)
        From `station_response`. [m/s per m3/s]

    Returns
    -------
    array, shape (n, n)
        Derivative of the dynamic pressure that the field gives by the one assumed. [-]

    Notes
    -----
    ``dq' = rho u.G df`` with ``df = (D - s 1'D / sum(s)) dq``, D and s the slopes of the
    stations' outflow with passing air and drive; own derivation. The share of the change that
    plate and supply take is left out: a Newton step needs no more.
    """
    pairs = [_slopes(law, plan, drive) for law, plan in zip(laws, layout.openings, strict=True)]
    passing = np.concatenate([pair[0] for pair in pairs])
    driven = np.concatenate([pair[1] for pair in pairs])
    change = np.diag(passing) - np.outer(driven, passing) / driven.sum()
    turned = np.einsum("cn,cnm->nm", means, unit) * layout.chamber_air.density
    response: FloatArray = turned @ change
    return response
