"""All files of one result."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from flowsim import __version__
from flowsim.report._folder import FolderKind, whole_folder
from flowsim.report._json import json_text
from flowsim.report.figures import draw_pictures
from flowsim.report.html import report_page
from flowsim.report.summary import summary_document
from flowsim.report.vtu import write_fields, write_paths, write_plenum
from flowsim.simulate.result import Result

__all__ = ["write_report"]

RESULTS = FolderKind(
    "summary.json",
    "quantities",
    frozenset(
        {"summary.json", "case.json", "report.html", "fields.vtu", "plenum.vtu", "paths.vtu"}
    ),
    frozenset({"figures"}),
)
Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Tell nobody."""


def _write_meshes(result: Result, folder: Path) -> None:
    """Write the mesh files that the result has data for."""
    if result.field is not None:
        write_fields(result.field, folder / "fields.vtu", result.transport)
    if result.plate is not None:
        chamber = result.case.chamber
        write_plenum(result.plate, (chamber.width, chamber.depth), folder / "plenum.vtu")
    if result.transport is not None and result.transport.paths:
        write_paths(result.transport.paths, folder / "paths.vtu")


def _fill(result: Result, folder: Path, progress: Progress) -> None:
    """Write every file of a result."""
    document = summary_document(result)
    (folder / "summary.json").write_text(json_text(document), encoding="utf-8")
    resolved = json_text(document["case"]["resolved"])
    (folder / "case.json").write_text(resolved, encoding="utf-8")
    with ThreadPoolExecutor(1) as beside:
        meshes = beside.submit(_write_meshes, result, folder)
        pictures = draw_pictures(result, progress)
        meshes.result()
    if result.field is not None or result.plate is not None:
        progress("mesh files")
    (folder / "figures").mkdir()
    for picture in pictures:
        (folder / "figures" / f"{picture.name}.png").write_bytes(picture.png)
    page = report_page(result, pictures, __version__)
    (folder / "report.html").write_text(page, encoding="utf-8")
    progress("report.html")


def write_report(result: Result, folder: Path | str, progress: Progress | None = None) -> None:
    """Write summary, report page, figures and mesh files: all of them or none.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]
    folder : Path or str
        Where; an earlier folder of results is replaced. [-]
    progress : callable or None
        Told in words what has been written. [-]

    Raises
    ------
    OutputError
        If the folder holds anything that is not an earlier result, or the disk refuses; nothing
        is left behind then and an earlier result stays as it was.
    """
    with whole_folder(Path(folder), RESULTS) as fresh:
        _fill(result, fresh, progress or _silent)
