"""The box above the filter and the tube in the plenum, as models."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.grid import overlap
from flowsim.network.solve import NetworkSolution
from flowsim.plenum.header import Header, HeaderPort
from flowsim.plenum.solution import HeaderSolution
from flowsim.plenum.tube import Tube, TubeInPlenum
from flowsim.simulate.assemble import port_names, tube_discharge, tube_hole_area, tube_port
from flowsim.simulate.fronts import fluid_faces
from flowsim.simulate.layout import Layout, actual, centred

__all__ = ["box_share", "filter_header", "plenum_flows", "tube_in_plenum"]


def filter_header(layout: Layout) -> Header | None:
    """Return the box above the supply filter."""
    supply = layout.case.supply
    if supply is None or supply.box is None or layout.case.numerics.fidelity == "network":
        return None
    box = supply.box
    x0, x1, y0, y1 = layout.filter_patch
    width, depth = x1 - x0, y1 - y0
    nx, ny, _ = layout.case.numerics.cells
    if box.inlet_wall == "ceiling":
        left = centred(box.inlet_offset, box.inlet_width, width)
        front = centred(None, box.inlet_height, depth)
        port = HeaderPort(
            "bottom", (left, front), (left + box.inlet_width, front + box.inlet_height)
        )
    else:
        along = depth if box.inlet_wall in ("left", "right") else width
        start = centred(box.inlet_offset, box.inlet_width, along)
        port = HeaderPort(box.inlet_wall, start, start + box.inlet_width)
    return Header(width, depth, box.height, nx, ny, (port,))


def tube_in_plenum(layout: Layout) -> TubeInPlenum | None:
    """Return the distributor tube."""
    part = layout.case.distributor
    if part is None:
        return None
    area = 0.25 * np.pi * part.diameter**2
    tube = Tube(
        part.length,
        area,
        part.diameter,
        tube_hole_area(part),
        tube_discharge(part),
        None,
        part.roughness,
    )
    assert layout.case.plenum is not None
    index = tube_port(layout)
    width, depth = layout.case.chamber.width, layout.case.chamber.depth
    row = 0.5 * depth if part.offset_y is None else part.offset_y
    if layout.case.plenum.ports[index].wall == "left":
        return TubeInPlenum(tube, index, row, 0.0, part.length)
    return TubeInPlenum(tube, index, row, width - part.length, width)


def box_share(layout: Layout, header: Header | None, box: HeaderSolution) -> FloatArray:
    """Return the share of the supply per ceiling face under a box that blows unevenly. [-]"""
    assert header is not None
    x0, x1, y0, y1 = layout.filter_patch
    grid = layout.grid
    x_edges = np.linspace(x0, x1, header.nx + 1)
    y_edges = np.linspace(y0, y1, header.ny + 1)
    across = np.array([overlap(grid.edges[0], *pair) for pair in pairwise(x_edges)])
    along = np.array([overlap(grid.edges[1], *pair) for pair in pairwise(y_edges)])
    share = across.T @ (-box.velocity) @ along * fluid_faces(grid, "ceiling")
    result: FloatArray = share / share.sum()
    return result


def plenum_flows(layout: Layout, solution: NetworkSolution) -> tuple[FloatArray, FloatArray]:
    """Return the flow out of each port and the further flow into each cell of the plenum.

    Parameters
    ----------
    layout : Layout
        Geometry.
    solution : NetworkSolution
        The network's flows. [m3/s]

    Returns
    -------
    ports : array, shape (number of ports,)
        As chamber air. [m3/s]
    source : array, shape (nx, ny)
        From under the compartments, less what leaks out. [m3/s]
    """
    source = np.zeros_like(layout.open_share)
    for place in layout.footprints:
        name = f"plate under {place.compartment.label}"
        flow = actual(layout, solution.flows.get(name, 0.0))
        source += flow * place.plan_area / place.plan_area.sum()
    leaks = [leak.label for leak in layout.case.leaks if leak.at == "plenum"]
    leaked = sum(actual(layout, solution.flows[f"leak {label}"]) for label in leaks)
    source -= leaked / source.size
    flows = np.array([actual(layout, solution.flows[name]) for name in port_names(layout)])
    return flows, source
