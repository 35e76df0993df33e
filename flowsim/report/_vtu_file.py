"""One mesh as a file of the open VTU format."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import meshio
from numpy.typing import NDArray

__all__ = ["Mesh", "write_mesh"]

Values = NDArray[Any]


@dataclass(frozen=True, eq=False)
class Mesh:
    """Cells of one kind with their data.

    Parameters
    ----------
    points : array, shape (n, 3)
        Corners. [m]
    kind : {"line", "quad", "hexahedron"}
        What the cells are.
    cells : array, shape (m, k)
        Corners of each cell. [-]
    cell_data, point_data : mapping of str to array
        Data of cells and points by name, single precision or whole numbers.
    """

    points: Values
    kind: str
    cells: Values
    cell_data: Mapping[str, Values]
    point_data: Mapping[str, Values] = field(default_factory=dict)


def write_mesh(mesh: Mesh, path: Path) -> None:
    """Write a mesh, compressed.

    Parameters
    ----------
    mesh : Mesh
        Cells and their data. [SI]
    path : Path
        File to write. [-]
    """
    whole = meshio.Mesh(
        mesh.points,
        [(mesh.kind, mesh.cells)],
        point_data=dict(mesh.point_data),
        cell_data={name: [values] for name, values in mesh.cell_data.items()},
    )
    meshio.write(path, whole, file_format="vtu", compression="zlib")
