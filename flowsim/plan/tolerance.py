"""One uncertain value of a case: between which ends it lies, and how it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.special import ndtr, ndtri

from flowsim._arrays import FloatArray
from flowsim.batch.sampling import between, tidy
from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.case.schema_problem import Path
from flowsim.case.units import in_unit
from flowsim.case.units_table import DIMENSIONS, PLAIN
from flowsim.errors import CaseError

__all__ = ["BELL_CUT", "Shape", "Tolerance", "end_complaint", "value_at"]

Shape = Literal["even", "bell", "ratio"]

BELL_SHARE = 0.95
"""Share of a bell inside its stated ends, before its tails are cut. [-]"""
BELL_CUT = 1.5
"""No draw of a bell lies farther from its middle than this many times its stated spread. [-]"""
MARK = " [changed, not as in the file]"


@dataclass(frozen=True)
class Tolerance:
    """How far one value of a case may be off.

    Parameters
    ----------
    key : str
        Key path in the case. [-]
    nominal : float, tuple of float, or None
        Value in the case; a list has one factor for all its numbers. [SI]
    low, high : float
        Ends of the value, or of the factor on a list. [SI]
    shape : {"even", "bell", "ratio"}
        All values equally likely; normal with 95 % between the ends; all ratios equally likely.
    dimension : str
        Name of the dimension in `flowsim.case.units`, empty for a plain number. [-]
    reason, source : str
        Why so much, and who says so ("assumed", "stated", or the publication). [-]
    """

    key: str
    nominal: float | tuple[float, ...] | None
    low: float
    high: float
    shape: Shape = "even"
    dimension: str = ""
    reason: str = ""
    source: str = "assumed"

    @property
    def by_factor(self) -> bool:
        """Whether the ends are factors on a list [-]."""
        return isinstance(self.nominal, tuple)

    @property
    def reach(self) -> tuple[float, float]:
        """Smallest and largest value that may be drawn [SI]."""
        if self.shape != "bell":
            return self.low, self.high
        middle, half = 0.5 * (self.low + self.high), 0.5 * (self.high - self.low)
        return middle - BELL_CUT * half, middle + BELL_CUT * half

    def values(self, shares: FloatArray) -> FloatArray:
        """Return drawn values.

        Parameters
        ----------
        shares : array, shape (n,)
            Even draws, 0 <= share < 1. [-]

        Returns
        -------
        array, shape (n,)
            Values, or factors on a list; rounded to 12 digits. [SI]
        """
        if self.shape != "bell":
            return between(shares, self.low, self.high, self.shape)
        score = float(ndtri(0.5 + 0.5 * BELL_SHARE))
        tail = float(ndtr(-BELL_CUT * score))
        bell = ndtri(tail + np.asarray(shares) * (1.0 - 2.0 * tail)) / score
        raw = tidy(0.5 * (self.low + self.high) + 0.5 * (self.high - self.low) * bell)
        return np.clip(raw, *self.reach)

    def change(self, value: float) -> object:
        """Return what a drawn value puts into the case.

        Parameters
        ----------
        value : float
            One of `values`. [SI]

        Returns
        -------
        float or list of float
            The value, or the list times its factor. [SI]
        """
        if not isinstance(self.nominal, tuple):
            return float(value)
        return tidy(np.asarray(self.nominal) * value).tolist()

    @property
    def unit(self) -> str:
        """SI unit of the ends, "-" for numbers and factors [-]."""
        if self.by_factor or not self.dimension:
            return "-"
        return DIMENSIONS[self.dimension].unit or "-"

    @property
    def span(self) -> str:
        """The ends in words, in the unit people use [-]."""
        low, high = self._shown(self.low), self._shown(self.high)
        if self.by_factor:
            return f"{low} to {high} times the curve"
        return f"{low} to {high} {self._unit_shown()}".rstrip()

    def _unit_shown(self) -> str:
        """Return the unit people use."""
        if not self.dimension or self.dimension in PLAIN:
            return ""
        return DIMENSIONS[self.dimension].example

    def _shown(self, value: float) -> str:
        """Return a value in that unit."""
        unit = "" if self.by_factor else self._unit_shown()
        return f"{in_unit(value, unit) if unit else value:.4g}"


def value_at(case: Case, path: Path) -> Any:
    """Return what a case holds at a path, values left out in its file included.

    Parameters
    ----------
    case : Case
        The case. [SI]
    path : tuple
        Keys and indices. [-]

    Returns
    -------
    object
        None where a part on the way is not there. [SI]
    """
    place: Any = case
    for step in path:
        if place is None:
            return None
        if isinstance(step, int):
            place = place[step] if step < len(place) else None
        else:
            place = getattr(place, step)
    return place


def end_complaint(case: Case, tolerance: Tolerance) -> str:
    """Return why the case does not take an end of a tolerance, empty if it takes both.

    Parameters
    ----------
    case : Case
        The case. [SI]
    tolerance : Tolerance
        One of its values. [SI]

    Returns
    -------
    str
        In the words of the case. [-]
    """
    before = _leaves(case.model_dump(exclude_unset=True, exclude_none=True))
    for word, end in zip(("lower", "upper"), tolerance.reach, strict=True):
        try:
            changed = change_case(case, {tolerance.key: tolerance.change(end)})
        except CaseError as error:
            fault = error.faults[0]
            where = "" if fault.key == tolerance.key else f"{fault.key} "
            return f"at its {word} end {where}{fault.message.replace(MARK, '')}"
        lost = before - _leaves(changed.model_dump(exclude_unset=True, exclude_none=True))
        if lost:
            return f"would take the place of {sorted(lost)[0]}; expected a key the case gives"
    return ""


def _leaves(value: Any, name: str = "") -> set[str]:
    """Return the names of all values in nested tables and lists."""
    if isinstance(value, dict):
        return {leaf for key, item in value.items() for leaf in _leaves(item, f"{name}.{key}")}
    if isinstance(value, list | tuple) and value and isinstance(value[0], dict):
        return {leaf for k, item in enumerate(value) for leaf in _leaves(item, f"{name}[{k}]")}
    return {name.lstrip(".")}
