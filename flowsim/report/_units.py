"""Units in which people read results; inside everything is SI."""

from __future__ import annotations

import math
from collections.abc import Iterable

from flowsim.simulate.shares import RESOLVED

__all__ = [
    "BELOW",
    "ESCAPES",
    "NOTHING",
    "base_name",
    "by_ratio",
    "duration_text",
    "lone_copies",
    "number",
    "percent",
    "quantity_text",
    "resolution_note",
    "shown",
    "size_text",
    "words",
]

PER_HOUR = 3600.0
MICRO, CENTIMETRE, MILLIONTH = 1e-6, 1e-2, 1e-6
NOTHING = 1e-12  # what is left of a zero in a velocity, a pressure or a flow
PHYSICAL = ("m/s", "Pa", "m3/s")
SHOWN_IN = {
    "m3/s": (PER_HOUR, "m3/h"),
    "kg/s": (1.0 / MICRO, "mg/s"),
    "1/(m2 s)": (PER_HOUR * CENTIMETRE**2, "/(cm2 h)"),
}
LENGTHS_IN_MICRONS = frozenset({"iso_class_worst_size"})
ESCAPES = frozenset({"vapour_escape_share", "slit_escape_share", "surface_escape_share"})
SHARES = ESCAPES | {"lfl_share", "room_air_share", "surface_room_air_share"}
PERCENTAGES = SHARES | {
    "balance_margin",
    "front_inflow_share",
    "draw_rsd",
    "downflow_rsd",
    "bypass_share",
}
DECADES = SHARES | {
    "vapour_front_ppm",
    "exposure_ratio",
    "evaporation_rate",
    "deposition_rate",
}
SPOKEN = {
    "vapour_front_ppm": "vapour at the front",
    "lfl_share": "share of flammable limit",
    "iso_class": "ISO class",
    "iso_class_worst_size": "size that decides the class",
    "surface_escape_share": "escape share, worst spot",
    "surface_room_air_share": "room air share, worst spot",
    "slit_escape_share": "escape share, slit",
}
BELOW = f"below what the model resolves ({100.0 * RESOLVED:g} %)"
NO_PARTICLES = "no particles"
FLOORS = {"vapour_front_ppm": 1e-6, "exposure_ratio": 1e-6}  # below them, only that
LEAST_SHARE = 1e-9  # below it, only that
LONG = 120.0  # s, from which on people read minutes


def base_name(name: str) -> str:
    """Return the name of a key figure without the label of one of several."""
    return name.split("[", 1)[0]


def by_ratio(name: str) -> bool:
    """Return whether a key figure runs over decades, so that cases are compared by their ratio."""
    return base_name(name) in DECADES


def lone_copies(names: Iterable[str]) -> set[str]:
    """Return labelled names that only repeat the plain one, being the single one of their kind.

    Parameters
    ----------
    names : iterable of str
        Names of key figures. [text]

    Returns
    -------
    set of str
        Such as ``front_outflow[front]`` where there is one opening.
    """
    labelled: dict[str, list[str]] = {}
    plain = set()
    for name in names:
        if "[" in name:
            labelled.setdefault(base_name(name), []).append(name)
        else:
            plain.add(name)
    return {items[0] for base, items in labelled.items() if len(items) == 1 and base in plain}


def words(name: str) -> str:
    """Return the name of a key figure in plain words."""
    head, bracket, label = name.partition("[")
    return SPOKEN.get(head, head.replace("_", " ")) + (f" [{label}" if bracket else "")


def shown(name: str, unit: str) -> tuple[float, str]:
    """Return how a key figure is shown to people.

    Parameters
    ----------
    name : str
        Key figure, with or without a label. [text]
    unit : str
        SI unit of its value, "-" for a pure number. [text]

    Returns
    -------
    tuple of float and str
        Factor from the SI value to the value shown, and the unit shown ("" for a number).
    """
    base = base_name(name)
    if unit == "-":
        return (100.0, "%") if base in PERCENTAGES else (1.0, "")
    if base in LENGTHS_IN_MICRONS:
        return 1.0 / MICRO, "um"
    return SHOWN_IN.get(unit, (1.0, unit))


