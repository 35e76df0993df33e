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

__all__ = [
    "CHUNK",
    "Cosines",
    "cosines",
    "fast_cells",
    "mirror_sums",
    "outer_halves",
    "workspace",
    "z_halves",
]

_LONGEST_PRODUCT = 256
"""Cells along an axis up to which a matrix product beats a fast transform. [-]"""
CHUNK = 36000
"""Values that one product handles at a time, so that they stay in the cache. [-]"""

_buffers = threading.local()


@dataclass(frozen=True, eq=False)
class Cosines:
    """Orthonormal cosine waves along one axis with closed ends.

    Parameters
    ----------
    product : bool
        Whether a matrix product is the fast way to transform. [-]
    waves : array, shape (n, n)
        Row = cell, column = wave; even waves first, then odd ones; the first is constant. [-]
    even, odd : array, shape (h, h) and (n - h, n - h), h = (n + 1) // 2
        Even waves in the cells of the first half; odd waves in the same cells without the
        middle one, counted from the middle. [-]
    even_rows, odd_rows : array
        Their transposes, in C order. [-]
    eigenvalues : array, shape (n,)
        Of the closed second difference, in the order of the waves. [-]
    """

    product: bool
    waves: FloatArray
    even: FloatArray
    odd: FloatArray
    even_rows: FloatArray
    odd_rows: FloatArray
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
    order = np.concatenate([np.arange(0, count, 2), np.arange(1, count, 2)])
    cell = np.arange(count) + 0.5
    waves = np.sqrt(2.0 / count) * np.cos(np.pi / count * np.outer(cell, order))
    waves[:, 0] = np.sqrt(1.0 / count)
    half = (count + 1) // 2
    even = np.ascontiguousarray(waves[:half, :half])
    odd = np.ascontiguousarray(waves[: count - half, half:][::-1])
    eigenvalues = 4.0 * np.sin(np.pi / (2 * count) * order) ** 2
    product = count <= _LONGEST_PRODUCT
    return Cosines(product, waves, even, odd, even.T.copy(), odd.T.copy(), eigenvalues)


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


def z_halves(waves: FloatArray, upright: Cosines, out: FloatArray) -> None:
    """Fill the even and odd parts along z.

    Parameters
    ----------
    waves : array, shape (n, nt, nz)
        Amplitudes along z. [m2/s]
    upright : Cosines
        Waves along z.
    out : array, shape (n, nt, nz)
        Filled with the parts, as `unfold_plane` takes them. [m2/s]
    """
    nz = waves.shape[-1]
    rows, put = waves.reshape(-1, nz), out.reshape(-1, nz)
    half = len(upright.even)
    step = max(1, CHUNK // nz)
    for start in range(0, len(rows), step):
        part = slice(start, start + step)
        np.matmul(rows[part, :half], upright.even_rows, out=put[part, :half])
        if nz > 1:
            np.matmul(rows[part, half:], upright.odd_rows, out=put[part, half:])


def outer_halves(waves: FloatArray, outer: Cosines, out: FloatArray) -> None:
    """Fill the even and odd parts along the first axis.

    Parameters
    ----------
    waves : array, shape (no, n)
        Amplitudes along the first axis. [m2/s]
    outer : Cosines
        Waves along it.
    out : array, shape (no, n)
        Filled with the parts, as `unfold_plane` takes them. [m2/s]
    """
    no = len(waves)
    half = len(outer.even)
    np.matmul(outer.even, waves[:half], out=out[:half])
    if no > 1:
        np.matmul(outer.odd, waves[half:], out=out[half:])


def mirror_sums(parts: FloatArray) -> None:
    """Turn even and odd parts along the first axis into values, in place.

    Parameters
    ----------
    parts : array, shape (no, nt, nz)
        First half, middle included: even part; second half: odd part in mirrored order. [m2/s]
    """
    half = len(parts) // 2
    even, odd = parts[:half], parts[::-1][:half]
    kept = even - odd
    even += odd
    odd[:] = kept


def fast_cells(waves: FloatArray, outer: Cosines | None, upright: Cosines) -> FloatArray:
    """Return cell values from amplitudes, without matrix products.

    Parameters
    ----------
    waves : array, shape (no, nt, nz)
        Amplitudes along the first and last axis. [m2/s]
    outer : Cosines or None
        Waves along the first axis; None if its entries are cells already.
    upright : Cosines
        Waves along the last axis.

    Returns
    -------
    array, shape (no, nt, nz)
        Cell values. [m2/s]
    """
    for axis, kind in ((0, outer), (2, upright)):
        if kind is not None:
            waves = np.take(waves, np.argsort(kind.eigenvalues), axis=axis)
    axes = (2,) if outer is None else (0, 2)
    cells: FloatArray = scipy.fft.idctn(waves, norm="ortho", axes=axes)
    return cells
