from __future__ import annotations

import math

import numpy as np
import pytest
from network_parts import DENSITY, VISCOSITY, duct, opening, straight_fan
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.network.graph import DropLaw
from flowsim.network.laws import (
    CrackLaw,
    FaceLaw,
    GapLaw,
    Polynomial,
    Scaled,
    Series,
)
from flowsim.physics.filter_media import filter_from_rating
from flowsim.physics.perforated_plate import PerforatedPlate

PLATE = PerforatedPlate(0.02, 0.006, 0.006, 1.204, 1.813e-5)
LAWS: dict[str, DropLaw] = {
    "polynomial": Polynomial(500.0, 3000.0),
    "opening": opening(0.1, 0.6),
    "crack": CrackLaw(1e-3, 0.65),
    "gap": GapLaw(1e-3, 6e-3, 1.0, DENSITY, VISCOSITY),
    "duct": duct(0.1, 2.0, 5.0, 0.02),
    "plate": FaceLaw(0.8, PLATE),
    "filter": FaceLaw(0.7, filter_from_rating(0.45, 110.0)),
    "fan": straight_fan(300.0, 0.3),
    "series": Series((Polynomial(100.0), opening(0.02, 0.6))),
    "scaled": Scaled(Polynomial(100.0, 2000.0), 1.1),
}


@pytest.mark.parametrize("name", LAWS)
def test_every_law_rises_strictly(name: str) -> None:
    flows = np.concatenate([-np.logspace(0, -7, 60), [0.0], np.logspace(-7, 0, 60)])
    drops = np.array([LAWS[name].drop(float(q))[0] for q in flows])
    assert (np.diff(drops) > 0).all()


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("flow", [-0.2, -1e-3, 2e-5, 0.01, 0.45])
def test_slopes_are_derivatives(name: str, flow: float) -> None:
    law, step = LAWS[name], 1e-6 * abs(flow)
    difference = (law.drop(flow + step)[0] - law.drop(flow - step)[0]) / (2 * step)
    assert law.drop(flow)[1] == pytest.approx(difference, rel=1e-5)


@pytest.mark.parametrize("name", [name for name in LAWS if name != "polynomial"])
def test_slopes_are_finite_and_positive_at_rest(name: str) -> None:
    assert 0 < LAWS[name].drop(0.0)[1] < math.inf


def test_plate_and_filter_work_on_face_velocity() -> None:
    drop, slope = PLATE.drop(0.1)
    assert FaceLaw(0.8, PLATE).drop(0.08) == pytest.approx((drop, slope / 0.8), rel=1e-14)
    medium = filter_from_rating(0.45, 110.0)
    # rated point (common practice, no source)
    assert FaceLaw(0.7, medium).drop(0.315)[0] == pytest.approx(110.0, rel=1e-12)


@pytest.mark.parametrize("row", rows("flow_gap.csv"))
def test_gap_law_meets_its_table(row: dict[str, str]) -> None:
    height, path = float(row["h_mm"]) / 1e3, float(row["L_mm"]) / 1e3
    law = GapLaw(height, path, 1.0, 1.204, 1.813e-5)
    drop = law.drop(float(row["q_l_per_s_m"]) / 1e3)[0]
    # own solution of the quadratic (flow_gap.csv), strength A
    assert drop == pytest.approx(float(row["dp_Pa"]), rel=1e-5)


def test_scaled_by_a_share_is_that_many_side_by_side() -> None:
    one = Polynomial(10.0, 300.0)
    assert Scaled(one, 0.25).drop(0.4)[0] == pytest.approx(one.drop(0.1)[0], rel=1e-14)


@pytest.mark.parametrize(
    ("message", "build"),
    [
        (">= 0, not both 0 .got linear -1", lambda: Polynomial(-1.0, 1.0)),
        (">= 0, not both 0 .got linear 0.0", lambda: Polynomial()),
        (">= 0, not both 0 .got linear nan", lambda: Polynomial(math.nan, 1.0)),
        ("a series needs at least one law", lambda: Series(())),
        ("factor must be positive", lambda: Scaled(Polynomial(1.0), 0.0)),
        ("area must be positive", lambda: FaceLaw(0.0, PLATE)),
    ],
)
def test_impossible_laws_are_refused(message: str, build: object) -> None:
    with pytest.raises(RangeError, match=message):
        build()  # type: ignore[operator]


def test_validity_is_passed_on_from_what_is_wrapped() -> None:
    plate = FaceLaw(0.8, PLATE)
    assert plate.validity(0.8) == PLATE.validity(1.0)
    assert Series((plate, plate)).validity(0.8) == 2 * plate.validity(0.8)
    assert Scaled(plate, 2.0).validity(0.4) == plate.validity(0.8)
