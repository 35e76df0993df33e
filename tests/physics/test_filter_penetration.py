"""Rated filters with their leaks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.errors import RangeError
from flowsim.physics.cleanroom_class import allowed_share, cleanliness, iso_limit
from flowsim.physics.filter_class import filter_class
from flowsim.physics.filter_penetration import leak_share, rated_filter, with_leak
from flowsim.physics.fs209e import CUBIC_FOOT

HOLE = math.pi / 4.0 * 1e-3**2


def test_one_hole_of_a_millimetre() -> None:
    # computed (aerosol.md 2): 6.07e-6 m3/s at 100 Pa, 0.0135 % of 0.045 m3/s
    share = leak_share(HOLE, 100.0, 0.045)
    assert share * 0.045 == pytest.approx(6.07e-6, rel=1e-3)
    assert share == pytest.approx(1.35e-4, rel=2e-3)
    # same: 4750 /m3 in ISO 9 air, ISO 5 lost
    added = with_leak(0.0, share) * 35.2e6
    assert added == pytest.approx(4750.0, rel=2e-3)
    assert cleanliness({0.5e-6: added}).number > 5.0
    # same: 0.86 mm is the limit for 1e-4
    assert leak_share(HOLE * 0.86**2, 100.0, 0.045) == pytest.approx(1e-4, rel=0.01)


def test_dust_drives_air_past_the_filter() -> None:
    # own derivation: root of the loading
    assert leak_share(HOLE, 100.0, 0.045, loading=4.0) == pytest.approx(
        2.0 * leak_share(HOLE, 100.0, 0.045)
    )


@settings(deadline=None, max_examples=60, derandomize=True)
@given(penetration=st.floats(0.0, 1.0), leak=st.floats(0.0, 1.0))
def test_leak_is_the_floor(penetration: float, leak: float) -> None:
    total = with_leak(penetration, leak)
    # own limits
    assert max(penetration, leak) - 1e-15 <= total <= min(1.0, penetration + leak) + 1e-15


def test_rating_holds_for_every_size() -> None:
    unit = rated_filter(filter_class("U15").penetration)
    for size in (0.05e-6, 0.2e-6, 5e-6):
        # common practice, no source: five of a million at the rated size, taken for every size
        assert unit.penetration(size) == pytest.approx(5e-6, rel=1e-12)
    assert unit.penetration(0.2e-6, 0.5) == pytest.approx(5e-6, rel=1e-12)
    assert unit.validity() == ()


def test_more_than_the_rated_flow_passes_more() -> None:
    unit = rated_filter(5e-5)
    # computed (aerosol.md 2): twice the flow, 11 to 12 times the penetration
    assert 11.0 < unit.penetration(0.2e-6, 2.0) / 5e-5 < 12.5
    assert "theory" in unit.validity(2.0)[0]


def test_theory_by_size_ends_at_the_leak() -> None:
    unit = rated_filter(5e-5, leak=2e-5, by_size=True)
    # computed from Lee & Liu 1982 (aerosol_filter_penetration.csv): 4.22285e-9 at 0.5 um
    assert unit.penetration(0.5e-6) == pytest.approx(2e-5 + 4.22285e-9, rel=1e-5)
    assert unit.penetration(0.201381e-6) == pytest.approx(7e-5, rel=1e-4)
    assert "theory" in unit.validity()[0]


def test_class_100_and_the_room() -> None:
    # common practice, no source (field.md F36): 0.03 % of 35.2e6 is 10 560 per m3, ISO 5.48
    after = with_leak(3e-4, 0.0) * 35.2e6
    assert after == pytest.approx(10560.0)
    assert cleanliness({0.5e-6: after}).number == pytest.approx(5.48, abs=0.005)
    # same: 299 per ft3
    assert after * CUBIC_FOOT == pytest.approx(299.0, abs=0.5)
    # same: for 3520 all paths together may pass 1.0e-4
    dirty, clean = iso_limit(9.0, 0.5e-6), iso_limit(5.0, 0.5e-6)
    assert (dirty, clean) == (35.2e6, 3520.0)
    assert with_leak(0.0, allowed_share(5.0, 9.0)) * 35.2e6 == pytest.approx(3520.0)
    # same: a 99.97 % filter alone does not do it
    assert allowed_share(5.0, 9.0) < 3e-4


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: leak_share(-1.0, 100.0, 1.0), "area"),
        (lambda: leak_share(1.0, 100.0, 1e-3), "above the whole flow"),
        (lambda: leak_share(HOLE, 100.0, 1.0, loading=0.5), "loading"),
        (lambda: with_leak(1.5, 0.0), "penetration"),
        (lambda: with_leak(0.5, -0.1), "leak"),
        (lambda: rated_filter(5e-5, leak=2.0), "leak is 2"),
        (lambda: rated_filter(5e-5).penetration(0.0), "diameter"),
        (lambda: rated_filter(5e-5).penetration(1e-6, 0.0), "flow_ratio"),
    ],
)
def test_impossible_filters_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()
