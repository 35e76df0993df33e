"""Compiled loops of the ladder: residuals, and elimination station by station.

A state or a step is one flat array: flows (4 n: tube, plenum, holes, plate), pressures (2 n: tube,
plenum), m surrounding nodes, k surrounding branches. What never changes is the tuple `fixed`::

    rails   (2, 3, n)  tube and plenum: linear, quadratic, momentum coefficient of the link behind
                       each station, the last to the outlet
    rungs   (2, 2, n)  holes (plenum to tube) and plate (above to plenum): linear, quadratic
    opened  (n,)       whether the plenum's link is there (else nothing flows through it)
    least   (4 n + k,) least slope of each law
    branch  (3, k)     surrounding branches: linear, quadratic, source
    ends    (2, k)     their start and end nodes
    free    (m,)       whether a node's pressure is unknown
    hook    (3,)       nodes above the plate, at the tube's and at the plenum's outlet
    numbers (4,)       hole place, weight of flows in the norm, tolerance, flow floor

and what `ladder_residual` fills is the tuple `found`::

    residual (6, n)    continuity of tube, plenum [m3/s]; links of tube, plenum; holes; plate [Pa]
    slope    (6, n)    d drop/d own flow of tube, plenum, holes, plate; d drop/d flow of the link
                       before, tube and plenum (below zero)
    share    (2, n)    d hole drive/d tube flow here and before, by the joining air's momentum
    node     (m,)      imbalance [m3/s]
    law      (k,)      surrounding branches' residual [Pa]
    steep    (k,)      and slope
"""

from __future__ import annotations

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim._compile import compiled

Fixed = tuple[
    FloatArray,
    FloatArray,
    BoolArray,
    FloatArray,
    FloatArray,
    IntArray,
    BoolArray,
    IntArray,
    FloatArray,
]
Found = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]


@compiled
def ladder_residual(fixed: Fixed, x: FloatArray, found: Found) -> float:
    """Fill residuals and slopes at a state; return the norm of the residuals. [Pa]."""
    rails, rungs, opened, least, _, _, _, hook, numbers = fixed
    residual, slope, share = found[0], found[1], found[2]
    n = opened.size
    p0 = 4 * n
    total = 0.0
    for k in range(2):
        before = 0.0
        for i in range(n):
            here, at = x[k * n + i], x[p0 + k * n + i]
            after = x[p0 + k * n + i + 1] if i < n - 1 else x[6 * n + hook[1 + k]]
            linear, quadratic, momentum = rails[k, 0, i], rails[k, 1, i], rails[k, 2, i]
            steep = quadratic * abs(here)
            gain = momentum * (here * here - before * before)
            slope[k, i] = max(linear + 2.0 * (steep + momentum * here), least[k * n + i])
            slope[4 + k, i] = -2.0 * momentum * before
            residual[2 + k, i] = at - after - (linear + steep) * here - gain
            residual[k, i] = here - before
            if k == 0:
                share[0, i] = numbers[0] * 2.0 * momentum * here
                share[1, i] = numbers[0] * slope[4, i]
                residual[4, i] = numbers[0] * gain
            before = here
    above = x[6 * n + hook[0]]
    for i in range(n):
        hole, plate = x[2 * n + i], x[3 * n + i]
        steep = rungs[0, 1, i] * abs(hole)
        slope[2, i] = max(rungs[0, 0, i] + 2.0 * steep, least[2 * n + i])
        residual[4, i] += x[p0 + n + i] - x[p0 + i] - (rungs[0, 0, i] + steep) * hole
        steep = rungs[1, 1, i] * abs(plate)
        slope[3, i] = max(rungs[1, 0, i] + 2.0 * steep, least[3 * n + i])
        residual[5, i] = above - x[p0 + n + i] - (rungs[1, 0, i] + steep) * plate
        residual[0, i] -= hole
        residual[1, i] += hole - plate
        if not opened[i]:
            residual[3, i] = 0.0
        for k in range(2, 6):
            total += residual[k, i] ** 2
        total += numbers[1] ** 2 * (residual[0, i] ** 2 + residual[1, i] ** 2)
    return float(np.sqrt(total + _surroundings(fixed, x, found)))


