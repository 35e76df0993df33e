"""What is drilled: the floor of a chamber, drawn holes of a plate, holes of a tube."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim._arrays import FloatArray

__all__ = ["Floor", "Part", "Pattern", "TubeHoles"]


@dataclass(frozen=True)
class Part:
    """A rectangle on the plate that means something to the person who drills.

    Parameters
    ----------
    label : str
        Its name. [text]
    kind : {"covered", "piped", "tray", "object", "port"}
        Covered patch; box with a pipe of its own (no holes under either); box that draws through
        the plate; object that stands on the plate (both with holes under them); port below.
    x0, x1, y0, y1 : float
        Where it starts and ends. [m]
    """

    label: str
    kind: str
    x0: float
    x1: float
    y0: float
    y1: float

    @property
    def kept_free(self) -> bool:
        """Whether no hole may lie under it."""
        return self.kind in ("covered", "piped")


@dataclass(frozen=True)
class Floor:
    """The floor of the chamber as the person who drills sees it from above.

    Parameters
    ----------
    width, depth, thickness : float
        Inside of the chamber, and of the plate. [m]
    zone : tuple of float
        x0, x1, y0, y1 of the perforated zone. [m]
    parts : tuple of Part
        What lies or stands on it.
    ports : tuple of str
        Where the plenum's ports are, in words.
    port_walls : tuple of tuple of str and float
        Wall, start and end of each port in a side wall. [m]
    bottom_ports : tuple of Part
        Ports in the plenum's bottom.
    """

    width: float
    depth: float
    thickness: float
    zone: tuple[float, float, float, float]
    parts: tuple[Part, ...]
    ports: tuple[str, ...]
    port_walls: tuple[tuple[str, float, float], ...]
    bottom_ports: tuple[Part, ...] = ()


@dataclass(frozen=True)
class Pattern:
    """Drawn holes of a plate.

    Parameters
    ----------
    x, y : array, shape (n,)
        Centres, from the inner front left corner of the chamber, seen from above. [m]
    diameter : float
        Of every hole. [m]
    arrangement : {"square", "triangular", "graded"}
        Rows across; graded: columns closer together where the plate draws less.
    columns, rows : int
        Before any hole was left out; triangular: holes in a row.
    pitch_x : tuple of float
        Least and largest distance of neighbours along a row. [m]
    pitch_y : float
        Distance of the rows. [m]
    web : float
        Least material between two holes. [m]
    edge : float
        Least distance of a hole's centre to the edge of the zone. [m]
    place : tuple of str, length n
        What a hole lies under, empty for most.
    left_out : int
        Holes left out for what covers the plate.
    solved_area : float
        Hole area that the models were solved with. [m2]
    """

    x: FloatArray
    y: FloatArray
    diameter: float
    arrangement: str
    columns: int
    rows: int
    pitch_x: tuple[float, float]
    pitch_y: float
    web: float
    edge: float
    place: tuple[str, ...]
    left_out: int
    solved_area: float

    @property
    def count(self) -> int:
        """Holes. [-]"""
        return int(self.x.size)

    @property
    def hole_area(self) -> float:
        """Area of all drawn holes. [m2]"""
        return self.count * 0.25 * math.pi * self.diameter**2


@dataclass(frozen=True)
class TubeHoles:
    """A distributor tube and its holes.

    Parameters
    ----------
    diameter, length, wall_thickness, axis : float
        Inner diameter, perforated length from the port's wall, wall, place of the axis from the
        front. [m]
    hole_diameter : float
        Of every hole. [m]
    rows, columns : int
        Rows of holes round the tube, and holes in a row.
    pitch : float
        Between the holes of a row. [m]
    web : float
        Least material between two holes on the outside of the tube. [m]
    hole_ratio : float
        Discharge coefficient times hole area over the tube's section. [-]
    port : str
        Port that it is joined to. [text]
    speed : float
        Speed of the air at its open end. [m/s]
    """

    diameter: float
    length: float
    wall_thickness: float
    axis: float
    hole_diameter: float
    rows: int
    columns: int
    pitch: float
    web: float
    hole_ratio: float
    port: str
    speed: float

    @property
    def count(self) -> int:
        """Holes. [-]"""
        return self.rows * self.columns
