"""Air passing the openings straight from the boundary, against the field itself."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benches import BENCH, TRAY, bench

from flowsim.case.schema import Case
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.fluxes import supply_shares
from flowsim.simulate.layout import lay_out
from flowsim.simulate.passing import PassingAir, passing_air
from flowsim.simulate.response import station_response, strip_means, window_weights

FRONT: dict[str, Any] = BENCH["openings"][0]
HIGH = FRONT | {"label": "high", "offset": 0.3, "bottom": 0.5, "width": 0.4, "height": 0.25}
REAR = FRONT | {"label": "rear", "wall": "back", "offset": 0.4, "bottom": 0.2, "width": 0.5}
SIDE = {
    "label": "side",
    "wall": "left",
    "offset": 0.2,
    "bottom": 0.3,
    "width": 0.2,
    "height": 0.2,
}
BLOCK = {
    "label": "block",
    "offset_x": 0.8,
    "offset_y": 0.06,
    "bottom": 0.1,
    "width": 0.2,
    "depth": 0.2,
    "height": 0.2,
}
LEAK = {"label": "seam", "at": "chamber", "area": 1e-3}

CASES = {
    "front": bench(),
    "tray": bench(compartments=[TRAY]),
    "side slit": bench(
        compartments=[TRAY | {"slit": TRAY["slit"] | {"side": "right", "length": 0.2}}]
    ),
    "two openings": bench(openings=[FRONT, REAR], leaks=[LEAK]),
    "under the ceiling": bench(openings=[FRONT, HIGH], compartments=[TRAY]),
    "behind a block": bench(objects=[BLOCK], openings=[FRONT, REAR]),
    "warm": bench(chamber={"temperature": 300.0}),
    "one row": bench(numerics={"cells": [8, 1, 10]}),
}


def state_of(case: Case) -> tuple[Coupled, PassingAir]:
    """Return a solved case with its passing air."""
    layout = lay_out(case)
    passing = passing_air(layout)
    assert passing is not None
    return couple(layout), passing


@pytest.mark.parametrize("name", CASES)
def test_means_are_those_of_the_field(name: str) -> None:
    """To round-off, from the fluxes of its outer faces alone."""
    state, passing = state_of(CASES[name])
    assert state.field is not None
    for plan, means in zip(state.layout.openings, passing.means(state.field.flux), strict=True):
        exact = strip_means(plan, state.field)
        found = means @ window_weights(plan).T
        assert found == pytest.approx(exact, abs=1e-11 * np.abs(exact).max())


@pytest.mark.parametrize("name", ["front", "two openings", "under the ceiling", "behind a block"])
def test_response_is_that_of_one_field_per_station(name: str) -> None:
    """All at once, in place of one field after the other."""
    state, passing = state_of(CASES[name])
    share = supply_shares(state.layout)
    exact = station_response(state.layout, share)
    windows = [window_weights(plan) for plan in state.layout.openings]
    rows = [
        np.concatenate([np.matmul(window, part) for part in row], axis=2)
        for row, window in zip(passing.response(share), windows, strict=True)
    ]
    found = np.concatenate(rows, axis=1)
    assert found == pytest.approx(exact, abs=1e-11 * np.abs(exact).max())


@pytest.mark.parametrize(
    "case",
    [
        bench(openings=[FRONT, SIDE]),
        bench(numerics={"fidelity": "volume"}),
        bench(numerics={"fidelity": "section"}),
        bench(numerics={"fidelity": "network"}),
        bench(openings=[]),
        bench(objects=[BLOCK | {"offset_y": 0.01, "bottom": 0.05}]),
    ],
    ids=["side", "volume", "section", "network", "none", "block in the opening"],
)
def test_other_cases_take_the_field(case: Case) -> None:
    """What does not stand station by station is not forced into it."""
    assert passing_air(lay_out(case)) is None


@pytest.mark.parametrize("name", ["tray", "two openings", "warm"])
def test_coupling_ends_where_it_does_with_the_field(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both ways round the loop have the same fixed point, and the new one takes fewer rounds."""
    numerics = CASES[name].numerics.model_copy(update={"tolerance": 1e-11})
    layout = lay_out(CASES[name].model_copy(update={"numerics": numerics}))
    short = couple(layout)
    monkeypatch.setattr("flowsim.simulate.coupling.passing_air", lambda _: None)
    long = couple(layout)
    assert short.iterations < long.iterations
    drive = abs(long.chamber_drive)
    assert short.chamber_drive == pytest.approx(long.chamber_drive, abs=1e-9 * drive)
    for one, two in zip(short.opening_flows, long.opening_flows, strict=True):
        assert one == pytest.approx(two, abs=1e-9 * np.abs(two).max())
    assert short.field is not None
    assert long.field is not None
    for one, two in zip(short.field.flux.axes, long.field.flux.axes, strict=True):
        assert one == pytest.approx(two, abs=1e-9 * np.abs(two).max())
