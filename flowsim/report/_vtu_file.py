"""One mesh as a file of the open VTU format: XML, binary, compressed."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

__all__ = ["Mesh", "write_mesh"]

NUMBERS = {"line": 3, "quad": 9, "hexahedron": 12}  # of the cell kinds in the format
TYPES = {"float32": "Float32", "int32": "Int32", "uint8": "UInt8"}
BLOCK = 1 << 18  # bytes that are compressed together
LEVEL = 1  # on such numbers six times as fast as the usual level, and a tenth larger
HEAD = (
    '<?xml version="1.0"?>\n<VTKFile type="UnstructuredGrid" version="0.1" '
    'byte_order="LittleEndian" header_type="UInt32" compressor="vtkZLibDataCompressor">\n'
    "<UnstructuredGrid>\n"
)
TAIL = "</Piece>\n</UnstructuredGrid>\n</VTKFile>\n"
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


def _encoded(values: Values) -> str:
    """Return an array as the format wants it: sizes of the blocks, then the blocks."""
    data = values.astype(values.dtype.newbyteorder("<"), copy=False).tobytes()
    blocks = [zlib.compress(data[at : at + BLOCK], LEVEL) for at in range(0, len(data), BLOCK)]
    last = len(data) - max(len(blocks) - 1, 0) * BLOCK
    sizes = np.array([len(blocks), BLOCK, last, *map(len, blocks)], dtype="<u4")
    return (base64.b64encode(sizes.tobytes()) + base64.b64encode(b"".join(blocks))).decode("ascii")


def _array(name: str, values: Values) -> Iterator[str]:
    """Yield one array as XML."""
    values = np.ascontiguousarray(values)
    parts = f' NumberOfComponents="{values.shape[1]}"' if values.ndim == 2 else ""
    kind = TYPES[values.dtype.name]
    yield f'<DataArray type="{kind}" Name={quoteattr(name)}{parts} format="binary">'
    yield _encoded(values)
    yield "</DataArray>\n"


def _section(tag: str, arrays: Mapping[str, Values]) -> Iterator[str]:
    """Yield arrays under a tag, nothing where there are none."""
    if arrays:
        yield f"<{tag}>\n"
        for name, values in arrays.items():
            yield from _array(name, values)
        yield f"</{tag}>\n"


def _pieces(mesh: Mesh) -> Iterator[str]:
    """Yield the file piece by piece."""
    count, corners = mesh.cells.shape
    yield HEAD
    yield f'<Piece NumberOfPoints="{len(mesh.points)}" NumberOfCells="{count}">\n'
    yield from _section("Points", {"Points": mesh.points.astype(np.float32, copy=False)})
    topology = {
        "connectivity": mesh.cells.astype(np.int32, copy=False).ravel(),
        "offsets": corners * np.arange(1, count + 1, dtype=np.int32),
        "types": np.full(count, NUMBERS[mesh.kind], dtype=np.uint8),
    }
    yield from _section("Cells", topology)
    yield from _section("PointData", mesh.point_data)
    yield from _section("CellData", mesh.cell_data)
    yield TAIL


def write_mesh(mesh: Mesh, path: Path) -> None:
    """Write a mesh.

    Parameters
    ----------
    mesh : Mesh
        Cells and their data. [SI]
    path : Path
        File to write. [-]
    """
    with path.open("w", encoding="utf-8", newline="\n") as stream:
        stream.writelines(_pieces(mesh))
