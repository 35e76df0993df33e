"""The answer of a plan of holes: what to drill, what to set, what the front does."""

from __future__ import annotations

from flowsim.report._units import number, percent, quantity_text, words
from flowsim.report.holes_result import HolePlan
from flowsim.report.holes_words import (
    KINDS,
    flow_text,
    millimetres,
    pattern_words,
    ratio_text,
    wanted_text,
)

__all__ = ["answer", "exhaust_words", "front_words"]

NO_CHANGE = 0.005  # relative change of the exhaust flow that is none
CLEARLY = 0.9  # suction of another plate over that of the even one, from which it is named


def answer(plan: HolePlan) -> list[str]:
    """Return what to drill, what it gives, what it costs and what to set: five lines.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    list of str
        Lines of about 100 letters. [-]
    """
    chosen = plan.chosen
    point = chosen.point
    ceiling = ""
    if plan.ceiling is not None:
        ceiling = f"; at most {number(plan.ceiling)} Pa wanted"
    return [
        f"{plan.title}: holes for a draw ratio of at most {wanted_text(plan)}",
        f"Drill {pattern_words(chosen.pattern)}.",
        f"Draw ratio {ratio_text(point)}: {chosen.state}{_needed(plan)}. Today {_today(plan)}.",
        f"Suction behind the port {point.suction:.0f} Pa at today's "
        f"{flow_text(point.exhaust_flow)}; today {plan.today.suction:.0f} Pa{ceiling}."
        f"{_cheaper(plan)}",
        exhaust_words(plan),
    ]


def _cheaper(plan: HolePlan) -> str:
    """Return which of the other plates takes clearly less suction."""
    limit = CLEARLY * plan.chosen.point.suction
    found = [item for item in plan.others if item.state == "met" and item.point.suction < limit]
    texts = [f" {KINDS[item.kind].capitalize()}: {item.point.suction:.0f} Pa." for item in found]
    return "".join(texts)


def _today(plan: HolePlan) -> str:
    """Return today's draw ratio and holes."""
    point = plan.today
    ratio = "a station blows upwards" if point.draw_ratio is None else f"{point.draw_ratio:.3f}"
    return (
        f"{ratio} ({plan.today_state}), {100.0 * point.free_area_ratio:.2f} % in "
        f"{millimetres(point.hole_diameter, 3)} mm holes"
    )


def _needed(plan: HolePlan) -> str:
    """Return what the wanted ratio would take beyond the ceiling."""
    if plan.needed is None:
        return ""
    return f" under the ceiling; {wanted_text(plan)} takes {plan.needed.suction:.0f} Pa"


def _setting(plan: HolePlan, value: float) -> str:
    """Return a setting of the exhaust."""
    exhaust = plan.exhaust
    if exhaust.kind == "suction":
        return f"{value:.1f} Pa"
    if exhaust.kind == "flow":
        return flow_text(value)
    if exhaust.rated_frequency is not None:
        return f"{value * exhaust.rated_frequency:.1f} Hz"
    return f"{100.0 * value:.1f} % speed"


def exhaust_words(plan: HolePlan) -> str:
    """Return how the exhaust must be set for the new plate.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    str
        One sentence. [-]
    """
    exhaust, pressure = plan.exhaust, plan.chosen.point.fan_pressure
    change = plan.left_alone.exhaust_flow / plan.today.exhaust_flow - 1.0
    if exhaust.kind == "flow":
        return (
            f"Exhaust: the case fixes its flow; the fan behind it must give {pressure:.0f} Pa, "
            f"today {plan.today.fan_pressure:.0f} Pa."
        )
    if abs(change) <= NO_CHANGE:
        return f"Exhaust: leave it as it is set; its flow changes by {100.0 * change:+.1f} %."
    now = _setting(plan, exhaust.setting_today)
    if exhaust.setting is None:
        return (
            f"Exhaust: at no speed does this fan give the {pressure:.0f} Pa that today's flow "
            "takes; a stronger fan is needed."
        )
    then = _setting(plan, exhaust.setting)
    if exhaust.beyond_rating:
        return (
            f"Exhaust: today's flow takes {pressure:.0f} Pa; the fan would need {then}, more than "
            f"it was measured at (today {now}): a stronger fan is needed."
        )
    word = "fan" if exhaust.kind == "fan" else "suction behind the ducts"
    return f"Exhaust: set the {word} from {now} to {then} ({pressure:.0f} Pa)."


def front_words(plan: HolePlan) -> list[str]:
    """Return what happens where the exhaust is left as it is, and with it set anew.

    Parameters
    ----------
    plan : HolePlan
        What to drill. [SI]

    Returns
    -------
    list of str
        Sentences. [-]
    """
    change = plan.left_alone.exhaust_flow / plan.today.exhaust_flow - 1.0
    found = []
    if plan.decided_by:
        names = ", ".join(words(name) for name in plan.decided_by)
        found.append(f"The draw ratio would allow a more open plate; what forbids it: {names}.")
    if plan.exhaust.kind != "flow" and abs(change) > NO_CHANGE:
        found.append(
            f"Left as it is set, the exhaust draws {flow_text(plan.left_alone.exhaust_flow)} "
            f"({100.0 * change:+.0f} %) through the new plate, and the front lets out "
            f"{flow_text(plan.left_alone.front_outflow)} in place of "
            f"{flow_text(plan.today.front_outflow)} (a minus sign: inwards)."
        )
    for index in range(1, len(plan.columns)):
        name = plan.columns[index].replace("new", "New plate", 1)
        found.append(f"{name}: {_front(plan, index)}")
    return found


def _front(plan: HolePlan, index: int) -> str:
    """Return what the front does in one column, and which limits are not met there."""
    parts = []
    shares = plan.values("front_inflow_share")
    if shares and shares[index] is not None and shares[0] is not None:
        parts.append(_turned(shares[0], shares[index] or 0.0))
    margins = plan.values("balance_margin")
    if margins and margins[index] is not None and margins[0] is not None:
        parts.append(
            f"balance margin {quantity_text('balance_margin', margins[index], '-')} "
            f"(today {quantity_text('balance_margin', margins[0], '-')})"
        )
    for state in ("not met", "not shown"):
        names = [words(row.name) for row in plan.figures if row.states[index] == state]
        if names:
            parts.append(f"{state}: {', '.join(names)}")
    limits = [row for row in plan.figures if row.limit]
    if limits and all(row.states[index] == "met" for row in limits):
        parts.append("all limits of the case are met")
    return "; ".join(parts) + "." if parts else "no solution was found."


def _turned(today: float, now: float) -> str:
    """Return whether a front has turned."""
    if now == today:
        if now in (0.0, 1.0):
            return f"the front blows {'outwards' if now == 0.0 else 'inwards'} everywhere, as today"
        return f"the front draws in over {percent(now)} of its area, as today"
    if now == 0.0:
        return "the front turns outwards everywhere"
    return f"the front draws in over {percent(now)} of its area (today {percent(today)})"
