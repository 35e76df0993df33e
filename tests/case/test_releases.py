"""What gives off vapour: defaults, places, liquids inside their tables."""

from __future__ import annotations

import math
from copy import deepcopy
from typing import Any

import pytest

from flowsim.case.read import case_from_mapping, change_case
from flowsim.case.schema import Case, Mixing, Release
from flowsim.errors import CaseError

BENCH: dict[str, Any] = {
    "format": 1,
    "title": "mirror bench",
    "chamber": {"width": 1.3, "depth": 0.65, "height": 0.75},
    "work_surface": {"thickness": 0.012, "hole_diameter": 0.008, "free_area_ratio": 0.04},
    "plenum": {"height": 0.11, "ports": [{"wall": "right", "width": 0.4, "height": 0.09}]},
    "exhaust": {"flow": 0.21},
    "compartments": [
        {
            "label": "tray",
            "offset_x": 0.2,
            "offset_y": 0.25,
            "width": 0.4,
            "depth": 0.3,
            "height": 0.14,
            "slit": {"side": "front", "length": 0.36, "height": 0.008, "bottom": 0.1},
            "floor": {"hole_diameter": 0.008, "hole_count": 60},
        }
    ],
    "objects": [
        {"label": "stand", "offset_x": 0.8, "offset_y": 0.2, "width": 0.2, "depth": 0.2,
         "height": 0.15},
    ],
}  # fmt: skip
BATH = {
    "label": "bath", "substance": "hydrochloric acid", "strength": "20 %", "compartment": "tray",
    "width": 0.3, "depth": 0.2, "bottom": 0.02,
}  # fmt: skip
DISH = {
    "label": "dish", "substance": "acetone", "offset_x": 0.1, "offset_y": 0.05, "width": 0.1,
    "depth": 0.1,
}  # fmt: skip


def _release(base: dict[str, Any], **keys: Any) -> Case:
    """Return a case with one release; a key that is None is left out."""
    release = {key: value for key, value in {**base, **keys}.items() if value is not None}
    return case_from_mapping({**deepcopy(BENCH), "releases": [release]})


def _faults(base: dict[str, Any], **keys: Any) -> list[tuple[str, str]]:
    """Return key and message of every fault of a release."""
    try:
        _release(base, **keys)
    except CaseError as error:
        return [(fault.key, fault.message) for fault in error.faults]
    return []


def test_assumed_eddies_stand_in_every_case() -> None:
    # assumptions of the program, not published: 5 % of the speed, 20 mm, 50 cm2/s in use
    assert case_from_mapping(BENCH).mixing == Mixing(intensity=0.05, eddy_size=0.02, in_use=5e-3)


def test_release_in_a_compartment_and_in_the_open() -> None:
    bath, dish = _release(BATH).releases[0], _release(DISH).releases[0]
    assert (bath.compartment, bath.offset_x, bath.strength) == ("tray", None, 0.2)
    assert (dish.compartment, dish.offset_x, dish.strength) == (None, 0.1, None)
    assert bath.rate is None
    assert bath.duration is None
    # own derivation: width times depth
    assert bath.area == pytest.approx(0.06)


@pytest.mark.parametrize(
    ("keys", "attribute", "value"),
    [
        # factors by definition of the units
        ({"rate": "18 g/h"}, "rate", 5e-6),
        ({"rate": 5e-6}, "rate", 5e-6),
        ({"duration": "30 min"}, "duration", 1800.0),
        ({"temperature": "25 degC"}, "temperature", 298.15),
        ({"rim": '1/2"'}, "rim", 0.0127),
    ],
)
def test_quantity_of_a_release(keys: dict[str, Any], attribute: str, value: float) -> None:
    assert getattr(_release(DISH, **keys).releases[0], attribute) == pytest.approx(value)


@pytest.mark.parametrize(
    ("name", "strength"),
    [
        ("HCl", "36 %"),
        ("hydrogen  chloride", 0.36),
        ("Hydrochloric Acid", 0.36),
        ("HF(aq)", 0.49),
        ("7664-41-7", 0.25),
        ("2-propanol", None),
        ("water", None),
    ],
)
def test_liquid_goes_by_any_of_its_names(name: str, strength: Any) -> None:
    assert _release(DISH, substance=name, strength=strength).releases[0].substance == name


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("hydrocloric acid", "hydrochloric acid"),
        ("isopropyl alchohol", "isopropanol"),
        ("amonia solution", "ammonia solution"),
        ("tolulene", "toluene"),
    ],
)
def test_unknown_substance_gets_the_nearest_name(wrong: str, right: str) -> None:
    [(key, message)] = _faults(DISH, substance=wrong)
    assert key == "releases[0].substance"
    assert f"is not in the table (got '{wrong}')" in message
    assert f"did you mean '{right}'" in message
    assert "dichloromethane" in message.split("did you mean")[0]


