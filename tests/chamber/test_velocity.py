"""Velocities from face fluxes; sinks in a wall; the flow along an opening."""

from __future__ import annotations

import numpy as np
import pytest
from chamber_flows import BENCH_BOXES, bench
from reference_data import rows

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, wall_flux, zero_flux
from flowsim.chamber.grid import Grid, overlap, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.velocity import (
    cell_velocity,
    downward_at_height,
    stream_function,
    velocity_at,
    wall_tangential,
)
from flowsim.errors import RangeError


def slot_stream(y: FloatArray, z: FloatArray, width: float) -> FloatArray:
    """Return the stream function of a slot of unit face speed in the wall y = 0, about z = 0.

    Even sinks along the slot: the integral of the line sink's logarithm (flow.md 8, form of the
    2D slot).
    """
    half = width / 2
    point = z + 1j * np.maximum(y, 1e-300)
    upper, lower = point + half, point - half
    potential = upper * np.log(upper) - lower * np.log(lower)
    return np.imag(potential) / np.pi


def slot_field(cells: int, width: float) -> Field:
    """Return the flow to a slot in the front wall; the outer walls carry the exact flux."""
    size = 8.0 * width
    grid = Grid(1, cells // 2, cells, 1.0, size / 2, size)
    flux = zero_flux(grid)
    centre = size / 2
    slot = wall_patch(grid, "front", 0.0, 1.0, centre - width / 2, centre + width / 2)
    add_wall_flux(flux, grid, "front", slot, inward=False)
    _, y, z = grid.edges
    back = np.diff(slot_stream(np.full(z.size, size / 2), z - centre, width))
    floor = np.diff(slot_stream(y, np.full(y.size, -centre), width))
    ceiling = np.diff(slot_stream(y, np.full(y.size, centre), width))
    add_wall_flux(flux, grid, "back", -back[np.newaxis, :])
    add_wall_flux(flux, grid, "floor", -floor[np.newaxis, :])
    add_wall_flux(flux, grid, "ceiling", ceiling[np.newaxis, :])
    return solve_field(grid, flux, "section")


def test_slot_in_a_wall_meets_the_exact_centreline() -> None:
    # own derivation, closed form v/v0 = (2/pi) atan(w/2x) (flow.md 8, 2D slot), strength A
    distance = np.array([0.25, 0.5, 1.0, 1.5, 2.0])
    exact = 2.0 / np.pi * np.arctan(0.5 / distance)
    errors = []
    for cells in (64, 128, 256):
        field = slot_field(cells, 0.1)
        points = np.column_stack([np.full(5, 0.5), 0.1 * distance, np.full(5, 0.4)])
        errors.append(np.abs(-velocity_at(field, points)[:, 1] - exact).max())
    assert errors[-1] < 1e-3
    assert np.log2(errors[0] / errors[-1]) / 2 > 1.8


def disc_flux(grid: Grid, radius: float) -> FaceFlux:
    """Return the flux of an even disc sink of unit face speed in the middle of the floor.

    The outer walls carry the flux of the disc's point sinks, summed over rings of the disc.
    """
    flux = zero_flux(grid)
    x, y, z = grid.centres
    rings = (np.arange(12) + 0.5) / 12 * radius
    turn = np.pi / 20 * (np.arange(40) + 0.5)
    sinks = np.array([(r * np.cos(a), r * np.sin(a)) for r in rings for a in turn])
    sinks += [grid.width / 2, grid.depth / 2]
    weight = np.repeat(rings, turn.size) * (radius / 12) * (np.pi / 20) / (2.0 * np.pi)
    for wall, first, second, normal, place in (
        ("left", y, z, 0, 0.0),
        ("right", y, z, 0, grid.width),
        ("front", x, z, 1, 0.0),
        ("back", x, z, 1, grid.depth),
        ("ceiling", x, y, 2, grid.height),
    ):
        along = [axis for axis in range(3) if axis != normal]
        point = np.empty((first.size, second.size, 3))
        point[..., normal] = place
        point[..., along[0]], point[..., along[1]] = np.meshgrid(first, second, indexing="ij")
        amount = np.zeros(point.shape[:2])
        for (sx, sy), share in zip(sinks, weight, strict=True):
            away = point - [sx, sy, 0.0]
            amount -= share * away[..., normal] / np.linalg.norm(away, axis=-1) ** 3
        wall_flux(flux, wall)[...] = amount * grid.face_areas[normal]
    return flux


def test_disc_in_a_wall_meets_the_exact_centreline() -> None:
    # own derivation, closed form and quadrature (flow_opening_centreline.csv), strength A
    radius = 0.1
    grid = Grid(64, 64, 40, 0.8, 0.8, 0.5)
    flux = disc_flux(grid, radius)
    fine = (np.arange(640) + 0.5) * (0.8 / 640) - 0.4
    inside = (fine[:, np.newaxis] ** 2 + fine[np.newaxis, :] ** 2 < radius**2).astype(float)
    disc = inside.reshape(64, 10, 64, 10).sum(axis=(1, 3))
    flux.z[:, :, 0] = -disc * np.pi * radius**2 / disc.sum()
    net = flux.x[0].sum() - flux.x[-1].sum() + flux.y[:, 0].sum() - flux.y[:, -1].sum()
    net += flux.z[:, :, 0].sum() - flux.z[:, :, -1].sum()
    assert abs(net) < 2e-3 * np.pi * radius**2  # of the sums over faces and rings
    flux.z[:, :, -1] += net / 64**2
    field = solve_field(grid, flux, "volume")
    table = [row for row in rows("flow_opening_centreline.csv") if float(row["X"]) > 0.4]
    height = np.array([float(row["X"]) for row in table]) * np.sqrt(np.pi) * radius
    points = np.column_stack([np.full(len(table), 0.4), np.full(len(table), 0.4), height])
    down = -velocity_at(field, points)[:, 2]
    exact = [float(row["disc_uniform_flux"]) for row in table]
    np.testing.assert_allclose(down, exact, rtol=0.01)


def opening_section(cells: int, out: float = 0.17, down: float = 0.36) -> Field:
    """Return downflow past an opening in the front, edges on faces; cells over its height."""
    height = 0.16
    grid = Grid(1, 4 * cells, 5 * cells, 1.0, 0.64, 0.8)
    flux = zero_flux(grid)
    front = wall_patch(grid, "front", 0.0, 1.0, 0.2, 0.2 + height)
    top = wall_patch(grid, "ceiling", 0.0, 1.0, 0.0, 0.64)
    add_wall_flux(flux, grid, "front", out * front, inward=False)
    add_wall_flux(flux, grid, "ceiling", (down + 0.5 * out * front.sum() / 0.64) * top)
    add_wall_flux(flux, grid, "floor", (down - 0.5 * out * front.sum() / 0.64) * top, False)
    return solve_field(grid, flux, "section")


def test_strip_mean_along_an_opening_converges_while_the_largest_value_grows() -> None:
    # own derivation (numerics: strip mean of the tangential flow): the mean is a difference of
    # potentials and finite, single cells grow like the logarithm of their number
    means, largest = [], []
    for cells in (8, 16, 32, 64):
        field = opening_section(cells)
        along = -wall_tangential(field, "front")[1][0]
        share = overlap(field.grid.edges[2], 0.2, 0.36)
        means.append(float(along @ share / share.sum()))
        largest.append(float(along.max()))
    steps = np.abs(np.diff(means))
    assert steps[-1] < 2e-4 * means[-1]
    assert np.all(steps[:-1] / steps[1:] > 1.8)
    assert np.all(np.diff(largest) > 0.02)
    # symmetric about the middle of the opening: the mean is the undisturbed downflow
    assert means[-1] == pytest.approx(0.36, rel=0.02)


def uniform_field(u: float, v: float, w: float, counts: tuple[int, int, int]) -> Field:
    """Return even flow in every direction at once."""
    grid = Grid(*counts, 0.9, 0.6, 0.5)
    flux = zero_flux(grid)
    for axis, (values, area, speed) in enumerate(
        zip(flux.axes, grid.face_areas, (u, v, w), strict=True)
    ):
        index: list[slice | list[int]] = [slice(None)] * 3
        index[axis] = [0, -1]
        values[tuple(index)] = speed * area
    return solve_field(grid, flux, "volume")


@pytest.mark.parametrize("counts", [(5, 4, 6), (3, 8, 7), (1, 5, 4)])
def test_even_flow_is_found_everywhere(counts: tuple[int, int, int]) -> None:
    # exact: a uniform flow is a potential flow
    field = uniform_field(0.1, -0.2, 0.3, counts)
    for component, speed in zip(cell_velocity(field), (0.1, -0.2, 0.3), strict=True):
        np.testing.assert_allclose(component, speed, rtol=1e-11)
    corners = np.array([[0.0, 0.0, 0.0], [0.9, 0.6, 0.5], [0.31, 0.02, 0.499]])
    np.testing.assert_allclose(velocity_at(field, corners), [[0.1, -0.2, 0.3]] * 3, rtol=1e-11)
    np.testing.assert_allclose(downward_at_height(field, 0.21), -0.3, rtol=1e-11)
    across, up = wall_tangential(field, "back")
    np.testing.assert_allclose(across, 0.1, rtol=1e-11)
    np.testing.assert_allclose(up, 0.3, rtol=1e-11)


def test_stream_function_of_even_flow_is_linear() -> None:
    field = uniform_field(0.1, -0.2, 0.3, (4, 5, 6))
    _, y, z = field.grid.edges
    exact = -0.2 * z[np.newaxis, :] - 0.3 * y[:, np.newaxis]
    np.testing.assert_allclose(stream_function(field, "x", 2), exact, atol=1e-14)
    x = field.grid.edges[0]
    exact = 0.1 * z[np.newaxis, :] - 0.3 * x[:, np.newaxis]
    np.testing.assert_allclose(stream_function(field, "y", 1), exact, atol=1e-14)


def test_solids_are_left_out() -> None:
    field = solve_field(*bench((26, 13, 15), BENCH_BOXES), "volume")
    solid = field.grid.solid
    assert solid is not None
    for component in cell_velocity(field):
        np.testing.assert_array_equal(np.isnan(component), solid)
    np.testing.assert_array_equal(np.isnan(downward_at_height(field, 0.12)), solid[:, :, 2])
    inside = np.array([[0.3, 0.35, 0.1], [0.02, 0.02, 0.1]])
    np.testing.assert_array_equal(np.isnan(velocity_at(field, inside)).any(axis=1), [True, False])
    across, up = wall_tangential(field, "floor")
    np.testing.assert_array_equal(np.isnan(across), solid[:, :, 0])
    assert np.isfinite(up[~solid[:, :, 0]]).all()


def test_impossible_places_are_refused() -> None:
    field = uniform_field(0.1, -0.2, 0.3, (4, 5, 6))
    with pytest.raises(RangeError, match="lies outside the chamber"):
        velocity_at(field, np.array([[1.0, 0.1, 0.1]]))
    with pytest.raises(RangeError, match=r"shape \(n, 3\)"):
        velocity_at(field, np.zeros(3))
    with pytest.raises(RangeError, match="height must lie"):
        downward_at_height(field, 0.6)
    with pytest.raises(RangeError, match="normal to x or y"):
        stream_function(field, "z")
    with pytest.raises(RangeError, match="station must be 0 to 3"):
        stream_function(field, "x", 4)
    with pytest.raises(RangeError, match="unknown wall"):
        wall_tangential(field, "top")
