"""Plans of holes for tests, made once."""

from __future__ import annotations

from functools import cache

from benches import BENCH, TRAY, bench

from flowsim.case.schema import Case
from flowsim.plan.holes import HoleWish, plan_holes
from flowsim.report.holes_result import HolePlan

FAN = {
    "fan": {
        "flow": [0.0, 0.11, 0.22, 0.33, 0.42],
        "pressure": [290.0, 275.0, 215.0, 110.0, 0.0],
        "speed": 0.84,
    },
    "ducts": [{"diameter": 0.2, "length": 6.0}],
}
LIMITS = {
    "front_inflow_share": {"max": 0.0},
    "compartment_pressure": {"max": -3.0},
    "draw_ratio": {"max": 1.4},
}


WITHOUT_EXHAUST = {name: part for name, part in BENCH.items() if name != "exhaust"}


def fan_bench(**parts: object) -> Case:
    """Return a bench with a tray, an exhaust fan and limits."""
    return bench(
        WITHOUT_EXHAUST, **{"compartments": [TRAY], "exhaust": FAN, "limits": LIMITS, **parts}
    )


@cache
def fan_plan() -> HolePlan:
    """Return the plan of that bench, with a graded plate and the question for a tube."""
    wish = HoleWish(1.10, None, (6e-3, 8e-3, 0.05), graded=True, tube=True)
    return plan_holes(fan_bench(), wish)
