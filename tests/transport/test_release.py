"""Places in metres, as weights of the cells."""

from __future__ import annotations

import numpy as np
import pytest

from flowsim.chamber.boundary import zero_flux
from flowsim.chamber.grid import Box, Grid, wall_patch, with_boxes
from flowsim.chamber.potential import Field
from flowsim.errors import RangeError
from flowsim.transport.faces import FaceArrays, faces_of_solids, wall_faces
from flowsim.transport.release import face_weights, layer_above, patch_weights, release_weights
from flowsim.transport.tracking import Ends, track
from flowsim.transport.tracking_ends import Patch
from flowsim.transport.tracking_model import Walk

BLOCK = Box(0.2, 0.6, 0.0, 0.4, 0.0, 0.33)
PLAIN = Grid(10, 5, 10, 1.0, 0.5, 1.0)


def with_block() -> Grid:
    """Return a grid with a block whose top lies inside a layer of cells."""
    return Grid(10, 5, 10, 1.0, 0.5, 1.0, with_boxes(PLAIN, (BLOCK,)))


def test_block_is_filled_by_volume() -> None:
    weights = release_weights(PLAIN, (0.05, 0.2, 0.1, 0.2, 0.0, 0.15))
    # shares of the volume 0.15 x 0.1 x 0.15 m3 in its four cells
    assert weights[:2, 1, :2] == pytest.approx(np.array([[2, 1], [4, 2]]) / 9.0)
    assert weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert np.count_nonzero(weights) == 4


def test_flat_release_lies_in_the_air_right_above() -> None:
    on_floor = release_weights(PLAIN, (0.2, 0.6, 0.1, 0.3, 0.0, 0.0))
    assert on_floor.sum() == pytest.approx(on_floor[2:6, 1:3, 0].sum()) == pytest.approx(1.0)
    raised = release_weights(PLAIN, (0.2, 0.6, 0.1, 0.3, 0.3, 0.3))
    assert raised[2:6, 1:3, 3].sum() == pytest.approx(1.0)
    under_ceiling = release_weights(PLAIN, (0.2, 0.6, 0.1, 0.3, 1.0, 1.0))
    assert under_ceiling[:, :, -1].sum() == pytest.approx(1.0)


def test_point_and_line_lie_in_the_cells_they_touch() -> None:
    point = release_weights(PLAIN, (0.25, 0.25, 0.25, 0.25, 0.05, 0.05))
    assert np.argwhere(point).tolist() == [[2, 2, 0]]
    between = release_weights(PLAIN, (0.3, 0.3, 0.1, 0.2, 0.0, 0.0))
    assert between[2:4, 1, 0] == pytest.approx([0.5, 0.5])  # mirror images are treated alike
    assert release_weights(PLAIN, (0, 0, 0, 0, 0, 0))[0, 0, 0] == 1.0


def test_solids_take_no_part_of_a_release() -> None:
    grid = with_block()
    weights = release_weights(grid, (0.0, 1.0, 0.0, 0.5, 0.0, 0.5))
    assert not weights[~grid.fluid].any()
    assert weights.sum() == pytest.approx(1.0, abs=1e-14)
    assert np.ptp(weights[grid.fluid & (np.arange(10) < 5)]) < 1e-15


def test_thin_vapour_on_an_object_is_not_lost_in_its_last_cell() -> None:
    grid = with_block()  # 0.33 m high, 0.3 m on the grid; another of 0.37 m would be 0.4 m
    for z1 in (0.33, 0.331, 0.34):
        weights = release_weights(grid, (0.2, 0.6, 0.0, 0.4, 0.33, z1))
        assert weights[2:6, :4, 3].sum() == pytest.approx(1.0)
    tall = Grid(10, 5, 10, 1.0, 0.5, 1.0, with_boxes(PLAIN, (Box(0.2, 0.6, 0, 0.4, 0, 0.37),)))
    weights = release_weights(tall, (0.2, 0.6, 0.0, 0.4, 0.37, 0.38))
    assert weights[2:6, :4, 4].sum() == pytest.approx(1.0)


