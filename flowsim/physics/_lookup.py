"""Finding a row of a table by name, and reading between its knots."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

from flowsim.errors import RangeError

__all__ = ["find_name", "through_points"]


def find_name(kind: str, name: str, names: Mapping[str, str]) -> str:
    """Return the name that a table uses for a thing.

    Parameters
    ----------
    kind : str
        What is looked for, in words.
    name : str
        What the caller wrote; case and outer blanks do not matter.
    names : mapping of str to str
        Every name a caller may use, in lower case, to the name of the table.

    Returns
    -------
    str
        Name in the table.

    Raises
    ------
    RangeError
        If there is none; the message gives the nearest names.
    """
    key = " ".join(name.lower().split())
    if key in names:
        return names[key]
    near = difflib.get_close_matches(key, names, n=3, cutoff=0.6)
    found = list(dict.fromkeys(names[item] for item in near))
    hint = f"nearest: {', '.join(found)}" if found else f"known: {', '.join(_known(names))}"
    raise RangeError(f"{kind} {name!r} is not in the table; {hint}")


def _known(names: Mapping[str, str]) -> list[str]:
    return sorted(set(names.values()))


def through_points(x: float, places: Sequence[float], values: Sequence[float]) -> float:
    """Return the value at x of the polynomial through the nearest points, four at most.

    Parameters
    ----------
    x : float
        Where, inside the places or beside them. [any unit]
    places, values : sequence of float
        Rising places and their values. [any unit]

    Returns
    -------
    float
        Value; at a place exactly its value. [any unit]
    """
    below = sum(place <= x for place in places)
    first = max(min(below - 2, len(places) - 4), 0)
    window = range(first, min(first + 4, len(places)))
    total = 0.0
    for i in window:
        weight = 1.0
        for j in window:
            if j != i:
                weight *= (x - places[j]) / (places[i] - places[j])
        total += weight * values[i]
    return total
