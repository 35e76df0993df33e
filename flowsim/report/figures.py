"""All figures of one result."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor

from flowsim.report._kit import Picture, Sheet, drawn, png_of, style
from flowsim.report.figures_certainty import escape_certainty
from flowsim.report.figures_class import class_bars
from flowsim.report.figures_escape import escape_plan, escape_section
from flowsim.report.figures_exposure import exposures
from flowsim.report.figures_front import front_profiles
from flowsim.report.figures_ingress import ingress_plan, ingress_section
from flowsim.report.figures_network import network_sketch
from flowsim.report.figures_paths import particle_paths
from flowsim.report.figures_plan import downflow_plan
from flowsim.report.figures_plenum import plate_draw, plate_map, tube_draw
from flowsim.report.figures_recovery import recovery_curve
from flowsim.report.figures_section import side_section
from flowsim.simulate.result import Result

__all__ = ["draw_pictures", "draw_sheets"]

Made = Sheet | tuple[Sheet, ...] | None
MAKERS: tuple[Callable[[Result], Made], ...] = (
    front_profiles,
    side_section,
    downflow_plan,
    escape_plan,
    escape_section,
    escape_certainty,
    particle_paths,
    exposures,
    ingress_plan,
    ingress_section,
    class_bars,
    recovery_curve,
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
        Which way the front blows and the air goes; where vapour gets out, how sure that is and
        what is breathed of it; where room air gets in and how clean it is; draw and network.
    """
    for make in MAKERS:
        made = make(result)
        if isinstance(made, tuple):
            yield from made
        elif made is not None:
            yield made


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
