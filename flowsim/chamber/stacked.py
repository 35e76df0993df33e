"""Quasi-3D potential: every x station a y-z section, joined by an even lateral flow."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.cuts import Cuts, cell_sources, cut_sources, find_cuts, region_imbalance
from flowsim.chamber.direct import BoxFactors, cells_to_waves, waves_to_cells
from flowsim.chamber.grid import Grid
from flowsim.chamber.walls import WallSources
from flowsim.errors import RangeError

__all__ = ["solve_stacked_solids"]

_IMBALANCE = 1e-10
"""Net inflow over the sum of all fluxes that passes for round-off. [-]"""


def solve_stacked_solids(
    grid: Grid, factors: BoxFactors, walls: WallSources, boundary: FaceFlux
) -> tuple[FloatArray, FloatArray]:
    """Return the potential and the lateral face flux of stations with solids.

    Parameters
    ----------
    grid : Grid
        The cells, with a mask. [-]
    factors : BoxFactors
        Of this box, not coupled.
    walls : WallSources
        What enters along the walls. [m3/s]
    boundary : FaceFlux
        Prescribed fluxes, for the faces of solids. [m3/s]

    Returns
    -------
    waves : array, shape (nx, ny, nz)
        Amplitudes along z of the potential, free up to a constant per region. [m2/s]
    lateral : array, shape (nx - 1, ny, nz)
        Flux through the faces between two stations, zero where a solid closes them. [m3/s]

    Raises
    ------
    RangeError
        If a section is cut into pieces that an even lateral flow cannot balance.
    """
    assert grid.solid is not None
    cuts = find_cuts(grid.solid, join_x=False)
    sources = walls.in_cells()
    sources += cell_sources(cuts, cut_sources(cuts, boundary)).reshape(grid.shape)
    lateral = _lateral(grid, sources)
    sources[:-1] -= lateral
    sources[1:] += lateral
    _balance_regions(grid, cuts, sources)
    potential = waves_to_cells(factors, cells_to_waves(factors, sources))
    for group in _groups(grid.solid):
        section = _section(factors, grid.solid[group[0]].tobytes(), (grid.ny, grid.nz))
        pull = section.pull(potential[group].reshape(len(group), -1))
        extra = pull @ section.inverse.T
        sources.reshape(grid.nx, -1)[np.ix_(group, section.cells)] += extra
    return cells_to_waves(factors, sources), lateral


def _lateral(grid: Grid, sources: FloatArray) -> FloatArray:
    """Return the even flux of the open faces between stations, shape (nx - 1, ny, nz)."""
    fluid = grid.fluid
    open_faces = fluid[1:] & fluid[:-1]
    gain = sources.sum(axis=(1, 2))
    passed = np.cumsum(gain - gain.sum() / grid.nx)[:-1]
    count = open_faces.sum(axis=(1, 2))
    stuck = (count == 0) & (np.abs(passed) > _IMBALANCE * np.abs(sources).sum())
    if stuck.any():
        station = int(np.flatnonzero(stuck)[0])
        raise RangeError(
            f"a solid fills the section at x = {(station + 1) * grid.dx:.4g} m, and the two sides "
            "do not balance: no air can pass"
        )
    even: FloatArray = passed / np.maximum(count, 1)
    return np.where(open_faces, even[:, np.newaxis, np.newaxis], 0.0)


def _balance_regions(grid: Grid, cuts: Cuts, sources: FloatArray) -> None:
    """Refuse regions that do not balance; take round-off out of the others, in place."""
    flat = sources.reshape(-1)
    net, _, cells = region_imbalance(cuts, flat)
    wrong = np.abs(net) > _IMBALANCE * np.abs(flat).sum()
    if wrong.any():
        region = int(np.flatnonzero(wrong)[0])
        station = int(np.flatnonzero(cuts.labels == region + 1)[0]) // (grid.ny * grid.nz)
        raise RangeError(
            f"solids cut the section at x = {grid.centres[0][station]:.4g} m into pieces, and an "
            f"even flow along x leaves {net[region]:.3g} m3/s over in one of them; use fidelity "
            '"volume"'
        )
    flat -= np.concatenate(([0.0], net / cells))[cuts.labels]


def _groups(solid: BoolArray) -> list[IntArray]:
    """Return the stations that have equal masks, without those that have no solid."""
    found: dict[bytes, list[int]] = {}
    for station in np.flatnonzero(solid.any(axis=(1, 2))):
        found.setdefault(solid[station].tobytes(), []).append(int(station))
    return [np.array(stations, dtype=np.int64) for stations in found.values()]


@dataclass(frozen=True, eq=False)
class _Section:
    """Cut faces of one mask and the answer to them.

    ``cells`` are the air cells along cut faces; ``inverse`` gives the sources in them that make
    up for the closed faces, from what would be pulled through were they open.
    """

    cells: IntArray
    air: IntArray
    solid: IntArray
    weight: FloatArray
    gather: FloatArray
    inverse: FloatArray

    def pull(self, potential: FloatArray) -> FloatArray:
        """Return the flow through open cut faces, shape (stations, cells)."""
        return _pull(potential, self.air, self.solid, self.weight) @ self.gather


def _pull(potential: FloatArray, air: IntArray, solid: IntArray, weight: FloatArray) -> FloatArray:
    """Return the flow from air to solid through each cut face, shape (stations, faces)."""
    return (potential[:, air] - potential[:, solid]) * weight


@lru_cache(maxsize=64)
def _section(factors: BoxFactors, mask: bytes, shape: tuple[int, int]) -> _Section:
    """Prepare the stations of one mask."""
    solid = np.frombuffer(mask, dtype=np.bool_).reshape(1, *shape)
    cuts = find_cuts(solid)
    upright = factors.weights[2]
    _, y, z = cuts.axes
    air, inner = np.concatenate([y.air, z.air]), np.concatenate([y.solid, z.solid])
    weight = np.repeat([factors.weight, upright], [y.air.size, z.air.size])
    cells, owner = np.unique(air, return_inverse=True)
    gather = np.zeros((air.size, cells.size))
    gather[np.arange(air.size), owner] = 1.0
    unit = np.zeros((cells.size, *shape))
    unit.reshape(cells.size, -1)[np.arange(cells.size), cells] = 1.0
    response = waves_to_cells(factors, cells_to_waves(factors, unit))
    pull = _pull(response.reshape(cells.size, -1), air, inner, weight) @ gather
    matrix = np.eye(cells.size) - pull.T
    inverse = _inverse(matrix, cuts.regions == 1)
    return _Section(cells, air, inner, weight, gather, inverse)


def _inverse(matrix: FloatArray, regular: bool) -> FloatArray:
    """Return the inverse, or for several regions, whose levels are free, the pseudo-inverse."""
    inverse = np.linalg.inv(matrix) if regular else np.linalg.pinv(matrix, rcond=1e-10)
    return inverse.astype(np.float64)
