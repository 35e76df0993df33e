"""Compiled loops of the particle walk and of exact streamlines.

Lengths are in cells of their axis; a place is a cell number with three shares 0..1 of that cell.
Sides 0..5 are low x, high x, low y, high y, low z, high z. Particles walk in lanes, all one step
at a time, so that the processor works on several at once; each has its own random numbers.

`rates` (cells, 8): velocities of the six sides over the cell size, step time, free cells around.
Lanes: `whole` (4, lanes) cell, particle, side, steps; `where` (3, lanes) shares; `clock` (3, lanes)
time, half of the last step, this step; side -1 is under way or out of time, -2 out of steps.
"""

# Most kernels pass tuples of arrays whose types only the compiler needs.
# mypy: disable-error-code="no-untyped-def, no-untyped-call"

from __future__ import annotations

import math
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray, IntArray
from flowsim._compile import compiled

__all__ = ["draws", "walk"]

GAMMA = np.uint64(0x9E3779B97F4A7C15)
FIRST = np.uint64(0xBF58476D1CE4E5B9)
SECOND = np.uint64(0x94D049BB133111EB)
REACH = 15.0  # the bridge between two places touches a wall with exp(-2 REACH) at most beyond it


@compiled
def _bits(state):
    """Return the next state of a counter and its 64 mixed bits."""
    state = state + GAMMA
    mixed = (state ^ (state >> np.uint64(30))) * FIRST
    mixed = (mixed ^ (mixed >> np.uint64(27))) * SECOND
    return state, mixed ^ (mixed >> np.uint64(31))


@compiled
def _stream(seed, number):
    """Return the first state of the counter of one particle."""
    _, first = _bits(np.uint64(seed))
    _, second = _bits(first ^ np.uint64(number))
    return second


@compiled
def _uniform(state):
    """Return the next state and a number above 0, up to 1."""
    state, bits = _bits(state)
    return state, (np.float64(np.int64(bits >> np.uint64(11))) + 1.0) * 1.1102230246251565e-16


@compiled
def _strip(state, strips):
    """Return the next state, one of the strips of equal area and a number within its width."""
    state, bits = _bits(state)
    strip = np.int64(bits & np.uint64(255))
    share = np.float64(np.int64(bits >> np.uint64(11))) * 2.220446049250313e-16 - 1.0
    return state, strip, share * strips[0, strip]


@compiled
def _edge(state, strip, value, strips):
    """Return the next state and a normal number where the first draw is not in the sure part."""
    while True:
        state, chance = _uniform(state)
        if strip > 0:
            low, high = strips[1, strip], strips[1, strip + 1]
            if low + chance * (high - low) < math.exp(-0.5 * value * value):
                return state, value
        else:
            beyond = -math.log(chance) / strips[0, 1]
            state, chance = _uniform(state)
            if -2.0 * math.log(chance) > beyond * beyond:
                return state, math.copysign(strips[0, 1] + beyond, value)
        state, strip, value = _strip(state, strips)
        if abs(value) < strips[0, strip + 1]:
            return state, value


@compiled
def _normal(state, strips):
    """Return the next state and a normal number, by strips of equal area."""
    state, strip, value = _strip(state, strips)
    if abs(value) < strips[0, strip + 1]:
        return state, value
    return _edge(state, strip, value, strips)


@compiled
def draws(seed: int, numbers: IntArray, out: FloatArray) -> None:
    """Fill `out` with one number up to 1 for each particle, apart from those of its walk."""
    for place in range(out.size):
        _, bits = _bits(_stream(seed, numbers[place]))
        _, out[place] = _uniform(~bits)


@compiled
def _moved(low, high, share, time):
    """Return the share reached in a time, velocity linear between the sides."""
    gain = high - low
    speed = low + gain * share
    x = gain * time
    if abs(x) < 0.25:  # (exp(x) - 1)/x as a series
        square = x * x
        growth = 1 / 5040 + x * (1 / 40320) + square * (1 / 362880 + x * (1 / 3628800))
        growth = 1 / 120 + x * (1 / 720) + square * growth
        growth = 1.0 + 0.5 * x + square * (1 / 6 + x * (1 / 24) + square * growth)
        return share + speed * time * growth
    if speed == 0.0:
        return share
    return share + speed / gain * math.expm1(x)


