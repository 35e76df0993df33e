"""What must agree within a sweep file, before it is held against its case."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from flowsim.batch.sampling import is_power_of_two
from flowsim.batch.sweep_schema import ALL, MOST_POINTS, Axis, Sample, SweepFile
from flowsim.case.schema_problem import Path, Problem, did_you_mean
from flowsim.simulate.registry import FIGURES

__all__ = ["axis_keys", "is_drawn", "places_of", "sweep_problems"]


def axis_keys(axis: Axis) -> tuple[str, ...]:
    """Return the keys of an axis.

    Parameters
    ----------
    axis : Axis
        As written. [-]

    Returns
    -------
    tuple of str
        One, or the linked ones. [-]
    """
    return axis.keys if axis.keys is not None else (axis.key or "",)


def is_drawn(axis: Axis) -> bool:
    """Say whether the table ``sample`` draws an axis.

    Parameters
    ----------
    axis : Axis
        As written. [-]

    Returns
    -------
    bool
        True without values and without count. [-]
    """
    return axis.values is None and axis.count is None


def places_of(axis: Axis) -> int:
    """Return how many places of the grid an axis has.

    Parameters
    ----------
    axis : Axis
        As written. [-]

    Returns
    -------
    int
        1 for an axis that is drawn. [-]
    """
    if axis.values is None:
        return axis.count or 1
    if axis.keys is None:
        return len(axis.values)
    return max((len(item) for item in axis.values if isinstance(item, list | tuple)), default=0)


def sweep_problems(file: SweepFile) -> Iterator[Problem]:
    """Find what contradicts itself in a sweep file.

    Parameters
    ----------
    file : SweepFile
        The file. [as written]

    Yields
    ------
    Problem
        One per contradiction. [-]
    """
    if not file.axes:
        yield Problem(("axes",), "is an empty list; expected at least one table [[axes]]")
    for index, axis in enumerate(file.axes):
        yield from _axis(axis, ("axes", index))
    yield from _twice(file)
    yield from _sample(file)
    yield from _size(file)
    yield from _kept(file.keep or ())
    yield from _output(file)


def _axis(axis: Axis, path: Path) -> Iterator[Problem]:
    """Check one axis."""
    if (axis.key is None) == (axis.keys is None):
        what = "names no key" if axis.key is None else "gives key and keys at once"
        yield Problem(path, f"{what}; expected exactly one of key or keys")
    elif axis.keys is not None and len(axis.keys) < 2:
        message = f"has {len(axis.keys)} key(s); expected two or more that move together, or key"
        yield Problem((*path, "keys"), message)
    ends = {"from": axis.first, "to": axis.last}
    given = [name for name, value in ends.items() if value is not None]
    wanted = "expected exactly one of values or from + to"
    if axis.values is not None and (given or axis.count is not None):
        names = [*given, *(["count"] if axis.count is not None else [])]
        yield Problem(path, f"gives values and {' and '.join(names)} at once; {wanted}")
    elif axis.values is None and not given:
        yield Problem(path, f"has no values; {wanted}")
    elif axis.values is None and len(given) == 1:
        yield Problem(path, f"gives {given[0]} without {'to' if 'from' in given else 'from'}")
    if axis.values is not None and "spacing" in axis.model_fields_set:
        yield Problem((*path, "spacing"), "is of no use beside values; expected from and to")
    if axis.values is not None and not axis.values:
        yield Problem((*path, "values"), "is an empty list; expected at least one value")


def _twice(file: SweepFile) -> Iterator[Problem]:
    """Find keys that are varied twice, or varied and set."""
    seen: set[str] = set()
    for index, axis in enumerate(file.axes):
        for place, key in enumerate(axis_keys(axis)):
            path: Path = ("axes", index, "key")
            if axis.keys is not None:
                path = ("axes", index, "keys", place)
            if key and key in seen:
                yield Problem(path, f"'{key}' is varied twice; expected each key on one axis only")
            if key in file.changes:
                yield Problem(path, f"'{key}' is varied here and set in changes; expected one")
            seen.add(key)


def _sample(file: SweepFile) -> Iterator[Problem]:
    """Check that what is to be drawn can be drawn."""
    drawn = [index for index, axis in enumerate(file.axes) if is_drawn(axis)]
    if file.sample is None:
        for index in drawn:
            message = (
                "has neither values nor count; expected count, or a table [sample] that draws it"
            )
            yield Problem(("axes", index), message, rests_on=(("sample",),))
        return
    if not drawn:
        message = "draws nothing, as every axis has values or count; expected an axis without"
        yield Problem(("sample",), message, rests_on=(("axes",),))
    yield from _power(file.sample)


def _power(sample: Sample) -> Iterator[Problem]:
    """Check the number of Sobol points."""
    if sample.method == "sobol" and not is_power_of_two(sample.count):
        below = 1 << (sample.count.bit_length() - 1)
        yield Problem(
            ("sample", "count"),
            f"is not a power of two (got {sample.count}); expected 64, 128, 256, ... for "
            f"Sobol points; did you mean {below} or {2 * below}?",
        )


def _size(file: SweepFile) -> Iterator[Problem]:
    """Check the number of points."""
    total = 1 if file.sample is None else file.sample.count
    for axis in file.axes:
        total *= places_of(axis)
    if total > MOST_POINTS:
        message = f"make {total:,} points; expected at most {MOST_POINTS:,}"
        yield Problem(("axes",), message.replace(",", " "))


def _kept(names: Sequence[str]) -> Iterator[Problem]:
    """Check the key figures to keep."""
    for index, name in enumerate(names):
        plain = name.partition("[")[0].strip()
        if name == ALL and len(names) == 1:
            continue
        if plain not in FIGURES or ("[" in name and not name.endswith("]")):
            yield Problem(("keep", index), _no_figure(name, plain))
        elif name in names[:index]:
            yield Problem(("keep", index), f"names '{name}' twice")


def _no_figure(name: str, plain: str) -> str:
    """Return the words for a name that is no key figure."""
    near = did_you_mean(plain, {key: key for key in FIGURES})
    return f"is not a key figure (got '{name[:60]}'){near or _all_figures()}"


def _all_figures() -> str:
    """Return the words that list every key figure."""
    return f"; expected '{ALL}' or names from {', '.join(FIGURES)}"


def _output(file: SweepFile) -> Iterator[Problem]:
    """Check which points get field files."""
    output = file.output
    plain = output.best_by.partition("[")[0]
    if output.best_by and plain not in FIGURES:
        yield Problem(("output", "best_by"), _no_figure(output.best_by, plain))
    if output.fields == "best" and not output.best_by:
        message = "is missing; fields = 'best' expects a key figure that ranks the points"
        yield Problem(("output", "best_by"), message, absence=True)
