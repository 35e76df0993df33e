"""What a plan of holes holds: solved plates, proposals, what they do to the case."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from flowsim._arrays import FloatArray
from flowsim.report.drill_result import Floor, Pattern, TubeHoles
from flowsim.simulate.result import State

__all__ = [
    "Exhausting",
    "FigureRow",
    "HolePlan",
    "HolePoint",
    "Proposal",
    "Rule",
    "SizeRow",
]


@dataclass(frozen=True)
class HolePoint:
    """One solved plate.

    Parameters
    ----------
    hole_diameter : float
        Diameter of a hole. [m]
    free_area_ratio : float
        Hole area over perforated area. [-]
    draw_ratio : float or None
        Largest over smallest draw of the stations along x, per area of plate; None where a
        station blows upwards. [-]
    spread : float
        Doubt of the plate's law and of the cells on it. [-]
    plate_drop : float
        Pressure drop of the plate. [Pa]
    plenum_suction : float
        Mean static pressure in the plenum below the room. [Pa]
    suction : float
        Total pressure behind the plenum's ports below the room: what ducts and fan must hold
        there. [Pa]
    fan_pressure : float
        Pressure rise that the exhaust needs behind its ducts. [Pa]
    exhaust_flow, front_outflow : float
        Out of the plenum, and out of the front. [m3/s]
    tube_draw_ratio : float or None
        Largest over smallest hole flow of the distributor tube. [-]
    tray_pressure : float or None
        Of the compartment least below the chamber, against the chamber. [Pa]
    stations : array, shape (nx,), or None
        Draw of each station along x over their mean, per area of plate; nan where nothing is
        open. [-]
    crossflow : float
        Largest speed of the air in the plenum over the largest in a hole. [-]
    broken : tuple of str
        Flow limits of the case that are not met, in words.
    warnings : tuple of str
        What the models say of this state.
    """

    hole_diameter: float
    free_area_ratio: float
    draw_ratio: float | None
    spread: float
    plate_drop: float
    plenum_suction: float
    suction: float
    fan_pressure: float
    exhaust_flow: float
    front_outflow: float
    tube_draw_ratio: float | None = None
    tray_pressure: float | None = None
    stations: FloatArray | None = None
    crossflow: float = 0.0
    broken: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def excess(self) -> float:
        """Draw ratio with its doubt, over 1; infinite where a station blows upwards. [-]"""
        return math.inf if self.draw_ratio is None else self.draw_ratio + self.spread - 1.0


@dataclass(frozen=True)
class Proposal:
    """One plate that may be drilled.

    Parameters
    ----------
    kind : {"even", "graded", "tube"}
        Evenly perforated, graded along x, or even with a distributor tube below.
    pattern : Pattern
        The holes.
    point : HolePoint
        Solved with just these holes, at today's exhaust flow.
    state : {"met", "not met", "not shown"}
        Wanted draw ratio.
    within : bool or None
        Whether the suction stays under the ceiling; None without one.
    changes : mapping of str to str
        Key path -> value that make it out of the case; empty where a case file cannot say it.
    tube : TubeHoles or None
        Its distributor tube.
    notes : tuple of str
        On its holes under and beside what lies on the plate.
    """

    kind: str
    pattern: Pattern
    point: HolePoint
    state: State
    within: bool | None
    changes: Mapping[str, str]
    tube: TubeHoles | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class SizeRow:
    """What one hole diameter comes to.

    Parameters
    ----------
    diameter : float
        The hole. [m]
    proposal : Proposal or None
        None where there is none.
    remark : str
        Why there is none, or what is to be said of it. [text]
    """

    diameter: float
    proposal: Proposal | None
    remark: str = ""


@dataclass(frozen=True)
class Rule:
    """What a closed form or a rule of thumb would drill.

    Parameters
    ----------
    name : str
        The rule. [text]
    free_area_ratio : float
        Hole area over perforated area that it asks for. [-]
    plate_drop : float
        Pressure drop of that plate at today's flow. [Pa]
    point : HolePoint or None
        The same plate solved with all models.
    note : str
        What it leaves out. [text]
    """

    name: str
    free_area_ratio: float
    plate_drop: float
    point: HolePoint | None
    note: str


@dataclass(frozen=True)
class FigureRow:
    """One key figure before and after.

    Parameters
    ----------
    name, unit : str
        Key figure and its SI unit. [text]
    values : tuple of float or None
        One for each column. [any]
    limit : str
        What the case wants, empty where it sets no limit. [text]
    states : tuple of str
        Verdict in each column, empty without a limit.
    """

    name: str
    unit: str
    values: tuple[float | None, ...]
    limit: str
    states: tuple[str, ...]


@dataclass(frozen=True)
class Exhausting:
    """What the exhaust must do for the chosen plate.

    Parameters
    ----------
    kind : {"fan", "suction", "flow"}
        What the case sets.
    setting_today, setting : float or None
        Speed ratio [-], suction [Pa] or flow [m3/s] today, and the one that keeps today's flow;
        None where the fan cannot reach it at any speed.
    rated_frequency : float or None
        Of a fan on an inverter. [Hz]
    beyond_rating : bool
        Whether the fan would have to turn faster than its curve was measured at.
    changes : mapping of str to str
        Key path -> value of that setting.
    """

    kind: str
    setting_today: float
    setting: float | None
    rated_frequency: float | None
    beyond_rating: bool
    changes: Mapping[str, str]


@dataclass(frozen=True)
class HolePlan:
    """What to drill.

    Parameters
    ----------
    title, case_hash : str
        Of the case. [text]
    wanted : float
        Draw ratio that is wanted. [-]
    ceiling : float or None
        Most suction behind the ports. [Pa]
    floor : Floor
        What is drilled.
    today : HolePoint
        The case as it stands.
    today_state : {"met", "not met", "not shown"}
        Wanted draw ratio with today's plate.
    curve : tuple of HolePoint
        Even plates of the chosen diameter from tight to open, at today's exhaust flow.
    sizes : tuple of SizeRow
        Every diameter at hand.
    chosen : Proposal
        The even plate to drill.
    needed : HolePoint or None
        What the wanted ratio would take where the ceiling forbids it.
    others : tuple of Proposal
        Graded plate and plate with a tube.
    rules : tuple of Rule
        Closed form and rule of thumb.
    columns : tuple of str
        Names of the columns of `figures`.
    figures : tuple of FigureRow
        Key figures before and after.
    exhaust : Exhausting
        Setting of the exhaust.
    left_alone : HolePoint
        The chosen plate with the exhaust as it is set today.
    graded_words, tube_words, notes, warnings : tuple of str
        Why there is no graded plate; on the tube; on the drawing; of the models.
    decided_by : tuple of str
        Limits of the case that forbid a more open plate; empty where the draw ratio does.
    solves : int
        How often all models were solved for the even plate.
    given : mapping of str to str
        Key path -> value with which the case file was changed before. [as written]
    """

    title: str
    case_hash: str
    wanted: float
    ceiling: float | None
    floor: Floor
    today: HolePoint
    today_state: State
    curve: tuple[HolePoint, ...]
    sizes: tuple[SizeRow, ...]
    chosen: Proposal
    needed: HolePoint | None
    others: tuple[Proposal, ...]
    rules: tuple[Rule, ...]
    columns: tuple[str, ...]
    figures: tuple[FigureRow, ...]
    exhaust: Exhausting
    left_alone: HolePoint
    graded_words: tuple[str, ...]
    tube_words: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    decided_by: tuple[str, ...]
    solves: int
    given: Mapping[str, str] = field(default_factory=dict)

    def values(self, name: str) -> tuple[float | None, ...]:
        """Return one key figure in all columns, nothing where it is not among them.

        Parameters
        ----------
        name : str
            Key figure. [text]
        """
        for row in self.figures:
            if row.name == name:
                return row.values
        return ()
