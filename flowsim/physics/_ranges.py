"""Range checks shared by the laws: refuse the impossible, warn about the extrapolated."""

from __future__ import annotations

import math
import warnings

from flowsim.errors import RangeError, ValidityWarning

__all__ = ["in_range", "non_negative", "positive", "warn_outside"]


def positive(**values: float) -> None:
    """Raise unless every value is finite and above zero.

    Parameters
    ----------
    **values : float
        Name and value of each argument. [any unit]

    Raises
    ------
    RangeError
        If one is not finite, zero or negative.
    """
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise RangeError(f"{name} is {value!r}; expected a finite number above 0")


def non_negative(**values: float) -> None:
    """Raise unless every value is finite and not below zero.

    Parameters
    ----------
    **values : float
        Name and value of each argument. [any unit]

    Raises
    ------
    RangeError
        If one is not finite or negative.
    """
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0.0):
            raise RangeError(f"{name} is {value!r}; expected a finite number, 0 or more")


def in_range(name: str, value: float, low: float, high: float) -> None:
    """Raise unless ``low <= value <= high``.

    Parameters
    ----------
    name : str
        Name of the argument.
    value, low, high : float
        Value and its bounds, both allowed. [any unit]

    Raises
    ------
    RangeError
        If the value is outside or not a number.
    """
    if not low <= value <= high:
        raise RangeError(f"{name} is {value!r}; expected {low:g} to {high:g}")


def warn_outside(law: str, name: str, value: float, low: float, high: float) -> None:
    """Warn if a law is used outside its published range.

    Parameters
    ----------
    law, name : str
        The law and its argument, in words.
    value, low, high : float
        Value and the bounds of the published range. [any unit]
    """
    if not low <= value <= high:
        text = f"{law}: {name} {value:.4g} is outside {low:g} to {high:g}; extrapolated"
        warnings.warn(text, ValidityWarning, stacklevel=3)
