"""A ladder in its surroundings: residuals, Newton steps and their judgement."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeAlias

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.errors import ConvergenceError
from flowsim.network._kernels import ladder_eliminate, ladder_residual, ladder_substitute
from flowsim.network.ladder_parts import Ladder, LadderResidual, LadderState, Surroundings

_SMALLEST_STEP = 2.0**-40
_ROUND_OFF = 64 * float(np.finfo(float).eps)
_LEAST_SLOPE = 1e-9  # of the starting slope
_PLACES = ("tube link", "plenum link", "hole", "plate")

Step: TypeAlias = tuple[FloatArray, FloatArray, FloatArray, FloatArray]


class LadderProblem:
    """Arrays built once, then evaluated at states."""

    def __init__(self, ladder: Ladder, around: Surroundings) -> None:
        n = ladder.tube.shape[1]
        self.around = around
        self.stations = n
        self.opened: BoolArray = np.full(n, ladder.plenum is not None)
        self.opened[-1] &= around.plenum_outlet is not None
        shut = np.concatenate([np.ones((1, n)), np.zeros((2, n))])
        plenum = shut if ladder.plenum is None else ladder.plenum
        self.rails = np.ascontiguousarray(np.stack([ladder.tube, plenum]), dtype=float)
        self.rungs = np.ascontiguousarray(np.stack([ladder.holes, ladder.plate]), dtype=float)
        self.place = ladder.hole_place
        self.free: IntArray = np.flatnonzero(np.isnan(around.pressure))
        known = around.pressure[~np.isnan(around.pressure)]
        drives = np.concatenate([np.abs(around.source), [np.ptp(known) if known.size else 0.0]])
        self.pressure_scale = float(drives.max()) or 1.0
        self._set_slopes()

    @property
    def plenum_outlet(self) -> int:
        """Node at the plenum's outlet; the tube's where it has none (then nothing flows)."""
        if self.around.plenum_outlet is None:
            return self.around.tube_outlet
        return self.around.plenum_outlet

    def _set_slopes(self) -> None:
        """Set chord slopes at the pressure scale: for the start, and as floors of slopes."""
        scale = self.pressure_scale
        rails = _chord(self.rails[:, 0], self.rails[:, 1], scale / self.stations)
        rungs = _chord(self.rungs[:, 0], self.rungs[:, 1], scale)
        self.chord = np.concatenate([rails, rungs, np.zeros((2, self.stations))])
        self.branch_chord = _chord(self.around.linear, self.around.quadratic, scale)
        self.mass_weight = float(np.median(rungs))

    # --- states ----------------------------------------------------------------------------

    def start(self, solver: Callable[[LadderProblem, LadderResidual], Step]) -> LadderState:
        """Return the state of the linear ladder with chord slopes."""
        n, around = self.stations, self.around
        pressure = np.where(np.isnan(around.pressure), 0.0, around.pressure)
        still = LadderState(
            np.zeros((4, n)), np.zeros((2, n)), pressure, np.zeros(around.start.size)
        )
        linear = replace(
            self.residual(still),
            slope=self.chord,
            share=np.zeros((2, n)),
            branch_slope=self.branch_chord,
        )
        return self.moved(still, solver(self, linear), 1.0)

    def moved(self, state: LadderState, step: Step, size: float) -> LadderState:
        """Return the state after a share of a step."""
        return LadderState(
            state.flow + size * step[0],
            state.pressure + size * step[1],
            state.node_pressure + size * step[2],
            state.branch_flow + size * step[3],
        )

    def outer(self, nodes: FloatArray) -> FloatArray:
        """Return the values that the ladder sees of an array over surrounding nodes."""
        return nodes[[self.around.above, self.around.tube_outlet, self.plenum_outlet]]

    def residual(self, state: LadderState) -> LadderResidual:
        """Return how far a state is from satisfying balances and laws."""
        n, around = self.stations, self.around
        ladder, slope = np.empty((6, n)), np.empty((6, n))
        parts = (state.flow, state.pressure, self.outer(state.node_pressure))
        ladder_residual(self.rails, self.rungs, self.place, self.opened, parts, ladder, slope)
        slope[:4] = np.maximum(slope[:4], _LEAST_SLOPE * self.chord[:4])
        share = np.empty((2, n))
        share[0] = 2.0 * self.place * self.rails[0, 2] * state.flow[0]
        share[1] = self.place * slope[4]
        steep = around.quadratic * np.abs(state.branch_flow)
        drop = (around.linear + steep) * state.branch_flow
        drive = state.node_pressure[around.start] - state.node_pressure[around.end]
        branch = drive + around.source - drop
        least = _LEAST_SLOPE * self.branch_chord
        branch_slope = np.maximum(around.linear + 2.0 * steep, least)
        node = self._node(state)
        mass = np.linalg.norm(ladder[:2]) + np.linalg.norm(node)
        norm = np.sqrt((ladder[2:] ** 2).sum() + branch @ branch + (self.mass_weight * mass) ** 2)
        return LadderResidual(ladder, slope, share, node, branch, branch_slope, float(norm))

    def _node(self, state: LadderState) -> FloatArray:
        around = self.around
        net = np.zeros(around.pressure.size)
        np.subtract.at(net, around.start, state.branch_flow)
        np.add.at(net, around.end, state.branch_flow)
        net[around.above] -= state.flow[3].sum()
        net[around.tube_outlet] += state.flow[0, -1]
        net[self.plenum_outlet] += state.flow[1, -1]
        net[~np.isnan(around.pressure)] = 0.0
        return net

    def shortened(
        self, state: LadderState, residual: LadderResidual, step: Step
    ) -> tuple[LadderState, LadderResidual] | None:
        """Halve a step until the residual falls; None if it never does."""
        size = 1.0
        while size >= _SMALLEST_STEP:
            trial = self.moved(state, step, size)
            found = self.residual(trial)
            if found.norm <= (1.0 - 1e-4 * size) * residual.norm:
                return trial, found
            size *= 0.5
        return None

    # --- judging ---------------------------------------------------------------------------

    def excess(
        self, state: LadderState, residual: LadderResidual, tolerance: float, flow_floor: float
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return residuals over their allowance: ladder (6, n), nodes, branches."""
        largest = _largest(state.flow, state.branch_flow)
        mass = tolerance * largest + 1e-6 * flow_floor
        level = _largest(state.pressure, state.node_pressure)
        rounding = _ROUND_OFF * level
        own = np.abs(state.flow) * (np.abs(residual.slope[:4]))
        drop = tolerance * own + flow_floor * residual.slope[:4] + rounding
        ladder = np.abs(residual.ladder) / np.concatenate([np.full((2, self.stations), mass), drop])
        own = np.abs(state.branch_flow) * residual.branch_slope + np.abs(self.around.source)
        drop = tolerance * own + flow_floor * residual.branch_slope + rounding
        return ladder, np.abs(residual.node) / mass, np.abs(residual.branch) / drop

    def finished(
        self, state: LadderState, residual: LadderResidual, iterations: int, worst: float
    ) -> LadderState:
        """Return a converged state with its record."""
        largest = _largest(state.flow, state.branch_flow)
        mass = _largest(residual.ladder[:2], residual.node)
        return replace(
            state,
            iterations=iterations,
            mass_residual=mass / largest if largest > 0 else 0.0,
            pressure_residual=worst,
        )

    def failure(self, excess: tuple[FloatArray, FloatArray, FloatArray]) -> ConvergenceError:
        """Return the error that names the worst element."""
        ladder, node, branch = excess
        row, station = np.unravel_index(int(np.nanargmax(ladder)), ladder.shape)
        worst = {
            float(ladder[row, station]): f"{_PLACES[row - 2]} of station {station}",
            float(node.max(initial=0.0)): f"surrounding node {int(np.argmax(node))}",
            float(branch.max(initial=0.0)): f"surrounding branch {int(np.argmax(branch))}",
        }
        size = max(worst)
        return ConvergenceError(
            f"the ladder did not converge; worst element {worst[size]}: residual {size:.3g} times "
            "its allowance"
        )


