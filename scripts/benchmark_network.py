"""Speed of the network: a perforated tube in a plenum, 1,864 nodes, against scipy.

All three methods solve the same equations from the same cold start, and must agree before a time
counts. The rivals get the form that suits them best: the sparse factorisation sees the unknowns
station by station (its default ordering takes twice as long), Newton-Krylov sees the hole and
plate flows alone, pressures summed along the tube (with flows and pressures as unknowns, or node
pressures, it does not converge).
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import root
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from flowsim.network._ladder_problem import LadderProblem, eliminate
from flowsim.network.ladder import Ladder, LadderState, Surroundings, solve_ladder

STATIONS = 930
DENSITY = 1.2
VISCOSITY = 1.8e-5
AGREEMENT = 1e-8


def bench(seed: int) -> tuple[Ladder, Surroundings]:
    """Return a bench with a tube in its plenum; sizes vary with the seed.

    Nodes around the ladder: room, supply box, chamber, tube end, exhaust fan.
    """
    random = np.random.default_rng(seed)
    ones = np.ones(STATIONS)
    length, diameter = random.uniform(0.8, 1.6), random.uniform(0.08, 0.2)
    section = np.pi * diameter**2 / 4
    wide = section * random.uniform(2.0, 10.0)
    step = length / STATIONS
    tube = _links(step, diameter, section)
    plenum = _links(step, 0.1, wide)
    holes = _rungs(random.uniform(0.3, 1.2) * section / STATIONS)
    plate = _rungs(random.uniform(0.5, 3.0) * section / STATIONS)
    supply, exhaust = random.uniform(150, 400), random.uniform(150, 400)
    front = DENSITY / 2 / (0.6 * random.uniform(0.05, 0.2)) ** 2
    around = Surroundings(
        pressure=np.array([0.0, np.nan, np.nan, np.nan, np.nan]),
        start=np.array([0, 1, 2, 3, 4]),
        end=np.array([1, 2, 0, 4, 0]),
        linear=np.array([supply / 0.25, 500.0, 1e-6, 10.0, exhaust / 0.2]),
        quadratic=np.array([0.0, 0.0, front, 2.0 * DENSITY / section**2, 0.0]),
        source=np.array([supply, 0.0, 0.0, 0.0, exhaust]),
        above=2,
        tube_outlet=3,
    )
    return Ladder(tube * ones, holes * ones, plate * ones, plenum * ones), around


def _links(step: float, diameter: float, section: float) -> np.ndarray:
    linear = 32 * VISCOSITY * step / diameter**2 / section
    quadratic = 0.02 * step / diameter * DENSITY / 2 / section**2
    return np.array([[linear], [quadratic], [DENSITY / section**2]])


def _rungs(area: float) -> np.ndarray:
    quadratic = DENSITY / 2 / area**2
    return np.array([[1e-3 * np.sqrt(quadratic)], [quadratic]])


class SparseNewton:
    """The Newton step by scipy's sparse factorisation, unknowns station by station."""

    def __init__(self, problem: LadderProblem) -> None:
        n, size = problem.stations, problem.size
        opened, ends, free, hook = (problem.fixed[k] for k in (2, 5, 6, 7))
        self.opened, self.free = opened, free
        node, branch = problem.cuts[1], problem.cuts[2]
        station = np.arange(n)
        w, v, h, q, pa, pb = (k * n + station for k in range(6))
        rows: list[np.ndarray] = []
        columns: list[np.ndarray] = []
        values: list[np.ndarray] = []

        def put(row: Any, column: Any, value: Any) -> None:
            row, column, value = np.broadcast_arrays(*map(np.atleast_1d, (row, column, value)))
            rows.append(row)
            columns.append(column)
            values.append(value.astype(float))

        for this, other in ((w, h), (v, q)):
            put(this, this, 1)
            put(this[1:], this[:-1], -1)
            put(this, other, -1)
        put(v, h, 1)
        put(h, pa, 1)
        put(h[:-1], pa[1:], -1)
        put(h[-1], node + hook[1], -1)
        put(q[opened], pb[opened], 1)
        put(q[:-1][opened[:-1]], pb[1:][opened[:-1]], -1)
        put(pa, pb, 1)
        put(pa, pa, -1)
        put(pb, node + hook[0], 1)
        put(pb, pb, -1)
        for j, (start, end) in enumerate(ends.T):
            put(branch + j, [node + start, node + end], [1, -1])
            put([node + start, node + end], branch + j, [-1, 1])
        put(node + hook[0], q, -1)
        put(node + hook[1], w[-1], 1)
        at = np.arange(branch, size)
        slots = ((h, w), (h[1:], w[:-1]), (q, v), (q[1:], v[:-1]), (pa, h), (pb, q), (pa, w))
        for row, column in (*slots, (pa[1:], w[:-1]), (at, at)):
            rows.append(row)
            columns.append(column)
        self._set_order(np.concatenate(rows), np.concatenate(columns), problem)
        self.constant = np.concatenate(values)

    def _set_order(self, row: np.ndarray, column: np.ndarray, problem: LadderProblem) -> None:
        n, start = problem.stations, problem.cuts[1]
        tail = np.concatenate(
            [np.flatnonzero(self.free) + start, np.arange(problem.cuts[2], problem.size)]
        )
        station = np.arange(6 * n).reshape(6, n)
        self.columns = np.concatenate([station[[2, 3, 4, 5, 0, 1]].T.ravel(), tail])
        self.rows = np.concatenate([station[[4, 5, 0, 1, 2, 3]].T.ravel(), tail])
        place_row = np.full(problem.size, -1)
        place_column = np.full(problem.size, -1)
        place_row[self.rows] = np.arange(self.rows.size)
        place_column[self.columns] = np.arange(self.columns.size)
        row, column = place_row[row], place_column[column]
        self.keep = (row >= 0) & (column >= 0)
        row, column = row[self.keep], column[self.keep]
        self.order = np.lexsort((row, column))
        row, column = row[self.order], column[self.order]
        first = np.append(True, (row[1:] != row[:-1]) | (column[1:] != column[:-1]))
        self.slot = np.cumsum(first) - 1
        self.indices = row[first]
        self.pointer = np.searchsorted(column[first], np.arange(self.rows.size + 1))

    def __call__(self, problem: LadderProblem, found: Any) -> np.ndarray:
        """Return the Newton step at the residuals and slopes found."""
        residual, slope, share, node, law, steep = found
        own = np.where(self.opened, -slope[1], 1.0)
        before = np.where(self.opened, -slope[5], 0.0)[1:]
        links = (-slope[0], -slope[4, 1:], own, before, -slope[2], -slope[3])
        entries = np.concatenate([self.constant, *links, share[0], share[1, 1:], -steep])
        data = np.bincount(self.slot, entries[self.keep][self.order])
        matrix = csc_matrix((data, self.indices, self.pointer), shape=(self.rows.size,) * 2)
        right = -np.concatenate([residual.ravel(), node, law])[self.rows]
        factor = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.01, relax=1, panel_size=1)
        step = np.zeros(problem.size)
        step[self.columns] = factor.solve(right)
        return step


