"""The window of settings as text: what to set, how far it may drift, what breaks first."""

from __future__ import annotations

from collections.abc import Iterator

from flowsim.report._text import columns, wrapped
from flowsim.report._units import number
from flowsim.report.window_result import Follow, SetPoint, Window
from flowsim.report.window_words import (
    METHOD,
    alone_text,
    beyond_text,
    broken_text,
    carried_text,
    drift_text,
    flip_texts,
    kind_text,
    percent_text,
    plain,
    point_text,
    setting_text,
    together_text,
)

__all__ = [
    "answer_lines",
    "flip_line",
    "follow_lines",
    "present_lines",
    "solves_text",
    "window_text",
]

NOTHING = "-"


def window_text(window: Window) -> str:
    """Return the window of settings as text for a terminal.

    Parameters
    ----------
    window : Window
        The window. [SI]

    Returns
    -------
    str
        The answer in the first five lines; no newline at the end.
    """
    return "\n".join(_lines(window))


def _lines(window: Window) -> Iterator[str]:
    """Yield all lines."""
    for line in answer_lines(window):
        yield from wrapped(line)
    yield ""
    for line in present_lines(window):
        yield from wrapped(line)
    flip = flip_line(window)
    if flip:
        yield from wrapped(flip)
    yield ""
    for line in follow_lines(window):
        yield from wrapped(line)
    yield ""
    yield from columns(_verdict_rows(window), "", right=())
    yield ""
    yield from _rest(window)


def _rest(window: Window) -> Iterator[str]:
    """Yield what was left out, what else is to be known, and how it was found."""
    if window.left_out:
        yield "Left out of the map:"
        for text in window.left_out:
            yield from wrapped(text, "  ")
    for text in window.notes:
        yield from wrapped(text)
    yield from wrapped(solves_text(window))
    for text in METHOD:
        yield from wrapped(text)


def answer_lines(window: Window) -> list[str]:
    """Return the answer: what to set, how far it may drift, what breaks first on which side.

    Parameters
    ----------
    window : Window
        The window. [SI]
    """
    point = window.proposed
    if point.drift is None:
        return _conflict_lines(window)
    place = ", ".join(
        f"{axis.name} {setting_text(axis, value)}"
        for axis, value in zip(window.axes, point.values, strict=True)
    )
    bad = carried_text(point) if _judged(window) else ""
    lines = [f"Set {place}: {_state_text(window)}."]
    if bad:
        lines = ["No setting was found at which the limits on vapour and dust are met too."]
        lines.append(f"Every mapped limit is met at {place}; there {bad}.")
    drift = point.drift
    alone = ", ".join(
        alone_text(axis, sides) for axis, sides in zip(window.axes, drift.alone, strict=True)
    )
    several = len(window.axes) > 1
    lines.append(f"May drift{' alone' if several else ''}: {alone}.")
    rest = " Vapour and dust not mapped." if _judged(window) else ""
    size = together_text(window, drift)
    lines.append(f"{'Both together' if several else 'Either way'}: {size}.{rest}")
    broken = [
        broken_text(axis, sides) for axis, sides in zip(window.axes, drift.alone, strict=True)
    ]
    lines.append(f"Breaks first: {broken[0]}{';' if several else '.'}")
    lines += [f"{text}." for text in broken[1:]]
    return lines


def _judged(window: Window) -> bool:
    """Return whether vapour and dust were judged at the proposal alone."""
    return any(not item.mapped for item in window.proposed.verdicts)


def _state_text(window: Window) -> str:
    """Return in words what is met at the proposed set point."""
    if not _judged(window):
        return f"every{' mapped' if window.left_out else ''} limit met"
    return "every limit met, vapour and dust too"


def _conflict_lines(window: Window) -> list[str]:
    """Return why no setting meets every limit, and the least bad one."""
    conflict, point = window.conflict, window.proposed
    lines = ["No setting on the map is shown to meet every limit."]
    if conflict is not None:
        if conflict.never_shown:
            named = " and ".join(conflict.never_shown)
            lines.append(
                f"The model gives no verdict at any setting on {named}, at fidelity "
                f"{window.fidelity}; another one may (--fidelity volume)."
            )
        if conflict.nowhere:
            named = " and ".join(conflict.nowhere)
            lines.append(f"No setting on the map meets {named}.")
        if len(conflict.pair) > 1:
            lines.append(f"These exclude each other: {' / '.join(conflict.pair)}.")
    missed = [f"{item.name} ({item.value}) {item.state}"
              for item in point.verdicts if item.state != "met"]  # fmt: skip
    place = point_text(window.axes, point.values)
    lines.append(f"Least bad: {place}; there {'; '.join(missed) or 'all others met'}.")
    if conflict is not None and conflict.pair:
        shifts = ", ".join(
            f"{plain(name)} {percent_text(shift)}"
            for name, shift in zip(conflict.pair, conflict.shifts, strict=True)
        )
        lines.append(f"By as much of a setting each is missed there: {shifts}.")
    ends = "; ".join(
        f"{axis.name} {number(axis.factor * axis.low)} to {setting_text(axis, axis.high)}"
        for axis in window.axes
    )
    lines.append(f"Mapped: {ends}.")
    return lines


