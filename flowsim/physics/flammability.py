"""Flammable limits of vapours in air, and the share of them in an air flow."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, non_negative, positive
from flowsim.physics.substances import substance
from flowsim.physics.vapour import molar_volume

__all__ = [
    "FlammableRange",
    "dilution_flow",
    "flammable_ranges",
    "lower_flammable_limit",
    "share_of_lower_limit",
]

PUBLISHERS = ("IEC 60079-20-1:2010", "NFPA 497:2008", "Wikidata")
Pair = tuple[float | None, float | None]

# fmt: off
# lower and upper limit in percent by volume, one pair per publisher; flash point C of the first
ROWS: dict[str, tuple[Pair, Pair, Pair, float | None]] = {
    "acetone": ((2.5, 14.3), (2.5, 12.8), (2.5, 12.8), -20.0),
    "isopropanol": ((2.0, 12.7), (2.0, 12.7), (2.0, 12.7), 12.0),
    "ethanol": ((3.1, 19.0), (3.3, 19.0), (3.3, 19.0), 12.0),
    "methanol": ((6.0, 36.0), (6.0, 36.0), (6.0, 36.0), 9.0),
    "toluene": ((1.0, 7.8), (1.1, 7.1), (1.1, 7.1), 4.0),
    "dichloromethane": ((None, None), (None, None), (13.0, 23.0), None),
    "acetic acid": ((4.0, 19.9), (None, 19.9), (4.0, 19.9), 39.0),
    "ammonia": ((15.0, 33.6), (15.0, 28.0), (15.0, 28.0), None),
}
# fmt: on


@dataclass(frozen=True)
class FlammableRange:
    """Flammable range of a vapour in air by one publisher.

    Parameters
    ----------
    substance : str
        Name of the substance.
    publisher : str
        Publisher and year.
    lower, upper : float or None
        Limits, volume of vapour over volume of the mixture. [-]
    flash_point : float or None
        Flash point. [K]

    Notes
    -----
    [IEC60079-20-1]_, [NFPA497]_ and a public data base, as held by [ChemicalsLibrary]_. Valid in
    air near 293 K and 101325 Pa.
    """

    substance: str
    publisher: str
    lower: float | None
    upper: float | None
    flash_point: float | None


def flammable_ranges(name: str) -> tuple[FlammableRange, ...]:
    """Return the flammable range of a substance by every publisher that gives one.

    Parameters
    ----------
    name : str
        Name of the substance.

    Returns
    -------
    tuple of FlammableRange
        Empty for a substance that the table does not hold as flammable.

    Raises
    ------
    RangeError
        If the substance is unknown; the message gives the nearest names.

    Notes
    -----
    Sources as `FlammableRange`; valid as that. Acids that do not burn make hydrogen on metals.
    """
    found = substance(name).name
    if found not in ROWS:
        return ()
    *pairs, flash = ROWS[found]
    ranges = []
    for publisher, (lower, upper) in zip(PUBLISHERS, pairs, strict=True):
        if lower is None and upper is None:
            continue
        point = flash + 273.15 if flash is not None and publisher == PUBLISHERS[0] else None
        ranges.append(
            FlammableRange(
                found,
                publisher,
                None if lower is None else lower / 100.0,
                None if upper is None else upper / 100.0,
                point,
            )
        )
    return tuple(ranges)


def lower_flammable_limit(name: str) -> float:
    """Return the lowest published lower flammable limit of a substance.

    Parameters
    ----------
    name : str
        Name of the substance.

    Returns
    -------
    float
        Volume of vapour over volume of the mixture. [-]

    Raises
    ------
    RangeError
        If the substance is unknown, or the table does not hold it as flammable.

    Notes
    -----
    Sources as `FlammableRange`; valid as that.
    """
    limits = [item.lower for item in flammable_ranges(name) if item.lower is not None]
    if not limits:
        raise RangeError(
            f"{substance(name).name} has no flammable limit in the table; it holds "
            f"{', '.join(ROWS)}"
        )
    return min(limits)


def share_of_lower_limit(parts_per_million: float, name: str) -> float:
    """Return a concentration over the lower flammable limit.

    Parameters
    ----------
    parts_per_million : float
        Volume of vapour over volume of air, times a million. [ppm]
    name : str
        Name of the substance.

    Returns
    -------
    float
        Share; above 1 the mixture can burn. [-]

    Raises
    ------
    RangeError
        If the concentration is negative or the substance has no flammable limit.

    Notes
    -----
    `lower_flammable_limit`; valid for fully mixed air. Right over the liquid of most solvents the
    air is within or above the flammable range, whatever the mean. Common bounds: 25 % in enclosed
    work areas [NFPA497]_, 10 % counts as hazardous [OSHA1910]_.
    """
    non_negative(parts_per_million=parts_per_million)
    return parts_per_million * 1e-6 / lower_flammable_limit(name)


def dilution_flow(
    rate: float, name: str, share: float, temperature: float, pressure: float = 101325.0
) -> float:
    """Return the air flow that thins a vapour to a share of its lower flammable limit.

    Parameters
    ----------
    rate : float
        Mass of vapour given off in a time. [kg/s]
    name : str
        Name of the substance.
    share : float
        Wanted share of the lower flammable limit, 0 to 1. [-]
    temperature : float
        Absolute temperature of the air. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Volume flow of air. [m3/s]

    Raises
    ------
    RangeError
        If an argument is impossible or the substance has no flammable limit.

    Notes
    -----
    Balance of volumes with `lower_flammable_limit`; valid for fully mixed air below about 120 C.
    """
    non_negative(rate=rate)
    positive(share=share)
    in_range("share", share, 0.0, 1.0)
    volume = rate / substance(name).molar_mass * molar_volume(temperature, pressure)
    return volume / (share * lower_flammable_limit(name))
