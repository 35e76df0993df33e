"""Borders of the window against closed forms: straight fans, linear filters, one opening."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from flowsim._arrays import FloatArray
from flowsim.case.read import case_from_mapping
from flowsim.case.schema import Case
from flowsim.physics.air import air_state
from flowsim.plan.window import window
from flowsim.plan.window_map import crossings
from flowsim.report.window_result import Border, Window

RHO = air_state(293.15, 101325.0, 0.5).density
AREA, DISCHARGE = 1.2 * 0.16, 0.611
SUPPLY = (400.0, 0.6)  # shut-off pressure [Pa], free flow [m3/s]
EXHAUST = (350.0, 0.5)
SUPPLY_FILTER = 110.0 / (0.45 * 1.22 * 0.61)  # Pa s/m3
EXHAUST_FILTER = 60.0 / 0.2
PLATE, PORT = 1.3 * 0.65 * 0.3, 0.4 * 0.09  # open areas, m2
PORT_LOSS = 0.5


def linear_case(**limits: dict[str, float]) -> Case:
    """Return a bench of which every part has a straight or square law."""
    fans = {
        name: {
            "shut_off_pressure": values[0], "free_flow": values[1], "speed": 0.8,
            "rated_density": RHO, "interpolation": "straight",
        }
        for name, values in (("supply", SUPPLY), ("exhaust", EXHAUST))
    }  # fmt: skip
    return case_from_mapping(
        {
            "format": 1,
            "title": "straight lines",
            "chamber": {"width": 1.3, "depth": 0.65, "height": 0.75},
            "supply": {
                "fan": fans["supply"],
                "filter": {
                    "width": 1.22, "depth": 0.61, "rated_velocity": 0.45, "rated_drop": 110.0,
                    "inertial_share": 0.0,
                },
            },
            "openings": [
                {
                    "label": "front", "wall": "front", "offset": 0.05, "bottom": 0.0,
                    "width": 1.2, "height": 0.16, "discharge_coefficient": DISCHARGE,
                }
            ],
            "work_surface": {
                "thickness": 0.012, "hole_diameter": 0.008, "free_area_ratio": 0.3,
                "discharge_coefficient": 1.0,
            },
            "plenum": {
                "height": 0.2,
                "ports": [{"wall": "right", "width": 0.4, "height": 0.09, "entry_loss": PORT_LOSS}],
            },
            "exhaust": {
                "fan": fans["exhaust"],
                "filter": {
                    "width": 0.5, "depth": 0.5, "rated_flow": 0.2, "rated_drop": 60.0,
                    "inertial_share": 0.0,
                },
            },
            "limits": limits,
            "numerics": {"fidelity": "network"},
        }
    )  # fmt: skip


def chamber_pressure(outflow: float) -> float:
    """Return the chamber's pressure from the flow out of the front."""
    return math.copysign(0.5 * RHO * (outflow / (DISCHARGE * AREA)) ** 2, outflow)


def supply_flow(speed: float, outflow: float) -> float:
    """Return the supply flow: fan less filter = pressure of the chamber, both straight."""
    shut, free = SUPPLY
    lift = shut * speed**2 - chamber_pressure(outflow)
    return lift / (shut * speed / free + SUPPLY_FILTER)


def exhaust_speed(flow: float, outflow: float) -> float:
    """Return the speed of the exhaust fan that draws a flow: a quadratic equation."""
    shut, free = EXHAUST
    square = 0.5 * RHO * (1.0 / PLATE**2 + PORT_LOSS / PORT**2)
    needed = EXHAUST_FILTER * flow + square * flow**2 - chamber_pressure(outflow)
    half = 0.5 * flow / free
    return half + math.sqrt(half**2 + needed / shut)


def at_outflow(outflow: float) -> Callable[[float], float]:
    """Return the border on which a given flow leaves by the front."""
    return lambda speed: exhaust_speed(supply_flow(speed, outflow) - outflow, outflow)


def at_balance(share: float) -> Callable[[float], float]:
    """Return the border on which a share of the supply leaves by the front."""

    def border(speed: float) -> float:
        outflow = float(brentq(lambda q: q - share * supply_flow(speed, q), 0.0, 0.5))
        return at_outflow(outflow)(speed)

    return border


@pytest.fixture(scope="module")
def found() -> Window:
    case = linear_case(
        front_velocity_max={"max": 0.45}, front_velocity_min={"min": 0.1},
        front_inflow_share={"max": 0.0}, balance_margin={"min": 0.1},
    )  # fmt: skip
    return window(case)


BORDERS = {
    "front velocity max at most": at_outflow(0.45 * AREA),
    "front velocity min at least": at_outflow(0.1 * AREA),
    "balance margin at least": at_balance(0.1),
    "flip line": at_outflow(0.0),
}


def border_of(window: Window, name: str) -> Border:
    """Return a border by the start of its name."""
    return next(border for border in window.map.borders if border.name.startswith(name))


