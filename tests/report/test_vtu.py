from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from report.synthetic_result import build, section

from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity
from flowsim.report.vtu import write_fields, write_plenum
from flowsim.simulate.result import Result


@pytest.fixture(scope="module")
def result() -> Result:
    return build()


def _volumes(mesh: meshio.Mesh) -> np.ndarray:
    corners = mesh.points[mesh.cells_dict["hexahedron"]].astype(float)
    edges = [corners[:, at] - corners[:, 0] for at in (1, 3, 4)]
    return np.einsum("ij,ij->i", np.cross(edges[0], edges[1]), edges[2])


def test_field_survives_a_round_trip(result: Result, tmp_path: Path) -> None:
    field = result.field
    write_fields(field, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    assert list(mesh.cells_dict) == ["hexahedron"]
    data = {name: blocks[0] for name, blocks in mesh.cell_data.items()}
    assert set(data) == {"velocity [m/s]", "speed [m/s]"}
    velocity = np.stack([part.ravel() for part in cell_velocity(field)], axis=1)
    assert data["velocity [m/s]"].dtype == np.float32
    # single precision on disk
    np.testing.assert_allclose(data["velocity [m/s]"], velocity, rtol=1e-6, atol=1e-9)
    speed = np.linalg.norm(velocity, axis=1)
    np.testing.assert_allclose(data["speed [m/s]"], speed, rtol=1e-6, atol=1e-9)


def test_cells_fill_the_chamber_and_are_not_inside_out(result: Result, tmp_path: Path) -> None:
    write_fields(result.field, tmp_path / "fields.vtu")
    volumes = _volumes(meshio.read(tmp_path / "fields.vtu"))
    assert volumes.min() > 0.0
    assert volumes.sum() == pytest.approx(1.3 * 0.65 * 0.75, rel=1e-5)


def test_cells_lie_where_their_values_belong(result: Result, tmp_path: Path) -> None:
    write_fields(result.field, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    centres = mesh.points[mesh.cells_dict["hexahedron"]].mean(axis=1)
    grids = np.meshgrid(*result.field.grid.centres, indexing="ij")
    expected = np.stack([grid.ravel() for grid in grids], axis=1)
    np.testing.assert_allclose(centres, expected, atol=1e-6)


def test_cells_of_solids_are_left_out(result: Result, tmp_path: Path) -> None:
    grid = result.field.grid
    solid = np.zeros(grid.shape, dtype=bool)
    solid[4:9, 3:6, :5] = True
    field = Field(replace(grid, solid=solid), result.field.flux, "volume", "test", 0)
    write_fields(field, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    cells = mesh.cells_dict["hexahedron"]
    assert len(cells) == grid.cells - solid.sum()
    assert np.array_equal(np.unique(cells), np.arange(len(mesh.points)))


@pytest.mark.parametrize("axis", [0, 1])
def test_a_single_section_is_one_cell_thick(axis: int, tmp_path: Path) -> None:
    field = section(build(), axis).field
    write_fields(field, tmp_path / "fields.vtu")
    mesh = meshio.read(tmp_path / "fields.vtu")
    assert len(mesh.cells_dict["hexahedron"]) == field.grid.cells


def test_plenum_survives_a_round_trip(result: Result, tmp_path: Path) -> None:
    plate = result.plate
    write_plenum(plate, (1.3, 0.65), tmp_path / "plenum.vtu")
    mesh = meshio.read(tmp_path / "plenum.vtu")
    data = {name: blocks[0] for name, blocks in mesh.cell_data.items()}
    np.testing.assert_allclose(data["plenum pressure [Pa]"], plate.pressure.ravel(), rtol=1e-6)
    np.testing.assert_allclose(
        data["plate velocity [m/s]"], plate.velocity.ravel(), rtol=1e-6, equal_nan=True
    )
    assert data["plenum velocity [m/s]"].shape == (plate.velocity.size, 3)
    centres = mesh.points[mesh.cells_dict["quad"]].mean(axis=1)
    np.testing.assert_allclose(centres[:, 0], np.repeat(plate.x, plate.y.size), atol=1e-6)
    np.testing.assert_allclose(centres[:, 2], 0.0, atol=1e-9)
