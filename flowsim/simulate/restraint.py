"""Reasons for which no verdict on vapour or dust may be called met in one state."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from flowsim.simulate.coupling import Coupled
from flowsim.simulate.transport_result import LimitCheck, ReleaseResult, Transport

__all__ = ["field_reason", "restrained"]

FIELD_FIGURES = frozenset({"front_velocity_min", "downflow_mean"})
LEAST_FLOW = 1e-9  # m3/s


def field_reason(state: Coupled, indicative: Collection[str]) -> str | None:
    """Return in words why the field carries no verdict on vapour and dust.

    Parameters
    ----------
    state : Coupled
        Solved models.
    indicative : collection of str
        Key figures of which only the trend counts.

    Returns
    -------
    str or None
        None where nothing speaks against verdicts.
    """
    if FIELD_FIGURES & set(indicative):
        return (
            "the flow it rests on is indicative: a front draws in, much air passes it, or the grid "
            "is too coarse"
        )
    flows, case = state.solution.flows, state.layout.case
    for leak in case.leaks:
        if leak.at == "plenum" and flows.get(f"leak {leak.label}", 0.0) > LEAST_FLOW:
            return "air of the plenum leaks into the room, with what was drawn into it"
    drawn = max((flows.get(name, 0.0) for name in ("exhaust fan", "exhaust suction")), default=0.0)
    if case.plenum is not None and drawn <= LEAST_FLOW:
        return "the exhaust draws nothing, so that what enters the plenum stays or comes back"
    return None


def restrained(transport: Transport, reason: str | None) -> Transport:
    """Return results whose verdicts against published limits say no more than they can.

    Parameters
    ----------
    transport : Transport
        What was computed.
    reason : str or None
        From `field_reason`.

    Returns
    -------
    Transport
        With a reason no published limit is "met".
    """
    if reason is None:
        return transport
    return replace(transport, releases=tuple(_release(one) for one in transport.releases))


def _release(item: ReleaseResult) -> ReleaseResult:
    """Return a release without a limit that is met."""
    return replace(item, checks=tuple(_check(check) for check in item.checks))


def _check(check: LimitCheck) -> LimitCheck:
    """Return a check that is not called met."""
    return replace(check, state="not shown") if check.state == "met" else check