@pytest.mark.parametrize("layers", [7, 10, 13, 24])
@pytest.mark.parametrize("height", [0.05, 0.25, 0.33, 0.35, 0.5])
def test_surface_of_any_object_is_found_on_the_grid(layers: int, height: float) -> None:
    plain = Grid(10, 5, layers, 1.0, 0.5, 1.0)
    if height <= 0.5 / layers:
        return  # refused as an object that would vanish
    solid = with_boxes(plain, (Box(0.2, 0.6, 0.0, 0.4, 0.0, height),))
    grid = Grid(10, 5, layers, 1.0, 0.5, 1.0, solid)
    layer = layer_above(grid, height)
    assert not grid.fluid[3, 1, layer - 1]
    assert grid.fluid[3, 1, layer]
    field = Field(grid, zero_flux(grid), "volume", "direct", 0)
    patch = Patch("mirror", 0.2, 0.6, 0.0, 0.4, height)
    fallen = track(field, np.array([[0.4, 0.2, 0.9]]), Walk(settling=1.0), Ends(patches=(patch,)))
    assert fallen.counts["mirror"] == 1


def test_workpiece_weighs_the_air_above_it_by_area() -> None:
    grid = with_block()
    weights = patch_weights(grid, 0.25, 0.4, 0.1, 0.2, 0.33)
    assert weights[2:4, 1, 3] == pytest.approx([1 / 3, 2 / 3])
    assert np.count_nonzero(weights) == 2
    beside = patch_weights(grid, 0.1, 0.3, 0.0, 0.1, 0.0)  # half of it under the block
    assert np.argwhere(beside).tolist() == [[1, 0, 0]]


def test_faces_weigh_the_air_they_touch() -> None:
    grid = with_block()
    area = wall_patch(grid, "front", 0.1, 0.35, 0.4, 0.6)
    weights = face_weights(grid, wall_faces(grid, "front", area))
    assert weights[1:4, 0, 4:6].sum() == pytest.approx(1.0)
    assert weights[3, 0, 4] == pytest.approx(0.1)
    on_block = face_weights(grid, faces_of_solids(grid))
    assert on_block[2, 1, 3] > 0.0
    assert not on_block[~grid.fluid].any()


@pytest.mark.parametrize(
    ("limits", "message"),
    [
        ((0.5, 0.4, 0, 0.1, 0, 0), "must not end before it starts, got x 0.5 to 0.4 m"),
        ((0.5, 1.4, 0, 0.1, 0, 0), "passes the chamber, which is 1 m along x"),
        ((-0.1, 0.4, 0, 0.1, 0, 0), "passes the chamber"),
        ((0.1, 0.4, 0, 0.6, 0, 0), "which is 0.5 m along y"),
        ((0.1, 0.4, 0, 0.1, 0.9, 1.1), "which is 1 m along z"),
        ((np.nan, 0.4, 0, 0.1, 0, 0), "must not end before"),
        ((0.3, 0.5, 0.1, 0.2, 0.1, 0.2), "release in .* lies wholly inside a solid"),
        ((0.3, 0.5, 0.1, 0.2, 0.1, 0.1), "release in .* lies wholly inside a solid"),
    ],
)
def test_impossible_places_are_refused(limits: tuple[float, ...], message: str) -> None:
    with pytest.raises(RangeError, match=message):
        release_weights(with_block(), limits)  # type: ignore[arg-type]


def test_impossible_patches_and_faces_are_refused() -> None:
    grid = with_block()
    with pytest.raises(RangeError, match=r"patch in .* lies wholly inside a solid"):
        patch_weights(grid, 0.3, 0.5, 0.1, 0.2, 0.1)
    with pytest.raises(RangeError, match="passes the chamber"):
        patch_weights(grid, 0.3, 0.5, 0.1, 0.2, -0.1)
    nothing = wall_faces(grid, "front", 0.0)
    with pytest.raises(RangeError, match="faces must carry weights"):
        face_weights(grid, nothing)
    inner = FaceArrays(*(np.array(part) for part in nothing.axes))
    inner.z[0, 0, 5] = 1.0  # between two cells of air
    with pytest.raises(RangeError, match="got a sum of 0"):
        face_weights(grid, inner)
