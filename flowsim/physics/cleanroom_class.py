"""Cleanliness classes by particle concentration: ISO 14644-1 and the US standard before it.

Concentrations are cumulative: particles of a size and larger, per m3.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "BLANK_REASONS",
    "Blank",
    "Cleanliness",
    "allowed_share",
    "cleanliness",
    "iso_blank",
    "iso_class_number",
    "iso_concentration",
    "iso_limit",
]

Edition = Literal[1999, 2015]

SLOPE = 2.08
REFERENCE_SIZE = 0.1e-6  # m
SIZES_UM = (0.1, 0.2, 0.3, 0.5, 1.0, 5.0)
SMALLEST, LARGEST = 0.1e-6, 5e-6
MICRO = 1e6
TOLERANCE = 1e-9

# note letters of the empty cells of the 2015 table, by class, in the order of the sizes
BLANKS_2015: dict[int, tuple[str, ...]] = {
    1: ("", "d", "d", "d", "d", "e"),
    2: ("", "", "", "d", "d", "e"),
    3: ("", "", "", "", "d", "e"),
    4: ("", "", "", "", "", "e"),
    5: ("", "", "", "", "", "d e f"),
    6: ("", "", "", "", "", ""),
    7: ("c", "c", "c", "", "", ""),
    8: ("c", "c", "c", "", "", ""),
    9: ("c", "c", "c", "", "", ""),
}
FILLED_1999 = {(1, 0.2), (2, 0.5), (3, 1.0), (5, 5.0)}  # empty from 2015 on
BLANK_REASONS = {
    "c": "concentration too high to count",
    "d": "too few particles for counting statistics",
    "e": "large particles are lost in sampling",
    "f": "a macro-particle descriptor is used instead",
}


@dataclass(frozen=True)
class Blank:
    """Why a cell of the class table is empty.

    Parameters
    ----------
    letters : str
        Note letters of the table, separated by blanks.
    reasons : tuple of str
        What they mean, own words.

    Notes
    -----
    [ISO14644-1]_, table 1. Valid for the edition of 2015; the cells that 1999 left empty too
    carry the same letters.
    """

    letters: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Cleanliness:
    """The class of the air at one place.

    Parameters
    ----------
    number : float
        Class as a real number, by the worst size; minus infinity without particles. [-]
    worst_size : float
        The size that decides. [m]
    label : str
        Cleanest class in half steps whose rounded limits the air meets, ISO 1 at best.
    doubts : tuple of str
        What is doubtful about it.

    Notes
    -----
    Made by `cleanliness`; valid as that.
    """

    number: float
    worst_size: float
    label: str
    doubts: tuple[str, ...]


def iso_concentration(class_number: float, diameter: float) -> float:
    """Return the concentration that belongs to a class at a size, not rounded.

    Parameters
    ----------
    class_number : float
        ISO class. [-]
    diameter : float
        Particle size. [m]

    Returns
    -------
    float
        Particles of this size and larger. [1/m3]

    Raises
    ------
    RangeError
        If the size is not positive or the class outside -50 to 50.

    Notes
    -----
    [ISO14644-1]_: ``10^N (0.1 um/D)^2.08``. Valid from 0.1 to 5 um and classes 1 to 9.
    """
    positive(diameter=diameter)
    in_range("class_number", class_number, -50.0, 50.0)
    warn_outside("ISO class", "size in um", _microns(diameter), SIZES_UM[0], SIZES_UM[-1])
    warn_outside("ISO class", "class", class_number, 1.0, 9.0)
    return _concentration(class_number, diameter)


def iso_limit(class_number: float, diameter: float, edition: Edition | None = 2015) -> float | None:
    """Return the rounded limit of a class at a size, as the table prints it.

    Parameters
    ----------
    class_number : float
        ISO class, 1 to 9. [-]
    diameter : float
        Particle size, 0.1 to 5 um. [m]
    edition : {1999, 2015} or None
        Whose empty cells are kept; None for the rounded formula at every size and class.

    Returns
    -------
    float or None
        Limit of particles of this size and larger [1/m3]; None where the table is empty.

    Raises
    ------
    RangeError
        If class or size is outside the standard.

    Notes
    -----
    [ISO14644-1]_: formula, no more than three significant figures and whole particles. Every
    printed cell of both editions follows from it. Valid for whole classes at the six sizes of the
    table; between them, and for steps of a half, the rounded formula (which of those cells
    the standard permits is not known here).
    """
    _check_edition(edition)
    in_range("class_number", class_number, 1.0, 9.0)
    in_range("diameter", diameter, SMALLEST * (1 - TOLERANCE), LARGEST * (1 + TOLERANCE))
    if edition is not None and iso_blank(class_number, diameter, edition) is not None:
        return None
    return _rounded(_concentration(class_number, diameter))


def iso_blank(class_number: float, diameter: float, edition: Edition = 2015) -> Blank | None:
    """Return why the class table is empty at a class and size.

    Parameters
    ----------
    class_number : float
        ISO class. [-]
    diameter : float
        Particle size. [m]
    edition : {1999, 2015}
        Edition of the standard.

    Returns
    -------
    Blank or None
        The reasons; None where the table has a value, or no such cell.

    Raises
    ------
    RangeError
        If the edition is unknown.

    Notes
    -----
    [ISO14644-1]_, table 1. Valid for whole classes and the six sizes of the table.
    """
    _check_edition(edition)
    size = next((s for s in SIZES_UM if abs(s - _microns(diameter)) <= TOLERANCE * s), None)
    whole = round(class_number) if math.isfinite(class_number) else 0
    if size is None or whole != class_number or whole not in BLANKS_2015:
        return None
    letters = BLANKS_2015[whole][SIZES_UM.index(size)]
    if not letters or (edition == 1999 and (whole, size) in FILLED_1999):
        return None
    return Blank(letters, tuple(BLANK_REASONS[letter] for letter in letters.split()))


def iso_class_number(concentration: float, diameter: float) -> float:
    """Return the class of a concentration at one size, as a real number.

    Parameters
    ----------
    concentration : float
        Particles of this size and larger. [1/m3]
    diameter : float
        Particle size. [m]

    Returns
    -------
    float
        Class; minus infinity without particles. [-]

    Raises
    ------
    RangeError
        If the concentration is negative or the size not positive.

    Notes
    -----
    [ISO14644-1]_ solved for the class: ``log10 C + 2.08 log10(D/0.1 um)``. Valid from 0.1 to 5 um
    up to class 9; below class 1 the number goes on as the formula does, without a name in the
    standard.
    """
    non_negative(concentration=concentration)
    positive(diameter=diameter)
    warn_outside("ISO class", "size in um", _microns(diameter), SIZES_UM[0], SIZES_UM[-1])
    number = _number(concentration, diameter)
    warn_outside("ISO class", "class", number, -math.inf, 9.0)
    return number


def cleanliness(concentrations: Mapping[float, float]) -> Cleanliness:
    """Return the class of air by its worst size.

    Parameters
    ----------
    concentrations : mapping of float to float
        Particle size [m] to particles of this size and larger [1/m3].

    Returns
    -------
    Cleanliness
        Class, deciding size, doubts; silent, the doubts are to be shown.

    Raises
    ------
    RangeError
        If there is none, a size is not positive or a concentration negative.

    Notes
    -----
    [ISO14644-1]_: each size by `iso_class_number`, the largest counts. Valid from 0.1 to 5 um; a
    computed concentration is no classification, which is by counting.
    """
    if not concentrations:
        raise RangeError("concentrations is empty; expected at least one size")
    for size, value in concentrations.items():
        positive(size=size)
        non_negative(concentration=value)
    numbers = {size: _number(value, size) for size, value in concentrations.items()}
    worst = max(numbers, key=lambda size: numbers[size])
    step = max(_step(value, size) for size, value in concentrations.items())
    label = f"ISO {step:g}" if step <= 9.0 else "beyond ISO 9"
    return Cleanliness(numbers[worst], worst, label, _doubts(step, worst))


def allowed_share(target: float, room: float) -> float:
    """Return which share of room air a zone may draw and still meet a class.

    Parameters
    ----------
    target, room : float
        Class of the zone and of the room around it. [-]

    Returns
    -------
    float
        Largest share of unfiltered room air, the rest clean. [-]

    Raises
    ------
    RangeError
        If a class is outside -50 to 50.

    Notes
    -----
    ``10^(N_target - N_room)``, at most 1, for every size; own derivation from [ISO14644-1]_. Valid
    for rest air without particles and no source inside.
    """
    in_range("target", target, -50.0, 50.0)
    in_range("room", room, -50.0, 50.0)
    return min(1.0, float(10.0 ** (target - room)))


def _concentration(number: float, diameter: float) -> float:
    return float(10.0**number * (REFERENCE_SIZE / diameter) ** SLOPE)


def _number(concentration: float, diameter: float) -> float:
    if concentration == 0.0:
        return -math.inf
    return math.log10(concentration) + SLOPE * math.log10(diameter / REFERENCE_SIZE)


def _step(concentration: float, diameter: float) -> float:
    """Return the cleanest class in half steps that a concentration meets; 9.5 for beyond 9."""
    for half in range(2, 19):
        exact = _concentration(0.5 * half, diameter)
        printed = _rounded(exact)
        if concentration <= (printed if printed >= 10.0 else exact):
            return 0.5 * half
    return 9.5


def _rounded(value: float) -> float:
    digits = 2 - math.floor(math.log10(value))
    return float(round(value, min(digits, 0)))


def _microns(diameter: float) -> float:
    return round(diameter * MICRO, 9)


def _check_edition(edition: int | None) -> None:
    if edition not in (None, 1999, 2015):
        raise RangeError(f"edition is {edition!r}; expected 1999 or 2015")


def _doubts(step: float, size: float) -> tuple[str, ...]:
    doubts = []
    shown = _microns(size)
    if not SIZES_UM[0] <= shown <= SIZES_UM[-1]:
        doubts.append(f"ISO class: {shown:g} um is outside 0.1 to 5 um")
    if step > 9.0:
        doubts.append("ISO class: beyond class 9, the last of the standard")
    blank = iso_blank(step, size)
    if blank is not None:
        doubts.append(f"ISO {step:g} has no limit at {shown:g} um: {', '.join(blank.reasons)}")
    return tuple(doubts)