@compiled
def _surroundings(fixed: Fixed, x: FloatArray, found: Found) -> float:
    """Fill the surroundings' residuals; return their squared norm."""
    opened, least, branch, ends, free, hook, numbers = fixed[2:]
    node, law, steep = found[3], found[4], found[5]
    n, m = opened.size, free.size
    total = 0.0
    for j in range(m):
        node[j] = 0.0
    for j in range(ends.shape[1]):
        start, end = ends[0, j], ends[1, j]
        flow = x[6 * n + m + j]
        steeper = branch[1, j] * abs(flow)
        steep[j] = max(branch[0, j] + 2.0 * steeper, least[4 * n + j])
        law[j] = x[6 * n + start] - x[6 * n + end] + branch[2, j] - (branch[0, j] + steeper) * flow
        node[start] -= flow
        node[end] += flow
        total += law[j] ** 2
    for i in range(n):
        node[hook[0]] -= x[3 * n + i]
    node[hook[1]] += x[n - 1]
    node[hook[2]] += x[2 * n - 1]
    for j in range(m):
        if not free[j]:
            node[j] = 0.0
        total += (numbers[1] * node[j]) ** 2
    return total


@compiled
def ladder_excess(fixed: Fixed, x: FloatArray, found: Found) -> tuple[float, int, int]:
    """Return the largest residual over its allowance, its row and its place.

    Rows 0 to 5 are those of `residual`, 6 the surrounding nodes, 7 their branches.
    """
    numbers, (residual, slope, _, node, law, steep) = fixed[8], found
    n, m = fixed[2].size, node.size
    tolerance, floor = numbers[2], numbers[3]
    flow = max(_largest(x, 0, 4 * n), _largest(x, 6 * n + m, x.size))
    level = max(_largest(x, 4 * n, 6 * n + m), _largest(fixed[4][2], 0, law.size))
    mass, rounding = tolerance * flow + 1e-6 * floor, 64.0 * 2.2e-16 * level + 1e-300
    worst, row, place = 0.0, 0, 0
    for k in range(6):
        for i in range(n):
            allowed = mass
            if k > 1:
                own = abs(x[(k - 2) * n + i])
                allowed = (tolerance * own + floor) * abs(slope[k - 2, i]) + rounding
            share = abs(residual[k, i]) / allowed
            if not share <= worst:
                worst, row, place = share, k, i
    for j in range(m + law.size):
        if j < m:
            share = abs(node[j]) / mass
        else:
            own = abs(x[6 * n + j])
            share = abs(law[j - m]) / ((tolerance * own + floor) * steep[j - m] + rounding)
        if not share <= worst:
            worst, row, place = share, 6 + (j >= m), j - m * (j >= m)
    return worst, row, place


@compiled
def _largest(x: FloatArray, start: int, end: int) -> float:
    largest = 0.0
    for i in range(start, end):
        largest = max(largest, abs(x[i]))
    return largest


@compiled
def ladder_step(fixed: Fixed, found: Found, step: FloatArray) -> None:
    """Fill the Newton step: along the stations to the outlets, the surroundings, and back."""
    opened, _, _, ends, free, hook, _ = fixed[2:]
    n, m = opened.size, free.size
    keep = np.empty((n, 8))
    leaving = _eliminate(opened, found, keep)
    nodes = _border(fixed, found, leaving)
    for j in range(m):
        step[6 * n + j] = nodes[j]
    for j in range(ends.shape[1]):
        drive = found[4][j] + nodes[ends[0, j]] - nodes[ends[1, j]]
        step[6 * n + m + j] = drive / found[5][j]
    outer = (nodes[hook[0]], nodes[hook[1]], nodes[hook[2]])
    _substitute(opened, found, keep, outer, step)


