"""Test plate and one-dimensional plena that several plenum tests share."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flowsim.plenum.header import Header, HeaderPort, HeaderSolution, solve_header

DENSITY = 1.204
AIR = (DENSITY, 1.813e-5)
COEFFICIENT = 0.62


@dataclass(frozen=True)
class QuadraticPlate:
    """A plate with constant discharge coefficient: drop = factor v |v|."""

    factor: float

    def drop(self, velocity):
        return self.factor * velocity * np.abs(velocity), 2.0 * self.factor * np.abs(velocity)


def orifice_plate(free_area: float, density: float = DENSITY) -> QuadraticPlate:
    """Return rho/2 (v/(f Cd))^2."""
    return QuadraticPlate(0.5 * density / (free_area * COEFFICIENT) ** 2)


def line_header(cells: int, friction: float = 0.0) -> Header:
    """Return a plenum 1 x 0.5 x 0.1 m open at its whole right end, one cell deep."""
    port = HeaderPort("right", 0.0, 0.5)
    factor = friction * 2.0 * 0.1
    return Header(1.0, 0.5, 0.1, cells, 1, (port,), friction_factor=factor)


def line_plate(hole_ratio: float) -> QuadraticPlate:
    """Return the plate whose Cd A_holes/A_header in `line_header` is the given ratio."""
    return orifice_plate(hole_ratio * 0.1 / COEFFICIENT)


def solve_line(
    cells: int, hole_ratio: float, friction: float = 0.0, sign: float = 1.0, momentum: float = 1.0
) -> HeaderSolution:
    """Solve the one-dimensional plenum for 0.05 m3/s."""
    header = replace(line_header(cells, friction), momentum=momentum)
    flow = np.array([sign * 0.05])
    open_share = np.ones((cells, 1))
    return solve_header(header, line_plate(hole_ratio), open_share, flow, AIR, tolerance=1e-12)


def port_drive(solution: HeaderSolution, density: float = DENSITY) -> float:
    """Return the static drive at the first port over rho/2 of its speed squared."""
    dynamic = 0.5 * density * solution.port_speed[0] ** 2
    return abs(solution.port_total[0] - dynamic) / dynamic


def end_velocities(velocity: np.ndarray) -> tuple[float, float]:
    """Return the profile at the closed wall (even there) and at the port, from cell means."""
    closed = (9.0 * velocity[0] - velocity[1]) / 8.0
    last = velocity[-1:-5:-1]
    return float(closed), float(
        (35.0 * last[0] - 35.0 * last[1] + 21.0 * last[2] - 5.0 * last[3]) / 16.0
    )


def station_ratio(solution: HeaderSolution) -> float:
    """Return the largest over the smallest station mean along x."""
    mean = np.abs(solution.velocity).mean(axis=1)
    return float(mean.max() / mean.min())


def spread(solution: HeaderSolution) -> float:
    """Return the relative standard deviation of the plate velocity."""
    return float(solution.velocity.std() / abs(solution.velocity.mean()))
