"""Closed forms and rules of thumb for how much hole a plate or a tube may have."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics.air import AirState
from flowsim.physics.manifold import hole_ratio_for_spread, open_end_drive
from flowsim.physics.perforated_plate import PerforatedPlate

__all__ = [
    "PlateLawAtFlow",
    "cosh_free_area",
    "equal_area_diameter",
    "least_tube_price",
    "most_tube_holes",
    "perry_free_area",
    "perry_ratio",
    "spread_of",
]

ROUNDS = 60
TIGHTEST, OPENEST = 1e-4, 0.7  # free-area ratios between which a plate is looked for


@dataclass(frozen=True)
class PlateLawAtFlow:
    """A plate whose free area is open, at a given mean face velocity.

    Parameters
    ----------
    hole_diameter, thickness : float
        Of the plate. [m]
    face_velocity : float
        Mean through the perforated area, above 0. [m/s]
    air : AirState
        Air that passes.
    discharge_coefficient : float or None
        Fixed one, if the case states it. [-]
    """

    hole_diameter: float
    thickness: float
    face_velocity: float
    air: AirState
    discharge_coefficient: float | None = None

    def plate(self, free_area_ratio: float) -> PerforatedPlate:
        """Return the plate with a free area.

        Parameters
        ----------
        free_area_ratio : float
            Hole area over perforated area. [-]
        """
        return PerforatedPlate(
            free_area_ratio,
            self.thickness,
            self.hole_diameter,
            self.air.density,
            self.air.viscosity,
            self.discharge_coefficient,
        )

    def drop(self, free_area_ratio: float) -> float:
        """Return the pressure drop. [Pa]

        Parameters
        ----------
        free_area_ratio : float
            Hole area over perforated area. [-]
        """
        return float(self.plate(free_area_ratio).drop(self.face_velocity)[0])

    def discharge(self, free_area_ratio: float) -> float:
        """Return the discharge coefficient that goes with the drop. [-]

        Parameters
        ----------
        free_area_ratio : float
            Hole area over perforated area. [-]
        """
        ideal = math.sqrt(2.0 * self.drop(free_area_ratio) / self.air.density)
        return self.face_velocity / (free_area_ratio * ideal)

    def free_area_for(self, drop: float) -> float:
        """Return the free area with a given pressure drop.

        Parameters
        ----------
        drop : float
            Wanted drop. [Pa]

        Returns
        -------
        float
            Hole area over perforated area; the tightest or openest plate looked at where the
            drop lies beyond it. [-]
        """
        low, high = math.log(TIGHTEST), math.log(OPENEST)
        for _ in range(ROUNDS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.drop(math.exp(middle)) > drop else (low, middle)
        return math.exp(0.5 * (low + high))


def spread_of(draw_ratio: float) -> float:
    """Return by how much the least draw lies below the greatest.

    Parameters
    ----------
    draw_ratio : float
        Largest over smallest draw, above 1. [-]

    Returns
    -------
    float
        1 - 1/ratio. [-]

    Raises
    ------
    RangeError
        If the ratio is not above 1.
    """
    if not (math.isfinite(draw_ratio) and draw_ratio > 1.0):
        raise RangeError(f"the draw ratio is {draw_ratio!r}; expected a finite number above 1")
    return 1.0 - 1.0 / draw_ratio


def cosh_free_area(
    draw_ratio: float, law: PlateLawAtFlow, length: float, height: float, momentum: float = 1.0
) -> float:
    """Return the free area that gives a draw ratio, by the cosh law of a header.

    Parameters
    ----------
    draw_ratio : float
        Wanted, above 1. [-]
    law : PlateLawAtFlow
        The plate.
    length, height : float
        Of the plenum, along the flow and upwards. [m]
    momentum : float
        Momentum coefficient theta. [-]

    Returns
    -------
    float
        Hole area over perforated area. [-]

    Notes
    -----
    Inverse of `physics.manifold.draw_ratio` with a = Cd s length/height: an own derivation, after
    [Bajura1971]_ and [Acrivos1959]_. It takes the port to be as wide as the plenum and no
    friction. The discharge coefficient is that of the plate at its mean face velocity.
    """
    ratio = hole_ratio_for_spread(spread_of(draw_ratio), momentum)
    free = ratio * height / (0.7 * length)
    for _ in range(ROUNDS):
        free = min(ratio * height / (law.discharge(free) * length), OPENEST)
    return free


def perry_ratio(draw_ratio: float) -> float:
    """Return the hole drop over the header's pressure change that the rule of thumb asks for.

    Parameters
    ----------
    draw_ratio : float
        Wanted, above 1. [-]

    Returns
    -------
    float
        Drop over change; ten gives 5.13 % (draw ratio 1.0541). [-]

    Notes
    -----
    From memory [Perry]_, after [Senecal1957]_: maldistribution 1 - sqrt(1 - change/drop).
    """
    return 1.0 / (1.0 - (1.0 - spread_of(draw_ratio)) ** 2)


def perry_free_area(
    draw_ratio: float, law: PlateLawAtFlow, length: float, height: float, momentum: float = 1.0
) -> float:
    """Return the free area that gives a draw ratio, by the cautious rule of thumb.

    Parameters
    ----------
    draw_ratio : float
        Wanted, above 1. [-]
    law : PlateLawAtFlow
        The plate.
    length, height : float
        Of the plenum, along the flow and upwards. [m]
    momentum : float
        Momentum coefficient theta. [-]

    Returns
    -------
    float
        Hole area over perforated area. [-]

    Notes
    -----
    From memory [Perry]_, after [Senecal1957]_, friction left out: the header's pressure changes
    by 2 theta dynamic heads of its open end.
    """
    speed = law.face_velocity * length / height
    change = momentum * law.air.density * speed**2
    return law.free_area_for(perry_ratio(draw_ratio) * change)


def most_tube_holes(
    draw_ratio: float, diameter: float, hole_diameter: float, discharge: float = 0.62
) -> int:
    """Return how many holes a drawing tube may have, by the cosh law.

    Parameters
    ----------
    draw_ratio : float
        Wanted largest over smallest hole flow, above 1. [-]
    diameter, hole_diameter : float
        Inner diameter of the tube and diameter of a hole. [m]
    discharge : float
        Discharge coefficient of a hole. [-]

    Returns
    -------
    int
        Whole holes, at least 1. [-]

    Notes
    -----
    Own derivation, valid without friction, with still air of one pressure outside the tube.
    """
    ratio = hole_ratio_for_spread(spread_of(draw_ratio)) / discharge
    return max(1, math.floor(ratio * (diameter / hole_diameter) ** 2 + 1e-9))


def equal_area_diameter(diameter: float, count: int) -> float:
    """Return the hole diameter with which holes have the area of their tube.

    Parameters
    ----------
    diameter : float
        Inner diameter of the tube. [m]
    count : int
        Holes. [-]

    Returns
    -------
    float
        D/sqrt(n). [m]

    Raises
    ------
    RangeError
        If there is no hole.

    Notes
    -----
    Common practice, no source: a rule of thumb that leaves a blown tube 19 to 36 % uneven.
    """
    if count < 1:
        raise RangeError(f"a tube needs at least one hole, got {count}")
    return diameter / math.sqrt(count)


def least_tube_price(flow: float, diameter: float, density: float, draw_ratio: float) -> float:
    """Return the suction that a drawing tube costs behind its open end, by the cosh law.

    Parameters
    ----------
    flow : float
        Through its open end. [m3/s]
    diameter : float
        Inner diameter. [m]
    density : float
        Of the air. [kg/m3]
    draw_ratio : float
        Largest over smallest hole flow of the tube, above 1. [-]

    Returns
    -------
    float
        Total pressure below the space round the tube. [Pa]

    Notes
    -----
    Own derivation: drive 2 coth^2 m less one dynamic head, which the moving air still carries;
    however open the tube, one dynamic head remains.
    """
    speed = flow / (0.25 * math.pi * diameter**2)
    head = 0.5 * density * speed**2
    return head * (open_end_drive(hole_ratio_for_spread(spread_of(draw_ratio))) - 1.0)