def present_lines(window: Window) -> list[str]:
    """Return what the present set point has left.

    Parameters
    ----------
    window : Window
        The window. [SI]
    """
    point = window.present
    place = point_text(window.axes, point.values)
    if point.drift is None:
        missed = [f"{plain(item.name)} {item.state}"
                  for item in point.verdicts if item.state != "met"]  # fmt: skip
        return [f"As the case states it ({place}): {', '.join(missed) or 'no solution'}."]
    first = f"As the case states it ({place}) every mapped limit is met."
    drift = f"From there may drift: {drift_text(window, point.drift)}."
    return [first, drift, *_first_to_break(window, point)]


def _first_to_break(window: Window, point: SetPoint) -> Iterator[str]:
    """Yield what breaks first from a set point, by setting."""
    assert point.drift is not None
    for axis, sides in zip(window.axes, point.drift.alone, strict=True):
        yield f"From there {broken_text(axis, sides)}."


def flip_line(window: Window) -> str:
    """Return where the front turns, empty where it does not on the map.

    Parameters
    ----------
    window : Window
        The window. [SI]
    """
    borders = [item for item in window.map.borders if item.kind == "flip"]
    if not borders:
        return ""
    told = flip_texts(window.map, borders[0], window.proposed.values)
    if not told:
        return ""
    what = borders[0].name.removeprefix("flip line: ").split(" (", 1)[0]
    return (
        f"Flip line: when one setting alone leaves the proposed point, {what} at "
        f"{', or at '.join(told)}."
    )


def follow_lines(window: Window) -> list[str]:
    """Return what the loading of the filter asks for.

    Parameters
    ----------
    window : Window
        The window. [SI]
    """
    follow = window.follow
    if follow is None:
        return [f"Filter loading: {window.still}."]
    axis = follow.map.axes[1]
    kept = f"{number(3600.0 * follow.flow)} m3/h"
    able = [step for step in follow.steps if step.value is not None]
    steps = ", ".join(
        f"{setting_text(axis, step.value or 0.0)} at {step.loading:g}" + _step_note(step.state)
        for step in able
    )
    lines = [
        f"As the {follow.filter} loads from {follow.steps[0].loading:g} to "
        f"{follow.steps[-1].loading:g} times its clean drop, keep {kept} through it"
        + (f": {axis.name} {steps}." if steps else "."),
        *_ends_of(follow),
    ]
    left = f"Left at {setting_text(axis, follow.start[follow.followed])}"
    if follow.breaks is None:
        return [*lines, f"{left}, every mapped limit stays met up to {follow.steps[-1].loading:g}."]
    told = beyond_text(follow.beyond)
    return [*lines, f"{left}, it holds up to a loading of {number(follow.breaks)}; then {told}."]


def _step_note(state: str | None) -> str:
    """Return what is said behind a setting at which not every limit is met."""
    return "" if state in (None, "met") else f" (a limit {state})"


def _ends_of(follow: Follow) -> Iterator[str]:
    """Yield from which loading on the setting cannot follow."""
    out = [step.loading for step in follow.steps if step.value is None]
    if out:
        axis = follow.map.axes[1]
        yield (
            f"At a loading of {min(out):g} and more it cannot: that takes more than "
            f"{axis.name} {setting_text(axis, axis.most)}."
        )


def _verdict_rows(window: Window) -> list[tuple[str, ...]]:
    """Return the limits at both set points as rows."""
    here = {item.name: item for item in window.present.verdicts}
    rows: list[tuple[str, ...]] = [("Limit", kind_text(window), "", "as stated", "")]
    for item in window.proposed.verdicts:
        other = here.get(item.name)
        now = (NOTHING, "") if other is None else (other.value, other.state)
        rows.append((item.name, item.value, item.state, *now))
    return rows


def solves_text(window: Window) -> str:
    """Return how many solves it took.

    Parameters
    ----------
    window : Window
        The window. [SI]
    """
    names = {"full": "with vapour and dust", "drift": "drifts", "loading": "filter loading"}
    parts = ", ".join(f"{names.get(name, name)} {count}" for name, count in window.solves.items())
    return f"{sum(window.solves.values())} solves ({parts}), fidelity {window.fidelity}."
