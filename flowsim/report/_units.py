"""Units in which people read results; inside everything is SI."""

from __future__ import annotations

import math
from collections.abc import Iterable

__all__ = ["NOTHING", "base_name", "lone_copies", "number", "quantity_text", "shown", "words"]

PER_HOUR = 3600.0
NOTHING = 1e-12  # what is left of a zero in a velocity, a pressure or a flow
PHYSICAL = ("m/s", "Pa", "m3/s")
PERCENTAGES = frozenset(
    {
        "balance_margin",
        "front_inflow_share",
        "draw_rsd",
        "downflow_rsd",
        "bypass_share",
        "room_air_share",
    }
)


def base_name(name: str) -> str:
    """Return the name of a key figure without the label of one of several."""
    return name.split("[", 1)[0]


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
    return head.replace("_", " ") + (f" [{label}" if bracket else "")


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
    if unit == "m3/s":
        return PER_HOUR, "m3/h"
    if unit == "-":
        return (100.0, "%") if base_name(name) in PERCENTAGES else (1.0, "")
    return 1.0, unit


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
    factor, unit_shown = shown(name, unit)
    if value is not None and unit in PHYSICAL and abs(value) < NOTHING:
        value = 0.0
    text = number(None if value is None else value * factor, digits)
    return text if text == "-" or not unit_shown else f"{text} {unit_shown}"
