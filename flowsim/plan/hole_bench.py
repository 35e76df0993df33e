"""Solves one plate after another in a case, without what the draw does not need."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.read import change_case
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, RangeError
from flowsim.report.holes_result import HolePoint
from flowsim.simulate.assemble import ROOM
from flowsim.simulate.coupling import Coupled, couple
from flowsim.simulate.indicators import Readings, key_figures
from flowsim.simulate.layout import Layout, lay_out
from flowsim.simulate.needs import CARRIED, Needs, needs_of
from flowsim.simulate.readings import (
    branch_states,
    compartment_states,
    downflow,
    opening_profiles,
    plate_draw,
)
from flowsim.simulate.refinement import draw_figures
from flowsim.simulate.remarks import doubts, indicative_names, warnings_of
from flowsim.simulate.result import Quantity, State
from flowsim.simulate.trays import EXHAUST
from flowsim.simulate.verdicts import Doubt, judge

__all__ = ["Bench", "Plate", "bare_case", "limited_names", "solved_state", "station_draw"]

BARE: dict[str, None] = {"releases": None, "workpieces": None, "dust": None}
FIGURES = frozenset(
    {
        "draw_ratio",
        "draw_rsd",
        "plate_pressure_drop",
        "plenum_pressure_mean",
        "exhaust_fan_pressure",
        "exhaust_flow",
        "front_outflow",
        "tube_draw_ratio",
        "choking_number",
        "compartment_pressure",
    }
)


@dataclass(frozen=True)
class Plate:
    """A plate to solve.

    Parameters
    ----------
    changes : mapping of str to value
        Key path -> value that make it out of the case. [SI]
    density : array, shape (nx,), or None
        Of the holes at each station over that of the changed case; None = even. [-]
    held : bool
        Whether the exhaust is held at today's flow.
    """

    changes: Mapping[str, Any]
    density: FloatArray | None = None
    held: bool = True

    @classmethod
    def even(cls, free_area_ratio: float, diameter: float, held: bool = True) -> Plate:
        """Return an evenly perforated plate.

        Parameters
        ----------
        free_area_ratio : float
            Hole area over perforated area. [-]
        diameter : float
            Of a hole. [m]
        held : bool
            Whether the exhaust is held at today's flow.
        """
        keys = {
            "work_surface.free_area_ratio": free_area_ratio,
            "work_surface.hole_diameter": diameter,
        }
        return cls(keys, None, held)


def bare_case(case: Case) -> Case:
    """Return a case without what its air carries and without limits on that.

    Parameters
    ----------
    case : Case
        Stays as it is. [SI]

    Returns
    -------
    Case
        Gives the same flows and pressures.
    """
    carried = [name for name in limited_names(case) if name in CARRIED]
    return change_case(case, {**BARE, **{f"limits.{name}": None for name in carried}})


def limited_names(case: Case) -> frozenset[str]:
    """Return the key figures that a case sets a limit to.

    Parameters
    ----------
    case : Case
        The case. [SI]
    """
    return needs_of(case, ()).limited


def _graded(layout: Layout, density: FloatArray) -> Layout:
    """Return a layout whose open share is scaled station by station."""
    prints = []
    for place in layout.footprints:
        under = float((place.plan_area * density[:, None]).sum() / place.plan_area.sum())
        prints.append(replace(place, plate_area=place.plate_area * under))
    share = layout.open_share * density[:, None]
    return replace(layout, open_share=share, footprints=tuple(prints))


def _figures(state: Coupled, wanted: frozenset[str]) -> tuple[dict[str, Quantity], tuple[str, ...]]:
    """Return the key figures of a solved state, and what the models say of it."""
    openings = opening_profiles(state)
    readings = Readings(
        state,
        openings,
        compartment_states(state),
        branch_states(state),
        plate_draw(state),
        downflow(state),
    )
    indicative = indicative_names(state, openings)
    figures = key_figures(readings, indicative, None, Needs(wanted, frozenset()))
    return figures, warnings_of(readings, figures)


def _draw(state: Coupled, density: FloatArray | None, ratio: float | None) -> float | None:
    """Return the draw ratio per area of plate, not of hole."""
    if density is None or state.header is None or ratio is None:
        return ratio
    share = state.layout.open_share
    whole = share / density[:, None]
    return draw_figures(state.header.velocity * density[:, None], whole)[0]


def _mean(layout: Layout, density: FloatArray | None) -> float:
    """Return the mean density over the perforated plate, trays included."""
    if density is None:
        return 1.0
    under = sum(place.plate_area for place in layout.footprints)
    whole = layout.open_share / density[:, None]
    cell = layout.cell_area
    all_of_it = float(whole.sum()) * cell
    for place in layout.footprints:
        factor = (place.plan_area * density[:, None]).sum() / place.plan_area.sum()
        all_of_it += place.plate_area / float(factor)
    return (layout.plate_area + under) / all_of_it


def solved_state(case: Case, density: FloatArray | None, start: Coupled | None) -> Coupled:
    """Solve all models of a case.

    Parameters
    ----------
    case : Case
        The case. [SI]
    density : array, shape (nx,), or None
        Of the holes at each station over that of the case. [-]
    start : Coupled or None
        A like state to begin with.

    Returns
    -------
    Coupled
        Solved models.
    """
    layout = lay_out(case)
    return couple(layout if density is None else _graded(layout, density), start)


class Bench:
    """One case whose plate is solved again and again, and how often that was.

    Parameters
    ----------
    case : Case
        As it stands. [SI]
    wanted : float
        Draw ratio. [-]
    tick : callable
        Called after each solve with their number. [-]
    """

    def __init__(self, case: Case, wanted: float, tick: Callable[[int], None]) -> None:
        self.case = bare_case(case)
        self.wanted = wanted
        self._limited = limited_names(self.case)
        self.solves = 0
        self._tick = tick
        self._last: Coupled | None = None
        self.today = self.point(Plate({}, None, held=False))
        if not self.today.exhaust_flow > 0.0:
            raise RangeError(
                "the exhaust draws nothing, so that no plate draws evenly: switch it on"
            )

    def point(self, plate: Plate) -> HolePoint:
        """Solve a plate.

        Parameters
        ----------
        plate : Plate
            What is solved.

        Returns
        -------
        HolePoint
            What it does.

        Raises
        ------
        ConvergenceError
            If the models find no solution.
        CaseError
            If the case refuses the plate.
        """
        return self.solved(plate)[0]

    def solved(self, plate: Plate) -> tuple[HolePoint, Coupled]:
        """Solve a plate.

        Parameters
        ----------
        plate : Plate
            What is solved.

        Returns
        -------
        point : HolePoint
            What it does.
        state : Coupled
            All models.

        Raises
        ------
        ConvergenceError
            If the models find no solution.
        CaseError
            If the case refuses the plate.
        """
        changes = dict(plate.changes)
        if plate.held:
            changes["exhaust.flow"] = self.today.exhaust_flow
        case = change_case(self.case, changes) if changes else self.case
        self.solves += 1
        state = self._last = solved_state(case, plate.density, self._last)
        self._tick(self.solves)
        return self._read(case, state, plate.density), state

    def tried(self, plate: Plate) -> HolePoint | None:
        """Solve a plate, or return None if the models find no solution.

        Parameters
        ----------
        plate : Plate
            What is solved.
        """
        try:
            return self.point(plate)
        except ConvergenceError:
            return None

    def _read(self, case: Case, state: Coupled, density: FloatArray | None) -> HolePoint:
        """Return what a solved state shows."""
        figures, said = _figures(state, FIGURES | self._limited)
        value = {name: figures[name].value for name in FIGURES}
        ratio = _draw(state, density, value["draw_ratio"])
        doubt = doubts(state, figures)
        pressures = state.solution.pressures
        surface = case.work_surface
        assert surface is not None
        room = pressures[ROOM]
        return HolePoint(
            surface.hole_diameter,
            case.free_area_ratio * _mean(state.layout, density),
            ratio,
            doubt.get("draw_ratio", 0.0),
            value["plate_pressure_drop"] or 0.0,
            -(value["plenum_pressure_mean"] or 0.0),
            room - pressures[EXHAUST],
            _rise(state),
            value["exhaust_flow"] or 0.0,
            value["front_outflow"] or 0.0,
            value["tube_draw_ratio"],
            value["compartment_pressure"],
            _stations(state, density),
            _crossflow(state),
            self._broken(figures, doubt, ratio),
            said,
        )

    def _broken(
        self, figures: Mapping[str, Quantity], doubt: Mapping[str, float], ratio: float | None
    ) -> tuple[str, ...]:
        """Return the limits of the case that are not met."""
        shown = {**figures, "draw_ratio": replace(figures["draw_ratio"], value=ratio)}
        spread = {name: Doubt.even(size) for name, size in doubt.items()}
        checks = judge(self.case, shown, spread)
        return tuple(dict.fromkeys(item.name for item in checks if item.state == "not met"))

    def judged(self, point: HolePoint) -> State:
        """Return the verdict on the wanted draw ratio.

        Parameters
        ----------
        point : HolePoint
            A solved plate.

        Returns
        -------
        str
            "met", "not met" or "not shown". [-]
        """
        limited = change_case(
            self.case, {"limits": None, "limits.draw_ratio": {"max": self.wanted}}
        )
        quantity = Quantity(point.draw_ratio, "-", "")
        checks = judge(limited, {"draw_ratio": quantity}, {"draw_ratio": Doubt.even(point.spread)})
        return checks[0].state


def station_draw(state: Coupled, density: FloatArray | None) -> FloatArray:
    """Return the draw of each station along x per area of plate.

    Parameters
    ----------
    state : Coupled
        Solved models with a plenum.
    density : array, shape (nx,), or None
        Of the holes at each station over that of the case. [-]

    Returns
    -------
    array, shape (nx,)
        Mean downward velocity; nan where nothing is open. [m/s]
    """
    assert state.header is not None
    share = state.layout.open_share
    whole = (share if density is None else share / density[:, None]).sum(axis=1)
    flow = (state.header.velocity * share).sum(axis=1)
    draw: FloatArray = np.full(whole.shape, np.nan)
    np.divide(flow, whole, out=draw, where=whole > 0.0)
    return draw


def _stations(state: Coupled, density: FloatArray | None) -> FloatArray | None:
    """Return the draw of each station over their mean."""
    if state.header is None:
        return None
    draw = station_draw(state, density)
    if not np.any(np.isfinite(draw)):
        return None
    relative: FloatArray = draw / np.nanmean(draw)
    return relative


def _crossflow(state: Coupled) -> float:
    """Return the largest speed in the plenum over the largest in a hole. [-]"""
    header, plate = state.header, state.layout.plate
    if header is None or plate is None:
        return 0.0
    speed = float(np.hypot(header.velocity_x, header.velocity_y).max())
    hole = float(np.abs(header.velocity).max()) / plate.free_area_ratio
    return speed / hole if hole > 0.0 else 0.0


def _rise(state: Coupled) -> float:
    """Return the pressure rise of fan, fixed flow or fixed suction of the exhaust. [Pa]"""
    for name in ("exhaust fan", "exhaust suction"):
        if name in state.solution.flows:
            branch = state.network.branch(name)
            pressures = state.solution.pressures
            return pressures[branch.end] - pressures[branch.start]
    return math.nan
