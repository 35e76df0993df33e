"""The question of a sweep answered in a few plain sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from flowsim.report._sweep_axes import SweepAxis
from flowsim.report._units import percent, words
from flowsim.report.sweep_reading import ALL_MET, SweepReading, point_words
from flowsim.report.sweep_sensitivity import Sensitivity
from flowsim.report.sweep_table import DONE

__all__ = ["ALONE", "answers", "binding_limits", "failures"]

FAINT = 0.01  # share of the variance below which an axis is not told of
ALONE = 0.1  # share of the variance below which no single axis decides
ONE_WAY = 0.7  # of the share by an axis alone that its rank correlation must tell
CLEAR = 0.3  # rank correlation from which a direction is told
NARROW = 0.95  # share of a range from which nobody calls it narrower
MOST_LIMITS = 3
MOST_AXES = 3


def _share(value: float) -> str:
    """Return a share of a variance in words."""
    return f"{100.0 * min(max(value, 0.0), 1.0):.0f} %"


def _direction(name: str, found: Sensitivity) -> str:
    """Return which way a figure goes with its first axis, where it goes one way."""
    trend, alone = float(found.trend[found.order[0]]), float(found.first[found.order[0]])
    if np.isnan(trend) or abs(trend) < CLEAR or trend**2 < ONE_WAY * alone:
        return ""
    return f"; {name} {'rises' if trend > 0.0 else 'falls'} with it"


def _beside(reading: SweepReading, found: Sensitivity) -> str:
    """Return the axes that matter next."""
    told = [
        f"{reading.axes[place].label} {_share(float(found.leading[place]))}"
        for place in found.order[1 : 1 + MOST_AXES]
        if found.leading[place] >= FAINT
    ]
    return f"; then {', '.join(told)}" if told else "; the others hardly matter"


def _close(found: Sensitivity) -> bool:
    """Return whether sampling leaves open which of the first two axes matters most."""
    first, second = found.order[:2]
    gap = float(found.leading[first] - found.leading[second])
    return gap < float(np.hypot(found.leading_error[first], found.leading_error[second]))


def _of_ranks(reading: SweepReading, found: Sensitivity, name: str) -> str:
    """Return which axis a figure follows most closely."""
    top = found.order[0]
    trend = found.trend[top]
    told = f"rank correlation {trend:+.2f}" if np.isfinite(trend) else "by rank"
    return f"{name} follows {reading.axes[top].label} most closely ({told})"


def _matters(reading: SweepReading, figure: str, name: str) -> str:
    """Return which axis matters most for one figure."""
    found = reading.found[figure]
    if not found.order:
        return f"For {name} nothing can be told: {found.note}."
    top = found.order[0]
    if len(reading.axes) == 1:
        return f"One axis is varied{_direction(name, found)}."
    if found.method == "means of groups" and found.leading[top] < ALONE:
        most = _share(float(found.leading[top]))
        return f"No axis alone decides on {name} (at most {most}): combinations do."
    if found.method == "rank correlation":
        text = _of_ranks(reading, found, name)
    else:
        label = reading.axes[top].label
        alone, whole = _share(float(found.first[top])), _share(float(found.leading[top]))
        joint = f" ({whole} with what it does together with others)" if alone != whole else ""
        text = f"{label} matters most for {name}: alone {alone} of the variance{joint}"
        text += _beside(reading, found) + _direction(name, found)
    close = ". Sampling leaves open which of the first two matters more" if _close(found) else ""
    return f"{text}{close}."


def _narrower(axis: SweepAxis, reading: SweepReading) -> str:
    """Return where on an axis the points lie that meet every limit, empty if all along it."""
    places = axis.place[reading.table.meets_all]
    if len(np.unique(places)) == len(axis.levels):
        return ""
    ends = axis.levels[[int(places.min()), int(places.max())]]
    if not axis.is_text and np.ptp(ends) > NARROW * np.ptp(axis.levels):
        return ""
    return f"{axis.label} {axis.told_range(places)}"


def binding_limits(reading: SweepReading) -> list[tuple[str, int, int]]:
    """Return how often each limit is missed.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    list of tuple
        Limit, finished points that do not meet it, and points at which it is not shown; most
        often missed first.
    """
    table = reading.table
    rows = [
        (name, int((states == "not met").sum()), int((table.done & (states == "not shown")).sum()))
        for name, states in table.states.items()
    ]
    return sorted(rows, key=lambda row: (-row[1], -row[2], row[0]))


def _most_missed(reading: SweepReading) -> str:
    """Return which limits are missed most often."""
    done = int(reading.table.done.sum())
    missed = [row for row in binding_limits(reading) if row[1]][:MOST_LIMITS]
    if not missed:
        return ""
    told = ", ".join(f"{words(name)} at {count} of {done}" for name, count, _ in missed)
    return f" Most often missed: {told}."


def _where(reading: SweepReading) -> str:
    """Return where every limit is met."""
    table = reading.table
    done, met = int(table.done.sum()), int(table.meets_all.sum())
    if not reading.has_limits:
        return "The case states no limits, so every point counts as usable."
    open_ones = int((table.done & (table.misses == 0)).sum()) - met
    rest = f" At {open_ones} more no limit is missed, but not all are shown." if open_ones else ""
    if not met:
        return f"At none of {done} points.{rest}{_most_missed(reading)}"
    narrow = [text for axis in reading.axes if (text := _narrower(axis, reading))]
    where = f", all of them at {'; '.join(narrow)}" if narrow else ", all along every axis"
    return f"At {met} of {done} points{where}.{rest}{_most_missed(reading)}"


def _at_the_end(reading: SweepReading, row: int) -> str:
    """Return the axes at whose end a point lies."""
    ends = [
        axis.label
        for axis in reading.axes
        if not axis.is_text
        and len(axis.levels) > 2
        and int(axis.place[row]) in (0, len(axis.levels) - 1)
    ]
    if not (ends and reading.grid):
        return ""
    return f" It lies at the end of the range of {' and '.join(ends)}: look further there."


def _best(reading: SweepReading) -> str:
    """Return the best point."""
    row = reading.reference
    if row is None or not reading.leading:
        return "No point came to its end with a figure to rank by."
    side = "largest" if reading.largest else "smallest"
    value = f"{words(reading.leading)} {reading.told(reading.leading, row)}"
    point = f"Point {reading.table.numbers[row]}: {point_words(reading, row) or 'the only one'}"
    if reading.any_meets:
        kind = "" if not reading.has_limits else " of those that meet every limit"
        return f"{point} ({value}, the {side}{kind}).{_at_the_end(reading, row)}"
    missed = int(reading.table.misses[row])
    return f"No point meets every limit. {point} misses least ({missed} not met; {value})."


def failures(reading: SweepReading) -> list[tuple[str, int]]:
    """Return how many points failed, and how.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Returns
    -------
    list of tuple
        Status and number of points, most first.
    """
    found, count = np.unique(reading.table.status, return_counts=True)
    rows = [(str(name), int(size)) for name, size in zip(found, count, strict=True)]
    return sorted((row for row in rows if row[0] != DONE), key=lambda row: (-row[1], row[0]))


def _run(reading: SweepReading) -> str:
    """Return how much was run."""
    table = reading.table
    planned = max(table.planned, len(table))
    text = f"{int(table.done.sum())} of {planned} points came to their end"
    failed = [f"{count} {name}" for name, count in failures(reading)]
    text += f"; {', '.join(failed)}" if failed else ""
    left = planned - len(table)
    text += f"; {left} not run yet" if left else ""
    skipped = f" {table.skipped} more were skipped by a condition." if table.skipped else ""
    unseen = "" if not left else f" All below rests on {percent(len(table) / planned)} of the plan."
    return f"{text}.{skipped}{unseen}"


def answers(reading: SweepReading) -> Iterator[tuple[str, str]]:
    """Yield the answers to what people ask of a sweep.

    Parameters
    ----------
    reading : SweepReading
        The sweep. [SI]

    Yields
    ------
    tuple of str
        Question and answer, one to three sentences.
    """
    yield "Which point is best?", _best(reading)
    yield "Where is every limit met?", _where(reading)
    if reading.leading in reading.found:
        text = _matters(reading, reading.leading, words(reading.leading))
        yield "Which axis matters most?", text
    if ALL_MET in reading.found and reading.found[ALL_MET].order and len(reading.axes) > 1:
        yield "Which decides on the limits?", _matters(reading, ALL_MET, "meeting every limit")
    yield "How much was run?", _run(reading)
