"""Fields as mesh files."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity
from flowsim.report._vtu_file import Mesh, write_mesh
from flowsim.simulate.result import PlateDraw
from flowsim.simulate.transport_result import ParticlePath, Transport

__all__ = ["path_ends", "write_fields", "write_paths", "write_plenum"]

ODD = re.compile(r"[^\w .,;:()+\-/%]")  # signs that readers of the format stumble over
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
    single = {name: values.astype(np.float32) for name, values in data.items()}
    write_mesh(Mesh(points, kind, cells.astype(np.int32), single), path)


def _fluid(grid: Grid) -> BoolArray | None:
    """Return which cells hold air, None where all do."""
    return None if grid.solid is None else ~grid.solid.ravel()


def _transport_data(transport: Transport) -> dict[str, FloatArray]:
    """Return vapour and dust in each cell by the names of the file."""
    data = {
        "escape share [-]": transport.escape.in_use,
        "escape share mean flow [-]": transport.escape.mean_flow,
        "room air share [-]": transport.ingress.in_use,
        "age of air [s]": transport.age,
    }
    labels = _plain([release.label for release in transport.releases])
    for label, release in zip(labels, transport.releases, strict=True):
        if release.concentration is not None:
            data[f"concentration {label} [ppm]"] = release.concentration
    for size, concentration in transport.dust.items():
        data[f"particles >= {size} um [1/m3]"] = concentration
    return {name: values.ravel() for name, values in data.items()}


def _plain(labels: Sequence[str]) -> list[str]:
    """Return labels without odd signs, numbered where that makes two the same."""
    found: list[str] = []
    for label in labels:
        plain = ODD.sub("_", label)
        again = sum(name == plain or name.startswith(f"{plain} #") for name in found)
        found.append(f"{plain} #{again + 1}" if again else plain)
    return found


def write_fields(field: Field, path: Path, transport: Transport | None = None) -> None:
    """Write the chamber's flow as hexahedra, cells of solids left out.

    Parameters
    ----------
    field : Field
        Air flow in the chamber. [m3/s]
    path : Path
        File to write; cell data ``velocity [m/s]`` and ``speed [m/s]``, with `transport` also
        shares, age of the air, vapour of each release and particles of each size. [-]
    transport : Transport or None
        Vapour and dust on the same cells. [SI]
    """
    parts = [part.ravel() for part in cell_velocity(field)]
    velocity = np.stack(parts, axis=1)
    speed = np.sqrt(np.einsum("ij,ij->i", velocity, velocity))
    data = {"velocity [m/s]": velocity, "speed [m/s]": speed}
    if transport is not None:
        data |= _transport_data(transport)
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


def path_ends(paths: Sequence[ParticlePath]) -> list[str]:
    """Return the names of the ends of particle paths.

    Parameters
    ----------
    paths : sequence of ParticlePath
        Ways of particles. [m]

    Returns
    -------
    list of str
        In the order of the end index of `write_paths`.
    """
    return list(dict.fromkeys(path.end for path in paths))


def write_paths(paths: Sequence[ParticlePath], path: Path) -> None:
    """Write the ways of particles as chains of straight lines.

    Parameters
    ----------
    paths : sequence of ParticlePath
        Ways of particles, at least one. [m]
    path : Path
        File to write; point data ``path number [-]``, cell data ``end index [-]`` after
        `path_ends`. [-]
    """
    lengths = [len(item.points) for item in paths]
    first = np.arange(sum(lengths))
    last_of_each = np.cumsum(lengths) - 1
    starts = np.delete(first, last_of_each)
    places = {name: index for index, name in enumerate(path_ends(paths))}
    ends = np.repeat([places[item.end] for item in paths], [length - 1 for length in lengths])
    mesh = Mesh(
        points=np.concatenate([item.points for item in paths]).astype(np.float32),
        kind="line",
        cells=np.stack([starts, starts + 1], axis=1).astype(np.int32),
        cell_data={"end index [-]": ends.astype(np.int32)},
        point_data={"path number [-]": np.repeat(np.arange(len(paths)), lengths).astype(np.int32)},
    )
    write_mesh(mesh, path)
