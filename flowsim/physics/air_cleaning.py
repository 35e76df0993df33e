"""Mixed-zone balances of particles: steady level, decay, recovery time, air change."""

from __future__ import annotations

import math

from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "air_change_rate",
    "decayed",
    "mixed_recovery_time",
    "piston_recovery_time",
    "recirculated_concentration",
    "recovery_rate",
    "steady_concentration",
]


def air_change_rate(flow: float, volume: float, effectiveness: float = 1.0) -> float:
    """Return how often the air is replaced.

    Parameters
    ----------
    flow : float
        Flow of clean air. [m3/s]
    volume : float
        Volume of the zone. [m3]
    effectiveness : float
        Local rate over the rate of a mixed zone: 1 mixed, up to 2 piston. [-]

    Returns
    -------
    float
        ``eps Q/V``. [1/s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Definition; 0.7 is a usual pessimistic effectiveness of rooms, from memory. Valid for a
    steady flow; effectiveness above 2 is impossible on average.
    """
    positive(flow=flow, volume=volume, effectiveness=effectiveness)
    warn_outside("air change", "effectiveness", effectiveness, 0.0, 2.0)
    return effectiveness * flow / volume


def steady_concentration(
    source: float,
    flow: float,
    supply: tuple[float, float] = (0.0, 0.0),
    ingress: tuple[float, float] = (0.0, 0.0),
    loss: float = 0.0,
) -> float:
    """Return the steady concentration of a mixed zone.

    Parameters
    ----------
    source : float
        Particles given off inside. [1/s]
    flow : float
        Flow that leaves, what comes in by supply and ingress. [m3/s]
    supply : tuple of float
        Supply flow [m3/s] and its concentration behind the filter [1/m3].
    ingress : tuple of float
        Flow drawn in from the room [m3/s] and the concentration there [1/m3].
    loss : float
        Deposition velocity times area, summed over the surfaces. [m3/s]

    Returns
    -------
    float
        Concentration. [1/m3]

    Raises
    ------
    RangeError
        If an argument is negative or nothing takes particles away.

    Notes
    -----
    ``(Q_s C_s + Q_in C_room + S)/(Q + sum v_dep A)``, conservation. Valid for even mixing, which
    a downflow is not: take it as the comparison.
    """
    non_negative(source=source, flow=flow, loss=loss)
    non_negative(supply_flow=supply[0], supply_concentration=supply[1])
    non_negative(ingress_flow=ingress[0], ingress_concentration=ingress[1])
    positive(removal=flow + loss)
    gain = source + supply[0] * supply[1] + ingress[0] * ingress[1]
    return gain / (flow + loss)


def recirculated_concentration(
    source: float, flow: float, share: float, penetration: float, fresh: float
) -> float:
    """Return the steady concentration where a share of the air goes round through the filter.

    Parameters
    ----------
    source : float
        Particles given off inside. [1/s]
    flow : float
        Flow through the filter. [m3/s]
    share : float
        Share of it that comes back from inside. [-]
    penetration : float
        Share of particles that passes the filter. [-]
    fresh : float
        Concentration of the rest of the intake. [1/m3]

    Returns
    -------
    float
        Concentration. [1/m3]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``[S/Q + (1-r) P C_fresh]/(1 - r P)``, own derivation. Valid for even mixing inside.
    """
    non_negative(source=source, fresh=fresh)
    positive(flow=flow)
    in_range("share", share, 0.0, 1.0)
    in_range("penetration", penetration, 0.0, 1.0)
    positive(removal=1.0 - share * penetration)
    return (source / flow + (1.0 - share) * penetration * fresh) / (1.0 - share * penetration)


def decayed(initial: float, final: float, rate: float, time: float) -> float:
    """Return the concentration of a mixed zone on its way to a steady value.

    Parameters
    ----------
    initial, final : float
        Concentration at the start and after a long time. [1/m3]
    rate : float
        Air change rate, losses included. [1/s]
    time : float
        Time since the start. [s]

    Returns
    -------
    float
        Concentration. [1/m3]

    Raises
    ------
    RangeError
        If an argument is negative.

    Notes
    -----
    ``C_inf + (C_0 - C_inf) exp(-n t)``, exact. Valid for even mixing and steady flow.
    """
    non_negative(initial=initial, final=final, rate=rate, time=time)
    return final + (initial - final) * math.exp(-rate * time)


def mixed_recovery_time(rate: float, ratio: float = 100.0, background: float = 0.0) -> float:
    """Return how long a mixed zone takes to clean up by a ratio.

    Parameters
    ----------
    rate : float
        Air change rate. [1/s]
    ratio : float
        First concentration over target. [-]
    background : float
        Steady concentration over target. [-]

    Returns
    -------
    float
        Time; infinite where the steady level is not below the target. [s]

    Raises
    ------
    RangeError
        If the rate is not positive, the ratio below 1 or the background negative.

    Notes
    -----
    ``ln(ratio)/n`` without background; exact decay. Valid for even mixing. [ISO14644-3]_, from
    memory, judges rooms by 100:1 with non-unidirectional flow only.
    """
    positive(rate=rate)
    non_negative(background=background)
    in_range("ratio", ratio, 1.0, math.inf)
    if ratio <= 1.0:
        return 0.0
    if background >= 1.0:
        return math.inf
    return math.log((ratio - background) / (1.0 - background)) / rate


def piston_recovery_time(height: float, velocity: float) -> float:
    """Return how long an even downflow takes to push out the air.

    Parameters
    ----------
    height : float
        Way of the air through the zone. [m]
    velocity : float
        Velocity. [m/s]

    Returns
    -------
    float
        ``H/v``, the same as volume over flow. [s]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Exact without mixing. Valid as the lower bound: a test that takes much longer shows dead zones,
    not dilution.
    """
    positive(height=height, velocity=velocity)
    return height / velocity


def recovery_rate(first: float, second: float, time: float) -> float:
    """Return the cleanliness recovery rate from two readings.

    Parameters
    ----------
    first, second : float
        Concentrations, the later one second. [1/m3]
    time : float
        Time between them. [s]

    Returns
    -------
    float
        ``ln(C_0/C_1)/t``. [1/s]

    Raises
    ------
    RangeError
        If a reading is not positive or the second above the first.

    Notes
    -----
    [ISO14644-3]_, from memory, whose 2.3 for ln 10 is 0.11 % low. Valid on the straight part of
    the decay, far above the background.
    """
    positive(first=first, second=second, time=time)
    if second > first:
        raise RangeError(f"second is {second:g}, above the first reading {first:g}: no recovery")
    return math.log(first / second) / time
