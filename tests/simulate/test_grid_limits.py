"""Grids that are too coarse, cuts that miss something, solids across a cut."""

from __future__ import annotations

from typing import Any

import pytest
from benches import BENCH, TRAY, bench

from flowsim.errors import RangeError
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case

BAR: dict[str, Any] = {
    "label": "bar", "offset_x": 0.0, "offset_y": 0.3, "width": 1.3, "depth": 0.1, "height": 0.1,
}  # fmt: skip


def run(cells: list[int], **parts: Any) -> Result:
    """Run the bench on a grid."""
    return run_case(bench(numerics={"cells": cells, **parts.pop("numerics", {})}, **parts))


def test_coarse_grid_shows_nothing_and_says_so() -> None:
    """One cell must not give an even draw that is "met"."""
    result = run([1, 1, 1], limits={"draw_ratio": {"max": 1.25}, "balance_margin": {"min": 0.05}})
    assert {check.state for check in result.checks} == {"not shown"}
    assert any("too coarse" in text for text in result.warnings)


@pytest.mark.parametrize("cells", [[52, 26, 20], [53, 27, 20], [10, 9, 12]])
def test_verdicts_on_the_draw_know_what_the_cells_leave_open(cells: list[int]) -> None:
    """A limit closer than what twice the cell size moves is not shown, on odd grids too."""
    ratio = run(cells)["draw_ratio"]
    assert ratio is not None
    (check,) = run(cells, limits={"draw_ratio": {"max": ratio + 0.003}}).checks
    assert check.state == "not shown"


def test_draw_at_half_the_cell_size_stays_within_the_stated_doubt() -> None:
    """The doubt of one grid covers the next finer one."""
    coarse, fine = run([32, 16, 12])["draw_ratio"], run([64, 32, 12])["draw_ratio"]
    rough = run([16, 16, 12])["draw_ratio"]
    assert coarse is not None
    assert fine is not None
    assert rough is not None
    assert abs(fine - coarse) < 1.5 * abs(coarse - rough) + 0.01


@pytest.mark.parametrize("fidelity", ["section", "stacked", "volume"])
def test_bar_from_wall_to_wall_is_solved_at_every_fidelity(fidelity: str) -> None:
    """A solid across the cut closes the plate below it."""
    result = run([16, 20, 16], objects=[BAR], numerics={"fidelity": fidelity})
    assert result["mass_balance_error"] is not None
    assert result["mass_balance_error"] <= 1e-10
    assert result["front_outflow"] == pytest.approx(0.05, rel=1e-9)


def test_opening_outside_the_cut_is_said() -> None:
    """A side window does not show in a cut along the depth."""
    side = {"label": "side", "wall": "left", "offset": 0.2, "bottom": 0.3, "width": 0.2,
            "height": 0.2}  # fmt: skip
    result = run(
        [16, 16, 16], openings=[BENCH["openings"][0], side], numerics={"fidelity": "section"}
    )
    assert any("opening side does not lie in the cut" in text for text in result.warnings)


def test_tray_that_does_not_fit_the_grid_is_named() -> None:
    """The message says which compartment and which key to change."""
    with pytest.raises(RangeError, match=r"compartment 'tray' does not fit .*numerics\.cells"):
        run([26, 1, 16], compartments=[TRAY])


def test_object_thinner_than_a_cell_is_named() -> None:
    """It must not vanish silently."""
    thin = {**BAR, "label": "shelf", "height": 0.001, "bottom": 0.3}
    with pytest.raises(RangeError, match=r"object 'shelf' is thinner than a cell"):
        run([16, 16, 16], objects=[thin])


def test_network_alone_says_when_the_plenum_would_choke() -> None:
    """One pressure for the plenum is no longer true there."""
    low = {"height": 0.01, "ports": [{"label": "p", "wall": "right", "width": 0.4,
                                      "height": 0.009}]}  # fmt: skip
    result = run([16, 16, 16], plenum=low, numerics={"fidelity": "network"})
    assert any("chokes" in text for text in result.warnings)
