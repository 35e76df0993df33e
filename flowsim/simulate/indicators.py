"""Key figures from the solved models."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from flowsim._arrays import FloatArray
from flowsim.network.layered import LayeredOpening
from flowsim.physics.two_way import blocking_flow
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.layout import actual
from flowsim.simulate.needs import ALL, Needs
from flowsim.simulate.refinement import draw_figures
from flowsim.simulate.registry import FIGURES
from flowsim.simulate.response import opening_laws
from flowsim.simulate.result import (
    BranchState,
    CompartmentState,
    OpeningProfile,
    PlateDraw,
    Quantity,
)
from flowsim.simulate.statistics import relative_deviation
from flowsim.simulate.transport_figures import transport_rows
from flowsim.simulate.transport_result import Transport

__all__ = ["Readings", "key_figures"]

CLOSE = 1e-14  # of a drift that turns a front
CROSSFLOW_TRUST = 0.5  # q/E above which only the sign of the front's velocity is trusted


@dataclass(frozen=True)
class Readings:
    """What the models show, collected once.

    Parameters
    ----------
    state : Coupled
        All models.
    openings : tuple of OpeningProfile
        Fronts.
    compartments : tuple of CompartmentState
        Trays.
    branches : tuple of BranchState
        Network.
    plate : PlateDraw or None
        Plate and plenum.
    downflow : array, shape (nx, ny), or None
        Downward velocity at the measuring height. [m/s]
    """

    state: Coupled
    openings: tuple[OpeningProfile, ...]
    compartments: tuple[CompartmentState, ...]
    branches: tuple[BranchState, ...]
    plate: PlateDraw | None
    downflow: FloatArray | None


Values = dict[str, float | None]


def _branch(readings: Readings, name: str) -> BranchState | None:
    """Return a branch by name, None if the case has none."""
    return next((branch for branch in readings.branches if branch.name == name), None)


def _movers(readings: Readings) -> Values:
    """Return what supply and exhaust do."""
    supply = _branch(readings, "supply fan")
    media = _branch(readings, "supply filter")
    exhaust = _branch(readings, "exhaust fan") or _branch(readings, "exhaust suction")
    layout = readings.state.layout
    x0, x1, y0, y1 = layout.filter_patch
    chamber_flow = media or supply
    values: Values = {
        "supply_flow": None if supply is None else supply.flow,
        "supply_face_velocity": None,
        "supply_fan_pressure": None if supply is None else -supply.drop,
        "supply_filter_pressure_drop": None if media is None else media.drop,
        "exhaust_flow": None if exhaust is None else exhaust.flow,
        "exhaust_fan_pressure": None,
    }
    if chamber_flow is not None:
        flow = actual(layout, readings.state.solution.flows[chamber_flow.name])
        values["supply_face_velocity"] = flow / ((x1 - x0) * (y1 - y0))
    if exhaust is not None and exhaust.name == "exhaust fan":
        values["exhaust_fan_pressure"] = -exhaust.drop
    return values


def _one_front(profile: OpeningProfile, patches: FloatArray) -> Values:
    """Return the key figures of one opening from its profile and the area of its patches."""
    velocity, area = profile.velocity, patches.sum(axis=1)
    ratio = profile.crossflow / np.where(profile.drive > 0.0, profile.drive, np.nan)
    inward = float(patches[profile.layer_velocity < 0.0].sum())
    outflow = float(profile.outflow.sum() - profile.inflow.sum())
    return {
        "front_outflow": outflow,
        "front_velocity_mean": outflow / float(area.sum()),
        "front_velocity_min": float(velocity.min()),
        "front_velocity_max": float(velocity.max()),
        "front_inflow_share": inward / float(area.sum()),
        "front_in_flow": float(profile.inflow.sum()),
        "front_out_flow": float(profile.outflow.sum()),
        "front_drive": float((profile.drive * area).sum() / area.sum()),
        "crossflow_ratio": float(np.nanmax(ratio)) if np.isfinite(ratio).any() else None,
    }


def _fronts(readings: Readings) -> list[tuple[str, Values]]:
    """Return the key figures of each opening, with its margins."""
    state = readings.state
    rows = []
    for profile, plan in zip(readings.openings, state.layout.openings, strict=True):
        values = _one_front(profile, plan.area)
        weakest = float((profile.drive - profile.crossflow).min())
        inward = profile.velocity.min() < 0.0
        density = state.layout.chamber_air.density
        margin = None if inward or weakest < 0.0 else float(np.sqrt(2.0 * weakest / density))
        values["draught_margin"] = margin
        values["blocking_flow"] = None
        if state.layout.buoyant and plan.opening.wall != "ceiling":
            opening = plan.opening
            lighter, heavier = sorted(
                (state.layout.chamber_air.density, state.layout.room_air.density)
            )
            values["blocking_flow"] = blocking_flow(
                opening.width, opening.height, lighter, heavier, opening.discharge_coefficient
            )
        rows.append((profile.label, values))
    return rows


def _turning_flow(laws: Sequence[LayeredOpening], scale: float, outward: bool) -> float:
    """Return the net outflow at which the first patch turns, the passing air scaled. [m3/s]

    The dynamic pressure of the passing air grows with the square of the flow that drives it.
    """
    scaled = [replace(law, crossflow=law.crossflow * scale**2) for law in laws]
    neutral = [law.neutral_drop() for law in scaled]
    drive = max(high for _, high in neutral) if outward else min(low for low, _ in neutral)
    return sum(law.flow(drive)[0] for law in scaled)


def _supply_drift(
    laws: Sequence[LayeredOpening], now: float, supply: float, outward: bool
) -> float:
    """Return the relative drift of the supply that turns the front, 1 if none does. [-]"""
    sign = -1.0 if outward else 1.0

    def left(drift: float) -> float:
        scale = 1.0 + sign * drift
        return (now + sign * drift * supply) - _turning_flow(laws, scale, outward)

    start = left(0.0)
    if start == 0.0 or start * left(1.0) >= 0.0:
        return 0.0 if start == 0.0 else 1.0
    return float(brentq(left, 0.0, 1.0, xtol=CLOSE))


def balance_margin(readings: Readings) -> float | None:
    """Return the least relative drift of supply or exhaust that turns the first part of a front.

    A drift of the supply carries the passing air along with it; one of the exhaust leaves it as
    it is. All openings share one drive.

    Parameters
    ----------
    readings : Readings
        Solved models.

    Returns
    -------
    float or None
        0 where part of a front has turned already; 1 where the supply alone would have to stop;
        None without opening or moving air. [-]
    """
    state = readings.state
    laws = opening_laws(state.layout, state.network)
    flows = state.solution.flows
    supply = abs(flows.get("supply fan", 0.0))
    exhaust = max(abs(flows.get(name, 0.0)) for name in ("exhaust fan", "exhaust suction"))
    if not laws or max(supply, exhaust) == 0.0:
        return None
    drive = state.chamber_drive
    lowest = min(law.neutral_drop()[0] for law in laws)
    highest = max(law.neutral_drop()[1] for law in laws)
    if lowest <= drive <= highest:
        return 0.0
    outward = drive > highest
    now = sum(law.flow(drive)[0] for law in laws)
    margins = [1.0]
    if supply > 0.0:
        margins.append(_supply_drift(laws, now, supply, outward))
    if exhaust > 0.0:
        margins.append(abs(now - _turning_flow(laws, 1.0, outward)) / exhaust)
    return min(margins)


def _chamber(readings: Readings, needs: Needs) -> Values:
    """Return pressures of the chamber and leaks."""
    state = readings.state
    leaks = [
        actual(state.layout, state.solution.flows[branch.name])
        for branch in readings.branches
        if branch.kind == "leak" and branch.name != "room leaks"
    ]
    case = state.layout.case
    supply = state.solution.flows.get("supply fan", 0.0)
    passing = [float(p.crossflow.max()) for p in readings.openings]
    volume = case.chamber.width * case.chamber.depth * case.chamber.height
    return {
        "balance_margin": balance_margin(readings) if needs.any({"balance_margin"}) else None,
        "leak_flow": sum(leaks),
        "chamber_pressure": state.chamber_drive,
        "chamber_static_pressure": state.chamber_drive - max(passing, default=0.0),
        "room_pressure": state.solution.pressures["room"],
        "air_change_time": volume / supply if supply > 0.0 else None,
    }


def _lumped_choking(state: Coupled, drop: float) -> float | None:
    """Return M for a port at one end from the figures of the network alone. [-]"""
    layout, plenum = state.layout, state.layout.case.plenum
    if plenum is None or layout.plate_area == 0.0 or drop <= 0.0:
        return None
    flow = actual(layout, state.solution.flows["work surface"])
    speed = flow / (plenum.height * layout.case.chamber.depth)
    return layout.chamber_air.density * speed**2 / drop


def _plenum(readings: Readings) -> Values:
    """Return the draw of the plate and the pressure in the plenum."""
    state, plate, header = readings.state, readings.plate, readings.state.header
    values: Values = dict.fromkeys(
        (
            "plenum_pressure_mean",
            "plenum_pressure_spread",
            "plate_pressure_drop",
            "draw_ratio",
            "draw_rsd",
            "choking_number",
            "tube_draw_ratio",
        )
    )
    if plate is None or header is None:
        if state.layout.plate is not None and "plenum" in state.solution.pressures:
            mean = state.solution.pressures["plenum"] - state.solution.pressures["room"]
            values["plenum_pressure_mean"] = mean
            values["plate_pressure_drop"] = state.chamber_drive - mean
            values["choking_number"] = _lumped_choking(state, state.chamber_drive - mean)
        return values
    mean = header.mean_pressure + state.chamber_drive
    values["plenum_pressure_mean"] = mean
    values["plate_pressure_drop"] = -header.mean_pressure
    means = plate.pressure.mean(axis=1)
    values["plenum_pressure_spread"] = float(means.max() - means.min())
    if header.tube is not None and np.isfinite(header.tube.draw_ratio):
        values["tube_draw_ratio"] = header.tube.draw_ratio
    ratio, deviation = draw_figures(header.velocity, plate.open_share)
    if deviation is not None:
        values["choking_number"] = header.choking_number
    values["draw_ratio"], values["draw_rsd"] = ratio, deviation
    return values


def _downflow(readings: Readings) -> Values:
    """Return the evenness of the downflow at the measuring height."""
    names = ("downflow_mean", "downflow_min", "downflow_max", "downflow_rsd")
    if readings.downflow is None:
        return dict.fromkeys(names)
    values = readings.downflow[np.isfinite(readings.downflow)]
    mean = float(values.mean())
    spread = relative_deviation(values, np.ones_like(values)) if mean != 0.0 else None
    return dict(zip(names, (mean, float(values.min()), float(values.max()), spread), strict=True))


def _compartment_values(item: CompartmentState) -> Values:
    """Return the key figures of one compartment."""
    return {
        "compartment_pressure": item.pressure,
        "slit_velocity_min": item.slit_velocity_min,
        "slit_velocity_mean": item.slit_velocity_mean,
        "bypass_share": item.bypass_share,
    }


def mass_balance_error(state: Coupled) -> float:
    """Return the largest imbalance of any node or cell over the largest flow. [-]"""
    errors = [state.solution.mass_residual]
    largest = max((abs(flow) for flow in state.solution.flows.values()), default=0.0)
    errors = [state.solution.mass_residual / largest if largest > 0.0 else 0.0]
    if state.field is not None:
        errors.append(state.field.divergence)
    errors += [part.mass_residual for part in (state.header, state.supply_box) if part is not None]
    return max(errors)


_GOVERNING: dict[str, Callable[[Sequence[float]], float]] = {"largest": max, "smallest": min}


def _gather(rows: list[tuple[str, Values]]) -> Values:
    """Return the governing figure of several things, then the figure of each by label."""
    out: Values = {}
    if not rows:
        return out
    for name in rows[0][1]:
        known = [row[name] for _, row in rows if row[name] is not None]
        worst = _GOVERNING[FIGURES[name].worst]
        out[name] = worst([value for value in known if value is not None]) if known else None
        for label, row in rows:
            if len(rows) > 1:
                out[f"{name}[{label}]"] = row[name]
    return out


def _transport(readings: Readings, transport: Transport) -> Values:
    """Return the key figures of vapour and dust."""
    layout = readings.state.layout
    values, releases, workpieces = transport_rows(layout.case, layout.grid, transport)
    values.update(_gather(releases))
    values.update(_gather(workpieces))
    classed = [item for item in transport.workpieces if item.iso_class is not None]
    if classed:
        worst = max(classed, key=lambda item: item.iso_class or 0.0)
        values["iso_class_worst_size"] = worst.worst_size
    return values


def key_figures(
    readings: Readings,
    indicative: frozenset[str],
    transport: Transport | None = None,
    needs: Needs = ALL,
) -> dict[str, Quantity]:
    """Return all key figures in the order of the registry.

    Parameters
    ----------
    readings : Readings
        Solved models.
    indicative : frozenset of str
        Names of figures of which only the trend counts.
    transport : Transport or None
        What the air carries where.
    needs : Needs
        Which figures are wanted; the costly ones among the others are left out.

    Returns
    -------
    dict of str to Quantity
        Plain names first come with the governing value, ``name[label]`` after each.
    """
    values: Values = {}
    values.update(_movers(readings))
    values.update(_gather(_fronts(readings)))
    values.update(_chamber(readings, needs))
    values.update(_plenum(readings))
    values.update(_downflow(readings))
    values.update(_gather([(c.label, _compartment_values(c)) for c in readings.compartments]))
    if transport is not None:
        values.update(_transport(readings, transport))
    values["mass_balance_error"] = mass_balance_error(readings.state)
    figures: dict[str, Quantity] = {}
    for name, figure in FIGURES.items():
        matching = [key for key in values if key == name or key.startswith(f"{name}[")]
        for key in matching or [name]:
            value = values.get(key)
            figures[key] = Quantity(
                None if value is None else float(value),
                figure.unit,
                figure.meaning,
                figure.symbol,
                figure.source,
                name in indicative,
            )
    return figures