def eliminate(problem: LadderProblem, residual: LadderResidual) -> Step:
    """Return the Newton step by elimination along the stations, the surroundings last."""
    n, around = problem.stations, problem.around
    keep = np.empty((n, 8))
    slope, share = residual.slope, residual.share
    leaving = ladder_eliminate(residual.ladder, slope, share, problem.opened, keep)
    nodes = _border(problem, residual, leaving)
    branch = (residual.branch + nodes[around.start] - nodes[around.end]) / residual.branch_slope
    flow, pressure = np.empty((4, n)), np.empty((2, n))
    outer = problem.outer(nodes)
    ladder_substitute(keep, residual.ladder, slope, share, problem.opened, outer, (flow, pressure))
    return flow, pressure, nodes, branch


def _border(problem: LadderProblem, residual: LadderResidual, leaving: FloatArray) -> FloatArray:
    """Return the pressure changes of the surrounding nodes."""
    around, count = problem.around, problem.around.pressure.size
    conductance = 1.0 / residual.branch_slope
    matrix, right = np.zeros((count, count)), -residual.node
    for sign, ends in ((-1.0, around.start), (1.0, around.end)):
        np.add.at(matrix, (ends, around.start), sign * conductance)
        np.add.at(matrix, (ends, around.end), -sign * conductance)
        np.subtract.at(right, ends, sign * conductance * residual.branch)
    columns = [around.tube_outlet, problem.plenum_outlet, around.above]
    gains = leaving[:, [0, 1, 3]]
    plate = gains.sum(axis=0)
    rows = ((around.tube_outlet, gains[0]), (problem.plenum_outlet, gains[1]))
    for row, gain in (*rows, (around.above, -plate)):
        np.add.at(matrix, (row, columns), gain)
    right[around.tube_outlet] -= leaving[0, 2]
    right[problem.plenum_outlet] -= leaving[1, 2]
    right[around.above] += leaving[:, 2].sum() + residual.ladder[:2].sum()
    change = np.zeros(count)
    free = problem.free
    change[free] = np.linalg.solve(matrix[np.ix_(free, free)], right[free])
    return change


def _chord(linear: FloatArray, quadratic: FloatArray, scale: float) -> FloatArray:
    """Return drop over flow where the drop is `scale`."""
    return 0.5 * (linear + np.sqrt(linear * linear + 4.0 * quadratic * scale))


def _largest(*parts: FloatArray) -> float:
    return max(float(np.abs(part).max(initial=0.0)) for part in parts)
