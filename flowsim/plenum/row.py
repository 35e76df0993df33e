"""A distributor tube laid onto the plenum grid."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.errors import RangeError
from flowsim.plenum._kernels import tube_linear, tube_pressure
from flowsim.plenum.laws import Drag
from flowsim.plenum.ports import Wall, overlap_share
from flowsim.plenum.tube import Tube, TubeInPlenum

__all__ = ["TubeRow", "lay_tube"]


@dataclass(frozen=True)
class TubeRow:
    """A tube's stations on the plenum grid, from the closed to the open end.

    Parameters
    ----------
    tube : Tube
        The tube. [-]
    drag : tuple of float
        Wall data of the compiled loops, see `laws.wall_data`. [SI]
    x : array, shape (n,)
        Station centres. [m]
    lengths, hole_area : array, shape (n,)
        Length [m] and hole area [m2] of each station.
    column, line : array, shape (n,) and (2, 1)
        Cells along x of the stations; the two cells along y between whose centres it runs. [-]
    weights : array, shape (2, 1)
        Share of either line. [-]
    cell_area : float
        Floor area of a plenum cell. [m2]
    lateral_speed : float
        Speed times plenum height that the tube's even draw causes across, per flow. [1/m]
    """

    tube: Tube
    drag: Drag
    x: FloatArray
    lengths: FloatArray
    hole_area: FloatArray
    column: IntArray
    line: IntArray
    weights: FloatArray
    cell_area: float
    lateral_speed: float

    def inertia(self, share: float) -> float:
        """Return density times momentum factor.

        Parameters
        ----------
        share : float
            Share of the inertia in use. [-]

        Returns
        -------
        float
            Product. [kg/m3]
        """
        return share * self.drag[0] * self.tube.momentum

    def take(self, net: FloatArray, flow: FloatArray) -> None:
        """Take the stations' flow out of the cells beside them, in place.

        Parameters
        ----------
        net : array, shape (nx, ny)
            Inflow per floor area. [m/s]
        flow : array, shape (n,)
            Flow into the tube per station. [m3/s]
        """
        np.add.at(net, (self.column[None, :], self.line), -self.weights * flow / self.cell_area)

    def beside(self, pressure: FloatArray) -> FloatArray:
        """Return the plenum's pressure beside each station.

        Parameters
        ----------
        pressure : array, shape (nx, ny)
            Plenum pressure. [Pa]

        Returns
        -------
        array, shape (n,)
            Interpolated across the axis. [Pa]
        """
        both = pressure[self.column[None, :], self.line]
        return np.asarray((self.weights * both).sum(axis=0))

    def nodes(self, flow: FloatArray, share: float) -> FloatArray:
        """Return axial velocity and pressure at the nodes between stations.

        Parameters
        ----------
        flow : array, shape (n,)
            Flow into the tube per station. [m3/s]
        share : float
            Share of the inertia in use. [-]

        Returns
        -------
        array, shape (2, n+1)
            Velocity [m/s] and pressure less that at the closed end [Pa], closed end first.
        """
        out = np.empty((2, flow.size + 1))
        tube_pressure(flow, self.lengths, self.tube.area, self.inertia(share), self.drag, out)
        return out

    def change(
        self, flow: FloatArray, step: FloatArray, velocity: FloatArray, share: float
    ) -> FloatArray:
        """Return the linear change of the stations' pressures.

        Parameters
        ----------
        flow, step : array, shape (n,)
            Flow into the tube per station and its change. [m3/s]
        velocity : array, shape (n+1,)
            Axial velocity at the nodes. [m/s]
        share : float
            Share of the inertia in use. [-]

        Returns
        -------
        array, shape (n,)
            Change. [Pa]
        """
        inertia = self.inertia(share)
        return tube_linear(flow, step, self.lengths, self.tube.area, inertia, self.drag, velocity)


def lay_tube(
    laid: TubeInPlenum,
    walls: tuple[Wall, ...],
    size: tuple[float, float],
    cells: tuple[int, int],
    air: tuple[float, float],
) -> TubeRow:
    """Cut a tube into stations, one per plenum column it touches.

    Parameters
    ----------
    laid : TubeInPlenum
        Tube and its place. [-]
    walls : tuple of str
        Walls of the plenum's ports. [-]
    size : tuple of two floats
        Width and depth of the plenum. [m]
    cells : tuple of two int
        Cells along x and y. [-]
    air : tuple of two floats
        Density [kg/m3] and dynamic viscosity [Pa s].

    Returns
    -------
    TubeRow
        Stations from the closed to the open end.

    Raises
    ------
    RangeError
        If the tube leaves the plenum or its port is not in the left or right wall.
    """
    _check_place(laid, walls, size)
    dx, dy = size[0] / cells[0], size[1] / cells[1]
    share = overlap_share(cells[0], size[0], laid.x0, laid.x1)
    column = np.flatnonzero(share)
    if walls[laid.port_index] == "left":
        column = column[::-1]
    edges = np.linspace(0.0, size[0], cells[0] + 1)
    low = np.maximum(edges[column], laid.x0)
    high = np.minimum(edges[column + 1], laid.x1)
    place = min(max(laid.row / dy - 0.5, 0.0), cells[1] - 1.0)
    below = min(int(place), max(cells[1] - 2, 0))
    line = np.array([[below], [min(below + 1, cells[1] - 1)]])
    weight = place - below
    return TubeRow(
        tube=laid.tube,
        drag=laid.tube.wall_data(air),
        x=0.5 * (low + high),
        lengths=high - low,
        hole_area=laid.tube.hole_area * share[column],
        column=column,
        line=line,
        weights=np.array([[1.0 - weight], [weight]]),
        cell_area=dx * dy,
        lateral_speed=max(laid.row, size[1] - laid.row) / (size[0] * size[1]),
    )


def _check_place(laid: TubeInPlenum, walls: tuple[Wall, ...], size: tuple[float, float]) -> None:
    """Refuse a tube that leaves the plenum or hangs on an unfit port."""
    slack = 1e-9 * size[0]
    if not -slack <= laid.x0 < laid.x1 <= size[0] + slack:
        raise RangeError(f"tube: {laid.x0:g} to {laid.x1:g} m must lie within 0 to {size[0]:g} m")
    if not 0.0 < laid.row < size[1]:
        raise RangeError(f"tube: row {laid.row:g} m must lie within 0 to {size[1]:g} m")
    if not 0 <= laid.port_index < len(walls):
        raise RangeError(f"tube: there is no port {laid.port_index}")
    if walls[laid.port_index] not in ("left", "right"):
        raise RangeError("tube: it lies along x and needs a port in the left or right wall")
