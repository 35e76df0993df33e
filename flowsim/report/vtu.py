"""Fields as mesh files."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity
from flowsim.simulate.result import PlateDraw

__all__ = ["write_fields", "write_plenum"]

FIRST_PLACES = {
    "hexahedron": (
        (0, 0, 0),
        (1, 0, 0),
        (1, 1, 0),
        (0, 1, 0),
        (0, 0, 1),
        (1, 0, 1),
        (1, 1, 1),
        (0, 1, 1),
    ),
    "quad": ((0, 0), (1, 0), (1, 1), (0, 1)),
}  # corners of a cell in the order of the mesh format


def _corner_numbers(shape: tuple[int, ...], kind: str) -> IntArray:
    """Return the corner numbers of each cell of a block of cells, C-ordered."""
    numbers = np.arange(int(np.prod([n + 1 for n in shape]))).reshape([n + 1 for n in shape])
    corners = []
    for place in FIRST_PLACES[kind]:
        pick = tuple(slice(at, at + n) for at, n in zip(place, shape, strict=True))
        corners.append(numbers[pick].ravel())
    return np.stack(corners, axis=1)


def _points(edges: tuple[FloatArray, ...]) -> NDArray[np.float32]:
    """Return the corners of a block of cells with three coordinates each. [m]."""
    grids = np.meshgrid(*edges, indexing="ij")
    points = np.zeros((grids[0].size, 3), dtype=np.float32)
    for axis, values in enumerate(grids):
        points[:, axis] = values.ravel()
    return points


def _write(
    path: Path,
    edges: tuple[FloatArray, ...],
    kind: str,
    keep: BoolArray | None,
    data: dict[str, FloatArray],
) -> None:
    """Write the kept cells of a block and their data in single precision, compressed."""
    points = _points(edges)
    cells = _corner_numbers(tuple(len(edge) - 1 for edge in edges), kind)
    if keep is not None:
        cells = cells[keep]
        used = np.zeros(len(points), dtype=np.bool_)
        used[cells] = True
        cells = (np.cumsum(used) - 1)[cells]
        points = points[used]
        data = {name: values[keep] for name, values in data.items()}
    blocks = {name: [np.ascontiguousarray(values, np.float32)] for name, values in data.items()}
    mesh = meshio.Mesh(points, [(kind, cells.astype(np.int32))], cell_data=blocks)
    meshio.write(path, mesh, file_format="vtu", compression="zlib")


def _fluid(grid: Grid) -> BoolArray | None:
    """Return which cells hold air, None where all do."""
    return None if grid.solid is None else ~grid.solid.ravel()


def write_fields(field: Field, path: Path) -> None:
    """Write the chamber's flow as hexahedra, cells of solids left out.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [m3/s]
    path : Path
        File to write; cell data ``velocity [m/s]`` and ``speed [m/s]``. [-]
    """
    parts = [part.ravel() for part in cell_velocity(field)]
    velocity = np.stack(parts, axis=1)
    speed = np.sqrt(np.einsum("ij,ij->i", velocity, velocity))
    data = {"velocity [m/s]": velocity, "speed [m/s]": speed}
    _write(path, field.grid.edges, "hexahedron", _fluid(field.grid), data)


def write_plenum(plate: PlateDraw, size: tuple[float, float], path: Path) -> None:
    """Write plate and plenum as quads at the height of the work surface.

    Parameters
    ----------
    plate : PlateDraw
        Draw of the plate. [SI]
    size : tuple of float
        Width and depth of the chamber. [m]
    path : Path
        File to write; nan in the plate velocity where nothing is open. [-]
    """
    nx, ny = plate.velocity.shape
    edges = (np.linspace(0.0, size[0], nx + 1), np.linspace(0.0, size[1], ny + 1))
    along = [plate.plenum_velocity_x.ravel(), plate.plenum_velocity_y.ravel()]
    data = {
        "plate velocity [m/s]": plate.velocity.ravel(),
        "open share [-]": plate.open_share.ravel(),
        "plenum pressure [Pa]": plate.pressure.ravel(),
        "plenum velocity [m/s]": np.stack([*along, np.zeros(nx * ny)], axis=1),
    }
    _write(path, edges, "quad", None, data)
