"""1D distributor tube: a tube with equal holes along it, closed at one end."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.plenum._kernels import tube_linear, tube_pressure
from flowsim.plenum.laws import LAMINAR_TUBE, Drag, check_wall, hole_drop, wall_data
from flowsim.plenum.newton import Balance, Group, LinearState, solve_balance

__all__ = ["Tube", "TubeInPlenum", "TubeSolution", "solve_tube", "tube_solution"]


@dataclass(frozen=True)
class Tube:
    """A tube with many equal holes, closed at one end.

    Parameters
    ----------
    length : float
        Perforated length. [m]
    area : float
        Inner cross-section. [m2]
    hydraulic_diameter : float
        Four times section over wetted perimeter. [m]
    hole_area : float
        Area of all holes together. [m2]
    discharge_coefficient : float
        Flow over ideal flow of the holes. [-]
    friction_factor : float or None
        Darcy friction factor; None computes it from Reynolds number and roughness. [-]
    roughness : float
        Height of the wall's roughness. [m]
    momentum : float
        Scales the momentum coefficient theta: theta = momentum where air joins the tube,
        momentum/2 where it leaves; 1 is full momentum and Bernoulli regain. [-]

    Raises
    ------
    RangeError
        If a size is not positive or a coefficient is outside its possible range.
    """

    length: float
    area: float
    hydraulic_diameter: float
    hole_area: float
    discharge_coefficient: float = 0.62
    friction_factor: float | None = None
    roughness: float = 0.0
    momentum: float = 1.0

    def __post_init__(self) -> None:
        for name in ("length", "area", "hydraulic_diameter", "hole_area", "discharge_coefficient"):
            value = getattr(self, name)
            if not (value > 0.0 and math.isfinite(value)):
                raise RangeError(f"tube: {name} must be positive and finite, got {value}")
        check_wall("tube", self.friction_factor, self.roughness, self.momentum)

    @property
    def hole_ratio(self) -> float:
        """Discharge coefficient times hole area over section, the `a` of the closed forms [-]."""
        return self.discharge_coefficient * self.hole_area / self.area

    def wall_data(self, air: tuple[float, float]) -> Drag:
        """Return the wall data that the compiled loops take.

        Parameters
        ----------
        air : tuple of two floats
            Density [kg/m3] and dynamic viscosity [Pa s].

        Returns
        -------
        tuple of float
            See `laws.wall_data`.
        """
        diameter = self.hydraulic_diameter
        return wall_data(air, diameter, self.friction_factor, self.roughness, LAMINAR_TUBE)


@dataclass(frozen=True)
class TubeInPlenum:
    """A distributor tube lying along x in a plenum, joined to a port of its left or right wall.

    Parameters
    ----------
    tube : Tube
        The tube; its length is ignored in favour of x0 and x1. [-]
    port_index : int
        The port it is joined to, counted from 0. [-]
    row : float
        Depth position y of its axis. [m]
    x0, x1 : float
        Ends of the perforated part. [m]

    Notes
    -----
    The tube takes air from the plenum through its holes but does not obstruct the flow there.
    """

    tube: Tube
    port_index: int
    row: float
    x0: float
    x1: float


@dataclass(frozen=True)
class TubeSolution:
    """Flow along a tube; every array runs from the closed to the open end.

    Parameters
    ----------
    x : array, shape (n,)
        Station centres: distance from the closed end, in a plenum its x. [m]
    inflow : array, shape (n,)
        Flow into the tube at each station, negative where air leaves. [m3/s]
    pressure : array, shape (n,)
        Static pressure inside, mean over the station. [Pa]
    velocity : array, shape (n,)
        Axial velocity, mean over the station, positive towards the open end. [m/s]
    hole_velocity : array, shape (n,)
        Flow over hole area of each station, positive inwards. [m/s]
    port_static, port_total : float
        Static and total pressure at the open end. [Pa]
    port_speed : float
        Speed at the open end. [m/s]
    draw_ratio : float
        Largest over smallest hole flow, both ends included; inf where holes reverse. [-]
    end_ratio : float
        Hole flow at the open over that at the closed end. [-]
    reversed_holes : bool
        Whether any hole blows against the direction of the tube's flow. [-]
    momentum_residual : float
        Largest mismatch of a station over the mean hole drop. [-]
    iterations : int
        Newton steps. [-]
    """

    x: FloatArray
    inflow: FloatArray
    pressure: FloatArray
    velocity: FloatArray
    hole_velocity: FloatArray
    port_static: float
    port_total: float
    port_speed: float
    draw_ratio: float
    end_ratio: float
    reversed_holes: bool
    momentum_residual: float
    iterations: int


@dataclass(frozen=True)
class _TubeSystem:
    """Holes of a tube alone; velocities are positive into the tube."""

    tube: Tube
    drag: Drag
    lengths: FloatArray
    hole_area: FloatArray
    outside: FloatArray
    flow: float

    @property
    def groups(self) -> tuple[Group, ...]:
        return (Group(slice(0, self.hole_area.size), self.hole_area, self.flow),)

    def evaluate(self, velocity: FloatArray, share: float) -> LinearState:
        inertia = share * self.drag[0] * self.tube.momentum
        nodes = np.empty((2, velocity.size + 1))
        flow = velocity * self.hole_area
        tube_pressure(flow, self.lengths, self.tube.area, inertia, self.drag, nodes)
        drop, slope = hole_drop(velocity, self.drag[0], self.tube.discharge_coefficient)
        inside = 0.5 * (nodes[1, 1:] + nodes[1, :-1])
        return LinearState(drop + inside - self.outside, drop, slope, share, (flow, nodes))

    def change(self, state: LinearState, step: FloatArray) -> FloatArray:
        flow, nodes = state.parts
        inertia = state.share * self.drag[0] * self.tube.momentum
        moved = step * self.hole_area
        area, drag = self.tube.area, self.drag
        return tube_linear(flow, moved, self.lengths, area, inertia, drag, nodes[0])

    def place(self, index: int) -> str:
        return f"station {index} of the tube, counted from its closed end"


def solve_tube(
    tube: Tube,
    flow: float,
    air: tuple[float, float],
    stations: int = 60,
    kind: Literal["combining", "dividing"] = "combining",
    outside: FloatArray | float = 0.0,
    tolerance: float = 1e-10,
) -> TubeSolution:
    """Return the flow along a tube whose total flow is given.

    Parameters
    ----------
    tube : Tube
        The tube. [-]
    flow : float
        Total flow, not negative: drawn out of the open end if combining, blown into it if
        dividing. [m3/s]
    air : tuple of two floats
        Density [kg/m3] and dynamic viscosity [Pa s].
    stations : int
        Equal stations along the tube. [-]
    kind : str
        "combining" (holes draw in) or "dividing" (holes blow out). [-]
    outside : array, shape (stations,), or float
        Pressure outside the holes, closed end first. [Pa]
    tolerance : float
        Largest mismatch over the mean hole drop. [-]

    Returns
    -------
    TubeSolution
        Stations from the closed to the open end; `reversed_holes` tells whether some holes work
        against the rest. Nothing is clipped.

    Raises
    ------
    RangeError
        If an argument is impossible.
    ConvergenceError
        If no solution is found, for instance far beyond the choking of a blown tube.

    Notes
    -----
    dp = -momentum rho (d(W^2)/2 + W dW where air joins) - f rho |W| W dx/(2 D): the header
    equation of [Bajura1971]_ and [Acrivos1959]_ with theta = momentum for joining and
    momentum/2 for leaving air. Pressure is averaged over each station: second order.
    """
    if kind not in ("combining", "dividing"):
        raise RangeError(f"tube: kind must be 'combining' or 'dividing', got {kind!r}")
    if stations < 2 or not 0.0 <= flow < math.inf:
        raise RangeError(f"tube: stations >= 2 and flow >= 0 needed, got {stations} and {flow}")
    sign = 1.0 if kind == "combining" else -1.0
    lengths = np.full(stations, tube.length / stations)
    holes = np.full(stations, tube.hole_area / stations)
    around = np.broadcast_to(np.asarray(outside, dtype=float), (stations,))
    system = _TubeSystem(tube, tube.wall_data(air), lengths, holes, around, sign * flow)
    start = np.full(stations, sign * flow / tube.hole_area)
    balance = solve_balance(system, start, tolerance)
    x = (np.arange(stations) + 0.5) * lengths[0]
    _, nodes = balance.state.parts
    inner = nodes[1] + balance.constants[0]
    return tube_solution(tube, x, holes, balance, (nodes[0], inner, around), air[0])


def tube_solution(
    tube: Tube,
    x: FloatArray,
    hole_area: FloatArray,
    balance: Balance,
    nodes: tuple[FloatArray, FloatArray, FloatArray],
    density: float,
) -> TubeSolution:
    """Collect a tube's solution.

    Parameters
    ----------
    tube : Tube
        The tube. [-]
    x : array, shape (n,)
        Station centres. [m]
    hole_area : array, shape (n,)
        Hole area of each station. [m2]
    balance : Balance
        Solution whose last n velocities are the tube's. [-]
    nodes : tuple of arrays
        Axial velocity (n+1,) [m/s] and pressure (n+1,) [Pa] at the nodes, pressure outside
        (n,) [Pa].
    density : float
        Air density. [kg/m3]

    Returns
    -------
    TubeSolution
        The solution.
    """
    axial, inside, outside = nodes
    hole_velocity = balance.velocity[-x.size :]
    ends = _end_velocity(tube, outside, inside, density)
    every = np.concatenate((ends[:1], hole_velocity, ends[1:]))
    sign = 1.0 if axial[-1] >= 0.0 else -1.0
    back = bool(np.any(sign * every < 0.0))
    smallest, largest = float(np.min(sign * every)), float(np.max(sign * every))
    return TubeSolution(
        x=x,
        inflow=hole_velocity * hole_area,
        pressure=0.5 * (inside[1:] + inside[:-1]),
        velocity=0.5 * (axial[1:] + axial[:-1]),
        hole_velocity=hole_velocity.copy(),
        port_static=float(inside[-1]),
        port_total=float(inside[-1] + 0.5 * density * axial[-1] ** 2),
        port_speed=abs(float(axial[-1])),
        draw_ratio=_ratio(largest, smallest),
        end_ratio=_ratio(float(ends[1]), float(ends[0])),
        reversed_holes=back,
        momentum_residual=balance.error,
        iterations=balance.iterations,
    )


def _ratio(upper: float, lower: float) -> float:
    """Return upper/lower; 1 when nothing flows, inf where the flow reverses or dies out."""
    if upper == lower:
        return 1.0
    return upper / lower if upper * lower > 0.0 else math.inf


def _end_velocity(
    tube: Tube, outside: FloatArray, inside: FloatArray, density: float
) -> FloatArray:
    """Return hole velocities at both ends, from the drive extrapolated to them."""
    first = 1.5 * outside[0] - 0.5 * outside[1]
    last = 1.5 * outside[-1] - 0.5 * outside[-2]
    drive = np.array([first - inside[0], last - inside[-1]])
    ideal = np.sqrt(2.0 * np.abs(drive) / density)
    return np.asarray(np.sign(drive) * tube.discharge_coefficient * ideal)