def test_unknown_substance_unlike_any_lists_the_table_alone() -> None:
    [(_, message)] = _faults(DISH, substance="kryptonite\n" + "x" * 5000)
    assert "did you mean" not in message
    assert "\n" not in message
    assert len(message) < 500


# Bounds of the tables, as each table in flowsim.physics.aqueous holds them
@pytest.mark.parametrize(
    ("name", "strength", "span"),
    [
        ("hydrochloric acid", 0.099, "10 to 38 % by mass"),
        ("hydrochloric acid", 0.381, "10 to 38 % by mass"),
        ("hydrofluoric acid", 0.75, "1 to 70 % by mass"),
        ("ammonia", 0.04, "5 to 30 % by mass"),
        ("nitric acid", 0.05, "10 to 100 % by mass"),
    ],
)
def test_strength_outside_its_table_names_the_range(name: str, strength: float, span: str) -> None:
    [(key, message)] = _faults(DISH, substance=name, strength=strength, temperature=298.15)
    assert key == "releases[0].strength"
    assert f"(got {100 * strength:.4g} %); expected {span}" in message


@pytest.mark.parametrize(("strength", "celsius"), [("10 %", 20), ("38 %", 20), ("10 %", 30)])
def test_bounds_of_the_table_belong_to_it(strength: str, celsius: float) -> None:
    assert _faults(BATH, strength=strength, temperature=f"{celsius} degC") == []


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ({"strength": None}, "strength", "is missing for hydrochloric acid, a solution in water"),
        ({"substance": "ethanol"}, "strength", "has no meaning for ethanol, a pure liquid"),
        ({"temperature": "31 degC"}, "temperature", "expected 20 to 30 degC for hydrochloric acid"),
        ({"substance": "nitric acid"}, "temperature", "(20 degC), which lies outside the table"),
        ({"substance": "ammonia", "strength": None}, "substance", "expected the strength of its"),
        (
            {"substance": "ammonia", "strength": 0.3, "temperature": "30 degC"},
            "substance",
            "boils at 30 degC",
        ),
        ({"height": 0.05}, "height", "has no meaning without rate"),
    ],
)
def test_liquid_of_which_nothing_is_known(keys: dict[str, Any], key: str, words: str) -> None:
    [(found, message)] = _faults(BATH, **keys)
    assert found == f"releases[0].{key}"
    assert words in message


def test_pure_liquid_outside_its_vapour_pressures_is_refused() -> None:
    assert _faults(DISH, temperature="45 degC") == []
    [(key, message)] = _faults(DISH, temperature="55 degC")
    assert key == "releases[0].temperature"
    assert "expected 5 to 50 degC for acetone" in message


def test_stated_rate_needs_no_table() -> None:
    """The rate is the user's own: neither strength nor warmth is looked up."""
    assert _faults(DISH, rate="5 g/h", substance="ammonia", height=0.1) == []
    assert _faults(DISH, rate="5 g/h", substance="hydrochloric acid") == []
    assert _faults(DISH, rate="5 g/h", substance="hydrochloric acid", strength=0.45) == []


def test_stated_rate_and_evaporation_are_not_mixed() -> None:
    faults = _faults(DISH, rate="5 g/h", rim=0.01, temperature=293.15)
    assert [key for key, _ in faults] == ["releases[0].rim", "releases[0].temperature"]
    [(key, _)] = _faults(DISH, rate="5 g/h", strength=0.2)
    assert key == "releases[0].strength"


@pytest.mark.parametrize(
    ("base", "keys", "key", "words"),
    [
        (DISH, {"offset_x": 1.25}, ".offset_x", "offset_x + width is 1350 mm"),
        (DISH, {"depth": 0.7}, ".depth", "expected at most 650 mm"),
        (DISH, {"bottom": 0.75}, ".bottom", "leaves no air above it"),
        (DISH, {"bottom": 0.74, "rim": 0.02}, ".bottom", "bottom + rim is 760 mm"),
        (DISH, {"offset_x": 0.75, "offset_y": 0.25}, "", "lies inside object 'stand'"),
        (DISH, {"offset_x": 0.55, "offset_y": 0.3}, "", "expected compartment = 'tray'"),
        (DISH, {"offset_x": None, "offset_y": None}, "", "has no place"),
        (DISH, {"offset_y": None}, ".offset_y", "is missing beside offset_x"),
        (BATH, {"offset_x": 0.3, "offset_y": 0.3}, ".offset_x", "is given beside compartment"),
        (BATH, {"compartment": "tary"}, ".compartment", "did you mean 'tray'?"),
        (BATH, {"width": 0.41}, ".width", "400 mm, the width of compartment 'tray'"),
        (BATH, {"depth": 0.31}, ".depth", "300 mm, the depth of compartment 'tray'"),
        (BATH, {"bottom": 0.13, "rim": 0.02}, ".bottom", "140 mm, the height of compartment"),
        (BATH, {"bottom": 0.14}, ".bottom", "leaves no air above it"),
    ],
)
def test_release_out_of_place(
    base: dict[str, Any], keys: dict[str, Any], key: str, words: str
) -> None:
    [(found, message)] = _faults(base, **keys)
    assert found == f"releases[0]{key}"
    assert words in message


