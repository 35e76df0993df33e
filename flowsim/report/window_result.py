"""What the window of settings holds: the map, its borders, and how far settings may drift."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from flowsim._arrays import FloatArray

__all__ = [
    "Border",
    "Conflict",
    "Drift",
    "Follow",
    "FollowStep",
    "Outside",
    "SetPoint",
    "Setting",
    "Side",
    "Together",
    "Verdict",
    "Window",
    "WindowMap",
]

State = Literal["met", "not met", "not shown"]
Values = tuple[float, ...]


@dataclass(frozen=True)
class Setting:
    """One thing that is set.

    Parameters
    ----------
    key : str
        Key path in the case. [-]
    name : str
        In words, such as "supply fan". [-]
    unit : str
        Unit in which it is shown. [-]
    factor : float
        From the value inside to the value shown. [-]
    present : float
        As the case states it. [SI]
    low, high : float
        Ends of what is mapped. [SI]
    most : float
        Highest value that is proposed. [SI]
    hold : float
        How far it strays from where it is set, as a share of the value. [-]
    """

    key: str
    name: str
    unit: str
    factor: float
    present: float
    low: float
    high: float
    most: float
    hold: float


@dataclass(frozen=True)
class Border:
    """One line on the map at which something changes.

    Parameters
    ----------
    name : str
        What it is, in full. [-]
    kind : {"limit", "shown", "flip"}
        A limit of the case, where verdicts stop being shown, or where the front turns.
    level : array, shape (n,) or (n, m)
        At the points of the map; 0 on the line, positive on the wanted side. [any]
    verified : array, shape (k, d)
        Solved settings within 1 % of the line. [SI]
    lacking : bool
        Whether part of the line has no solved setting near it.
    """

    name: str
    kind: Literal["limit", "shown", "flip"]
    level: FloatArray
    verified: FloatArray
    lacking: bool = False


@dataclass(frozen=True)
class WindowMap:
    """Where every limit is met.

    Parameters
    ----------
    axes : tuple of Setting, length d
        What is along each axis; d is 1 or 2.
    values : tuple of array, each shape (n,) or (m,)
        Settings along the axes. [SI]
    met : array, shape (n,) or (n, m)
        Not negative where every limit is met. [-]
    hidden : array, shape (n,) or (n, m)
        Not negative where no limit is not met, so that the rest is not shown. [-]
    borders : tuple of Border
        Limits first.
    solved : array, shape (k, d)
        Settings that were solved. [SI]
    states : tuple of str, length k
        Worst verdict at each of them.
    others : int
        Parts of the met region that hang apart from the one of the proposal. [-]
    """

    axes: tuple[Setting, ...]
    values: tuple[FloatArray, ...]
    met: FloatArray
    hidden: FloatArray
    borders: tuple[Border, ...]
    solved: FloatArray
    states: tuple[State, ...]
    others: int = 0


@dataclass(frozen=True)
class Outside:
    """What is found just outside the met region.

    Parameters
    ----------
    names : tuple of str
        Limits that are no longer met there.
    state : {"not met", "not shown"}
        How.
    """

    names: tuple[str, ...]
    state: State


@dataclass(frozen=True)
class Side:
    """How far one setting may drift one way while the other stays.

    Parameters
    ----------
    share : float
        Of the setting, the last solved value at which every limit is met. [-]
    value : float
        That value. [SI]
    beyond : Outside or None
        What is found next to it; None where the map ends first.
    """

    share: float
    value: float
    beyond: Outside | None


@dataclass(frozen=True)
class Together:
    """How far all settings may drift at once, each in proportion to what can be held.

    Parameters
    ----------
    times : float
        Of what can be held. [-]
    shares : tuple of float
        That drift of each setting. [-]
    corner : tuple of int
        Direction of each setting in which a limit breaks first: -1, 0 or 1. [-]
    beyond : Outside or None
        What breaks there; None where the map ends first.
    """

    times: float
    shares: Values
    corner: tuple[int, ...]
    beyond: Outside | None


@dataclass(frozen=True)
class Drift:
    """How far the settings may drift from a set point.

    Parameters
    ----------
    alone : tuple of tuple of Side
        Down and up, for each setting.
    together : Together
        All at once.
    """

    alone: tuple[tuple[Side, Side], ...]
    together: Together


@dataclass(frozen=True)
class Verdict:
    """One limit at a set point.

    Parameters
    ----------
    name : str
        The limit in words.
    value : str
        The figure in words.
    state : {"met", "not met", "not shown"}
        The verdict.
    mapped : bool
        Whether this limit is on the map.
    """

    name: str
    value: str
    state: State
    mapped: bool


@dataclass(frozen=True)
class SetPoint:
    """A set point that was solved.

    Parameters
    ----------
    values : tuple of float
        Settings. [SI]
    state : {"met", "not met", "not shown"}
        Worst verdict of the limits that are mapped.
    verdicts : tuple of Verdict
        On every limit that was judged there.
    drift : Drift or None
        None where not every mapped limit is met.
    flows : mapping of str to float
        Supply flow, face velocity and exhaust flow, as far as there are. [SI]
    """

    values: Values
    state: State
    verdicts: tuple[Verdict, ...]
    drift: Drift | None
    flows: Mapping[str, float]


@dataclass(frozen=True)
class Conflict:
    """Why no setting meets every limit.

    Parameters
    ----------
    nowhere : tuple of str
        Limits that no setting on the map meets.
    never_shown : tuple of str
        Limits on which the model gives no verdict at any setting.
    pair : tuple of str
        Two limits, or more, that exclude each other.
    shifts : tuple of float
        By how far each of the pair is missed at the least bad set point, as a drift that would
        mend it. [-]
    """

    nowhere: tuple[str, ...]
    never_shown: tuple[str, ...]
    pair: tuple[str, ...]
    shifts: Values


@dataclass(frozen=True)
class FollowStep:
    """The setting that keeps the flow at one loading of the filter.

    Parameters
    ----------
    loading : float
        Factor on the clean filter's drop. [-]
    value : float or None
        Setting; None where the map ends first. [SI]
    state : {"met", "not met", "not shown"} or None
        Worst verdict there.
    low, high : float or None
        Settings between which every limit is met. [SI]
    """

    loading: float
    value: float | None
    state: State | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Follow:
    """What the loading of the filter asks for.

    Parameters
    ----------
    key : str
        Key path of the loading. [-]
    filter : str
        Which filter, in words.
    present : float
        Loading as the case states it. [-]
    start : tuple of float
        Set point from which it is followed. [SI]
    followed : int
        Which of the settings follows. [-]
    flow : float
        Flow that is kept. [m3/s]
    map : WindowMap
        Loading along the first axis, the setting along the second.
    steps : tuple of FollowStep
        By rising loading.
    breaks : float or None
        Loading at which a setting left as it is meets every limit for the last time; None where
        it does throughout. [-]
    beyond : Outside or None
        What is found just after it.
    """

    key: str
    filter: str
    present: float
    start: Values
    followed: int
    flow: float
    map: WindowMap
    steps: tuple[FollowStep, ...]
    breaks: float | None
    beyond: Outside | None


@dataclass(frozen=True)
class Window:
    """The window of settings of a case.

    Parameters
    ----------
    title, question, case_hash, fidelity : str
        Of the case.
    axes : tuple of Setting
        What is set.
    assumed_hold : bool
        Whether what can be held was assumed.
    map : WindowMap
        Where every mapped limit is met.
    present : SetPoint
        As the case states it.
    proposed : SetPoint
        With the largest margin; the least bad one where there is a conflict.
    conflict : Conflict or None
        Why no setting meets every limit.
    follow : Follow or None
        None where no filter loads, or its loading changes nothing that is set.
    still : str
        Why there is no `follow`, empty if there is one.
    left_out : tuple of str
        Limits that are not mapped, each with the reason.
    notes : tuple of str
        What else must be known to read the map.
    solves : mapping of str to int
        How many solves each part took. [-]
    """

    title: str
    question: str
    case_hash: str
    fidelity: str
    axes: tuple[Setting, ...]
    assumed_hold: bool
    map: WindowMap
    present: SetPoint
    proposed: SetPoint
    conflict: Conflict | None
    follow: Follow | None
    still: str
    left_out: tuple[str, ...]
    notes: tuple[str, ...]
    solves: Mapping[str, int]
