"""Verdicts against the limits of a case."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from flowsim.case.schema import Case, Limits
from flowsim.simulate.result import Check, Quantity, State

__all__ = ["judge"]

Side = Literal["min", "max"]


def _state(value: float, limit: float, kind: Side, doubt: float, indicative: bool) -> State:
    """Return the state of one verdict."""
    margin = value - limit if kind == "min" else limit - value
    if indicative or abs(margin) < doubt:
        return "not shown"
    return "met" if margin >= 0.0 else "not met"


def _basis(quantity: Quantity, doubt: float, unit: str) -> str:
    """Return where the value comes from and how far it is trusted."""
    if quantity.value is None:
        return "this case or this fidelity gives no such figure"
    if quantity.indicative:
        return f"limit set in the case; {quantity.source}, outside its range: only the trend counts"
    if doubt > 0.0:
        unit = "" if unit == "-" else f" {unit}"
        return f"limit set in the case; {quantity.source}, model spread {doubt:.2g}{unit}"
    return f"limit set in the case; {quantity.source}"


def _check(name: str, quantity: Quantity, limit: float, kind: Side, doubt: float) -> Check:
    """Return one verdict."""
    basis = _basis(quantity, doubt, quantity.unit)
    if quantity.value is None:
        return Check(name, None, limit, None, kind, "not shown", basis, quantity.unit)
    value = quantity.value
    margin = value - limit if kind == "min" else limit - value
    state = _state(value, limit, kind, doubt, quantity.indicative)
    return Check(name, value, limit, margin, kind, state, basis, quantity.unit)


def judge(
    case: Case, quantities: Mapping[str, Quantity], doubts: Mapping[str, float]
) -> tuple[Check, ...]:
    """Judge key figures against the limits that the case sets.

    Parameters
    ----------
    case : Case
        Its limits.
    quantities : mapping of str to Quantity
        Key figures; a range applies to the governing one and so to each.
    doubts : mapping of str to float
        Model spread of a figure, in its unit; a margin inside it is "not shown". [any]

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
            doubt = doubts.get(name, 0.0)
            if wanted.min is not None:
                checks.append(_check(key, quantities[key], wanted.min, "min", doubt))
            if wanted.max is not None:
                checks.append(_check(key, quantities[key], wanted.max, "max", doubt))
    return tuple(checks)
