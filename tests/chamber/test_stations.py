"""Stations that stand alone: their potential against the field of the whole chamber."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.chamber.boundary import add_wall_flux, zero_flux
from flowsim.chamber.grid import Box, Grid, with_boxes
from flowsim.chamber.potential import solve_field
from flowsim.chamber.stations import station_potential

BOXES = [Box(0.3, 0.7, 0.2, 0.4, 0.0, 0.3), Box(0.3, 1.1, 0.1, 0.3, 0.5, 0.6)]


def chamber(solid: bool) -> Grid:
    """Return a small chamber, with solids or without."""
    plain = Grid(7, 6, 8, 1.4, 0.6, 0.8)
    return Grid(7, 6, 8, 1.4, 0.6, 0.8, with_boxes(plain, BOXES)) if solid else plain


@pytest.mark.parametrize("solid", [False, True])
def test_potential_carries_what_the_field_carries(solid: bool) -> None:
    """Air that enters through the ceiling and leaves through the front of each station."""
    grid = chamber(solid)
    draw = np.random.default_rng(2).random((grid.nx, grid.nz))
    rain = np.tile(draw.sum(axis=1, keepdims=True) / grid.ny, (1, grid.ny))
    flux = zero_flux(grid)
    add_wall_flux(flux, grid, "ceiling", rain)
    add_wall_flux(flux, grid, "front", draw, inward=False)
    field = solve_field(grid, flux, "stacked")
    sources = np.zeros(grid.shape)
    sources[:, :, -1] += rain
    sources[:, 0] -= draw
    potential = station_potential(grid, sources)
    weight = grid.face_areas[2] / grid.dz
    rising = (potential[:, :, :-1] - potential[:, :, 1:]) * weight
    joined = grid.fluid[:, :, 1:] & grid.fluid[:, :, :-1]
    assert rising[joined] == pytest.approx(field.flux.z[:, :, 1:-1][joined], abs=1e-12)


@settings(deadline=None, max_examples=20, derandomize=True)
@given(st.integers(0, 10_000), st.booleans())
def test_answers_are_mutual(seed: int, solid: bool) -> None:
    """The weight of one set of sources in the answer to another is the same both ways."""
    grid, draw = chamber(solid), np.random.default_rng(seed)
    sets = []
    for _ in range(2):
        values = np.where(grid.fluid, draw.standard_normal(grid.shape), 0.0)
        count = grid.fluid.sum(axis=(1, 2), keepdims=True)
        sets.append(
            np.where(grid.fluid, values - values.sum(axis=(1, 2), keepdims=True) / count, 0.0)
        )
    answers = [station_potential(grid, values) for values in sets]
    crossed = [(answers[i] * sets[1 - i])[grid.fluid].sum() for i in (0, 1)]
    assert crossed[0] == pytest.approx(crossed[1], rel=1e-9, abs=1e-12)
