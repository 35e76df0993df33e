"""Potential with solids in the box, every axis coupled.

The operator with closed faces round the solids differs from the plain box only in the cells of
air along those faces. Preconditioned by the plain box, conjugate gradients therefore never
leave these cells: residual, direction and their images live there, and one iteration is a pass
through the transforms restricted to the window that holds the solids. Only the start and the
end see the whole box.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim.chamber._cut_kernels import cut_pull
from flowsim.chamber._kernels import dense_sweep
from flowsim.chamber.cosines import workspace
from flowsim.chamber.cuts import Cuts
from flowsim.chamber.direct import BoxFactors
from flowsim.errors import ConvergenceError

__all__ = ["Window", "make_window", "solve_cut", "window_potential", "window_waves"]

_TOLERANCE = 1e-11
"""Largest net outflow of a cell over the largest prescribed face flux. [-]"""
_MOST_ITERATIONS = 400


@dataclass(frozen=True, eq=False)
class Window:
    """The part of the box round the solids, and the cut faces in it.

    Parameters
    ----------
    factors : BoxFactors
        Of the whole box.
    place : tuple of slice
        Range along the outer, elimination and z axis. [-]
    outer, upright : array, shape (o, no) and (z, nz)
        Rows of the transforms in the window. [-]
    pivots : array, shape (no, t, nz)
        Inverse pivots; the layers before and behind the window are eliminated. [-]
    cells : array of int, shape (n,)
        Cells of air along cut faces, as places in the flattened window. [-]
    flat : array of int, shape (n,)
        The same as places in the flattened grid. [-]
    air, solid, owner : array of int, shape (f,)
        Both cells of each cut face in the window; the air cell's place in ``cells``. [-]
    weight : array, shape (f,)
        Flux per potential difference. [m]
    """

    factors: BoxFactors
    place: tuple[slice, slice, slice]
    outer: FloatArray
    upright: FloatArray
    pivots: FloatArray
    cells: IntArray
    flat: IntArray
    air: IntArray
    solid: IntArray
    owner: IntArray
    weight: FloatArray

    @property
    def shape(self) -> tuple[int, int, int]:
        """Cells of the window along the outer, elimination and z axis. [-]."""
        return (self.outer.shape[0], self.pivots.shape[1], self.upright.shape[0])


@lru_cache(maxsize=8)
def make_window(cuts: Cuts, factors: BoxFactors) -> Window:
    """Return the window round the solids.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    factors : BoxFactors
        Of the box.

    Returns
    -------
    Window
        Kept for the last few masks.
    """
    air = np.concatenate([axis.air for axis in cuts.axes])
    solid = np.concatenate([axis.solid for axis in cuts.axes])
    weight = np.repeat(factors.weights, [axis.air.size for axis in cuts.axes])
    flat, owner = np.unique(air, return_inverse=True)
    no, nt, nz = factors.shape
    shape = (nt, no, nz) if factors.swapped else (no, nt, nz)
    order = (1, 0, 2) if factors.swapped else (0, 1, 2)
    spots = np.unravel_index(np.concatenate([flat, air, solid]), shape)
    ranges = [(int(spots[a].min()), int(spots[a].max()) + 1) for a in order]
    local = np.ravel_multi_index(
        tuple(spots[a] - low for a, (low, _) in zip(order, ranges, strict=True)),
        tuple(high - low for low, high in ranges),
    ).astype(np.int64)
    cells, near, far = np.split(local, [flat.size, flat.size + air.size])
    place = (slice(*ranges[0]), slice(*ranges[1]), slice(*ranges[2]))
    return Window(
        factors,
        place,
        np.ascontiguousarray(_waves(factors)[place[0]]),
        np.ascontiguousarray(factors.upright.waves[place[2]]),
        _window_pivots(factors.pivots, place[1]),
        cells,
        flat,
        near,
        far,
        owner.astype(np.int64),
        weight,
    )


def _waves(factors: BoxFactors) -> FloatArray:
    """Return the waves along the outer axis, row = cell."""
    assert factors.outer is not None
    return factors.outer.waves


def _window_pivots(pivots: FloatArray, layers: slice) -> FloatArray:
    """Return the pivots of the window: the layers behind it folded into its last one.

    The pivot of a layer seen from behind equals the mirrored one seen from the front, except
    for the constant, which is held at zero in the last layer.
    """
    inside = pivots[:, layers].copy()
    behind = pivots.shape[1] - layers.stop
    if behind > 0:
        tail = pivots[:, behind - 1].copy()
        tail[0, 0] = (behind - 1) / behind
        inside[:, -1] = 1.0 / (1.0 / inside[:, -1] - tail)
    return inside


def window_waves(window: Window, amount: FloatArray) -> FloatArray:
    """Return the transformed right-hand side of sources along the cut faces.

    Parameters
    ----------
    window : Window
        Round the solids.
    amount : array, shape (n,)
        What enters each cell along a cut face. [m3/s]

    Returns
    -------
    array, shape (no, t, nz)
        Amplitudes, not yet eliminated, over the weight of the elimination axis. [m2/s]
    """
    o, t, z = window.shape
    dense = np.zeros(o * t * z)
    dense[window.cells] = amount * (1.0 / window.factors.weight)
    hat = window.outer.T @ dense.reshape(o, t * z)
    hat = hat.reshape(-1, z) @ window.upright
    return hat.reshape(window.outer.shape[1], t, -1)


def window_potential(window: Window, hat: FloatArray) -> FloatArray:
    """Return the potential in the window from wave amplitudes.

    Parameters
    ----------
    window : Window
        Round the solids.
    hat : array, shape (no, t, nz)
        Amplitudes of the potential in the layers of the window. [m2/s]

    Returns
    -------
    array, shape (o * t * z,)
        Potential of the cells of the window. [m2/s]
    """
    no, t, nz = hat.shape
    part = hat.reshape(no * t, nz) @ window.upright.T
    return (window.outer @ part.reshape(no, -1)).reshape(-1)


def _pull(window: Window, potential: FloatArray) -> FloatArray:
    """Return what would leave each cut cell through its closed faces were they open."""
    out = np.empty(window.cells.size)
    cut_pull(potential, window.air, window.solid, window.weight, window.owner, out)
    return out


def _response(window: Window, amount: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the plain box's potential in the cut cells, and its pull, for sources there."""
    hat = window_waves(window, amount)
    dense_sweep(hat, window.pivots)
    potential = window_potential(window, hat)
    return potential[window.cells], _pull(window, potential)


