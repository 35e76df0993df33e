"""The air that passes the openings of a stacked chamber, straight from what enters and leaves.

The field is linear in its boundary fluxes. Where stations stand alone but for an even lateral
flow, the answer of the few velocities that matter to every flux is one solution for all stations
together; a round of the coupling then needs no field.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.chamber.boundary import FaceFlux
from flowsim.chamber.cuts import Cuts, cut_sources, find_cuts
from flowsim.chamber.grid import Grid
from flowsim.chamber.stations import station_potential
from flowsim.chamber.walls import WallSources, wall_sources
from flowsim.simulate.fronts import OpeningPlan
from flowsim.simulate.layout import Layout

__all__ = ["PassingAir", "passing_air"]


@dataclass(frozen=True, eq=False)
class _Given:
    """Weights of faces whose flux is prescribed.

    Parameters
    ----------
    face : array of int, shape (n,)
        Places in the flattened face array. [-]
    station : array of int, shape (n,)
        Station whose mean they enter. [-]
    weight : array, shape (n,)
        Velocity per flux. [1/m2]
    """

    face: IntArray
    station: IntArray
    weight: FloatArray

    def total(self, flux: FloatArray, count: int) -> FloatArray:
        """Return the sum of each station. [m/s]"""
        values = flux.reshape(-1)[self.face] * self.weight
        return np.asarray(np.bincount(self.station, values, count), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class _Strip:
    """What the means over one opening are made of, station by station of the whole chamber.

    Parameters
    ----------
    weight : array, shape (nx, ny, nz)
        Upward mean per flow into each cell of the same station. [1/m2]
    given_x, given_z : _Given
        Prescribed faces that enter the means along x and z directly.
    lateral : array, shape (2, 2, nx)
        Means along x and z per flow through the section before and after each station. [1/m2]
    """

    weight: FloatArray
    given_x: _Given
    given_z: _Given
    lateral: FloatArray

    def by_sections(self, passed: FloatArray) -> FloatArray:
        """Return the means that flows through sections cause, shape (2, ..., nx). [m/s]"""
        none = np.zeros((*passed.shape[:-1], 1))
        before = np.concatenate([none, passed], axis=-1)
        after = np.concatenate([passed, none], axis=-1)
        return np.stack([first * before + second * after for first, second in self.lateral])


class PassingAir:
    """Means over the height of the openings from the fluxes through the boundary.

    Parameters
    ----------
    layout : Layout
        As `passing_air` accepts it.
    """

    def __init__(self, layout: Layout) -> None:
        self.grid = layout.grid
        self.plans = layout.openings
        solid, fluid = self.grid.solid, self.grid.fluid
        self.cuts: Cuts | None = None if solid is None else find_cuts(solid, join_x=False)
        self.open_x: BoolArray = fluid[1:] & fluid[:-1]
        self.counts = np.maximum(self.open_x.sum(axis=(1, 2)), 1)
        self.strips = [self._strip(plan) for plan in self.plans]

    def _strip(self, plan: OpeningPlan) -> _Strip:
        """Return what the means over one opening are made of."""
        grid = self.grid
        rows, cells = _cell_weights(grid, plan)
        air = grid.fluid[:, rows]
        upward = np.zeros((grid.nx, len(rows), grid.nz + 1))
        upward[:, :, :-1] = cells
        upward[:, :, 1:] += cells
        upward *= 0.5 / grid.face_areas[2]
        joined = air[:, :, 1:] & air[:, :, :-1]
        pull = np.where(joined, upward[:, :, 1:-1], 0.0) * (grid.face_areas[2] / grid.dz)
        drawn = np.zeros(grid.shape)
        drawn[:, rows, :-1] += pull
        drawn[:, rows, 1:] -= pull
        upward[:, :, 1:-1][joined] = 0.0
        weight = station_potential(grid, drawn)
        return _Strip(
            weight,
            self._x_given(rows, cells),
            _z_given(grid, rows, upward),
            np.stack([self._along(rows, cells), self._from_potential(weight)]),
        )

    def _x_given(self, rows: IntArray, cells: FloatArray) -> _Given:
        """Return the prescribed faces normal to x that enter the means."""
        nx, ny, nz = self.grid.shape
        shut = np.ones((nx + 1, len(rows), nz), dtype=np.bool_)
        shut[1:-1] = ~self.open_x[:, rows]
        half = 0.5 / self.grid.face_areas[0]
        parts = []
        for side, near in enumerate((shut[:-1], shut[1:])):
            i, j, k = place = np.nonzero(np.where(near, cells, 0.0))
            parts.append((((i + side) * ny + rows[j]) * nz + k, i, half * cells[place]))
        face, station, weight = (np.concatenate(group) for group in zip(*parts, strict=True))
        return _Given(face, station, weight)

    def _along(self, rows: IntArray, cells: FloatArray) -> FloatArray:
        """Return the means along x per flow through the sections beside each station. [1/m2]"""
        out, near = np.zeros((2, self.grid.nx)), self.open_x[:, rows]
        half = 0.5 / self.grid.face_areas[0] / self.counts
        out[0, 1:] = half * np.where(near, cells[1:], 0.0).sum(axis=(1, 2))
        out[1, :-1] = half * np.where(near, cells[:-1], 0.0).sum(axis=(1, 2))
        return out

    def _from_potential(self, weight: FloatArray) -> FloatArray:
        """Return the upward means per flow through the sections beside each station. [1/m2]"""
        out, near = np.zeros((2, self.grid.nx)), self.open_x.astype(np.float64)
        out[0, 1:] = np.einsum("ijk,ijk->i", near, weight[1:]) / self.counts
        out[1, :-1] = -np.einsum("ijk,ijk->i", near, weight[:-1]) / self.counts
        return out

    def _per_station(self, inner: FloatArray) -> FloatArray:
        """Return the sum of each station of amounts per cut face."""
        assert self.cuts is not None
        air = np.concatenate([axis.air for axis in self.cuts.axes])
        station = air // (self.grid.ny * self.grid.nz)
        return np.asarray(np.bincount(station, inner, self.grid.nx), dtype=np.float64)

    def _inner(self, weight: FloatArray, inner: FloatArray) -> FloatArray:
        """Return the means that flows through cut faces cause. [m/s]"""
        assert self.cuts is not None
        air = np.concatenate([axis.air for axis in self.cuts.axes])
        return self._per_station(inner * weight.reshape(-1)[air])

    def means(self, boundary: FaceFlux) -> list[FloatArray]:
        """Return the mean tangential velocity over the height of each opening.

        Parameters
        ----------
        boundary : FaceFlux
            What passes the boundary. [m3/s]

        Returns
        -------
        list of array, shape (2, n)
            Components along x and z at each station, one array per opening. [m/s]
        """
        walls = wall_sources(boundary)
        gain, inner = walls.per_station(), np.zeros(0)
        if self.cuts is not None:
            inner = cut_sources(self.cuts, boundary)
            gain = gain + self._per_station(inner)
        passed = np.cumsum(gain - gain.sum() / gain.size)[:-1]
        found = []
        for strip, plan in zip(self.strips, self.plans, strict=True):
            means = strip.by_sections(passed)
            means[0] += strip.given_x.total(boundary.x, self.grid.nx)
            means[1] += strip.given_z.total(boundary.z, self.grid.nx)
            means[1] += _walls(strip.weight, walls)
            if self.cuts is not None:
                means[1] += self._inner(strip.weight, inner)
            found.append(means[:, plan.stations])
        return found

    def response(self, share: FloatArray) -> list[list[FloatArray]]:
        """Return the means that a unit outflow of each single station causes.

        Parameters
        ----------
        share : array, shape (nx, ny)
            Share of the supply per ceiling face, through which the unit flow comes in. [-]

        Returns
        -------
        list of list of array, shape (2, n of the answering, n of the blowing opening)
            By answering and blowing opening. [m/s per m3/s]
        """
        return [
            [self._answer(strip, plan, blowing, share) for blowing in self.plans]
            for strip, plan in zip(self.strips, self.plans, strict=True)
        ]

    def _answer(
        self, strip: _Strip, plan: OpeningPlan, blowing: OpeningPlan, share: FloatArray
    ) -> FloatArray:
        """Return the answer of one opening to the stations of another, shape (2, n, m)."""
        rows = blowing.face_area[blowing.stations]
        rows = rows / rows.sum(axis=1, keepdims=True)
        gain = np.tile(share.sum(axis=1), (len(rows), 1))
        order = np.arange(len(rows))
        gain[order, blowing.stations] -= 1.0
        means = strip.by_sections(np.cumsum(gain, axis=1)[:, :-1])
        means[1] += (strip.weight[:, :, -1] * share).sum(axis=1)
        rain = np.zeros((*share.shape, self.grid.nz + 1))
        rain[:, :, -1] = -share
        means[1] += strip.given_z.total(rain, self.grid.nx)
        side = 0 if blowing.opening.wall == "front" else -1
        own = (strip.weight[blowing.stations, side] * rows).sum(axis=1)
        means[1][order, blowing.stations] -= own
        answer: FloatArray = means[:, :, plan.stations].transpose(0, 2, 1)
        return answer


def _cell_weights(grid: Grid, plan: OpeningPlan) -> tuple[IntArray, FloatArray]:
    """Return the rows of cells next to the wall, and the share of each cell in its mean. [-]

    As `flowsim.chamber.velocity.wall_tangential` continues two layers to the wall.
    """
    front = plan.opening.wall == "front"
    rows: IntArray = np.array([0, 1] if front else [grid.ny - 1, grid.ny - 2])[: grid.ny]
    weights = np.zeros((grid.nx, len(rows), grid.nz))
    part = plan.face_area[np.ix_(plan.stations, plan.layers)]
    shares = part / part.sum(axis=1, keepdims=True)
    weights[np.ix_(plan.stations, np.array([0]), plan.layers)] = shares[:, None]
    if len(rows) > 1:
        far = np.where(grid.fluid[:, rows[1]], 0.5 * weights[:, 0], 0.0)
        weights[:, 0] += far
        weights[:, 1] = -far
    return rows, weights


def _z_given(grid: Grid, rows: IntArray, upward: FloatArray) -> _Given:
    """Return the prescribed faces normal to z from what their flux counts, 0 for others."""
    i, j, k = place = np.nonzero(upward)
    return _Given((i * grid.ny + rows[j]) * (grid.nz + 1) + k, i, upward[place])


def _walls(weight: FloatArray, walls: WallSources) -> FloatArray:
    """Return the means that what enters along the walls causes. [m/s]"""
    means: FloatArray = (weight[:, 0] * walls.y[0] + weight[:, -1] * walls.y[1]).sum(axis=1)
    means += (weight[:, :, 0] * walls.z[0] + weight[:, :, -1] * walls.z[1]).sum(axis=1)
    means[0] += float((weight[0] * walls.x[0]).sum())
    means[-1] += float((weight[-1] * walls.x[1]).sum())
    return means


def passing_air(layout: Layout) -> PassingAir | None:
    """Return the air passing the openings of a case as a linear answer to its boundary.

    Parameters
    ----------
    layout : Layout
        Geometry.

    Returns
    -------
    PassingAir or None
        None where the closure is not "stacked", an opening is not in the front or the back wall,
        or a solid stands right behind a station of one: there the field itself is needed.
    """
    if layout.case.numerics.fidelity != "stacked" or not layout.openings:
        return None
    for plan in layout.openings:
        if plan.opening.wall not in ("front", "back"):
            return None
        near = layout.grid.fluid[:, 0 if plan.opening.wall == "front" else -1]
        if not near[np.ix_(plan.stations, plan.layers)].all():
            return None
    return PassingAir(layout)
