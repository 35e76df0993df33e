"""The field in a box without solids: exact solutions and laws of nature."""

from __future__ import annotations

import numpy as np
import pytest
from chamber_flows import bench, largest_difference, plane_box, points_of, volume_box
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.velocity import stream_function, velocity_at
from flowsim.errors import RangeError

PLANE = {case: [r for r in rows("flow_box2d.csv") if r["case"] == case] for case in "AB"}


def plane_error(case: str, cells: tuple[int, int], axis: str) -> FloatArray:
    """Return the velocity error at each point of the table."""
    table = PLANE[case]
    along = 1 if axis == "yz" else 0
    found = velocity_at(plane_box(case, cells, axis), points_of(table, {along: "x", 2: "y"}))
    exact = np.array([[float(row["u"]), float(row["v"])] for row in table])
    return np.abs(found[:, [along, 2]] - exact).max(axis=1)


@pytest.mark.parametrize("axis", ["yz", "xz"])
@pytest.mark.parametrize(("case", "inflow"), [("A", 1.0), ("B", 0.3)])
def test_plane_boxes_meet_the_exact_velocity(case: str, inflow: float, axis: str) -> None:
    # own derivation, two methods (flow_box2d.csv), strength A
    assert plane_error(case, (100, 80), axis).max() < 0.003 * inflow


@pytest.mark.parametrize("case", ["A", "B"])
def test_plane_boxes_converge_at_second_order(case: str) -> None:
    # own derivation, two methods (flow_box2d.csv), strength A; second order of the scheme
    errors = [np.sqrt(np.mean(plane_error(case, (n, n), "yz") ** 2)) for n in (80, 160, 320)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert np.all(orders >= 1.9)


@pytest.mark.parametrize("case", ["A", "B"])
def test_plane_boxes_meet_the_exact_stream_function(case: str) -> None:
    field = plane_box(case, (100, 80))
    psi = stream_function(field)
    length = field.grid.depth
    corner = 0.0 if case == "A" else -0.5 * 0.2  # of the table's stream function at the origin
    for row in PLANE[case]:
        j, k = float(row["x"]) / length * 100, float(row["y"]) / 0.8 * 80
        if abs(j - round(j)) + abs(k - round(k)) < 1e-9:
            # own derivation, two methods (flow_box2d.csv), strength A
            exact = float(row["psi"]) - corner
            assert psi[round(j), round(k)] == pytest.approx(exact, abs=2e-4)


def test_volume_box_meets_the_exact_velocity() -> None:
    # own derivation, two methods (flow_box3d.csv), strength A
    table = rows("flow_box3d.csv")
    exact = np.array([[float(row[name]) for name in "uvw"] for row in table])
    points = points_of(table, {0: "x", 1: "y", 2: "z"})
    speed = np.linalg.norm(exact, axis=1)
    errors = []
    for factor in (1, 2):
        found = velocity_at(volume_box((50 * factor, 30 * factor, 40 * factor)), points)
        errors.append(np.linalg.norm(found - exact, axis=1) / speed)
    assert errors[1].max() < 0.003
    assert np.log2(errors[0].max() / errors[1].max()) > 1.9


@pytest.mark.parametrize("case", ["A", "B"])
def test_stacked_and_volume_equal_the_section_when_nothing_varies_along_x(case: str) -> None:
    section = plane_box(case, (24, 20)).flux
    stacked = plane_box(case, (24, 20), stations=4)
    volume = solve_field(stacked.grid, stacked.flux, "volume").flux
    assert largest_difference(volume, stacked.flux) < 1e-13
    for one, all_stations in ((section.y, stacked.flux.y), (section.z, stacked.flux.z)):
        np.testing.assert_allclose(4.0 * all_stations, np.repeat(one, 4, axis=0), atol=1e-13)


def test_stacked_flow_along_x_carries_the_imbalance_evenly() -> None:
    # flow.md is silent: own derivation, d(A u_x)/dx = imbalance of the station, exact
    grid, flux = bench((12, 6, 8))
    field = solve_field(grid, flux, "stacked")
    supply = flux.z[:, :, 0].sum(axis=1) - flux.z[:, :, -1].sum(axis=1)
    supply += flux.y[:, 0].sum(axis=1)
    np.testing.assert_allclose(
        field.flux.x[1:].sum(axis=(1, 2)), np.cumsum(supply), rtol=1e-9, atol=1e-15
    )
    assert np.ptp(field.flux.x[5]) == 0.0


@st.composite
def random_boxes(draw: st.DrawFn) -> tuple[Grid, FaceFlux]:
    """Return a box of any shape with balanced random fluxes on all walls."""
    counts = draw(st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 9)))
    sizes = draw(st.tuples(*[st.floats(0.1, 3.0)] * 3))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    grid = Grid(*counts, *sizes)
    flux = zero_flux(grid)
    for axis, values in enumerate(flux.axes):
        for end in (0, -1):
            index: list[slice | int] = [slice(None)] * 3
            index[axis] = end
            values[tuple(index)] = rng.normal(size=values[tuple(index)].shape)
    x, y, z = flux.axes
    net = x[0].sum() - x[-1].sum() + y[:, 0].sum() - y[:, -1].sum()
    net += z[:, :, 0].sum() - z[:, :, -1].sum()
    z[:, :, -1] += net / (grid.nx * grid.ny)
    return grid, flux


