"""How long until it is clean after switching on."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benches import HOOD
from dusty import MIRROR, carrier, media

from flowsim.simulate.clearing import WORK_SURFACE, recovery_of
from flowsim.simulate.transport_result import Recovery

SLOW: dict[str, Any] = {
    "chamber": {"width": 1.3, "depth": 0.8, "height": 0.75},
    "supply": {"flow": 0.05, "filter": media(grade="H14", width=1.3, depth=0.8)["filter"]},
    "exhaust": {"flow": 0.03},
    "workpieces": [],
}


def recovered(base: dict[str, Any] | None = None, **parts: Any) -> Recovery:
    """Return the recovery of a bench that has a supply."""
    found = recovery_of(carrier(base, **parts))
    assert found is not None
    return found


def test_closed_answers_of_the_small_chamber() -> None:
    """0.78 m3 and 0.05 m3/s: 71.8 s mixed, 15.6 s as a piston."""
    found = recovered(**SLOW)
    # ln 100 V/Q and V/Q (aerosol.md 5, field.md F37)
    assert found.mixed_time == pytest.approx(71.8, abs=0.05)
    assert found.piston_time == pytest.approx(15.6, abs=0.05)


def test_small_chamber_without_dead_zones_lies_between() -> None:
    """Longer than a piston, shorter than fully mixed air, and so says the sentence."""
    found = recovered(**SLOW)
    # field.md F37: between 16 and 72 s
    assert found.time is not None
    assert 15.6 < found.time < 71.8
    assert "between" in found.why
    assert found.places == (WORK_SURFACE,)


def test_stays_below_a_hundredth_from_that_time_on() -> None:
    """The curve starts at 1, falls, and passes a hundredth where it says."""
    found = recovered(workpieces=[MIRROR, MIRROR | {"label": "left", "offset_x": 0.1}])
    assert found.time is not None
    assert found.shares.shape == (found.times.size, 2)
    np.testing.assert_allclose(found.shares[0], 1.0, rtol=1e-12)
    worst = found.shares.max(axis=1)
    assert (worst[found.times > found.time] < 0.01).all()
    assert worst[found.times < found.time][-1] >= 0.01


def test_places_are_the_workpieces() -> None:
    """Each by its label."""
    found = recovered(workpieces=[MIRROR, MIRROR | {"label": "left", "offset_x": 0.1}])
    assert found.places == ("mirror", "left")


def test_front_that_draws_never_lets_it_get_clean() -> None:
    """Room air stays over the edge, and the sentence says where it comes from."""
    edge = MIRROR | {"label": "edge", "offset_y": 0.02, "depth": 0.06}
    found = recovered(exhaust={"flow": 0.32}, workpieces=[MIRROR, edge])
    assert found.time is None
    assert "over edge keeps" in found.why
    assert "by the front" in found.why


@pytest.mark.parametrize(
    ("eddies", "slow", "words"),
    [("50 cm2/s", False, "Not down to a hundredth"), ("200 cm2/s", True, "dead corners")],
)
def test_stagnant_corner_is_called_one(eddies: str, slow: bool, words: str) -> None:
    """A filter over the left third leaves the right end to slow mixing."""
    patch = media(grade="H14", width=0.3, depth=0.6, offset_x=0.0)["filter"] | {
        "rated_velocity": 1.0
    }
    corner = MIRROR | {"label": "corner", "offset_x": 1.15, "offset_y": 0.5, "width": 0.1}
    corner["depth"] = 0.1
    found = recovered(
        HOOD,
        supply={"flow": 0.1, "filter": patch},
        openings=[
            {
                "label": "hatch",
                "wall": "left",
                "offset": 0.0,
                "bottom": 0.0,
                "width": 0.6,
                "height": 0.2,
            }
        ],
        mixing={"in_use": eddies},
        workpieces=[corner],
    )
    assert found.mixed_time is not None
    assert (found.time is not None and found.time > found.mixed_time) is slow
    assert words in found.why


def test_without_supply_there_is_no_recovery() -> None:
    """Nothing clean comes in."""
    assert recovery_of(carrier(supply=None)) is None
    assert recovery_of(carrier(supply=media(grade="H14") | {"running": False})) is None


def test_air_from_below_is_not_clean() -> None:
    """An exhaust that blows back keeps the share up, and is named."""
    found = recovered(exhaust={"flow": None, "suction": 0.001, "outlet_pressure": 30.0})
    assert found.time is None
    assert "from below" in found.why


def test_filter_does_not_enter_the_recovery() -> None:
    """It asks for the air that was there, whatever the filter passes."""
    one, two = (recovered(supply=media(grade=grade)) for grade in ("E10", "U17"))
    assert one.time == pytest.approx(two.time, rel=1e-9)
