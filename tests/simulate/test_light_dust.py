"""Dust that moves as the air does shares a computation; how much that costs."""

from __future__ import annotations

import numpy as np
import pytest
from dusty import HANDS, MIRROR, carrier

from flowsim.simulate import dust_parts
from flowsim.simulate.carrier import MOLECULAR
from flowsim.simulate.dust_parts import bodies_of, dust_cloud, is_light, light_release
from flowsim.simulate.maps import Asked, chamber_maps, into_room_share

BOUND = 1e-3
"""Of the largest value of a map, as `is_light` states. [-]"""
SPREAD_BOUND = 5e-3
"""Of the largest value, as `light_release` states. [-]"""
FINE = {"sizes": [0.3e-6, 0.5e-6, 5e-6], "sources": [HANDS | {"rates": [900.0, 500.0, 5.0]}]}


@pytest.mark.parametrize("exhaust", [0.1, 0.21, 0.27, 0.32])
def test_light_dust_moves_as_vapour_within_the_bound(exhaust: float) -> None:
    """The escape of half a micron against that of a vapour, in every cell."""
    air = carrier(exhaust={"flow": exhaust}, dust=FINE)
    assert air.case.dust is not None
    small, half, large = bodies_of(air, air.case.dust)
    assert is_light(air, small)
    assert is_light(air, half)
    assert not is_light(air, large)
    vapour = into_room_share(air, air.base)
    settled = air.problem("in use", settling=half.settling_velocity, molecular=MOLECULAR)
    dust = into_room_share(air, settled)
    assert np.abs(dust - vapour).max() < BOUND * vapour.max()


@pytest.mark.parametrize("exhaust", [0.1, 0.27, 0.32])
def test_shared_cloud_is_that_of_each_size_within_the_bound(
    exhaust: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every cause of every size, in every cell."""
    air = carrier(exhaust={"flow": exhaust}, dust=FINE)
    shared = dust_cloud(air)
    monkeypatch.setattr(dust_parts, "is_light", lambda *_: False)
    single = dust_cloud(air)
    assert shared is not None
    assert single is not None
    assert shared.parts[0] is shared.parts[1]
    assert single.parts[0] is not single.parts[1]
    for one, two in zip(shared.parts, single.parts, strict=True):
        pairs = [(one.filter, two.filter), (one.room, two.room)]
        for a, b in [*pairs, *zip(one.sources, two.sources, strict=True)]:
            assert np.abs(a - b).max() < BOUND * np.abs(b).max()


def test_spread_of_sources_found_with_the_maps_is_that_of_the_dust() -> None:
    """The four variants of what hands bring, within the bound."""
    air = carrier(dust=FINE)
    found = chamber_maps(air, Asked(release=light_release(air))).released
    cloud = dust_cloud(air)
    assert cloud is not None
    assert len(found) == len(cloud.source_variants) == 4
    for one, two in zip(found, cloud.source_variants, strict=True):
        assert np.abs(one - two).max() < SPREAD_BOUND * two.max()


def test_nothing_is_light_without_a_downflow() -> None:
    """Then settling is all there is."""
    air = carrier(supply={"flow": 0.26, "running": False}, dust=FINE, workpieces=[MIRROR])
    assert air.case.dust is not None
    assert not any(is_light(air, body) for body in bodies_of(air, air.case.dust))
    assert light_release(air) is None
