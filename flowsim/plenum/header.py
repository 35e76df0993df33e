"""2D plenum under a perforated plate, or box above a filter: even draw against momentum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.plenum.field import PlateLaw, PlenumSystem
from flowsim.plenum.laws import LAMINAR_GAP, check_wall, wall_data
from flowsim.plenum.newton import Group, solve_balance
from flowsim.plenum.poisson import neumann_solver
from flowsim.plenum.ports import HeaderPort, PortMap, map_ports, overlap_share, port_velocities
from flowsim.plenum.row import TubeRow, lay_tube
from flowsim.plenum.solution import HeaderFlows, HeaderSolution, collect
from flowsim.plenum.tube import TubeInPlenum

__all__ = [
    "Header",
    "HeaderPort",
    "HeaderSolution",
    "PlateLaw",
    "overlap_share",
    "solve_header",
]

FLOW_SLACK = 1e-9  # unbalanced share of the flows that is taken as round-off


@dataclass(frozen=True)
class Header:
    """A flat box under a plate (or above a filter), with ports.

    Parameters
    ----------
    width, depth, height : float
        Inner size along x, y and z. [m]
    nx, ny : int
        Cells along x and y. [-]
    ports : tuple of HeaderPort
        Where air leaves or enters. [-]
    momentum : float
        Scales the momentum coefficient theta: theta = momentum where air joins, momentum/2
        where it leaves; 1 is full momentum and Bernoulli regain. [-]
    friction_factor : float or None
        Darcy friction factor on D_h = 2 h; None computes it (Churchill). [-]
    roughness : float
        Height of the walls' roughness. [m]

    Raises
    ------
    RangeError
        If a size is not positive or a coefficient is outside its possible range.
    """

    width: float
    depth: float
    height: float
    nx: int
    ny: int
    ports: tuple[HeaderPort, ...]
    momentum: float = 1.0
    friction_factor: float | None = None
    roughness: float = 0.0

    def __post_init__(self) -> None:
        for name in ("width", "depth", "height"):
            value = getattr(self, name)
            if not (value > 0.0 and math.isfinite(value)):
                raise RangeError(f"plenum: {name} must be positive and finite, got {value}")
        if self.nx < 1 or self.ny < 1:
            raise RangeError(f"plenum: needs at least one cell each way, got {self.nx}, {self.ny}")
        check_wall("plenum", self.friction_factor, self.roughness, self.momentum)

    @property
    def spacing(self) -> tuple[float, float, float]:
        """Cell sizes dx, dy and the height [m]."""
        return self.width / self.nx, self.depth / self.ny, self.height


def solve_header(
    header: Header,
    plate: PlateLaw,
    open_share: FloatArray,
    port_flow: FloatArray,
    air: tuple[float, float],
    source: FloatArray | None = None,
    tube: TubeInPlenum | None = None,
    start: HeaderSolution | None = None,
    tolerance: float = 1e-10,
) -> HeaderSolution:
    """Share a given flow out over the plate so that drop and plenum pressure agree.

    Parameters
    ----------
    header : Header
        The plenum. [-]
    plate : PlateLaw
        Drop against velocity over the open share. [-]
    open_share : array, shape (nx, ny)
        Open share of the plate in each cell, 0 where covered. [-]
    port_flow : array, shape (number of ports,)
        Flow out of each port, negative where air enters. [m3/s]
    air : tuple of two floats
        Density [kg/m3] and dynamic viscosity [Pa s].
    source : array, shape (nx, ny), or None
        Further flow into the plenum, arriving at rest. [m3/s]
    tube : TubeInPlenum or None
        Distributor tube; the flow of its port runs through it. [-]
    start : HeaderSolution or None
        A solution near by. [-]
    tolerance : float
        Largest mismatch over the mean plate drop. [-]

    Returns
    -------
    HeaderSolution
        The solution. Nothing is clipped: plate cells that blow the other way stay so.

    Raises
    ------
    RangeError
        If shapes or values are impossible, or no plate is open for the flow.
    ConvergenceError
        If no solution is found; the message names the worst cell.

    Notes
    -----
    See `PlenumSystem.evaluate` for the equations. M and its limit 4 (draw ratio cosh(2) = 3.8):
    own derivation from the frictionless closed form.
    """
    size, cells = (header.width, header.depth), (header.nx, header.ny)
    ports = map_ports(header.ports, (*size, header.height), cells)
    row = None if tube is None else lay_tube(tube, ports.walls, size, cells, air)
    flows = _check_flows(header, open_share, port_flow, source, tube)
    system = _build(header, plate, open_share, flows, ports, row, air)
    balance = solve_balance(system, _start(system, start), tolerance)
    return collect(system, flows, ports, balance)


def _check_flows(
    header: Header,
    open_share: FloatArray,
    port_flow: FloatArray,
    source: FloatArray | None,
    tube: TubeInPlenum | None,
) -> HeaderFlows:
    """Check shapes and values and return the flows."""
    shape = (header.nx, header.ny)
    extra = np.zeros(shape) if source is None else np.asarray(source, dtype=float)
    out = np.asarray(port_flow, dtype=float)
    if np.shape(open_share) != shape or extra.shape != shape:
        raise RangeError(f"plenum: open share and source must have shape {shape}")
    if out.shape != (len(header.ports),):
        raise RangeError(f"plenum: {len(header.ports)} port flows needed, got shape {out.shape}")
    if not (np.all(np.isfinite(out)) and np.all(np.isfinite(extra))):
        raise RangeError("plenum: port flows and sources must be finite")
    if not (np.all(open_share >= 0.0) and np.all(open_share <= 1.0 + FLOW_SLACK)):
        raise RangeError("plenum: open share must be 0 to 1")
    if not np.any(open_share > 0.0):
        raise RangeError("plenum: no plate is open, so nothing fixes its pressure")
    inside = out.copy()
    if tube is not None:
        inside[tube.port_index] = 0.0
    through_tube = float(out.sum() - inside.sum())
    joined = None if tube is None else tube.port_index
    return HeaderFlows(out, inside, extra, float(out.sum() - extra.sum()), through_tube, joined)


def _build(
    header: Header,
    plate: PlateLaw,
    open_share: FloatArray,
    flows: HeaderFlows,
    ports: PortMap,
    row: TubeRow | None,
    air: tuple[float, float],
) -> PlenumSystem:
    """Return the system of plate cells and tube holes."""
    dx, dy, _ = header.spacing
    is_open = open_share > 0.0
    share = np.ascontiguousarray(open_share[is_open], dtype=float)
    groups = [Group(slice(0, share.size), share * dx * dy, flows.plate)]
    if row is not None:
        end = share.size + row.hole_area.size
        groups.append(Group(slice(share.size, end), row.hole_area, flows.tube))
    net, arriving, walls = port_velocities(ports, flows.inside, header.spacing)
    net += flows.source / (dx * dy)
    arriving += np.maximum(flows.source, 0.0) / (dx * dy)
    wall = (2.0 * header.height, header.friction_factor, header.roughness, LAMINAR_GAP)
    return PlenumSystem(
        spacing=header.spacing,
        poisson=neumann_solver(header.nx, header.ny, dx, dy),
        plate=plate,
        is_open=is_open,
        open_share=share,
        fixed=(net, arriving),
        walls=walls,
        drag=wall_data(air, *wall),
        momentum=header.momentum,
        row=row,
        groups=tuple(groups),
    )


def _start(system: PlenumSystem, start: HeaderSolution | None) -> FloatArray:
    """Return velocities to begin with: even, or those of an earlier solution."""
    parts = [np.zeros(group.area.size) for group in system.groups]
    if start is not None and start.velocity.shape == system.is_open.shape:
        parts[0] = start.velocity[system.is_open]
        if len(parts) > 1 and start.tube is not None and start.tube.x.size == parts[1].size:
            parts[1] = start.tube.hole_velocity
    return np.concatenate(parts)