def off(points: FloatArray, border: Callable[[float], float]) -> FloatArray:
    """Return how far settings lie from a closed form, along the exhaust's setting."""
    return np.array([abs(exhaust / border(supply) - 1.0) for supply, exhaust in points.tolist()])


@pytest.mark.parametrize("name", BORDERS)
def test_solved_settings_lie_on_the_closed_form(found: Window, name: str) -> None:
    """Root finding to 1 %; own closed form from the laws in the module's head."""
    border = border_of(found, name)
    assert not border.lacking
    assert len(border.verified) >= 5
    assert off(border.verified, BORDERS[name]).max() <= 0.01


@pytest.mark.parametrize("name", BORDERS)
def test_drawn_lines_lie_on_the_closed_form(found: Window, name: str) -> None:
    """The line between solved settings too, not only the settings."""
    border = border_of(found, name)
    line = crossings(border.level, found.map.values)
    outward = line[line[:, 0] > 0.0]
    if name.startswith("balance"):  # its other branch is an inward front
        outward = np.array([p for p in line if p[1] < at_outflow(0.0)(p[0])])
    assert len(outward) > 50
    assert off(outward, BORDERS[name]).max() <= 0.01


def test_at_most_150_solves(found: Window) -> None:
    assert sum(found.solves.values()) <= 150
    assert found.conflict is None


def test_met_region_ends_where_the_first_border_is(found: Window) -> None:
    """Of the closed forms the nearest one cuts the region off."""
    drift = found.proposed.drift
    assert drift is not None
    supply, exhaust = found.proposed.values
    low, high = drift.alone[0]

    def crossing(name: str) -> float:
        low = next(x for x in np.linspace(0.4, 1.1, 71).tolist() if supply_flow(x, 0.1) > 0.1)
        return float(brentq(lambda x: BORDERS[name](x) - exhaust, low, 1.1))

    lower = max(crossing(name) for name in list(BORDERS)[1:])
    upper = crossing("front velocity max at most")
    assert lower <= low.value <= lower * 1.005
    assert upper * 0.995 <= high.value <= upper
    assert supply * (1.0 - low.share) == pytest.approx(low.value)
    assert high.beyond is not None
    assert high.beyond.state == "not met"
    assert high.beyond.names == ("front velocity max at most 0.450 m/s",)


def test_drift_together_touches_a_closed_form_with_its_corner(found: Window) -> None:
    """The corner of the box that was found lies inside, and 3 % farther out it does not."""
    drift = found.proposed.drift
    assert drift is not None
    supply, exhaust = found.proposed.values
    most = BORDERS["front velocity max at most"]
    least = max(list(BORDERS)[1:], key=lambda name: -BORDERS[name](supply))

    def inside(share: float) -> bool:
        high, low = 1.0 + share, 1.0 - share
        return exhaust * low > most(supply * high) and exhaust * high < BORDERS[least](supply * low)

    share = drift.together.shares[0]
    assert inside(share)
    assert not inside(1.03 * share + 0.001)


def test_proposal_has_the_largest_margin(found: Window) -> None:
    """No other setting of a fine grid has a box more than 3 % larger; closed forms."""
    drift = found.proposed.drift
    assert drift is not None
    most = BORDERS["front velocity max at most"]
    best = 0.0
    top = found.axes[0].most
    for supply in np.linspace(0.5, top, 40).tolist():
        floor, roof = most(supply), min(BORDERS[name](supply) for name in list(BORDERS)[1:])
        for exhaust in np.linspace(floor, roof, 30)[1:-1].tolist():
            if exhaust <= found.axes[1].most:
                best = max(best, _box(supply, exhaust))
    assert drift.together.shares[0] >= best / 1.03 - 0.002


def _box(supply: float, exhaust: float) -> float:
    """Return the largest equal drift round a setting by the closed forms."""
    most = BORDERS["front velocity max at most"]

    def left(share: float) -> float:
        high, low = 1.0 + share, 1.0 - share
        under = exhaust * low - most(supply * high)
        over = min(BORDERS[name](supply * low) for name in list(BORDERS)[1:]) - exhaust * high
        return min(under, over)

    end = min(1.0 - 0.4 / supply, 1.0 - 0.4 / exhaust)
    if end <= 0.0 or left(0.0) <= 0.0:
        return 0.0
    return end if left(end) > 0.0 else float(brentq(left, 0.0, end, xtol=1e-4))


def test_loading_asks_for_the_speed_of_the_closed_form(found: Window) -> None:
    """The same supply flow through a filter of more drop: a quadratic equation in the speed."""
    follow = found.follow
    assert follow is not None
    assert follow.steps[0].value == found.proposed.values[0]
    shut, free = SUPPLY
    flow = found.proposed.flows["supply_flow"]
    outflow = flow - found.proposed.flows["exhaust_flow"]
    for step in follow.steps[1:]:
        assert step.value is not None
        needed = step.loading * SUPPLY_FILTER * flow + chamber_pressure(outflow)
        half = 0.5 * flow / free
        speed = half + math.sqrt(half**2 + needed / shut)
        assert step.value == pytest.approx(speed, rel=0.01)
        assert step.state == "met"
