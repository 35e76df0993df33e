"""What lands: deposition velocities at walls, floors and workpieces, and what they collect."""

from __future__ import annotations

import math

import numpy as np

from flowsim._arrays import BoolArray, FloatArray
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.physics.aerosol import Particle
from flowsim.physics.deposition import (
    disk_gradient,
    stagnation_deposition,
    surface_deposition,
    turbulent_transfer,
)
from flowsim.transport.faces import FaceArrays, Faces

__all__ = ["closed_deposition", "landing_rates", "stagnation_gradient", "workpiece_deposition"]

FRICTION_SHARE = 0.05  # friction velocity over speed of the air; common practice, no source
SAME = 1e-9


def closed_deposition(field: Field, open_faces: Faces, body: Particle, speed: float) -> FaceArrays:
    """Return the deposition velocity on every closed face of walls and solids.

    Parameters
    ----------
    field : Field
        Air flow; faces with a flux are open.
    open_faces : FaceArrays
        Not 0 on further faces that are open. [-]
    body : Particle
        The particle.
    speed : float
        Mean speed of the air. [m/s]

    Returns
    -------
    FaceArrays
        0 on open faces. [m/s]

    Notes
    -----
    Transfer through a turbulent layer with a friction velocity of 1/20 of the speed; walls take
    that, faces that look up settling as well, those that look down what settling leaves.
    """
    viscosity = body.schmidt * body.diffusion
    transfer = 0.0
    if speed > 0.0:
        transfer = turbulent_transfer(FRICTION_SHARE * speed, body.diffusion, viscosity)
    settling = body.settling_velocity
    values = (
        np.full(field.flux.x.shape, transfer),
        np.full(field.flux.y.shape, transfer),
        np.where(
            _looks_up(field.grid),
            surface_deposition(settling, transfer, "floor"),
            surface_deposition(settling, transfer, "ceiling"),
        ),
    )
    parts = [
        np.where((flux == 0.0) & (taken == 0.0), value, 0.0)
        for value, flux, taken in zip(values, field.flux.axes, open_faces.axes, strict=True)
    ]
    return FaceArrays(*parts)


def _looks_up(grid: Grid) -> BoolArray:
    """Return which faces normal to z have air above them, shape (nx, ny, nz + 1)."""
    above = np.zeros((grid.nx, grid.ny, grid.nz + 1), dtype=np.bool_)
    above[:, :, :-1] = grid.fluid
    return above


def stagnation_gradient(field: Field, weights: FloatArray, area: float) -> float:
    """Return the velocity gradient of the downflow that meets a workpiece.

    Parameters
    ----------
    field : Field
        Air flow.
    weights : array, shape (nx, ny, nz)
        Cells right over the workpiece; they sum to 1. [-]
    area : float
        Of the workpiece. [m2]

    Returns
    -------
    float
        The larger of what the field shows, ``-(dw/dz)/2`` in these cells, and what a disk of that
        area meets in an even flow; 0 where the air does not come down. [1/s]
    """
    x, y, z = np.nonzero(weights)
    part = weights[x, y, z]
    top = -field.flux.z[x, y, z + 1] / field.grid.face_areas[2]
    bottom = -field.flux.z[x, y, z] / field.grid.face_areas[2]
    down = float(part @ top)
    if down <= 0.0:
        return 0.0
    seen = 0.5 * float(part @ (top - bottom)) / field.grid.dz
    return max(seen, disk_gradient(down, 2.0 * math.sqrt(area / math.pi)))


def workpiece_deposition(body: Particle, gradient: float) -> float:
    """Return the deposition velocity on a level workpiece under the downflow.

    Parameters
    ----------
    body : Particle
        The particle.
    gradient : float
        As `stagnation_gradient`. [1/s]

    Returns
    -------
    float
        Settling alone without a downflow. [m/s]
    """
    if gradient <= 0.0:
        return body.settling_velocity
    viscosity = body.schmidt * body.diffusion
    return stagnation_deposition(body.settling_velocity, body.diffusion, gradient, viscosity)


def landing_rates(sizes: FloatArray, concentration: FloatArray, velocity: FloatArray) -> FloatArray:
    """Return what lands of some sizes and larger.

    Parameters
    ----------
    sizes : array, shape (n,)
        Particle sizes, in any order. [m]
    concentration : array, shape (n,)
        Particles of these sizes and larger. [1/m3]
    velocity : array, shape (n,)
        Deposition velocity of each size. [m/s]

    Returns
    -------
    array, shape (n,)
        Particles of these sizes and larger per area and time. [1/(m2 s)]

    Notes
    -----
    Between two sizes counts and velocities follow power laws, which are integrated exactly; those
    above the largest size land at its velocity, a lower bound. Own derivation.
    """
    order = np.argsort(sizes)
    size, count, speed = sizes[order], concentration[order], velocity[order]
    landed = np.empty(size.size)
    landed[-1] = count[-1] * speed[-1]
    for i in range(size.size - 2, -1, -1):
        step = _between(size[i + 1] / size[i], (count[i], count[i + 1]), (speed[i], speed[i + 1]))
        landed[i] = landed[i + 1] + step
    out = np.empty(size.size)
    out[order] = landed
    return out


def _between(ratio: float, counts: tuple[float, float], speeds: tuple[float, float]) -> float:
    """Return what lands of particles between two sizes, per area and time."""
    more, fewer = counts
    if more <= fewer or ratio <= 1.0:
        return max(more - fewer, 0.0) * speeds[0]
    if fewer <= 0.0:
        return more * speeds[0]
    fall = math.log(more / fewer) / math.log(ratio)
    rise = math.log(speeds[1] / speeds[0]) / math.log(ratio)
    if abs(fall - rise) < SAME * fall:
        return more * speeds[0] * fall * math.log(ratio)
    return more * speeds[0] * fall / (fall - rise) * -math.expm1((rise - fall) * math.log(ratio))