@compiled
def _until(low, high, share, upper):
    """Return the time until the lower or the upper side is reached, infinite if it never is."""
    speed = low + (high - low) * share
    if (high if upper else low) * speed <= 0.0:
        return math.inf
    gap = 1.0 - share if upper else -share
    scale = 1.0 / (2.0 * speed + (high - low) * gap)
    part = (high - low) * gap * scale
    square = part * part
    if square < 0.0025:  # the logarithm as a series
        series = 1 / 3 + square * (1 / 5 + square * (1 / 7 + square * (1 / 9)))
        return 2.0 * gap * scale * (1.0 + square * series)
    return math.log1p((high - low) * gap / speed) / (high - low)


@compiled
def _within(share):
    """Return a share without what round-off carried past a side."""
    return min(max(share, 0.0), 1.0)


@compiled
def _exit(low, high, share, ahead):
    """Return when a cell is left along one axis, infinite if it is not."""
    if ahead < 0.0:
        return _until(low, high, share, False)
    if ahead > 1.0:
        return _until(low, high, share, True)
    return math.inf


@compiled
def _ahead(count, todo, rates, whole, where, ahead):
    """Move the lanes listed within their cell. Return how many leave it; they stay and are listed.

    Without a branch in the loop the processor works ahead over many lanes.
    """
    leave = np.int64(0)
    for place in range(count):
        lane = todo[place]
        cell, time = whole[0, lane], ahead[3, lane]
        x, y, z = where[0, lane], where[1, lane], where[2, lane]
        xn = _moved(rates[cell, 0], rates[cell, 1], x, time)
        yn = _moved(rates[cell, 2], rates[cell, 3], y, time)
        zn = _moved(rates[cell, 4], rates[cell, 5], z, time)
        inside = (min(xn, yn, zn) >= 0.0) & (max(xn, yn, zn) <= 1.0)
        where[0, lane], where[1, lane] = xn if inside else x, yn if inside else y
        where[2, lane] = zn if inside else z
        ahead[0, lane], ahead[1, lane], ahead[2, lane] = xn, yn, zn
        todo[leave] = lane
        leave += 1 - np.int64(inside)
    return leave


@compiled
def _cross(count, todo, rates, clear, strides, whole, where, ahead):
    """Bring the lanes listed to the side they leave by. Return how many go on in the next cell."""
    go_on = np.int64(0)
    for place in range(count):
        lane = todo[place]
        cell, time = whole[0, lane], ahead[3, lane]
        x, y, z = where[0, lane], where[1, lane], where[2, lane]
        xn, yn, zn = ahead[0, lane], ahead[1, lane], ahead[2, lane]
        x0, x1, y0, y1 = rates[cell, 0], rates[cell, 1], rates[cell, 2], rates[cell, 3]
        z0, z1 = rates[cell, 4], rates[cell, 5]
        tx, ty, tz = _exit(x0, x1, x, xn), _exit(y0, y1, y, yn), _exit(z0, z1, z, zn)
        used = min(tx, ty, tz)
        if used >= time:
            where[0, lane], where[1, lane], where[2, lane] = _within(xn), _within(yn), _within(zn)
            continue
        side = np.int64(xn > 1.0) if used == tx else 2 + np.int64(yn > 1.0)
        side = 4 + np.int64(zn > 1.0) if used == tz else side
        blocked = np.int64(rates[cell, 7] == 0.0 and clear[cell, side] == 0)
        there = np.float64((side & 1) == blocked)
        where[0, lane] = there if side < 2 else _within(_moved(x0, x1, x, used))
        where[1, lane] = there if 2 <= side < 4 else _within(_moved(y0, y1, y, used))
        where[2, lane] = there if side >= 4 else _within(_moved(z0, z1, z, used))
        ahead[3, lane] = time - used
        ahead[4, lane] += used
        whole[0, lane] = cell if blocked else cell + strides[side]
        whole[2, lane] = side if blocked else -1
        todo[go_on] = lane
        go_on += 1 - blocked
    return go_on


