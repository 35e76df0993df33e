"""Compiled loops of the plenum and of the distributor tube; arrays are ordered [ix, iy]."""

from __future__ import annotations

import math

import numpy as np

from flowsim._arrays import FloatArray
from flowsim._compile import compiled

__all__ = [
    "churchill",
    "drift_divergence",
    "face_velocity",
    "linear_divergence",
    "linear_resistance",
    "resistance",
    "rotate_column",
    "tridiagonal_modes",
    "tube_linear",
    "tube_pressure",
]


@compiled
def tridiagonal_modes(values: FloatArray, inverse_pivot: FloatArray, coupling: float) -> None:
    """Solve one tridiagonal system along x for every mode (column), in place."""
    nx, ny = values.shape
    for i in range(1, nx):
        for k in range(ny):
            values[i, k] -= coupling * inverse_pivot[i - 1, k] * values[i - 1, k]
    for k in range(ny):
        values[nx - 1, k] *= inverse_pivot[nx - 1, k]
    for i in range(nx - 2, -1, -1):
        for k in range(ny):
            values[i, k] = (values[i, k] - coupling * values[i + 1, k]) * inverse_pivot[i, k]


@compiled
def face_velocity(
    potential: FloatArray,
    dx: float,
    dy: float,
    ux: FloatArray,
    uy: FloatArray,
) -> None:
    """Fill the inner faces of ux (nx+1, ny) and uy (nx, ny+1) with the potential's gradient."""
    nx, ny = potential.shape
    for i in range(1, nx):
        for j in range(ny):
            ux[i, j] = (potential[i, j] - potential[i - 1, j]) / dx
    for i in range(nx):
        for j in range(1, ny):
            uy[i, j] = (potential[i, j] - potential[i, j - 1]) / dy


@compiled
def churchill(reynolds: float, relative_roughness: float, laminar: float) -> tuple[float, float]:
    """Return Churchill's Darcy factor and d ln(factor)/d ln(Reynolds number)."""
    if reynolds < 10.0:
        return laminar / max(reynolds, 1e-300), -1.0
    smooth = (7.0 / reynolds) ** 0.9
    rough = smooth + 0.27 * relative_roughness
    log = math.log(rough)
    a = (2.457 * log) ** 2
    a = a * a
    a = a * a
    a = a * a
    b = (37530.0 / reynolds) ** 2
    b = b * b
    b = b * b
    b = b * b
    x = (laminar / (8.0 * reynolds)) ** 2
    x = x * x * x
    x = x * x
    y = 1.0 / ((a + b) * math.sqrt(a + b))
    factor = 8.0 * (x + y) ** (1.0 / 12.0)
    change = -14.4 * a * smooth / (rough * log) - 16.0 * b
    return factor, (-12.0 * x - 1.5 * y * change / (a + b)) / (12.0 * (x + y))


@compiled
def _wall_drag(
    speed: float, drag: tuple[float, float, float, float, float, float]
) -> tuple[float, float]:
    """Return lambda rho |U|/(2 D_h) and its derivative to |U|.

    drag: density, viscosity, hydraulic diameter, constant factor (negative: Churchill's law),
    relative roughness, laminar product f Re.
    """
    density, viscosity, diameter, constant, roughness, laminar = drag
    if constant >= 0.0:
        slope = constant * density / (2.0 * diameter)
        return slope * speed, slope
    reynolds = density * speed * diameter / viscosity
    if reynolds < 10.0:
        return laminar * viscosity / (2.0 * diameter * diameter), 0.0
    factor, power = churchill(reynolds, roughness, laminar)
    slope = factor * density / (2.0 * diameter)
    return slope * speed, slope * (1.0 + power)


@compiled
def resistance(
    ux: FloatArray,
    uy: FloatArray,
    arriving: FloatArray,
    drag: tuple[float, float, float, float, float, float],
    out: FloatArray,
) -> None:
    """Fill out[0..4]: u, v at cell centres, kappa, d kappa/du, d kappa/dv.

    kappa is the force per volume and velocity: arriving (momentum rho w_in/h) plus wall drag.
    """
    _, nx, ny = out.shape
    for i in range(nx):
        for j in range(ny):
            u = 0.5 * (ux[i, j] + ux[i + 1, j])
            v = 0.5 * (uy[i, j] + uy[i, j + 1])
            speed = math.sqrt(u * u + v * v)
            wall, slope = _wall_drag(speed, drag)
            out[0, i, j] = u
            out[1, i, j] = v
            out[2, i, j] = arriving[i, j] + wall
            if speed > 0.0:
                out[3, i, j] = slope * u / speed
                out[4, i, j] = slope * v / speed
            else:
                out[3, i, j] = 0.0
                out[4, i, j] = 0.0


@compiled
def drift_divergence(
    cells: FloatArray, ux: FloatArray, uy: FloatArray, dx: float, dy: float, out: FloatArray
) -> None:
    """Fill out with the divergence of -kappa U, kappa averaged to inner faces, walls closed."""
    nx, ny = out.shape
    for i in range(nx):
        for j in range(ny):
            out[i, j] = 0.0
    for i in range(1, nx):
        for j in range(ny):
            g = -0.5 * (cells[2, i, j] + cells[2, i - 1, j]) * ux[i, j] / dx
            out[i - 1, j] += g
            out[i, j] -= g
    for i in range(nx):
        for j in range(1, ny):
            g = -0.5 * (cells[2, i, j] + cells[2, i, j - 1]) * uy[i, j] / dy
            out[i, j - 1] += g
            out[i, j] -= g


