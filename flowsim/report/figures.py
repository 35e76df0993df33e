"""All figures of one result."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from flowsim.report._kit import Picture, Sheet, png_bytes, style
from flowsim.report.figures_front import front_profiles
from flowsim.report.figures_network import network_sketch
from flowsim.report.figures_plan import downflow_plan
from flowsim.report.figures_plenum import plate_draw, plate_map, tube_draw
from flowsim.report.figures_section import side_section
from flowsim.simulate.result import Result

__all__ = ["draw_pictures", "draw_sheets"]

MAKERS: tuple[Callable[[Result], Sheet | None], ...] = (
    side_section,
    downflow_plan,
    plate_draw,
    plate_map,
    tube_draw,
    network_sketch,
)


def draw_sheets(result: Result) -> Iterator[Sheet]:
    """Draw every figure for which the result has data.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Yields
    ------
    Sheet
        Fronts first, then chamber, draw, tube and network.
    """
    yield from front_profiles(result)
    for make in MAKERS:
        sheet = make(result)
        if sheet is not None:
            yield sheet


def draw_pictures(
    result: Result, progress: Callable[[str], None] | None = None
) -> tuple[Picture, ...]:
    """Draw every figure as PNG.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]
    progress : callable or None
        Told the name of each figure that is drawn. [-]

    Returns
    -------
    tuple of Picture
        In the order of the report.
    """
    pictures = []
    with style():
        for sheet in draw_sheets(result):
            png = png_bytes(sheet.figure)
            pictures.append(Picture(sheet.name, sheet.title, sheet.reading, png))
            if progress is not None:
                progress(f"figure {sheet.name}")
    return tuple(pictures)
