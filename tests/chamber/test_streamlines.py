"""Lines along the air keep to the air."""

from __future__ import annotations

import numpy as np
import pytest

from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, overlap
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.streamlines import section_flow, section_streamlines
from flowsim.chamber.velocity import stream_function
from flowsim.errors import RangeError


def downflow_to_a_slot(solid: bool = False) -> Field:
    """Return air that comes down evenly and leaves through a slot in the floor (box A)."""
    mask = np.zeros((1, 50, 40), dtype=np.bool_)
    mask[:, 15:25, :8] = True
    grid = Grid(1, 50, 40, 1.0, 1.0, 0.8, mask if solid else None)
    flux: FaceFlux = zero_flux(grid)
    top = np.full((1, 50), 1.0 / 50.0)
    floor = overlap(grid.edges[1], 0.55, 0.75)[None, :]
    add_wall_flux(flux, grid, "ceiling", top)
    add_wall_flux(flux, grid, "floor", floor / floor.sum(), inward=False)
    return solve_field(grid, flux, "section")


def test_every_line_ends_in_the_slot() -> None:
    """What enters at the ceiling leaves through the floor's slot, nowhere else."""
    lines, step = section_streamlines(section_flow(downflow_to_a_slot(), 1, 0), 12)
    assert len(lines) == 12
    assert step == pytest.approx(1.0 / 12.0)
    ends = np.array([line[-1] for line in lines])
    assert np.all(ends[:, 1] < 0.03)
    assert np.all((ends[:, 0] > 0.54) & (ends[:, 0] < 0.76))


def test_lines_follow_the_stream_function() -> None:
    """In a plane without sideways flow psi is constant along each line."""
    field = downflow_to_a_slot()
    psi = stream_function(field, "x", 0)
    y, z = field.grid.edges[1], field.grid.edges[2]
    lines, _ = section_streamlines(section_flow(field, 1, 0), 8)
    for line in lines:
        inner = line[(line[:, 1] > 0.2) & (line[:, 1] < 0.75)]
        j = np.searchsorted(y, inner[:, 0]) - 1
        k = np.searchsorted(z, inner[:, 1]) - 1
        a = (inner[:, 0] - y[j]) / (y[1] - y[0])
        b = (inner[:, 1] - z[k]) / (z[1] - z[0])
        value = (
            psi[j, k] * (1 - a) * (1 - b)
            + psi[j + 1, k] * a * (1 - b)
            + psi[j, k + 1] * (1 - a) * b
            + psi[j + 1, k + 1] * a * b
        )
        assert np.ptp(value) < 0.01 * np.ptp(psi)


def test_no_line_enters_a_solid() -> None:
    """Lines go round a box on the floor."""
    lines, _ = section_streamlines(section_flow(downflow_to_a_slot(solid=True), 1, 0), 20)
    for line in lines:
        inside = (line[:, 0] > 0.301) & (line[:, 0] < 0.499) & (line[:, 1] < 0.159)
        assert not inside.any()


def test_still_air_has_no_lines() -> None:
    """Nothing enters, nothing is drawn."""
    grid = Grid(1, 6, 5, 1.0, 1.0, 0.8)
    field = solve_field(grid, zero_flux(grid), "section")
    assert section_streamlines(section_flow(field, 1, 0), 10) == ([], 0.0)


def test_unknown_axis_is_refused() -> None:
    """Only upright sections exist."""
    with pytest.raises(RangeError, match="got axis 2"):
        section_flow(downflow_to_a_slot(), 2, 0)
