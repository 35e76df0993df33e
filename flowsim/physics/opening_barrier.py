"""What disturbs the flow at an opening: pressure, warmth, draughts, and people who pass."""

from __future__ import annotations

import math

from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "DRAUGHT_LINE",
    "draught_share",
    "outflow_against_buoyancy",
    "passage_volumes",
    "pressure_velocity",
    "pressure_velocity_table",
]

GRAVITY = 9.80665  # m/s2
DRAUGHT_LINE = 1.0 / 3.0  # draught over face speed, above which a front is to be doubted
PASSAGE = (0.99, 1.84)  # m3 of air per passage of a person
TABLE_DROPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 50.0, 100.0)


def pressure_velocity(drop: float, density: float, discharge_coefficient: float = 1.0) -> float:
    """Return the velocity that a pressure drop gives.

    Parameters
    ----------
    drop : float
        Pressure drop over an opening. [Pa]
    density : float
        Density of the air. [kg/m3]
    discharge_coefficient : float
        1 for the jet itself, about 0.6 for the mean over a sharp-edged opening. [-]

    Returns
    -------
    float
        ``Cd sqrt(2 dp/rho)``. [m/s]

    Raises
    ------
    RangeError
        If the drop is negative, another argument not positive or the coefficient above 1.

    Notes
    -----
    Bernoulli, exact without friction. Valid for drops far below the absolute pressure.
    """
    non_negative(drop=drop)
    positive(density=density, discharge_coefficient=discharge_coefficient)
    in_range("discharge_coefficient", discharge_coefficient, 0.0, 1.0)
    return discharge_coefficient * math.sqrt(2.0 * drop / density)


def pressure_velocity_table(
    density: float = 1.204, discharge_coefficient: float = 0.6
) -> tuple[tuple[float, float, float], ...]:
    """Return pressure drops with the velocities that they give.

    Parameters
    ----------
    density : float
        Density of the air. [kg/m3]
    discharge_coefficient : float
        Mean velocity over jet velocity. [-]

    Returns
    -------
    tuple of tuple of float
        Drop [Pa], jet velocity [m/s], mean velocity over the opening [m/s].

    Raises
    ------
    RangeError
        As `pressure_velocity`.

    Notes
    -----
    `pressure_velocity`; valid as that.
    """
    return tuple(
        (
            drop,
            pressure_velocity(drop, density),
            pressure_velocity(drop, density, discharge_coefficient),
        )
        for drop in TABLE_DROPS
    )


def outflow_against_buoyancy(
    height: float,
    temperature_difference: float,
    temperature: float = 293.15,
    discharge_coefficient: float = 0.6,
) -> float:
    """Return the mean outflow velocity that keeps warmth from driving air in.

    Parameters
    ----------
    height : float
        Height of the opening. [m]
    temperature_difference : float
        Difference between inside and outside, either sign. [K]
    temperature : float
        Absolute temperature. [K]
    discharge_coefficient : float
        Share of the ideal flow. [-]

    Returns
    -------
    float
        ``(2/3) Cd sqrt(2 g H dT/T)``. [m/s]

    Raises
    ------
    RangeError
        If a size is not positive or the difference not finite.

    Notes
    -----
    Orifice model as [BrownSolvason1962]_, own derivation. Valid for even temperatures, still air
    and no one in front. Do not trust it above 2 to 3 K at outflows above 0.10 to 0.15 m/s:
    measured excess is larger there [Lidwell1977]_.
    """
    positive(height=height, temperature=temperature, discharge_coefficient=discharge_coefficient)
    warmth = abs(temperature_difference)
    non_negative(temperature_difference=warmth)
    speed = math.sqrt(2.0 * GRAVITY * height * warmth / temperature)
    warn_outside("outflow against warmth", "temperature difference in K", warmth, 0.0, 10.0)
    return 2.0 / 3.0 * discharge_coefficient * speed


def draught_share(draught: float, face_speed: float) -> float:
    """Return how strong a draught in front of an opening is against the air through it.

    Parameters
    ----------
    draught : float
        Speed of the draught, of the air conditioner, door or passer-by. [m/s]
    face_speed : float
        Mean speed of the air through the opening, either sign. [m/s]

    Returns
    -------
    float
        Draught over face speed; infinite where nothing moves through the opening but the draught
        does. [-]

    Raises
    ------
    RangeError
        If the draught is negative or a speed not finite.

    Notes
    -----
    Warn above `DRAUGHT_LINE`, a third: common practice, no source. Valid as a warning only: below
    the line a face speed proves nothing either.
    """
    speed = abs(face_speed)
    non_negative(draught=draught, face_speed=speed)
    if speed == 0.0:
        return math.inf if draught > 0.0 else 0.0
    return draught / speed


def passage_volumes() -> tuple[float, float]:
    """Return how much air a person carries through a doorway, against any net flow.

    Returns
    -------
    tuple of float
        Smallest and largest volume measured per entry and exit. [m3]

    Notes
    -----
    Isolation rooms with a net inflow of 0.024 to 0.104 m3/s [NIOSH2001]_. Valid for doorways, not
    for a hand or an arm, of which no measurement was found: a net flow does not stop a moving
    body.
    """
    return PASSAGE