@compiled
def _eliminate(opened: BoolArray, found: Found, keep: FloatArray) -> FloatArray:
    """Sweep from the closed end to the outlet; return the outflows it leaves as unknowns.

    At station i the changes of pressure p (tube, plenum) obey p = T p_next + t + s a, with a the
    change of pressure above the plate; `keep` (n, 8) takes T (row by row), t and s. The result
    (2, 4) holds the changes of the two outflows as X p_out + x + z a: columns X, x, z.
    """
    residual, slope, share = found[0], found[1], found[2]
    n = opened.size
    incoming = np.zeros((2, 4))
    leaving = np.zeros((2, 4))
    for i in range(n):
        hole = 1.0 / slope[2, i]
        plate = 1.0 / slope[3, i]
        own = 1.0 / (1.0 - share[0, i] * hole)
        before = (1.0 + share[1, i] * hole) * own
        # tube: dW = before dW_in + own (hole (r5 + dpB - dpA) - r1)
        leaving[0, 0] = before * incoming[0, 0] - own * hole
        leaving[0, 1] = before * incoming[0, 1] + own * hole
        leaving[0, 2] = before * incoming[0, 2] + own * (hole * residual[4, i] - residual[0, i])
        leaving[0, 3] = before * incoming[0, 3]
        # plenum: dV = dV_in - dh + dl - r2, with dh = dW - dW_in + r1
        for j in range(4):
            leaving[1, j] = incoming[1, j] - leaving[0, j] + incoming[0, j]
        leaving[1, 1] -= plate
        leaving[1, 2] += plate * residual[5, i] - residual[1, i] - residual[0, i]
        leaving[1, 3] += plate
        _join(residual, slope, opened[i], i, incoming, leaving, keep)
    return incoming


@compiled
def _join(
    residual: FloatArray,
    slope: FloatArray,
    opened: bool,
    i: int,
    incoming: FloatArray,
    leaving: FloatArray,
    keep: FloatArray,
) -> None:
    """Eliminate the pressures of station i through its links; `incoming` becomes the next's.

    Tube: p - p_next = S dW + K dW_in - r3. Plenum the same, or dV = 0 where its link is shut.
    """
    a00 = 1.0 - slope[0, i] * leaving[0, 0] - slope[4, i] * incoming[0, 0]
    a01 = -slope[0, i] * leaving[0, 1] - slope[4, i] * incoming[0, 1]
    right0 = slope[0, i] * leaving[0, 2] + slope[4, i] * incoming[0, 2] - residual[2, i]
    above0 = slope[0, i] * leaving[0, 3] + slope[4, i] * incoming[0, 3]
    if opened:
        a10 = -slope[1, i] * leaving[1, 0] - slope[5, i] * incoming[1, 0]
        a11 = 1.0 - slope[1, i] * leaving[1, 1] - slope[5, i] * incoming[1, 1]
        right1 = slope[1, i] * leaving[1, 2] + slope[5, i] * incoming[1, 2] - residual[3, i]
        above1 = slope[1, i] * leaving[1, 3] + slope[5, i] * incoming[1, 3]
        next1 = 1.0
    else:
        a10, a11 = leaving[1, 0], leaving[1, 1]
        right1, above1, next1 = -leaving[1, 2], -leaving[1, 3], 0.0
    scale = 1.0 / (a00 * a11 - a01 * a10)
    keep[i, 0] = a11 * scale
    keep[i, 1] = -a01 * next1 * scale
    keep[i, 2] = -a10 * scale
    keep[i, 3] = a00 * next1 * scale
    keep[i, 4] = (a11 * right0 - a01 * right1) * scale
    keep[i, 5] = (a00 * right1 - a10 * right0) * scale
    keep[i, 6] = (a11 * above0 - a01 * above1) * scale
    keep[i, 7] = (a00 * above1 - a10 * above0) * scale
    for k in range(2):
        y0, y1 = leaving[k, 0], leaving[k, 1]
        incoming[k, 0] = y0 * keep[i, 0] + y1 * keep[i, 2]
        incoming[k, 1] = y0 * keep[i, 1] + y1 * keep[i, 3]
        incoming[k, 2] = y0 * keep[i, 4] + y1 * keep[i, 5] + leaving[k, 2]
        incoming[k, 3] = y0 * keep[i, 6] + y1 * keep[i, 7] + leaving[k, 3]
    if not opened:
        for j in range(4):
            incoming[1, j] = 0.0


