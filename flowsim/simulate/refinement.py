"""What the size of the cells does to the draw of the plate."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.grid import overlap
from flowsim.plenum.header import solve_header
from flowsim.plenum.solution import HeaderSolution
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.plena import plenum_flows, tube_in_plenum
from flowsim.simulate.statistics import relative_deviation

__all__ = ["LEAST_CELLS", "draw_figures", "draw_refinement"]

ACCURACY = 1e-8  # of the coarse grid's solution: of a difference that is an estimate itself
LEAST_CELLS = 8  # along a side, below which a grid shows nothing


def draw_figures(velocity: FloatArray, share: FloatArray) -> tuple[float | None, float | None]:
    """Return draw ratio and relative deviation of a plate.

    Parameters
    ----------
    velocity : array, shape (nx, ny)
        Face velocity over the open share. [m/s]
    share : array, shape (nx, ny)
        Open share of each cell. [-]

    Returns
    -------
    ratio : float or None
        Largest over smallest station mean along x; None where a station reverses. [-]
    deviation : float or None
        Standard deviation over the mean, weighted by open area. [-]
    """
    weight = share.sum(axis=1)
    drawn = weight > 0.0
    if not drawn.any() or not np.any(velocity[share > 0.0]):
        return None, None
    stations = (velocity * share).sum(axis=1)[drawn] / weight[drawn]
    ratio = float(stations.max() / stations.min()) if stations.min() > 0.0 else None
    opened = share > 0.0
    if float((velocity * share).sum()) == 0.0:
        return ratio, None
    return ratio, relative_deviation(velocity[opened], share[opened])


def _merged(values: FloatArray, shape: tuple[int, int]) -> FloatArray:
    """Return amounts per cell on a coarser grid of the same rectangle; totals stay."""
    weights = []
    for fine, coarse in zip(values.shape, shape, strict=True):
        edges = np.linspace(0.0, float(fine), coarse + 1)
        cells = np.arange(fine + 1, dtype=np.float64)
        weights.append(np.stack([overlap(cells, *pair) for pair in pairwise(edges)]))
    merged: FloatArray = weights[0] @ values @ weights[1].T
    return merged


def _coarse(state: Coupled) -> tuple[HeaderSolution, FloatArray] | None:
    """Return the plenum solved on cells twice as long and wide, and its open shares."""
    layout = state.layout
    header, plate = layout.header, layout.plate
    if header is None or plate is None or min(header.nx, header.ny) < LEAST_CELLS:
        return None
    shape = (header.nx // 2, header.ny // 2)
    cells = header.nx * header.ny / (shape[0] * shape[1])
    flows, source = plenum_flows(layout, state.solution)
    share = _merged(layout.open_share, shape) / cells
    half = replace(header, nx=shape[0], ny=shape[1])
    air = (layout.chamber_air.density, layout.chamber_air.viscosity)
    tube = tube_in_plenum(layout)
    start = _start(state, share, cells)
    extra = _merged(source, shape)
    found = solve_header(half, plate, share, flows, air, extra, tube, start, ACCURACY)
    return found, share


def _start(state: Coupled, share: FloatArray, cells: float) -> HeaderSolution | None:
    """Return the velocities of the fine grid, for the coarse one to begin with."""
    if state.header is None:
        return None
    passed = _merged(state.header.velocity * state.layout.open_share, share.shape) / cells
    velocity = np.divide(passed, share, out=np.zeros_like(passed), where=share > 0.0)
    return replace(state.header, velocity=velocity)


def draw_refinement(state: Coupled) -> tuple[float, float] | None:
    """Return how far draw ratio and deviation move when the cells are made twice as large.

    Parameters
    ----------
    state : Coupled
        Solved models.

    Returns
    -------
    tuple of float or None
        Change of the draw ratio and of the relative deviation, both >= 0 [-]; None without a
        plenum's field or on a grid too coarse to show anything.

    Notes
    -----
    The edge of a port makes the draw converge about in proportion to the size of the cells, so
    that this change is also about what is still missing (own estimate).
    """
    coarse = _coarse(state)
    if coarse is None or state.header is None:
        return None
    fine = draw_figures(state.header.velocity, state.layout.open_share)
    rough = draw_figures(coarse[0].velocity, coarse[1])
    changes = [
        abs(a - b) if a is not None and b is not None else 0.0
        for a, b in zip(fine, rough, strict=True)
    ]
    return changes[0], changes[1]
