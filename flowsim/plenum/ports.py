"""Ports of a plenum: where air leaves or enters it, and the pressure a duct finds there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError

__all__ = ["HeaderPort", "PortMap", "Wall", "map_ports", "overlap_share", "port_velocities"]

Wall = Literal["left", "right", "front", "back", "bottom"]
_ALONG_DEPTH = ("left", "right")
_SIDES = ("left", "right", "front", "back")
_SLACK = 1e-9


@dataclass(frozen=True)
class HeaderPort:
    """A port in a wall of the plenum, over the plenum's whole height, or in its bottom.

    Parameters
    ----------
    wall : str
        "left", "right", "front", "back" or "bottom". [-]
    start, end : float or tuple of two floats
        Extent along the wall: y for left and right, x for front and back; for the bottom the
        corners (x, y) of a rectangle. [m]
    """

    wall: Wall
    start: float | tuple[float, float]
    end: float | tuple[float, float]


@dataclass(frozen=True)
class PortMap:
    """Ports on the grid.

    Parameters
    ----------
    cells : tuple of two int
        Cells along x and y. [-]
    walls : tuple of str
        Wall of each port. [-]
    shares : tuple of arrays
        Share of each port's flow per boundary cell of its wall, shape (ny,) or (nx,), or per
        plenum cell, shape (nx, ny), for the bottom; each sums to 1. [-]
    open_area : array, shape (number of ports,)
        Extent along the wall times plenum height, or bottom area. [m2]
    lateral_speed : array, shape (number of ports,)
        Largest speed in the plenum per flow, were the flow one-dimensional: over the whole wall,
        or towards a line sink along the longer side of a bottom port. [1/m2]
    """

    cells: tuple[int, int]
    walls: tuple[Wall, ...]
    shares: tuple[FloatArray, ...]
    open_area: FloatArray
    lateral_speed: FloatArray


def overlap_share(count: int, length: float, start: float, end: float) -> FloatArray:
    """Return how a stretch spreads over equal cells; the shares sum to 1.

    Parameters
    ----------
    count : int
        Cells. [-]
    length : float
        Length of all cells together. [m]
    start, end : float
        The stretch. [m]

    Returns
    -------
    array, shape (count,)
        Covered length of each cell over the length of the stretch. [-]
    """
    edges = np.linspace(0.0, length, count + 1)
    covered = np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], start), 0.0, None)
    covered[covered < _SLACK * length / count] = 0.0
    return np.asarray(covered / covered.sum())


def map_ports(
    ports: tuple[HeaderPort, ...], size: tuple[float, float, float], cells: tuple[int, int]
) -> PortMap:
    """Lay the ports onto the grid.

    Parameters
    ----------
    ports : tuple of HeaderPort
        The ports. [-]
    size : tuple of three floats
        Width, depth and height of the plenum. [m]
    cells : tuple of two int
        Cells along x and y. [-]

    Returns
    -------
    PortMap
        Flow shares and areas.

    Raises
    ------
    RangeError
        If a port has no extent or leaves its wall.
    """
    mapped = [_one_port(index, port, size, cells) for index, port in enumerate(ports)]
    return PortMap(
        cells,
        tuple(port.wall for port in ports),
        tuple(share for share, _, _ in mapped),
        np.array([area for _, area, _ in mapped]),
        np.array([speed for _, _, speed in mapped]),
    )


def port_velocities(
    ports: PortMap, flow: FloatArray, spacing: tuple[float, float, float]
) -> tuple[FloatArray, FloatArray, tuple[FloatArray, FloatArray, FloatArray, FloatArray]]:
    """Return what the ports impose on the plenum.

    Parameters
    ----------
    ports : PortMap
        The ports. [-]
    flow : array, shape (number of ports,)
        Flow out of each. [m3/s]
    spacing : tuple of three floats
        dx, dy and height. [m]

    Returns
    -------
    tuple
        Net inflow and arriving inflow through the bottom, each (nx, ny) [m/s], and the boundary
        velocities along the axes on left, right (ny,), front, back (nx,) [m/s].
    """
    dx, dy, height = spacing
    nx, ny = ports.cells
    net, arriving = np.zeros((nx, ny)), np.zeros((nx, ny))
    walls = {"left": np.zeros(ny), "right": np.zeros(ny)}
    walls |= {"front": np.zeros(nx), "back": np.zeros(nx)}
    for wall, share, out in zip(ports.walls, ports.shares, flow, strict=True):
        if wall == "bottom":
            net -= out * share / (dx * dy)
            arriving += max(-out, 0.0) * share / (dx * dy)
        else:
            sign = 1.0 if wall in ("right", "back") else -1.0
            walls[wall] += sign * out * share / ((dy if wall in _ALONG_DEPTH else dx) * height)
    return net, arriving, (walls["left"], walls["right"], walls["front"], walls["back"])


def _one_port(
    index: int, port: HeaderPort, size: tuple[float, float, float], cells: tuple[int, int]
) -> tuple[FloatArray, float, float]:
    """Return the flow shares, the area and the lateral speed per flow of one port."""
    width, depth, height = size
    if port.wall == "bottom":
        x0, y0 = _pair(index, port.start)
        x1, y1 = _pair(index, port.end)
        _check_extent(index, port.wall, (x0, x1), width)
        _check_extent(index, port.wall, (y0, y1), depth)
        along_x = overlap_share(cells[0], width, x0, x1)
        along_y = overlap_share(cells[1], depth, y0, y1)
        middle_x, middle_y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        reach = max(middle_x, width - middle_x)
        if x1 - x0 >= y1 - y0:
            reach = max(middle_y, depth - middle_y)
        speed = reach / (width * depth * height)
        return np.outer(along_x, along_y), (x1 - x0) * (y1 - y0), speed
    if port.wall not in _SIDES:
        raise RangeError(f"port {index}: unknown wall {port.wall!r}")
    start, end = _number(index, port.start), _number(index, port.end)
    side = port.wall in _ALONG_DEPTH
    length, count = (depth, cells[1]) if side else (width, cells[0])
    _check_extent(index, port.wall, (start, end), length)
    share = overlap_share(count, length, start, end)
    return share, (end - start) * height, 1.0 / (length * height)


def _pair(index: int, value: float | tuple[float, float]) -> tuple[float, float]:
    if isinstance(value, tuple):
        return value
    raise RangeError(f"port {index} (bottom): start and end must be pairs (x, y), got {value}")


def _number(index: int, value: float | tuple[float, float]) -> float:
    if isinstance(value, tuple):
        raise RangeError(f"port {index}: start and end must be numbers, got {value}")
    return value


def _check_extent(index: int, wall: str, extent: tuple[float, float], length: float) -> None:
    """Refuse a stretch that is empty, not finite or outside 0..length."""
    start, end = extent
    inside = -_SLACK * length <= start < end <= length * (1.0 + _SLACK)
    if not (inside and math.isfinite(start + end)):
        raise RangeError(
            f"port {index} ({wall}): extent {start:g} to {end:g} m must lie within "
            f"0 to {length:g} m and not be empty"
        )
