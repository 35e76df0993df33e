"""The Newton step for a front that is neutral in places."""

from __future__ import annotations

import numpy as np
import pytest
from benches import BENCH, bench

from flowsim.simulate import coupling
from flowsim.simulate.correction_vector import pack, unpack
from flowsim.simulate.layout import lay_out
from flowsim.simulate.run import run_case

SIDE = {
    "label": "side",
    "wall": "left",
    "offset": 0.2,
    "bottom": 0.3,
    "width": 0.2,
    "height": 0.2,
}


@pytest.mark.parametrize("openings", [BENCH["openings"], [BENCH["openings"][0], SIDE]])
def test_known_slope_equals_finite_differences(openings: list[dict[str, object]]) -> None:
    """With fixed flows the openings' part of the derivative is all there is."""
    layout = lay_out(bench(openings=openings, numerics={"cells": [10, 6, 8]}))
    models = coupling._Models(layout)
    vector = pack(models.start)
    count = sum(plan.position.size for plan in layout.openings)
    vector[:count] = 0.05

    def change(point: np.ndarray) -> np.ndarray:
        new, _ = models.round(unpack(point, models.start))
        return pack(new) - point

    _, state = models.round(unpack(vector, models.start))
    known = coupling._slope(state, models)[:count, :count]
    base = change(vector)
    for station in (0, count // 2, count - 1):
        moved = vector.copy()
        moved[station] += 1e-6
        numeric = (change(moved) - base)[:count] / 1e-6
        assert known[:, station] == pytest.approx(numeric, abs=0.05 * np.abs(numeric).max())


def test_neutral_front_settles_in_few_rounds() -> None:
    """Not one round per station, as plain differences would take."""
    result = run_case(bench(exhaust={"flow": 0.2605}, numerics={"cells": [60, 15, 20]}))
    assert result["front_velocity_min"] is not None
    assert result["front_velocity_max"] is not None
    assert result["front_velocity_min"] < 0.0 < result["front_velocity_max"]
    assert result.residuals["coupling_rounds"] < 60


def test_settled_state_does_not_depend_on_the_tolerance() -> None:
    """Two tolerances agree to the looser one."""
    case = bench(exhaust={"flow": 0.2595})
    tight = case.model_copy(
        update={"numerics": case.numerics.model_copy(update={"tolerance": 1e-10})}
    )
    one, two = run_case(case), run_case(tight)
    assert one.openings[0].velocity == pytest.approx(two.openings[0].velocity, abs=1e-6)
