"""All figures of one result."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor

from flowsim.report._kit import Picture, Sheet, drawn, png_of, style
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
    sheets, files = [], []
    with style(), ThreadPoolExecutor(1) as beside:
        for sheet in draw_sheets(result):
            sheets.append(sheet)
            files.append(beside.submit(png_of, drawn(sheet.figure)))
            if progress is not None:
                progress(f"figure {sheet.name}")
    return tuple(
        Picture(sheet.name, sheet.title, sheet.reading, file.result())
        for sheet, file in zip(sheets, files, strict=True)
    )