@pytest.mark.parametrize(
    "keys",
    [
        {"offset_x": 0.8, "offset_y": 0.2, "bottom": 0.15},  # on top of the object
        {"offset_x": 0.25, "offset_y": 0.3, "bottom": 0.14},  # on top of the compartment
        {"offset_x": 0.1, "offset_y": 0.3},  # touches the compartment
        {"offset_x": 1.2, "offset_y": 0.55},  # in the corner
        {"offset_x": 0.0, "offset_y": 0.0, "rate": 1e-6, "height": 0.75, "width": 0.2},
    ],
)
def test_release_may_touch_what_it_stands_beside(keys: dict[str, Any]) -> None:
    assert _faults(DISH, **keys) == []


def test_release_without_any_compartment_says_what_to_write() -> None:
    with pytest.raises(CaseError, match=r"expected a table \[\[compartments\]\] with this label"):
        case_from_mapping({**BENCH, "compartments": [], "releases": [BATH]})


def test_one_slip_elsewhere_makes_no_second_fault() -> None:
    """A compartment with a faulty label may well be the one that is meant."""
    tray = {**BENCH["compartments"][0], "label": 3}
    with pytest.raises(CaseError, match="is not a string") as caught:
        case_from_mapping({**BENCH, "compartments": [tray], "releases": [BATH]})
    assert [fault.key for fault in caught.value.faults] == ["compartments[0].label"]
    misspelt = {key: value for key, value in BENCH.items() if key != "compartments"}
    with pytest.raises(CaseError, match="did you mean 'compartments'") as caught:
        case_from_mapping({**misspelt, "compartment": [tray], "releases": [BATH]})
    assert [fault.key for fault in caught.value.faults] == ["compartment"]


def test_air_of_the_chamber_warms_the_liquid() -> None:
    bench = {**BENCH, "chamber": {**BENCH["chamber"], "temperature": "33 degC"}}
    with pytest.raises(CaseError, match=r"as warm as the air \(33 degC\)"):
        case_from_mapping({**bench, "releases": [BATH]})
    cold = {**BATH, "temperature": "20 degC"}
    assert case_from_mapping({**bench, "releases": [cold]}).releases[0].strength == 0.2


def test_thin_air_lets_a_liquid_boil_sooner() -> None:
    hot = {**DISH, "substance": "dichloromethane", "temperature": "35 degC"}
    assert _faults(hot) == []
    with pytest.raises(CaseError, match="boils at 35 degC"):
        case_from_mapping({**BENCH, "room": {"pressure": "80 kPa"}, "releases": [hot]})


def test_labels_of_releases_are_their_own() -> None:
    with pytest.raises(CaseError, match=r"releases\[1\].label: is used twice"):
        case_from_mapping({**BENCH, "releases": [BATH, {**BATH, "bottom": 0.03}]})


def test_changes_by_label_take_out_what_they_replace() -> None:
    case = _release(BATH, rim=0.01, temperature="25 degC")
    stated = change_case(case, {"releases.bath.rate": "3 g/h"}).releases[0]
    assert stated.rate == pytest.approx(3e-3 / 3600.0)
    assert (stated.rim, stated.temperature, stated.strength) == (0.0, None, 0.2)
    again = change_case(_release(DISH, rate="3 g/h", height=0.1), {"releases.dish.rim": "10 mm"})
    assert (again.releases[0].rate, again.releases[0].height) == (None, 0.0)
    moved = {"releases.bath.offset_x": "0.9 m", "releases.bath.offset_y": "0.4 m"}
    assert change_case(case, moved).releases[0].compartment is None
    back = change_case(change_case(case, moved), {"releases.bath.compartment": "tray"})
    assert back.releases[0] == case.releases[0]


def test_new_parts_survive_writing_and_reading() -> None:
    case = _release(DISH, rate="3 g/h", duration="20 min")
    assert case_from_mapping(case.model_dump(mode="json", exclude_none=True)) == case
    assert Case.model_validate_json(case.model_dump_json()) == case
    assert change_case(case, {}) == case


def test_release_built_in_python() -> None:
    release = Release(label="a", substance="acetone", width=0.1, depth="100 mm", rate="1 g/h")
    assert math.isclose(release.area, 0.01)
    with pytest.raises(ValueError, match="has no place"):
        Case(format=1, title="t", chamber=BENCH["chamber"], releases=[release])
