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
from typing import Any

import numpy as np
from numpy.typing import NDArray

from flowsim._arrays import FloatArray, IntArray
from flowsim.chamber._cut_kernels import cut_pull, gradient_step
from flowsim.chamber._kernels import dense_sweep
from flowsim.chamber.cosines import CHUNK, workspace
from flowsim.chamber.cuts import Cuts
from flowsim.chamber.direct import BoxFactors
from flowsim.errors import ConvergenceError

__all__ = ["Transforms", "Window", "make_window", "solve_cut"]

_TOLERANCE = 1e-11
"""Largest net outflow of a cell over the largest prescribed face flux. [-]"""
_SINGLE_GAIN = 2e-6
"""Reduction of the residual that conjugate gradients in single precision are asked for. [-]"""
_MOST_ITERATIONS = 60
_MOST_CYCLES = 12

SingleArray = NDArray[np.float32]
Values = Any
"""An array of either precision; both of one call agree."""


@dataclass(frozen=True, eq=False)
class Transforms:
    """The plain box as seen from the window, in one precision.

    Parameters
    ----------
    outer, upright : array, shape (o, no) and (z, nz)
        Rows of the waves in the window. [-]
    outer_rows, upright_rows : array, shape (no, o) and (nz, z)
        Their transposes, in C order. [-]
    inverse_weight : float
        One over the flux per potential difference along the elimination axis. [1/m]
    pivots : array, shape (no, t, nz)
        Inverse pivots; the layers before and behind the window are eliminated. [-]
    weight : array, shape (f,)
        Flux per potential difference of each cut face. [m]
    """

    outer: Values
    upright: Values
    outer_rows: Values
    upright_rows: Values
    inverse_weight: float
    pivots: Values
    weight: Values

    def single(self) -> Transforms:
        """Return the same in single precision."""
        arrays = (self.outer, self.upright, self.outer_rows, self.upright_rows)
        outer, upright, outer_rows, upright_rows = (a.astype(np.float32) for a in arrays)
        pivots, weight = self.pivots.astype(np.float32), self.weight.astype(np.float32)
        return Transforms(
            outer, upright, outer_rows, upright_rows, self.inverse_weight, pivots, weight
        )


@dataclass(frozen=True, eq=False)
class Window:
    """The part of the box round the solids, and the cut faces in it.

    Parameters
    ----------
    factors : BoxFactors
        Of the whole box.
    layers : slice
        Range along the elimination axis. [-]
    double, single : Transforms
        The plain box in both precisions.
    cells : array of int, shape (n,)
        Cells of air along cut faces, as places in the flattened window. [-]
    flat : array of int, shape (n,)
        The same as places in the flattened grid. [-]
    air, solid, owner : array of int, shape (f,)
        Both cells of each cut face in the window; the air cell's place in ``cells``. [-]
    """

    factors: BoxFactors
    layers: slice
    double: Transforms
    single: Transforms
    cells: IntArray
    flat: IntArray
    air: IntArray
    solid: IntArray
    owner: IntArray


@lru_cache(maxsize=8)
def make_window(cuts: Cuts, factors: BoxFactors) -> Window:
    """Return the window round the solids.

    Parameters
    ----------
    cuts : Cuts
        Of the mask. [-]
    factors : BoxFactors
        Of the box, its outer axis transformed.

    Returns
    -------
    Window
        Kept for the last few masks.
    """
    assert factors.outer is not None
    air = np.concatenate([axis.air for axis in cuts.axes])
    solid = np.concatenate([axis.solid for axis in cuts.axes])
    flat, owner = np.unique(air, return_inverse=True)
    no, nt, nz = factors.shape
    shape = (nt, no, nz) if factors.swapped else (no, nt, nz)
    order = (1, 0, 2) if factors.swapped else (0, 1, 2)
    spots = np.unravel_index(np.concatenate([flat, air, solid]), shape)
    ranges = [slice(int(spots[a].min()), int(spots[a].max()) + 1) for a in order]
    local = np.ravel_multi_index(
        tuple(spots[a] - part.start for a, part in zip(order, ranges, strict=True)),
        tuple(part.stop - part.start for part in ranges),
    )
    cells, near, far = np.split(local.astype(np.int64), [flat.size, flat.size + air.size])
    outer, upright = factors.outer.waves[ranges[0]], factors.upright.waves[ranges[2]]
    double = Transforms(
        np.ascontiguousarray(outer),
        np.ascontiguousarray(upright),
        outer.T.copy(),
        upright.T.copy(),
        1.0 / factors.weight,
        _window_pivots(factors.pivots, ranges[1]),
        np.repeat(factors.weights, [axis.air.size for axis in cuts.axes]),
    )
    owner = owner.astype(np.int64)
    return Window(factors, ranges[1], double, double.single(), cells, flat, near, far, owner)


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


