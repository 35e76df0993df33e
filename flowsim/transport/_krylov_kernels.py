"""Compiled loops that solve the transport system. Arrays in, arrays filled.

The matrix is A = D - W + H: diagonal of both parts, six neighbours, rest of the second part. Cells
stand in their order along the flow, and W = L + U accordingly. With E the diagonal for which
(E - L) E^-1 (E - U) has nearly the row sums of the first part, all rows are divided by E; L, U, D
are meant so below, H is divided as it is used. Vectors end with a zero that stands for neighbours
that do not exist.
"""

from __future__ import annotations

import numpy as np

from flowsim._arrays import FloatArray
from flowsim._compile import compiled
from flowsim.transport._kernels import Places, Rest

__all__ = ["Half", "Packed", "factor_rows", "krylov", "residual"]

_KEPT = 0.9
"""Share of the entries that the factors drop which is moved to the diagonal. [-]"""

Half = Rest
"""L or U, four entries in a row."""

Packed = tuple[FloatArray, Half, Half, Rest]
"""D and 1/E (n, 2); L; U; H, six or nine entries in a row, not divided by E."""


@compiled
def _put(half: Half, row: int, used: int, column: int, value: float) -> int:
    """Put an entry into L or U; return how many the row holds now.

    The first value beyond four counts those kept apart.
    """
    w, at, place, extra = half
    if used < 4:
        w[row, used], at[row, used] = value, column
        return used + 1
    extra[0] += 1.0
    q = int(extra[0])
    place[q, 0], place[q, 1], extra[q] = row, column, value
    return used


@compiled
def factor_rows(
    rows: FloatArray, near: Places, diagonal: FloatArray, lower: Half, upper: Half
) -> int:
    """Find E, divide all rows by it and part them.

    Parameters
    ----------
    rows : array, shape (n, 8)
        Diagonal, six off-diagonal entries with their sign turned, diagonal of H. [m3/s]
    near : array, shape (n, 6)
        Places of the neighbours. [-]
    diagonal : array, shape (n, 2)
        Filled with D and 1/E. [-]
    lower, upper : tuple of array
        Entries and columns of L and U (n, 4), filled; rows and columns (2 n + 2, 2) and values
        (2 n + 2,) of what does not fit, filled from place 1 on; place 0 of the values counts
        them and must be zero. [-]

    Returns
    -------
    int
        A place whose E is not positive, -1 if there is none.
    """
    n = rows.shape[0]
    inverse, later = np.empty(n), np.empty(n)
    for p in range(n):
        e, dropped = rows[p, 0], 0.0
        for m in range(6):
            other = near[p, m]
            if other < p:
                back = rows[other, (m ^ 1) + 1] * inverse[other]
                e -= rows[p, m + 1] * back
                dropped += rows[p, m + 1] * (later[other] - back)
        if not e > 0.0:
            return p
        e = max(e - _KEPT * dropped, 0.1 * e)
        inverse[p], later[p] = 1.0 / e, 0.0
        diagonal[p, 0] = (rows[p, 0] + rows[p, 7]) * inverse[p]
        diagonal[p, 1] = inverse[p]
        low, high = 0, 0
        for m in range(6):
            other, value = near[p, m], rows[p, m + 1] * inverse[p]
            if other < p:
                low = _put(lower, p, low, other, value)
            elif other < n:
                high = _put(upper, p, high, other, value)
                later[p] += value
        for m in range(low, 4):
            lower[0][p, m], lower[1][p, m] = 0.0, n
        for m in range(high, 4):
            upper[0][p, m], upper[1][p, m] = 0.0, n
    return -1


@compiled
def _backward(upper: Half, t: FloatArray, y: FloatArray) -> None:
    """Solve (I - U) y = t."""
    u, at, place, extra = upper
    cursor = place.shape[0] - 2
    for p in range(u.shape[0] - 1, -1, -1):
        one = t[p] + u[p, 0] * y[at[p, 0]]
        two = u[p, 1] * y[at[p, 1]] + u[p, 2] * y[at[p, 2]]
        while place[cursor, 0] == p:
            one += extra[cursor] * y[place[cursor, 1]]
            cursor -= 1
        y[p] = (one + two) + u[p, 3] * y[at[p, 3]]


@compiled
def _forward(lower: Half, t: FloatArray, z: FloatArray) -> None:
    """Solve (I - L) z = t."""
    w, at, place, extra = lower
    cursor = 1
    for p in range(w.shape[0]):
        one = t[p] + w[p, 0] * z[at[p, 0]]
        two = w[p, 1] * z[at[p, 1]] + w[p, 2] * z[at[p, 2]]
        while place[cursor, 0] == p:
            one += extra[cursor] * z[place[cursor, 1]]
            cursor += 1
        z[p] = (one + two) + w[p, 3] * z[at[p, 3]]


