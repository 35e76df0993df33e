"""An opening seen as patches: air may leave by some and enter by others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim.errors import RangeError
from flowsim.network.inverse import drop_at_flow
from flowsim.physics.opening import KIRCHHOFF_COEFFICIENT, crossflow_coefficient

__all__ = ["LayeredOpening"]


@dataclass(frozen=True)
class LayeredOpening:
    """An opening of n stations by m layers between a chamber and the room.

    Its drop is the chamber's total pressure less the room's pressure at height 0.

    Parameters
    ----------
    area : array, shape (n, m)
        Area of each patch. [m2]
    crossflow : array, shape (n, 1) or (n, m)
        Dynamic pressure q of the air passing along each patch inside. [Pa]
    head : array, shape (m,)
        Pressure gained by the chamber over the room at each layer's height,
        (room density - chamber density) g z. [Pa]
    discharge_coefficient : float
        Of a plain sharp opening, without crossflow. [-]
    density_out : float
        Of air that leaves, the chamber's. [kg/m3]
    density_in : float
        Of air that enters, the room's. [kg/m3]
    density_reference : float
        At which the conserved flow of the network is counted. [kg/m3]
    transition_speed : float
        Speed below which a patch's law turns linear, so that its slope stays finite. [m/s]

    Raises
    ------
    RangeError
        If shapes disagree or a coefficient is not positive.

    Notes
    -----
    With E = drop + head. Out, where E > q: ``v = (Cd/0.611) C(q/E) sqrt(2 E/rho_out)``, C of
    `flowsim.physics.opening.crossflow_coefficient`. In: ``v = -Cd sqrt(2 (q - E)/rho_in)``.
    Layers: the orifice model of [BrownSolvason1962]_ (from memory).
    """

    area: FloatArray
    crossflow: FloatArray
    head: FloatArray
    discharge_coefficient: float
    density_out: float
    density_in: float
    density_reference: float
    transition_speed: float = 2e-3

    def __post_init__(self) -> None:
        numbers = (self.discharge_coefficient, self.density_out, self.density_in)
        if not min(*numbers, self.density_reference, self.transition_speed) > 0:
            raise RangeError("an opening's coefficient, densities and speed must be positive")
        if self.area.ndim != 2 or not (self.area >= 0).all() or not self.area.any():
            raise RangeError("an opening's areas must form a table of values >= 0, not all 0")
        n, m = self.area.shape
        if self.head.shape != (m,) or self.crossflow.shape not in ((n, 1), (n, m)):
            raise RangeError(
                f"areas {self.area.shape} do not fit head {self.head.shape} and "
                f"crossflow {self.crossflow.shape}"
            )
        if not (self.crossflow >= 0).all():
            raise RangeError("a dynamic pressure cannot be negative")

    def flow(self, drop: float) -> tuple[float, float]:
        """Return the net conserved flow and its slope.

        Parameters
        ----------
        drop : float
            Chamber's total pressure less the room's at height 0. [Pa]

        Returns
        -------
        tuple of float
            Flow out less flow in, at the reference density [m3/s]; derivative [m3/(s Pa)].
        """
        velocity, slope = self._patches(drop)
        weight = np.where(velocity > 0, self.density_out, self.density_in)
        weight = weight * self.area / self.density_reference
        return float((weight * velocity).sum()), float((weight * slope).sum())

    def velocities(self, drop: float) -> FloatArray:
        """Return the velocity of every patch, outward positive.

        Parameters
        ----------
        drop : float
            Chamber's total pressure less the room's at height 0. [Pa]

        Returns
        -------
        array, shape (n, m)
            Actual velocity over the patch's whole area. [m/s]
        """
        return self._patches(drop)[0]

    def neutral_drop(self) -> tuple[float, float]:
        """Return the drops at which the first patch blows out and the last stops drawing in.

        Returns
        -------
        tuple of float
            Least and greatest q - head over patches with area: below the first all air enters,
            above the second all leaves. [Pa]
        """
        neutral = np.broadcast_to(self.crossflow - self.head, self.area.shape)[self.area > 0]
        return float(neutral.min()), float(neutral.max())

    def drop_at(self, flow: float) -> float:
        """Return the drop that gives a net conserved flow.

        Parameters
        ----------
        flow : float
            Net conserved flow, outward positive. [m3/s]

        Returns
        -------
        float
            Chamber's total pressure less the room's at height 0. [Pa]
        """
        return drop_at_flow(self, flow, self.neutral_drop()[1])[0]

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return a remark where crossflow takes over half of a patch's total pressure.

        Parameters
        ----------
        flow : float
            Net conserved flow, outward positive. [m3/s]
        """
        return self.validity_at(self.drop_at(flow))

    def validity_at(self, drop: float) -> tuple[str, ...]:
        """Return a remark where crossflow takes over half of a patch's total pressure.

        Parameters
        ----------
        drop : float
            Chamber's total pressure less the room's at height 0. [Pa]
        """
        energy, crossflow = self._energy(drop)
        out = (energy > crossflow) & (self.area > 0)
        share = float(self.area[out & (crossflow > 0.5 * energy)].sum() / self.area.sum())
        if share > 0:
            return (
                f"over {100 * share:.0f} % of its area the air passing along the opening has more "
                "than half of the pressure that drives it out: trust the sign, not the size",
            )
        return ()

    def _energy(self, drop: float) -> tuple[FloatArray, FloatArray]:
        shape = self.area.shape
        return (
            np.broadcast_to(drop + self.head, shape),
            np.broadcast_to(self.crossflow, shape),
        )

    def _patches(self, drop: float) -> tuple[FloatArray, FloatArray]:
        """Return velocity outward and its derivative by the drop, per patch."""
        energy, crossflow = self._energy(drop)
        out: BoolArray = energy > crossflow
        if out.all():
            return self._leaving(energy, crossflow)
        velocity, slope = self._orifice(energy - crossflow, self.density_in)
        if out.any():
            velocity[out], slope[out] = self._leaving(energy[out], crossflow[out])
        return velocity, slope

    def _leaving(self, energy: FloatArray, crossflow: FloatArray) -> tuple[FloatArray, FloatArray]:
        plain, plain_slope = self._orifice(energy, self.density_out)
        if not crossflow.any():
            return plain, plain_slope
        ratio = crossflow / energy
        coefficient, derivative = crossflow_coefficient(ratio)
        factor = coefficient / KIRCHHOFF_COEFFICIENT
        fall = derivative / KIRCHHOFF_COEFFICIENT * ratio / energy
        return plain * factor, plain_slope * factor - plain * fall

    def _orifice(self, drop: FloatArray, density: float) -> tuple[FloatArray, FloatArray]:
        """Return speed and slope of a plain opening, linear below the transition speed."""
        square = self.transition_speed**2
        scaled = drop * (2.0 * self.discharge_coefficient**2 / density)
        root = np.sqrt(square * square + 4.0 * scaled * scaled)
        speed = scaled / np.sqrt(0.5 * (square + root))
        steep = 2.0 * speed * speed + square
        slope = np.sqrt(speed * speed + square) / steep
        return speed, slope * (2.0 * self.discharge_coefficient**2 / density)
