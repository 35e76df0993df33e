"""1D gap under a flat box that stands on spacers on a perforated plate."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.linalg import LinAlgError, solve_banded

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError, RangeError
from flowsim.physics._ranges import in_range, non_negative, positive
from flowsim.plenum.field import PlateLaw

__all__ = ["FaceLaw", "FloorLaw", "GapSolution", "GapUnder", "solve_gap"]

TOLERANCE = 1e-12  # largest mismatch over the drive and over the largest flow
STEPS = 60
FACTORS = tuple(0.5**k for k in range(30))  # shortened steps, tried in turn
LAMINAR_REYNOLDS = 2000.0


class FaceLaw(PlateLaw, Protocol):
    """A plate as a law between face velocity and pressure drop, both ways."""

    def velocity(self, drop: FloatArray, /) -> tuple[FloatArray, FloatArray]:
        """Return the face velocity and its slope, the inverse of `drop`.

        Parameters
        ----------
        drop : array, shape (n,)
            Pressure drop. [Pa]

        Returns
        -------
        tuple of arrays, shape (n,)
            Velocity [m/s] and its derivative [m/(s Pa)].
        """


class FloorLaw(FaceLaw, Protocol):
    """A floor with round holes as a law between pressure drop and face velocity."""

    @property
    def hole_diameter(self) -> float:
        """Hole diameter [m]."""


@dataclass(frozen=True)
class GapUnder:
    """The gap between a flat box and the perforated plate below it, open all round.

    Parameters
    ----------
    width, depth : float
        Footprint of the box. [m]
    height : float
        Clear height of the gap. [m]
    plate : FaceLaw
        The perforated plate, on the face velocity of its perforated share. [-]
    floor : FloorLaw or None
        The holes in the box's floor, on the face velocity of the footprint; None for none. [-]
    density, viscosity : float
        Air density [kg/m3] and dynamic viscosity [Pa s].
    plate_share : float
        Share of the footprint below which the plate is perforated, spread evenly. [-]
    rim_loss : float
        Fall from the chamber's total to the gap's static pressure at the rim, in dynamic heads
        of the rim speed: 1 to set the air in motion, the rest lost. [-]
    cells : int
        Cells from the rim to the middle. [-]
    momentum : float
        Share of the air's inertia inside the gap, 0 (friction alone) to 1 (full). [-]

    Raises
    ------
    RangeError
        If an argument is impossible.
    """

    width: float
    depth: float
    height: float
    plate: FaceLaw
    floor: FloorLaw | None
    density: float
    viscosity: float
    plate_share: float = 1.0
    rim_loss: float = 1.5
    cells: int = 60
    momentum: float = 1.0

    def __post_init__(self) -> None:
        """Check the arguments."""
        positive(width=self.width, depth=self.depth, height=self.height)
        positive(density=self.density, viscosity=self.viscosity)
        non_negative(rim_loss=self.rim_loss)
        in_range("plate_share", self.plate_share, 0.0, 1.0)
        in_range("momentum", self.momentum, 0.0, 1.0)
        if self.cells < 2:
            raise RangeError(f"gap: at least 2 cells needed, got {self.cells}")
        if self.floor is not None:
            positive(hole_diameter=self.floor.hole_diameter)

    @property
    def reach(self) -> float:
        """Way from the rim to the middle [m]."""
        return 0.5 * min(self.width, self.depth)

    @property
    def curtain_factor(self) -> float:
        """Share of the floor's free discharge that the gap lets pass [-].

        Notes
        -----
        Below a hole the air leaves through a curtain of area pi d g: hole and curtain in series
        with the same discharge coefficient let pass ``c/sqrt(1 + c^2)``, c = 4 g/d (own
        reasoning, no source; c for a narrow gap, 1 for a wide one).
        """
        if self.floor is None:
            return 1.0
        ratio = 4.0 * self.height / self.floor.hole_diameter
        return ratio / math.hypot(1.0, ratio)

    def validity(self, rim_speed: float) -> tuple[str, ...]:
        """Say what is doubtful about the gap at a rim speed.

        Parameters
        ----------
        rim_speed : float
            Speed at the rim. [m/s]

        Returns
        -------
        tuple of str
            One sentence per doubt, empty when there is none.
        """
        found = []
        reynolds = 2.0 * abs(rim_speed) * self.height * self.density / self.viscosity
        if reynolds > LAMINAR_REYNOLDS:
            found.append(
                f"gap under a box: Reynolds number {reynolds:.0f} at the rim is above "
                f"{LAMINAR_REYNOLDS:.0f}; the laminar friction is too low"
            )
        if self.reach < 5.0 * self.height:
            found.append("gap under a box: less than ten times wider than high")
        return tuple(found)


@dataclass(frozen=True)
class GapSolution:
    """Flow and pressure in the gap under a box.

    Parameters
    ----------
    edge_flow, floor_flow, plate_flow : float
        Flow into the gap through its rim, into it through the box's floor, and out of it down
        through the plate. [m3/s]
    mean_pressure : float
        Area mean of the gap's pressure, relative to the chamber's total pressure. [Pa]
    rim_speed : float
        Mean speed at the rim, positive inward. [m/s]
    pressure, distance : array, shape (n,)
        Pressure in the gap, relative to the chamber's total pressure [Pa], and distance of the
        cell centres from the rim [m], rim first.
    iterations : int
        Newton steps. [-]
    residual : float
        Largest remaining mismatch over the drive and over the largest flow. [-]
    """

    edge_flow: float
    floor_flow: float
    plate_flow: float
    mean_pressure: float
    rim_speed: float
    pressure: FloatArray
    distance: FloatArray
    iterations: int
    residual: float


def solve_gap(gap: GapUnder, tray_pressure: float, plenum_pressure: float) -> GapSolution:
    """Return the flow in the gap under a box.

    Parameters
    ----------
    gap : GapUnder
        The gap. [-]
    tray_pressure, plenum_pressure : float
        Pressure in the box (without effect if its floor has no holes) and below the plate,
        relative to the chamber's total pressure. [Pa]

    Returns
    -------
    GapSolution
        Flows, and pressure over the distance from the rim.

    Raises
    ------
    RangeError
        If a pressure is not finite.
    ConvergenceError
        If no solution is found.

    Notes
    -----
    Pressure and the inward speed U depend on the distance s from the rim alone; the rectangle
    at s has the perimeter P = 2(w + d) - 8 s. Mass: ``d(g P U)/ds = P (v_floor - v_plate)``.
    Momentum: ``dp/ds = -12 mu U/g^2 - rho U dU/ds - rho U v_join/g``: friction of the flow
    between plates (exact), leaving air keeps its inward speed, joining air brings none (header
    equation of [Bajura1971]_). At the rim ``p = -rim_loss rho U^2/2``; air that flows out
    leaves as a free jet at the chamber's pressure, or without inertia with the same loss.
    Plate and floor laws act on the gap's static pressure; what the narrow gap costs at the
    plate's own holes is left out. Finite volumes on staggered nodes, second order.
    """
    if not (math.isfinite(tray_pressure) and math.isfinite(plenum_pressure)):
        raise RangeError(f"gap: finite pressures needed, got {tray_pressure} and {plenum_pressure}")
    system = _System(gap, tray_pressure, plenum_pressure)
    try:
        unknowns, state, iterations = _newton(system)
    except LinAlgError as error:
        raise ConvergenceError(f"gap under a box: no single solution ({error})") from error
    if not state.error <= TOLERANCE:
        raise ConvergenceError(_failure(system, state))
    return system.solution(unknowns, state, iterations)


@dataclass(frozen=True)
class _State:
    """Mismatch at given unknowns, and what its derivative needs."""

    mismatch: FloatArray
    pressure: FloatArray
    floor_slope: FloatArray
    plate_slope: FloatArray
    error: float


class _System:
    """Equations of the gap.

    Unknowns cell by cell: speed at the cell's outer face, plate velocity, floor velocity.
    Equations likewise: momentum at that face, mass, and the two ways to the cell's pressure.
    """

    def __init__(self, gap: GapUnder, tray: float, plenum: float) -> None:
        self.gap, self.tray, self.plenum = gap, tray, plenum
        self.step = gap.reach / gap.cells
        rim = 2.0 * (gap.width + gap.depth)
        self.distance: FloatArray = self.step * (np.arange(gap.cells, dtype=float) + 0.5)
        self.area = (rim - 8.0 * self.distance) * self.step
        self.inlet = gap.height * (rim - 8.0 * (self.distance - 0.5 * self.step))
        self.friction = 12.0 * gap.viscosity / gap.height**2
        self.inertia = gap.momentum * gap.density
        self.shares = gap.plate_share, gap.curtain_factor
        self.drive = max(abs(plenum) * (gap.plate_share > 0.0), abs(tray) * (gap.floor is not None))

    def start(self) -> FloatArray:
        """Return a guess: half of the plenum's pressure, speed falling evenly to the middle."""
        gap, pressure = self.gap, 0.5 * self.plenum * (self.gap.plate_share > 0.0)
        unknowns, still = np.zeros(3 * gap.cells), np.zeros(gap.cells)
        unknowns[1::3] = gap.plate.velocity(still + pressure - self.plenum)[0]
        if gap.floor is not None:
            unknowns[2::3] = gap.floor.velocity(still + self.tray - pressure)[0]
        linear, square = 0.5 * self.friction * gap.reach, 2.0 * gap.density * gap.rim_loss
        speed = -2.0 * pressure / (linear + math.sqrt(linear**2 + square * abs(pressure)))
        unknowns[0::3] = speed * (1.0 - np.arange(gap.cells) / gap.cells)
        return unknowns

    def rim_fall(self, speed: float) -> tuple[float, float]:
        """Return the fall of pressure from chamber to rim and its slope."""
        loss = self.gap.rim_loss if speed >= 0.0 else (self.gap.momentum - 1.0) * self.gap.rim_loss
        slope = loss * self.gap.density * speed
        return 0.5 * slope * speed, slope

    def drag(self, unknowns: FloatArray) -> FloatArray:
        """Return the fall of pressure over a cell per speed, at every face [Pa s/m]."""
        share, curtain = self.shares
        out = curtain * np.maximum(unknowns[2::3], 0.0) - share * np.minimum(unknowns[1::3], 0.0)
        out[1:] = 0.5 * (out[1:] + out[:-1])
        out *= self.inertia / self.gap.height
        return np.asarray(self.step * (out + self.friction))

    def evaluate(self, unknowns: FloatArray) -> _State:
        """Return the mismatch: momentum [Pa], mass [m/s] and floor [Pa] of every cell."""
        speed, plate, floor = unknowns[0::3], unknowns[1::3], unknowns[2::3]
        inertia = self.inertia
        fall, plate_slope = self.gap.plate.drop(plate)
        pressure = fall + self.plenum
        out = np.empty_like(unknowns)
        floor_slope = np.ones_like(floor)
        out[2::3] = floor
        if self.gap.floor is not None:
            fall, floor_slope = self.gap.floor.drop(floor)
            out[2::3] = fall + pressure - self.tray
        head = pressure + 0.125 * inertia * _pairs(speed) ** 2
        drag = self.drag(unknowns)
        out[3::3] = head[1:] - head[:-1] + drag[1:] * speed[1:]
        first = 0.125 * drag[0] * (3.0 * speed[0] + speed[1])
        entry, _ = self.rim_fall(float(speed[0]))
        out[0] = head[0] - 0.5 * inertia * speed[0] ** 2 + first + entry
        flow = self.inlet * speed
        inward = flow - np.append(flow[1:], 0.0)
        share, curtain = self.shares
        out[1::3] = curtain * floor - share * plate + inward / self.area
        return _State(out, pressure, floor_slope, plate_slope, self.error(out, unknowns))

    def error(self, mismatch: FloatArray, unknowns: FloatArray) -> float:
        """Return the largest mismatch over the drive and the largest flow."""
        edge, floor, plate = self.flows(np.abs(unknowns))
        largest = max(edge, floor, plate)
        worst = max(float(np.abs(mismatch[0::3]).max()), float(np.abs(mismatch[2::3]).max()))
        error = worst / self.drive if self.drive > 0.0 else 0.0
        lost = float(self.area @ np.abs(mismatch[1::3]))
        return max(error, lost / largest if largest > 0.0 else 0.0)

    def flows(self, unknowns: FloatArray) -> tuple[float, float, float]:
        """Return the flow through the rim, the floor and the plate."""
        share, curtain = self.shares
        floor = curtain * float(self.area @ unknowns[2::3])
        plate = share * float(self.area @ unknowns[1::3])
        return float(self.inlet[0] * unknowns[0]), floor, plate

    def jacobian(self, unknowns: FloatArray, state: _State) -> FloatArray:
        """Return the derivative of the mismatch as seven diagonals for `solve_banded`."""
        speed, (share, curtain) = unknowns[0::3], self.shares
        inertia = self.inertia
        kinetic = 0.25 * inertia * _pairs(speed)
        drag = self.drag(unknowns)
        pull = self.step * inertia / self.gap.height
        plate = -pull * share * (unknowns[1::3] < 0.0)
        floor = pull * curtain * (unknowns[2::3] > 0.0)
        half, first = 0.5 * speed[1:], 0.125 * (3.0 * speed[0] + speed[1])
        slope = state.plate_slope
        out = np.zeros((7, unknowns.size))  # entry (i, j) stands in row 3 + i - j, column j
        out[3, 3::3] = drag[1:] + kinetic[1:] - kinetic[:-1]
        out[0, 6::3] = kinetic[1:-1]
        out[6, 0:-3:3] = -kinetic[:-1]
        out[2, 4::3] = slope[1:] + half * plate[1:]
        out[5, 1:-3:3] = -slope[:-1] + half * plate[:-1]
        out[1, 5::3] = half * floor[1:]
        out[4, 2:-3:3] = half * floor[:-1]
        _, entry = self.rim_fall(float(speed[0]))
        out[3, 0] = entry + 0.375 * drag[0] + kinetic[0] - inertia * speed[0]
        out[0, 3] = 0.125 * drag[0] + kinetic[0]
        out[2, 1] = slope[0] + first * plate[0]
        out[1, 2] = first * floor[0]
        out[4, 0::3] = self.inlet / self.area
        out[1, 3::3] = -self.inlet[1:] / self.area[:-1]
        out[3, 1::3] = -share
        out[2, 2::3] = curtain
        out[3, 2::3] = state.floor_slope
        out[4, 1::3] = slope * (self.gap.floor is not None)
        return out

    def solution(self, unknowns: FloatArray, state: _State, iterations: int) -> GapSolution:
        """Collect the result."""
        edge, floor, plate = self.flows(unknowns)
        mean = float(self.area @ state.pressure) / float(self.area.sum())
        speed, place = float(unknowns[0]), self.distance
        return GapSolution(
            edge, floor, plate, mean, speed, state.pressure, place, iterations, state.error
        )


