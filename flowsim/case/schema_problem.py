"""What the checks between parts of a case report."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Path", "Problem", "key_path", "millimetres"]

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
    """

    path: Path
    message: str
    absence: bool = False


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
