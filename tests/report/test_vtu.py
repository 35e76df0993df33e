from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from report.synthetic_result import build, section
from report.synthetic_transport import with_transport

from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity
from flowsim.report.vtu import path_ends, write_fields, write_paths, write_plenum
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import Transport


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


@pytest.fixture(scope="module")
def carried(result: Result) -> Transport:
    transport = with_transport(result).transport
    assert transport is not None
    shape = result.field.grid.shape
    cells = np.arange(result.field.grid.cells, dtype=float).reshape(shape)
    releases = tuple(
        replace(item, label=label, concentration=factor * cells)
        for factor, (item, label) in enumerate(
            zip(transport.releases, ('a "tray" <1> & mirror\'s', "Säurebad"), strict=True), 1
        )
    )
    return replace(transport, releases=releases)


def test_vapour_and_dust_survive_a_round_trip(
    result: Result, carried: Transport, tmp_path: Path
) -> None:
    write_fields(result.field, tmp_path / "fields.vtu", carried)
    mesh = meshio.read(tmp_path / "fields.vtu")
    data = {name: blocks[0] for name, blocks in mesh.cell_data.items()}
    expected = {
        "escape share [-]": carried.escape.in_use,
        "escape share mean flow [-]": carried.escape.mean_flow,
        "room air share [-]": carried.ingress.in_use,
        "age of air [s]": carried.age,
        "concentration a _tray_ _1_ _ mirror_s [ppm]": carried.releases[0].concentration,
        "concentration Säurebad [ppm]": carried.releases[1].concentration,
        "particles >= 0.5 um [1/m3]": carried.dust["0.5"],
    }
    assert set(expected) <= set(data)
    for name, values in expected.items():
        # single precision on disk
        np.testing.assert_allclose(data[name], values.ravel(), rtol=1e-6, atol=1e-12)


def test_labels_that_become_the_same_stay_apart(
    result: Result, carried: Transport, tmp_path: Path
) -> None:
    labels = ("tray <a>", "tray 'a'")
    releases = tuple(
        replace(item, label=label) for item, label in zip(carried.releases, labels, strict=True)
    )
    write_fields(result.field, tmp_path / "fields.vtu", replace(carried, releases=releases))
    names = meshio.read(tmp_path / "fields.vtu").cell_data
    assert {"concentration tray _a_ [ppm]", "concentration tray _a_ #2 [ppm]"} <= set(names)


def test_a_release_without_a_field_is_left_out(
    result: Result, carried: Transport, tmp_path: Path
) -> None:
    releases = tuple(replace(item, concentration=None) for item in carried.releases)
    write_fields(result.field, tmp_path / "fields.vtu", replace(carried, releases=releases))
    names = meshio.read(tmp_path / "fields.vtu").cell_data
    assert not any(name.startswith("concentration") for name in names)


def test_values_in_solids_are_left_out_with_their_cells(
    result: Result, carried: Transport, tmp_path: Path
) -> None:
    solid = np.isnan(carried.age)
    assert solid.any()
    field = Field(replace(result.field.grid, solid=solid), result.field.flux, "volume", "test", 0)
    write_fields(field, tmp_path / "fields.vtu", carried)
    age = meshio.read(tmp_path / "fields.vtu").cell_data["age of air [s]"][0]
    np.testing.assert_allclose(age, carried.age[~solid], rtol=1e-6)


def test_particle_paths_survive_a_round_trip(carried: Transport, tmp_path: Path) -> None:
    write_paths(carried.paths, tmp_path / "paths.vtu")
    mesh = meshio.read(tmp_path / "paths.vtu")
    assert list(mesh.cells_dict) == ["line"]
    lines = mesh.cells_dict["line"]
    number, end = mesh.point_data["path number [-]"], mesh.cell_data["end index [-]"][0]
    assert np.array_equal(number[lines[:, 0]], number[lines[:, 1]])
    names = path_ends(carried.paths)
    for index, path in enumerate(carried.paths):
        points = mesh.points[number == index]
        np.testing.assert_allclose(points, path.points, rtol=1e-6, atol=1e-7)
        own = number[lines[:, 0]] == index
        assert own.sum() == len(path.points) - 1
        assert {names[place] for place in end[own]} == {path.end}


def test_a_path_of_one_point_joins_nothing(carried: Transport, tmp_path: Path) -> None:
    short = replace(carried.paths[0], points=carried.paths[0].points[:1])
    write_paths((carried.paths[1], short, carried.paths[2]), tmp_path / "paths.vtu")
    mesh = meshio.read(tmp_path / "paths.vtu")
    number, lines = mesh.point_data["path number [-]"], mesh.cells_dict["line"]
    assert set(number[lines.ravel()]) == {0, 2}
