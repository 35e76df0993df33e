"""Changes of a case as written on a command line."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import product

from flowsim.errors import CaseError, Fault

__all__ = ["combinations", "pairs", "variant_name"]


def pairs(words: Sequence[str], option: str) -> list[tuple[str, str]]:
    """Split each ``key=value``.

    Parameters
    ----------
    words : sequence of str
        As written. [-]
    option : str
        Option they belong to, for messages. [-]

    Returns
    -------
    list of tuple of str
        Key path and value. [-]

    Raises
    ------
    CaseError
        If a word has no key, no equals sign or no value.
    """
    faulty = [word for word in words if not re.match(r"\s*[^=\s][^=]*=\s*\S", word)]
    if faulty:
        message = "is not a change (got '{}'); expected key=value, such as chamber.width='1300 mm'"
        raise CaseError(option, [Fault("", message.format(word)) for word in faulty])
    return [(key.strip(), value.strip()) for key, _, value in (w.partition("=") for w in words)]


def combinations(words: Sequence[str], option: str) -> list[dict[str, str]]:
    """Combine the values of several keys, each with each.

    Parameters
    ----------
    words : sequence of str
        ``key=v1,v2,...`` with commas or, where one stands, semicolons between values. [-]
    option : str
        Option they belong to, for messages. [-]

    Returns
    -------
    list of dict
        Key path -> value; one empty dictionary without any words. [-]
    """
    axes = [[(key, value) for value in _values(text)] for key, text in pairs(words, option)]
    return [dict(combination) for combination in product(*axes)]


def variant_name(name: str, variant: Mapping[str, str]) -> str:
    """Return what a variant is called.

    Parameters
    ----------
    name : str
        Name of the case, empty where there is but one. [-]
    variant : mapping
        Key path -> value. [-]

    Returns
    -------
    str
        Such as "bench: openings.front.height = 140 mm". [-]
    """
    values = ", ".join(f"{key} = {value}" for key, value in variant.items())
    return ": ".join(part for part in (name, values) if part)


def _values(text: str) -> list[str]:
    """Return the values of a list, separated outside brackets by ``;``, else by commas."""
    separator = ";" if ";" in text else ","
    values, depth = [""], 0
    for sign in text:
        depth += (sign in "[{") - (sign in "]}")
        if sign == separator and depth == 0:
            values.append("")
        else:
            values[-1] += sign
    return [value.strip() for value in values if value.strip()]
