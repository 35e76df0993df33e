"""Maps over the whole chamber: share that leaves into the room, share of room air, age."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, fields
from functools import partial

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.simulate.carrier import Carrier
from flowsim.simulate.shares import ShareMaps
from flowsim.transport.faces import Faces
from flowsim.transport.operator import TransportProblem, check_open
from flowsim.transport.scalar import blank_solids, mean_age, per_cell, steady
from flowsim.transport.system import TOLERANCE, solve
from flowsim.transport.tracking import Ends
from flowsim.transport.tracking_lines import exact_streamlines

__all__ = [
    "ROUGH",
    "THREADS",
    "Asked",
    "Maps",
    "MapsToCome",
    "chamber_maps",
    "into_room_share",
    "start_base",
    "start_maps",
]

THREADS = 2
ROUGH = 1e-8
"""Tolerance of the maps that only show how far an assumption matters. [-]"""
AGE = 1e-10
"""Tolerance of the mean age. [-]"""

VARIATIONS = {
    "half_eddy": (0.5, 1.0),
    "double_eddy": (2.0, 1.0),
    "half_reversal": (1.0, 0.5),
    "double_reversal": (1.0, 2.0),
}
"""Factors on eddy diffusivity and reversals. [-]"""
RELEASED = ("in_use", "monotone", "half_eddy", "double_eddy")
"""Maps for which the spread of a release is asked, in the order in which it is given."""

Map = FloatArray | None


@dataclass(frozen=True)
class Asked:
    """Which maps are asked for.

    Parameters
    ----------
    escape, ingress, age : bool
        The maps in use.
    escape_doubt, ingress_doubt : bool
        What they depend on: everything of `ShareMaps` besides the map in use.
    release : array, shape (nx, ny, nz), or None
        What is given off in each cell; asks for what it makes of the air. [1/s]
    """

    escape: bool = True
    ingress: bool = True
    age: bool = True
    escape_doubt: bool = True
    ingress_doubt: bool = True
    release: FloatArray | None = None

    @property
    def anything(self) -> bool:
        """Whether anything is asked."""
        return self.escape or self.ingress or self.age or self.release is not None

    @property
    def doubts(self) -> Asked:
        """What is asked of one variation."""
        return Asked(
            self.escape_doubt and self.escape,
            self.ingress_doubt and self.ingress,
            age=False,
            release=self.release,
        )


@dataclass(frozen=True, eq=False)
class Maps:
    """Everything that is known of every cell; zeros where it was not asked.

    Parameters
    ----------
    escape, ingress : ShareMaps
        Share that leaves into the room, and share of room air; where only the map in use was
        asked it stands for all. [-]
    age : array, shape (nx, ny, nz)
        Mean age of the air in use. [s]
    released : tuple of array, shape (nx, ny, nz)
        What the release that was asked for makes of the air: by the linear and the monotone
        scheme, eddies halved and doubled; empty without one. [1/m3]
    """

    escape: ShareMaps
    ingress: ShareMaps
    age: FloatArray
    released: tuple[FloatArray, ...] = ()


@dataclass(frozen=True, eq=False)
class _Answers:
    """What one problem gives; None where it was not asked."""

    escape: Map = None
    ingress: Map = None
    age: Map = None
    released: Map = None


def into_room_share(
    carrier: Carrier, problem: TransportProblem, tolerance: float = TOLERANCE
) -> FloatArray:
    """Return the share of a release in each cell that leaves into the room.

    Parameters
    ----------
    carrier : Carrier
        The air.
    problem : TransportProblem
        One of its problems.
    tolerance : float
        Of the solver. [-]

    Returns
    -------
    array, shape (nx, ny, nz)
        Share; nan in solids. [-]

    Raises
    ------
    RangeError
        If some air has no way out.
    ConvergenceError
        If the solver does not reach its tolerance.

    Notes
    -----
    One transposed solve for openings, covers and cracks together, as
    `flowsim.transport.adjoint.escape_shares` for one exit.
    """
    check_open(problem)
    shares = problem.exit_shares
    share = np.zeros(problem.boundary.out.size)
    for name in carrier.outlets.into_room:
        share = share + shares[name]
    if not share.any():
        return blank_solids(problem, np.zeros(problem.shape))
    right = per_cell(problem, problem.boundary.out * share)
    return blank_solids(problem, solve(problem.adjoint, right, tolerance=tolerance).values)


def _answers(
    carrier: Carrier, problem: TransportProblem, tolerance: float, asked: Asked
) -> _Answers:
    """Return what is asked of one problem; all but the escape share a matrix."""
    escape = into_room_share(carrier, problem, tolerance) if asked.escape else None
    ingress = None
    if asked.ingress:
        ingress = steady(problem, carrier.outlets.room, tolerance=tolerance)
    age = mean_age(problem, AGE) if asked.age else None
    released = None
    if asked.release is not None:
        released = steady(problem, 0.0, asked.release, ROUGH)
    return _Answers(escape, ingress, age, released)


def _lines(carrier: Carrier, backward: bool, exits: Mapping[str, Faces]) -> FloatArray:
    """Return 1 where the line through a cell's centre ends (or began) at the first exit. [-]

    Lines that come to rest give nan.
    """
    grid = carrier.grid
    centres = np.stack(np.meshgrid(*grid.centres, indexing="ij"), axis=-1)
    found = exact_streamlines(
        carrier.field, centres[grid.fluid], backward=backward, ends=Ends(exits)
    )
    share = (found.end_names == 0).astype(np.float64)
    share[found.end_names == found.names.index("unfinished")] = np.nan
    values = np.full(grid.shape, np.nan)
    values[grid.fluid] = share
    return values


def _variations(carrier: Carrier, asked: Asked) -> dict[str, Callable[[], _Answers]]:
    """Return the computations that show what the maps depend on."""
    doubts = asked.doubts
    plain = Asked(doubts.escape, doubts.ingress, age=False)
    problems: dict[str, Callable[[], TransportProblem]] = {
        "monotone": partial(carrier.problem, scheme="monotone"),
        "at_rest": partial(carrier.problem, "at rest"),
    }
    for name, (eddy, reversal) in VARIATIONS.items():
        problems[name] = partial(carrier.problem, eddy=eddy, reversal=reversal)
    parts = {name: doubts if name in RELEASED else plain for name in problems}
    return {
        name: partial(_varied, carrier, problem, parts[name])
        for name, problem in problems.items()
        if parts[name].anything
    }


def _varied(carrier: Carrier, problem: Callable[[], TransportProblem], asked: Asked) -> _Answers:
    """Return what is asked of a problem that is made now and dropped afterwards."""
    return _answers(carrier, problem(), ROUGH, asked)


@dataclass(frozen=True, eq=False)
class MapsToCome:
    """Maps that are being computed.

    Parameters
    ----------
    carrier : Carrier
        The air.
    base : Future
        The maps in use.
    others : mapping of str to Future
        Everything else that was asked, by name.
    lines : tuple of Future or None
        Escape and ingress by the mean flow alone, None for what was not asked.
    """

    carrier: Carrier
    base: Future[_Answers]
    others: Mapping[str, Future[_Answers]]
    lines: tuple[Future[FloatArray] | None, Future[FloatArray] | None]

    def result(self) -> Maps:
        """Wait for the maps and return them.

        Returns
        -------
        Maps
            All that was asked.

        Raises
        ------
        RangeError
            If some air has no way out.
        ConvergenceError
            If a solver does not reach its tolerance.
        """
        base = self.base.result()
        found = {"in_use": base} | {name: item.result() for name, item in self.others.items()}
        mean = [None if line is None else line.result() for line in self.lines]
        none = np.broadcast_to(0.0, self.carrier.grid.shape)
        spreads = [found[name].released for name in RELEASED if name in found]
        return Maps(
            _share_maps(base.escape, {n: item.escape for n, item in found.items()}, mean[0], none),
            _share_maps(
                base.ingress, {n: item.ingress for n, item in found.items()}, mean[1], none
            ),
            none if base.age is None else base.age,
            tuple(part for part in spreads if part is not None),
        )


def _share_maps(
    in_use: Map, parts: Mapping[str, Map], mean_flow: Map, none: FloatArray
) -> ShareMaps:
    """Return a share with its variations; the one in use stands for those not asked."""
    stand_in = none if in_use is None else in_use
    known = {name: part for name, part in parts.items() if part is not None}
    known |= {} if mean_flow is None else {"mean_flow": mean_flow}
    return ShareMaps(**{one.name: known.get(one.name, stand_in) for one in fields(ShareMaps)})


def start_base(pool: Executor, carrier: Carrier, asked: Asked) -> Future[_Answers]:
    """Begin with the maps in use, on whose matrix other computations wait.

    Parameters
    ----------
    pool : Executor
        Does the work.
    carrier : Carrier
        The air.
    asked : Asked
        Which maps.

    Returns
    -------
    Future
        For `start_maps`.
    """
    return pool.submit(_answers, carrier, carrier.base, TOLERANCE, asked)


def start_maps(
    pool: Executor, carrier: Carrier, asked: Asked, base: Future[_Answers]
) -> MapsToCome:
    """Begin with everything else that is asked of the maps.

    Parameters
    ----------
    pool : Executor
        Does the work.
    carrier : Carrier
        The air.
    asked : Asked
        Which maps.
    base : Future
        From `start_base`.

    Returns
    -------
    MapsToCome
        Gives them when they are done.
    """
    doubts, room = asked.doubts, {"room": carrier.outlets.room}
    others = {name: pool.submit(task) for name, task in _variations(carrier, asked).items()}
    wanted = ((doubts.escape, False), (doubts.ingress, True))
    lines = [
        pool.submit(_lines, carrier, backward, room) if asked_for else None
        for asked_for, backward in wanted
    ]
    return MapsToCome(carrier, base, others, (lines[0], lines[1]))


def chamber_maps(carrier: Carrier, asked: Asked | None = None) -> Maps:
    """Return escape, ingress and age with all their sensitivities.

    Parameters
    ----------
    carrier : Carrier
        The air.
    asked : Asked or None
        Which of them; None for all.

    Returns
    -------
    Maps
        Mean flow by exact streamlines, the rest by the adjoint and its forward twin.

    Raises
    ------
    RangeError
        If some air has no way out.
    ConvergenceError
        If a solver does not reach its tolerance.
    """
    asked = Asked() if asked is None else asked
    with ThreadPoolExecutor(THREADS) as pool:
        return start_maps(pool, carrier, asked, start_base(pool, carrier, asked)).result()
