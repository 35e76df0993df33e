"""Compiled loops of the ladder: residuals, and elimination station by station.

Arrays (n stations, links behind each station, the last to the outlet)::

    rails     (2, 3, n)  tube and plenum: linear, quadratic, momentum coefficient of each link
    rungs     (2, 2, n)  holes (plenum to tube) and plate (above to plenum): linear, quadratic
    flow      (4, n)     tube, plenum, holes, plate [m3/s]
    pressure  (2, n)     tube, plenum [Pa]
    outer     (3,)       pressure above the plate and at the two outlets
    opened    (n,)       whether the plenum's link is there (else nothing flows through it)
    residual  (6, n)     continuity tube, plenum [m3/s]; links tube, plenum; holes; plate [Pa]
    slope     (6, n)     d drop/d own flow of tube, plenum, holes, plate; d drop/d flow of the
                         link before, tube and plenum (below zero)
"""

from __future__ import annotations

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim._compile import compiled


@compiled
def ladder_residual(
    rails: FloatArray,
    rungs: FloatArray,
    place: float,
    opened: BoolArray,
    state: tuple[FloatArray, FloatArray, FloatArray],
    residual: FloatArray,
    slope: FloatArray,
) -> None:
    """Fill residuals and slopes; `place` is where a hole sees the tube: 0 before, 1 after."""
    flow, pressure, outer = state
    n = flow.shape[1]
    for i in range(n):
        for k in range(2):
            here = flow[k, i]
            before = flow[k, i - 1] if i > 0 else 0.0
            after = pressure[k, i + 1] if i < n - 1 else outer[1 + k]
            linear, quadratic, momentum = rails[k, 0, i], rails[k, 1, i], rails[k, 2, i]
            steep = quadratic * abs(here)
            drop = (linear + steep) * here + momentum * (here * here - before * before)
            slope[k, i] = linear + 2.0 * steep + 2.0 * momentum * here
            slope[4 + k, i] = -2.0 * momentum * before
            residual[2 + k, i] = pressure[k, i] - after - drop
            residual[k, i] = here - before
        for k in range(2):
            steep = rungs[k, 1, i] * abs(flow[2 + k, i])
            slope[2 + k, i] = rungs[k, 0, i] + 2.0 * steep
            residual[4 + k, i] = -(rungs[k, 0, i] + steep) * flow[2 + k, i]
        before = flow[0, i - 1] if i > 0 else 0.0
        gain = rails[0, 2, i] * (flow[0, i] * flow[0, i] - before * before)
        residual[4, i] += pressure[1, i] - pressure[0, i] + place * gain
        residual[5, i] += outer[0] - pressure[1, i]
        residual[0, i] -= flow[2, i]
        residual[1, i] += flow[2, i] - flow[3, i]
        if not opened[i]:
            residual[3, i] = 0.0


@compiled
def ladder_eliminate(
    residual: FloatArray,
    slope: FloatArray,
    share: FloatArray,
    opened: BoolArray,
    keep: FloatArray,
) -> FloatArray:
    """Sweep from the closed end to the outlet; return the outflows it leaves as unknowns.

    At station i the changes of pressure p (tube, plenum) obey p = T p_next + t + s a, with a the
    change of pressure above the plate; `keep` (n, 8) takes T (row by row), t and s. The result
    (2, 4) holds the changes of the two outflows as X p_out + x + z a: columns X, x, z. `share`
    (2, n) holds d(hole drive)/d(tube flow here, before) from the momentum of the hole's air.
    """
    n = residual.shape[1]
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

    Tube: p - p_next = S dW + K dW_in - r3. Plenum the same, or dV = 0 where its links are shut.
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
def ladder_substitute(
    keep: FloatArray,
    residual: FloatArray,
    slope: FloatArray,
    share: FloatArray,
    opened: BoolArray,
    outer: FloatArray,
    step: tuple[FloatArray, FloatArray],
) -> None:
    """Fill the changes of flow (4, n) and pressure (2, n) from those outside the ladder.

    `outer` (3,): change of pressure above and at the two outlets. Flows are summed from the
    closed end, so that every station balances to rounding.
    """
    flow, pressure = step
    n = residual.shape[1]
    above, tube, plenum = outer[0], outer[1], outer[2]
    for i in range(n - 1, -1, -1):
        here = keep[i, 0] * tube + keep[i, 1] * plenum + keep[i, 4] + keep[i, 6] * above
        plenum = keep[i, 2] * tube + keep[i, 3] * plenum + keep[i, 5] + keep[i, 7] * above
        tube = here
        pressure[0, i], pressure[1, i] = tube, plenum
    tube, plenum = 0.0, 0.0
    for i in range(n):
        drive = residual[4, i] + pressure[1, i] - pressure[0, i]
        along = tube
        # (s5 - share0) dh = drive + share0 (dW_in - r1) + share1 dW_in
        gain = share[0, i] * (along - residual[0, i]) + share[1, i] * along
        flow[2, i] = (drive + gain) / (slope[2, i] - share[0, i])
        tube = along + flow[2, i] - residual[0, i]
        if not opened[i]:
            flow[3, i] = flow[2, i] + residual[1, i] - plenum
            plenum = 0.0
        else:
            flow[3, i] = (residual[5, i] + above - pressure[1, i]) / slope[3, i]
            plenum = plenum - flow[2, i] + flow[3, i] - residual[1, i]
        flow[0, i], flow[1, i] = tube, plenum
