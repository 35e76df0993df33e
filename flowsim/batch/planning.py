"""A sweep held against its case: axes laid out, points counted, skipped and tried."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.batch.axis_values import AxisPlan, Base, plan_axis
from flowsim.batch.case_keys import CaseKey, case_data, comparable, find_key, taken
from flowsim.batch.points import Operand, Points, kept_places, operand_of
from flowsim.batch.sampling import hypercube_draws, sobol_draws
from flowsim.batch.skipping import Condition, Reader, read_condition
from flowsim.batch.sweep_rules import is_drawn, sweep_problems
from flowsim.batch.sweep_schema import ALL, Sample, SweepFile
from flowsim.batch.trial import refused_values
from flowsim.case.changes import changed
from flowsim.case.schema import Case
from flowsim.case.schema_limits import Limits
from flowsim.case.schema_problem import Path, Problem, did_you_mean, key_path
from flowsim.simulate.registry import FIGURES

__all__ = ["SHORT_LIST", "Layout", "kept_figures", "lay_out"]

SHORT_LIST = (
    "supply_flow",
    "exhaust_flow",
    "chamber_pressure",
    "front_velocity_mean",
    "front_inflow_share",
    "balance_margin",
    "draw_ratio",
    "downflow_mean",
)
"""Key figures that are kept whatever the limits are."""


@dataclass(frozen=True)
class Layout:
    """A sweep without faults.

    Parameters
    ----------
    points : Points
        Its points. [-]
    keys : tuple of CaseKey
        All keys of the axes, in order. [-]
    labels : tuple of str
        Name of each key for pictures. [-]
    accepted : int or None
        A point that the case is known to accept. [-]
    """

    points: Points
    keys: tuple[CaseKey, ...]
    labels: tuple[str, ...]
    accepted: int | None


def lay_out(
    file: SweepFile, case: Case | None, from_file: bool, before: Sequence[Problem] = ()
) -> tuple[Layout | None, list[Problem]]:
    """Hold a sweep against itself and its case.

    Parameters
    ----------
    file : SweepFile
        As written, faulty values left out. [as written]
    case : Case or None
        The case, changes for every point included; None if it is faulty. [SI]
    from_file : bool
        Whether bare numbers on keys with a dimension are refused. [-]
    before : sequence of Problem
        What is known to be wrong; what may only follow from that is not reported. [-]

    Returns
    -------
    tuple of Layout or None and list of Problem
        The sweep laid out, or all that is wrong beyond what is known. [-]
    """
    problems = _not_yet_known(sweep_problems(file), before)
    if case is None:
        return None, problems
    base = Base(case, case_data(case), from_file)
    problems += _not_yet_known(_figures(file, case), before)
    plans, found = _plans(file, base, [*before, *problems])
    problems += found
    if len(plans) == len(file.axes):
        problems += _clashes(file, list(plans.values()), base)
    conditions, found = _conditions(file, plans, base)
    problems += _not_yet_known(found, before)
    if problems or before:
        return None, problems
    return _laid(file, list(plans.values()), conditions, base)


def _not_yet_known(found: Iterable[Problem], before: Sequence[Problem]) -> list[Problem]:
    """Return the problems that do not merely follow from those found before."""
    scopes = {_scope(problem.path) for problem in before}
    tops = {scope[:1] for scope in scopes}
    return [
        problem
        for problem in found
        if _scope(problem.path) not in scopes
        and not any(path in tops for path in (problem.path, *problem.rests_on))
    ]


def _scope(path: Path) -> Path:
    """Return the table a path lies in."""
    return path[:2] if path[:1] in (("axes",), ("skip",), ("keep",)) else path[:1]


def _plans(
    file: SweepFile, base: Base, before: Sequence[Problem]
) -> tuple[dict[int, AxisPlan], list[Problem]]:
    """Hold each axis that is right by itself against the case."""
    faulty = {_scope(problem.path) for problem in before}
    plans: dict[int, AxisPlan] = {}
    problems: list[Problem] = []
    for index, axis in enumerate(file.axes):
        if ("axes", index) not in faulty:
            plan, found = plan_axis(axis, ("axes", index), base)
            problems += found
            plans |= {} if plan is None else {index: plan}
    return plans, problems


def kept_figures(file: SweepFile, case: Case) -> tuple[str, ...]:
    """Return the key figures to keep of each point.

    Parameters
    ----------
    file : SweepFile
        What the user wants. [-]
    case : Case
        Its limits are kept where nothing else is said. [SI]

    Returns
    -------
    tuple of str
        Names, each once. [-]
    """
    if file.keep == (ALL,):
        names = list(FIGURES)
    elif file.keep is not None:
        names = list(file.keep)
    else:
        names = [*_limited(case), *SHORT_LIST]
    return tuple(dict.fromkeys([*names, *filter(None, [file.output.best_by])]))


def _limited(case: Case) -> list[str]:
    """Return the key figures with limits."""
    names = [name for name in Limits.model_fields if name != "measure_height"]
    return [name for name in names if getattr(case.limits, name) is not None]


def _figures(file: SweepFile, case: Case) -> Iterator[Problem]:
    """Check what is asked for against what the case has."""
    if file.output.fields == "failed limits" and not _limited(case):
        message = "asks for points that fail a limit, but the case sets none"
        yield Problem(("output", "fields"), message, rests_on=(("case",),))
    named: list[tuple[Path, str]] = [
        (("keep", index), name) for index, name in enumerate(file.keep or ())
    ]
    labels = _labels(case_data(case))
    for path, name in [*named, (("output", "best_by"), file.output.best_by)]:
        label = name.partition("[")[2].removesuffix("]")
        if label and label not in labels:
            near = did_you_mean(label, {text: text for text in labels})
            known = f"; expected one of {', '.join(sorted(labels))}" if labels else ""
            yield Problem(path, f"nothing in the case has the label '{label}'{known}{near}")


def _labels(data: Any) -> set[str]:
    """Return all labels in a case."""
    if isinstance(data, dict):
        own = {data["label"]} if isinstance(data.get("label"), str) else set()
        return own.union(*(_labels(value) for value in data.values())) - {""}
    if isinstance(data, list):
        return set().union(*(_labels(value) for value in data))
    return set()


def _places(file: SweepFile) -> list[Path]:
    """Return where each key of the axes stands in the file."""
    places: list[Path] = []
    for index, axis in enumerate(file.axes):
        if axis.keys is None:
            places.append(("axes", index, "key"))
        else:
            places += [("axes", index, "keys", place) for place in range(len(axis.keys))]
    return places


def _clashes(file: SweepFile, plans: Sequence[AxisPlan], base: Base) -> Iterator[Problem]:
    """Find keys that stand in each other's way, so that one would have no effect."""
    keys = [key for plan in plans for key in plan.keys]
    places = _places(file)
    for later, key in enumerate(keys):
        for earlier in keys[:later]:
            if earlier.path == key.path:
                message = f"'{key.name}' is the same key as '{earlier.name}'; expected it once"
                yield Problem(places[later], message)
            elif _overlap(earlier.path, key.path):
                message = f"'{key.name}' and '{earlier.name}' lie one inside the other"
                yield Problem(places[later], f"{message}; expected keys that do not overlap")
            elif _replaces(earlier, key, base):
                message = f"'{key.name}' stands in the place of '{earlier.name}' on another axis"
                yield Problem(places[later], f"{message}; expected one of them")


