"""What the tolerances of a case do to its limits and key figures, as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["QUANTILES", "Chance", "FigureSpread", "Influence", "LimitOdds", "Spread", "Uncertainty"]

QUANTILES = (0.05, 0.5, 0.95)
"""Shares of the draws that lie below the quantiles shown. [-]"""


@dataclass(frozen=True)
class Chance:
    """How often something came out, and what that says of its probability.

    Parameters
    ----------
    count, total : int
        Draws in which it was so, of how many. [-]
    share : float
        One over the other. [-]
    low, high : float
        95 % interval of the probability. [-]
    """

    count: int
    total: int
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class Influence:
    """How strongly one input moves a key figure.

    Parameters
    ----------
    key : str
        Input.
    rank : float
        Rank correlation between input and figure: -1 to 1. [-]
    low, high : float
        95 % interval of it. [-]
    named : bool
        Whether it is larger than chance alone would make any input's.
    """

    key: str
    rank: float
    low: float
    high: float
    named: bool


@dataclass(frozen=True)
class LimitOdds:
    """One limit of the case over all draws.

    Parameters
    ----------
    name, unit : str
        Key figure and its SI unit.
    least, most : float or None
        The limit: not below, not above. [unit]
    nominal : float or None
        Value of the case itself. [unit]
    nominal_state : str
        Its verdict.
    met, not_met, not_shown : Chance
        Draws by their verdict.
    chance_rank : float
        Rank correlation that chance alone exceeds, in any input, one time in twenty. [-]
    influences : tuple of Influence
        All inputs, the strongest first; empty where the figure does not move.
    """

    name: str
    unit: str
    least: float | None
    most: float | None
    nominal: float | None
    nominal_state: str
    met: Chance
    not_met: Chance
    not_shown: Chance
    chance_rank: float
    influences: tuple[Influence, ...]

    @property
    def named(self) -> tuple[Influence, ...]:
        """Inputs that move the figure more than chance would [-]."""
        return tuple(item for item in self.influences if item.named)


@dataclass(frozen=True)
class FigureSpread:
    """One key figure over all draws.

    Parameters
    ----------
    name, unit, meaning : str
        Key figure, its SI unit and one sentence.
    nominal : float or None
        Value of the case itself. [unit]
    count : int
        Draws that have a value. [-]
    quantiles : tuple of float
        Values below which the shares `QUANTILES` of these draws lie. [unit]
    errors : tuple of tuple of float or None
        95 % interval of each quantile; None where there are too few draws for an end. [unit]
    """

    name: str
    unit: str
    meaning: str
    nominal: float | None
    count: int
    quantiles: tuple[float, ...]
    errors: tuple[tuple[float | None, float | None], ...]


@dataclass(frozen=True)
class Spread:
    """One uncertain input.

    Parameters
    ----------
    key : str
        Key path in the case.
    nominal : float or None
        Value in the case; None for a list, which has a factor. [unit]
    low, high : float
        Ends. [unit]
    unit : str
        SI unit of the ends, "-" for numbers and factors.
    shape : {"even", "bell", "ratio"}
        How values lie between the ends.
    span : str
        The ends in words.
    reason, source : str
        Why so much, and who says so.
    """

    key: str
    nominal: float | None
    low: float
    high: float
    unit: str
    shape: str
    span: str
    reason: str
    source: str


@dataclass(frozen=True)
class Uncertainty:
    """A case under its tolerances.

    Parameters
    ----------
    title, question, case_hash : str
        Of the case.
    count, seed : int
        Draws of the Latin hypercube and what they began from. [-]
    inputs : tuple of Spread
        What was varied.
    limits : tuple of LimitOdds
        One per limit and labelled thing it applies to.
    together : tuple of Chance
        All limits at once: met, one not met, none unmet but one not shown; empty without limits.
    figures : tuple of FigureSpread
        Key figures that some draw has.
    statuses : mapping of str to int
        How many draws went which way. [-]
    errors : tuple of str
        What went wrong in the draws that gave no answer, each message once.
    """

    title: str
    question: str
    case_hash: str
    count: int
    seed: int
    inputs: tuple[Spread, ...]
    limits: tuple[LimitOdds, ...]
    together: tuple[Chance, ...]
    figures: tuple[FigureSpread, ...]
    statuses: Mapping[str, int] = field(default_factory=dict)
    errors: tuple[str, ...] = ()

    @property
    def unanswered(self) -> int:
        """Draws that gave no answer [-]."""
        return self.count - self.statuses.get("done", 0)
