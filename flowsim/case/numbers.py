"""Numbers as people write them: decimal commas, thousands, fractions, feet and inches."""

from __future__ import annotations

import re

__all__ = ["NumberError", "plain_text", "split_number"]


class NumberError(ValueError):
    """A number that cannot be read, or that can be read in two ways.

    Parameters
    ----------
    what : str
        What is wrong.
    guesses : tuple of str
        What may have been meant, without unit.
    """

    def __init__(self, what: str, guesses: tuple[str, ...] = ()) -> None:
        self.what = what
        self.guesses = guesses
        super().__init__(what)


_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4",
    "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_TRANSLATE = str.maketrans(
    {
        "\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2013": "-", "\u2044": "/",
        "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\t": " ",
        "\u00b5": "u", "\u03bc": "u", "\u2033": '"', "\u2032": "'", "\u201d": '"', "\u2019": "'",
        "\u00b2": "2", "\u00b3": "3", "\u00b9": "1", "\u207b": "-", "\u2082": "2",
        "\u00d7": "x", "\u00b7": "*", "\u22c5": "*", "\u00ba": "\u00b0", "\u2113": "L",
    }
)  # fmt: skip

_MIXED = re.compile(r"([-+]?)(\d+)(?: +| ?- ?)(\d+) ?/ ?(\d+)(?![\d.,/])")
_FRACTION = re.compile(r"([-+]?)(\d+) ?/ ?(\d+)(?![\d.,/])")
_PLAIN = re.compile(r"([-+]?) ?((?:\d{1,3}(?: \d{3})+(?![\d/])|\d+)?[\d.,]*)((?:[eE][-+]?\d+)?)")


def plain_text(text: str) -> str:
    """Replace signs that look alike by one of them.

    Parameters
    ----------
    text : str
        A quantity as written. [-]

    Returns
    -------
    str
        The same with plain minus, quotes, spaces, micro sign and digits for superscripts. [-]
    """
    for sign, fraction in _VULGAR.items():
        text = text.replace(sign, f" {fraction}")
    return " ".join(text.translate(_TRANSLATE).replace("**", "^").split())


def split_number(text: str) -> tuple[float, str]:
    """Split the number off the front of a text.

    Parameters
    ----------
    text : str
        Result of `plain_text`. [-]

    Returns
    -------
    tuple of float and str
        The number and the rest. [-]

    Raises
    ------
    NumberError
        If there is no number, or if it can be read in two ways.
    """
    if match := _MIXED.match(text):
        sign, whole, top, bottom = match.groups()
        value = int(whole) + _proper(int(top), int(bottom))
        return (-value if sign == "-" else value), text[match.end() :].strip()
    if match := _FRACTION.match(text):
        sign, top, bottom = match.groups()
        value = _fraction(top, bottom)
        return (-value if sign == "-" else value), text[match.end() :].strip()
    match = _PLAIN.match(text)
    if match is None or not any(letter.isdigit() for letter in match.group(2)):
        raise NumberError("does not start with a number")
    value = float(_decimal(match.group(2).replace(" ", "")) + match.group(3))
    return (-value if match.group(1) == "-" else value), text[match.end() :].strip()


def _proper(top: int, bottom: int) -> float:
    """Return the fraction beside a whole number."""
    if bottom == 0:
        raise NumberError("divides by zero")
    if top >= bottom:
        raise NumberError(f"has the fraction {top}/{bottom}, which is not below 1")
    return top / bottom


def _fraction(top: str, bottom: str) -> float:
    """Return a fraction that stands alone; one like 11/4 may mean 1 1/4 and is refused."""
    if int(bottom) == 0:
        raise NumberError("divides by zero")
    value = int(top) / int(bottom)
    if value >= 1.0 and len(top) > 1:
        raise NumberError(
            f"can be read in two ways, {top[:-1]} {top[-1]}/{bottom} or {value:g}",
            (f"{top[:-1]} {top[-1]}/{bottom}", f"{value:g}"),
        )
    return value


def _decimal(digits: str) -> str:
    """Return digits with a decimal point, or refuse what is ambiguous."""
    commas, points = digits.count(","), digits.count(".")
    if commas and points:
        return _both(digits)
    if commas > 1 or points > 1:
        return _grouped(digits, "," if commas else ".")
    if commas == 0:
        return digits
    whole, decimals = digits.split(",")
    if decimals == "":
        raise NumberError("ends in a comma")
    if len(decimals) == 3 and whole != "" and whole.strip("0") != "":
        raise NumberError(
            "can be read in two ways, with a decimal or a thousands comma",
            (f"{whole}.{decimals}", f"{whole}{decimals}"),
        )
    if len(decimals) == 3 and len(whole) > 1:
        raise NumberError("can be read in two ways, with a decimal or a thousands comma")
    return f"{whole or '0'}.{decimals}"


def _both(digits: str) -> str:
    """Return a number with commas and points: the last kind is the decimal one."""
    last = max(digits.rfind(","), digits.rfind("."))
    decimal, group = digits[last], "," if digits[last] == "." else "."
    if digits.count(decimal) > 1:
        raise NumberError("mixes decimal and thousands signs")
    whole, decimals = digits.split(decimal)
    return f"{_grouped(whole, group)}.{decimals}"


def _grouped(digits: str, sign: str) -> str:
    """Return a whole number written in groups of three."""
    first, *rest = digits.split(sign)
    if not 1 <= len(first) <= 3 or any(len(group) != 3 for group in rest):
        raise NumberError("mixes decimal and thousands signs")
    return first + "".join(rest)
