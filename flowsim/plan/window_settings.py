"""What a case has that is set: fans, flows and suctions, and the range that is looked at."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from flowsim.case.schema import Case
from flowsim.case.schema_air import Exhaust, Fan, Supply
from flowsim.case.units import parse_quantity
from flowsim.errors import RangeError
from flowsim.report.window_result import Setting

__all__ = ["HOLD", "holds_of", "loading_of", "settings_of"]

HOLD = 0.03
"""Share of a setting that is assumed to be held where nobody says. [-]"""
LEAST_SHARE, MOST_SHARE = 0.5, 1.6  # of the present setting, ends of the map
FULL_SPEED = 1.0  # of a fan's curve, the highest proposed
SLOW, ABOVE_FULL = 0.4, 1.1  # of full speed, ends of the map
LEAST_HOLD, MOST_HOLD = 1e-3, 0.5
LOADINGS = (1.0, 2.0)


@dataclass(frozen=True)
class _Found:
    """One setting of a case. [SI]"""

    key: str
    name: str
    dimension: str
    unit: str
    factor: float
    present: float
    full: float | None


def _fan(fan: Fan, part: str) -> _Found:
    """Return the setting of a fan."""
    if fan.frequency is not None and fan.rated_frequency is not None:
        full = fan.rated_frequency
        key = f"{part}.fan.frequency"
        return _Found(key, f"{part} fan", "frequency", "Hz", 1.0, fan.frequency, full)
    key = f"{part}.fan.speed"
    return _Found(key, f"{part} fan", "ratio", "%", 100.0, fan.speed_ratio, FULL_SPEED)


def _found(case: Case) -> Iterator[_Found]:
    """Yield supply and exhaust, as far as they run."""
    parts: tuple[tuple[str, Supply | Exhaust | None], ...] = (
        ("supply", case.supply),
        ("exhaust", case.exhaust),
    )
    for part, item in parts:
        if item is None or not item.running:
            continue
        if item.fan is not None:
            yield _fan(item.fan, part)
        elif item.flow is not None:
            yield _Found(f"{part}.flow", f"{part} flow", "flow", "m3/h", 3600.0, item.flow, None)
        elif isinstance(item, Supply) and item.face_velocity is not None:
            name, speed = "supply face velocity", item.face_velocity
            yield _Found("supply.face_velocity", name, "velocity", "m/s", 1.0, speed, None)
        elif isinstance(item, Exhaust) and item.suction is not None:
            name, suction = "exhaust suction", item.suction
            yield _Found("exhaust.suction", name, "pressure", "Pa", 1.0, suction, None)


def settings_of(
    case: Case, holds: Sequence[float], ranges: Mapping[str, str] | None = None
) -> tuple[Setting, ...]:
    """Return what a case has that is set.

    Parameters
    ----------
    case : Case
        The case. [SI]
    holds : sequence of float
        How far supply and exhaust stray from where they are set, as shares. [-]
    ranges : mapping of str to str, optional
        "supply" or "exhaust" -> range as written, such as "25 Hz to 50 Hz". [-]

    Returns
    -------
    tuple of Setting
        Supply before exhaust; one of them where the other is not there or stands still.

    Raises
    ------
    RangeError
        If nothing is set, or a range cannot be read or fits nothing.
    """
    ranges = dict(ranges or {})
    settings = []
    for item in _found(case):
        part = item.key.partition(".")[0]
        low, high, most = _span(item, ranges.pop(part, None))
        settings.append(
            Setting(
                item.key, item.name, item.unit, item.factor, item.present, low, high, most,
                holds[0] if part == "supply" else holds[-1],
            )
        )  # fmt: skip
    if not settings:
        raise RangeError("neither supply nor exhaust of this case runs: there is nothing to set")
    for part in ranges:
        raise RangeError(f"a range is given for the {part}, but this case has no {part} that runs")
    return tuple(settings)


def _span(item: _Found, written: str | None) -> tuple[float, float, float]:
    """Return the ends of the map, and the highest setting that is proposed."""
    if written is not None:
        low, high = _read_range(item, written)
        return low, high, high
    low, high = LEAST_SHARE * item.present, MOST_SHARE * item.present
    if item.full is None:
        return low, high, high
    most = max(item.full, item.present)
    return min(low, SLOW * item.full), ABOVE_FULL * most, most


def _read_range(item: _Found, written: str) -> tuple[float, float]:
    """Return the ends of a range as written."""
    ends = [part.strip() for part in written.split(" to ")]
    example = f"'{_told(item, LEAST_SHARE)} to {_told(item, 1.25)}'"
    if len(ends) != 2:
        raise RangeError(f"range '{written}' of the {item.name}: expected such as {example}")
    try:
        low, high = (parse_quantity(end, item.dimension) for end in ends)
    except ValueError as error:
        raise RangeError(f"range of the {item.name}: {error}") from error
    if not 0.0 < low < high or not low <= item.present <= high:
        raise RangeError(
            f"range '{written}' of the {item.name}: expected two rising values above zero with "
            f"the present {_told(item, 1.0)} between them"
        )
    return low, high


def _told(item: _Found, share: float) -> str:
    """Return a share of the present setting in words."""
    return f"{float(f'{share * item.factor * item.present:.3g}'):g} {item.unit}"


def holds_of(written: str | None) -> tuple[float, float]:
    """Return how far supply and exhaust stray from where they are set.

    Parameters
    ----------
    written : str or None
        Such as "3 %" for both, or "2 %, 5 %" for supply and exhaust; None for what is usual. [-]

    Returns
    -------
    tuple of float
        Shares of the settings, supply before exhaust. [-]

    Raises
    ------
    RangeError
        If it cannot be read, or is no share between 0.1 % and 50 %.
    """
    if written is None:
        return HOLD, HOLD
    parts = [part for part in written.replace(";", ",").split(",") if part.strip()]
    if len(parts) not in (1, 2):
        raise RangeError(f"what can be held, '{written}': expected such as '3 %' or '2 %, 5 %'")
    try:
        found = [parse_quantity(part.strip(), "ratio") for part in parts]
    except ValueError as error:
        raise RangeError(f"what can be held: {error}") from error
    for share in found:
        if not LEAST_HOLD <= share <= MOST_HOLD or not math.isfinite(share):
            raise RangeError(f"what can be held, '{written}': expected 0.1 % to 50 %")
    return found[0], found[-1]


def loading_of(case: Case) -> tuple[Setting, str, int] | None:
    """Return the filter whose loading asks for another setting.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Returns
    -------
    tuple of Setting, str and int, or None
        Its loading as an axis, which filter it is in words, and which of the settings follows;
        None where no filter loads before a fan or a suction that must follow.
    """
    supply, exhaust = case.supply, case.exhaust
    if supply is not None and supply.running and supply.fan is not None:
        for key, name, item in (
            ("supply.filter.loading", "supply filter", supply.filter),
            ("supply.prefilter.loading", "prefilter", supply.prefilter),
        ):
            if item is not None:
                return _loading(key, item.loading), name, 0
    if exhaust is None or exhaust.filter is None or not exhaust.running:
        return None
    if exhaust.flow is not None:
        return None
    axis = _loading("exhaust.filter.loading", exhaust.filter.loading)
    return axis, "exhaust filter", int(supply is not None and supply.running)


def _loading(key: str, present: float) -> Setting:
    """Return a loading as an axis of a map."""
    low, high = min(LOADINGS[0], present), max(LOADINGS[1], present)
    return Setting(
        key, "filter loading", "times the clean drop", 1.0, present, low, high, high, HOLD
    )