def number(value: float | None, digits: int = 3) -> str:
    """Return a number as people write it, "-" where there is none.

    Parameters
    ----------
    value : float or None
        Any number. [any]
    digits : int
        Significant digits. [-]

    Returns
    -------
    str
        Plain decimals between 0.0001 and 10 million, else a power of ten.
    """
    if value is None or math.isnan(value):
        return "-"
    if math.isinf(value) or value == 0.0:
        return "0" if value == 0.0 else ("unlimited" if value > 0.0 else "-unlimited")
    size = int(f"{abs(value):.{digits - 1}e}".partition("e")[2])
    if not -4 <= size < 7:
        return f"{value:.{max(digits - 2, 0)}e}"
    text = f"{value:.{max(digits - 1 - size, 0)}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def quantity_text(name: str, value: float | None, unit: str, digits: int = 3) -> str:
    """Return a key figure with its unit, in the unit people use.

    Parameters
    ----------
    name, unit : str
        Key figure and its SI unit. [text]
    value : float or None
        In the SI unit. [any]
    digits : int
        Significant digits. [-]

    Returns
    -------
    str
        For example ``450 m3/h``; ``-`` where there is no value.
    """
    if base_name(name) in SHARES and value is not None and not math.isnan(value):
        return percent(value, digits)
    if unit == "s":
        return duration_text(value)
    if base_name(name) == "iso_class" and value == -math.inf:
        return NO_PARTICLES
    factor, unit_shown = shown(name, unit)
    least = FLOORS.get(base_name(name), 0.0)
    if value is not None and 0.0 < value < least:
        return f"<{least:f} {unit_shown}".rstrip()
    if value is not None and unit in PHYSICAL and abs(value) < NOTHING:
        value = 0.0
    text = number(None if value is None else value * factor, digits)
    return text if text == "-" or not unit_shown else f"{text} {unit_shown}"


def percent(share: float, digits: int = 3) -> str:
    """Return a share in percent; neither a small rest nor what lacks to the whole is rounded away.

    Parameters
    ----------
    share : float
        Share, 1 = all. [-]
    digits : int
        Significant digits; two below 0.1 %. [-]

    Returns
    -------
    str
        For example ``12.3 %``, ``0.040 %``, ``0.00030 %``, ``99.996 %``, ``0.020 per million``.
    """
    value = 100.0 * share
    lacking = 100.0 - value
    if 1e-6 < lacking < 1.0:
        return f"{value:.{-math.floor(math.log10(lacking))}f} %"
    if 0.0 < abs(share) < LEAST_SHARE:
        return f"<{LEAST_SHARE / MILLIONTH:g} per million"
    if 0.0 < abs(share) < MILLIONTH:
        return f"{number(share / MILLIONTH, min(digits, 2))} per million"
    return f"{number(value, digits if abs(value) >= 0.1 else min(digits, 2))} %"


def resolution_note(name: str, value: float | None) -> str:
    """Return what is said behind an escape share that is too small for the model.

    Parameters
    ----------
    name : str
        Key figure. [text]
    value : float or None
        Its value. [-]

    Returns
    -------
    str
        Empty for other figures and for shares that are large enough.
    """
    if base_name(name) not in ESCAPES or value is None or value >= RESOLVED:
        return ""
    return BELOW


def duration_text(time: float | None) -> str:
    """Return a time in seconds, minutes or hours, whichever people would say.

    Parameters
    ----------
    time : float or None
        Time. [s]

    Returns
    -------
    str
        ``-`` where there is none.
    """
    if time is None or not math.isfinite(time) or time < LONG:
        text = number(time)
        return text if text == "-" else f"{text} s"
    if time < 2.0 * PER_HOUR:
        return f"{number(time / 60.0)} min"
    return f"{number(time / PER_HOUR)} h"


def size_text(size: float) -> str:
    """Return a particle size in micrometres.

    Parameters
    ----------
    size : float
        Diameter. [m]

    Returns
    -------
    str
        For example ``0.3 um``.
    """
    return f"{round(size / MICRO, 9):g} um"