@compiled
def linear_resistance(
    cells: FloatArray,
    dux: FloatArray,
    duy: FloatArray,
    change: FloatArray,
    inertia: float,
    dynamic: FloatArray,
) -> None:
    """Turn change (of the arriving part of kappa) into that of kappa; fill d(-inertia U^2/2)."""
    nx, ny = change.shape
    for i in range(nx):
        for j in range(ny):
            du = 0.5 * (dux[i, j] + dux[i + 1, j])
            dv = 0.5 * (duy[i, j] + duy[i, j + 1])
            change[i, j] += cells[3, i, j] * du + cells[4, i, j] * dv
            dynamic[i, j] = -inertia * (cells[0, i, j] * du + cells[1, i, j] * dv)


@compiled
def linear_divergence(
    cells: FloatArray,
    change: FloatArray,
    faces: tuple[FloatArray, FloatArray, FloatArray, FloatArray],
    dx: float,
    dy: float,
    out: FloatArray,
) -> None:
    """Fill out with the divergence of -(d kappa U + kappa dU); faces: ux, uy, dux, duy."""
    ux, uy, dux, duy = faces
    nx, ny = out.shape
    for i in range(nx):
        for j in range(ny):
            out[i, j] = 0.0
    for i in range(1, nx):
        for j in range(ny):
            g = (change[i, j] + change[i - 1, j]) * ux[i, j]
            g += (cells[2, i, j] + cells[2, i - 1, j]) * dux[i, j]
            g *= -0.5 / dx
            out[i - 1, j] += g
            out[i, j] -= g
    for i in range(nx):
        for j in range(1, ny):
            g = (change[i, j] + change[i, j - 1]) * uy[i, j]
            g += (cells[2, i, j] + cells[2, i, j - 1]) * duy[i, j]
            g *= -0.5 / dy
            out[i, j - 1] += g
            out[i, j] -= g


@compiled
def tube_pressure(
    inflow: FloatArray,
    lengths: FloatArray,
    area: float,
    inertia: float,
    drag: tuple[float, float, float, float, float, float],
    out: FloatArray,
) -> None:
    """Fill out[0] with axial velocity, out[1] with pressure at the nodes, closed end first.

    The pressure at the closed end is 0; inflow is positive into the tube, velocity positive
    towards the open end. Air that arrives has no axial momentum, air that leaves takes its own.
    """
    out[0, 0] = 0.0
    out[1, 0] = 0.0
    for j in range(inflow.size):
        before = out[0, j]
        after = before + inflow[j] / area
        middle = 0.5 * (before + after)
        wall, _ = _wall_drag(abs(middle), drag)
        arriving = inertia * max(inflow[j], 0.0) / area
        step = -0.5 * inertia * (after * after - before * before)
        out[0, j + 1] = after
        out[1, j + 1] = out[1, j] + step - arriving * middle - wall * middle * lengths[j]


@compiled
def tube_linear(
    inflow: FloatArray,
    change: FloatArray,
    lengths: FloatArray,
    area: float,
    inertia: float,
    drag: tuple[float, float, float, float, float, float],
    velocity: FloatArray,
) -> FloatArray:
    """Return the change of station pressures, mean of both nodes, for changed inflow."""
    out = np.empty_like(change)
    d_before = 0.0
    p_before = 0.0
    for j in range(inflow.size):
        d_after = d_before + change[j] / area
        middle = 0.5 * (velocity[j] + velocity[j + 1])
        d_middle = 0.5 * (d_before + d_after)
        wall, slope = _wall_drag(abs(middle), drag)
        p_after = p_before - inertia * (velocity[j + 1] * d_after - velocity[j] * d_before)
        if inflow[j] > 0.0:
            p_after -= inertia * (change[j] * middle + inflow[j] * d_middle) / area
        p_after -= (wall + slope * abs(middle)) * d_middle * lengths[j]
        out[j] = 0.5 * (p_before + p_after)
        d_before = d_after
        p_before = p_after
    return out


@compiled
def rotate_column(hessenberg: FloatArray, rotation: FloatArray, target: FloatArray, k: int) -> None:
    """Bring column k of a Hessenberg matrix to triangular form by Givens rotations."""
    for i in range(k):
        upper = rotation[0, i] * hessenberg[i, k] + rotation[1, i] * hessenberg[i + 1, k]
        hessenberg[i + 1, k] = (
            rotation[0, i] * hessenberg[i + 1, k] - rotation[1, i] * hessenberg[i, k]
        )
        hessenberg[i, k] = upper
    length = math.hypot(hessenberg[k, k], hessenberg[k + 1, k])
    if length == 0.0:
        length = 1e-300
    rotation[0, k] = hessenberg[k, k] / length
    rotation[1, k] = hessenberg[k + 1, k] / length
    hessenberg[k, k] = length
    hessenberg[k + 1, k] = 0.0
    target[k + 1] = -rotation[1, k] * target[k]
    target[k] *= rotation[0, k]
