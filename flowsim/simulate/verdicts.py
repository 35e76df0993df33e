"""Verdicts against the limits of a case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from flowsim.case.schema import Case, Limits
from flowsim.simulate.result import Check, Quantity, State

__all__ = ["Doubt", "judge"]

Side = Literal["min", "max"]


@dataclass(frozen=True)
class Doubt:
    """How far a figure may lie from its value.

    Parameters
    ----------
    below, above : float
        As much lower or higher, in the figure's unit. [any]
    """

    below: float
    above: float

    @classmethod
    def even(cls, size: float) -> Doubt:
        """Return a doubt of the same size either way."""
        return cls(size, size)

    @property
    def any(self) -> bool:
        """Whether there is one."""
        return max(self.below, self.above) > 0.0


NONE = Doubt(0.0, 0.0)


def _state(margin: float, doubt: Doubt, kind: Side, indicative: bool) -> State:
    """Return the state of one verdict, whose margin is positive on the met side."""
    against, in_favour = (doubt.below, doubt.above) if kind == "min" else (doubt.above, doubt.below)
    if indicative:
        return "not shown"
    if margin >= against:
        return "met"
    return "not met" if margin < 0.0 and -margin >= in_favour else "not shown"


def _basis(quantity: Quantity, doubt: Doubt, unit: str) -> str:
    """Return where the value comes from and how far it is trusted."""
    if quantity.value is None:
        return "this case or this fidelity gives no such figure"
    if quantity.indicative:
        return f"limit set in the case; {quantity.source}, outside its range: only the trend counts"
    if doubt.any:
        unit = "" if unit == "-" else f" {unit}"
        spread = f"{doubt.above:.2g}{unit}"
        if abs(doubt.below - doubt.above) > 0.01 * max(doubt.below, doubt.above):
            spread = f"{doubt.below:.2g} down, {doubt.above:.2g}{unit} up"
        return f"limit set in the case; {quantity.source}, model spread {spread}"
    return f"limit set in the case; {quantity.source}"


def _check(name: str, quantity: Quantity, limit: float, kind: Side, doubt: Doubt) -> Check:
    """Return one verdict."""
    basis = _basis(quantity, doubt, quantity.unit)
    if quantity.value is None:
        return Check(name, None, limit, None, kind, "not shown", basis, quantity.unit)
    value = quantity.value
    margin = value - limit if kind == "min" else limit - value
    state = _state(margin, doubt, kind, quantity.indicative)
    return Check(name, value, limit, margin, kind, state, basis, quantity.unit)


def judge(
    case: Case, quantities: Mapping[str, Quantity], doubts: Mapping[str, Doubt]
) -> tuple[Check, ...]:
    """Judge key figures against the limits that the case sets.

    Parameters
    ----------
    case : Case
        Its limits.
    quantities : mapping of str to Quantity
        Key figures; a range applies to the governing one and so to each.
    doubts : mapping of str to Doubt
        Model spread of a figure, by its full name or for all of that kind by the plain one; a
        margin inside it is "not shown".

    Returns
    -------
    tuple of Check
        One per side of each range. A figure of which the smallest matters is governed by its
        worst item; where several items exist each is judged.
    """
    checks: list[Check] = []
    for name in Limits.model_fields:
        wanted = getattr(case.limits, name)
        if name == "measure_height" or wanted is None:
            continue
        keys = [key for key in quantities if key.startswith(f"{name}[")] or [name]
        for key in keys:
            doubt = doubts.get(key, doubts.get(name, NONE))
            if wanted.min is not None:
                checks.append(_check(key, quantities[key], wanted.min, "min", doubt))
            if wanted.max is not None:
                checks.append(_check(key, quantities[key], wanted.max, "max", doubt))
    return tuple(checks)
