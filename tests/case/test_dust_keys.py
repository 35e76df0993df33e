"""Particles, workpieces, and the supply filter in a case."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from flowsim.case.read import case_from_mapping, change_case
from flowsim.case.schema import Case, Dust
from flowsim.errors import CaseError

HOOD: dict[str, Any] = {
    "format": 1,
    "title": "collimator hood with a solid floor",
    "chamber": {"width": 0.8, "depth": 0.5, "height": 0.6},
    "supply": {
        "flow": 0.1,
        "prefilter": {"width": 0.3, "depth": 0.3, "rated_flow": 0.1, "rated_drop": 40.0},
        "filter": {"width": 0.7, "depth": 0.45, "rated_velocity": 0.45, "rated_drop": 110.0},
    },
    "objects": [
        {"label": "block", "offset_x": 0.1, "offset_y": 0.1, "width": 0.2, "depth": 0.2,
         "height": 0.1},
        {"label": "lens", "offset_x": 0.15, "offset_y": 0.15, "bottom": 0.1, "width": 0.05,
         "depth": 0.05, "height": 0.05},
    ],
    "compartments": [
        {"label": "box", "offset_x": 0.5, "offset_y": 0.2, "width": 0.2, "depth": 0.2,
         "height": 0.15, "pipe": {"diameter": 0.04},
         "slit": {"side": "front", "length": 0.18, "height": 0.01, "bottom": 0.05}},
    ],
    "exhaust": {"flow": 0.02},
}  # fmt: skip
PATCH = {"label": "mirror", "offset_x": 0.3, "offset_y": 0.0, "width": 0.1, "depth": 0.1}
ARM = {**PATCH, "label": "arm", "bottom": 0.1, "height": 0.1}
SIZES = ["0.3 um", "0.5 um", "5 um"]


def _case(**parts: Any) -> Case:
    """Return the hood with whole parts put in."""
    return case_from_mapping({**deepcopy(HOOD), **parts})


def _faults(**parts: Any) -> list[tuple[str, str]]:
    """Return key and message of every fault."""
    try:
        _case(**parts)
    except CaseError as error:
        return [(fault.key, fault.message) for fault in error.faults]
    return []


def _filter(**keys: Any) -> dict[str, Any]:
    """Return the supply with more said about its filter."""
    return {**HOOD["supply"], "filter": {**HOOD["supply"]["filter"], **keys}}


def test_defaults_of_dust() -> None:
    dust = _case(dust={}).dust
    # own choice: usual channels of a counter (common practice, no source); dirtiest ISO class
    assert dust == Dust(sizes=(0.3e-6, 0.5e-6, 5e-6), room_class=9.0, density=1000.0)
    assert _case().dust is None


def test_sizes_and_counts_in_the_units_of_the_trade() -> None:
    dust = _case(
        dust={"sizes": ["500 nm", "5 \u03bcm"], "room_counts": ["1000/ft3", "10 particles per L"]}
    ).dust
    assert dust is not None
    assert dust.sizes == pytest.approx((0.5e-6, 5e-6))
    # cubic foot and litre, exact by definition
    assert dust.room_counts == pytest.approx((1000.0 / 0.3048**3, 10e3))


@pytest.mark.parametrize(
    ("dust", "key", "words"),
    [
        ({"sizes": ["0 um"]}, "sizes[0]", "is too small (got '0 um')"),
        ({"sizes": [-0.5e-6]}, "sizes[0]", "above 0, at most 100 um"),
        ({"sizes": ["101 um"]}, "sizes[0]", "is too large"),
        ({"sizes": ["0.5"]}, "sizes[0]", "did you mean '0.5 um'?"),
        ({"sizes": []}, "sizes", "is empty"),
        ({"sizes": [(k + 1) * 1e-6 for k in range(21)]}, "sizes", "expected at most 20"),
        ({"sizes": ["5 um", "0.5 um", "0.3 um"]}, "sizes[1]", "is smaller than the one before"),
        ({"sizes": ["0.5 um", "500 nm"]}, "sizes[1]", "stands twice"),
        ({"room_class": 9.5}, "room_class", "for a dustier room give room_counts"),
        ({"room_class": 0}, "room_class", "for a cleaner room give room_counts"),
        ({"room_class": "ISO 7"}, "room_class", "expected an ISO class number such as '5'"),
        ({"room_counts": [9e6, 3e6]}, "room_counts", "has 2 value(s) but sizes has 3"),
        ({"room_counts": [3e6, 3e6, 9e6]}, "room_counts[2]", "which never rise with the size"),
        ({"room_class": 8, "room_counts": [9e6, 3e6, 1e5]}, "room_class", "beside room_counts"),
        ({"density": "0 kg/m3"}, "density", "is too small"),
    ],
)
def test_dust_that_cannot_be(dust: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(dust=dust)
    assert found == f"dust.{key}"
    assert words in message


def test_classes_between_whole_numbers_and_equal_counts_are_allowed() -> None:
    assert _faults(dust={"room_class": 7.5}) == []
    assert _faults(dust={"sizes": SIZES, "room_counts": [9e6, 9e6, 0.0]}) == []


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({}, "", "is incomplete; expected exactly one of person or rates"),
        ({"person": "indoor clothes", "rates": [3, 2, 1]}, "", "gives person and rates at once"),
        ({"person": "overall"}, ".person", "expected one of 'indoor clothes', 'cleanroom garments"),
        ({"rates": [3, 2]}, ".rates", "has 2 value(s) but sizes has 3"),
        ({"rates": [3, 2, 4]}, ".rates[2]", "larger than the one before (got 4 after 2 1/s)"),
        ({"rates": ["3 rpm", 0, 0]}, ".rates[0]", "is a frequency, not a number of particles"),
        ({"rates": [3, 2, 1], "share": 0.5}, ".share", "has no meaning beside rates"),
        ({"person": "indoor clothes", "share": 20}, ".share", "did you mean '20 %'?"),
        ({"person": "indoor clothes", "offset_x": 0.75}, ".offset_x", "is 850 mm"),
        ({"person": "indoor clothes", "bottom": 0.55}, ".bottom", "bottom + height is 650 mm"),
        (
            {"person": "indoor clothes", "offset_x": 0.15, "offset_y": 0.15, "bottom": 0.02,
             "height": 0.05},
            "",
            "lies inside object 'block'",
        ),
    ],
)  # fmt: skip
def test_source_that_cannot_be(keys: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(dust={"sources": [{**ARM, **keys}]})
    assert found == f"dust.sources[0]{key}"
    assert words in message


def test_source_may_reach_into_an_object() -> None:
    source = {**ARM, "offset_x": 0.25, "offset_y": 0.15, "bottom": 0.02, "rates": [3, 2, 1]}
    assert _faults(dust={"sources": [source]}) == []


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"offset_x": 0.75}, ".offset_x", "the width of the work surface"),
        ({"depth": 0.6}, ".depth", "expected at most 500 mm, the depth of the work surface"),
        ({"bottom": 0.6}, ".bottom", "leaves no air above it"),
        ({"bottom": 0.05}, ".bottom", "expected 0 mm, or the top of an object"),
        ({"offset_x": 0.45, "offset_y": 0.25}, "", "lies on compartment 'box'"),
        ({"offset_x": 0.45, "offset_y": 0.25, "bottom": 0.15}, "", "lies on compartment 'box'"),
        ({"offset_x": 0.2, "offset_y": 0.2}, "", "expected bottom = '100 mm', its top"),
        ({"offset_x": 0.12, "offset_y": 0.12, "bottom": 0.1}, "", "lies inside object 'lens'"),
        (
            {"offset_x": 0.25, "offset_y": 0.2, "bottom": 0.1},
            ".bottom",
            "an object under the whole of it (tops here: 100 mm)",
        ),
    ],
)
def test_workpiece_off_the_work_surface(keys: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(workpieces=[{**PATCH, **keys}])
    assert found == f"workpieces[0]{key}"
    assert words in message


@pytest.mark.parametrize(
    "keys",
    [
        {"offset_x": 0.7, "offset_y": 0.4},
        {"offset_x": 0.2, "offset_y": 0.2, "bottom": 0.1},
        {"offset_x": 0.15, "offset_y": 0.15, "width": 0.05, "depth": 0.05, "bottom": 0.15},
    ],
)
def test_workpiece_on_the_floor_of_a_hood_and_on_objects(keys: dict[str, Any]) -> None:
    """Without a perforated plate the whole floor is the work surface."""
    assert _faults(workpieces=[{**PATCH, **keys}]) == []


def test_faulty_object_makes_no_fault_of_the_workpiece_on_it() -> None:
    block = {**HOOD["objects"][0], "height": "100"}
    place = {**PATCH, "offset_x": 0.2, "offset_y": 0.2, "bottom": 0.1}
    [(key, _)] = _faults(objects=[block], workpieces=[place])
    assert key == "objects[0].height"


def test_labels_of_workpieces_and_sources_are_their_own() -> None:
    source = {**ARM, "rates": [3, 2, 1]}
    found = _faults(workpieces=[PATCH, PATCH], dust={"sources": [source, source]})
    assert [key for key, _ in found] == ["dust.sources[1].label", "workpieces[1].label"]


@pytest.mark.parametrize("grade", ["H14", "h13", "ISO 45 H", "45h", "U15", "E10"])
def test_filter_class_goes_by_either_standard(grade: str) -> None:
    assert _faults(supply=_filter(grade=grade)) == []


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"grade": "H15"}, "grade", "did you mean 'U15' or 'H14' or 'H13'?"),
        ({"grade": "ISO 45"}, "grade", "did you mean 'H14'"),
        ({"grade": "HEPA"}, "grade", "expected one of E10, E11"),
        ({"grade": "H14", "penetration": 1e-4}, "penetration", "is given beside grade"),
        ({"penetration": "101 %"}, "penetration", "is too large"),
        (
            {"leak": 1e-4, "seal_gap": {"height": 1e-4, "length": 3.0, "path": 0.01}},
            "seal_gap",
            "is given beside leak",
        ),
    ],
)
def test_filter_that_cannot_be(keys: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(supply=_filter(**keys))
    assert found == f"supply.filter.{key}"
    assert words in message


def test_class_of_a_filter_that_is_not_followed_is_refused() -> None:
    """A key that changes nothing would be read as if it did."""
    supply = deepcopy(HOOD["supply"])
    supply["prefilter"]["grade"] = "E10"
    [(key, message)] = _faults(supply=supply)
    assert key == "supply.prefilter.grade"
    assert "particles are followed from [supply.filter] on" in message


@pytest.mark.parametrize(
    ("room", "key", "words"),
    [
        ({"volume": "60 m3"}, "room.volume", "needs fresh_air beside it"),
        ({"fresh_air": "90 m3/h"}, "room.fresh_air", "needs volume beside it"),
        ({"volume": "60 m2", "fresh_air": 0.0}, "room.volume", "is an area, not a volume"),
    ],
)
def test_room_with_half_its_figures(room: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(room=room)
    assert (found, words in message) == (key, True)


def test_room_without_any_fresh_air_is_a_room() -> None:
    room = _case(room={"volume": "2000 ft3", "fresh_air": "0 m3/h"}).room
    # cubic foot, exact by definition
    assert room.volume == pytest.approx(2000 * 0.3048**3)
    assert room.fresh_air == 0.0


def test_changes_take_out_what_they_replace() -> None:
    case = _case(
        supply=_filter(grade="H14", leak=1e-5),
        dust={"room_class": 8, "sources": [{**ARM, "person": "indoor clothes", "share": 0.1}]},
    )
    gap = {"height": "0.1 mm", "length": "3 m", "path": "10 mm"}
    changes = {
        "supply.filter.penetration": "0.01 %",
        "supply.filter.seal_gap": gap,
        "dust.room_counts": [9e6, 3e6, 1e5],
        "dust.sources.arm.rates": ["30 per min", "20 per min", 0],
    }
    new = change_case(case, changes)
    assert new.supply is not None
    assert new.supply.filter is not None
    assert (new.supply.filter.grade, new.supply.filter.leak) == (None, 0.0)
    assert new.dust is not None
    assert new.dust.sources[0].rates == pytest.approx((0.5, 1 / 3, 0.0))
    assert new.dust.sources[0].person is None
    assert "room_class" not in new.dust.model_fields_set


def test_limits_of_the_new_figures() -> None:
    limits = _case(
        limits={
            "vapour_front_ppm": {"max": "500 ppb"},
            "vapour_escape_share": {"max": "1 %"},
            "iso_class": {"min": 3, "max": 5.5},
            "recovery_time": {"max": "5 min"},
        }
    ).limits
    assert limits.vapour_front_ppm is not None
    # a concentration by volume is held in ppm, not as a share
    assert limits.vapour_front_ppm.max == pytest.approx(0.5)
    assert limits.vapour_escape_share is not None
    assert limits.vapour_escape_share.max == pytest.approx(0.01)
    assert limits.iso_class is not None
    assert limits.iso_class.max == 5.5
    assert limits.recovery_time is not None
    assert limits.recovery_time.max == 300.0