def _overlap(first: Path, second: Path) -> bool:
    """Say whether one path lies inside the other."""
    short = min(len(first), len(second))
    return first[:short] == second[:short]


def _replaces(earlier: CaseKey, later: CaseKey, base: Base) -> bool:
    """Say whether a change of one key takes the other out."""
    together = case_data(base.case)
    changed(together, {earlier.name: 0.0})
    changed(together, {later.name: 0.0})
    return taken(together, earlier.path) is None


def _conditions(
    file: SweepFile, plans: Mapping[int, AxisPlan], base: Base
) -> tuple[list[tuple[Condition, Operand | CaseKey, Operand | CaseKey]], list[Problem]]:
    """Read the conditions of points to skip."""
    read: list[tuple[Condition, Operand | CaseKey, Operand | CaseKey]] = []
    problems: list[Problem] = []
    varied = {key.path for plan in plans.values() for key in plan.keys}
    complete = len(plans) == len(file.axes)
    reader = Reader(base.case, lambda name: find_key(base.case, base.data, name), base.from_file)
    for index, text in enumerate(file.skip):
        try:
            condition = read_condition(text, reader)
            left = _operand(condition.left, varied, base, complete)
            right = _operand(condition.right, varied, base, complete)
            read.append((condition, left, right))
        except LookupError as error:
            problems.append(Problem(("skip", index), str(error.args[0])))
    return read, problems


