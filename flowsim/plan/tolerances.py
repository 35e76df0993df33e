"""How far the values of a case may be off: read from a table file, held against the case."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path as FilePath
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from flowsim.batch.case_keys import CaseKey, case_data, find_key
from flowsim.batch.file_faults import faults_in_order, model_problems, shown
from flowsim.case.lines import lines_of_keys
from flowsim.case.schema import Case
from flowsim.case.schema_fields import Part, Switch, Text
from flowsim.case.schema_problem import Path, Problem
from flowsim.case.text import document, text_of
from flowsim.errors import CaseError, Fault
from flowsim.plan.spreads import SpreadError, ends_of_range, ends_of_spread
from flowsim.plan.tolerance import Tolerance, end_complaint, value_at
from flowsim.plan.usual_tolerances import usual_tolerances

__all__ = ["TolerancesFile", "read_tolerances", "stated_tolerances"]

OUTSIDE = ("format", "title", "question", "note", "limits", "numerics")
"""Parts of a case that are no property of the bench."""


class ToleranceRow(Part):
    """How far one value of the case may be off: a spread, or from and to."""

    key: Text
    """Key path in the case, such as ``work_surface.hole_diameter``."""
    spread: Any = None
    """As much more or less, such as "0.1 mm" or "2 %"; 0 = exactly as in the case."""
    first: Any = Field(default=None, alias="from")
    """Lower end, as written in a case file."""
    last: Any = Field(default=None, alias="to")
    """Upper end."""
    shape: Literal["even", "bell", "ratio"] = "even"
    """Even: all values equally likely; bell: 95 % of them inside; ratio: equal ratios."""
    reason: Text = ""
    """Where it comes from."""


class TolerancesFile(Part):
    """A table of tolerances as written, not yet held against a case."""

    format: Literal[1]
    """Version of the file format."""
    title: Text = ""
    """What it is."""
    usual: Switch = True
    """Whether keys that are not listed have their usual tolerance."""
    tolerances: Annotated[tuple[ToleranceRow, ...], Field()] = ()
    """Stated ones."""


def read_tolerances(path: str | FilePath, case: Case) -> tuple[Tolerance, ...]:
    """Read a table of tolerances for a case.

    Parameters
    ----------
    path : str or Path
        TOML file with ``format = 1`` and ``[[tolerances]]``. [-]
    case : Case
        The case whose values are uncertain. [SI]

    Returns
    -------
    tuple of Tolerance
        The stated ones, then the usual ones of other keys unless the file says no.

    Raises
    ------
    CaseError
        If the file cannot be read, is faulty or does not fit the case; lists all faults.
    """
    source = str(path)
    try:
        text = text_of(FilePath(path))
        data = document(text, source)
    except CaseError as error:
        raise CaseError(source, [_renamed(fault) for fault in error.faults]) from None
    try:
        lines: Mapping[Path, int] = lines_of_keys(text)
    except (IndexError, ValueError):
        lines = {(): 1}
    return _fitting(case, data, source, lines, from_file=True)


def stated_tolerances(
    case: Case, rows: Sequence[Mapping[str, Any]], usual: bool = True
) -> tuple[Tolerance, ...]:
    """Return tolerances stated in Python, with the usual ones of the other keys.

    Parameters
    ----------
    case : Case
        The case whose values are uncertain. [SI]
    rows : sequence of mapping
        Keys ``key``, ``spread`` or ``from`` and ``to``, ``shape``, ``reason`` as in a file;
        numbers are SI. [SI]
    usual : bool
        Whether keys that are not listed have their usual tolerance. [-]

    Returns
    -------
    tuple of Tolerance
        In the order given.

    Raises
    ------
    CaseError
        If a row is faulty or does not fit the case; lists all faults.
    """
    data = {"format": 1, "usual": usual, "tolerances": [dict(row) for row in rows]}
    return _fitting(case, data, "tolerances", {}, from_file=False)


def _renamed(fault: Fault) -> Fault:
    """Return a fault of a whole file in words for a table of tolerances."""
    message = fault.message.replace(
        "a case (`flowsim example` writes one to start from)", "a table"
    )
    return Fault(fault.key, message.replace("a case file", "a file of tolerances"), fault.line)


def _fitting(
    case: Case, data: dict[str, Any], source: str, lines: Mapping[Path, int], from_file: bool
) -> tuple[Tolerance, ...]:
    """Check everything, raise with all faults, or return the tolerances."""
    problems: list[Problem] = []
    usual = True
    try:
        usual = TolerancesFile.model_validate(data).usual
    except ValidationError as error:
        problems += model_problems(TolerancesFile, error.errors(include_url=False))
    reader = _Reader(case, from_file)
    rows = data.get("tolerances", ())
    for index, row in enumerate(rows if isinstance(rows, list | tuple) else ()):
        problems += reader.read(index, row)
    if problems:
        raise CaseError(source, faults_in_order(problems, lines))
    if not usual:
        return reader.spread_ones()
    others = [item for item in usual_tolerances(case) if reader.path(item.key) not in reader.found]
    return (*reader.spread_ones(), *others)


class _Reader:
    """The rows of a table, held against a case one by one."""

    def __init__(self, case: Case, from_file: bool) -> None:
        self.case = case
        self.data = case_data(case)
        self.from_file = from_file
        self.found: dict[Path, Tolerance | None] = {}

    def spread_ones(self) -> tuple[Tolerance, ...]:
        """Return the tolerances that are wider than nothing."""
        return tuple(item for item in self.found.values() if item is not None)

    def path(self, key: str) -> Path:
        """Return the path that a key of the case names."""
        return find_key(self.case, self.data, key).path

    def read(self, index: int, row: Any) -> Iterator[Problem]:
        """Read one row; yield what is wrong with it beyond what its model has said."""
        place: Path = ("tolerances", index)
        try:
            written = ToleranceRow.model_validate(row)
        except ValidationError:
            return
        try:
            key = find_key(self.case, self.data, written.key, self._example(written))
        except LookupError as error:
            yield Problem((*place, "key"), f"{error.args[0]} (got '{written.key}')")
            return
        complaint = self._unfit(key)
        if complaint:
            yield Problem((*place, "key"), complaint)
            return
        try:
            self.found[key.path] = self._tolerance(key, written)
        except SpreadError as error:
            yield Problem((*place, *error.keys), str(error))

    @staticmethod
    def _example(written: ToleranceRow) -> Any:
        """Return a value that the key shall take, if one is written."""
        return written.first if written.first is not None else written.spread

    def _unfit(self, key: CaseKey) -> str:
        """Return why a key cannot have a tolerance, empty if it can."""
        such = "expected a key with a size, such as work_surface.hole_diameter"
        if key.path[0] in OUTSIDE:
            return f"is no property of the bench (got '{key.name}'); {such}"
        if key.path in self.found:
            return f"is given twice (got '{key.name}'); expected each key once"
        value = value_at(self.case, key.path)
        is_list = isinstance(value, tuple) and all(isinstance(item, float) for item in value)
        if key.kind in ("quantity", "number") or (is_list and value):
            return ""
        kinds = {"whole": "a whole number", "choice": "a word or a switch"}
        what = kinds.get(key.kind, "a list or a table")
        return f"names {what} (got '{key.name}'); {such}"

    def _tolerance(self, key: CaseKey, written: ToleranceRow) -> Tolerance | None:
        """Return the tolerance of one row, None where it is nothing."""
        nominal = value_at(self.case, key.path)
        by_range = written.first is not None or written.last is not None
        if by_range == (written.spread is not None):
            got = "both" if by_range else "neither"
            raise SpreadError(f"has {got}; expected either spread, or from and to")
        if by_range:
            low, high = ends_of_range(key, written.first, written.last, self.from_file, nominal)
        else:
            low, high = ends_of_spread(key, written.spread, written.shape, self.from_file, nominal)
        if low == high:
            return None
        if written.shape == "ratio" and not low > 0.0:
            raise SpreadError(
                f"has no equal ratios down to {shown(low)}; expected ends above 0", "shape"
            )
        made = Tolerance(
            key=key.name, nominal=nominal, low=low, high=high, shape=written.shape,
            dimension=key.dimension, reason=written.reason or "stated without a reason",
            source="stated",
        )  # fmt: skip
        complaint = end_complaint(self.case, made)
        if complaint:
            raise SpreadError(complaint, "spread" if not by_range else "")
        return made