@compiled
def _carry(lanes, tables, strides, lanes_of, ahead, todo, limit):
    """Carry along the exact paths over half of the last and half of this step."""
    rates, clear, _, _ = tables
    whole, where, clock, _, _ = lanes_of
    for lane in range(lanes):
        clock[2, lane] = min(rates[whole[0, lane], 6], limit - clock[0, lane])
        ahead[3, lane] = clock[1, lane] + 0.5 * clock[2, lane]
        ahead[4, lane] = 0.0
        todo[lane] = lane
    count = lanes
    while count:
        count = _ahead(count, todo, rates, whole, where, ahead)
        count = _cross(count, todo, rates, clear, strides, whole, where, ahead)
    for lane in range(lanes):
        if whole[2, lane] >= 0:
            clock[0, lane] += ahead[4, lane] - clock[1, lane]
            clock[2, lane] = 0.0


@compiled
def _draw(lanes, count, state, strips, gauss, bits, todo):
    """Draw `count` normal numbers for every lane."""
    for place in range(count):
        for lane in range(lanes):
            state[lane], bits[place, lane] = _bits(state[lane])
    unsure = np.int64(0)
    for place in range(count):
        for lane in range(lanes):
            strip = np.int64(bits[place, lane] & np.uint64(255))
            share = np.int64(bits[place, lane] >> np.uint64(11)) * 2.220446049250313e-16 - 1.0
            value = share * strips[0, strip]
            gauss[place, lane] = value
            todo[unsure] = place * lanes + lane
            unsure += np.int64(abs(value) >= strips[0, strip + 1])
    for number in range(unsure):
        place, lane = todo[number] // lanes, todo[number] % lanes
        strip = np.int64(bits[place, lane] & np.uint64(255))
        state[lane], gauss[place, lane] = _edge(state[lane], strip, gauss[place, lane], strips)


@compiled
def _touch(start, end, spread, rate, state):
    """Let a path from `start` to `end` meet a wall at 0 that takes at a rate per length pushed.

    Return the state, the end pushed off the wall, and the share of the step done if taken, or 2.
    """
    state, chance = _uniform(state)
    gap = end - start
    lowest = 0.5 * (start + end - math.sqrt(gap * gap - 2.0 * spread * spread * math.log(chance)))
    if lowest >= 0.0:
        return state, end, 2.0
    state, chance = _uniform(state)
    if chance <= math.exp(rate * lowest):
        return state, end - lowest, 2.0
    state, first = _uniform(state)
    state, turn = _uniform(state)
    square = -2.0 * math.log(first) * math.cos(2.0 * math.pi * turn) ** 2
    state, chance = _uniform(state)
    mean = start / max(abs(end), 1e-12 * spread)
    half = 0.5 * square * mean * (spread / start) ** 2
    first = mean / (1.0 + half + math.sqrt(half * (half + 2.0)))
    if chance * (mean + first) > mean:
        first = mean * mean / first
    return state, 0.0, first / (1.0 + first)


@compiled
def _between(end, width):
    """Return an end folded back between two walls at 0 and `width`."""
    if end < 0.0 or end > width:
        end = abs(end)
        if end > width:
            end = end % (2.0 * width)
            end = min(end, 2.0 * width - end)
    return end


