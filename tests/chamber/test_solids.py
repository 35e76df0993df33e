"""Flow round solids: against finite elements, laws of nature, refusals."""

from __future__ import annotations

import numpy as np
import pytest
import skfem
from chamber_flows import BENCH_BOXES, bench, largest_difference
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.linalg import LinearOperator, cg
from skfem.models.poisson import laplace

from flowsim.chamber import solids
from flowsim.chamber.boundary import (
    FaceFlux,
    Slit,
    add_rim_flux,
    add_slit_flux,
    add_wall_flux,
    zero_flux,
)
from flowsim.chamber.grid import Box, Grid, wall_patch, with_boxes
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.velocity import velocity_at
from flowsim.errors import ConvergenceError, RangeError


def through_flow(grid: Grid, closure: str) -> Field:
    """Return even inflow at the ceiling that leaves by the front half of the floor."""
    flux = zero_flux(grid)
    top = wall_patch(grid, "ceiling", 0.0, grid.width, 0.0, 0.6)
    floor = 2.0 * wall_patch(grid, "floor", 0.0, grid.width, 0.0, 0.3)
    add_wall_flux(flux, grid, "ceiling", top)
    add_wall_flux(flux, grid, "floor", floor, inward=False)
    return solve_field(grid, flux, closure)


def blocked(counts: tuple[int, int, int], width: float, box: Box) -> Grid:
    grid = Grid(*counts, width, 0.6, 0.8)
    return Grid(*counts, width, 0.6, 0.8, with_boxes(grid, [box]))


def element_solution(
    mesh: skfem.Mesh, element: skfem.Element, draw: float
) -> tuple[skfem.Basis, np.ndarray]:
    """Return the finite element potential, velocity = -grad, for inflow 1 and outflow `draw`."""
    basis = skfem.Basis(mesh, element, intorder=5)
    load = np.zeros(basis.N)
    for name, inflow in (("ceiling", 1.0), ("floor", -draw)):
        facets = skfem.FacetBasis(mesh, element, facets=mesh.boundaries[name], intorder=5)
        form = skfem.LinearForm(lambda v, _, inflow=inflow: inflow * v)
        load += form.assemble(facets)
    matrix = laplace.assemble(basis)
    scale = LinearOperator(matrix.shape, lambda v: v / matrix.diagonal())
    potential, left = cg(matrix, load, rtol=1e-10, M=scale)
    assert left == 0
    return basis, potential


