"""Quantities as people write them, as SI floats."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Collection

from flowsim.case.numbers import NumberError, plain_text, split_number
from flowsim.case.units_table import (
    ASK,
    ATOMS,
    DIMENSIONS,
    EXACT,
    SPECIAL,
    TEMPERATURES,
    TURNING,
    Powers,
)

__all__ = ["bound_of", "example_of", "guess_of", "in_unit", "parse_quantity", "pattern", "wording"]

_FEET = re.compile(
    r"""^([^'a-zA-Z"]+?) ?(?:'|ft\.?|feet|foot) ?-? ?(\d.*?) ?(?:"|''|in\.?|inch|inches)$"""
)
_EXPONENT = re.compile(r"^([^ ]*?[^ \d^-])\^?(-?\d)$")
_LIMIT = 200


def parse_quantity(text: str, dimension: str) -> float:
    """Read a number with a unit.

    Parameters
    ----------
    text : str
        As written, such as "23 5/8 in", "0,45 m/s", "0.5 in. w.g.". [-]
    dimension : str
        A key of `DIMENSIONS`, such as "length". [-]

    Returns
    -------
    float
        The value. [SI]

    Raises
    ------
    ValueError
        If it cannot be read, can be read in two ways, or is another kind of quantity. The
        message says what was found, what was expected, and what may have been meant.
    """
    if len(text) > _LIMIT:
        raise _refusal("is too long for a quantity", text, dimension)
    plain = plain_text(text)
    try:
        number, unit = _feet_and_inches(plain, dimension) or split_number(plain)
    except NumberError as error:
        unit = plain.lstrip("+-0123456789., /")
        guesses = tuple(f"{guess} {unit}".strip() for guess in error.guesses)
        raise _refusal(error.what, text, dimension, guesses) from None
    _refuse_two_numbers(unit, text, dimension)
    value = _convert(number, unit.lstrip("- "), text, dimension)
    if not math.isfinite(value):
        raise _refusal("is not a finite number", text, dimension)
    return value


def in_unit(value: float, unit: str) -> float:
    """Convert an SI value to a unit.

    Parameters
    ----------
    value : float
        The value. [SI]
    unit : str
        Any unit that `parse_quantity` reads. [-]

    Returns
    -------
    float
        The value in that unit.

    Raises
    ------
    ValueError
        If the unit is unknown.
    """
    squeezed = _squeeze(unit)
    if squeezed in TEMPERATURES:
        factor, offset = TEMPERATURES[squeezed]
        return (value - offset) / factor
    special = [table[squeezed] for table in SPECIAL.values() if squeezed in table]
    if special:
        return value / special[0]
    found = _factor(plain_text(unit))
    if found is None:
        raise ValueError(f"unknown unit '{unit}'")
    return value / found[0]


def wording(dimension: str) -> str:
    """Return the words for a dimension.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`. [-]

    Returns
    -------
    str
        With its article, such as "a length". [-]
    """
    return DIMENSIONS[dimension].words


def example_of(dimension: str, number: float | str | None = None) -> str:
    """Return a quantity as an example.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`. [-]
    number : float, str or None
        Number to show; left out = a usual one. [-]

    Returns
    -------
    str
        Such as "650 mm". [-]
    """
    kind = DIMENSIONS[dimension]
    return f"{kind.number if number is None else number} {kind.example}".rstrip()


def bound_of(dimension: str, value: float) -> str:
    """Return a bound of a key for a message.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`. [-]
    value : float
        The bound. [SI]

    Returns
    -------
    str
        In the SI unit, sizes of particles in micrometres; zero without unit. [-]
    """
    unit = "um" if dimension == "particle size" else DIMENSIONS[dimension].unit
    if value == 0.0 or not unit:
        return f"{value:g}"
    return f"{in_unit(value, unit):.7g} {unit}"


def guess_of(dimension: str, number: float | str) -> str:
    """Return what a number without a unit may have meant.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`. [-]
    number : float or str
        As written. [-]

    Returns
    -------
    str
        Lengths below 10 are taken for metres. [-]
    """
    if dimension == "length" and abs(float(number)) < 10.0:
        return f"{number} m"
    return example_of(dimension, number)


def pattern(dimension: str) -> str:
    """Return the regular expression of a dimension for the JSON Schema.

    Parameters
    ----------
    dimension : str
        A key of `DIMENSIONS`. [-]

    Returns
    -------
    str
        A number and one of the usual units. [-]
    """
    units = "|".join(
        re.sub(r"([.^/])", r"\\\1", unit)
        for unit in sorted(DIMENSIONS[dimension].usual, key=len, reverse=True)
    )
    number = r"[-+\u2212]?[0-9.,½¼¾⅛⅜⅝⅞][0-9 .,/½¼¾⅛⅜⅝⅞]*([eE][-+]?[0-9]+)?"
    return f"^{number}[ -]?({units})$"


def _squeeze(unit: str) -> str:
    """Return a unit in lower case without dots, spaces and hyphens, quotes as inch and foot."""
    unit = plain_text(unit).replace("''", "in").replace('"', "in").replace("'", "ft")
    return re.sub(r"[ ._-]", "", unit).lower()


def _refusal(what: str, text: str, dimension: str, guesses: tuple[str, ...] = ()) -> ValueError:
    """Return the error for a text: what is wrong, what was found, expected, and meant."""
    shown = text if len(text) <= 60 else text[:57] + "..."
    message = f"{what} (got '{shown}'); expected {wording(dimension)} such as "
    message += f"'{example_of(dimension)}'"
    if guesses:
        message += "; did you mean " + " or ".join(f"'{guess}'" for guess in guesses) + "?"
    return ValueError(message)


def _feet_and_inches(plain: str, dimension: str) -> tuple[float, str] | None:
    """Return inches for a length such as 2' 6 1/2", else nothing."""
    match = _FEET.match(plain) if dimension == "length" else None
    if match is None:
        return None
    feet, no_unit = split_number(match.group(1))
    inches, rest = split_number(match.group(2))
    if no_unit or rest or feet < 0.0:
        return None
    return 12.0 * feet + inches, "in"


def _refuse_two_numbers(unit: str, text: str, dimension: str) -> None:
    """Raise for sizes such as 24x24 and for ranges such as 90-100 fpm."""
    if re.search(r"(^|[\s'\"a-z.])x\s*\d", unit, re.IGNORECASE):
        raise _refusal("is a size of two numbers; give each under its own key", text, dimension)
    if re.match(r"(-|to |\.\.+) ?[\d.]", unit):
        raise _refusal("is a range; give one number", text, dimension)
    if re.match(r"[\d.,]|/ ?\d", unit) and not re.match(r"1 ?/", unit):
        raise _refusal("holds more than one number", text, dimension)


def _convert(number: float, unit: str, text: str, dimension: str) -> float:
    """Return the SI value of a number in a unit."""
    squeezed = _squeeze(unit)
    if dimension == "temperature" and squeezed in TEMPERATURES:
        factor, offset = TEMPERATURES[squeezed]
        return number * factor + offset
    special = SPECIAL.get(dimension, {})
    if squeezed in special:
        return number * special[squeezed]
    if not squeezed:
        raise _refusal("has no unit", text, dimension, (guess_of(dimension, f"{number:g}"),))
    found = _factor(unit)
    fits = found is not None and found[1] == DIMENSIONS[dimension].powers and not special
    if found is not None and fits and not (dimension == "count rate" and squeezed in TURNING):
        return number * found[0]
    raise _unit_refusal(number, unit, found, text, dimension)


def _unit_refusal(
    number: float,
    unit: str,
    found: tuple[float, Powers] | None,
    text: str,
    dimension: str,
) -> ValueError:
    """Return the error for a unit that is unknown, ambiguous, or of another dimension."""
    asked = ASK.get(_squeeze(unit).replace("per", "/"))
    if asked is not None and found is None and _answers(asked[1], dimension):
        guesses = tuple(f"{number:g} {guess}" for guess in asked[1])
        return _refusal(f"'{unit}' {asked[0]}", text, dimension, guesses)
    other = _dimension_of(unit, found)
    if other is not None:
        twin = _twin(unit, dimension)
        guesses = (f"{number:g} {twin}",) if twin else ()
        what = f"is {wording(other)}, not {wording(dimension)}"
        if (other, dimension) == ("density", "parts per million"):
            what = "is a mass per volume of air; give the share by volume"
        return _refusal(what, text, dimension, guesses)
    close = difflib.get_close_matches(unit, DIMENSIONS[dimension].usual, 1, 0.5)
    guesses = (f"{number:g} {close[0]}",) if close else ()
    return _refusal(f"unknown unit '{unit}'", text, dimension, guesses)


def _answers(guesses: tuple[str, ...], dimension: str) -> bool:
    """Say whether one of the guesses, if there are any, is a unit of a dimension."""
    for guess in guesses:
        try:
            parse_quantity(f"1 {guess}", dimension)
        except ValueError:
            continue
        return True
    return not guesses


def _dimension_of(unit: str, found: tuple[float, Powers] | None) -> str | None:
    """Return the dimension of a unit, if it is one a case knows."""
    squeezed = _squeeze(unit)
    if found is None:
        tables: dict[str, Collection[str]] = {"temperature": TEMPERATURES, **SPECIAL}
        return next((name for name, table in tables.items() if squeezed in table), None)
    plain = (name for name in DIMENSIONS if name not in ("temperature", *SPECIAL))
    return next((name for name in plain if DIMENSIONS[name].powers == found[1]), None)


def _twin(unit: str, dimension: str) -> str | None:
    """Return the unit that was probably meant: inches as a length or as a water column."""
    squeezed = _squeeze(unit)
    inches = squeezed.startswith(("in", "iw"))
    if dimension == "pressure" and inches:
        return "inH2O"
    if dimension == "pressure" and squeezed == "mm":
        return "mmH2O"
    if dimension == "length" and inches:
        return "in"
    if dimension == "time":
        return {"ft": "min", "m": "min", "in": "s"}.get(squeezed)
    if dimension in ("flow", "velocity") and squeezed in ("cfm", "fpm", "lfm"):
        return "cfm" if dimension == "flow" else "fpm"
    return None


def _factor(unit: str) -> tuple[float, Powers] | None:
    """Return factor and exponents of a unit with products, quotients and powers."""
    expression = re.sub(r"\bper\b", "/", unit, flags=re.IGNORECASE)
    factor, powers = 1.0, (0, 0, 0)
    for index, part in enumerate(expression.split("/")):
        if index == 0 and not part.strip():
            continue
        found = _product(part)
        if found is None:
            return None
        sign = 1 if index == 0 else -1
        factor *= found[0] ** sign
        powers = _add(powers, found[1], sign)
    return factor, powers


def _product(part: str) -> tuple[float, Powers] | None:
    """Return factor and exponents of factors joined by * or by a space."""
    whole = _atom(part)
    if whole is not None:
        return whole
    pieces = [piece for piece in re.split(r"[* ]+", part) if piece]
    if len(pieces) < 2:
        return None
    factor, powers = 1.0, (0, 0, 0)
    for piece in pieces:
        found = _atom(piece)
        if found is None:
            return None
        factor *= found[0]
        powers = _add(powers, found[1], 1)
    return factor, powers


def _atom(word: str) -> tuple[float, Powers] | None:
    """Return factor and exponents of one unit, which may carry an exponent."""
    word = word.strip()
    if word in EXACT:
        return EXACT[word]
    squeezed = _squeeze(word)
    if squeezed in ATOMS:
        return ATOMS[squeezed]
    for prefix, power in (("cubic", 3), ("cu", 3), ("square", 2), ("sq", 2), ("linear", 1)):
        base = ATOMS.get(squeezed.removeprefix(prefix))
        if squeezed.startswith(prefix) and base is not None:
            return _raise(base, power)
    match = _EXPONENT.match(word)
    base = ATOMS.get(_squeeze(match.group(1))) if match else None
    if match is None or base is None:
        return None
    return _raise(base, int(match.group(2)))


def _raise(base: tuple[float, Powers], power: int) -> tuple[float, Powers]:
    """Return a unit to a power."""
    return base[0] ** power, _add((0, 0, 0), base[1], power)


def _add(first: Powers, second: Powers, sign: int) -> Powers:
    """Return exponents added."""
    return (
        first[0] + sign * second[0],
        first[1] + sign * second[1],
        first[2] + sign * second[2],
    )