def _spread(window: Window, kind: Transforms, amount: Values) -> Values:
    """Return sources in the cut cells transformed along the outer axis, (no, t * z)."""
    t, z = kind.pivots.shape[1], kind.upright.shape[0]
    dense = np.zeros((kind.outer.shape[0], t * z), dtype=amount.dtype)
    dense.reshape(-1)[window.cells] = amount
    return kind.outer_rows @ dense


def _to_waves(window: Window, kind: Transforms, amount: Values) -> Values:
    """Return the transformed right-hand side of sources in the cut cells, (no, t, nz)."""
    rows = _spread(window, kind, amount).reshape(-1, kind.upright.shape[0])
    return (rows @ kind.upright).reshape(kind.pivots.shape)


def _to_window(kind: Transforms, waves: Values) -> Values:
    """Return the potential of the cells of the window, flattened."""
    no, t, nz = waves.shape
    part = waves.reshape(no * t, nz) @ kind.upright_rows
    return (kind.outer @ part.reshape(no, -1)).reshape(-1)


def _pull(window: Window, kind: Transforms, potential: Values) -> Values:
    """Return what would leave each cut cell through its closed faces were they open."""
    out = np.empty(window.cells.size, dtype=potential.dtype)
    cut_pull(potential, window.air, window.solid, kind.weight, window.owner, out)
    return out


def _plain_potential(window: Window, kind: Transforms, amount: Values) -> Values:
    """Return the plain box's potential in the window for sources in the cut cells."""
    no, t, nz = kind.pivots.shape
    rows = _spread(window, kind, amount * amount.dtype.type(kind.inverse_weight))
    rows = rows.reshape(no, t, -1)
    step = max(1, CHUNK // (t * nz))
    waves = np.empty((step * t, nz), dtype=amount.dtype)
    for start in range(0, no, step):
        part = rows[start : start + step].reshape(-1, rows.shape[2])
        some = waves[: len(part)]
        np.matmul(part, kind.upright, out=some)
        dense_sweep(some.reshape(-1, t, nz), kind.pivots[start : start + step])
        np.matmul(some, kind.upright_rows, out=part)
    return (kind.outer @ rows.reshape(no, -1)).reshape(-1)


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
    double = window.double
    residual = _pull(window, double, _to_window(double, waves[:, window.layers].copy()))
    if amount.any():
        residual += _pull(window, double, _plain_potential(window, double, amount))
    extra, iterations = _closing_sources(window, residual, _TOLERANCE * scale)
    hat = workspace("extra", waves.shape)
    hat.fill(0.0)
    total = (amount + extra) * double.inverse_weight
    hat[:, window.layers] = _to_waves(window, double, total)
    dense_sweep(hat, window.factors.pivots)
    waves += hat
    return waves, iterations


def _closing_sources(
    window: Window, residual: FloatArray, tolerance: float
) -> tuple[FloatArray, int]:
    """Return the sources in the cut cells that make up for the closed faces, and the count.

    Conjugate gradients run in single precision on what is left; the sum and what is left of it
    are kept in double precision.
    """
    total = np.zeros_like(residual)
    iterations = 0
    for _ in range(_MOST_CYCLES):
        worst = float(np.abs(residual).max())
        if worst <= tolerance:
            return total, iterations
        wanted = max(tolerance / worst, _SINGLE_GAIN)
        step, count = _conjugate_gradients(window, (residual / worst).astype(np.float32), wanted)
        more = step.astype(np.float64) * worst
        total += more
        values = _plain_potential(window, window.double, more)
        residual = residual - more + _pull(window, window.double, values)
        iterations += count
    cell = int(np.abs(residual).argmax())
    raise ConvergenceError(
        f"the flow round the solids did not converge in {iterations} iterations; worst is cell "
        f"{int(window.flat[cell])} with a net flow of {residual[cell]:.3g} m3/s"
    )


def _conjugate_gradients(
    window: Window, residual: SingleArray, wanted: float
) -> tuple[SingleArray, int]:
    """Return the sources that bring a residual of size 1 down to the wanted one, and the count."""
    state: Values = np.zeros((6, residual.size), dtype=np.float32)
    state[0] = residual
    faces = (window.air, window.solid, window.owner)
    product, worst, count = 0.0, 1.0, 0
    while worst > wanted and count < _MOST_ITERATIONS:
        values = _plain_potential(window, window.single, state[0])
        product, worst = gradient_step(
            values, window.cells, faces, window.single.weight, state, product
        )
        count += 1
    return state[1], count
