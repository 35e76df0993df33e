"""A sweep: its case, its points, and what is kept of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from flowsim.batch.file_faults import faults_in_order, model_problems
from flowsim.batch.planning import Layout, kept_figures, lay_out
from flowsim.batch.point_keys import CaseText, case_text, named
from flowsim.batch.points import Point
from flowsim.batch.sampling import Spacing
from flowsim.batch.sweep_schema import Output, Sample, SweepFile
from flowsim.case.schema import Case
from flowsim.errors import CaseError

__all__ = ["Output", "Point", "Range", "Sample", "Sweep", "planned", "point_key"]
__all__ += ["sweep_from_python"]

_SAMPLES = 3


@dataclass(frozen=True)
class Range:
    """A range of values of an axis, for a sweep built in Python.

    Parameters
    ----------
    first, last : float or str
        Its ends, SI numbers or strings with a unit; for linked keys one for each. [SI]
    count : int or None
        Values from end to end; None = the sample draws it. [-]
    spacing : {"even", "ratio"}
        Equal steps, or equal ratios. [-]
    """

    first: object
    last: object
    count: int | None = None
    spacing: Spacing = "even"


@dataclass(frozen=True, eq=False)
class Sweep:
    """Everything a sweep runs.

    Parameters
    ----------
    title, question : str
        What it is and what it shall answer. [-]
    base : Case
        The case that each point changes; changes for every point are in it. [SI]
    base_text_path : str
        Its file; empty for a case from Python. [-]
    keys, labels, units : tuple of str
        Per key of the axes: path, name for pictures, SI unit ("-" for a plain number, empty for
        words). [-]
    points : sequence of Point
        In a fixed order; made when asked for. [-]
    skipped : int
        Points that the conditions leave out. [-]
    keep : tuple of str
        Key figures to keep. [-]
    output : Output
        Points with field files. [-]
    text : CaseText or None
        Makes `point_key` fast. [-]
    """

    title: str
    question: str
    base: Case
    base_text_path: str
    keys: tuple[str, ...]
    labels: tuple[str, ...]
    points: Sequence[Point]
    skipped: int = 0
    keep: tuple[str, ...] = ()
    output: Output = field(default_factory=Output)
    units: tuple[str, ...] = ()
    text: CaseText | None = field(default=None, repr=False)


def point_key(sweep: Sweep, point: Point) -> str:
    """Return the name of a point, the same whenever the same figures are asked of the same case.

    Parameters
    ----------
    sweep : Sweep
        The sweep. [-]
    point : Point
        One of its points. [-]

    Returns
    -------
    str
        SHA-256, in hexadecimal, of the hash of the changed case, which holds the version of the
        models, and of the key figures kept. [-]
    """
    known = None if sweep.text is None else sweep.text.hash_of(point.values)
    return named(known, sweep.base, point.changes, sweep.keep)


def planned(file: SweepFile, layout: Layout, case: Case, path: str, from_file: bool) -> Sweep:
    """Return the sweep that a file without faults describes.

    Parameters
    ----------
    file : SweepFile
        As written. [-]
    layout : Layout
        Its axes laid out. [-]
    case : Case
        Its case. [SI]
    path : str
        File of the case. [-]
    from_file : bool
        Whether bare numbers on keys with a dimension were refused. [-]

    Returns
    -------
    Sweep
        Ready to run.
    """
    points = layout.points
    some = {layout.accepted or 0, len(points) // 2, len(points) - 1}
    samples = [points[index].changes for index in sorted(some)]
    return Sweep(
        title=file.title,
        question=file.question,
        base=case,
        base_text_path=path,
        keys=points.keys,
        labels=layout.labels,
        points=points,
        skipped=points.full_length - len(points),
        keep=kept_figures(file, case),
        output=file.output,
        units=tuple(key.unit for key in layout.keys),
        text=case_text(case, points.columns, samples, from_file),
    )


def sweep_from_python(
    case: Case,
    axes: Mapping[str | tuple[str, ...], Sequence[object] | Range],
    *,
    sample: Sample | Mapping[str, object] | None = None,
    skip: Sequence[str] = (),
    keep: Sequence[str] | str | None = None,
    output: Output | Mapping[str, object] | None = None,
    title: str = "",
) -> Sweep:
    """Build a sweep without a file.

    Parameters
    ----------
    case : Case
        The case that each point changes. [SI]
    axes : mapping
        Key path -> values or `Range`, the first axis slowest; a tuple of key paths that move
        together -> one list of values for each. [SI, or strings with a unit]
    sample : Sample or mapping, optional
        ``method``, ``count`` and ``seed`` of the axes whose range has no count. [-]
    skip : sequence of str
        Points to leave out, such as ``exhaust.flow > supply.flow``. [-]
    keep : sequence of str or "all", optional
        Key figures to keep; left out = those with limits and a short list. [-]
    output : Output or mapping, optional
        Points with field files. [-]
    title : str
        Left out = that of the case. [-]

    Returns
    -------
    Sweep
        Ready to run.

    Raises
    ------
    CaseError
        If something is wrong; all of it is listed at once.
    """
    written: dict[str, Any] = {
        "format": 1,
        "title": title or case.title,
        "case": "from Python",
        "axes": [_axis(keys, values) for keys, values in axes.items()],
        "skip": list(skip),
    }
    chosen = {"sample": sample, "output": output, "keep": keep}
    written |= {name: _plain(value) for name, value in chosen.items() if value is not None}
    try:
        file = SweepFile.model_validate(written)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        found = faults_in_order(model_problems(SweepFile, errors), {})
        raise CaseError("sweep", found) from None
    layout, problems = lay_out(file, case, from_file=False)
    if layout is None:
        raise CaseError("sweep", faults_in_order(problems, {}))
    return planned(file, layout, case, "", from_file=False)


def _axis(keys: str | tuple[str, ...], values: Sequence[object] | Range) -> dict[str, Any]:
    """Return an axis as a file would give it."""
    axis: dict[str, Any] = {"key": keys} if isinstance(keys, str) else {"keys": list(keys)}
    if not isinstance(values, Range):
        return {**axis, "values": _plain(values)}
    axis |= {"from": _plain(values.first), "to": _plain(values.last), "spacing": values.spacing}
    return axis if values.count is None else {**axis, "count": _plain(values.count)}


def _plain(value: Any) -> Any:
    """Return a value without arrays and models."""
    if hasattr(value, "model_dump"):
        return value.model_dump(exclude_unset=True)
    if hasattr(value, "tolist"):
        return value.tolist()
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | range):
        return [_plain(item) for item in value]
    return value
