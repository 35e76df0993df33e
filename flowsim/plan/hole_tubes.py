"""Distributor tubes that are tried below a plate."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from flowsim.case.read import change_case
from flowsim.case.schema import Case, Distributor, Port
from flowsim.errors import CaseError, ConvergenceError, RangeError
from flowsim.physics.air import AirState
from flowsim.plan.hole_bench import Plate
from flowsim.plan.hole_search import Search
from flowsim.report.drill_result import TubeHoles
from flowsim.report.holes_result import HolePoint
from flowsim.simulate.assemble import tube_discharge, tube_hole_area

__all__ = ["CLEARANCE", "PIPES", "Design", "Tubes", "mm_text", "port_of", "tube_rows", "tube_size"]

PIPES = tuple(
    1e-3 * size
    for size in (40, 50, 63, 75, 80, 90, 100, 110, 125, 140, 150, 160, 180, 200, 225, 250, 315)
)
"""Inner diameters that are tried, largest that fits first. [m]"""
WALL = 3e-3  # m, of a tube that the case does not have
CLEARANCE = 10e-3  # m, above and below it together
END_GAP = 50e-3  # m, between its closed end and the plenum's wall
HOLE_SHARE = 0.1  # hole over tube diameter where none is given
ROW_CHOICES = (2, 4, 6, 8, 12)
PITCH = 1.6  # least distance of holes over their diameter, on the outside of the tube


@dataclass(frozen=True)
class Design:
    """A tube and the most open plate over it.

    Parameters
    ----------
    tube : TubeHoles
        The tube.
    changes : mapping of str to str
        That put it into the case.
    free_area_ratio : float
        Of the plate. [-]
    point : HolePoint
        Both solved.
    """

    tube: TubeHoles
    changes: Mapping[str, str]
    free_area_ratio: float
    point: HolePoint


def port_of(case: Case) -> tuple[int, Port] | None:
    """Return the port that a tube is or can be joined to.

    Parameters
    ----------
    case : Case
        With a plenum. [SI]

    Returns
    -------
    tuple of int and Port, or None
        Its number from 0, and the port; None where none lies in the left or right wall.
    """
    assert case.plenum is not None
    ports = case.plenum.ports
    if case.distributor is not None and case.distributor.port is not None:
        index = [port.label for port in ports].index(case.distributor.port)
        return index, ports[index]
    sides = [(i, port) for i, port in enumerate(ports) if port.wall in ("left", "right")]
    return sides[0] if sides else None


def _axis(case: Case, port: Port) -> float:
    """Return where the axis of a tube lies, from the front. [m]"""
    if case.distributor is not None and case.distributor.offset_y is not None:
        return case.distributor.offset_y
    if case.distributor is not None or port.offset is None or port.width is None:
        return 0.5 * case.chamber.depth
    return port.offset + 0.5 * port.width


def tube_rows(count: float, diameter: float, length: float, hole: float) -> tuple[int, int]:
    """Return rows round a tube and holes in a row.

    Parameters
    ----------
    count : float
        Wanted holes. [-]
    diameter, length : float
        Outer diameter and perforated length of the tube. [m]
    hole : float
        Diameter of a hole. [m]

    Returns
    -------
    tuple of int
        The fewest rows in which the holes do not come too close.

    Raises
    ------
    RangeError
        If so many holes do not fit.
    """
    for rows in ROW_CHOICES:
        columns = max(1, round(count / rows))
        along = length / columns
        around = math.pi * diameter / rows
        if min(along, around) >= PITCH * hole:
            return rows, columns
    raise RangeError(f"{count:.0f} holes of {1000 * hole:g} mm do not fit on the tube")


def tube_size(case: Case) -> tuple[float, float] | None:
    """Return diameter and wall of the tube that is there or of the widest that fits.

    Parameters
    ----------
    case : Case
        With a plenum. [SI]

    Returns
    -------
    tuple of float or None
        Inner diameter and thickness of the wall; None where none fits. [m]
    """
    if case.distributor is not None:
        return case.distributor.diameter, case.distributor.wall_thickness
    assert case.plenum is not None
    room = case.plenum.height - CLEARANCE - 2.0 * WALL
    fits = [size for size in PIPES if size <= room + 1e-9]
    return (max(fits), WALL) if fits else None


class Tubes:
    """The tubes that are tried in one case.

    Parameters
    ----------
    case : Case
        As it stands. [SI]
    search : Search
        What is wanted.
    index : int
        Port that they are joined to, counted from 0. [-]
    port : Port
        That port.
    air : AirState
        Of the chamber.
    """

    def __init__(self, case: Case, search: Search, index: int, port: Port, air: AirState) -> None:
        self.case, self.search, self.port, self.air = case, search, port, air
        self.port_name = port.label or f"{port.wall} port"
        assert case.plenum is not None
        self.named = case.plenum.ports[index].label
        sizes = tube_size(case)
        assert sizes is not None
        self.diameter, self.wall = sizes
        part = case.distributor
        room = math.floor(100.0 * (case.chamber.width - END_GAP) + 1e-6) / 100.0
        self.length = part.length if part is not None else max(room, 0.5 * case.chamber.width)
        self.hole = (
            part.hole_diameter
            if part is not None
            else 1e-3 * max(round(1e3 * HOLE_SHARE * self.diameter), 4)
        )
        self.axis = _axis(case, port)
        flow = search.bench.today.exhaust_flow
        self.flow = flow / len(case.plenum.ports)
        self.section = 0.25 * math.pi * self.diameter**2
        self.speed = self.flow / self.section
        self.head = 0.5 * air.density * self.speed**2

    def changes(self, count: int) -> dict[str, str]:
        """Return what puts the tube with a number of holes into the case.

        Parameters
        ----------
        count : int
            Holes. [-]

        Returns
        -------
        dict of str to str
            Key path -> value. [as written]
        """
        found = {
            "distributor.diameter": mm_text(self.diameter),
            "distributor.length": mm_text(self.length),
            "distributor.hole_diameter": mm_text(self.hole),
            "distributor.hole_count": str(count),
            "distributor.wall_thickness": mm_text(self.wall),
            "distributor.offset_y": mm_text(self.axis),
        }
        if self.named:
            found["distributor.port"] = self.named
        return found

    def discharge(self, count: int) -> tuple[float, float]:
        """Return discharge coefficient and hole area of the tube.

        Parameters
        ----------
        count : int
            Holes. [-]

        Returns
        -------
        tuple of float
            Coefficient [-] and area of all holes [m2].
        """
        part = Distributor(
            diameter=self.diameter,
            length=self.length,
            hole_diameter=self.hole,
            hole_count=count,
            wall_thickness=self.wall,
            discharge_coefficient=(
                None
                if self.case.distributor is None
                else self.case.distributor.discharge_coefficient
            ),
        )
        return tube_discharge(part), tube_hole_area(part)

    def holes(self, ratio: float) -> TubeHoles:
        """Return the whole holes nearest to a hole ratio.

        Parameters
        ----------
        ratio : float
            Discharge coefficient times hole area over section. [-]

        Returns
        -------
        TubeHoles
            In rows round the tube.

        Raises
        ------
        RangeError
            If they do not fit on it.
        """
        coefficient, area = self.discharge(1)
        wanted = max(ratio * self.section / (coefficient * area), 1.0)
        outer = self.diameter + 2.0 * self.wall
        rows, columns = tube_rows(wanted, outer, self.length, self.hole)
        coefficient, area = self.discharge(rows * columns)
        pitch = self.length / columns
        around = math.pi * outer / rows
        return TubeHoles(
            self.diameter,
            self.length,
            self.wall,
            self.axis,
            self.hole,
            rows,
            columns,
            pitch,
            min(pitch, around) - self.hole,
            coefficient * area / self.section,
            self.port_name,
            self.speed,
        )

    def design(self, ratio: float, diameter: float, guess: float) -> Design | None:
        """Return the most open plate over a tube, None where none draws evenly enough.

        Parameters
        ----------
        ratio : float
            Discharge coefficient times hole area over section of the tube. [-]
        diameter : float
            Of the plate's holes. [m]
        guess : float
            Free area of the plate to begin with. [-]
        """
        try:
            tube = self.holes(ratio)
            changes = self.changes(tube.count)
            change_case(self.search.bench.case, changes)

            def solve(free: float) -> HolePoint | None:
                return self.search.bench.tried(
                    Plate({**Plate.even(free, diameter).changes, **changes})
                )

            free, point = self.search.most_open(diameter, guess, solve)
        except (CaseError, ConvergenceError, RangeError):
            return None
        return Design(tube, changes, free, point)


def mm_text(value: float) -> str:
    """Return a length as written in a case file.

    Parameters
    ----------
    value : float
        Length. [m]
    """
    return f"{round(1000.0 * value, 6):g} mm"