def element_velocity(basis: skfem.Basis, potential: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Return the velocity of the finite element solution at points (n, dim)."""
    finder = basis.mesh.element_finder()
    cells = finder(*points.T)
    local = basis.mesh.mapping().invF(points.T[:, :, np.newaxis], tind=cells)
    velocity = np.zeros(points.shape)
    for i in range(basis.Nbfun):
        shape = basis.elem.gbasis(basis.mapping, local, i, tind=cells)[0]
        weight = potential[basis.dofs.element_dofs[i, cells]]
        velocity -= (weight * shape.grad[:, :, 0]).T
    return velocity


def test_section_with_a_box_agrees_with_finite_elements() -> None:
    box = Box(0.0, 1.0, 0.2, 0.4, 0.2, 0.45)
    mesh = skfem.MeshQuad.init_tensor(np.linspace(0.0, 0.6, 61), np.linspace(0.0, 0.8, 81))
    inside = (np.abs(mesh.p[:, mesh.t].mean(axis=1) - [[0.3], [0.325]]) < [[0.1], [0.125]]).all(0)
    mesh = mesh.remove_elements(np.flatnonzero(inside)).with_boundaries(
        {
            "floor": lambda p: (p[1] < 1e-9) & (p[0] < 0.3),
            "ceiling": lambda p: p[1] > 0.8 - 1e-9,
        }
    )
    basis, potential = element_solution(mesh, skfem.ElementQuad2(), 2.0)
    points = np.array([[0.1, 0.3], [0.5, 0.3], [0.3, 0.1], [0.3, 0.6], [0.05, 0.7], [0.5, 0.1]])
    exact = element_velocity(basis, potential, points)
    errors = []
    for factor in (1, 2, 4):
        field = through_flow(blocked((1, 30 * factor, 40 * factor), 1.0, box), "section")
        assert field.divergence < 1e-11
        found = velocity_at(field, np.column_stack([np.full(6, 0.5), points]))[:, 1:]
        errors.append(np.abs(found - exact).max())
    # independent finite elements (scikit-fem, quadratic, 10 mm); corners limit the order to 4/3
    assert errors[-1] < 0.005
    assert np.log2(errors[0] / errors[2]) / 2 > 1.2


def test_volume_with_a_box_agrees_with_finite_elements() -> None:
    box = Box(0.3, 0.7, 0.2, 0.4, 0.0, 0.3)
    lines = [np.linspace(0.0, size, n + 1) for size, n in ((1.0, 20), (0.6, 12), (0.8, 16))]
    mesh = skfem.MeshHex.init_tensor(*lines)
    middle = mesh.p[:, mesh.t].mean(axis=1)
    inside = (np.abs(middle - [[0.5], [0.3], [0.15]]) < [[0.2], [0.1], [0.15]]).all(axis=0)
    mesh = mesh.remove_elements(np.flatnonzero(inside)).with_boundaries(
        {
            "floor": lambda p: (p[2] < 1e-9) & (p[1] < 0.2),
            "ceiling": lambda p: p[2] > 0.8 - 1e-9,
        }
    )
    basis, potential = element_solution(mesh, skfem.ElementHex2(), 3.0)
    points = np.array([[0.15, 0.3, 0.2], [0.5, 0.5, 0.2], [0.5, 0.3, 0.5], [0.8, 0.1, 0.1]])
    exact = element_velocity(basis, potential, points)
    grid = blocked((60, 36, 48), 1.0, box)
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0.0, 1.0, 0.0, 0.6))
    floor = 3.0 * wall_patch(grid, "floor", 0.0, 1.0, 0.0, 0.2)
    add_wall_flux(flux, grid, "floor", floor, inward=False)
    found = velocity_at(solve_field(grid, flux, "volume"), points)
    # independent finite elements (scikit-fem, quadratic, 50 mm)
    np.testing.assert_allclose(found, exact, atol=0.02)


def dense_solution(grid: Grid, boundary: FaceFlux) -> FaceFlux:
    """Return the face fluxes by a dense matrix of the open faces, the plain version."""
    fluid, index = grid.fluid, np.arange(grid.cells).reshape(grid.shape)
    matrix, sources = np.zeros((grid.cells, grid.cells)), np.zeros(grid.shape)
    axes, opened = [], []
    for axis, values in enumerate(boundary.axes):
        faces = np.moveaxis(values.copy(), axis, 0)
        air = np.moveaxis(fluid, axis, 0)
        cells = np.moveaxis(index, axis, 0)
        low, high = air[:-1], air[1:]
        weight = grid.face_areas[axis] / grid.spacing[axis]
        for a, b in zip(cells[:-1][low & high], cells[1:][low & high], strict=True):
            matrix[[a, b], [a, b]] += weight
            matrix[[a, b], [b, a]] -= weight
        faces[1:-1][low == high] = 0.0
        np.moveaxis(sources, axis, 0)[...] += faces[:-1] - faces[1:]
        axes.append(faces)
        opened.append((low & high, cells, weight))
    air_cells = np.flatnonzero(fluid)
    potential = np.zeros(grid.cells)
    inner = np.ix_(air_cells[1:], air_cells[1:])
    potential[air_cells[1:]] = np.linalg.solve(matrix[inner], sources.ravel()[air_cells[1:]])
    for faces, (joined, cells, weight) in zip(axes, opened, strict=True):
        drop = weight * (potential[cells[:-1]] - potential[cells[1:]])
        faces[1:-1][joined] = drop[joined]
    return FaceFlux(*(np.moveaxis(faces, 0, axis) for axis, faces in enumerate(axes)))


def tray_bench(counts: tuple[int, int, int]) -> tuple[Grid, FaceFlux]:
    """Return the bench with three boxes; one takes air through a slit and under its edge."""
    grid, flux = bench(counts, BENCH_BOXES)
    slit, rim = 0.004, 0.002
    add_slit_flux(flux, grid, Slit(BENCH_BOXES[0], "front", (0.15, 0.45), (0.05, 0.15)), slit)
    add_rim_flux(flux, grid, BENCH_BOXES[0], rim)
    draw = flux.z[:, :, 0]
    draw *= (draw.sum() + slit + rim) / draw.sum()
    return grid, flux


@pytest.mark.parametrize("counts", [(13, 7, 8), (7, 13, 9)])
def test_volume_equals_the_plain_version(counts: tuple[int, int, int]) -> None:
    grid, flux = tray_bench(counts)
    assert largest_difference(
        solve_field(grid, flux, "volume").flux, dense_solution(grid, flux)
    ) < (1e-10)


@pytest.mark.parametrize("closure", ["stacked", "volume"])
def test_divergence_is_round_off_round_solids(closure: str) -> None:
    grid, flux = tray_bench((26, 13, 15))
    field = solve_field(grid, flux, closure)
    assert field.divergence < 1e-11
    solid = grid.solid
    assert solid is not None
    closed = solid[1:] != solid[:-1]
    np.testing.assert_array_equal(field.flux.x[1:-1][closed], flux.x[1:-1][closed])
    assert not field.flux.z[:, :, 1:-1][solid[:, :, 1:] & solid[:, :, :-1]].any()


def test_stacked_sections_equal_the_section_with_a_solid_when_nothing_varies_along_x() -> None:
    box = Box(0.0, 1.0, 0.2, 0.4, 0.2, 0.45)
    section = through_flow(blocked((1, 12, 16), 1.0, box), "section").flux
    stacked = through_flow(blocked((3, 12, 16), 1.0, box), "stacked").flux
    np.testing.assert_allclose(3.0 * stacked.y[1], section.y[0], atol=1e-12)
    np.testing.assert_allclose(3.0 * stacked.z[1], section.z[0], atol=1e-12)
    assert np.abs(stacked.x).max() < 1e-15


def test_stacked_lateral_flow_is_even_over_open_faces() -> None:
    grid, flux = tray_bench((26, 13, 15))
    field = solve_field(grid, flux, "stacked")
    fluid = grid.fluid
    for face in range(1, grid.nx):
        passing = field.flux.x[face][fluid[face - 1] & fluid[face]]
        assert np.ptp(passing) == 0.0


@pytest.mark.parametrize("closure", ["stacked", "volume"])
def test_mirror_image_round_solids_gives_the_mirrored_field(closure: str) -> None:
    # a law of nature: mirror symmetry
    grid, flux = tray_bench((26, 13, 15))
    assert grid.solid is not None
    mirror = Grid(*grid.shape, *grid.size, grid.solid[::-1].copy())
    mirrored = FaceFlux(-flux.x[::-1], flux.y[::-1], flux.z[::-1])
    one = solve_field(grid, flux, closure).flux
    other = solve_field(mirror, mirrored, closure).flux
    back = FaceFlux(-other.x[::-1], other.y[::-1], other.z[::-1])
    assert largest_difference(back, one) < 1e-9


@given(st.integers(0, 2**32 - 1), st.sampled_from([(5, 6, 4), (8, 3, 5), (1, 7, 6)]))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_random_solids_are_solved_or_refused(seed: int, counts: tuple[int, int, int]) -> None:
    rng = np.random.default_rng(seed)
    solid = rng.random(counts) < 0.25
    solid[:, :, -1] = False
    solid[:, 0, :] = False
    grid = Grid(*counts, 1.0, 0.7, 0.6, solid)
    flux = zero_flux(grid)
    out = rng.random((counts[0], counts[2]))
    add_wall_flux(flux, grid, "ceiling", np.full(counts[:2], 1.0 / (counts[0] * counts[1])))
    add_wall_flux(flux, grid, "front", out / out.sum(), inward=False)
    assert solve_field(grid, flux, "volume").divergence < 1e-10
    try:
        assert solve_field(grid, flux, "stacked").divergence < 1e-10
    except RangeError as refusal:
        assert "volume" in str(refusal)  # noqa: PT017 - either outcome is right


def wall_across(counts: tuple[int, int, int] = (6, 8, 10)) -> tuple[Grid, FaceFlux]:
    """Return a shelf over the full depth of two stations, with air above and below."""
    grid = Grid(*counts, 0.6, 0.8, 1.0)
    grid = Grid(*counts, 0.6, 0.8, 1.0, with_boxes(grid, [Box(0.2, 0.4, 0.0, 0.8, 0.4, 0.6)]))
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0.0, 0.6, 0.0, 0.8))
    add_wall_flux(flux, grid, "floor", wall_patch(grid, "floor", 0.0, 0.6, 0.0, 0.8), False)
    return grid, flux


def test_sections_in_pieces_are_refused_by_stacked_and_solved_by_volume() -> None:
    grid, flux = wall_across()
    with pytest.raises(RangeError, match=r'section at x = 0\.25 m .* use fidelity "volume"'):
        solve_field(grid, flux, "stacked")
    assert solve_field(grid, flux, "volume").divergence < 1e-11


def test_pieces_that_balance_by_themselves_are_solved_by_stacked() -> None:
    grid, flux = wall_across()
    for wall in (flux.z[:, :, 0], flux.z[:, :, -1]):
        wall[2:4] = 0.0
        wall[:2] -= wall[:2].mean() - wall[4:].mean()
    assert solve_field(grid, flux, "stacked").divergence < 1e-11


def test_an_enclosed_region_without_outlet_is_refused() -> None:
    grid = Grid(6, 4, 8, 0.6, 0.4, 0.8)
    grid = Grid(6, 4, 8, 0.6, 0.4, 0.8, with_boxes(grid, [Box(0.0, 0.6, 0.0, 0.4, 0.3, 0.4)]))
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", wall_patch(grid, "ceiling", 0.0, 0.6, 0.0, 0.4))
    add_wall_flux(flux, grid, "floor", wall_patch(grid, "floor", 0.0, 0.6, 0.0, 0.4), False)
    with pytest.raises(RangeError, match="part the air into 2 regions"):
        solve_field(grid, flux, "volume")
    with pytest.raises(RangeError, match="into pieces"):
        solve_field(grid, flux, "stacked")


def test_a_full_section_stops_the_flow_along_x() -> None:
    grid = Grid(6, 4, 5, 0.6, 0.4, 0.5)
    grid = Grid(6, 4, 5, 0.6, 0.4, 0.5, with_boxes(grid, [Box(0.2, 0.3, 0.0, 0.4, 0.0, 0.5)]))
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "left", np.full((4, 5), 0.01))
    add_wall_flux(flux, grid, "right", np.full((4, 5), 0.01), inward=False)
    with pytest.raises(RangeError, match=r"fills the section at x = 0\.2 m"):
        solve_field(grid, flux, "stacked")


def test_air_through_covered_wall_faces_is_refused() -> None:
    grid, flux = bench((13, 7, 8), BENCH_BOXES)
    flux.z[:, :, 0] += 1e-3
    with pytest.raises(RangeError, match="faces of the floor that a solid covers"):
        solve_field(grid, flux, "volume")


def test_no_flow_round_solids_gives_no_flow() -> None:
    grid, _ = bench((13, 7, 8), BENCH_BOXES)
    for closure in ("stacked", "volume"):
        field = solve_field(grid, zero_flux(grid), closure)
        assert field.divergence == 0.0
        assert not any(values.any() for values in field.flux.axes)


def test_flow_that_does_not_converge_names_the_worst_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    grid, flux = tray_bench((13, 7, 8))
    monkeypatch.setattr(solids, "_MOST_CYCLES", 1)
    with pytest.raises(
        ConvergenceError, match=r"did not converge in \d+ iterations; worst is cell"
    ):
        solve_field(grid, flux, "volume")
