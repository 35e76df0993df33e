"""What people and dusty floors give off, in particles per time."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import non_negative, positive, warn_outside

__all__ = ["Emission", "emissions", "person_emission", "resuspension"]


@dataclass(frozen=True)
class Emission:
    """What one person gives off.

    Parameters
    ----------
    activity : str
        Clothing and movement.
    smallest : float
        Particles of this diameter and larger are counted. [m]
    rate : float
        Particles per person and time. [1/s]
    source : str
        Who gives the number.
    status : str
        How it is known.

    Notes
    -----
    [WhyteHejab2007]_, [Austin1966]_ from memory, and a note without a measurement. Valid as an
    order of magnitude: people differ by a factor of ten.
    """

    activity: str
    smallest: float
    rate: float
    source: str
    status: str


INDOOR, GARMENTS = "indoor clothes", "cleanroom garments"
_WHYTE = ("Whyte & Hejab 2007", "read (abstract)")
_NOTE = ("cleanroom builder's web note, no measurement given", "read, weak")
_AUSTIN = ("Austin 1966", "from memory")

# fmt: off
ROWS: tuple[tuple[str, float, float, tuple[str, str]], ...] = (
    # activity, smallest size in um, particles per minute, source and status
    (f"person, {INDOOR}, mean of 55 people", 0.5, 2.13e6, _WHYTE),
    (f"person, {INDOOR}, mean of 55 people", 5.0, 332000.0, _WHYTE),
    (f"person, {GARMENTS}, mean of 55 people", 0.5, 1.02e6, _WHYTE),
    (f"person, {GARMENTS}, mean of 55 people", 5.0, 37300.0, _WHYTE),
    ("standing still, cotton clothes", 0.5, 8e5, _NOTE),
    ("walking, cotton clothes", 0.5, 3.5e7, _NOTE),
    ("standing still, cleanroom overall", 0.5, 1e4, _NOTE),
    ("sitting or standing, no movement", 0.3, 1e5, _AUSTIN),
    ("sitting, light head, hand and forearm movement", 0.3, 5e5, _AUSTIN),
    ("sitting, average body and arm movement", 0.3, 1e6, _AUSTIN),
    ("changing position, sitting to standing", 0.3, 2.5e6, _AUSTIN),
    ("slow walking (about 0.9 m/s)", 0.3, 5e6, _AUSTIN),
    ("average walking (about 1.6 m/s)", 0.3, 7.5e6, _AUSTIN),
    ("fast walking (about 2.2 m/s)", 0.3, 1e7, _AUSTIN),
    ("calisthenics", 0.3, 3e7, _AUSTIN),
)
# fmt: on

_EMISSIONS = tuple(
    Emission(activity, round(size * 1e-6, 9), per_minute / 60.0, *origin)
    for activity, size, per_minute, origin in ROWS
)

RESUSPENSION = (1.4e-4, 0.6e-4)  # per hour of the dust on the floor, and its uncertainty


def emissions(word: str = "") -> tuple[Emission, ...]:
    """Return the emissions whose activity holds a word.

    Parameters
    ----------
    word : str
        Part of the activity, in any case; empty for all.

    Returns
    -------
    tuple of Emission
        In the order of the table; empty where none fits.

    Notes
    -----
    Sources as `Emission`; valid as that.
    """
    return tuple(item for item in _EMISSIONS if word.lower() in item.activity.lower())


def person_emission(clothing: str, diameter: float) -> float:
    """Return what one person gives off at a size and above.

    Parameters
    ----------
    clothing : str
        "indoor clothes" or "cleanroom garments".
    diameter : float
        Particles of this diameter and larger are counted. [m]

    Returns
    -------
    float
        Particles per person and time. [1/s]

    Raises
    ------
    RangeError
        If the clothing is unknown or the diameter not positive.

    Notes
    -----
    Means of 55 people at 0.5 and 5 um [WhyteHejab2007]_, joined by a straight line on log scales,
    own. Valid from 0.5 to 5 um as an order of magnitude. What people shed is coarse: 6 to 27
    particles from 0.5 um up for one from 5 um up, where a cleanliness class assumes 120.
    """
    positive(diameter=diameter)
    if clothing not in (INDOOR, GARMENTS):
        raise RangeError(f"clothing is {clothing!r}; expected {INDOOR} or {GARMENTS}")
    fine, coarse = emissions(f"person, {clothing}")
    bounds = (round(size * 1e6, 6) for size in (diameter, fine.smallest, coarse.smallest))
    warn_outside("emission of a person", "size in um", *bounds)
    slope = math.log(coarse.rate / fine.rate) / math.log(coarse.smallest / fine.smallest)
    return float(fine.rate * (diameter / fine.smallest) ** slope)


def resuspension(floor_load: float, area: float) -> tuple[float, float, float]:
    """Return what a person walking on a dusty floor stirs up.

    Parameters
    ----------
    floor_load : float
        Dust up to 10 um on the floor per area, as mass or number. [1/m2]
    area : float
        Floor walked on. [m2]

    Returns
    -------
    tuple of float
        Low, middle and high rate, in the unit of the load. [1/s]

    Raises
    ------
    RangeError
        If an argument is negative.

    Notes
    -----
    [Qian2008]_: (1.4 +- 0.6)e-4 per hour of the load. Valid for walking on carpet, particles up
    to 10 um, as an order of magnitude.
    """
    non_negative(floor_load=floor_load, area=area)
    middle, spread = RESUSPENSION
    load = floor_load * area / 3600.0
    return (middle - spread) * load, middle * load, (middle + spread) * load
