"""Several cases, or one case with varied values, read to be laid side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from flowsim.case.read import read_case
from flowsim.case.schema import Case
from flowsim.case.written_changes import combinations, variant_name
from flowsim.errors import CaseError, Fault

__all__ = ["MOST_VARIANTS", "read_variants"]

MOST_VARIANTS = 100
"""Cases that may stand side by side. [-]"""


def read_variants(
    paths: Sequence[str], changes: Mapping[str, str], vary: Sequence[str]
) -> tuple[list[tuple[str, Case]], list[str]]:
    """Read case files, each with every combination of varied values.

    Parameters
    ----------
    paths : sequence of str
        Case files. [-]
    changes : mapping of str to str
        Key path -> value, the same for all cases. [as written]
    vary : sequence of str
        ``key=v1,v2,...`` for each varied key. [as written]

    Returns
    -------
    tuple of list of (str, Case) and list of str
        Cases with their names, and the faults of all of them, each once. [-]

    Raises
    ------
    CaseError
        If there are fewer than two cases or more than `MOST_VARIANTS`.
    """
    variants = combinations(vary, "--vary")
    _check_number(paths[0], len(variants) * len(paths))
    cases: list[tuple[str, Case]] = []
    complaints: dict[str, None] = {}
    for path, name in zip(paths, _names(paths), strict=True):
        for variant in variants:
            label = variant_name(name if len(paths) > 1 else "", variant) or name
            try:
                cases.append((label, read_case(path, {**changes, **variant})))
            except CaseError as error:
                complaints.update(dict.fromkeys(error.lines()))
    return cases, list(complaints)


def _check_number(first: str, total: int) -> None:
    """Refuse too few and too many cases."""
    if total < 2:
        message = "is one case; expected two or more, or --vary KEY=V1,V2,..."
        raise CaseError(first, [Fault("", message)])
    if total > MOST_VARIANTS:
        message = f"makes {total} cases; expected at most {MOST_VARIANTS}"
        raise CaseError("--vary", [Fault("", message)])


def _names(paths: Sequence[str]) -> list[str]:
    """Return a short name per file, the whole path where that would not tell them apart."""
    stems = [Path(path).stem for path in paths]
    return stems if len(set(stems)) == len(stems) else list(paths)