@compiled
def _wander(beside, takes, share, step, spread, state):
    """Move along one axis between its two walls by a Brownian step.

    `beside` holds the free cells below and above, `takes` the rates of the two walls. Return the
    state, cells hopped, the new share, the share of the step done if taken by a wall, or 2.
    """
    below, above = beside
    width = np.float64(below + 1 + above)
    start = share + below
    end = start + step
    near = REACH * spread * spread
    if takes[0] > 0.0 and start * end < near:
        state, end, part = _touch(max(start, 1e-12), end, spread, takes[0], state)
        if part <= 1.0:
            return state, -below, 0.0, part
    start = width - start
    if takes[1] > 0.0 and start * (width - end) < near:
        state, end, part = _touch(max(start, 1e-12), width - end, spread, takes[1], state)
        end = width - end
        if part <= 1.0:
            return state, above, 1.0, part
    end = _between(end, width) - below
    hop = min(max(np.int64(math.floor(end)), -below), above)
    return state, hop, end - hop, 2.0


@compiled
def _swing(velocity, time, a, b):
    """Return step and end velocity of a correlated walk, in units of its speed and time."""
    lost = -math.expm1(-time)
    spread = lost * (2.0 - lost)
    shared = lost * lost / math.sqrt(spread)
    own = 2.0 * (time - lost) - lost * lost - shared * shared
    step = lost * velocity + shared * a + math.sqrt(max(own, 0.0)) * b
    return step, velocity * (1.0 - lost) + math.sqrt(spread) * a


@compiled
def _glide(beside, takes, share, step, state):
    """Move along one axis in one smooth swing; a wall turns it back or takes it by chance.

    Return as `_wander` does, and -1 if the velocity is turned round, else 1.
    """
    below, above = beside
    width, turn = np.float64(below + 1 + above), 1.0
    start, end = share + below, share + below + step
    while end < 0.0 or end > width:
        upper = end > width
        state, chance = _uniform(state)
        if chance <= (takes[1] if upper else takes[0]):
            part = min(abs(((width if upper else 0.0) - start) / step), 1.0)
            return state, above if upper else -below, np.float64(upper), part, turn
        end = 2.0 * width - end if upper else -end
        turn = -turn
    end -= below
    hop = min(max(np.int64(math.floor(end)), -below), above)
    return state, hop, end - hop, 2.0, turn


@compiled
def _local(low, high, share, time):
    """Return drift and diffusivity where it is linear between two sides, `time` over size2."""
    drift = (high - low) * time
    return drift, max(low + (high - low) * _within(share + 0.5 * drift), 1e-300)


@compiled
def _scatter(mode, wait, todo, tables, model, strides, lanes_of, gauss):
    """Let the lanes listed take their random step axis by axis, between the walls of each."""
    _, clear, transfer, faces = tables
    whole, where, clock, state, eddy = lanes_of
    value, sizes, life = model
    drift, first, last = 0.0, 0.0, 0.0
    for place in range(wait):
        lane = todo[place]
        cell = whole[0, lane]
        for axis in range(3):
            low, size, time = 2 * axis, sizes[axis], clock[2, lane]
            stride, share, a = strides[low + 1], where[axis, lane], gauss[axis, lane]
            beside = (np.int64(clear[cell, low]), np.int64(clear[cell, low + 1]))
            if life != 0.0:
                first = transfer[cell - beside[0] * stride, low]
                last = transfer[cell + beside[1] * stride, low + 1]
            if mode == 3:
                b, scale = gauss[3 + axis, lane], 2.5066282746310002 / value
                step, eddy[axis, lane] = _swing(eddy[axis, lane], time / life, a, b)
                step *= value * life / size
                takes = (first * scale, last * scale)
                state[lane], hop, share, part, turn = _glide(
                    beside, takes, share, step, state[lane]
                )
                eddy[axis, lane] *= turn
            else:
                if mode == 2:
                    sides = faces[cell, low], faces[cell, low + 1]
                    drift, value = _local(sides[0], sides[1], share, time / (size * size))
                spread, scale = math.sqrt(2.0 * value * time) / size, size / value
                step, takes = drift + spread * a, (first * scale, last * scale)
                if life == 0.0 and 0.0 <= share + step <= 1.0:
                    where[axis, lane] = share + step
                    continue
                state[lane], hop, share, part = _wander(
                    beside, takes, share, step, spread, state[lane]
                )
            cell += hop * stride
            where[axis, lane] = share
            if part <= 1.0:
                whole[2, lane] = low + (share > 0.5)
                clock[2, lane] *= part
        whole[0, lane] = cell


