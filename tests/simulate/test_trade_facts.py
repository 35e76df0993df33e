"""What everyone in the trade knows, end to end: filters, clean rooms, overpressure."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benches import HOOD, bench
from dusty import MIRROR, carrier, judged, media

from flowsim.physics.cleanroom_class import iso_concentration
from flowsim.simulate.maps import chamber_maps
from flowsim.simulate.run import run_case
from flowsim.simulate.shares import ShareMaps

HALF = {"sizes": [0.5e-6]}


def maps_of(**parts: Any) -> tuple[ShareMaps, ShareMaps]:
    """Return escape and ingress of the plain bench."""
    maps = chamber_maps(carrier(**parts))
    return maps.escape, maps.ingress


@pytest.mark.parametrize("stated", [{"penetration": 1.0 - 0.999995}, {"grade": "U15"}])
def test_filter_rated_99_9995_percent_passes_five_of_a_million(stated: dict[str, object]) -> None:
    """At its rated flow, of the size it is rated for."""
    found = judged(supply=media(**stated), dust={"sizes": [0.15e-6], "room_counts": [1e6]})
    # common practice, no source
    assert found.causes["filter"][0] == pytest.approx(5.0, rel=1e-3)


def test_room_air_and_the_cleanest_class_differ_by_a_million() -> None:
    """A zone that lets in one millionth of room air is the cleanest class of the old standard."""
    found = judged(supply=media(penetration=1e-6), dust=HALF)
    # common practice, no source; US FS 209E class 1 is ISO 3 (aerosol.md 1): 35.3 per m3 at 0.5 um
    assert found.iso_class == pytest.approx(3.0, abs=0.01)
    assert iso_concentration(9.0, 0.5e-6) / 35.3 == pytest.approx(1e6, rel=0.01)


def test_more_exhaust_than_supply_means_room_air_inside() -> None:
    """The deficit comes in by the front; with more supply than exhaust it does not."""
    strong, weak = (
        judged(
            exhaust={"flow": flow},
            workpieces=[MIRROR | {"offset_y": 0.02, "depth": 0.1}],
            dust=HALF,
        )
        for flow in (0.32, 0.21)
    )
    # common practice, no source
    assert strong.room_air.value > 0.2
    assert weak.room_air.highest < 1e-3
    assert strong.cause == "room air"
    assert weak.cause == "filter"
    assert strong.iso_class is not None
    assert weak.iso_class is not None
    assert strong.iso_class > weak.iso_class + 2.0


def test_what_the_exhaust_takes_beyond_the_supply_is_room_air() -> None:
    """The flux mean over the exits is the deficit over what leaves."""
    air = carrier(exhaust={"flow": 0.32})
    problem = air.problem("in use")
    share = chamber_maps(air).ingress.in_use
    leaving = problem.boundary.out
    mean = float(leaving @ share.ravel()[problem.boundary.faces.cell]) / float(leaving.sum())
    entering = problem.boundary.enter
    room = float(entering @ problem.boundary.faces.read(air.outlets.room))
    # conservation: what entered over what left
    assert mean == pytest.approx(room / float(entering.sum()), rel=1e-9)
    assert room >= 0.06 * (1.0 - 1e-9)


def test_no_exhaust_means_all_vapour_leaves_by_the_front() -> None:
    """A plain downflow hood has no other way out."""
    case = bench(HOOD)
    assert case.exhaust is None
    escape = chamber_maps(carrier(HOOD)).escape
    # common practice, no source
    for share in (escape.in_use, escape.at_rest, escape.monotone):
        np.testing.assert_allclose(share, 1.0, atol=1e-9)


def test_exhaust_that_takes_most_of_the_supply_keeps_most_of_the_vapour() -> None:
    """Over the rear of the work surface nearly nothing turns to the front."""
    escape, _ = maps_of(exhaust={"flow": 0.25})
    rear = escape.in_use[:, 9:, 0]
    # common practice, no source
    assert float(rear.max()) < 0.01


def test_key_figures_carry_these_facts() -> None:
    """A hood without exhaust gives its vapour to the person and is as clean as its filter."""
    case = bench(HOOD, supply=media(grade="H14"), workpieces=[MIRROR], dust=HALF)
    found = run_case(case)
    # common practice, no source
    assert found["surface_escape_share"] == pytest.approx(1.0, abs=1e-9)
    # EN 1822-1 (aerosol.md 2): 0.005 % of ISO 9
    assert found["iso_class"] == pytest.approx(9.0 + np.log10(5e-5), abs=1e-3)
    assert found["iso_class_worst_size"] == 0.5e-6
    assert found["room_air_share"] == pytest.approx(0.0, abs=1e-6)
