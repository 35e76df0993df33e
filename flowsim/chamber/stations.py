"""Potential of stations that stand alone, for what enters any of their cells."""

from __future__ import annotations

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.direct import box_factors, cells_to_waves, waves_to_cells
from flowsim.chamber.grid import Grid
from flowsim.chamber.stacked import _groups, _section

__all__ = ["station_potential"]


def station_potential(grid: Grid, sources: FloatArray) -> FloatArray:
    """Return the potential of each x station by itself, its walls and solids shut.

    Parameters
    ----------
    grid : Grid
        The cells. [-]
    sources : array, shape (nx, ny, nz)
        What enters each cell, 0 in solids, in every region of a station as much as leaves it.
        [m3/s]

    Returns
    -------
    array, shape (nx, ny, nz)
        Potential, free up to a constant per region; without meaning in solids. [m2/s]

    Notes
    -----
    The matrix of a station is symmetric: the sum of one answer times other sources is the sum of
    their answer times the first ones, which makes this the weight of every source for whatever is
    linear in the potential.
    """
    area, step = grid.face_areas, grid.spacing
    weights = (0.0, area[1] / step[1], area[2] / step[2])
    factors = box_factors(grid.shape, weights, False)
    potential = waves_to_cells(factors, cells_to_waves(factors, sources))
    if grid.solid is None:
        return potential
    made_up = sources.copy()
    for group in _groups(grid.solid):
        section = _section(factors, grid.solid[group[0]].tobytes(), (grid.ny, grid.nz))
        pull = section.pull(potential[group].reshape(len(group), -1))
        made_up.reshape(grid.nx, -1)[np.ix_(group, section.cells)] += pull @ section.inverse.T
    return waves_to_cells(factors, cells_to_waves(factors, made_up))