@compiled
def _border(fixed: Fixed, found: Found, leaving: FloatArray) -> FloatArray:
    """Return the pressure changes of the surrounding nodes, 0 at fixed ones."""
    ends, free, hook = fixed[5], fixed[6], fixed[7]
    residual, node, law, steep = found[0], found[3], found[4], found[5]
    m = free.size
    matrix, right = np.zeros((m, m)), np.zeros(m)
    for j in range(m):
        right[j] = -node[j]
    for j in range(ends.shape[1]):
        start, end, gain = ends[0, j], ends[1, j], 1.0 / steep[j]
        matrix[start, start] -= gain
        matrix[start, end] += gain
        matrix[end, start] += gain
        matrix[end, end] -= gain
        right[start] += gain * law[j]
        right[end] -= gain * law[j]
    for k in range(2):
        for row, sign in ((hook[1 + k], 1.0), (hook[0], -1.0)):
            matrix[row, hook[1]] += sign * leaving[k, 0]
            matrix[row, hook[2]] += sign * leaving[k, 1]
            matrix[row, hook[0]] += sign * leaving[k, 3]
            right[row] -= sign * leaving[k, 2]
        for i in range(residual.shape[1]):
            right[hook[0]] += residual[k, i]
    for j in range(m):
        if not free[j]:
            right[j] = 0.0
            for i in range(m):
                matrix[j, i] = 0.0
            matrix[j, j] = 1.0
    _dense(matrix, right)
    return right


@compiled
def _dense(matrix: FloatArray, right: FloatArray) -> None:
    """Solve a small dense system in place, with row exchange; the solution fills `right`."""
    m = right.size
    for j in range(m):
        best = j
        for i in range(j + 1, m):
            if abs(matrix[i, j]) > abs(matrix[best, j]):
                best = i
        for i in range(m):
            matrix[j, i], matrix[best, i] = matrix[best, i], matrix[j, i]
        right[j], right[best] = right[best], right[j]
        for i in range(j + 1, m):
            factor = matrix[i, j] / matrix[j, j]
            right[i] -= factor * right[j]
            for k in range(j, m):
                matrix[i, k] -= factor * matrix[j, k]
    for j in range(m - 1, -1, -1):
        for k in range(j + 1, m):
            right[j] -= matrix[j, k] * right[k]
        right[j] /= matrix[j, j]


@compiled
def _substitute(
    opened: BoolArray,
    found: Found,
    keep: FloatArray,
    outer: tuple[float, float, float],
    step: FloatArray,
) -> None:
    """Fill the changes of flow and pressure of the ladder from those outside it.

    `outer` holds the change of pressure above and at the two outlets. Flows are summed from the
    closed end, so that every station balances to rounding.
    """
    residual, slope, share = found[0], found[1], found[2]
    n = opened.size
    above, tube, plenum = outer
    for i in range(n - 1, -1, -1):
        here = keep[i, 0] * tube + keep[i, 1] * plenum + keep[i, 4] + keep[i, 6] * above
        plenum = keep[i, 2] * tube + keep[i, 3] * plenum + keep[i, 5] + keep[i, 7] * above
        tube = here
        step[4 * n + i], step[5 * n + i] = tube, plenum
    tube, plenum = 0.0, 0.0
    for i in range(n):
        along = tube
        gain = share[0, i] * (along - residual[0, i]) + share[1, i] * along
        drive = residual[4, i] + step[5 * n + i] - step[4 * n + i]
        hole = (drive + gain) / (slope[2, i] - share[0, i])
        tube = along + hole - residual[0, i]
        if opened[i]:
            plate = (residual[5, i] + above - step[5 * n + i]) / slope[3, i]
            plenum = plenum - hole + plate - residual[1, i]
        else:
            plate = hole + residual[1, i] - plenum
            plenum = 0.0
        step[i], step[n + i], step[2 * n + i], step[3 * n + i] = tube, plenum, hole, plate
