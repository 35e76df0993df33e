"""Assumptions and warnings of a run, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from flowsim.network.solve import network_validity
from flowsim.physics.filter_media import jet_on_filter_bound
from flowsim.physics.opening_barrier import DRAUGHT_LINE, draught_share
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.indicators import CROSSFLOW_TRUST, Readings
from flowsim.simulate.layout import actual
from flowsim.simulate.refinement import LEAST_CELLS, draw_refinement
from flowsim.simulate.result import OpeningProfile, Quantity

__all__ = ["assumptions", "doubts", "indicative_names", "warnings_of"]

CHOKING = 4.0
DOWNFLOW_HEADS = 10.0
HOLE_SPEED_SHARE = 0.8
JET_DECAY = 2.47  # plane jet, centreline over exit velocity times sqrt(x/height), from memory
BAROMETER = 1.0  # Pa

FRONT_FIGURES = frozenset(
    {"front_velocity_min", "front_velocity_max", "draught_margin", "balance_margin"}
)
DRAW_FIGURES = frozenset({"draw_ratio", "draw_rsd"})
FIELD_FIGURES = frozenset({"downflow_min", "downflow_max", "downflow_rsd", "downflow_mean"})


def indicative_names(state: Coupled, openings: tuple[OpeningProfile, ...]) -> frozenset[str]:
    """Return the key figures of which only the trend counts in this state.

    Parameters
    ----------
    state : Coupled
        Solved models.
    openings : tuple of OpeningProfile
        Fronts.

    Returns
    -------
    frozenset of str
        Names.
    """
    names: set[str] = set()
    for profile in openings:
        blowing = profile.velocity > 0.0
        strong = profile.crossflow > CROSSFLOW_TRUST * profile.drive
        if np.any(blowing & strong):
            names |= FRONT_FIGURES
        if state.field is not None and np.any(profile.inflow > 0.0):
            names |= FRONT_FIGURES | FIELD_FIGURES
    if state.field is not None and _is_coarse(state):
        names |= FRONT_FIGURES | FIELD_FIGURES | DRAW_FIGURES
    if state.layout.case.numerics.fidelity == "stacked" and state.layout.grid.solid is not None:
        names |= FIELD_FIGURES - {"downflow_mean"}
    header = state.header
    if header is not None and header.choking_number > CHOKING:
        names |= {"draw_ratio", "draw_rsd", "plenum_pressure_spread", "plate_pressure_drop"}
    return frozenset(names)


def doubts(state: Coupled, quantities: dict[str, Quantity]) -> dict[str, float]:
    """Return the spread of the figures that the plate's law and the size of the cells decide.

    Parameters
    ----------
    state : Coupled
        Solved models.
    quantities : dict of str to Quantity
        Key figures.

    Returns
    -------
    dict of str to float
        Spread in the figure's unit. [any]
    """
    layout = state.layout
    if layout.plate is None or layout.plate_area == 0.0:
        return {}
    flow = actual(layout, state.solution.flows.get("work surface", 0.0))
    share = layout.plate.loss_spread(flow / layout.plate_area)
    spread: dict[str, float] = {}
    drop = quantities["plate_pressure_drop"].value
    if drop is not None:
        spread["plate_pressure_drop"] = share * abs(drop)
        spread["plenum_pressure_mean"] = share * abs(drop)
    cells = draw_refinement(state) or (0.0, 0.0)
    ratio = quantities["draw_ratio"].value
    if ratio is not None:
        spread["draw_ratio"] = share * (ratio - 1.0) + cells[0]
    deviation = quantities["draw_rsd"].value
    if deviation is not None:
        spread["draw_rsd"] = share * deviation + cells[1]
    return spread


def assumptions(state: Coupled) -> tuple[str, ...]:
    """Return what the run takes for granted.

    Parameters
    ----------
    state : Coupled
        Solved models.
    """
    return tuple(_assumptions(state))


def _assumptions(state: Coupled) -> Iterator[str]:
    layout, case = state.layout, state.layout.case
    outside, inside = layout.room_air, layout.chamber_air
    yield (
        f"Air: room {outside.density:.4f} kg/m3, chamber {inside.density:.4f} kg/m3, steady and "
        "incompressible; the chamber is at one temperature."
    )
    if state.field is not None:
        cells = " x ".join(str(count) for count in case.numerics.cells)
        yield f"Grid: {cells} cells along width, depth and height."
    if state.field is None:
        yield (
            "Fidelity network: resistances alone, no air passing the openings, the plenum at one "
            "pressure."
        )
    else:
        yield (
            "Chamber: potential flow; no wakes, no jets, no recirculation behind arms and objects, "
            "no room currents."
        )
    if case.supply is not None and case.supply.filter is not None and case.supply.box is None:
        yield "The supply leaves the filter evenly over its face."
    if case.supply is not None and case.supply.filter is None:
        yield "No supply filter: the air is taken to come evenly out of the whole ceiling."
    for opening in case.openings:
        if opening.state == "open":
            yield (
                f"Opening {opening.label}: discharge coefficient "
                f"{opening.discharge_coefficient:g}; for two-way flow published values lie "
                "between 0.42 and 0.7."
            )
    for leak in case.leaks:
        if leak.at == "chamber":
            yield f"Leak {leak.label}: spread evenly over the side walls of the chamber."
    yield from _exhaust_assumptions(state)


def _exhaust_assumptions(state: Coupled) -> Iterator[str]:
    case = state.layout.case
    if case.plenum is not None and state.header is not None:
        yield (
            f"Plenum: irrotational, momentum coefficient {case.plenum.momentum_coefficient:g} "
            "where air joins (published values go up to 1.35)."
        )
    for item in case.compartments:
        if item.floor is not None and item.floor.gap > 0.0 and not item.floor.blocked:
            yield (
                f"Compartment {item.label}: the gap under it is resolved from its rim to its "
                "middle, laminar, with an entry loss of 1.5 dynamic heads at the rim; floor holes "
                "are spread evenly."
            )
    for name, part in (("supply", case.supply), ("exhaust", case.exhaust)):
        if part is not None and part.fan is not None and not part.running:
            yield (
                f"The {name} fan stands still: it resists as its shut-off pressure at its free "
                "flow (assumed)."
            )


def warnings_of(readings: Readings, figures: Mapping[str, Quantity]) -> tuple[str, ...]:
    """Return what left its range, and what a user must know of this state.

    Parameters
    ----------
    readings : Readings
        Solved models.
    figures : mapping of str to Quantity
        Key figures.
    """
    found = list(network_validity(readings.state.network, readings.state.solution))
    found += _front_warnings(readings)
    found += _plenum_warnings(readings)
    found += _lumped_warnings(figures, readings.state)
    found += _compartment_warnings(readings)
    found += _fan_warnings(readings.state)
    found += _supply_warnings(readings)
    found += _cut_warnings(readings.state)
    found += _room_warning(readings.state)
    return tuple(dict.fromkeys(found))


def _front_warnings(readings: Readings) -> Iterator[str]:
    state = readings.state
    draught = state.layout.case.room.draught
    for profile in readings.openings:
        yield from _inflow_warning(state, profile)
        yield from _draught_warning(profile, draught)
        blowing = profile.velocity > 0.0
        weakest = float((profile.drive - profile.crossflow).min())
        head = 0.5 * state.layout.room_air.density * draught**2
        if draught > 0.0 and blowing.all() and head > weakest:
            yield (
                f"Opening {profile.label}: a head-on draught of {draught:.2f} m/s has more "
                "pressure than the weakest station of the front and would turn it."
            )


def _draught_warning(profile: OpeningProfile, draught: float) -> Iterator[str]:
    """Yield a warning where the draught is strong against the air through an opening."""
    area = float((profile.station_width * profile.height).sum())
    mean = float(profile.outflow.sum() - profile.inflow.sum()) / area
    share = draught_share(draught, mean)
    if share > DRAUGHT_LINE:
        size = f"{100.0 * share:.0f} % of" if share < 10.0 else "far above"
        yield (
            f"Opening {profile.label}: the draught of {draught:.2f} m/s is {size} the mean speed "
            "through it; above a third it is known to carry air across fronts (common practice, "
            "no source)."
        )


def _room_warning(state: Coupled) -> Iterator[str]:
    """Yield a warning where the exhaust takes more air out of the room than comes in."""
    case, flows = state.layout.case, state.solution.flows
    fresh = case.room.fresh_air
    taken = max((flows.get(name, 0.0) for name in ("exhaust fan", "exhaust suction")), default=0.0)
    if case.supply is not None and case.supply.intake == "outdoors":
        taken -= flows.get("supply fan", 0.0)
    if fresh is not None and taken > 1.001 * fresh:
        yield (
            f"The exhaust takes {3600.0 * taken:.0f} m3/h out of a room with {3600.0 * fresh:.0f} "
            "m3/h of fresh air: at least as much must come in again, or the room falls below "
            "outdoor pressure; what is breathed is computed with the fresh air stated."
        )


def _inflow_warning(state: Coupled, profile: OpeningProfile) -> Iterator[str]:
    """Yield the warning that belongs to inflow, with the reach of its jet."""
    if not np.any(profile.inflow > 0.0):
        return
    share = float(profile.inflow.sum()) / max(
        float(profile.inflow.sum() + profile.outflow.sum()), 1e-30
    )
    text = (
        f"Opening {profile.label} draws in ({100 * share:.0f} % of what passes it): room air "
        "enters as a jet, which potential flow does not follow; results near it are indicative"
    )
    fastest = float(-profile.layer_velocity.min())
    supply = state.solution.flows.get("supply fan", 0.0)
    x0, x1, y0, y1 = state.layout.filter_patch
    down = supply / ((x1 - x0) * (y1 - y0))
    if state.field is None or down <= 0.0:
        yield text + "."
        return
    reach = profile.height * (JET_DECAY * fastest / down) ** 2
    depth = state.layout.case.chamber.depth
    words = f"about {1000 * reach:.0f} mm" if reach < depth else "the whole depth"
    yield f"{text}; the jet reaches {words} before the downflow is as fast (plane jet, estimate)."


def _lumped_warnings(figures: Mapping[str, Quantity], state: Coupled) -> Iterator[str]:
    number = figures["choking_number"].value
    if state.header is None and number is not None and number > CHOKING:
        yield (
            f"Fidelity network takes the plenum as one pressure, but M = {number:.1f}: it chokes, "
            "and the exhaust draws less than computed here."
        )


def _plenum_warnings(readings: Readings) -> Iterator[str]:
    header, layout = readings.state.header, readings.state.layout
    if header is None or layout.plate is None or not np.any(header.velocity):
        return
    if header.choking_number > CHOKING:
        yield (
            f"The plenum chokes: M = {header.choking_number:.1f} (from 4 the port side takes "
            "several times what the far side takes); it is too low or the plate too open."
        )
    speed = float(np.hypot(header.velocity_x, header.velocity_y).max())
    hole = float(np.abs(header.velocity).max()) / layout.plate.free_area_ratio
    if speed > HOLE_SPEED_SHARE * hole:
        yield (
            f"The air in the plenum ({speed:.2f} m/s) is nearly as fast as in the holes "
            f"({hole:.2f} m/s): the plate's law does not know of such crossflow."
        )
    down = readings.downflow
    if down is not None:
        mean = float(np.nanmean(down))
        head = 0.5 * layout.chamber_air.density * mean**2
        if -header.mean_pressure < DOWNFLOW_HEADS * head:
            yield (
                "The plate drops less than 10 dynamic pressures of the downflow: it cannot keep "
                "the downflow even."
            )
    if np.any(header.velocity < 0.0):
        yield "Part of the plate blows upwards out of the plenum."


def _is_coarse(state: Coupled) -> bool:
    """Return whether the grid has too few cells to show anything."""
    case = state.layout.case
    counts = [case.numerics.cells[0], case.numerics.cells[1], case.numerics.cells[2]]
    if case.numerics.fidelity == "section":
        counts.pop(0 if case.numerics.section == "yz" else 1)
    hidden = any(not place.solid for place in state.layout.footprints)
    return min(counts) < LEAST_CELLS or (hidden and case.numerics.fidelity != "section")


def _compartment_warnings(readings: Readings) -> Iterator[str]:
    for place in readings.state.layout.footprints:
        item = place.compartment
        if item.floor is None or item.floor.blocked or item.floor.gap == 0.0:
            continue
        if item.floor.gap < 0.25 * item.floor.hole_diameter:
            yield (
                f"Compartment {item.label}: the gap under its floor holes is narrower than a "
                "quarter of their diameter; the air turns sharply there and the tray draws less "
                "than a free hole would."
            )
    for tray in readings.compartments:
        if tray.pressure > -BAROMETER:
            yield (
                f"Compartment {tray.label} lies less than 1 Pa below the chamber: nothing at hand "
                "can show that it draws, but smoke."
            )


def _fan_warnings(state: Coupled) -> Iterator[str]:
    for name, fan in state.dipped.items():
        taken = fan.taken
        others = [point for point in fan.stable if point is not taken]
        if others:
            flows = ", ".join(f"{3600 * point.flow:.0f}" for point in others)
            yield (
                f"The {name} can also settle at {flows} m3/h instead of {3600 * taken.flow:.0f} "
                "m3/h, which all figures are for: its curve has a dip; stay clear of it."
            )
        else:
            yield from fan.law.validity(taken.flow)


def _supply_warnings(readings: Readings) -> Iterator[str]:
    state = readings.state
    supply = state.layout.case.supply
    if supply is None or supply.box is None or supply.filter is None:
        return
    box = supply.box
    flow = state.solution.flows.get("supply fan", 0.0)
    drop = state.solution.drops.get("supply filter", 0.0)
    jet = flow / (box.inlet_width * box.inlet_height)
    if flow > 0.0 and drop > 0.0:
        excess = jet_on_filter_bound(jet, state.layout.room_air.density, drop)
        yield (
            f"Air enters the box above the filter at {jet:.1f} m/s: where that jet meets the "
            f"filter unbroken, the face velocity may be up to {100 * excess:.0f} % higher."
        )


def _cut_warnings(state: Coupled) -> Iterator[str]:
    case = state.layout.case
    if state.field is not None and _is_coarse(state):
        yield (
            f"The grid of {' x '.join(map(str, case.numerics.cells))} cells is too coarse to show "
            "the front, the downflow or the draw: take more cells (numerics.cells)."
        )
    if case.numerics.fidelity == "section":
        along = ("front", "back") if case.numerics.section == "yz" else ("left", "right")
        for plan in state.layout.openings:
            if plan.opening.wall not in (*along, "ceiling"):
                yield (
                    f"Fidelity section: opening {plan.opening.label} does not lie in the cut; "
                    "the air passing it is not shown."
                )
    if not (case.objects or case.compartments):
        return
    if case.numerics.fidelity == "section":
        yield (
            "Fidelity section: objects and compartments that do not reach from wall to wall are "
            "left out of the cut; a compartment draws through the floor under it."
        )
    if case.numerics.fidelity == "stacked" and state.layout.grid.solid is not None:
        yield (
            "Fidelity stacked: next to the left and right ends of objects and compartments the "
            "downflow and the front show steps that real air smooths out over about the object's "
            "height; fidelity volume has none."
        )
