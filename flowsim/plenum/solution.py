"""What a solved plenum shows: pressures, ports, residuals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.plenum.field import PlenumState, PlenumSystem
from flowsim.plenum.newton import Balance
from flowsim.plenum.ports import PortMap
from flowsim.plenum.tube import TubeSolution, tube_solution

__all__ = ["HeaderFlows", "HeaderSolution", "collect"]


@dataclass(frozen=True)
class HeaderSolution:
    """Flow in a plenum and through its plate.

    Parameters
    ----------
    velocity : array, shape (nx, ny)
        Downward velocity through the plate over its open share, 0 where covered. [m/s]
    pressure : array, shape (nx, ny)
        Static pressure, relative to the total pressure above the plate. [Pa]
    velocity_x, velocity_y : array, shape (nx, ny)
        Depth-averaged velocity at cell centres. [m/s]
    port_total : array, shape (number of ports,)
        Flux mean of total pressure over each port's cells, at a tube's port the tube's. [Pa]
    port_speed : array, shape (number of ports,)
        Speed over the port's extent at full plenum height, at a tube's port in the tube. [m/s]
    mean_pressure : float
        Static pressure averaged over the open plate. [Pa]
    choking_number : float
        M = rho (w L/h)^2 over plate drop; from 4 the plenum chokes. [-]
    mass_residual : float
        Largest imbalance of a cell over the largest face or plate flow. [-]
    momentum_residual : float
        Largest mismatch of drop and pressure over the mean plate drop. [-]
    iterations : int
        Newton steps. [-]
    tube : TubeSolution or None
        The distributor tube, pressures relative to the total pressure above the plate.
    """

    velocity: FloatArray
    pressure: FloatArray
    velocity_x: FloatArray
    velocity_y: FloatArray
    port_total: FloatArray
    port_speed: FloatArray
    mean_pressure: float
    choking_number: float
    mass_residual: float
    momentum_residual: float
    iterations: int
    tube: TubeSolution | None = None

    @property
    def reversed_plate(self) -> bool:
        """Whether some plate cells blow against the others."""
        return bool(np.any(self.velocity > 0.0) and np.any(self.velocity < 0.0))


@dataclass(frozen=True)
class HeaderFlows:
    """Checked flows of one solution.

    Parameters
    ----------
    port_flow : array, shape (number of ports,)
        Flow out of each port. [m3/s]
    inside : array, shape (number of ports,)
        The same, 0 at a tube's port. [m3/s]
    source : array, shape (nx, ny)
        Further flow into the plenum. [m3/s]
    plate : float
        Flow through the plate. [m3/s]
    tube : float
        Flow out of the tube's open end. [m3/s]
    tube_port : int or None
        The port a tube is joined to. [-]
    """

    port_flow: FloatArray
    inside: FloatArray
    source: FloatArray
    plate: float
    tube: float
    tube_port: int | None


def collect(
    system: PlenumSystem, flows: HeaderFlows, ports: PortMap, balance: Balance
) -> HeaderSolution:
    """Collect what a solved plenum shows.

    Parameters
    ----------
    system : PlenumSystem
        The plenum. [-]
    flows : HeaderFlows
        Its flows. [m3/s]
    ports : PortMap
        Its ports. [-]
    balance : Balance
        Solution of the coupling. [-]

    Returns
    -------
    HeaderSolution
        Fields and port pressures.
    """
    plenum: PlenumState = balance.state.parts
    velocity = np.zeros(system.is_open.shape)
    velocity[system.is_open] = balance.velocity[: system.open_share.size]
    constant = float(balance.constants[0])
    pressure = plenum.pressure + constant
    tube = None if system.row is None else _tube(system, balance, plenum)
    totals = [
        _port_total(system, plenum, wall, share) + constant
        for wall, share in zip(ports.walls, ports.shares, strict=True)
    ]
    total, speed = np.array(totals), np.abs(flows.port_flow) / ports.open_area
    if tube is not None and flows.tube_port is not None:
        total[flows.tube_port] = tube.port_total
        speed[flows.tube_port] = tube.port_speed
    area = system.groups[0].area
    return HeaderSolution(
        velocity=velocity,
        pressure=pressure,
        velocity_x=plenum.cells[0].copy(),
        velocity_y=plenum.cells[1].copy(),
        port_total=total,
        port_speed=speed,
        mean_pressure=float(area @ pressure[system.is_open] / area.sum()),
        choking_number=_choking_number(system, flows, ports),
        mass_residual=_mass_residual(system, plenum),
        momentum_residual=balance.error,
        iterations=balance.iterations,
        tube=tube,
    )


def _tube(system: PlenumSystem, balance: Balance, plenum: PlenumState) -> TubeSolution:
    """Return the tube's solution, pressures relative to the total pressure above the plate."""
    row = system.row
    assert row is not None
    own, tube = balance.constants
    inside = plenum.tube_nodes[1] + own + tube
    nodes = (plenum.tube_nodes[0], inside, row.beside(plenum.pressure) + own)
    return tube_solution(row.tube, row.x, row.hole_area, balance, nodes, system.drag[0])


