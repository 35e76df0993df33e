"""Cleanliness classes of the withdrawn US standard FS 209E, per cubic foot."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import positive, warn_outside

__all__ = ["CUBIC_FOOT", "Fs209eLimit", "fs209e_limit", "fs209e_limits", "fs209e_power_law"]

CUBIC_FOOT = 0.3048**3  # m3


@dataclass(frozen=True)
class Fs209eLimit:
    """One limit of the standard.

    Parameters
    ----------
    class_name : int
        Class: particles of 0.5 um and larger per cubic foot. [1/ft3]
    metric_name : str
        Metric name of the class.
    diameter : float
        Particle size. [m]
    per_cubic_foot : float
        Limit. [1/ft3]
    concentration : float
        Limit. [1/m3]
    iso_class : int
        ISO class that counts as equal, at 0.5 um. [-]

    Notes
    -----
    [FS209E]_, withdrawn on 29 Nov 2001. Valid at the sizes of its table; equal to the ISO class
    at 0.5 um only.
    """

    class_name: int
    metric_name: str
    diameter: float
    per_cubic_foot: float
    concentration: float
    iso_class: int


NAMES = {
    1: ("M1.5", 3),
    10: ("M2.5", 4),
    100: ("M3.5", 5),
    1000: ("M4.5", 6),
    10000: ("M5.5", 7),
    100000: ("M6.5", 8),
}
# class, then limit per cubic foot by size in um
ROWS: dict[int, dict[float, float]] = {
    1: {0.1: 35.0, 0.2: 7.5, 0.3: 3.0, 0.5: 1.0},
    10: {0.1: 350.0, 0.2: 75.0, 0.3: 30.0, 0.5: 10.0},
    100: {0.2: 750.0, 0.3: 300.0, 0.5: 100.0},
    1000: {0.5: 1000.0, 5.0: 7.0},
    10000: {0.5: 10000.0, 5.0: 70.0},
    100000: {0.5: 100000.0, 5.0: 700.0},
}

_LIMITS = tuple(
    Fs209eLimit(
        name, NAMES[name][0], round(size * 1e-6, 9), limit, limit / CUBIC_FOOT, NAMES[name][1]
    )
    for name, sizes in ROWS.items()
    for size, limit in sizes.items()
)


def fs209e_limits() -> tuple[Fs209eLimit, ...]:
    """Return the whole table.

    Returns
    -------
    tuple of Fs209eLimit
        By class, then size.

    Notes
    -----
    [FS209E]_; valid as `Fs209eLimit`.
    """
    return _LIMITS


def fs209e_limit(class_name: int, diameter: float = 0.5e-6) -> Fs209eLimit:
    """Return the limit of a class at a size.

    Parameters
    ----------
    class_name : int
        1, 10, 100, 1000, 10000 or 100000. [1/ft3]
    diameter : float
        Particle size. [m]

    Returns
    -------
    Fs209eLimit
        The limit.

    Raises
    ------
    RangeError
        If the table has no such class, or no limit for it at this size.

    Notes
    -----
    [FS209E]_; one of two transcriptions prints 7 for class 1 at 0.2 um where this has 7.5. Valid
    as `Fs209eLimit`.
    """
    positive(diameter=diameter)
    if class_name not in ROWS:
        raise RangeError(
            f"class_name is {class_name!r}; expected one of {', '.join(map(str, ROWS))}"
        )
    for limit in _LIMITS:
        if limit.class_name == class_name and abs(limit.diameter - diameter) <= 1e-9 * diameter:
            return limit
    sizes = ", ".join(f"{size:g}" for size in ROWS[class_name])
    raise RangeError(
        f"diameter is {diameter * 1e6:g} um; class {class_name} has limits at {sizes} um"
    )


def fs209e_power_law(class_name: float, diameter: float) -> float:
    """Return the concentration that a class has at a size by the power law behind the table.

    Parameters
    ----------
    class_name : float
        Class: particles of 0.5 um and larger per cubic foot. [1/ft3]
    diameter : float
        Particle size. [m]

    Returns
    -------
    float
        Concentration. [1/ft3]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    ``N_c (0.5 um/d)^2.2`` [FS209E]_, from memory; up to 10 % off the rounded table. Valid from 0.1
    to 5 um.
    """
    positive(class_name=class_name, diameter=diameter)
    microns = round(diameter * 1e6, 9)
    warn_outside("FS 209E", "size in um", microns, 0.1, 5.0)
    return float(class_name * (0.5 / microns) ** 2.2)