def _operand(
    side: CaseKey | float | str, varied: set[Path], base: Base, complete: bool
) -> Operand | CaseKey:
    """Return a varied key, or the value that a side has at every point."""
    if not isinstance(side, CaseKey) or side.path in varied:
        return side
    inside = [path for path in varied if _overlap(path, side.path)]
    if inside:
        raise LookupError(f"'{side.name}' overlaps '{key_path(inside[0])}', which an axis varies")
    value = _held(base.case, side.path)
    if value is None and complete:
        raise LookupError(f"'{side.name}' has no value: neither the case nor an axis gives one")
    return "" if value is None else comparable(side, value)


def _held(case: Case, path: Path) -> Any:
    """Return what the case holds at a path, defaults included."""
    value: Any = case
    for item in path:
        if isinstance(item, str):
            value = getattr(value, item, None)
        else:
            value = value[item] if isinstance(value, tuple) and item < len(value) else None
    return value


def _share(file: SweepFile) -> FloatArray:
    """Return the draws of all axes that are drawn, one column each."""
    dimensions = sum(is_drawn(axis) for axis in file.axes)
    sample: Sample | None = file.sample
    if sample is None or not dimensions:
        return np.zeros((1, 0))
    draw = hypercube_draws if sample.method == "latin hypercube" else sobol_draws
    return draw(sample.count, dimensions, sample.seed)


def _laid(
    file: SweepFile,
    plans: Sequence[AxisPlan],
    conditions: Sequence[tuple[Condition, Operand | CaseKey, Operand | CaseKey]],
    base: Base,
) -> tuple[Layout | None, list[Problem]]:
    """Lay out the points and try some of them."""
    share = _share(file)
    draws = iter(range(share.shape[1]))
    columns = tuple(
        plan.column(share[:, next(draws)] if is_drawn(axis) else share[:, :0], base.from_file)
        for axis, plan in zip(file.axes, plans, strict=True)
    )
    points = Points(columns)
    placed = [
        (condition, _placed(left, points), _placed(right, points))
        for condition, left, right in conditions
    ]
    points = Points(columns, kept_places(points, placed))
    if not len(points):
        message = f"leaves out all {points.full_length} points; expected some to remain"
        return None, [Problem(("skip",), message)]
    accepted, problems = refused_values(points, base.case)
    if problems:
        return None, problems
    keys = tuple(key for column in columns for key in column.keys)
    return Layout(points, keys, _names(file), accepted), []


def _placed(operand: Operand | CaseKey, points: Points) -> Operand:
    """Return where a varied key stands among the axes."""
    if not isinstance(operand, CaseKey):
        return operand
    place = operand_of(operand, points.columns)
    return "" if place is None else place


def _names(file: SweepFile) -> tuple[str, ...]:
    """Return the name of each key for pictures."""
    names: list[str] = []
    for axis in file.axes:
        if axis.keys is None:
            names.append(axis.label or axis.key or "")
        else:
            names += [f"{axis.label} ({key})" if axis.label else key for key in axis.keys]
    return tuple(names)
