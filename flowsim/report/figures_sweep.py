"""All pictures of a sweep."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.report._kit import Picture, Sheet, png_bytes, style
from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._sweep_bars import bars_sheet
from flowsim.report._sweep_lines import lines_sheet
from flowsim.report._sweep_maps import limits_map, map_axes_of, maps_sheet
from flowsim.report._sweep_pairs import pairs_sheet, trends_sheet
from flowsim.report._sweep_parallel import parallel_sheet
from flowsim.report.sweep_reading import SweepReading

__all__ = ["SweepChoice", "sweep_pictures", "sweep_sheets"]


@dataclass(frozen=True)
class SweepChoice:
    """Which figures are drawn over which axes; what is left out is chosen by itself.

    Parameters
    ----------
    figures : tuple of str
        Key figures of lines and maps, the first one leads.
    along, by : str
        Key or label of the axis along which lines run, and of the one that tells them apart.
    across, up : str
        Keys or labels of the two axes of the maps.
    """

    figures: tuple[str, ...] = ()
    along: str = ""
    by: str = ""
    across: str = ""
    up: str = ""


AUTOMATIC = SweepChoice()


def _axis(reading: SweepReading, name: str) -> SweepAxis | None:
    """Return an axis by key or label."""
    if not name:
        return None
    for axis in reading.axes:
        if name == axis.label or name in axis.keys:
            return axis
    known = ", ".join(key for axis in reading.axes for key in axis.keys)
    raise RangeError(f"'{name}' is no axis that varies; there are: {known or 'none'}")


def _check(reading: SweepReading, figures: Sequence[str]) -> None:
    """Refuse figures that the sweep has not kept."""
    for name in figures:
        if name not in reading.table.figures:
            known = ", ".join(reading.table.figures)
            raise RangeError(f"'{name}' is no figure that this sweep has kept; there are: {known}")


def _map_axes(reading: SweepReading, choice: SweepChoice) -> tuple[SweepAxis, SweepAxis] | None:
    """Return the axes of the maps."""
    across, up = _axis(reading, choice.across), _axis(reading, choice.up)
    if across is not None and up is not None:
        return across, up
    return map_axes_of(reading)


def _found(reading: SweepReading, choice: SweepChoice) -> Iterator[Sheet | None]:
    """Yield the figures that the points allow."""
    several = len(reading.axes) > 1
    places = _map_axes(reading, choice)
    if places is not None:
        yield limits_map(reading, *places, figure=choice.figures[0] if choice.figures else "")
    if several and not reading.grid:
        yield pairs_sheet(reading)
    if reading.grid or choice.along or not several:
        along, by = _axis(reading, choice.along), _axis(reading, choice.by)
        yield lines_sheet(reading, along, by, choice.figures)
    if several:
        yield bars_sheet(reading)
    if places is not None:
        yield maps_sheet(reading, *places, figures=choice.figures[1:])
    if several and not reading.grid:
        yield trends_sheet(reading)
    if len(reading.axes) > 2 or (several and not reading.grid):
        yield parallel_sheet(reading)


def sweep_sheets(reading: SweepReading, choice: SweepChoice = AUTOMATIC) -> Iterator[Sheet]:
    """Yield the figures of a sweep, not yet drawn.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    choice : SweepChoice
        Which figures over which axes. [-]

    Yields
    ------
    Sheet
        In the order of the page.

    Raises
    ------
    RangeError
        If an axis or figure is asked for that the sweep does not have.
    """
    _check(reading, choice.figures)
    if reading.reference is None or not reading.leading:
        return
    yield from (sheet for sheet in _found(reading, choice) if sheet is not None)


def sweep_pictures(reading: SweepReading, choice: SweepChoice = AUTOMATIC) -> tuple[Picture, ...]:
    """Draw the figures of a sweep.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]
    choice : SweepChoice
        Which figures over which axes. [-]

    Returns
    -------
    tuple of Picture
        In the order of the page; the same sweep gives the same bytes.

    Raises
    ------
    RangeError
        If an axis or figure is asked for that the sweep does not have.
    """
    with style():
        return tuple(
            Picture(sheet.name, sheet.title, sheet.reading, png_bytes(sheet.figure))
            for sheet in sweep_sheets(reading, choice)
        )