def _port_total(system: PlenumSystem, plenum: PlenumState, wall: str, share: FloatArray) -> float:
    """Return the flux mean of total pressure over a port, up to the constant [Pa].

    On a wall the cell pressure is carried over the last half cell by the wall drag and the
    arriving air; in the bottom it is the cell's own.
    """
    dx, dy, _ = system.spacing
    density, inertia = system.drag[0], system.drag[0] * system.momentum
    u, v, kappa = plenum.cells[0], plenum.cells[1], plenum.cells[2]
    if wall == "bottom":
        surplus = 0.5 * (density - inertia) * (u**2 + v**2)
        return float(np.sum(share * (plenum.psi + surplus)))
    last, half = (-1, 0.5) if wall in ("right", "back") else (0, -0.5)
    if wall in ("left", "right"):
        half *= dx
        face, centre, along = plenum.ux[last], u[last], v[last]
        psi, kappa = plenum.psi[last], kappa[last]
    else:
        half *= dy
        face, centre, along = plenum.uy[:, last], v[:, last], u[:, last]
        psi, kappa = plenum.psi[:, last], kappa[:, last]
    at_port = psi - kappa * 0.5 * (face + centre) * half
    surplus = 0.5 * (density - inertia) * (face**2 + along**2)
    return float(share @ (at_port + surplus))


def _choking_number(system: PlenumSystem, flows: HeaderFlows, ports: PortMap) -> float:
    """Return M = rho (w L/h)^2 over the plate drop at the mean velocity."""
    by_wall: dict[str, float] = {}
    for wall, flow, speed in zip(ports.walls, flows.inside, ports.lateral_speed, strict=True):
        by_wall[wall] = by_wall.get(wall, 0.0) + flow * speed
    lateral = [abs(speed) for speed in by_wall.values()]
    if system.row is not None:
        lateral.append(abs(flows.tube) * system.row.lateral_speed / system.spacing[2])
    mean = flows.plate / system.groups[0].area.sum()
    drop = abs(float(system.plate.drop(np.array([mean]))[0][0]))
    fastest = max(lateral, default=0.0)
    if fastest == 0.0:
        return 0.0
    return system.drag[0] * fastest**2 / drop if drop > 0.0 else math.inf


def _mass_residual(system: PlenumSystem, plenum: PlenumState) -> float:
    """Return the largest imbalance of a cell over the largest face or plate flow."""
    dx, dy, height = system.spacing
    ux, uy = plenum.ux * dy * height, plenum.uy * dx * height
    inflow = plenum.net * dx * dy
    imbalance = ux[1:] - ux[:-1] + uy[:, 1:] - uy[:, :-1] - inflow
    largest = max(float(np.max(np.abs(flow))) for flow in (ux, uy, inflow))
    return float(np.max(np.abs(imbalance))) / largest if largest > 0.0 else 0.0
