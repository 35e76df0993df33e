"""A run of duct with its fittings, as a law between flow and pressure drop.

The friction factors stand in `friction`, the fittings in `fittings`; both are offered here too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from flowsim.physics._ranges import non_negative, positive
from flowsim.physics.fittings import (
    bend_rounded,
    damper,
    entrance_orifice,
    entrance_rounded,
    entrance_sharp,
    exit_loss,
    mitre,
    sudden_contraction,
    sudden_expansion,
)
from flowsim.physics.friction import (
    churchill_with_slope,
    friction_factor_churchill,
    friction_factor_colebrook,
    friction_factor_haaland,
    friction_factor_laminar,
    hydraulic_diameter,
    rectangular_laminar_product,
)

__all__ = [
    "DuctRun",
    "bend_rounded",
    "damper",
    "entrance_orifice",
    "entrance_rounded",
    "entrance_sharp",
    "exit_loss",
    "friction_factor_churchill",
    "friction_factor_colebrook",
    "friction_factor_haaland",
    "friction_factor_laminar",
    "hydraulic_diameter",
    "mitre",
    "rectangular_laminar_product",
    "sudden_contraction",
    "sudden_expansion",
]

LINEAR_REYNOLDS = 30.0  # fittings and fixed friction factors turn linear below this
FASTEST = 70.0  # m/s, a fifth of the speed of sound: density no longer constant


@dataclass(frozen=True)
class DuctRun:
    """A straight duct with its fittings in a given gas.

    Parameters
    ----------
    area : float
        Open area of the section. [m2]
    hydraulic_diameter : float
        Four times area over perimeter. [m]
    length : float
        Length. [m]
    roughness : float
        Roughness of the wall. [m]
    loss : float
        Sum of the loss coefficients of the fittings, on the duct velocity. [-]
    density : float
        Gas density. [kg/m3]
    viscosity : float
        Dynamic viscosity. [Pa s]
    friction_factor : float or None
        Constant Darcy friction factor instead of the computed one. [-]
    laminar_product : float
        Friction factor times Reynolds number in laminar flow, 64 for a round section. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``dp = (f L/D + K) rho V^2/2`` with f of [Churchill1977]_. Fittings, and friction with a
    constant factor, are squares made linear below Re 30, higher than the square by 450/Re^2.
    Valid for developed flow, Reynolds numbers up to 1e8 and speeds up to a fifth of that of
    sound; between Re 2000 and 4000 no reference value exists. Without length and fittings the
    drop is zero, otherwise it rises strictly with the flow.
    """

    area: float
    hydraulic_diameter: float
    length: float
    roughness: float
    loss: float
    density: float
    viscosity: float
    friction_factor: float | None = None
    laminar_product: float = 64.0
    _reynolds_per_flow: float = field(init=False, repr=False, compare=False)
    _fixed: float = field(init=False, repr=False, compare=False)
    _friction: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Check the arguments and keep what every call needs."""
        positive(
            area=self.area,
            hydraulic_diameter=self.hydraulic_diameter,
            density=self.density,
            viscosity=self.viscosity,
            laminar_product=self.laminar_product,
        )
        non_negative(length=self.length, roughness=self.roughness, loss=self.loss)
        per_flow = self.density * self.hydraulic_diameter / (self.viscosity * self.area)
        dynamic = 0.5 * self.density / (self.area * per_flow) ** 2  # on Re^2
        fixed, friction = self.loss, self.length / self.hydraulic_diameter
        if self.friction_factor is not None:
            non_negative(friction_factor=self.friction_factor)
            fixed, friction = fixed + self.friction_factor * friction, 0.0
        object.__setattr__(self, "_reynolds_per_flow", per_flow)
        object.__setattr__(self, "_fixed", dynamic * fixed)
        object.__setattr__(self, "_friction", dynamic * friction)

    def drop(self, flow: float) -> tuple[float, float]:
        """Return the total pressure drop and its slope.

        Parameters
        ----------
        flow : float
            Volume flow; the law is odd in it. [m3/s]

        Returns
        -------
        drop : float
            Pressure drop in the direction of the flow. [Pa]
        slope : float
            Derivative of the drop by the flow. [Pa s/m3]
        """
        per_flow = self._reynolds_per_flow
        reynolds = abs(flow) * per_flow
        root = math.sqrt(reynolds * reynolds + LINEAR_REYNOLDS * LINEAR_REYNOLDS)
        drop = self._fixed * reynolds * root
        slope = self._fixed * (reynolds * reynolds + root * root) / root
        if self._friction > 0.0:
            if reynolds < 100.0:
                laminar = self._friction * self.laminar_product
                drop += laminar * reynolds
                slope += laminar
            else:
                rough = self.roughness / self.hydraulic_diameter
                factor, order = churchill_with_slope(reynolds, rough, self.laminar_product)
                part = self._friction * factor * reynolds
                drop += part * reynolds
                slope += part * (2.0 + order)
        return math.copysign(drop, flow), slope * per_flow

    def reynolds(self, flow: float) -> float:
        """Return the Reynolds number on the hydraulic diameter.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        float
            Reynolds number. [-]
        """
        return abs(flow) * self._reynolds_per_flow

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful about this law at a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        found = []
        reynolds, speed = self.reynolds(flow), abs(flow) / self.area
        if self._friction > 0.0 and 2000.0 < reynolds < 4000.0:
            found.append(f"duct: Reynolds number {reynolds:.0f} is between laminar and turbulent")
        if self._friction > 0.0 and self.roughness > 0.05 * self.hydraulic_diameter:
            found.append("duct: roughness is above 5 % of the diameter, beyond the friction law")
        if speed > FASTEST:
            found.append(
                f"duct: {speed:.0f} m/s is above a fifth of the speed of sound; "
                "constant density no longer holds"
            )
        return tuple(found)
