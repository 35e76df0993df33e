"""The ends of a tolerance, from a spread or from two values as written."""

from __future__ import annotations

import math
from typing import Any

from pydantic import ValidationError

from flowsim.batch.case_keys import CaseKey
from flowsim.batch.file_faults import shown
from flowsim.case.units import parse_quantity
from flowsim.case.units_table import PLAIN

__all__ = ["SpreadError", "ends_of_range", "ends_of_spread"]

OF_VALUE = "of value"
"""Stands behind a share that is meant of the case's own value."""


class SpreadError(ValueError):
    """A spread that cannot be used.

    Parameters
    ----------
    message : str
        What is wrong, what was found, what was expected. [-]
    *keys : str
        Key of the row it concerns, none for the row. [-]
    """

    def __init__(self, message: str, *keys: str) -> None:
        self.keys = tuple(key for key in keys if key)
        super().__init__(message)


def ends_of_range(
    key: CaseKey, first: Any, last: Any, from_file: bool, nominal: object
) -> tuple[float, float]:
    """Return the ends of a tolerance given by two values.

    Parameters
    ----------
    key : CaseKey
        What is uncertain. [-]
    first, last : object
        As written in a case file. [any]
    from_file : bool
        Whether a bare number on a key with a dimension is refused. [-]
    nominal : object
        Value in the case. [SI]

    Returns
    -------
    tuple of float
        Lower and upper end. [SI]

    Raises
    ------
    SpreadError
        If one end is missing or no value of the key, or they are the wrong way round.
    """
    if isinstance(nominal, tuple):
        raise SpreadError("cannot be from and to on a list; expected a spread such as '5 %'")
    ends = []
    for name, written in (("from", first), ("to", last)):
        if written is None:
            raise SpreadError("is missing; expected from and to together", name)
        try:
            ends.append(float(key.read(written, from_file)))
        except ValidationError as error:
            raise SpreadError(str(error.errors(include_url=False)[0]["msg"]), name) from None
    if ends[0] >= ends[1]:
        raise SpreadError(
            f"is not below to (got {shown(first)} and {shown(last)}); expected the lower end; "
            "spread = 0 keeps the value of the case", "from",
        )  # fmt: skip
    return ends[0], ends[1]


def ends_of_spread(
    key: CaseKey, written: Any, shape: str, from_file: bool, nominal: object
) -> tuple[float, float]:
    """Return the ends of a tolerance given by how much more or less a value may be.

    Parameters
    ----------
    key : CaseKey
        What is uncertain. [-]
    written : object
        Such as "0.1 mm" or "2 %". [any]
    shape : str
        With "ratio" a share is that of a factor and its inverse. [-]
    from_file : bool
        Whether a bare number on a key with a dimension is refused. [-]
    nominal : object
        Value in the case: a number, or a tuple of them whose ends become factors. [SI]

    Returns
    -------
    tuple of float
        Lower and upper end, of the value or of the factor on a list. [SI]

    Raises
    ------
    SpreadError
        If it cannot be read, can be read in two ways, or there is no value to spread.
    """
    if nominal is None:
        raise SpreadError("has no value in the case to go round; expected from and to", "spread")
    share = _share(key, written)
    if isinstance(nominal, tuple):
        if share is None:
            such = "expected a share of each, such as '5 %'"
            raise SpreadError(f"is no share, but the key is a list (got {shown(written)}); {such}",
                              "spread")  # fmt: skip
        return _by_share(share, 1.0, shape, written)
    value = float(nominal)  # type: ignore[arg-type]
    if share is not None:
        if value == 0.0 and share > 0.0:
            raise SpreadError(
                f"is a share of 0 (got {shown(written)}); expected from and to", "spread"
            )
        return _by_share(share, value, shape, written)
    if shape == "ratio":
        such = "expected a share such as '50 %', or from and to"
        raise SpreadError(f"is no ratio (got {shown(written)}); {such}", "spread")
    size = _size(key, written, from_file)
    return value - size, value + size


def _by_share(share: float, value: float, shape: str, written: Any) -> tuple[float, float]:
    """Return the ends for a share of a value."""
    if share >= 1.0 and shape != "ratio":
        such = 'expected less than 100 %, or shape = "ratio", or from and to'
        raise SpreadError(f"reaches nothing (got {shown(written)}); {such}", "spread")
    low = value / (1.0 + share) if shape == "ratio" else value * (1.0 - share)
    ends = low, value * (1.0 + share)
    return min(ends), max(ends)


def _share(key: CaseKey, written: Any) -> float | None:
    """Return a share of the case's value, None if something else is written."""
    if not isinstance(written, str):
        return None
    text = written.strip()
    plain = text.removesuffix(OF_VALUE).strip()
    if not plain.endswith(("%", "percent")):
        return None
    if key.dimension in PLAIN and plain == text:
        number = plain.removesuffix("percent").removesuffix("%").strip()
        points = f"{0.01 * float(number):g}" if _is_number(number) else "0.02"
        raise SpreadError(
            f"may mean a share of the value or points of the ratio (got '{text}'); "
            f"did you mean '{plain} {OF_VALUE}' or {points}?", "spread",
        )  # fmt: skip
    return _not_negative(_parsed(plain, "ratio"), written)


def _size(key: CaseKey, written: Any, from_file: bool) -> float:
    """Return an absolute spread. [SI]."""
    if isinstance(written, str):
        if key.dimension == "temperature" and not written.strip().endswith("K"):
            raise SpreadError(
                f"is no difference of temperatures (got {shown(written)}); expected such as '2 K'",
                "spread",
            )
        return _not_negative(_parsed(written, key.dimension or "ratio"), written)
    if isinstance(written, bool) or not isinstance(written, int | float):
        raise SpreadError(
            f"is no spread (got {shown(written)}); expected such as '0.1 mm' or '2 %'", "spread"
        )
    if from_file and written != 0 and key.dimension and key.dimension not in PLAIN:
        raise SpreadError(
            f"has no unit (got {written}); expected such as '0.1 mm' or '2 %'", "spread"
        )
    return _not_negative(float(written), written)


def _parsed(text: str, dimension: str) -> float:
    """Return a quantity. [SI]."""
    try:
        return parse_quantity(text, dimension)
    except ValueError as error:
        raise SpreadError(str(error), "spread") from None


def _not_negative(size: float, written: Any) -> float:
    """Return a spread that is one."""
    if not (math.isfinite(size) and size >= 0.0):
        raise SpreadError(f"is below 0 (got {shown(written)}); expected 0 or more", "spread")
    return size


def _is_number(text: str) -> bool:
    """Say whether a text is a plain number."""
    try:
        float(text)
    except ValueError:
        return False
    return True
