"""Cases built in Python: defaults, derived figures, contradictions."""

from __future__ import annotations

import math
from typing import Any

import pytest
from pydantic import ValidationError

from flowsim.case.schema import (
    Case,
    Chamber,
    Distributor,
    Duct,
    Exhaust,
    Fan,
    Filter,
    Object,
    Opening,
    Plenum,
    Port,
    Rectangle,
    Supply,
    WorkSurface,
)

CHAMBER = Chamber(width=1.3, depth=0.65, height=0.75)
PLATE = WorkSurface(thickness=0.012, hole_diameter=0.008, pitch=0.03)


def _case(**parts: Any) -> Case:
    """Return a case with these parts."""
    return Case(format=1, title="test", **{"chamber": CHAMBER, **parts})


def test_defaults_of_a_bare_chamber() -> None:
    case = _case()
    assert case.room.temperature == 293.15
    assert case.room.pressure == 101325.0
    assert case.numerics.fidelity == "stacked"
    assert case.numerics.cells == (60, 30, 40)
    assert case.supply is None
    assert case.openings == ()
    assert case.free_area_ratio == 0.0


def test_python_takes_si_and_strings_with_units() -> None:
    assert Chamber(width="1300 mm", depth=0.65, height='2.5"').height == 0.0635


@pytest.mark.parametrize("value", [math.nan, math.inf, True, None, "0.65", -0.1])
def test_python_refuses_what_is_no_length(value: Any) -> None:
    with pytest.raises(ValidationError, match="expected a length"):
        Chamber(width=value, depth=0.65, height=0.75)


def test_parts_are_frozen() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        CHAMBER.width = 2.0


@pytest.mark.parametrize(
    ("plate", "ratio"),
    [
        # area of a hole over the area it has to itself, own derivation
        ({"pitch": 0.03}, math.pi / 4 * 0.008**2 / 0.03**2),
        ({"pitch": 0.03, "pattern": "triangular"}, math.pi / 4 * 0.008**2 / (0.75**0.5 * 9e-4)),
        ({"hole_count": 900}, 900 * math.pi / 4 * 0.008**2 / (1.3 * 0.65)),
        ({"free_area_ratio": 0.05}, 0.05),
    ],
)
def test_free_area_ratio(plate: dict[str, Any], ratio: float) -> None:
    surface = WorkSurface(thickness=0.012, hole_diameter=0.008, **plate)
    case = _case(work_surface=surface, plenum=_plenum(), exhaust=Exhaust(flow=0.1))
    assert case.free_area_ratio == pytest.approx(ratio, rel=1e-12)


def test_hole_count_counts_in_its_zone() -> None:
    zone = Rectangle(offset_x=0.1, offset_y=0.1, width=0.5, depth=0.4)
    surface = WorkSurface(thickness=0.012, hole_diameter=0.008, hole_count=100, zone=zone)
    case = _case(work_surface=surface, plenum=_plenum(), exhaust=Exhaust(flow=0.1))
    assert case.work_zone == zone
    # own derivation: hole area over zone area
    assert case.free_area_ratio == pytest.approx(100 * math.pi / 4 * 0.008**2 / 0.2, rel=1e-12)


def test_areas_and_ratios() -> None:
    # own derivation: plane geometry
    assert Duct(diameter=0.2).area == pytest.approx(math.pi * 0.01)
    assert Duct(width=0.2, height=0.1).hydraulic_diameter == pytest.approx(0.4 / 3.0)
    assert Duct(width=0.2, height=0.1).area == pytest.approx(0.02)
    assert Filter(width=1.22, depth=0.61).area == pytest.approx(0.7442)
    assert Port(wall="bottom", width=0.2, depth=0.3).area == pytest.approx(0.06)
    assert Port(wall="left", width=0.2, height=0.1).area == pytest.approx(0.02)
    assert CHAMBER.volume == pytest.approx(0.63375)
    fan = Fan(shut_off_pressure=300.0, free_flow=0.2, frequency=40.0, rated_frequency=50.0)
    assert fan.speed_ratio == 0.8
    assert Fan(shut_off_pressure=300.0, free_flow=0.2).speed_ratio == 1.0


