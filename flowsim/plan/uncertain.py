"""How sure the verdicts of a case are: its values drawn within their tolerances."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.batch.plan_points import Point, Sweep
from flowsim.batch.point import EVERYTHING, Row, run_point
from flowsim.batch.runner import Progress, run_sweep
from flowsim.batch.sampling import hypercube_draws
from flowsim.batch.store import Store
from flowsim.case.read import case_hash
from flowsim.case.schema import Case
from flowsim.errors import ConvergenceError, FlowsimError, RangeError
from flowsim.plan.odds import chance_of, influences_of, quantile, quantile_error
from flowsim.plan.tolerance import Tolerance
from flowsim.plan.tolerances import read_tolerances
from flowsim.plan.unlinked import unlinked
from flowsim.plan.usual_tolerances import asks_for_transport, usual_tolerances
from flowsim.report.uncertain_text import uncertain_text
from flowsim.report.uncertainty import (
    QUANTILES,
    Chance,
    FigureSpread,
    LimitOdds,
    Spread,
    Uncertainty,
)
from flowsim.report.write_uncertain import DRAWS, write_uncertain
from flowsim.simulate.needs import CARRIED
from flowsim.simulate.registry import FIGURES

__all__ = ["Ask", "drawn_odds", "uncertain", "uncertain_text", "write_uncertain"]

FEWEST, MOST = 10, 1_000_000
"""Draws. [-]"""
ORDER = ("not met", "not shown", "met")
Changes = Mapping[str, object]


class Ask(Protocol):
    """What runs draws; injectable for tests."""

    def __call__(
        self, case: Case, changes: Sequence[Changes], keep: Sequence[str]
    ) -> Sequence[Row]:
        """Return one row for each set of changes, in their order."""


@dataclass(frozen=True)
class _Draws:
    """The draws and what came of them.

    Parameters
    ----------
    keys : tuple of str, length k
        Inputs.
    inputs : array, shape (n, k)
        Their values in the draws that gave an answer. [SI]
    rows : tuple of Row, length n
        These answers.
    missing : int
        Draws without an answer. [-]
    """

    keys: tuple[str, ...]
    inputs: FloatArray
    rows: tuple[Row, ...]
    missing: int

    def figure(self, name: str) -> FloatArray:
        """Return a key figure in all answers, nan where there is none."""
        found = (row.figures.get(name) for row in self.rows)
        return np.array([math.nan if value is None else value for value in found])

    def chance(self, states: Sequence[str], wanted: str) -> Chance:
        """Return how often a verdict was given."""
        return chance_of(list(states).count(wanted), len(self.rows), self.missing)


def uncertain(
    case: Case,
    tolerances: Sequence[Tolerance] | str | Path | None = None,
    count: int = 256,
    seed: int = 1,
    folder: Path | str = "uncertain",
    jobs: int | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> Uncertainty:
    """Draw the values of a case within their tolerances and say how sure its verdicts are.

    Parameters
    ----------
    case : Case
        The case. [SI]
    tolerances : sequence of Tolerance, path of a file, or None
        How far its values may be off; None = the usual tolerances. [-]
    count, seed : int
        Draws of the Latin hypercube, and what they begin from: the same seed, the same draws. [-]
    folder : Path or str
        Draws are stored in its folder ``draws`` as they finish; the same call goes on there. [-]
    jobs : int or None
        Worker processes; None = one per processor. [-]
    progress : callable or None
        Told how far it is, as by `flowsim.batch.runner.run_sweep`. [-]

    Returns
    -------
    Uncertainty
        Probabilities, quantiles and the inputs that matter; the same however many workers ran.

    Raises
    ------
    CaseError
        If a table of tolerances is faulty or does not fit the case.
    RangeError
        If there is nothing to draw, or too few draws.
    ConvergenceError
        If the case itself, or no draw at all, has a solution.
    OutputError
        If the folder cannot be used or the disk refuses.
    """
    if isinstance(tolerances, str | Path):
        tolerances = read_tolerances(tolerances, case)
    chosen = usual_tolerances(case) if tolerances is None else tuple(tolerances)
    return drawn_odds(case, chosen, count, seed, _Stored(Path(folder) / DRAWS, jobs, progress))


def drawn_odds(
    case: Case, tolerances: Sequence[Tolerance], count: int, seed: int, ask: Ask
) -> Uncertainty:
    """Draw, have the draws run by something, and judge what came of them.

    Parameters
    ----------
    case : Case
        The case. [SI]
    tolerances : sequence of Tolerance
        How far its values may be off. [SI]
    count, seed : int
        Draws, and what they begin from. [-]
    ask : callable
        (case, changes, figures to keep) -> rows; a single empty change is the case itself. [-]

    Returns
    -------
    Uncertainty
        As of `uncertain`.

    Raises
    ------
    RangeError
        If there is nothing to draw, or too few draws.
    ConvergenceError
        If the case itself, or no draw at all, has a solution.
    """
    _check(tolerances, count)
    shares = unlinked(hypercube_draws(count, len(tolerances), seed))
    values = np.column_stack([item.values(shares[:, k]) for k, item in enumerate(tolerances)])
    nominal = _answered(ask(case, [{}], (EVERYTHING,))[0])
    rows = ask(case, _changes(tolerances, values), _kept(case, nominal))
    done = [index for index, row in enumerate(rows) if row.status == "done"]
    errors = tuple(dict.fromkeys(row.error for row in rows if row.status != "done"))
    if not done:
        raise ConvergenceError(f"none of the {count} draws has a solution; the first: {errors[0]}")
    keys = tuple(item.key for item in tolerances)
    answers = tuple(rows[index] for index in done)
    draws = _Draws(keys, values[done], answers, count - len(done))
    return Uncertainty(
        title=case.title,
        question=case.question,
        case_hash=case_hash(case),
        count=count,
        seed=seed,
        inputs=tuple(_spread(item) for item in tolerances),
        limits=tuple(_odds(case, name, state, nominal, draws) for name, state in _judged(nominal)),
        together=_together(draws),
        figures=_figures(nominal, draws),
        statuses=dict(sorted(Counter(row.status for row in rows).items())),
        errors=errors,
    )


@dataclass(frozen=True)
class _Stored:
    """Runs draws as points of a sweep that a folder holds."""

    folder: Path
    jobs: int | None
    progress: Callable[[Progress], None] | None

    def __call__(
        self, case: Case, changes: Sequence[Changes], keep: Sequence[str]
    ) -> Sequence[Row]:
        """Return one row for each set of changes."""
        if not any(changes):
            return [run_point(case, None, {}, keep) for _ in changes]
        keys = tuple(changes[0])
        sweep = Sweep(
            title=case.title,
            question=case.question,
            base=case,
            base_text_path="",
            keys=keys,
            labels=keys,
            points=[Point(k, tuple(item.values()), item) for k, item in enumerate(changes, 1)],
            keep=tuple(keep),
        )
        run_sweep(sweep, self.folder, jobs=self.jobs, progress=self.progress)
        with Store.read(self.folder) as store:
            found = {row.number: row for row in store.rows()}
        return [_row(found[number]) for number in range(1, len(changes) + 1)]


def _row(stored: Any) -> Row:
    """Return a stored row without what the store adds."""
    return Row(stored.status, dict(stored.figures), dict(stored.checks), stored.error)


def _check(tolerances: Sequence[Tolerance], count: int) -> None:
    """Refuse what cannot be drawn."""
    if not tolerances:
        raise RangeError("no value of this case has a tolerance; state some in a file")
    if isinstance(count, bool) or not FEWEST <= count <= MOST:
        raise RangeError(f"{count} draws; expected {FEWEST} to {MOST}")


def _changes(tolerances: Sequence[Tolerance], values: FloatArray) -> list[Changes]:
    """Return what each draw changes in the case."""
    return [
        {item.key: item.change(value) for item, value in zip(tolerances, line, strict=True)}
        for line in values.tolist()
    ]


def _answered(nominal: Row) -> Row:
    """Return the row of the case itself, or raise what went wrong with it."""
    if nominal.status == "done":
        return nominal
    kinds = {"faulty": RangeError, "not converged": ConvergenceError}
    kind: type[FlowsimError] = kinds.get(nominal.status, FlowsimError)
    raise kind(f"the case itself, nothing drawn: {nominal.error}")


def _kept(case: Case, nominal: Row) -> tuple[str, ...]:
    """Return the key figures to keep: all, but where vapour and dust go only if that is asked."""
    limited = {name.partition("[")[0] for name in nominal.checks}
    if asks_for_transport(case) or limited & CARRIED:
        return (EVERYTHING,)
    return tuple(name for name in nominal.figures if name.partition("[")[0] not in CARRIED)


def _spread(item: Tolerance) -> Spread:
    """Return a tolerance as the report shows it."""
    nominal = None if isinstance(item.nominal, tuple) else item.nominal
    return Spread(
        item.key, nominal, item.low, item.high, item.unit, item.shape, item.span, item.reason,
        item.source,
    )  # fmt: skip


def _judged(nominal: Row) -> list[tuple[str, str]]:
    """Return the limits that the case itself was judged by, with their verdicts."""
    return list(nominal.checks.items())


def _odds(case: Case, name: str, state: str, nominal: Row, draws: _Draws) -> LimitOdds:
    """Return one limit over all draws."""
    base = name.partition("[")[0]
    wanted = getattr(case.limits, base)
    states = [row.checks.get(name, "not shown") for row in draws.rows]
    influences, line = influences_of(draws.keys, draws.inputs, draws.figure(name))
    return LimitOdds(
        name=name,
        unit=FIGURES[base].unit,
        least=wanted.min,
        most=wanted.max,
        nominal=nominal.figures.get(name),
        nominal_state=state,
        met=draws.chance(states, "met"),
        not_met=draws.chance(states, "not met"),
        not_shown=draws.chance(states, "not shown"),
        chance_rank=line,
        influences=influences,
    )


def _together(draws: _Draws) -> tuple[Chance, ...]:
    """Return how often all limits were met, one was not, or the worst was not shown."""
    if not any(row.checks for row in draws.rows):
        return ()
    worst = [min(row.checks.values(), key=ORDER.index, default="met") for row in draws.rows]
    return tuple(draws.chance(worst, state) for state in ("met", "not met", "not shown"))


def _figures(nominal: Row, draws: _Draws) -> tuple[FigureSpread, ...]:
    """Return the key figures that some draw has."""
    found = [_figure(name, value, draws) for name, value in nominal.figures.items()]
    return tuple(item for item in found if item.count)


def _figure(name: str, nominal: float | None, draws: _Draws) -> FigureSpread:
    """Return one key figure over all draws."""
    values = draws.figure(name)
    values = values[~np.isnan(values)]
    known = FIGURES[name.partition("[")[0]]
    return FigureSpread(
        name=name,
        unit=known.unit,
        meaning=known.meaning,
        nominal=nominal,
        count=len(values),
        quantiles=tuple(quantile(values, share) for share in QUANTILES) if len(values) else (),
        errors=tuple(quantile_error(values, share) for share in QUANTILES) if len(values) else (),
    )