def _pairs(speed: FloatArray) -> FloatArray:
    """Return each speed plus the next one inward; in the middle the air stands still."""
    return np.asarray(speed + np.append(speed[1:], 0.0))


def _newton(system: _System) -> tuple[FloatArray, _State, int]:
    """Run Newton with shortened steps; the caller judges the error."""
    unknowns = system.start()
    state = system.evaluate(unknowns)
    for iteration in range(STEPS):
        if state.error <= TOLERANCE:
            return unknowns, state, iteration
        bands = system.jacobian(unknowns, state)
        step = solve_banded((3, 3), bands, -state.mismatch, check_finite=False)
        for factor in FACTORS:
            trial = unknowns + factor * step
            new = system.evaluate(trial)
            if system.error(new.mismatch, unknowns) < (1.0 - 1e-4 * factor) * state.error:
                break
        else:
            return unknowns, state, iteration
        unknowns, state = trial, new
    return unknowns, state, STEPS


def _failure(system: _System, state: _State) -> str:
    """Return a message that names the worst place."""
    worst = float(system.distance[int(np.argmax(np.abs(state.mismatch))) // 3])
    return (
        f"gap under a box: flow and pressure do not settle: mismatch {state.error:.2g} (asked "
        f"{TOLERANCE:.2g}), worst {1000.0 * worst:.3g} mm from the rim"
    )
