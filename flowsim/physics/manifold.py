"""Closed forms for headers with evenly spread holes, one end closed, friction neglected.

``hole_ratio`` is always a = Cd times total hole area over header section, ``momentum`` the
coefficient theta: the pressure changes by 2 theta (rho W^2/2) as air joins or leaves.
"""

from __future__ import annotations

import math
from typing import Literal

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive

__all__ = [
    "choking_number",
    "combined_hole_ratio",
    "draw_profile",
    "draw_ratio",
    "hole_ratio_for_spread",
    "open_end_drive",
    "perry_header_change",
    "perry_maldistribution",
]

Kind = Literal["combining", "dividing"]

REVERSAL = 0.5 * math.pi


def draw_ratio(hole_ratio: float, momentum: float = 1.0, kind: Kind = "combining") -> float:
    """Return the hole flow at the open end over that at the closed end.

    Parameters
    ----------
    hole_ratio : float
        Discharge coefficient times total hole area over header section. [-]
    momentum : float
        Momentum coefficient theta. [-]
    kind : {"combining", "dividing"}
        Whether the header draws in through its holes or blows out.

    Returns
    -------
    float
        ``cosh m`` (combining) or ``cos m`` (dividing), m = a sqrt(2 theta). [-]

    Raises
    ------
    RangeError
        If an argument is impossible, or a dividing header has m >= pi/2: air would be drawn in
        near its inlet.

    Notes
    -----
    Own derivation from the header's momentum ([Bajura1971]_, [Acrivos1959]_ have the same
    equation). Valid without friction and for many equal holes in constant outside pressure;
    theta 1 for combining, 0.5 to 1 for dividing headers.
    """
    m = _argument(hole_ratio, momentum, kind)
    return math.cosh(m) if kind == "combining" else math.cos(m)


def draw_profile(
    position: float, hole_ratio: float, momentum: float = 1.0, kind: Kind = "combining"
) -> float:
    """Return the hole flow at a place over the mean hole flow.

    Parameters
    ----------
    position : float
        Distance from the closed end over header length, 0 to 1. [-]
    hole_ratio : float
        Discharge coefficient times total hole area over header section. [-]
    momentum : float
        Momentum coefficient theta. [-]
    kind : {"combining", "dividing"}
        Whether the header draws in through its holes or blows out.

    Returns
    -------
    float
        Local over mean hole flow. [-]

    Raises
    ------
    RangeError
        As `draw_ratio`, or if the position is outside 0 to 1.

    Notes
    -----
    ``m cosh(m x)/sinh m`` or ``m cos(m x)/sin m``; own derivation, valid as `draw_ratio`.
    """
    in_range("position", position, 0.0, 1.0)
    m = _argument(hole_ratio, momentum, kind)
    if kind == "combining":
        return m * math.cosh(m * position) / math.sinh(m)
    return m * math.cos(m * position) / math.sin(m)


def open_end_drive(hole_ratio: float, momentum: float = 1.0, kind: Kind = "combining") -> float:
    """Return the pressure across the holes at the open end over the header's dynamic pressure.

    Parameters
    ----------
    hole_ratio : float
        Discharge coefficient times total hole area over header section. [-]
    momentum : float
        Momentum coefficient theta. [-]
    kind : {"combining", "dividing"}
        Whether the header draws in through its holes or blows out.

    Returns
    -------
    float
        ``2 theta coth^2 m`` or ``2 theta cot^2 m``: drive over rho W^2/2 at the open end. [-]

    Raises
    ------
    RangeError
        As `draw_ratio`.

    Notes
    -----
    Own derivation, valid as `draw_ratio`.
    """
    m = _argument(hole_ratio, momentum, kind)
    tangent = math.tanh(m) if kind == "combining" else math.tan(m)
    return 2.0 * momentum / tangent**2


def hole_ratio_for_spread(spread: float, momentum: float = 1.0, kind: Kind = "combining") -> float:
    """Return the hole ratio at which the least hole flow lies a share below the greatest.

    Parameters
    ----------
    spread : float
        1 - least/greatest hole flow, 0 < value < 1. [-]
    momentum : float
        Momentum coefficient theta. [-]
    kind : {"combining", "dividing"}
        Whether the header draws in through its holes or blows out.

    Returns
    -------
    float
        Discharge coefficient times total hole area over header section. [-]

    Raises
    ------
    RangeError
        If the spread is outside (0, 1) or the momentum coefficient not positive.

    Notes
    -----
    Inverse of `draw_ratio`, valid as that.
    """
    positive(spread=spread, momentum=momentum, evenness=1.0 - spread)
    even = 1.0 - spread
    m = math.acosh(1.0 / even) if kind == "combining" else math.acos(even)
    return m / math.sqrt(2.0 * momentum)