def newton_on_splu(ladder: Ladder, around: Surroundings) -> LadderState:
    """Solve with the same Newton, its linear systems by scipy's sparse factorisation."""
    made: list[SparseNewton] = []

    def step(problem: LadderProblem, found: Any) -> np.ndarray:
        if not made:
            made.append(SparseNewton(problem))
        return made[0](problem, found)

    return solve_ladder(ladder, around, linear_solver=step)


class HoleFlows:
    """The same equations with hole and plate flows as unknowns, for Newton-Krylov."""

    def __init__(self, ladder: Ladder, around: Surroundings) -> None:
        self.problem = LadderProblem(ladder, around, 1e-12, 1e-12)
        self.rails, self.rungs, _, _, self.branch = self.problem.fixed[:5]
        self.place = ladder.hole_place
        self.scale = float(np.abs(around.source).max())
        self.flow = 0.05

    def start(self) -> np.ndarray:
        """Return the cold start of the other methods in these unknowns."""
        problem, n = self.problem, self.problem.stations
        found = problem.room()
        problem.linear(found)
        x = problem.still + eliminate(problem, found)
        share = n / self.flow
        tail = [x[6 * n - 1] / self.scale, x[problem.cuts[2]] / self.flow]
        return np.concatenate([x[2 * n : 4 * n] * share, tail])

    def parts(self, y: np.ndarray) -> tuple[np.ndarray, ...]:
        """Return hole, plate, tube and plenum flows, tube and plenum pressures, chamber, supply."""
        n = self.problem.stations
        hole, plate = y[: 2 * n].reshape(2, n) * (self.flow / n)
        tube, plenum = np.cumsum(hole), np.cumsum(plate - hole)
        supply = y[-1] * self.flow
        linear, quadratic, source = self.branch
        end = -source[4] + sum(_drop(linear[k], quadratic[k], tube[-1]) for k in (3, 4))
        chamber = source[0] - sum(_drop(linear[k], quadratic[k], supply) for k in (0, 1))
        lost = self._lost(0, tube)
        fallen = self._lost(1, plenum)
        tube_pressure = end + np.cumsum(lost[::-1])[::-1]
        last = y[-2] * self.scale
        plenum_pressure = last + np.append(np.cumsum(fallen[-2::-1])[::-1], 0.0)
        both = (tube_pressure, plenum_pressure)
        return hole, plate, tube, plenum, *both, np.array([chamber, supply])

    def _lost(self, rail: int, flow: np.ndarray) -> np.ndarray:
        linear, quadratic, momentum = self.rails[rail]
        square = flow * flow
        gain = momentum * np.diff(square, prepend=0.0)
        return _drop(linear, quadratic, flow) + gain

    def residual(self, y: np.ndarray) -> np.ndarray:
        """Return each law's flow less the flow that its drop drives, in shares."""
        hole, plate, tube, plenum, inside, outside, (chamber, supply) = self.parts(y)
        n = self.problem.stations
        gain = self.place * self.rails[0, 2] * np.diff(tube * tube, prepend=0.0)
        through = _flow(*self.rungs[0], outside - inside + gain)
        down = _flow(*self.rungs[1], chamber - outside)
        front = _flow(*self.branch[:2, 2], chamber)
        tail = [plenum[-1], supply - plate.sum() - front]
        scaled = np.concatenate([(hole - through) * n, (plate - down) * n, tail])
        return scaled / self.flow


