"""Grid, patches on walls, solid boxes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.chamber.grid import Box, Grid, box_cells, overlap, wall_axes, wall_patch, with_boxes
from flowsim.errors import RangeError

GRID = Grid(13, 5, 15, 1.3, 0.5, 0.75)


def test_centres_and_edges_fill_the_box() -> None:
    for edges, centres, size in zip(GRID.edges, GRID.centres, GRID.size, strict=True):
        assert edges[0] == 0.0
        assert edges[-1] == size
        np.testing.assert_allclose(0.5 * (edges[1:] + edges[:-1]), centres, rtol=1e-12)


@given(st.floats(-0.5, 2.0), st.floats(0.0, 2.0))
@settings(deadline=None, derandomize=True, max_examples=50)
def test_overlap_covers_the_interval_inside_the_cells(start: float, length: float) -> None:
    edges = GRID.edges[0]
    covered = overlap(edges, start, start + length)
    inside = max(0.0, min(start + length, 1.3) - max(start, 0.0))
    assert covered.sum() == pytest.approx(inside, abs=1e-12)
    assert np.all(covered >= 0.0)


def test_overlap_refuses_a_reversed_interval() -> None:
    with pytest.raises(RangeError, match="must not end before it starts"):
        overlap(GRID.edges[0], 0.4, 0.3)


@pytest.mark.parametrize(
    ("wall", "shape"), [("left", (5, 15)), ("back", (13, 15)), ("ceiling", (13, 5))]
)
def test_patch_keeps_its_area(wall: str, shape: tuple[int, int]) -> None:
    patch = wall_patch(GRID, wall, 0.11, 0.37, 0.2, 0.43)
    assert patch.shape == shape
    assert patch.sum() == pytest.approx(0.26 * 0.23, rel=1e-12)


def test_unknown_wall_is_refused() -> None:
    with pytest.raises(RangeError, match="unknown wall 'top'"):
        wall_axes("top")


def test_box_blocks_the_cells_whose_centre_it_holds() -> None:
    mask = with_boxes(GRID, [Box(0.1, 0.3, 0.0, 0.1, 0.0, 0.1)])
    assert np.argwhere(mask)[:, 0].tolist() == [1, 1, 2, 2]
    assert mask.sum() == 4


def test_boxes_add_to_a_mask() -> None:
    first = with_boxes(GRID, [Box(0.1, 0.3, 0.0, 0.1, 0.0, 0.1)])
    grid = Grid(13, 5, 15, 1.3, 0.5, 0.75, first)
    both = with_boxes(grid, [Box(0.8, 0.9, 0.3, 0.4, 0.0, 0.05)])
    assert both.sum() == 5


def test_thin_box_is_refused() -> None:
    with pytest.raises(RangeError, match=r"along y holds no cell centre: it would vanish"):
        box_cells(GRID, Box(0.1, 0.5, 0.16, 0.24, 0.0, 0.2))


def test_empty_mask_is_dropped() -> None:
    assert Grid(2, 2, 2, 1.0, 1.0, 1.0, np.zeros((2, 2, 2), dtype=np.bool_)).solid is None


@pytest.mark.parametrize(
    ("counts", "height", "mask", "match"),
    [
        ((0, 2, 2), 1.0, None, "at least 1 cell"),
        ((2, 2, 2), -1.0, None, "must be positive"),
        ((2, 2, 2), float("nan"), None, "must be positive"),
        ((2, 2, 2), 1.0, np.ones((2, 2, 2), dtype=np.bool_), "no room is left"),
        ((2, 2, 2), 1.0, np.ones((2, 2, 3), dtype=np.bool_), "mask of shape"),
    ],
)
def test_impossible_grid_is_refused(
    counts: tuple[int, int, int], height: float, mask: np.ndarray | None, match: str
) -> None:
    with pytest.raises(RangeError, match=match):
        Grid(*counts, 1.0, 1.0, height, mask)


def test_empty_box_is_refused() -> None:
    with pytest.raises(RangeError, match="y1 > y0"):
        Box(0.0, 1.0, 0.5, 0.5, 0.0, 1.0)