def combined_hole_ratio(first: float, second: float) -> float:
    """Return the hole ratio of two perforated walls one behind the other.

    Parameters
    ----------
    first, second : float
        Hole ratio of each wall, on the same header section. [-]

    Returns
    -------
    float
        Ratio e with 1/e^2 = 1/a1^2 + 1/a2^2. [-]

    Raises
    ------
    RangeError
        If a ratio is not positive.

    Notes
    -----
    Drops add at the same flow. Valid where no air moves lengthwise between the walls.
    """
    positive(first=first, second=second)
    return first * second / math.hypot(first, second)


def choking_number(hole_ratio: float) -> float:
    """Return the choking number of a combining header.

    Parameters
    ----------
    hole_ratio : float
        Discharge coefficient times total hole area over header section. [-]

    Returns
    -------
    float
        ``M = 2 a^2`` = rho W^2 over the mean drop of the holes; draw ratio cosh(sqrt M). [-]

    Raises
    ------
    RangeError
        If the ratio is not positive.

    Notes
    -----
    Own derivation with theta = 1; from M = 4 (draw ratio 3.8) the header chokes: nearly all air
    enters at the open end. Valid as `draw_ratio`.
    """
    positive(hole_ratio=hole_ratio)
    return 2.0 * hole_ratio**2


def perry_header_change(
    friction: float, kind: Kind = "combining", pressure_share: float = 0.35
) -> float:
    """Return the pressure change along a header over its dynamic pressure, by the rule of thumb.

    Parameters
    ----------
    friction : float
        Darcy friction factor times length over hydraulic diameter. [-]
    kind : {"combining", "dividing"}
        Return header or distributor.
    pressure_share : float
        Share J of the friction of full flow. [-]

    Returns
    -------
    float
        ``J F + 2 K`` (combining, K = 1) or ``J F - 2 K`` (dividing, K = 0.5). [-]

    Raises
    ------
    RangeError
        If the friction is negative or the share not positive.

    Notes
    -----
    From memory [Perry]_, after [Senecal1957]_. Valid for nearly even headers; J is 1/3 for a
    constant friction factor.
    """
    in_range("friction", friction, 0.0, math.inf)
    positive(pressure_share=pressure_share)
    turn = 2.0 if kind == "combining" else -1.0
    return pressure_share * friction + turn


def perry_maldistribution(hole_drop: float, header_change: float) -> float:
    """Return by how much the least hole flow lies below the greatest, by the rule of thumb.

    Parameters
    ----------
    hole_drop : float
        Pressure drop of the holes. [Pa]
    header_change : float
        Pressure change along the header; its sign does not matter. [Pa]

    Returns
    -------
    float
        ``1 - sqrt((dp0 - |dp|)/dp0)``; 5 % at a ratio of ten. [-]

    Raises
    ------
    RangeError
        If the hole drop is not positive or smaller than the header's change.

    Notes
    -----
    From memory [Perry]_, after [Senecal1957]_. Valid for nearly even headers, on the safe side of
    `draw_ratio` for combining ones.
    """
    positive(hole_drop=hole_drop)
    in_range("header_change", abs(header_change), 0.0, hole_drop)
    return 1.0 - math.sqrt((hole_drop - abs(header_change)) / hole_drop)


def _argument(hole_ratio: float, momentum: float, kind: str) -> float:
    positive(hole_ratio=hole_ratio, momentum=momentum)
    if kind not in ("combining", "dividing"):
        raise RangeError(f"kind is {kind!r}; expected 'combining' or 'dividing'")
    m = hole_ratio * math.sqrt(2.0 * momentum)
    if kind == "dividing" and m >= REVERSAL:
        raise RangeError(
            f"dividing header: Cd A_holes/A sqrt(2 theta) = {m:.3f} reaches pi/2; the flow "
            "reverses near the inlet; enlarge the header or take away holes"
        )
    return m
