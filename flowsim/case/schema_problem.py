"""What the checks between parts of a case report."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Path", "Problem", "did_you_mean", "key_path", "millimetres"]

Path = tuple[str | int, ...]
"""Keys and list indices from the top of a case."""

TOUCH = 1e-6
"""Overlaps below this are touching. [m]"""


@dataclass(frozen=True)
class Problem:
    """One contradiction.

    Parameters
    ----------
    path : tuple
        Keys and indices from the top of the case. [-]
    message : str
        What is wrong and what was expected. [-]
    absence : bool
        True where something is missing rather than wrong. [-]
    rests_on : tuple of path
        Other places of the case; if one of them is faulty, this may be no problem. [-]
    """

    path: Path
    message: str
    absence: bool = False
    rests_on: tuple[Path, ...] = ()


def key_path(path: Path) -> str:
    """Return a path as written in messages, such as ``openings[0].height``.

    Parameters
    ----------
    path : tuple
        Keys and indices. [-]

    Returns
    -------
    str
        Dotted key path. [-]
    """
    text = ""
    for item in path:
        if isinstance(item, int):
            text += f"[{item}]"
        else:
            text += f".{item}" if text else item
    return text


def millimetres(value: float) -> str:
    """Return a length for a message.

    Parameters
    ----------
    value : float
        The length. [m]

    Returns
    -------
    str
        In millimetres. [-]
    """
    return f"{1000.0 * value:.6g} mm"


def did_you_mean(text: str, names: Mapping[str, str]) -> str:
    """Return the nearest right names as the end of a message.

    Parameters
    ----------
    text : str
        As written. [-]
    names : mapping of str to str
        Every spelling -> the name to offer. [-]

    Returns
    -------
    str
        Up to three names; empty if none is near. [-]
    """
    close = difflib.get_close_matches(text, list(names), 3, 0.6)
    near = [f"'{name}'" for name in dict.fromkeys(names[word] for word in close)]
    return f"; did you mean {' or '.join(near)}?" if near else ""