@compiled
def _apply(
    system: Packed, t: FloatArray, out: FloatArray, work: FloatArray, other: FloatArray
) -> float:
    """Fill (I - L)^-1 A (I - U)^-1 t, from A = (I - L) + (D - 2) + (I - U) + H.

    Returns its scalar product with another vector.
    """
    diagonal, lower, upper, (values, columns, beyond, more) = system
    w, at, place, extra = lower
    y, z = work[0], work[1]
    _backward(upper, t, y)
    total, cursor, second = 0.0, 1, 1
    corrected, wide = values.shape[0] > 0, values.shape[1] > 6
    for p in range(w.shape[0]):
        one = t[p] + (diagonal[p, 0] - 2.0) * y[p]
        if corrected:
            two = values[p, 0] * y[columns[p, 0]] + values[p, 3] * y[columns[p, 3]]
            change = values[p, 1] * y[columns[p, 1]] + values[p, 4] * y[columns[p, 4]]
            change += two + (values[p, 2] * y[columns[p, 2]] + values[p, 5] * y[columns[p, 5]])
            if wide:
                two = values[p, 6] * y[columns[p, 6]] + values[p, 7] * y[columns[p, 7]]
                change += two + values[p, 8] * y[columns[p, 8]]
            while beyond[second, 0] == p:
                change += more[second] * y[beyond[second, 1]]
                second += 1
            one += diagonal[p, 1] * change
        one += w[p, 0] * z[at[p, 0]]
        two = w[p, 1] * z[at[p, 1]] + w[p, 2] * z[at[p, 2]]
        while place[cursor, 0] == p:
            one += extra[cursor] * z[place[cursor, 1]]
            cursor += 1
        z[p] = (one + two) + w[p, 3] * z[at[p, 3]]
        out[p] = y[p] + z[p]
        total += out[p] * other[p]
    return total


@compiled
def _dot(a: FloatArray, b: FloatArray) -> float:
    """Return the scalar product, in four sums that a processor can keep apart."""
    s0 = s1 = s2 = s3 = 0.0
    whole = a.size - a.size % 4
    for q in range(0, whole, 4):
        s0 += a[q] * b[q]
        s1 += a[q + 1] * b[q + 1]
        s2 += a[q + 2] * b[q + 2]
        s3 += a[q + 3] * b[q + 3]
    for q in range(whole, a.size):
        s0 += a[q] * b[q]
    return (s0 + s1) + (s2 + s3)


@compiled
def residual(system: Packed, x: FloatArray, b: FloatArray, out: FloatArray) -> tuple[float, float]:
    """Fill the residual b - A x over E.

    Parameters
    ----------
    system : tuple of array
        Scaled matrix in its parts. [-]
    x, b, out : array, shape (n + 1,)
        Solution so far; right-hand side, not divided by E; filled. [-]

    Returns
    -------
    tuple of float
        Norm of the residual not divided by E, and of the round-off it may hold.
    """
    diagonal, lower, upper, (values, columns, beyond, more) = system
    w, low, u, up = lower[0], lower[1], upper[0], upper[1]
    out[:] = 0.0
    for q in range(1, beyond.shape[0] - 1):
        out[beyond[q, 0]] -= diagonal[beyond[q, 0], 1] * more[q] * x[beyond[q, 1]]
    for half in (lower, upper):
        place, extra = half[2], half[3]
        for q in range(1, place.shape[0] - 1):
            out[place[q, 0]] += extra[q] * x[place[q, 1]]
    total, noise = 0.0, 0.0
    for p in range(w.shape[0]):
        own, inverse = diagonal[p, 0] * x[p], diagonal[p, 1]
        value, size = out[p] + (b[p] * inverse - own), abs(own)
        for m in range(4):
            one, two = w[p, m] * x[low[p, m]], u[p, m] * x[up[p, m]]
            value += one + two
            size += abs(one) + abs(two)
        if values.shape[0] > 0:
            change = 0.0
            for m in range(values.shape[1]):
                change += values[p, m] * x[columns[p, m]]
            value -= inverse * change
        out[p] = value
        total += (value / inverse) ** 2
        noise += (size / inverse) ** 2
    return np.sqrt(total), 2e-16 * np.sqrt(noise)


@compiled
def krylov(
    system: Packed, r: FloatArray, goal: tuple[float, int], x: FloatArray, room: FloatArray
) -> tuple[int, float]:
    """Add to a solution the answer to its residual, by stabilised biconjugate gradients.

    Parameters
    ----------
    system : tuple of array
        As in `residual`.
    r : array, shape (n + 1,)
        Residual over E. [-]
    goal : tuple of float and int
        Wanted reduction of the residual, most iterations. [-]
    x : array, shape (n + 1,)
        Added to. [-]
    room : array, shape (8, n + 1)
        Work space. [-]

    Returns
    -------
    tuple of int and float
        Iterations, reduction reached by the running residual.
    """
    _, lower, upper, _ = system
    room[:2], room[3], room[:, -1] = 0.0, 0.0, 0.0  # v, p, t and what stands for no neighbour
    v, p, w, t, s, first = room[0], room[1], room[2], room[3], room[4], room[5]
    work = room[6:]
    _forward(lower, r, first)
    s[:] = first
    begin = size = rho = _dot(first, first)
    wanted = goal[0] ** 2 * begin
    beta, omega, count = 0.0, 1.0, 0
    while count < goal[1] and size > wanted:
        for q in range(r.size):
            p[q] = s[q] + beta * (p[q] - omega * v[q])
        alpha = rho / _apply(system, p, v, work, first)
        for q in range(r.size):
            s[q] -= alpha * v[q]
        count += 1
        size = _dot(s, s)
        omega = 0.0
        if size > wanted:
            omega = _apply(system, s, w, work, s) / _dot(w, w)
        for q in range(r.size):
            t[q] += alpha * p[q] + omega * s[q]
            s[q] -= omega * w[q]
        if omega == 0.0:
            break
        size, before = _dot(s, s), rho
        rho = _dot(first, s)
        beta = rho / before * (alpha / omega)
    _backward(upper, t, work[0])
    for q in range(x.size):
        x[q] += work[0, q]
    return count, np.sqrt(size / begin)
