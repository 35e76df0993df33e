"""What the loading of a filter asks of the setting behind it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.plan.window_choice import rounded
from flowsim.plan.window_drift import walk
from flowsim.plan.window_fields import Surfaces
from flowsim.plan.window_map import FINE, Plane, draw_map, explore
from flowsim.plan.window_solve import Bench
from flowsim.report.window_result import Follow, FollowStep, SetPoint, Setting

__all__ = ["follow_loading"]

STEPS = 5
COARSE = (3, 4)
NEAR = 0.15
UNDER, OVER = 0.8, 1.35  # of the ends of the drift, ends of the map
KEPT = 0.01  # of the flow, to which it is kept
TRIALS = 3
RESERVE = 12  # solves for the steps and the way to the loading that breaks a limit


def follow_loading(
    bench: Bench,
    axes: tuple[Setting, ...],
    proposed: SetPoint,
    found: tuple[Setting, str, int],
    most: int,
) -> Follow | None:
    """Map one setting against the loading of a filter, and follow the flow.

    Parameters
    ----------
    bench : Bench
        Solves.
    axes : tuple of Setting
        What is set.
    proposed : SetPoint
        At the present loading; every limit is met there.
    found : tuple of Setting, str and int
        The loading as an axis, the filter in words, and which of the settings follows.
    most : int
        Solves that may have been made on the bench by the end. [-]

    Returns
    -------
    Follow or None
        None where no flow is known.
    """
    loading, name, index = found
    start = proposed.values
    flow_name = "supply_flow" if axes[index].name.startswith("supply") else "exhaust_flow"
    fixed = {axis.key: value for k, (axis, value) in enumerate(zip(axes, start, strict=True))
             if k != index}  # fmt: skip
    plane = Plane(bench, (loading, _near(axes[index], proposed, index)), fixed, near=NEAR)
    begin = (loading.present, start[index])
    first = plane.solve(begin)
    flow = first.flows.get(flow_name)
    if flow is None:
        return None
    loadings = np.linspace(loading.low, loading.high, STEPS).tolist()
    explore(plane, 0, (), COARSE)
    if proposed.drift is not None:
        sides = [side.value for side in proposed.drift.alone[index] if side.beyond is not None]
        _shift_borders(plane, sides, loadings, flow_name)
    explore(plane, most - RESERVE, (), (0, 0))
    loadings = sorted({*loadings, loading.present})
    steps = tuple(_step(plane, value, begin, (flow_name, flow)) for value in loadings)
    way = walk(plane, plane.surfaces(), begin, np.array([1.0, 0.0]))
    return Follow(
        key=loading.key,
        filter=name,
        present=loading.present,
        start=start,
        followed=index,
        flow=flow,
        map=draw_map(plane, begin),
        steps=steps,
        breaks=None if way.beyond is None else loading.present * (1.0 + way.inside),
        beyond=way.beyond,
    )


def _near(axis: Setting, proposed: SetPoint, index: int) -> Setting:
    """Return a setting with the range that loading can ask for: the flow goes with its root."""
    ends = (proposed.values[index], proposed.values[index])
    if proposed.drift is not None:
        ends = (proposed.drift.alone[index][0].value, proposed.drift.alone[index][1].value)
    low, high = max(axis.low, UNDER * ends[0]), min(axis.high, OVER * ends[1])
    return replace(axis, low=low, high=high)


def _shift_borders(plane: Plane, sides: list[float], loadings: list[float], flow_name: str) -> None:
    """Solve where the borders should lie at other loadings: at the flows that they have at one."""
    surfaces = plane.surfaces()
    axis, present = plane.axes[1], plane.axes[0].present
    flows = surfaces.fields(np.array([(present, side) for side in sides]).reshape(-1, 2))[flow_name]
    settings = np.geomspace(axis.low, axis.high, FINE[2] * 4)
    for loading in loadings:
        places = np.column_stack([np.full_like(settings, loading), settings])
        given = surfaces.fields(places)[flow_name]
        for flow in flows.tolist():
            if given[0] < flow < given[-1]:
                plane.solve((loading, float(np.interp(flow, given, settings))))


def _step(
    plane: Plane, loading: float, begin: tuple[float, float], wanted: tuple[str, float]
) -> FollowStep:
    """Return the setting that keeps the flow at one loading."""
    axis = plane.axes[1]
    surfaces = plane.surfaces()
    settings = np.geomspace(axis.low, axis.high, FINE[2] * 4)
    places = np.column_stack([np.full_like(settings, loading), settings])
    met = surfaces.levels(places).met
    flows = surfaces.fields(places)[wanted[0]]
    low, high = _between(settings, met, flows, wanted[1])
    value = begin[1] if loading == begin[0] else _kept(plane, surfaces, loading, wanted)
    if value is None:
        return FollowStep(loading, None, None, low, high)
    return FollowStep(loading, value, plane.solve((loading, value)).state, low, high)


def _between(
    settings: FloatArray, met: FloatArray, flows: FloatArray, flow: float
) -> tuple[float | None, float | None]:
    """Return the ends of the met range that holds the flow, else of the widest one."""
    inside = np.flatnonzero(met >= 0.0)
    if not len(inside):
        return None, None
    groups = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
    near = int(np.nanargmin(np.abs(flows - flow)))
    group = next((part for part in groups if part[0] <= near <= part[-1]), None)
    group = max(groups, key=len) if group is None else group
    return float(settings[group[0]]), float(settings[group[-1]])


def _kept(
    plane: Plane, surfaces: Surfaces, loading: float, wanted: tuple[str, float]
) -> float | None:
    """Return the setting at which the flow is kept, None where the map ends first."""
    axis, (name, flow) = plane.axes[1], wanted
    settings = np.geomspace(axis.low, axis.most, FINE[2] * 4)
    places = np.column_stack([np.full_like(settings, loading), settings])
    flows = surfaces.fields(places)[name]
    if not flows[0] <= flow <= flows[-1]:
        return None
    value = float(np.interp(flow, flows, settings))
    slope = float(np.interp(flow, flows, np.gradient(settings, flows)))
    set_to = rounded([axis], (value,))[0]
    for _ in range(TRIALS):
        got = plane.solve((loading, set_to)).flows.get(name)
        if got is None or abs(got - flow) <= KEPT * flow:
            break
        value += slope * (flow - got)
        set_to = rounded([axis], (value,))[0]
    return set_to if set_to <= axis.most * (1.0 + 1e-9) else None
