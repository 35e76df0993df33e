"""Depth-averaged irrotational flow under a plate: pressure from hole velocities, linearised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim.plenum._kernels import (
    drift_divergence,
    face_velocity,
    linear_divergence,
    linear_resistance,
    resistance,
)
from flowsim.plenum.laws import Drag, hole_drop
from flowsim.plenum.newton import Group, LinearState
from flowsim.plenum.poisson import NeumannSolver
from flowsim.plenum.row import TubeRow

__all__ = ["PlateLaw", "PlenumState", "PlenumSystem"]


class PlateLaw(Protocol):
    """What a plenum asks of the plate above it."""

    def drop(self, velocity: FloatArray, /) -> tuple[FloatArray, FloatArray]:
        """Return drop and slope, odd in the velocity and rising with it.

        Parameters
        ----------
        velocity : array, shape (n,)
            Velocity over the open share. [m/s]

        Returns
        -------
        tuple of two arrays, shape (n,)
            Drop [Pa] and its derivative [Pa s/m].
        """


@dataclass(frozen=True)
class PlenumState:
    """Flow field at one set of hole velocities.

    Parameters
    ----------
    net : array, shape (nx, ny)
        Net inflow per floor area. [m/s]
    joining : array, shape (nx, ny)
        1 where the plate blows into the plenum, 0 where it draws. [-]
    ux, uy : array, shape (nx+1, ny), (nx, ny+1)
        Face velocities. [m/s]
    cells : array, shape (5, nx, ny)
        Cell velocities [m/s], resistance kappa [Pa s/m2] and its derivatives to them.
    psi, pressure : array, shape (nx, ny)
        Pressure without and with the dynamic part, up to a constant. [Pa]
    tube_flow : array, shape (n,)
        Flow into the tube per station. [m3/s]
    tube_nodes : array, shape (2, n+1)
        Axial velocity [m/s] and pressure [Pa] at the tube's nodes.
    """

    net: FloatArray
    joining: FloatArray
    ux: FloatArray
    uy: FloatArray
    cells: FloatArray
    psi: FloatArray
    pressure: FloatArray
    tube_flow: FloatArray
    tube_nodes: FloatArray


@dataclass(frozen=True)
class PlenumSystem:
    """Plate cells and tube holes over one plenum, as unknowns of the coupling.

    Parameters
    ----------
    spacing : tuple of three floats
        Cell sizes dx, dy and the plenum's height. [m]
    poisson : NeumannSolver
        Solver of the grid. [-]
    plate : PlateLaw
        Law of the plate. [-]
    is_open : array, shape (nx, ny)
        Cells with open plate, whose velocities are unknowns. [-]
    open_share : array, shape (m,)
        Their open shares. [-]
    fixed : tuple of two arrays, shape (nx, ny)
        Sources and bottom ports per floor area: net and arriving part. [m/s]
    walls : tuple of four arrays
        Boundary velocities along the axes on left, right (ny,), front, back (nx,). [m/s]
    drag : tuple of float
        Wall data of the compiled loops, see `laws.wall_data`. [SI]
    momentum : float
        Factor on the momentum coefficient. [-]
    row : TubeRow or None
        The distributor tube. [-]
    groups : tuple of Group
        Plate cells, then tube holes. [-]
    """

    spacing: tuple[float, float, float]
    poisson: NeumannSolver
    plate: PlateLaw
    is_open: BoolArray
    open_share: FloatArray
    fixed: tuple[FloatArray, FloatArray]
    walls: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    drag: Drag
    momentum: float
    row: TubeRow | None
    groups: tuple[Group, ...]

    def place(self, index: int) -> str:
        """Return where an unknown sits, in words.

        Parameters
        ----------
        index : int
            Number of the unknown. [-]

        Returns
        -------
        str
            Words for a message.
        """
        if index >= self.open_share.size:
            return f"tube station {index - self.open_share.size}, counted from its closed end"
        i, j = (int(where[index]) for where in np.nonzero(self.is_open))
        dx, dy, _ = self.spacing
        return f"plate cell x = {(i + 0.5) * dx:.3f} m, y = {(j + 0.5) * dy:.3f} m"

    def evaluate(self, velocity: FloatArray, share: float) -> LinearState:
        """Return the residual of all holes at the given velocities.

        Parameters
        ----------
        velocity : array, shape (n,)
            Plate velocities over the open share, then hole velocities into the tube. [m/s]
        share : float
            Share of the air's inertia to use. [-]

        Returns
        -------
        LinearState
            Residual and what its linearisation needs.

        Notes
        -----
        grad p = momentum [-rho grad(U^2/2) - rho (w_in/h) U] - lambda rho |U| U/(2 D_h) with
        D_h = 2 h and U irrotational: own derivation, in one dimension the header equation of
        [Bajura1971]_ with theta = momentum (joining) and momentum/2 (leaving).
        """
        m = self.open_share.size
        plenum = self._field(velocity, share)
        drop, slope = self.plate.drop(velocity[:m])
        residual = drop + plenum.pressure[self.is_open]
        if self.row is not None:
            holes = hole_drop(velocity[m:], self.drag[0], self.row.tube.discharge_coefficient)
            nodes = plenum.tube_nodes[1]
            inside = 0.5 * (nodes[1:] + nodes[:-1]) - self.row.beside(plenum.pressure)
            drop, slope = np.append(drop, holes[0]), np.append(slope, holes[1])
            residual = np.append(residual, holes[0] + inside)
        return LinearState(residual, drop, slope, share, plenum)

    def change(self, state: LinearState, step: FloatArray) -> FloatArray:
        """Return the linear change of the header pressures at all holes.

        Parameters
        ----------
        state : LinearState
            Evaluation to linearise about. [-]
        step : array, shape (n,)
            Change of the velocities. [m/s]

        Returns
        -------
        array, shape (n,)
            Change of plenum pressure at plate cells, of tube less plenum pressure at holes. [Pa]
        """
        m = self.open_share.size
        plenum: PlenumState = state.parts
        net = np.zeros(self.is_open.shape)
        net[self.is_open] = step[:m] * self.open_share
        arriving = net * plenum.joining
        if self.row is not None:
            flow = step[m:] * self.row.hole_area
            self.row.take(net, flow)
            self.row.take(arriving, np.where(plenum.tube_flow < 0.0, flow, 0.0))
        pressure = self._pressure_change(plenum, net, arriving, state.share)
        if self.row is None:
            return np.asarray(pressure[self.is_open])
        along = self.row.change(plenum.tube_flow, flow, plenum.tube_nodes[0], state.share)
        return np.append(pressure[self.is_open], along - self.row.beside(pressure))

    def _field(self, velocity: FloatArray, share: float) -> PlenumState:
        """Return the flow field of given hole velocities."""
        m = self.open_share.size
        plate = np.zeros(self.is_open.shape)
        plate[self.is_open] = velocity[:m] * self.open_share
        net, arriving = self.fixed[0] + plate, self.fixed[1] + np.maximum(plate, 0.0)
        flow, nodes = velocity[m:], np.zeros((2, 1))
        if self.row is not None:
            flow = velocity[m:] * self.row.hole_area
            self.row.take(net, flow)
            self.row.take(arriving, np.minimum(flow, 0.0))
            nodes = self.row.nodes(flow, share)
        ux, uy = self._faces(net)
        cells, psi, pressure = self._pressure(ux, uy, arriving, share)
        joining = (plate > 0.0).astype(float)
        return PlenumState(net, joining, ux, uy, cells, psi, pressure, flow, nodes)

    def _faces(self, net: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return face velocities for a net inflow per floor area."""
        dx, dy, height = self.spacing
        nx, ny = net.shape
        ux, uy = np.zeros((nx + 1, ny)), np.zeros((nx, ny + 1))
        ux[0], ux[-1], uy[:, 0], uy[:, -1] = self.walls
        source = net / height
        source[0] += ux[0] / dx
        source[-1] -= ux[-1] / dx
        source[:, 0] += uy[:, 0] / dy
        source[:, -1] -= uy[:, -1] / dy
        source -= source.mean()
        face_velocity(self.poisson.solve(source), dx, dy, ux, uy)
        return ux, uy

    def _pressure(
        self, ux: FloatArray, uy: FloatArray, arriving: FloatArray, share: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return cell data, psi and pressure of a velocity field."""
        dx, dy, height = self.spacing
        inertia = share * self.momentum * self.drag[0]
        cells = np.empty((5, *arriving.shape))
        resistance(ux, uy, arriving * (inertia / height), self.drag, cells)
        source = np.empty(arriving.shape)
        drift_divergence(cells, ux, uy, dx, dy, source)
        psi = self.poisson.solve(source)
        return cells, psi, psi - 0.5 * inertia * (cells[0] ** 2 + cells[1] ** 2)

    def _pressure_change(
        self, plenum: PlenumState, net: FloatArray, arriving: FloatArray, share: float
    ) -> FloatArray:
        """Return the linear change of pressure for changed inflows."""
        dx, dy, height = self.spacing
        inertia = share * self.momentum * self.drag[0]
        nx, ny = net.shape
        dux, duy = np.zeros((nx + 1, ny)), np.zeros((nx, ny + 1))
        face_velocity(self.poisson.solve(net / height), dx, dy, dux, duy)
        arriving *= inertia / height
        dynamic = np.empty((nx, ny))
        linear_resistance(plenum.cells, dux, duy, arriving, inertia, dynamic)
        source = np.empty((nx, ny))
        faces = (plenum.ux, plenum.uy, dux, duy)
        linear_divergence(plenum.cells, arriving, faces, dx, dy, source)
        return self.poisson.solve(source) + dynamic
