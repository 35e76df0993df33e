"""How the results on dust are put into words."""

from __future__ import annotations

from flowsim.simulate.carrier import Carrier

__all__ = [
    "BACKFLOW",
    "FILTER",
    "LEAK",
    "ROOM",
    "UNFILTERED",
    "UNKNOWN_FILTER",
    "UNSTATED",
    "cause_words",
    "microns",
    "percent",
    "source_name",
    "ways_in",
]

FILTER, LEAK, UNFILTERED = "filter", "leak round the filter", "unfiltered supply"
ROOM, BACKFLOW = "room air", "air from below"
SMALL = 1e-5  # share below which no figure is written
UNSTATED = "not known: the case has no statement on dust"
UNKNOWN_FILTER = (
    "not known: the case states neither grade nor penetration of the supply filter "
    "(supply.filter.grade, such as H14)"
)
_PARTS = {
    FILTER: "what the filter may let through (its promise for the worst size)",
    LEAK: "air that passes round the filter",
    UNFILTERED: "what the supply brings without a filter",
    BACKFLOW: "air that comes back from the plenum or out of a compartment",
}


def microns(size: float) -> str:
    """Write a particle size as a number of micrometres.

    Parameters
    ----------
    size : float
        Diameter. [m]

    Returns
    -------
    str
        Such as "0.5".
    """
    return f"{size * 1e6:.4g}"


def percent(share: float) -> str:
    """Write a share.

    Parameters
    ----------
    share : float
        The share. [-]

    Returns
    -------
    str
        With unit.
    """
    if share < SMALL:
        return f"under {100.0 * SMALL:g} %"
    return f"{100.0 * share:.2g} %" if share < 0.1 else f"{100.0 * share:.0f} %"


def source_name(label: str) -> str:
    """Return the name of a source among the causes.

    Parameters
    ----------
    label : str
        As the case calls it.

    Returns
    -------
    str
        The label, told apart from the fixed causes.
    """
    return f"source {label}" if label in (*_PARTS, ROOM) else label


def cause_words(carrier: Carrier, cause: str) -> str:
    """Return what a cause is, for a sentence.

    Parameters
    ----------
    carrier : Carrier
        The air.
    cause : str
        Name of the cause.

    Returns
    -------
    str
        Such as "room air that comes in by the front".
    """
    if cause == ROOM:
        return f"room air that comes in {ways_in(carrier)}"
    return _PARTS.get(cause, f"dust given off by {cause}")


def ways_in(carrier: Carrier) -> str:
    """Return by which ways room air gets in.

    Parameters
    ----------
    carrier : Carrier
        The air.

    Returns
    -------
    str
        Such as "by the front and cracks".
    """
    names = []
    for name in carrier.outlets.into_room:
        kind, _, label = name.partition(" ")
        names.append(name if not label else f"the {label}" if kind == "opening" else f"the {name}")
    if not names:
        return "from outside"
    *first, last = names
    return f"by {', '.join(first)} and {last}" if first else f"by {last}"