def solve_cut(
    window: Window, waves: FloatArray, amount: FloatArray, scale: float
) -> tuple[FloatArray, int]:
    """Complete the potential of the plain box to the one with solids.

    Parameters
    ----------
    window : Window
        Round the solids.
    waves : array, shape (no, nt, nz)
        Amplitudes for the sources outside the cut cells; changed in place to the answer. [m2/s]
    amount : array, shape (n,)
        What the faces of solids bring into each cut cell. [m3/s]
    scale : float
        Largest prescribed face flux. [m3/s]

    Returns
    -------
    waves : array, shape (no, nt, nz)
        Amplitudes of the potential with solids. [m2/s]
    iterations : int
        Of the conjugate gradients. [-]

    Raises
    ------
    ConvergenceError
        If the divergence does not fall to the tolerance; names the worst cell.
    """
    start = window_potential(window, np.ascontiguousarray(waves[:, window.place[1]]))
    pull = _pull(window, start)
    if amount.any():
        pull += _response(window, amount)[1]
    extra, iterations = _conjugate_gradients(window, pull, _TOLERANCE * scale)
    hat = workspace("extra", waves.shape)
    hat.fill(0.0)
    hat[:, window.place[1]] = window_waves(window, amount + extra)
    dense_sweep(hat, window.factors.pivots)
    waves += hat
    return waves, iterations


def _conjugate_gradients(
    window: Window, residual: FloatArray, tolerance: float
) -> tuple[FloatArray, int]:
    """Return the sources in the cut cells that make up for the closed faces, and the count."""
    total = np.zeros_like(residual)
    potential = np.zeros_like(residual)
    source = np.zeros_like(residual)
    pull = np.zeros_like(residual)
    before = 1.0
    for iteration in range(_MOST_ITERATIONS):
        if np.abs(residual).max() <= tolerance:
            return total, iteration
        here, drawn = _response(window, residual)
        now = float(residual @ here)
        ratio = now / before if iteration else 0.0
        potential = here + ratio * potential
        source = residual + ratio * source
        pull = drawn + ratio * pull
        image = source - pull
        length = now / float(potential @ image)
        total = total + length * source
        residual = residual - length * image
        before = now
    worst = int(np.abs(residual).argmax())
    raise ConvergenceError(
        f"the flow round the solids did not converge in {_MOST_ITERATIONS} iterations; worst is "
        f"cell {int(window.flat[worst])} with a net flow of {residual[worst]:.3g} m3/s"
    )