def _drop(linear: Any, quadratic: Any, flow: Any) -> Any:
    return (linear + quadratic * np.abs(flow)) * flow


def _flow(linear: Any, quadratic: Any, drop: Any) -> Any:
    return 2 * drop / (linear + np.sqrt(linear * linear + 4 * quadratic * np.abs(drop)))


def newton_krylov(ladder: Ladder, around: Surroundings) -> tuple[np.ndarray, np.ndarray]:
    """Solve by scipy's root(method="krylov"); return hole flows and tube pressures."""
    form = HoleFlows(ladder, around)
    options = {"fatol": 1e-9, "maxiter": 400}
    found = root(form.residual, form.start(), method="krylov", options=options)
    if not found.success:
        raise RuntimeError("root(krylov) did not converge")
    hole, _, _, _, tube_pressure, *_ = form.parts(found.x)
    return hole, tube_pressure


def _timed(methods: list[Callable[[], Any]], repeats: int) -> list[float]:
    """Return the median time of each method, runs interleaved."""
    times: list[list[float]] = [[] for _ in methods]
    for _ in range(repeats):
        for method, record in zip(methods, times, strict=True):
            begin = time.perf_counter()
            method()
            record.append(time.perf_counter() - begin)
    return [statistics.median(record) for record in times]


def _check(case: tuple[Ladder, Surroundings]) -> None:
    """Raise unless the three methods agree."""
    ours, theirs = solve_ladder(*case), newton_on_splu(*case)
    hole, pressure = newton_krylov(*case)
    pairs = (
        (ours.flow, theirs.flow),
        (ours.pressure, theirs.pressure),
        (ours.flow[2], hole),
        (ours.pressure[0], pressure),
    )
    for a, b in pairs:
        difference = float(np.abs(a - b).max() / np.abs(a).max())
        if not difference <= AGREEMENT:
            raise RuntimeError(f"methods differ by {difference:.1e}, more than {AGREEMENT:.0e}")


def rows(quick: bool) -> list[dict[str, Any]]:
    """Return one row per comparison: work, ratio (ours over theirs), goal, met."""
    cases = [bench(seed) for seed in range(3 if quick else 8)]
    ours = sparse = krylov = 0.0
    for case in cases:
        _check(case)
        methods: list[Callable[[], Any]] = [
            lambda case=case: solve_ladder(*case),
            lambda case=case: newton_on_splu(*case),
            lambda case=case: newton_krylov(*case),
        ]
        a, b, c = _timed(methods, 5 if quick else 15)
        ours, sparse, krylov = ours + a, sparse + b, krylov + c
    results = (
        ("network + tube / scipy root(krylov)", ours / krylov, 1 / 60),
        ("network + tube / same Newton on splu", ours / sparse, 1 / 5),
    )
    return [{"work": w, "ratio": r, "goal": g, "met": r <= g} for w, r, g in results]


if __name__ == "__main__":
    for row in rows(quick=False):
        print(row)
