"""What a sweep found: its axes, the points that meet the limits, the best ones, what matters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.report._sweep_axes import SweepAxis, axes_of, is_grid
from flowsim.report._units import base_name, lone_copies, quantity_text, shown, words
from flowsim.report.sweep_sensitivity import Sensitivity, sensitivities
from flowsim.report.sweep_table import SweepTable
from flowsim.simulate.registry import FIGURES

__all__ = ["ALL_MET", "SweepReading", "point_words", "read_sweep_table"]

LEADING = "balance_margin"
ALL_MET = "every limit met"
"""Stands for a figure that is 1 where a point meets every limit and else 0."""

MOST_FIGURES = 12


@dataclass(frozen=True, eq=False)
class SweepReading:
    """What a sweep found.

    Parameters
    ----------
    table : SweepTable
        Its points. [SI]
    axes : tuple of SweepAxis
        Axes that vary. [any]
    grid : bool
        Whether the points lie on a grid. [-]
    leading : str
        Figure by which points are ranked, empty where there is none.
    largest : bool
        Whether its largest value is best. [-]
    figures : tuple of str
        Figures that are shown, the leading one first, then those with limits.
    best : array, shape (m,)
        Rows of the best points, best first: those that meet every limit, or, where none does,
        those that miss least. [-]
    any_meets : bool
        Whether any point meets every limit. [-]
    found : mapping of str to Sensitivity
        For each figure shown, and for whether every limit is met.
    """

    table: SweepTable
    axes: tuple[SweepAxis, ...]
    grid: bool
    leading: str
    largest: bool
    figures: tuple[str, ...]
    best: IntArray
    any_meets: bool
    found: Mapping[str, Sensitivity] = field(default_factory=dict)

    @property
    def reference(self) -> int | None:
        """Row of the best point, through which cuts are laid; None where no point is done [-]."""
        return int(self.best[0]) if len(self.best) else None

    @property
    def has_limits(self) -> bool:
        """Whether the case states limits [-]."""
        return bool(self.table.states)

    def drawn(self, figure: str) -> FloatArray:
        """Return a figure of all points in the unit people use, shape (n,) [any]."""
        factor = shown(figure, self.table.unit(figure))[0]
        values = factor * self.table.figures[figure]
        return np.where(self.table.done & np.isfinite(values), values, np.nan)

    def drawn_limits(self, figure: str) -> tuple[float | None, float | None]:
        """Return the range wanted of a figure in the unit people use [any]."""
        factor = shown(figure, self.table.unit(figure))[0]
        low, high = self.table.limit_of(figure)
        return (None if low is None else factor * low), (None if high is None else factor * high)

    def heading(self, figure: str) -> str:
        """Return a figure with its unit in brackets [text]."""
        return f"{words(figure)} [{shown(figure, self.table.unit(figure))[1] or '-'}]"

    def told(self, figure: str, row: int) -> str:
        """Return a figure of one point in words, with its unit [text]."""
        value = float(self.table.figures[figure][row])
        return quantity_text(figure, None if np.isnan(value) else value, self.table.unit(figure))

    def order(self) -> tuple[SweepAxis, ...]:
        """Return the axes, the one that matters most for the leading figure first [any]."""
        found = self.found.get(self.leading)
        ranked = () if found is None else found.order
        return tuple(self.axes[place] for place in ranked) or self.axes


def _has_values(table: SweepTable, name: str) -> bool:
    """Return whether any finished point has a figure."""
    return name in table.figures and bool(np.isfinite(table.figures[name][table.done]).any())


def _limited(table: SweepTable) -> list[str]:
    """Return the figures with limits that have values, without copies of the plain ones."""
    copies = lone_copies(table.figures)
    return [
        name
        for name in table.figures
        if name not in copies and table.limit_of(name) != (None, None) and _has_values(table, name)
    ]


def _leading(table: SweepTable) -> str:
    """Return the figure by which points are ranked."""
    wanted = [table.ranking.figure, LEADING, *_limited(table), *table.figures]
    return next((name for name in wanted if _has_values(table, name)), "")


def _largest(table: SweepTable, figure: str) -> bool:
    """Return whether the largest value of a figure is best."""
    if table.ranking.largest is not None and figure == table.ranking.figure:
        return table.ranking.largest
    low, high = table.limit_of(figure)
    if (low is None) != (high is None):
        return high is None
    known = FIGURES.get(base_name(figure))
    return known is None or known.worst == "smallest"


def _shown(table: SweepTable, leading: str) -> tuple[str, ...]:
    """Return the figures that are shown."""
    names = dict.fromkeys([leading, *_limited(table)]) if leading else {}
    return tuple(names)[:MOST_FIGURES]


def _ranked(table: SweepTable, leading: str, largest: bool) -> tuple[IntArray, bool]:
    """Return the best rows, best first, and whether they meet every limit."""
    usable: BoolArray = table.done.copy()
    merit = np.zeros(len(table))
    if leading:
        merit = table.figures[leading] * (-1.0 if largest else 1.0)
        usable &= ~np.isnan(merit)
    met = usable & table.meets_all
    rows = np.flatnonzero(met if met.any() else usable)
    keys = (table.numbers[rows], merit[rows], table.unshown[rows], table.misses[rows])
    return rows[np.lexsort(keys)][: table.ranking.count], bool(met.any())


def _found(
    table: SweepTable, axes: tuple[SweepAxis, ...], figures: tuple[str, ...]
) -> dict[str, Sensitivity]:
    """Return what each figure depends on."""
    if not axes:
        return {}
    outcomes = {name: table.figures[name] for name in figures}
    if table.states:
        outcomes[ALL_MET] = table.meets_all.astype(np.float64)
    columns = [table.values[axis.first] for axis in axes]
    return sensitivities(columns, outcomes, table.done)


def read_sweep_table(table: SweepTable) -> SweepReading:
    """Find out what a sweep says.

    Parameters
    ----------
    table : SweepTable
        Finished points. [SI]

    Returns
    -------
    SweepReading
        Axes, best points and sensitivity.
    """
    axes = axes_of(table)
    leading = _leading(table)
    largest = _largest(table, leading) if leading else True
    figures = _shown(table, leading)
    best, any_meets = _ranked(table, leading, largest)
    found = _found(table, axes, figures)
    return SweepReading(
        table, axes, is_grid(axes), leading, largest, figures, best, any_meets, found
    )


def point_words(reading: SweepReading, row: int) -> str:
    """Return where a point lies, in words.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    row : int
        Row of the point. [-]

    Returns
    -------
    str
        Such as "supply.fan.frequency = 37 Hz, plenum.height = 110 mm".
    """
    return ", ".join(f"{axis.label} = {axis.told(int(axis.place[row]))}" for axis in reading.axes)