def _plenum(**port: Any) -> Plenum:
    """Return a plenum with one port."""
    return Plenum(
        height=0.11, ports=[Port(**{"wall": "right", "width": 0.4, "height": 0.09, **port})]
    )


def _bench(**parts: Any) -> Case:
    """Return a case with plate, plenum and exhaust."""
    return _case(
        **{"work_surface": PLATE, "plenum": _plenum(), "exhaust": Exhaust(flow=0.1), **parts}
    )


def _tube(**keys: Any) -> Distributor:
    """Return a distributor that fits."""
    tube = {"diameter": 0.09, "length": 1.2, "hole_diameter": 0.012, "hole_count": 40}
    return Distributor(**{**tube, **keys})


BOX = {"label": "jar", "offset_x": 0.5, "offset_y": 0.2, "width": 0.1, "depth": 0.1, "height": 0.1}
FILTER = Filter(width=1.22, depth=0.61, rated_velocity=0.45, rated_drop=110.0)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({"plenum": _plenum(wall="front", width=1.4)}, "ports\\[0\\].width: is too large"),
        ({"plenum": _plenum(offset=0.4)}, "ports\\[0\\].offset: lies outside"),
        ({"plenum": _plenum(wall="bottom")}, "ports\\[0\\].depth: is missing for a port"),
        ({"plenum": _plenum(wall="bottom", depth=0.7)}, "ports\\[0\\].height: has no meaning"),
        ({"plenum": Plenum(height=0.1, ports=[])}, "plenum.ports: is empty"),
        ({"distributor": _tube(offset_y=0.02)}, "offset_y: puts the tube through a wall"),
        ({"distributor": _tube(offset_y=0.1)}, "offset_y: puts the tube beside its port"),
        ({"distributor": _tube(hole_count=9000)}, "closer than their diameter"),
        ({"distributor": _tube(hole_diameter=0.1)}, "hole_diameter: is not smaller than the tube"),
        (
            {"distributor": _tube(), "plenum": _plenum(wall="back")},
            "distributor: is joined to a port in the back wall",
        ),
        ({"objects": [Object(**{**BOX, "height": 0.8})]}, "objects\\[0\\].height: is too large"),
        ({"objects": [Object(**{**BOX, "offset_x": 1.25})]}, "objects\\[0\\].offset_x: lies"),
        (
            {
                "objects": [Object(**{**BOX, "bottom": 0.65})],
                "supply": Supply(flow=0.3, filter=FILTER),
            },
            "objects\\[0\\]: reaches the ceiling",
        ),
        ({"supply": Supply(flow=0.3, fan=Fan())}, "supply: gives flow and fan at once"),
        ({"exhaust": Exhaust()}, "exhaust: is incomplete"),
        ({"plenum": None, "work_surface": None}, "exhaust: draws from nothing"),
        ({"plenum": None}, "work_surface: leads nowhere"),
    ],
)
def test_contradiction_is_named(parts: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        _bench(**parts)


def test_stacked_objects_do_not_overlap() -> None:
    upper = Object(**{**BOX, "label": "lid", "bottom": 0.1})
    assert len(_bench(objects=[Object(**BOX), upper]).objects) == 2


def test_touching_openings_do_not_overlap() -> None:
    left = Opening(label="left half", wall="front", offset=0.0, bottom=0, width=0.6, height=0.2)
    right = Opening(label="right half", wall="front", offset=0.6, bottom=0, width=0.6, height=0.2)
    assert len(_case(openings=[left, right]).openings) == 2


def test_all_contradictions_are_listed_at_once() -> None:
    with pytest.raises(ValidationError, match="supply: is incomplete") as caught:
        _bench(supply=Supply(), plenum=_plenum(height=0.2), distributor=_tube(length=1.4))
    assert "plenum.ports[0].height: is too large" in str(caught.value)
    assert "distributor.length: is too large" in str(caught.value)
