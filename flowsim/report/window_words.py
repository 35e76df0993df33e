"""Words about the window of settings that text, page and pictures share."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from flowsim.report._units import number
from flowsim.report.window_result import (
    Border,
    Drift,
    Outside,
    SetPoint,
    Setting,
    Side,
    Values,
    Window,
    WindowMap,
)

__all__ = [
    "METHOD",
    "alone_text",
    "beyond_text",
    "broken_text",
    "carried_text",
    "drift_text",
    "end_text",
    "flip_texts",
    "hold_text",
    "kind_text",
    "percent_text",
    "plain",
    "point_text",
    "setting_text",
    "sides_text",
    "times_text",
    "together_text",
]

DIGITS = 3
FRONT = ("front velocity", "balance margin", "draught margin")
LESS = 0.995  # times what can be held, below which it is called less
METHOD = (
    "Drifts are given up to the last solved setting at which every mapped limit is met; the next "
    "one beyond was solved too and is not. Alone: the other setting stays. Together: any drift of "
    "all settings at once up to that much.",
    "Borders lie within 1 % of a setting; the dots on them are solved settings.",
    "Not shown: the model gives no verdict there. It counts as not met. Front figures (front "
    "velocity, balance and draught margin) are not shown where the air that passes the front is "
    "strong against what goes through it: the front is about to turn.",
)
"""How to read it."""


def setting_text(axis: Setting, value: float, digits: int = DIGITS) -> str:
    """Return a setting with its unit.

    Parameters
    ----------
    axis : Setting
        What is set.
    value : float
        Its value. [SI]
    digits : int
        Significant digits. [-]
    """
    return f"{number(axis.factor * value, digits)} {axis.unit}"


def point_text(axes: Sequence[Setting], values: Values, link: str = " ") -> str:
    """Return a set point in words, such as "supply fan 37.0 Hz and exhaust fan 84.0 %".

    Parameters
    ----------
    axes : sequence of Setting
        What is set.
    values : tuple of float
        Its values. [SI]
    link : str
        Between name and value. [-]
    """
    parts = [f"{axis.name}{link}{setting_text(axis, value)}"
             for axis, value in zip(axes, values, strict=True)]  # fmt: skip
    return " and ".join(parts)


def _inward(value: float, digits: int, up: bool) -> str:
    """Return a number rounded up or down, so that an end is not rounded out of what was found."""
    if value <= 0.0:
        return number(value, digits)
    step = 10.0 ** (math.floor(math.log10(value) + 1e-12) - digits + 1)
    parts = value / step
    whole = math.ceil(parts - 1e-9) if up else math.floor(parts + 1e-9)
    return number(whole * step, digits)


def end_text(axis: Setting, value: float, up: bool) -> str:
    """Return one end of a drift without its unit, never rounded beyond what was found.

    Parameters
    ----------
    axis : Setting
        What is set.
    value : float
        The end. [SI]
    up : bool
        Whether it is the lower end, which is rounded up. [-]
    """
    return _inward(axis.factor * value, DIGITS, up)


def kind_text(window: Window) -> str:
    """Return what the set point that is put forward is called.

    Parameters
    ----------
    window : Window
        The window.
    """
    return "proposed" if window.proposed.drift is not None else "least bad"


def hold_text(share: float) -> str:
    """Return what can be held in percent.

    Parameters
    ----------
    share : float
        Of a setting. [-]
    """
    return f"{round(100.0 * share, 6):g} %"


def percent_text(share: float) -> str:
    """Return a drift in percent, without sign, never rounded up.

    Parameters
    ----------
    share : float
        Of a setting. [-]
    """
    return f"{_inward(100.0 * share, 2, False)} %"


def sides_text(sides: tuple[Side, Side]) -> str:
    """Return both drifts of a setting, such as "-9.0/+9.1 %"; "or more" where the map ends first.

    Parameters
    ----------
    sides : tuple of Side
        Down and up.
    """
    parts = []
    for side, sign in zip(sides, "-+", strict=True):
        more = "" if side.beyond is not None else " or more"
        parts.append(f"{sign}{percent_text(side.share).removesuffix(' %')}{more}")
    text = "/".join(parts)
    return f"{text.removesuffix(' or more')} % or more" if text.endswith("more") else f"{text} %"


def alone_text(axis: Setting, sides: tuple[Side, Side]) -> str:
    """Return how far one setting may drift alone.

    Parameters
    ----------
    axis : Setting
        What is set.
    sides : tuple of Side
        Down and up.
    """
    low, high = sides
    start, end = end_text(axis, low.value, True), end_text(axis, high.value, False)
    return f"{axis.name} {start} to {end} {axis.unit} ({sides_text(sides)})"


def times_text(times: float) -> str:
    """Return a margin over what can be held.

    Parameters
    ----------
    times : float
        Margin over it. [-]
    """
    return f"{number(times, 2)} times"


def together_text(window: Window, drift: Drift) -> str:
    """Return how far all settings may drift at once, against what can be held.

    Parameters
    ----------
    window : Window
        With what can be held.
    drift : Drift
        Of one set point.
    """
    both = drift.together
    least = "at least " if both.beyond is None else ""
    shares = list(dict.fromkeys(percent_text(share) for share in both.shares))
    if len(shares) > 1:
        named = [f"{axis.name} +-{percent_text(share)}"
                 for axis, share in zip(window.axes, both.shares, strict=True)]  # fmt: skip
        size = " with ".join(named)
    else:
        size = f"+-{shares[0]}"
    verb = "assumed to be held" if window.assumed_hold else "that can be held"
    holds = list(dict.fromkeys(hold_text(axis.hold) for axis in window.axes))
    hold = f"the {' and '.join(holds)} {verb}"
    if both.times < LESS:
        return f"{least}{size}, less than {hold}"
    return f"{least}{size}, {times_text(both.times)} {hold}"


def drift_text(window: Window, drift: Drift) -> str:
    """Return how far settings may drift, each alone and all together, in one line.

    Parameters
    ----------
    window : Window
        With its settings.
    drift : Drift
        Of one set point.
    """
    parts = [
        f"{axis.name} {sides_text(sides)}"
        for axis, sides in zip(window.axes, drift.alone, strict=True)
    ]
    if len(window.axes) > 1:
        parts.append(f"together {together_text(window, drift)}")
    return "; ".join(parts)


def plain(label: str) -> str:
    """Return a limit without its value.

    Parameters
    ----------
    label : str
        In full. [-]
    """
    for word in (" at most ", " at least "):
        label = label.split(word, 1)[0]
    return label


def beyond_text(beyond: Outside | None) -> str:
    """Return what is found beyond a border.

    Parameters
    ----------
    beyond : Outside or None
        What is found; None where the map ends first.
    """
    if beyond is None:
        return "nothing on the map"
    names = list(dict.fromkeys(plain(name) for name in beyond.names))
    if beyond.state == "not shown" and all(name.startswith(FRONT) for name in names):
        return "front figures not shown"
    told = " and ".join(names[:2]) + (f" and {len(names) - 2} more" if len(names) > 2 else "")
    return f"{told} {'not shown' if beyond.state == 'not shown' else 'not met'}"


def broken_text(axis: Setting, sides: tuple[Side, Side]) -> str:
    """Return what breaks first where one setting is too low or too high.

    Parameters
    ----------
    axis : Setting
        What is set.
    sides : tuple of Side
        Down and up.
    """
    low, high = (beyond_text(side.beyond) for side in sides)
    return f"{axis.name} too low: {low}; too high: {high}"


def flip_texts(found: WindowMap, border: Border, values: Values) -> list[str]:
    """Return where the front turns if one setting alone leaves a set point.

    Parameters
    ----------
    found : WindowMap
        The map.
    border : Border
        Its flip line.
    values : tuple of float
        Set point. [SI]

    Returns
    -------
    list of str
        Such as ``supply fan 27.1 Hz``, for each setting that can turn it on the map.
    """
    told = []
    for k, axis in enumerate(found.axes):
        line = np.asarray(border.level)
        if line.ndim == 2:
            other = 1 - k
            grid = np.log(found.values[other])
            moved = np.moveaxis(line, other, 0)
            line = np.array([np.interp(np.log(values[other]), grid, column) for column in moved.T])
        places = np.flatnonzero((line[:-1] >= 0.0) != (line[1:] >= 0.0))
        if len(places):
            at = found.values[k][places]
            near = int(places[np.argmin(np.abs(np.log(at / values[k])))])
            one, two = float(line[near]), float(line[near + 1])
            low, high = found.values[k][near : near + 2].tolist()
            told.append(f"{axis.name} {setting_text(axis, low + one / (one - two) * (high - low))}")
    return told


def carried_text(point: SetPoint) -> str:
    """Return what the limits on vapour and dust say at a set point, empty if nothing is judged.

    Parameters
    ----------
    point : SetPoint
        The set point.
    """
    rest = [item for item in point.verdicts if not item.mapped]
    bad = [f"{plain(item.name)} {item.state}" for item in rest if item.state != "met"]
    if not rest:
        return ""
    return " and ".join(bad)