@compiled
def _under_way(lanes, whole, clock, todo):
    """List the lanes whose particle has a step to take, and return how many."""
    count = np.int64(0)
    for lane in range(lanes):
        todo[count] = lane
        count += np.int64((whole[2, lane] < 0) & (clock[2, lane] > 0.0))
    return count


@compiled
def _scatter_free(lanes, rates, model, strides, whole, where, clock, gauss, todo):
    """Let lanes far from walls take their random step. Return how many others wait, listed."""
    value, sizes, takes = model
    rx, ry, rz = 1.0 / sizes[0], 1.0 / sizes[1], 1.0 / sizes[2]
    near = REACH * max(rx, ry, rz) ** 2 * np.float64(takes != 0.0)
    sx, sy = strides[1], strides[3]
    wait = np.int64(0)
    for lane in range(lanes):
        cell, under_way = whole[0, lane], whole[2, lane] < 0
        square = 2.0 * value * clock[2, lane]
        sigma = math.sqrt(square)
        a = sigma * rx * gauss[0, lane]
        b = sigma * ry * gauss[1, lane]
        c = sigma * rz * gauss[2, lane]
        free, far = rates[cell, 7], max(abs(a), abs(b), abs(c))
        sure = under_way & (free >= far) & (free * (free - far) >= near * square)
        x, y, z = where[0, lane], where[1, lane], where[2, lane]
        a, b, c = x + a, y + b, z + c
        i, j, k = np.floor(a), np.floor(b), np.floor(c)
        there = cell + np.int64(i) * sx + np.int64(j) * sy + np.int64(k)
        whole[0, lane] = there if sure else cell
        where[0, lane], where[1, lane] = a - i if sure else x, b - j if sure else y
        where[2, lane] = c - k if sure else z
        todo[wait] = lane
        wait += np.int64(under_way & (not sure))
    return wait


@compiled
def _note(lanes, whole, where, paths, cells, lengths):
    """Add a point to the paths of the first particles; a full path drops every other one."""
    for lane in range(lanes):
        number = whole[1, lane]
        if number >= paths.shape[0]:
            continue
        calls, every = lengths[number, 1], lengths[number, 2]
        lengths[number, 1] = calls + 1
        if calls % every:
            continue
        size = lengths[number, 0]
        if size == paths.shape[1]:
            size = (size + 1) // 2
            for point in range(size):
                cells[number, point] = cells[number, 2 * point]
                paths[number, point] = paths[number, 2 * point]
            lengths[number, 2] = 2 * every
            if calls % (2 * every):
                lengths[number, 0] = size
                continue
        cells[number, size] = whole[0, lane]
        for axis in range(3):
            paths[number, size, axis] = where[axis, lane]
        lengths[number, 0] = size + 1


@compiled
def _start(lane, number, starts, key, lanes_of, strips, swings):
    """Put a particle into a lane."""
    whole, where, clock, state, eddy = lanes_of
    whole[0, lane], whole[1, lane] = starts[0][number], number
    whole[2, lane], whole[3, lane] = -1, 0
    for axis in range(3):
        where[axis, lane] = starts[1][number, axis]
        clock[axis, lane] = 0.0
    state[lane] = _stream(key[0], key[1][number])
    if swings:
        for axis in range(3):
            state[lane], eddy[axis, lane] = _normal(state[lane], strips)


@compiled
def _shift(lane, last, lanes_of):
    """Move the particle of the last lane into another."""
    whole, where, clock, state, eddy = lanes_of
    for place in range(4):
        whole[place, lane] = whole[place, last]
    for axis in range(3):
        where[axis, lane] = where[axis, last]
        clock[axis, lane] = clock[axis, last]
        eddy[axis, lane] = eddy[axis, last]
    state[lane] = state[last]


