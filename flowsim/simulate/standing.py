"""Where a release stands: its cells, the air along it, and the compartment round it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Compartment
from flowsim.case.schema_release import Release
from flowsim.chamber.velocity import cell_velocity
from flowsim.errors import RangeError
from flowsim.physics.tray import LEAST_SPEED, Tray
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.layout import solid_box
from flowsim.simulate.readings import compartment_states
from flowsim.simulate.slit_escape import SlitBalance, slit_balance
from flowsim.transport.release import face_weights, release_weights

__all__ = ["Place", "Standing", "standing_of"]

Place = tuple[float, float, float, float, float, float]
DIRECTED = 0.1  # of the mean speed: less in any one direction counts as no direction


@dataclass(frozen=True, eq=False)
class Standing:
    """Where a release stands.

    Parameters
    ----------
    place : tuple of float
        x0, x1, y0, y1, z0, z1. [m]
    weights : array, shape (nx, ny, nz)
        Cells through which its vapour gets into the air of the chamber; they sum to 1. [-]
    tray : Tray
        Its surface, along and across the air.
    speed : float
        Of the air along it, at least 0.05 m/s. [m/s]
    balance : SlitBalance or None
        Of the compartment in which it stands under a lid.
    compartment : Compartment or None
        In which it stands.
    """

    place: Place
    weights: FloatArray
    tray: Tray
    speed: float
    balance: SlitBalance | None
    compartment: Compartment | None


def standing_of(carrier: Carrier, release: Release, molecular: float) -> Standing:
    """Return where a release stands.

    Parameters
    ----------
    carrier : Carrier
        The air.
    release : Release
        What the case says.
    molecular : float
        Diffusivity of its vapour in air. [m2/s]

    Returns
    -------
    Standing
        Cells, tray and air.

    Raises
    ------
    RangeError
        If it stands nowhere, outside the chamber or wholly inside a solid.
    """
    if release.compartment is not None:
        return _inside(carrier, release, molecular)
    if release.offset_x is None or release.offset_y is None:
        raise RangeError(f"release '{release.label}' has neither a compartment nor both offsets")
    x0, y0, z0 = release.offset_x, release.offset_y, release.bottom
    place = (x0, x0 + release.width, y0, y0 + release.depth, z0, z0 + release.height)
    try:
        weights = release_weights(carrier.grid, place)
    except RangeError as error:
        raise RangeError(f"release '{release.label}': {error}") from error
    length, speed = _along(carrier, weights, release)
    return Standing(place, weights, _tray(release, length), speed, None, None)


def _inside(carrier: Carrier, release: Release, molecular: float) -> Standing:
    """Return where a release in a compartment stands."""
    found = [item for item in carrier.case.compartments if item.label == release.compartment]
    if not found:
        raise RangeError(f"release '{release.label}': no compartment '{release.compartment}'")
    item = found[0]
    x0 = item.offset_x + 0.5 * (item.width - release.width)
    y0 = item.offset_y + 0.5 * (item.depth - release.depth)
    z0 = release.bottom
    place = (x0, x0 + release.width, y0, y0 + release.depth, z0, z0 + release.height)
    slit = carrier.outlets.slits.get(item.label)
    if slit is None:
        box = solid_box(item)
        weights = release_weights(carrier.grid, (box.x0, box.x1, box.y0, box.y1, box.z0, box.z1))
    else:
        weights = face_weights(carrier.grid, slit)
    if item.lid == "off":
        length, speed = _along(carrier, weights, release)
        return Standing(place, weights, _tray(release, length), speed, None, item)
    state = next(one for one in compartment_states(carrier.state) if one.label == item.label)
    balance = slit_balance(carrier, item, state, weights, molecular)
    length, speed = _under_lid(item, release, abs(state.flow))
    return Standing(place, weights, _tray(release, length), speed, balance, item)


def _tray(release: Release, length: float) -> Tray:
    """Return the surface of a liquid, of a length along the air."""
    return Tray(length, release.width * release.depth / length, release.rim)


def _along(carrier: Carrier, weights: FloatArray, release: Release) -> tuple[float, float]:
    """Return length of the liquid along the air over it, and mean level speed of that air.

    Across is the width of the rectangle as seen along the mean direction; the length is the mean
    one along it. Without a direction the shorter side counts, which gives off more.
    """
    chosen = np.nonzero(weights)
    u, v = (part[chosen] for part in cell_velocity(carrier.field)[:2])
    part = weights[chosen]
    speed = float(part @ np.hypot(u, v))
    mean = np.array([float(part @ u), float(part @ v)])
    size = float(np.hypot(*mean))
    if size <= DIRECTED * speed:
        return min(release.width, release.depth), max(speed, LEAST_SPEED)
    across = (release.width * abs(mean[1]) + release.depth * abs(mean[0])) / size
    return release.width * release.depth / across, max(speed, LEAST_SPEED)


def _under_lid(item: Compartment, release: Release, flow: float) -> tuple[float, float]:
    """Return length of the liquid along the air under a lid, and the speed of that air."""
    if item.slit.side in ("front", "back"):
        section, length = item.width * item.height, release.depth
    elif item.slit.side in ("left", "right"):
        section, length = item.depth * item.height, release.width
    else:
        section, length = item.width * item.depth, min(release.width, release.depth)
    return length, max(flow / section, LEAST_SPEED)
