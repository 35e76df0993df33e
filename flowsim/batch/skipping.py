"""Conditions under which a point is left out, read by hand and never evaluated as code."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from flowsim._arrays import BoolArray
from flowsim.batch.case_keys import CaseKey, comparable
from flowsim.case.schema import Case
from flowsim.case.schema_case import CaseParts

__all__ = ["Condition", "Reader", "holds", "read_condition"]

OPERATORS = ("<", "<=", ">", ">=", "=")

SAME = 1e-9
"""Values this near to each other, relative to the larger, are equal: 30 cm is 300 mm. [-]"""

_SIGNS = re.compile(r"[<>=!]+")


@dataclass(frozen=True)
class Condition:
    """One comparison: a key of the case with another key or with a value.

    Parameters
    ----------
    text : str
        As written. [-]
    left : CaseKey
        Key on the left. [-]
    operator : str
        One of ``< <= > >= =``. [-]
    right : CaseKey or float or str
        Key or value on the right. [SI]
    """

    text: str
    left: CaseKey
    operator: str
    right: CaseKey | float | str


@dataclass(frozen=True)
class Reader:
    """What a condition is read against.

    Parameters
    ----------
    case : Case
        Case of the sweep. [SI]
    find : callable
        Key path -> CaseKey, or LookupError. [-]
    from_file : bool
        Whether a bare number on a key with a dimension is refused. [-]
    """

    case: Case
    find: Callable[[str], CaseKey]
    from_file: bool


def read_condition(text: str, reader: Reader) -> Condition:
    """Read a condition such as ``exhaust.flow > supply.flow``.

    Parameters
    ----------
    text : str
        KEY OPERATOR KEY, or KEY OPERATOR VALUE. [-]
    reader : Reader
        What its keys are looked up in. [-]

    Returns
    -------
    Condition
        Keys found, value in SI. [SI]

    Raises
    ------
    LookupError
        If it cannot be read; the message says what was found and what was expected.
    """
    left_text, operator, right_text = _split(text)
    left = _key(left_text, text, reader)
    if left.kind == "other":
        raise LookupError(f"'{left_text}' is a list or a table, which cannot be compared")
    if _is_key(right_text):
        right: CaseKey | float | str = _alike(left, _key(right_text, text, reader))
    else:
        right = _value(left, right_text, reader)
    if not left.is_number and operator != "=":
        raise LookupError(f"compares words by '{operator}' (got '{_short(text)}'); expected '='")
    return Condition(text, left, operator, right)


def holds(condition: Condition, left: NDArray[Any], right: NDArray[Any]) -> BoolArray:
    """Compare the values of both sides.

    Parameters
    ----------
    condition : Condition
        How. [-]
    left, right : array, shape (n,)
        Numbers, or texts. [SI]

    Returns
    -------
    array, shape (n,)
        Where the condition holds. [-]
    """
    if not condition.left.is_number:
        return np.asarray(left == right)
    same = np.abs(left - right) <= SAME * np.maximum(np.abs(left), np.abs(right))
    if condition.operator == "=":
        return np.asarray(same)
    apart = left < right if condition.operator.startswith("<") else left > right
    equal_counts = condition.operator.endswith("=")
    return np.asarray(apart | same if equal_counts else apart & ~same)


def _short(text: str) -> str:
    """Return a text that fits into a message."""
    return text if len(text) <= 60 else text[:57] + "..."


def _split(text: str) -> tuple[str, str, str]:
    """Return left side, operator and right side."""
    signs = list(_SIGNS.finditer(text))
    wanted = "expected KEY > VALUE or KEY > KEY, with one of < <= > >= ="
    if len(signs) != 1:
        count = "holds no comparison" if not signs else "holds more than one comparison"
        raise LookupError(f"{count} (got '{_short(text)}'); {wanted}")
    sign = signs[0].group()
    left, right = text[: signs[0].start()].strip(), text[signs[0].end() :].strip()
    if sign not in OPERATORS:
        meant = {"==": "=", "=<": "<=", "=>": ">="}.get(sign)
        guess = f"; did you mean '{meant}'?" if meant else ""
        raise LookupError(f"has an unknown comparison '{sign}'; {wanted}{guess}")
    if not left or not right:
        raise LookupError(f"compares with nothing (got '{_short(text)}'); {wanted}")
    return left, sign, right


def _is_key(text: str) -> bool:
    """Say whether the right side names a key rather than a value."""
    first = re.split(r"[.\[]", text, maxsplit=1)
    return len(first) == 2 and first[0].strip() in CaseParts.model_fields


def _key(name: str, text: str, reader: Reader) -> CaseKey:
    """Return the key on one side."""
    first = re.split(r"[.\[]", name, maxsplit=1)[0].strip()
    if first not in CaseParts.model_fields:
        close = difflib.get_close_matches(first, list(CaseParts.model_fields), 1, 0.6)
        guess = f"; did you mean '{close[0]}'?" if close else ""
        what = f"does not begin with a key of the case (got '{_short(text)}')"
        raise LookupError(f"{what}; expected KEY > VALUE or KEY > KEY{guess}")
    try:
        return reader.find(name)
    except LookupError as error:
        raise LookupError(f"'{_short(name)}' {error.args[0]}") from None


def _alike(left: CaseKey, right: CaseKey) -> CaseKey:
    """Return the right key, or refuse to compare unlike things."""
    plain = ("number", "whole")
    same = (left.kind, left.dimension) == (right.kind, right.dimension)
    ratios = left.is_number and right.is_number and {left.unit, right.unit} == {"-"}
    if same or ratios or (left.kind in plain and right.kind in plain):
        return right
    raise LookupError(f"compares {_words(left)} with {_words(right)}")


def _words(key: CaseKey) -> str:
    """Return a key and its unit for a message."""
    kind = f"in {key.unit}" if key.unit not in ("", "-") else f"a {key.kind}"
    return f"'{key.name}' ({kind})"


def _value(left: CaseKey, text: str, reader: Reader) -> float | str:
    """Return the value on the right side."""
    value: Any = _bare(text) if left.is_number else text
    if left.kind == "choice" and len(text) > 1 and text[0] == text[-1] and text[0] in "'\"":
        value = text[1:-1]
    complaint = left.complaint(reader.case, value, reader.from_file)
    if complaint:
        raise LookupError(f"compares '{left.name}' with a value that {complaint}")
    try:
        return comparable(left, value, reader.from_file)
    except (ValidationError, ValueError):
        raise LookupError(f"cannot read '{_short(text)}' as a value of '{left.name}'") from None


def _bare(text: str) -> float | int | str:
    """Return the number a text holds, else the text."""
    try:
        return int(text)
    except ValueError:
        pass
    try:
        return float(text)
    except ValueError:
        return text
