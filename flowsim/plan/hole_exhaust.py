"""What the exhaust must be set to so that a new plate passes as much as the old one."""

from __future__ import annotations

from collections.abc import Mapping

from scipy.optimize import brentq

from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.physics.air import AirState
from flowsim.report.holes_result import Exhausting
from flowsim.simulate.components import fan_curve

__all__ = ["exhaust_for"]

SLOWEST, FASTEST = 0.02, 4.0  # speed ratios between which a fan is looked for
SPEED_STEPS = 1000.0  # settings of a fan from stop to its rated speed
FREQUENCY_STEPS = 100.0  # settings in 1 Hz
SUCTION_STEPS = 10.0  # settings in 1 Pa


def _speed_changes(case: Case, ratio: float) -> dict[str, str]:
    """Return the changes that make a fan turn at a speed, to a step that can be set."""
    assert case.exhaust is not None
    assert case.exhaust.fan is not None
    rated = case.exhaust.fan.rated_frequency
    if rated is not None and case.exhaust.fan.frequency is not None:
        frequency = round(ratio * rated * FREQUENCY_STEPS) / FREQUENCY_STEPS
        return {"exhaust.fan.frequency": f"{frequency:g} Hz"}
    percent = 100.0 * round(ratio * SPEED_STEPS) / SPEED_STEPS
    return {"exhaust.fan.speed": f"{percent:g} %"}


def _speed_for(case: Case, air: AirState, pressure: float, flow: float) -> float | None:
    """Return the speed ratio at which the fan gives a pressure at a flow, None if at none."""

    def lacking(ratio: float) -> float:
        changed = change_case(case, {"exhaust.fan.speed": ratio})
        assert changed.exhaust is not None
        assert changed.exhaust.fan is not None
        return float(fan_curve(changed.exhaust.fan, air).pressure_at(flow)[0]) - pressure

    if lacking(FASTEST) < 0.0:
        return None
    if lacking(SLOWEST) > 0.0:
        return SLOWEST
    return float(brentq(lacking, SLOWEST, FASTEST, xtol=1e-7))


def exhaust_for(case: Case, air: AirState, pressure: float, flow: float) -> Exhausting:
    """Return the setting of the exhaust at which it draws a flow against a pressure.

    Parameters
    ----------
    case : Case
        As it stands. [SI]
    air : AirState
        That the exhaust moves.
    pressure : float
        Rise that is needed behind the ducts. [Pa]
    flow : float
        Out of the plenum. [m3/s]

    Returns
    -------
    Exhausting
        Kind of exhaust, its setting today and the one that is needed.
    """
    exhaust = case.exhaust
    assert exhaust is not None
    if exhaust.flow is not None:
        return Exhausting("flow", exhaust.flow, exhaust.flow, None, False, {})
    if exhaust.suction is not None:
        needed = round(pressure * SUCTION_STEPS) / SUCTION_STEPS
        changes = {"exhaust.suction": f"{needed:g} Pa"}
        return Exhausting("suction", exhaust.suction, needed, None, False, changes)
    assert exhaust.fan is not None
    fan = exhaust.fan
    ratio = _speed_for(case, air, pressure, flow)
    changes2: Mapping[str, str] = {} if ratio is None else _speed_changes(case, ratio)
    rated = fan.rated_frequency if fan.frequency is not None else None
    beyond = ratio is None or ratio > 1.0 + 0.5 / SPEED_STEPS
    return Exhausting("fan", fan.speed_ratio, ratio, rated, beyond, changes2)
