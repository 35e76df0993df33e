"""The axes of a sweep laid out: what each of their places holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import FloatArray
from flowsim.batch.case_keys import CaseKey, comparable
from flowsim.batch.sampling import Spacing, between, whole_between

__all__ = ["Column", "Ends", "drawn_column", "listed_column", "spaced_column"]


@dataclass(frozen=True)
class Ends:
    """The two ends of a range of one key.

    Parameters
    ----------
    first, last : float
        In either order. [SI]
    spacing : {"even", "ratio"}
        Equal steps or equal ratios. [-]
    whole : bool
        Whether only whole numbers stand between. [-]
    """

    first: float
    last: float
    spacing: Spacing = "even"
    whole: bool = False

    def drawn(self, share: FloatArray) -> FloatArray:
        """Return the values at draws.

        Parameters
        ----------
        share : array, shape (n,)
            Draws, 0 <= share < 1. [-]

        Returns
        -------
        array, shape (n,)
            Values between the ends. [SI]
        """
        if self.whole:
            return whole_between(share, int(self.first), int(self.last), self.spacing)
        return between(share, self.first, self.last, self.spacing)

    def spaced(self, count: int) -> FloatArray:
        """Return values from one end to the other.

        Parameters
        ----------
        count : int
            At least 2. [-]

        Returns
        -------
        array, shape (count,)
            Values, both ends among them. [SI]
        """
        values = between(np.linspace(0.0, 1.0, count), self.first, self.last, self.spacing)
        return np.round(values) if self.whole else values


@dataclass(frozen=True)
class Column:
    """One axis: its keys, and the values at each of its places.

    Parameters
    ----------
    keys : tuple of CaseKey
        One, or several that move together. [-]
    drawn : bool
        Whether its place is that of a draw, which all drawn axes share. [-]
    written : tuple of tuple, or None
        Values as written, place by place; None = the numbers are the values. [as written]
    numbers : tuple of array, shape (places,)
        Per key, values that can be compared. [SI]
    """

    keys: tuple[CaseKey, ...]
    drawn: bool
    written: tuple[tuple[object, ...], ...] | None
    numbers: tuple[NDArray[Any], ...] = field(repr=False)

    def __len__(self) -> int:
        return len(self.numbers[0])

    def at(self, place: int) -> tuple[object, ...]:
        """Return the values at a place.

        Parameters
        ----------
        place : int
            From 0. [-]

        Returns
        -------
        tuple
            One value per key. [as written, or SI]
        """
        if self.written is not None:
            return self.written[place]
        return tuple(_number(key, item[place]) for key, item in self._pairs())

    def _pairs(self) -> Iterator[tuple[CaseKey, NDArray[Any]]]:
        """Yield each key with its numbers."""
        return zip(self.keys, self.numbers, strict=True)


def listed_column(
    keys: tuple[CaseKey, ...], lists: Sequence[Sequence[object]], from_file: bool
) -> Column:
    """Return an axis of listed values.

    Parameters
    ----------
    keys : tuple of CaseKey
        Its keys. [-]
    lists : sequence of sequence
        Per key as many values as the axis has places, each one that the key takes. [as written]
    from_file : bool
        Whether bare numbers on keys with a dimension were refused. [-]

    Returns
    -------
    Column
        The axis.
    """
    numbers = tuple(
        np.array([comparable(key, value, from_file) for value in values])
        for key, values in zip(keys, lists, strict=True)
    )
    return Column(keys, False, tuple(zip(*lists, strict=True)), numbers)


def spaced_column(keys: tuple[CaseKey, ...], ends: Sequence[Ends], count: int) -> Column:
    """Return an axis of values from one end to the other.

    Parameters
    ----------
    keys : tuple of CaseKey
        Its keys. [-]
    ends : sequence of Ends
        Per key its ends. [SI]
    count : int
        Places, at least 2. [-]

    Returns
    -------
    Column
        The axis.
    """
    return Column(keys, False, None, tuple(end.spaced(count) for end in ends))


def drawn_column(keys: tuple[CaseKey, ...], ends: Sequence[Ends], share: FloatArray) -> Column:
    """Return an axis whose values are drawn.

    Parameters
    ----------
    keys : tuple of CaseKey
        Its keys. [-]
    ends : sequence of Ends
        Per key its ends. [SI]
    share : array, shape (n,)
        Draws, the same for all keys, 0 <= share < 1. [-]

    Returns
    -------
    Column
        The axis.
    """
    return Column(keys, True, None, tuple(end.drawn(share) for end in ends))


def _number(key: CaseKey, value: Any) -> object:
    """Return a computed value as a plain number."""
    return int(value) if key.kind == "whole" else float(value)
