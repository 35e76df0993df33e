"""What gets out of a tray compartment through its slit, against the air drawn in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.case.schema import Compartment
from flowsim.chamber.velocity import cell_velocity
from flowsim.physics.opening_exchange import (
    back_diffusion_flux,
    exchange_velocity,
    reversal_speed,
)
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.result import CompartmentState
from flowsim.simulate.shares import ShareEstimate
from flowsim.transport.faces import FaceArrays, outer_faces

__all__ = ["SLIT_DEPTH", "SlitBalance", "slit_balance"]

SLIT_DEPTH = 3e-3
"""Thickness of the wall in which a slit is cut, assumed. [m]"""


@dataclass(frozen=True, eq=False)
class SlitBalance:
    """What passes the slit of a compartment, place by place along it.

    Parameters
    ----------
    flow : float
        Air drawn in through the slit, negative where it blows out. [m3/s]
    area : float
        Of the slit. [m2]
    share : array, shape (n,)
        Of the slit at each place. [-]
    speed : float
        Into the slit, where it is slowest. [m/s]
    reversal : array, shape (n,)
        Deviation S of the velocity at each place. [m/s]
    molecular, eddy : float
        Diffusivities in the slit. [m2/s]
    """

    flow: float
    area: float
    share: FloatArray
    speed: float
    reversal: FloatArray
    molecular: float
    eddy: float

    def exchange(self, eddy: float = 1.0, reversal: float = 1.0) -> float:
        """Return the air that passes the slit both ways besides the mean flow.

        Parameters
        ----------
        eddy, reversal : float
            Factors on the eddy diffusivity in the slit and on the deviation S. [-]

        Returns
        -------
        float
            Exchange velocity times area. [m3/s]

        Notes
        -----
        Reversals by large eddies and diffusion by small ones are added;
        `flowsim.physics.opening_exchange`, own model, good to decades.
        """
        inward = max(self.speed, 0.0)
        reversed_speed = exchange_velocity(inward, reversal * self.reversal, SLIT_DEPTH)
        diffusion = self.molecular + eddy * self.eddy
        back = back_diffusion_flux(1.0, inward, SLIT_DEPTH, diffusion)
        return self.area * (float(self.share @ reversed_speed) + back)

    def escaping(self, eddy: float = 1.0, reversal: float = 1.0) -> float:
        """Return the share of what is given off inside that gets out by the slit.

        Parameters
        ----------
        eddy, reversal : float
            Factors as in `exchange`. [-]

        Returns
        -------
        float
            Net share; 1 where the slit blows out or nothing is drawn. [-]
        """
        if self.flow <= 0.0:
            return 1.0
        both = self.exchange(eddy, reversal)
        return both / (both + self.flow)

    @property
    def estimate(self) -> ShareEstimate:
        """Share that gets out, with what it depends on."""
        value = self.escaping()
        return ShareEstimate(
            value,
            value,
            self.escaping(0.0, 0.0),
            0.0,
            (self.escaping(0.5), self.escaping(2.0)),
            (self.escaping(1.0, 0.5), self.escaping(1.0, 2.0)),
        )

    def gain(self, outside: float) -> float:
        """Return the concentration inside per rate given off inside, well mixed.

        Parameters
        ----------
        outside : float
            Concentration before the slit per rate that gets out of it. [s/m3]

        Returns
        -------
        float
            Concentration inside per rate. [s/m3]

        Notes
        -----
        Balance of the compartment: the air drawn in and the exchange bring the concentration
        before the slit, the air drawn out and the exchange take the one inside.
        """
        both, drawn = self.exchange(), max(self.flow, 0.0)
        back = (both + drawn) * outside * self.escaping()
        return (1.0 + back) / (both + abs(self.flow))


def slit_balance(
    carrier: Carrier,
    item: Compartment,
    state: CompartmentState,
    weights: FloatArray,
    molecular: float,
) -> SlitBalance:
    """Return what passes the slit of a compartment with its lid on.

    Parameters
    ----------
    carrier : Carrier
        The air.
    item : Compartment
        The compartment.
    state : CompartmentState
        Its flow.
    weights : array, shape (nx, ny, nz)
        Of the cells before the slit, used where the slit does not show on the grid. [-]
    molecular : float
        Diffusivity of the vapour in air. [m2/s]

    Returns
    -------
    SlitBalance
        Place by place along the slit.

    Notes
    -----
    The speed is the slowest into the slit, at every place; the draught before it is the speed of
    the chamber's air there. Eddies in the slit are no larger than it is deep: those that are
    pass as reversals.
    """
    mixing = carrier.case.mixing
    share, along, whole = _before(carrier, item.label, weights)
    speed = state.slit_velocity_min if state.flow > 0.0 else state.slit_velocity_mean
    through = np.full(share.shape, max(speed, 0.0))
    still = reversal_speed(through, along, mixing.intensity, 0.0)
    reversal = np.hypot(still, reversal_speed(0.0, 0.0, 0.0, 1.0) * whole)
    size = min(mixing.eddy_size, item.slit.height, SLIT_DEPTH)
    return SlitBalance(
        state.flow,
        item.slit.area,
        share,
        speed,
        reversal,
        molecular,
        mixing.intensity * max(speed, 0.0) * size,
    )


def _before(
    carrier: Carrier, label: str, weights: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return share of the slit, speed along it and whole speed of the air at each place."""
    parts = [part.ravel() for part in cell_velocity(carrier.field)]
    if label in carrier.outlets.slits:
        cells, normal, share = _faces(carrier, carrier.outlets.slits[label])
        squares = np.array([part[cells] ** 2 for part in parts])
        whole = np.sqrt(squares.sum(axis=0))
        own = squares[normal, np.arange(cells.size)]
        return share, np.sqrt(np.maximum(whole**2 - own, 0.0)), whole
    cells = np.flatnonzero(weights)
    whole = np.sqrt(sum(part[cells] ** 2 for part in parts))
    return weights.ravel()[cells], whole, whole


def _faces(carrier: Carrier, slit: FaceArrays) -> tuple[IntArray, IntArray, FloatArray]:
    """Return cell of air, normal axis and share of each face of a slit."""
    outer = outer_faces(carrier.grid)
    values = outer.read(slit)
    normal = np.repeat(np.arange(3), [place.size for place in outer.place])
    chosen = np.flatnonzero(values)
    return outer.cell[chosen], normal[chosen], values[chosen] / values.sum()
