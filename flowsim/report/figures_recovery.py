"""Figure of how the air gets clean after switching on."""

from __future__ import annotations

import numpy as np

from flowsim.report._kit import COLOURS, Sheet, new_figure
from flowsim.report._units import number
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import Recovery

__all__ = ["recovery_curve"]

MOST = 6  # places
LOW = -3.0  # power of ten at the lower edge
STYLES = ("-", "--", "-.", ":")
TICKS = ("0.1 %", "1 %", "10 %", "100 %")


def _seconds(value: float | None) -> str:
    """Return a time in words."""
    return "never" if value is None else f"{number(value, 2)} s"


def _reading(recovery: Recovery) -> str:
    """Return one sentence on the time until the air is clean."""
    if recovery.why:
        return recovery.why
    if recovery.time is None:
        return "The worst place does not stay below one hundredth of room air."
    return f"Room air falls to one hundredth within {_seconds(recovery.time)} at every place."


def _end(recovery: Recovery) -> float:
    """Return the end of the time axis: all marks show, and not much more. [s]."""
    times = (recovery.time, recovery.mixed_time, recovery.piston_time)
    known = [item for item in times if item is not None]
    return 1.15 * max(known) if known else float(recovery.times[-1])


def recovery_curve(result: Result) -> Sheet | None:
    """Draw the share of room air over each place after switching on.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None without a recovery.
    """
    recovery = None if result.transport is None else result.transport.recovery
    if recovery is None or recovery.times.size < 2:
        return None
    title = "How long after switching on is the air clean?"
    figure = new_figure(3.8)
    axes = figure.add_subplot()
    shares = np.log10(np.maximum(recovery.shares, 10.0 ** (LOW - 1.0)))
    worst = np.argsort(-shares.max(axis=0))[:MOST]
    for rank, index in enumerate(sorted(worst)):
        style = STYLES[rank % len(STYLES)]
        name = recovery.places[index]
        axes.plot(
            recovery.times, shares[:, index], ls=style, color=COLOURS[rank], lw=1.8, label=name
        )
    axes.axhline(-2.0, color="#222222", lw=1.0, ls="--")
    marks = (
        ("o", recovery.time, "1 in 100 at the worst place"),
        ("v", recovery.mixed_time, "if fully mixed"),
        ("^", recovery.piston_time, "as a piston"),
    )
    for mark, at, name in marks:
        if at is not None:
            axes.plot(at, -2.0, mark, color="#222222", ms=7.0, label=f"{name}: {_seconds(at)}")
    axes.set(xlim=(0.0, _end(recovery)), ylim=(LOW, 0.08))
    axes.set(xlabel="time since switching on [s]", ylabel="share of room air")
    axes.set_yticks(range(round(LOW), 1), TICKS)
    axes.grid(True)
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5))
    axes.set_title(title)
    return Sheet("recovery", title, _reading(recovery), figure)