@compiled
def _settle(lanes, whole, clock, steps, residence, ended):
    """Book the step of every lane. Return how many have ended and list them, highest first."""
    count = 0
    for lane in range(lanes - 1, -1, -1):
        step = clock[2, lane]
        if residence.size:
            residence[whole[0, lane]] += step
        whole[3, lane] += 1
        clock[0, lane] += step
        clock[1, lane] = 0.5 * step
        if whole[2, lane] < 0 and step > 0.0:
            if whole[3, lane] < steps:
                continue
            whole[2, lane] = -2
        ended[count] = lane
        count += 1
    return count


@compiled
def _finish(lane, lanes_of, out):
    """Write down the end of the particle of a lane."""
    whole, where, clock, _, _ = lanes_of
    number = whole[1, lane]
    out[0][number], out[2][number], out[3][number] = whole[0, lane], whole[2, lane], whole[3, lane]
    for axis in range(3):
        out[1][number, axis] = where[axis, lane]
    out[4][number] = clock[0, lane]


@compiled
def walk(
    starts: Any,
    model: Any,
    tables: Any,
    strides: Any,
    key: Any,
    paths: Any,
    residence: Any,
    out: Any,
) -> None:
    """Walk all particles.

    Parameters
    ----------
    starts : tuple of array
        Cell (n,) and share of the cell (n, 3). [-]
    model : tuple
        Mode (0 none, 1 even, 2 uneven diffusivity, 3 eddies that last); values (diffusivity [m2/s]
        or eddy speed [m/s], cell sizes [m], whether a side takes particles or eddy life [s]); time
        limit [s]; step limit; strips of the normal numbers (2, 257).
    tables : tuple of array
        rates (cells, 8); by side (cells, 6) each: free cells [-], uptake [m/s], diffusivity [m2/s].
    strides, key : tuple
        Steps in cell number through the six sides; seed, and number of each particle (n,). [-]
    paths : tuple of array
        Shares (m, points, 3), cells (m, points); points, calls, calls per point (m, 3). [-]
    residence : array, shape (cells,) or (0,)
        Time spent in each cell, added to. [s]
    out : tuple of array
        Filled: cell (n,), share (n, 3), side (n,), steps (n,), time (n,) [s].
    """
    mode, values, limit, steps, strips = model
    count, width = starts[0].size, min(128, starts[0].size)
    whole, where, clock = np.empty((4, width), np.int64), np.empty((3, width)), np.empty((3, width))
    state, eddy = np.empty(width, np.uint64), np.zeros((3, width))
    lanes_of = (whole, where, clock, state, eddy)
    gauss, ended = np.empty((6, width)), np.empty(6 * width, np.int64)
    bits = np.empty((6, width), np.uint64)
    draws = 0 if mode == 0 else 6 if mode == 3 else 3
    for lane in range(width):
        _start(lane, lane, starts, key, lanes_of, strips, mode == 3)
    after, lanes = width, width
    while lanes:
        if paths[0].shape[0]:
            _note(lanes, whole, where, *paths)
        _carry(lanes, tables, strides, lanes_of, gauss, ended, limit)
        _draw(lanes, draws, state, strips, gauss, bits, ended)
        if mode == 1:
            wait = _scatter_free(
                lanes, tables[0], values, strides, whole, where, clock, gauss, ended
            )
        else:
            wait = _under_way(lanes, whole, clock, ended) if mode else 0
        _scatter(mode, wait, ended, tables, values, strides, lanes_of, gauss)
        for place in range(_settle(lanes, whole, clock, steps, residence, ended)):
            _finish(ended[place], lanes_of, out)
            if after < count:
                _start(ended[place], after, starts, key, lanes_of, strips, mode == 3)
                after += 1
            else:
                lanes -= 1
                _shift(ended[place], lanes, lanes_of)
