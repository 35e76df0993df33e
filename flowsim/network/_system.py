"""A network as arrays: residual, Jacobian and allowance at a state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from flowsim._arrays import FloatArray, IntArray
from flowsim.errors import ConvergenceError, RangeError
from flowsim.network.graph import Branch, Closed, DropLaw, FixedFlow, FlowLaw, Network
from flowsim.network.inverse import drop_at_flow

_LARGEST_DENSE = 300
_ROUND_OFF = 64 * np.finfo(float).eps
_SMALLEST = np.finfo(float).tiny
_STARTING_FLOW = 0.05


@dataclass(frozen=True)
class NetworkSolution:
    """Pressures and flows that satisfy every law of a network.

    Parameters
    ----------
    pressures : dict of str to float
        Total gauge pressure of every node, fixed ones included; nan for a node of `isolated`. [Pa]
    flows : dict of str to float
        Volume flow of every branch from start to end. [m3/s]
    drops : dict of str to float
        Total pressure lost along every branch, its source included; negative for a fan that
        raises it, nan for a closed branch at an isolated node. [Pa]
    iterations : int
        Newton steps taken. [-]
    mass_residual : float
        Largest imbalance of a node over the largest flow. [-]
    pressure_residual : float
        Largest residual of a branch over its own drop. [-]
    isolated : tuple of str
        Nodes with no path to a fixed pressure, so that only differences among them are known.
    """

    pressures: dict[str, float]
    flows: dict[str, float]
    drops: dict[str, float]
    iterations: int
    mass_residual: float
    pressure_residual: float
    isolated: tuple[str, ...] = ()


@dataclass(frozen=True)
class Limits:
    tolerance: float
    flow_floor: float


@dataclass(frozen=True)
class State:
    """Unknowns: pressure of each node (fixed ones at their value), flow of each live branch."""

    pressure: FloatArray
    flow: FloatArray


@dataclass(frozen=True)
class Residual:
    mass: FloatArray  # per unknown node [m3/s]
    law: FloatArray  # per live branch, drive less drop [Pa]
    drop: FloatArray  # per live branch [Pa]
    slope: FloatArray  # d drop/d flow [Pa s/m3]
    norm: float  # [Pa]


class System:
    """A network as arrays: built once, then evaluated at states."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.nodes = (*network.fixed, *network.free_nodes)
        self.index = {node: i for i, node in enumerate(self.nodes)}
        self.live = tuple(b for b in network.branches if not isinstance(b.law, FixedFlow | Closed))
        self.laws = tuple(_as_drop(branch) for branch in self.live)
        self.first: IntArray = np.array([self.index[b.start] for b in self.live], dtype=np.int64)
        self.last: IntArray = np.array([self.index[b.end] for b in self.live], dtype=np.int64)
        self.source: FloatArray = np.array([b.source for b in self.live], dtype=float)
        self.inflow = self._given_inflow()
        self.isolated, reference = self._find_isolated()
        known = np.zeros(len(self.nodes), dtype=bool)
        known[: len(network.fixed)] = True
        known[list(reference)] = True
        self.unknown: IntArray = np.flatnonzero(~known)
        self.column: IntArray = np.full(len(self.nodes), -1, dtype=np.int64)
        self.column[self.unknown] = np.arange(len(self.unknown))
        self._set_scales()
        self._set_pattern()

    # --- what is given ---------------------------------------------------------------------

    def _given_inflow(self) -> FloatArray:
        inflow = np.zeros(len(self.nodes))
        for node, rate in self.network.injections.items():
            inflow[self.index[node]] += rate
        for branch in self.network.branches:
            if isinstance(branch.law, FixedFlow):
                inflow[self.index[branch.start]] -= branch.law.rate
                inflow[self.index[branch.end]] += branch.law.rate
        return inflow

    def _find_isolated(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return nodes without a path to a fixed pressure, and one reference node per group."""
        isolated: list[int] = []
        reference: list[int] = []
        fixed = len(self.network.fixed)
        for group in _groups(len(self.nodes), self.first, self.last):
            if group[0] < fixed:
                continue
            self._check_sealed(group)
            isolated.extend(group)
            reference.append(group[0])
        return tuple(isolated), tuple(reference)

    def _check_sealed(self, group: list[int]) -> None:
        given = self.inflow[group]
        if abs(float(given.sum())) > 1e-12 * float(np.abs(self.inflow).max()):
            names = ", ".join(repr(self.nodes[i]) for i in group)
            raise RangeError(
                f"given flows put {given.sum():.4g} m3/s into {names}, and no branch lets it out; "
                "open a branch, or replace a given flow by a fan"
            )

    def _set_scales(self) -> None:
        """Set the pressure scale, and per branch the flow that it would drive (cold start)."""
        fixed = np.array([*self.network.fixed.values(), 0.0])
        still = [_still(branch) for branch in self.live]
        drives = np.abs(np.concatenate([self.source, still, [np.ptp(fixed)]]))
        self.pressure_scale = float(drives.max()) or 1.0
        self.still = np.array(still, dtype=float)
        scale = self.pressure_scale
        reach = np.array([_reach(branch, scale) for branch in self.live], dtype=float)
        self.weight: FloatArray = scale / reach
        self.mass_weight = float(np.median(self.weight)) if len(self.live) else 1.0

    def _set_pattern(self) -> None:
        """Set the sparse pattern of the Jacobian: mass rows first, pressures first."""
        free, live = len(self.unknown), len(self.live)
        branch = np.arange(live)
        ends = np.concatenate([self.first, self.last])
        sign = np.concatenate([np.ones(live), -np.ones(live)])
        owner = np.concatenate([branch, branch])
        inner = self.column[ends] >= 0
        node, self.sign, self.owner = self.column[ends][inner], sign[inner], owner[inner]
        self.rows: IntArray = np.concatenate([node, self.owner + free, branch + free])
        self.columns: IntArray = np.concatenate([self.owner + free, node, branch + free])
        self.size = free + live

    # --- states ----------------------------------------------------------------------------

    def starting_state(self, start: NetworkSolution | None) -> State:
        """Return the state of an equivalent linear network, or of a given solution."""
        pressure = np.zeros(len(self.nodes))
        pressure[: len(self.network.fixed)] = list(self.network.fixed.values())
        cold = self._linear_state(pressure)
        if start is None:
            return cold
        return self._warm_state(cold, start)

    def _linear_state(self, pressure: FloatArray) -> State:
        flow = np.zeros(len(self.live))
        law = pressure[self.first] - pressure[self.last] + self.source - self.still
        guess = Residual(self._mass(flow), law, flow, self.weight, 0.0)
        step = self.newton_step(guess)
        return self.moved(State(pressure, flow), step, 1.0)

    def _warm_state(self, cold: State, start: NetworkSolution) -> State:
        pressure, flow = cold.pressure.copy(), cold.flow.copy()
        for i in self.unknown:
            value = start.pressures.get(self.nodes[i], np.nan)
            if np.isfinite(value):
                pressure[i] = value
        for j, branch in enumerate(self.live):
            flow[j] = start.flows.get(branch.name, flow[j])
        return State(pressure, flow)

    def moved(self, state: State, step: FloatArray, share: float) -> State:
        """Return the state after a share of a step."""
        free = len(self.unknown)
        pressure = state.pressure.copy()
        pressure[self.unknown] += share * step[:free]
        return State(pressure, state.flow + share * step[free:])

    def _mass(self, flow: FloatArray) -> FloatArray:
        net = self.inflow.copy()
        np.subtract.at(net, self.first, flow)
        np.add.at(net, self.last, flow)
        unknown: FloatArray = net[self.unknown]
        return unknown

    def drive(self, state: State) -> FloatArray:
        """Return pressure at the start less that at the end, plus source, per branch."""
        return state.pressure[self.first] - state.pressure[self.last] + self.source

    def residual(self, state: State) -> Residual:
        """Return how far a state is from satisfying mass balances and laws."""
        drive = self.drive(state)
        pairs = [
            law(flow, guess)
            for law, flow, guess in zip(self.laws, state.flow.tolist(), drive.tolist(), strict=True)
        ]
        drop, slope = np.array(pairs, dtype=float).reshape(-1, 2).T
        law, mass = drive - drop, self._mass(state.flow)
        norm = float(np.hypot(np.linalg.norm(law), self.mass_weight * np.linalg.norm(mass)))
        return Residual(mass, law, drop, slope, norm)

    # --- steps -----------------------------------------------------------------------------

    def newton_step(self, residual: Residual, rising: bool = False) -> FloatArray:
        """Return the change of unknown pressures and flows that Newton asks for.

        With `rising`, slopes below zero are taken as above zero: a step down in content.
        """
        slope = np.abs(residual.slope) if rising else residual.slope
        entries = np.concatenate(
            [-self.mass_weight * self.sign, self.sign, -self._steepened(slope)]
        )
        right = -np.concatenate([self.mass_weight * residual.mass, residual.law])
        if self.size == 0:
            return right
        try:
            return self._linear_solve(entries, right)
        except (np.linalg.LinAlgError, RuntimeError) as error:
            raise ConvergenceError(
                "the network's linear system is singular; " + self._worst(residual)
            ) from error

    def _steepened(self, slope: FloatArray) -> FloatArray:
        """Return drop slopes with those near zero (a quadratic law at rest) lifted a little."""
        least = 1e-9 * self.weight
        return np.where(np.abs(slope) < least, least, slope)

    def _linear_solve(self, entries: FloatArray, right: FloatArray) -> FloatArray:
        shape = (self.size, self.size)
        if self.size > _LARGEST_DENSE:
            matrix = csc_matrix((entries, (self.rows, self.columns)), shape=shape)
            sparse: FloatArray = splu(matrix).solve(right)
            return sparse
        dense = np.zeros(shape)
        np.add.at(dense, (self.rows, self.columns), entries)
        return np.asarray(np.linalg.solve(dense, right), dtype=float)

    def unbalanced(self, state: State, residual: Residual) -> bool:
        """Return whether a node loses or gains air, as in a start from other flows."""
        largest = float(np.abs(np.concatenate([state.flow, self.inflow])).max(initial=0.0))
        return float(np.abs(residual.mass).max(initial=0.0)) > 1e-9 * largest

    # --- judging ---------------------------------------------------------------------------

    def excess(self, state: State, residual: Residual, limits: Limits) -> FloatArray:
        """Return each residual over its allowance: mass balances first, then branches."""
        level = np.abs(state.pressure[self.first]) + np.abs(state.pressure[self.last])
        level += np.abs(self.source)
        steep = np.abs(self._steepened(residual.slope))
        rounding = _ROUND_OFF * (level + steep * np.abs(state.flow))
        still = steep * limits.flow_floor
        allowed = limits.tolerance * np.abs(residual.drop) + rounding + still + _SMALLEST
        largest = float(np.abs(np.concatenate([state.flow, self.inflow])).max(initial=0.0))
        mass_allowed = limits.tolerance * largest + 1e-6 * limits.flow_floor
        return np.concatenate(
            [np.abs(residual.mass) / mass_allowed, np.abs(residual.law) / allowed]
        )

    def _worst(self, residual: Residual) -> str:
        if not len(self.live):
            return "it has no branch"
        j = int(np.nanargmax(np.abs(residual.law)))
        branch = self.live[j]
        return (
            f"worst branch {branch.name!r} ({branch.start} to {branch.end}): "
            f"residual {residual.law[j]:.3g} Pa"
        )

    def failure(self, excess: FloatArray, residual: Residual, iterations: int) -> ConvergenceError:
        """Return the error that names the worst element."""
        free = len(self.unknown)
        k = int(np.argmax(np.nan_to_num(excess, nan=np.inf)))
        if k < free:
            node = self.nodes[self.unknown[k]]
            where = f"worst node {node!r}: imbalance {residual.mass[k]:.3g} m3/s"
        else:
            branch = self.live[k - free]
            where = (
                f"worst branch {branch.name!r} ({branch.start} to {branch.end}): "
                f"residual {residual.law[k - free]:.3g} Pa"
            )
        return ConvergenceError(f"the network did not converge in {iterations} steps; {where}")

    def solution(self, state: State, iterations: int) -> NetworkSolution:
        """Return a converged state by names."""
        residual = self.residual(state)
        isolated = tuple(self.nodes[i] for i in self.isolated)
        pressures = dict(zip(self.nodes, state.pressure.tolist(), strict=True))
        flows = dict(zip((b.name for b in self.live), state.flow.tolist(), strict=True))
        drops = dict(zip((b.name for b in self.live), self.drive(state).tolist(), strict=True))
        pressures.update(dict.fromkeys(isolated, float("nan")))
        for branch in self.network.branches:
            if branch.name not in flows:
                flows[branch.name] = _given_flow(branch)
                drops[branch.name] = pressures[branch.start] - pressures[branch.end] + branch.source
        largest = max((abs(q) for q in flows.values()), default=0.0)
        mass = float(np.abs(residual.mass).max(initial=0.0))
        relative = np.abs(residual.law) / (np.abs(residual.drop) + 1e-12 * self.weight)
        return NetworkSolution(
            pressures,
            {b.name: flows[b.name] for b in self.network.branches},
            {b.name: drops[b.name] for b in self.network.branches},
            iterations,
            mass / largest if largest > 0 else 0.0,
            float(relative.max(initial=0.0)),
            isolated,
        )


DropFunction = Callable[[float, float], tuple[float, float]]


def _as_drop(branch: Branch) -> DropFunction:
    """Return a branch's law as drop and slope of (flow, guess of the drop)."""
    law = branch.law
    if isinstance(law, FixedFlow | Closed):
        raise TypeError(f"branch {branch.name!r} has no law between flow and drop")
    if isinstance(law, DropLaw):
        return partial(_direct, law)
    return partial(_inverted, law)


def _direct(law: DropLaw, flow: float, guess: float) -> tuple[float, float]:  # noqa: ARG001 (see _as_drop)
    return law.drop(flow)


def _inverted(law: FlowLaw, flow: float, guess: float) -> tuple[float, float]:
    return drop_at_flow(law, flow, guess)


def _still(branch: Branch) -> float:
    """Return a law's drop without flow, of a fan above all. [Pa]."""
    law = branch.law
    return float(law.drop(0.0)[0]) if isinstance(law, DropLaw) else 0.0


def _reach(branch: Branch, scale: float) -> float:
    """Return roughly the flow that the pressure scale drives through a branch alone. [m3/s]."""
    law = branch.law
    if isinstance(law, FixedFlow | Closed):
        return 0.0
    if not isinstance(law, DropLaw):
        return max(abs(law.flow(scale)[0] - law.flow(0.0)[0]), 1e-15)
    still, flow = law.drop(0.0)[0], _STARTING_FLOW
    for _ in range(3):
        rise = law.drop(flow)[0] - still
        if not rise > 0.0:
            break
        flow *= float(np.sqrt(scale / rise))
    return flow


def _given_flow(branch: Branch) -> float:
    return branch.law.rate if isinstance(branch.law, FixedFlow) else 0.0


def _groups(count: int, first: IntArray, last: IntArray) -> list[list[int]]:
    """Return the connected groups of nodes, each sorted, all in order of their first node."""
    parent = list(range(count))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for a, b in zip(first.tolist(), last.tolist(), strict=True):
        ra, rb = root(a), root(b)
        parent[max(ra, rb)] = min(ra, rb)
    groups: dict[int, list[int]] = {}
    for i in range(count):
        groups.setdefault(root(i), []).append(i)
    return list(groups.values())
