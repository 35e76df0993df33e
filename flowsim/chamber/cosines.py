"""Cosine transforms along the axes of a box, as matrix products on mirrored halves.

A cosine wave is even or odd about the middle of the box, so each half of the waves needs only
half of the cells: the matrix product costs half, and one pass of sums and differences puts the
halves together. Long axes go through scipy's fast transform instead.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.fft

from flowsim._arrays import FloatArray
from flowsim.chamber._kernels import unfold

__all__ = ["Cosines", "cosines", "to_cells", "workspace"]

_LONGEST_PRODUCT = 256
"""Cells along an axis up to which a matrix product beats a fast transform. [-]"""
_CHUNK = 65536
"""Values that one product handles at a time, so that they stay in the cache. [-]"""

_buffers = threading.local()


@dataclass(frozen=True, eq=False)
class Cosines:
    """Orthonormal cosine waves along one axis with closed ends.

    Parameters
    ----------
    folded : bool
        Whether even waves stand before odd ones; else waves stand in rising order. [-]
    waves : array, shape (n, n)
        Row = cell, column = wave; the first wave is the constant. [-]
    even, odd : array, shape (h, h) and (n - h, n - h), h = (n + 1) // 2
        Even waves in the cells of the first half; odd waves in the same cells without the
        middle one, counted from the middle. [-]
    eigenvalues : array, shape (n,)
        Of the closed second difference, in the order of the waves. [-]
    """

    folded: bool
    waves: FloatArray
    even: FloatArray
    odd: FloatArray
    eigenvalues: FloatArray


@lru_cache(maxsize=32)
def cosines(count: int) -> Cosines:
    """Return the cosine waves on a number of cells.

    Parameters
    ----------
    count : int
        Number of cells. [-]

    Returns
    -------
    Cosines
        Kept for later calls.
    """
    folded = count <= _LONGEST_PRODUCT
    order = np.arange(count)
    if folded:
        order = np.concatenate([order[0::2], order[1::2]])
    cell = np.arange(count) + 0.5
    waves = np.sqrt(2.0 / count) * np.cos(np.pi / count * np.outer(cell, order))
    waves[:, 0] = np.sqrt(1.0 / count)
    half = (count + 1) // 2
    odd = waves[: count - half, half:][::-1]
    eigenvalues = 4.0 * np.sin(np.pi / (2 * count) * order) ** 2
    return Cosines(
        folded, waves, np.ascontiguousarray(waves[:half, :half]), odd.copy(), eigenvalues
    )


def workspace(name: str, shape: tuple[int, ...]) -> FloatArray:
    """Return an array that is kept for the next call of the same thread.

    Parameters
    ----------
    name : str
        Who uses it. [-]
    shape : tuple of int
        Wanted shape. [-]

    Returns
    -------
    array
        Values left from earlier use.
    """
    kept = getattr(_buffers, name, None)
    size = int(np.prod(shape))
    if kept is None or kept.size != size:
        kept = np.empty(size)
        setattr(_buffers, name, kept)
    values: FloatArray = kept.reshape(shape)
    return values


def to_cells(waves: FloatArray, outer: Cosines | None, upright: Cosines) -> FloatArray:
    """Return cell values from amplitudes along the first and the last axis.

    Parameters
    ----------
    waves : array, shape (no, nt, nz)
        Amplitudes; used up as work space.
    outer : Cosines or None
        Waves along the first axis; None if its entries are cells already.
    upright : Cosines
        Waves along the last axis.

    Returns
    -------
    array, shape (no, nt, nz)
        Cell values in a work space that the next call overwrites.
    """
    no, nt, nz = waves.shape
    if not (upright.folded and (outer is None or outer.folded)):
        axes = (2,) if outer is None else (0, 2)
        return scipy.fft.idctn(_rising(waves, outer, upright), norm="ortho", axes=axes)
    out = workspace("cells", waves.shape)
    halves = waves
    if outer is not None and no > 1:
        halves = workspace("halves", waves.shape)
        _outer_halves(waves.reshape(no, nt * nz), outer, halves.reshape(no, nt * nz))
    rows = halves.reshape(no * nt, nz)
    step = max(1, _CHUNK // nz)
    half = len(upright.even)
    for start in range(0, len(rows), step):
        part = rows[start : start + step]
        put = out.reshape(no * nt, nz)[start : start + step]
        np.matmul(part[:, :half], upright.even.T, out=put[:, :half])
        np.matmul(part[:, half:], upright.odd.T, out=put[:, half:])
    unfold(out, waves, outer is not None and no > 1)
    return waves


def _outer_halves(waves: FloatArray, outer: Cosines, out: FloatArray) -> None:
    """Fill the even and odd halves along the first axis."""
    half = len(outer.even)
    np.matmul(outer.even, waves[:half], out=out[:half])
    if half < len(waves):
        np.matmul(outer.odd, waves[half:], out=out[half:])


def _rising(waves: FloatArray, outer: Cosines | None, upright: Cosines) -> FloatArray:
    """Return amplitudes with the waves of both axes in rising order."""
    for axis, kind in ((0, outer), (2, upright)):
        if kind is not None and kind.folded:
            waves = np.take(waves, np.argsort(kind.eigenvalues), axis=axis)
    return waves
