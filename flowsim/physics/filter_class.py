"""Classes of high-efficiency filters: what a rating promises at the most penetrating size."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.physics._lookup import find_name

__all__ = ["FilterClass", "filter_class", "filter_classes"]


@dataclass(frozen=True)
class FilterClass:
    """One class.

    Parameters
    ----------
    european : str
        Name in EN 1822-1, empty where it has none.
    international : str
        Name in ISO 29463-1, empty where it has none.
    penetration : float
        Largest overall penetration at the most penetrating size and the rated flow. [-]
    local_penetration : float or None
        Largest penetration at any spot; None where none is defined. [-]

    Notes
    -----
    [EN1822-1]_, [ISO29463-1]_, in secondary tables. Valid for the element as tested in the
    factory at its rated flow: not for its seal, another flow, or a given size of 0.3 um.
    """

    european: str
    international: str
    penetration: float
    local_penetration: float | None


# overall and local penetration in percent
ROWS: tuple[tuple[str, str, float, float | None], ...] = (
    ("E10", "", 15.0, None),
    ("E11", "ISO 15 E", 5.0, None),
    ("", "ISO 20 E", 1.0, None),
    ("E12", "ISO 25 E", 0.5, None),
    ("", "ISO 30 E", 0.1, None),
    ("H13", "ISO 35 H", 0.05, 0.25),
    ("", "ISO 40 H", 0.01, 0.05),
    ("H14", "ISO 45 H", 0.005, 0.025),
    ("", "ISO 50 H", 0.001, 0.005),
    ("U15", "ISO 55 U", 5e-4, 2.5e-3),
    ("", "ISO 60 U", 1e-4, 5e-4),
    ("U16", "ISO 65 U", 5e-5, 2.5e-4),
    ("", "ISO 70 U", 1e-5, 1e-4),
    ("U17", "ISO 75 U", 5e-6, 1e-4),
)

_CLASSES = tuple(
    FilterClass(european, world, overall / 100.0, None if local is None else local / 100.0)
    for european, world, overall, local in ROWS
)


def _names() -> dict[str, str]:
    names: dict[str, str] = {}
    for item in _CLASSES:
        shown = item.european or item.international
        world = item.international.lower()
        spellings = (
            item.european.lower(),
            world,
            world.removeprefix("iso "),
            world.replace(" ", ""),
        )
        short = world.removeprefix("iso ").replace(" ", "")
        names.update({word: shown for word in (*spellings, short) if word})
    return names


_NAMES = _names()
_BY_NAME = {item.european or item.international: item for item in _CLASSES}


def filter_classes() -> tuple[FilterClass, ...]:
    """Return all classes, the coarsest first.

    Returns
    -------
    tuple of FilterClass
        The classes.

    Notes
    -----
    [EN1822-1]_, [ISO29463-1]_; valid as `FilterClass`.
    """
    return _CLASSES


def filter_class(name: str) -> FilterClass:
    """Return the class with a name.

    Parameters
    ----------
    name : str
        Name in either standard, such as H14, ISO 45 H or 45H.

    Returns
    -------
    FilterClass
        The class.

    Raises
    ------
    RangeError
        If there is none; the message gives the nearest names.

    Notes
    -----
    [EN1822-1]_, [ISO29463-1]_; valid as `FilterClass`.
    """
    return _BY_NAME[find_name("filter class", name, _NAMES)]
