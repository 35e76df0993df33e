"""Several results side by side, as data."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.simulate.result import Check, Result

__all__ = ["Comparison", "ComparisonRow"]


@dataclass(frozen=True)
class ComparisonRow:
    """One key figure in every case.

    Parameters
    ----------
    name, unit, meaning : str
        Key figure, its SI unit and one sentence.
    values : tuple of float or None
        Value in each case, None where it has no such figure. [unit]
    differences : tuple of float or None
        Value less the value in the first case. [unit]
    """

    name: str
    unit: str
    meaning: str
    values: tuple[float | None, ...]
    differences: tuple[float | None, ...]

    @property
    def ratios(self) -> tuple[float | None, ...]:
        """Value over the value in the first case, None where that is missing or not above 0. [-]"""
        first = self.values[0]
        if first is None or first <= 0.0:
            return (None,) * len(self.values)
        return tuple(
            None if value is None or value < 0.0 else value / first for value in self.values
        )


@dataclass(frozen=True)
class Comparison:
    """Several cases side by side.

    Parameters
    ----------
    labels : tuple of str
        One per case, the first is the one compared with.
    rows : tuple of ComparisonRow
        Key figures that at least one case has.
    checks : tuple of tuple of Check
        Verdicts of each case.
    results : tuple of Result
        The results.
    """

    labels: tuple[str, ...]
    rows: tuple[ComparisonRow, ...]
    checks: tuple[tuple[Check, ...], ...]
    results: tuple[Result, ...]
