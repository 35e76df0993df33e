"""What a sweep file says: a case, axes along which it varies, and what is kept of each point."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from flowsim.case.schema_fields import Part, Text

__all__ = ["ALL", "MOST_POINTS", "Axis", "Output", "Sample", "SweepFile"]

MOST_POINTS = 10_000_000
"""Points a sweep may have. [-]"""

ALL = "all"
"""Stands in `keep` for every key figure."""


def _names(value: Any) -> Any:
    """Return the one word for every figure as a list of one."""
    return (ALL,) if value == ALL else value


class Axis(Part):
    """One direction of a sweep: a key of the case, or several that move together."""

    key: Text | None = None
    """Key path in the case, such as ``openings.front.height``."""
    keys: tuple[Text, ...] | None = None
    """Linked keys in place of one."""
    values: tuple[Any, ...] | None = None
    """Values as in a case file; for linked keys one list for each key."""
    first: Any = Field(default=None, alias="from")
    """One end of a range; for linked keys a list."""
    last: Any = Field(default=None, alias="to")
    """The other end."""
    count: Annotated[int, Field(strict=True, ge=2, le=MOST_POINTS)] | None = None
    """Values from one end to the other; left out = the table ``sample`` draws them. [-]"""
    spacing: Literal["even", "ratio"] = "even"
    """Equal steps, or equal ratios."""
    label: Text = ""
    """Name for pictures; left out = the key."""


class Sample(Part):
    """How the axes without values and count are drawn, all at once."""

    method: Literal["latin hypercube", "sobol"]
    """How."""
    count: Annotated[int, Field(strict=True, ge=1, le=MOST_POINTS)]
    """Draws; a power of two for Sobol points. [-]"""
    seed: Annotated[int, Field(strict=True, ge=0, le=2**63 - 1)] = 1
    """The same seed draws the same points. [-]"""


class Output(Part):
    """Which points get field files and pictures of their own."""

    fields: Literal["none", "all", "best", "failed limits"] = "none"
    """Which points."""
    best_by: Text = ""
    """Key figure that ranks the points."""
    best: Literal["largest", "smallest"] = "largest"
    """Which end of the ranking."""
    best_count: Annotated[int, Field(strict=True, ge=1, le=10_000)] = 10
    """How many of the best. [-]"""


class SweepFile(Part):
    """One sweep as written, not yet held against its case."""

    format: Literal[1]
    """Version of the file format."""
    title: Text
    """What it is."""
    question: Text = ""
    """The question it answers."""
    case: Text
    """Case file, relative to the sweep file."""
    changes: dict[str, Any] = Field(default_factory=dict)
    """Key path -> value, for every point."""
    axes: tuple[Axis, ...]
    """Axes, the first one slowest."""
    sample: Sample | None = None
    """Draws of the axes that have neither values nor count."""
    skip: tuple[Text, ...] = ()
    """Points to leave out, such as ``exhaust.flow > supply.flow``."""
    keep: Annotated[tuple[Text, ...] | None, BeforeValidator(_names)] = None
    """Key figures to keep; left out = those with limits and a short list."""
    output: Output = Output()
    """Points with field files."""
