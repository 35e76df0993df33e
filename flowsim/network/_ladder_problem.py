"""A ladder in its surroundings as arrays for the compiled loops."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from flowsim._arrays import BoolArray, FloatArray, IntArray
from flowsim.errors import ConvergenceError
from flowsim.network._kernels import Fixed, Found, ladder_excess, ladder_residual, ladder_step
from flowsim.network.ladder_parts import Ladder, LadderState, Surroundings

_LEAST_SLOPE = 1e-9  # of the starting slope
_ROWS = (
    "tube balance at station",
    "plenum balance at station",
    "tube link of station",
    "plenum link of station",
    "hole of station",
    "plate of station",
    "surrounding node",
    "surrounding branch",
)


class LadderProblem:
    """Arrays of a ladder, built once; states are flat arrays as in `_kernels`."""

    def __init__(
        self, ladder: Ladder, around: Surroundings, tolerance: float, flow_floor: float
    ) -> None:
        n = self.stations = ladder.tube.shape[1]
        m, k = around.pressure.size, around.start.size
        opened: BoolArray = np.full(n, ladder.plenum is not None)
        opened[-1] &= around.plenum_outlet is not None
        shut = np.ones((3, n)) * np.array([[1.0], [0.0], [0.0]])
        rails = np.stack([ladder.tube, shut if ladder.plenum is None else ladder.plenum])
        rungs = np.stack([ladder.holes, ladder.plate])
        branch = np.stack([around.linear, around.quadratic, around.source]).astype(float)
        ends: IntArray = np.stack([around.start, around.end]).astype(np.int64)
        free: BoolArray = np.isnan(around.pressure)
        plenum_outlet = around.plenum_outlet
        outlets = (
            around.tube_outlet,
            around.tube_outlet if plenum_outlet is None else plenum_outlet,
        )
        hook: IntArray = np.array([around.above, *outlets], dtype=np.int64)
        self.chord = self._chords(rails, rungs, branch, around.pressure)
        weight = float(np.median(self.chord[2 * n : 4 * n]))
        numbers = np.array([ladder.hole_place, weight, tolerance, flow_floor])
        least = _LEAST_SLOPE * self.chord
        self.fixed: Fixed = (rails, rungs, opened, least, branch, ends, free, hook, numbers)
        self.cuts = (4 * n, 6 * n, 6 * n + m)
        self.size = 6 * n + m + k
        self.still = np.zeros(self.size)
        self.still[6 * n : 6 * n + m] = np.where(free, 0.0, around.pressure)

    def _chords(
        self, rails: FloatArray, rungs: FloatArray, branch: FloatArray, pressure: FloatArray
    ) -> FloatArray:
        """Return drop over flow of every law where the whole pressure scale drives it."""
        known = pressure[np.isfinite(pressure)]
        drives = [*np.abs(branch[2]).tolist(), float(np.ptp(known)) if known.size else 0.0]
        scale = max(drives) or 1.0
        parts = (
            _chord(rails[:, 0], rails[:, 1], scale / self.stations),
            _chord(rungs[:, 0], rungs[:, 1], scale),
            _chord(branch[0], branch[1], scale),
        )
        return np.concatenate([part.ravel() for part in parts])

    def room(self) -> Found:
        """Return empty arrays for residuals and slopes."""
        n, m, k = self.stations, self.cuts[2] - self.cuts[1], self.size - self.cuts[2]
        shapes = ((6, n), (6, n), (2, n), (m,), (k,), (k,))
        ladder, slope, share, node, law, steep = (np.empty(shape) for shape in shapes)
        return ladder, slope, share, node, law, steep

    def residual(self, x: FloatArray, found: Found) -> float:
        """Fill residuals and slopes at a state; return the norm. [Pa]."""
        return ladder_residual(self.fixed, x, found)

    def linear(self, found: Found) -> None:
        """Fill residuals at rest and chord slopes: the linear ladder that a cold start solves."""
        n = self.stations
        self.residual(self.still, found)
        found[1][:4] = self.chord[: 4 * n].reshape(4, n)
        found[1][4:] = 0.0
        found[2][:] = 0.0
        found[5][:] = self.chord[4 * n :]

    def excess(self, x: FloatArray, found: Found) -> tuple[float, str]:
        """Return the largest residual over its allowance, and its place in words."""
        worst, row, place = ladder_excess(self.fixed, x, found)
        return worst, f"{_ROWS[row]} {place}"

    def state(self, x: FloatArray, found: Found, iterations: int) -> LadderState:
        """Return a converged state by its parts."""
        flows, pressures, nodes = self.cuts
        flow, branch = x[:flows], x[nodes:]
        largest = max(_largest(flow), _largest(branch))
        mass = max(_largest(found[0][:2]), _largest(found[3]))
        return LadderState(
            flow.reshape(4, -1),
            x[flows:pressures].reshape(2, -1),
            x[pressures:nodes],
            branch,
            iterations,
            mass / largest if largest > 0 else 0.0,
            self.excess(x, found)[0],
        )


LinearSolver = Callable[[LadderProblem, Found], FloatArray]


def eliminate(problem: LadderProblem, found: Found) -> FloatArray:
    """Return the Newton step by elimination along the stations, the surroundings last."""
    step = np.empty(problem.size)
    ladder_step(problem.fixed, found, step)
    return step


def failure(problem: LadderProblem, x: FloatArray, found: Found) -> ConvergenceError:
    """Return the error that names the worst element."""
    size, place = problem.excess(x, found)
    return ConvergenceError(
        f"the ladder did not converge; worst element: {place}, {size:.3g} times its allowance"
    )


def _chord(linear: FloatArray, quadratic: FloatArray, scale: float) -> FloatArray:
    """Return drop over flow where the drop is `scale`."""
    return 0.5 * (linear + np.sqrt(linear * linear + 4.0 * quadratic * scale))


def _largest(part: FloatArray) -> float:
    return float(np.abs(part).max(initial=0.0))
