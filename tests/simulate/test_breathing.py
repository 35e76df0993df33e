"""What a person in the room breathes: zones over time, averages, verdicts."""

from __future__ import annotations

import numpy as np
import pytest
from reference_data import rows

from flowsim.case.schema_box import Room
from flowsim.errors import RangeError
from flowsim.physics.near_field import hemisphere_volume
from flowsim.physics.substances import substance
from flowsim.physics.vapour import ppm
from flowsim.simulate.breathing import (
    RoomSource,
    limit_checks,
    near_far_room,
    room_exposure,
    verdict,
)

MINUTE, HOUR = 60.0, 3600.0
ACETONE = substance("acetone")
SCALE = ppm(1.0, ACETONE.molar_mass, 293.15)
SERIES = [row for row in rows("vapour_exposure_series.csv") if row["case"].startswith("A")]
# far field of 100 m3 and 5 m3/min of the table, near field beside it
TABLE = Room(volume=100.0 + hemisphere_volume(0.8), fresh_air=5.0 / MINUTE)
SMALL = Room(volume=30.0, fresh_air=0.5 / MINUTE)


def source(rate: float, duration: float = 8.0 * HOUR, factor: float = 2.0) -> RoomSource:
    """Return a source of which all gets into the room."""
    return RoomSource(rate, factor * rate, factor * rate, duration)


def zones(room: Room):
    """Return the zones of a stated room."""
    found = near_far_room(room)
    assert found is not None
    return found


@pytest.mark.parametrize("row", SERIES, ids=lambda row: row["t_min"])
def test_room_follows_the_table(row: dict[str, str]) -> None:
    rate = 100e-6 / MINUTE
    found = room_exposure(zones(TABLE), [source(rate)], ACETONE, TABLE)
    time = float(row["t_min"]) * MINUTE
    assert found.times[0] == 0.0
    assert found.times[-1] == 8.0 * HOUR
    for values, column in (
        (found.near, "C_near_field_mg_m3"),
        (found.far, "C_far_field_mg_m3"),
    ):
        expected = SCALE * float(row[column]) * 1e-6
        # Nicas 1996, form from memory (vapour_exposure_series.csv); between the times of the
        # curve by straight lines, as it is drawn
        assert np.interp(time, found.times, values) == pytest.approx(expected, rel=3e-3)
    assert found.near_highest == pytest.approx(2.0 * found.near)
    assert 150 < found.times.size < 400


def test_room_decays_after_the_end_of_a_release() -> None:
    found = room_exposure(zones(SMALL), [source(1e-6, HOUR)], ACETONE, SMALL)
    peak = int(found.near.argmax())
    assert found.times[peak] == HOUR
    assert np.all(np.diff(found.near[: peak + 1]) > 0.0)
    assert np.all(np.diff(found.near[peak:]) < 0.0)


def test_zones_share_the_stated_volume() -> None:
    found = zones(SMALL)
    # geometry (vapour.md 5.2): half a ball of 0.8 m holds 1.07233 m3
    assert found.near_volume == pytest.approx(1.07233, rel=1e-5)
    assert found.far_volume + found.near_volume == pytest.approx(30.0)


def test_nobody_breathes_what_is_not_stated() -> None:
    assert near_far_room(Room()) is None
    with pytest.raises(RangeError, match=r"room\.volume is 1 m3"):
        near_far_room(Room(volume=1.0, fresh_air=0.1))


def test_stronger_draught_thins_the_near_zone() -> None:
    still, draughty = (zones(SMALL.model_copy(update={"draught": speed})) for speed in (0.0, 0.3))
    assert draughty.exchange == pytest.approx(5.0 * still.exchange)
    # geometry (vapour.md 5.2): 0.06 m/s through half a ball of 0.8 m
    assert still.exchange * MINUTE == pytest.approx(7.23823, rel=1e-5)


def test_longer_averages_are_lower() -> None:
    found = limit_checks(zones(SMALL), [source(1e-6, HOUR)], ACETONE, SMALL)
    value = {check.averaging: check.value for check in found}
    assert value["10 h"] < value["8 h"] < value["15 min"] < value["30 min escape"]
    # closed form: steady over the shift, G/Q + G/b
    steady = limit_checks(zones(SMALL), [source(1e-6, 1e9)], ACETONE, SMALL)
    expected = SCALE * 1e-6 * (1.0 / (0.5 / MINUTE) + MINUTE / 7.23823)
    assert [check.value for check in steady] == pytest.approx([expected] * len(steady), rel=1e-5)


def test_sources_of_one_length_add_up() -> None:
    two = limit_checks(zones(SMALL), [source(1e-6), source(3e-6)], ACETONE, SMALL)
    one = limit_checks(zones(SMALL), [source(4e-6)], ACETONE, SMALL)
    assert [check.value for check in two] == pytest.approx([check.value for check in one])


def test_checks_carry_their_origin() -> None:
    found = limit_checks(zones(SMALL), [source(1e-6)], ACETONE, SMALL)
    assert [check.limit for check in found] == sorted(check.limit for check in found)
    # NIOSH pocket guide (vapour_limits.csv): REL of acetone
    assert ("NIOSH REL", "TWA", "10 h", 250.0) in {
        (check.publisher, check.kind, check.averaging, check.limit) for check in found
    }
    assert all(check.year and check.status for check in found)
    assert found[0].ratio == found[0].value / found[0].limit
    assert limit_checks(zones(SMALL), [source(1e-6)], substance("water"), SMALL) == ()


def test_danger_to_life_is_no_limit_that_can_be_met() -> None:
    found = limit_checks(zones(SMALL), [source(1e-12)], ACETONE, SMALL)
    assert {check.kind: check.state for check in found} == {
        "TWA": "met",
        "STEL": "met",
        "IDLH": "not shown",
    }


@pytest.mark.parametrize(
    ("value", "highest", "whole", "state"),
    [
        (0.1, 0.5, 900.0, "met"),
        (0.0, 0.0, 0.0, "met"),
        (0.1, 1.0, 900.0, "not shown"),  # the worst reaches the limit
        (0.1, 0.5, 1100.0, "not shown"),  # needs a share that the model cannot tell
        (1.1, 1.2, 2.0, "not met"),
        (1.1, 2.0, 1e6, "not met"),
        (1.0, 1.0, 1.0, "not shown"),
    ],
)
def test_verdict(value: float, highest: float, whole: float, state: str) -> None:
    # rule of the model: shares below 0.001 are not resolved
    assert verdict(value, highest, whole, 1.0) == state
