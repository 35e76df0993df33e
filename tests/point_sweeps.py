"""Sweeps of the stand-ins in `sweep_points`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files
from typing import Any

from sweep_points import KEY, LOWEST, STEP

from flowsim.batch.plan_points import Range, Sweep, sweep_from_python
from flowsim.case.read import read_case


def a_sweep(count: int, **more: Any) -> Sweep:
    """Return a sweep whose point number n has the room pressure LOWEST + n STEP."""
    case = read_case(str(files("flowsim.case").joinpath("starter.toml")))
    span = Range(LOWEST + STEP, LOWEST + count * STEP, count)
    axes = {KEY: span if count > 1 else [LOWEST + STEP]}
    return sweep_from_python(case, axes, **{"keep": ("supply_flow", "draw_ratio"), **more})


def in_order(sweep: Sweep, order: Sequence[int]) -> Sweep:
    """Return the same points in another order."""
    return replace(sweep, points=[sweep.points[place] for place in order])