@pytest.mark.parametrize("closure", ["volume", "stacked"])
@given(random_boxes())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_divergence_is_round_off(closure: str, case: tuple[Grid, FaceFlux]) -> None:
    grid, flux = case
    field = solve_field(grid, flux, closure)
    assert field.divergence < 1e-12
    for given_values, values in zip(flux.axes, field.flux.axes, strict=True):
        assert values.shape == given_values.shape
    np.testing.assert_array_equal(field.flux.x[[0, -1]], flux.x[[0, -1]])
    np.testing.assert_array_equal(field.flux.y[:, [0, -1]], flux.y[:, [0, -1]])
    np.testing.assert_array_equal(field.flux.z[:, :, [0, -1]], flux.z[:, :, [0, -1]])


def circulation(field: Field) -> float:
    """Return the largest loop integral of velocity round four cells."""
    grid = field.grid
    u, v, w = (
        values / area * step
        for values, area, step in zip(field.flux.axes, grid.face_areas, grid.spacing, strict=True)
    )
    loops = [
        v[:, 1:-1, 1:] - v[:, 1:-1, :-1] - w[:, 1:, 1:-1] + w[:, :-1, 1:-1],
        u[1:-1, 1:] - u[1:-1, :-1] - v[1:, 1:-1] + v[:-1, 1:-1],
        u[1:-1, :, 1:] - u[1:-1, :, :-1] - w[1:, :, 1:-1] + w[:-1, :, 1:-1],
    ]
    return max(float(np.abs(loop).max()) for loop in loops)


def test_volume_flow_turns_nowhere() -> None:
    # a gradient has no circulation, exact
    grid, flux = bench((14, 9, 11))
    assert circulation(solve_field(grid, flux, "volume")) < 1e-14


@pytest.mark.parametrize("closure", ["stacked", "volume"])
def test_mirror_image_gives_the_mirrored_field(closure: str) -> None:
    # a law of nature: mirror symmetry
    grid, flux = bench((14, 9, 11))
    mirrored = FaceFlux(-flux.x[::-1], flux.y[::-1], flux.z[::-1])
    one = solve_field(grid, flux, closure).flux
    other = solve_field(grid, mirrored, closure).flux
    back = FaceFlux(-other.x[::-1], other.y[::-1], other.z[::-1])
    assert largest_difference(back, one) < 1e-12


@pytest.mark.parametrize("closure", ["stacked", "volume"])
def test_fields_add_up(closure: str) -> None:
    # a law of nature: superposition of potential flows
    grid, one = bench((14, 9, 11))
    _, other = bench((14, 9, 11), front=-0.4)
    both = FaceFlux(*(2.0 * a - 3.0 * b for a, b in zip(one.axes, other.axes, strict=True)))
    parts = [solve_field(grid, flux, closure).flux for flux in (one, other)]
    total = FaceFlux(
        *(2.0 * a - 3.0 * b for a, b in zip(parts[0].axes, parts[1].axes, strict=True))
    )
    assert largest_difference(solve_field(grid, both, closure).flux, total) < 1e-12


def test_long_axes_use_fast_transforms_with_the_same_answer() -> None:
    grid = Grid(3, 4, 300, 0.3, 0.4, 3.0)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0.0, 0.3, 0.0, 0.4))
    add_wall_flux(flux, grid, "left", 0.12 / 0.04 * wall_patch(grid, "left", 0, 0.4, 0, 0.1), False)
    field = solve_field(grid, flux, "volume")
    assert field.divergence < 1e-12
    assert circulation(field) < 1e-12


def test_no_flow_gives_no_flow() -> None:
    grid = Grid(4, 3, 5, 1.0, 1.0, 1.0)
    field = solve_field(grid, zero_flux(grid), "volume")
    assert field.divergence == 0.0
    assert not field.flux.x.any()


@pytest.mark.parametrize("closure", ["section", "stacked", "volume"])
def test_imbalance_is_refused(closure: str) -> None:
    grid = Grid(1, 4, 5, 1.0, 1.0, 1.0)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", np.full((1, 4), 0.1))
    with pytest.raises(RangeError, match=r"differ by 0\.4 m3/s .* must balance"):
        solve_field(grid, flux, closure)


def test_wrong_arguments_are_refused() -> None:
    grid = Grid(2, 4, 5, 1.0, 1.0, 1.0)
    flux = zero_flux(grid)
    with pytest.raises(RangeError, match="unknown closure 'layered'"):
        solve_field(grid, flux, "layered")
    with pytest.raises(RangeError, match="nx = 1 or ny = 1"):
        solve_field(grid, flux, "section")
    with pytest.raises(RangeError, match="face fluxes along y must have shape"):
        solve_field(grid, FaceFlux(flux.x, flux.x, flux.z), "volume")
    flux.z[0, 0, 0] = np.nan
    with pytest.raises(RangeError, match="must balance"):
        solve_field(grid, flux, "volume")
