"""Newton-Krylov for the coupling of hole flow and header pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import ConvergenceError
from flowsim.plenum._kernels import rotate_column

__all__ = ["Balance", "Group", "HoleSystem", "LinearState", "solve_balance"]

VECTORS = 60  # Krylov vectors kept before a restart
STEPS = 40  # Newton steps at one share of inertia
SHARES = 60  # steps of the continuation in inertia
SLOPE_FLOOR = 0.05  # smallest slope in the preconditioner, share of drop/velocity
STILL = 1e-6  # mean drop over pressure spread below which a group's start counts as still air
PRESSURE_FLOOR = 1e-9  # scale of the drops below which no relative accuracy is asked [Pa]


@dataclass(frozen=True)
class Group:
    """Holes that share one unknown constant of pressure and one prescribed total flow.

    Parameters
    ----------
    part : slice
        Place of the holes among the unknowns. [-]
    area : array, shape (m,)
        Open area behind each unknown velocity. [m2]
    flow : float
        Total flow that they must carry. [m3/s]
    """

    part: slice
    area: FloatArray
    flow: float


@dataclass(frozen=True)
class LinearState:
    """One evaluation of a system, with all that its linearisation needs.

    Parameters
    ----------
    residual : array, shape (n,)
        Hole drop plus header pressure, without the constants of the groups. [Pa]
    drop : array, shape (n,)
        Hole drop. [Pa]
    slope : array, shape (n,)
        Derivative of the hole drop to the velocity. [Pa s/m]
    share : float
        Share of the air's inertia in use, 0 to 1. [-]
    parts : object
        What the system keeps for itself. [-]
    """

    residual: FloatArray
    drop: FloatArray
    slope: FloatArray
    share: float
    parts: Any


class HoleSystem(Protocol):
    """Holes along a header: evaluation and linearised header pressure."""

    @property
    def groups(self) -> tuple[Group, ...]:
        """Groups that together cover all unknowns."""

    def evaluate(self, velocity: FloatArray, share: float, /) -> LinearState:
        """Return the residual at given hole velocities.

        Parameters
        ----------
        velocity : array, shape (n,)
            Hole velocities. [m/s]
        share : float
            Share of the inertia to use. [-]

        Returns
        -------
        LinearState
            Residual and what its linearisation needs.
        """

    def change(self, state: LinearState, step: FloatArray, /) -> FloatArray:
        """Return the linear change of header pressure.

        Parameters
        ----------
        state : LinearState
            Evaluation to linearise about. [-]
        step : array, shape (n,)
            Change of the velocities. [m/s]

        Returns
        -------
        array, shape (n,)
            Change at each hole. [Pa]
        """

    def place(self, index: int, /) -> str:
        """Return where an unknown sits, in words.

        Parameters
        ----------
        index : int
            Number of the unknown. [-]

        Returns
        -------
        str
            Words for a message.
        """


@dataclass(frozen=True)
class Balance:
    """Solution of a hole system.

    Parameters
    ----------
    velocity : array, shape (n,)
        Hole velocities. [m/s]
    state : LinearState
        Evaluation at the solution. [-]
    constants : array, shape (number of groups,)
        Pressure to add to each group's header pressure. [Pa]
    error : float
        Largest remaining mismatch over the group's mean drop. [-]
    iterations : int
        Newton steps, all continuation steps together. [-]
    """

    velocity: FloatArray
    state: LinearState
    constants: FloatArray
    error: float
    iterations: int


def solve_balance(system: HoleSystem, start: FloatArray, tolerance: float) -> Balance:
    """Find hole velocities whose drop equals the header's pressure at every hole.

    Parameters
    ----------
    system : HoleSystem
        The holes and their header. [-]
    start : array, shape (n,)
        Velocities to begin with; each group's total flow is set right. [m/s]
    tolerance : float
        Largest mismatch allowed, over the group's mean drop. [-]

    Returns
    -------
    Balance
        The solution.

    Raises
    ------
    ConvergenceError
        If neither Newton from the start nor continuation in the inertia reaches the tolerance.

    Notes
    -----
    Newton with backtracking, its steps by GMRES preconditioned with the holes' own slopes (method
    from memory). If that fails from the start, the inertia grows in shares from zero.
    """
    start = _stir(system, _hold_flow(system.groups, start))
    direct = _newton(system, start, 1.0, tolerance)
    if direct.error <= tolerance:
        return direct
    return _continuation(system, start, tolerance, direct.iterations)


def _stir(system: HoleSystem, start: FloatArray) -> FloatArray:
    """Set a still group in motion as its pressure would, or its slopes would all vanish."""
    state = system.evaluate(start, 1.0)
    unit: FloatArray | None = None
    out = start.copy()
    for group in system.groups:
        own = state.residual[group.part]
        drive = float(group.area @ own) / float(group.area.sum()) - own
        if np.sum(np.abs(state.drop[group.part])) >= STILL * np.sum(np.abs(drive)):
            continue
        if unit is None:
            unit = system.evaluate(np.ones_like(start), 0.0).drop
        out[group.part] += np.sign(drive) * np.sqrt(np.abs(drive) / unit[group.part])
    return _hold_flow(system.groups, out)


def _hold_flow(groups: tuple[Group, ...], velocity: FloatArray) -> FloatArray:
    """Return the velocities, shifted evenly so that each group carries its total flow."""
    out = velocity.copy()
    for group in groups:
        own = out[group.part]
        own += (group.flow - float(group.area @ own)) / float(group.area.sum())
    return out


def _continuation(
    system: HoleSystem, start: FloatArray, tolerance: float, iterations: int
) -> Balance:
    """Grow the inertia from zero, halving the step where Newton fails."""
    share, step = 0.0, 0.25
    best = _newton(system, start, 0.0, tolerance)
    iterations += best.iterations
    for _ in range(SHARES):
        target = min(1.0, share + step)
        trial = _newton(system, best.velocity, target, tolerance)
        iterations += trial.iterations
        if trial.error <= tolerance:
            best, share, step = trial, target, 2.0 * step
            if share == 1.0:
                return Balance(best.velocity, best.state, best.constants, best.error, iterations)
        else:
            step *= 0.5
        if step < 1e-4:
            break
    raise ConvergenceError(_failure(system, trial, share, tolerance))


def _failure(system: HoleSystem, trial: Balance, share: float, tolerance: float) -> str:
    """Return a message that names the worst hole."""
    mismatch, _ = _mismatch(system.groups, trial.state)
    worst = int(np.argmax(np.abs(mismatch)))
    return (
        f"hole flow and header pressure do not settle: mismatch {trial.error:.2g} of the mean "
        f"drop (asked {tolerance:.2g}) at {system.place(worst)}; solved up to {share:.3g} of the "
        "air's inertia. The header is choked: enlarge its section or reduce its hole area"
    )


def _newton(system: HoleSystem, start: FloatArray, share: float, tolerance: float) -> Balance:
    """Run Newton at one share of the inertia; the caller judges the error."""
    groups = system.groups
    velocity = start
    state = system.evaluate(velocity, share)
    iterations = 0
    previous = 1.0
    while True:
        mismatch, constants = _mismatch(groups, state)
        error = float(np.max(np.abs(mismatch)))
        if error <= tolerance or iterations >= STEPS or not np.isfinite(error):
            return Balance(velocity, state, constants, error, iterations)
        forcing = max(min(0.1, (error / previous) ** 2, 0.3 * error), 0.3 * tolerance / error)
        step = _krylov_step(system, state, velocity, min(forcing, 0.1))
        iterations += 1
        accepted = _backtrack(system, velocity, step, state, mismatch)
        if accepted is None:
            return Balance(velocity, state, constants, error, iterations)
        velocity, state = accepted
        previous = error


def _scales(groups: tuple[Group, ...], drop: FloatArray) -> FloatArray:
    """Return each group's area-mean drop [Pa]."""
    return np.array(
        [
            max(float(group.area @ np.abs(drop[group.part]) / group.area.sum()), PRESSURE_FLOOR)
            for group in groups
        ]
    )


def _mismatch(
    groups: tuple[Group, ...], state: LinearState, scales: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Return residuals over the group's mean drop, constants removed, and the constants."""
    scales = _scales(groups, state.drop) if scales is None else scales
    out = np.empty_like(state.residual)
    constants = np.empty(len(groups))
    for k, group in enumerate(groups):
        own = state.residual[group.part]
        constants[k] = -float(group.area @ own) / float(group.area.sum())
        out[group.part] = (own + constants[k]) / scales[k]
    return out, constants


def _backtrack(
    system: HoleSystem,
    velocity: FloatArray,
    step: FloatArray,
    state: LinearState,
    mismatch: FloatArray,
) -> tuple[FloatArray, LinearState] | None:
    """Shorten the step until the mismatch falls; None if it never does."""
    scales = _scales(system.groups, state.drop)
    before = float(mismatch @ mismatch)
    factor = 1.0
    for _ in range(12):
        trial = _hold_flow(system.groups, velocity + factor * step)
        new = system.evaluate(trial, state.share)
        after, _ = _mismatch(system.groups, new, scales)
        if float(after @ after) < (1.0 - 1e-4 * factor) * before:
            return trial, new
        factor *= 0.5
    return None


def _krylov_step(
    system: HoleSystem, state: LinearState, velocity: FloatArray, forcing: float
) -> FloatArray:
    """Return the Newton step, solved to a relative accuracy by restarted GMRES."""
    floors = np.empty_like(velocity)
    for group in system.groups:
        part = group.part
        speed = float(group.area @ np.abs(velocity[part])) + PRESSURE_FLOOR
        mean = float(group.area @ np.abs(state.drop[part])) / speed
        floors[part] = SLOPE_FLOOR * mean + PRESSURE_FLOOR
    inverse = 1.0 / np.maximum(state.slope, floors)
    operator = _Operator(system, state, inverse)
    target = operator.precondition(-state.residual)
    goal = forcing * float(np.linalg.norm(target))
    step = np.zeros_like(velocity)
    rest = target
    for _ in range(3):
        step = step + _gmres_cycle(operator, rest, goal)
        rest = target - operator.apply(step)
        if float(np.linalg.norm(rest)) <= 1.5 * goal:
            break
    return step


@dataclass(frozen=True)
class _Operator:
    """Preconditioned Jacobian on steps that carry no total flow."""

    system: HoleSystem
    state: LinearState
    inverse: FloatArray

    def precondition(self, pressure: FloatArray) -> FloatArray:
        """Divide by the slopes and take out what would change a group's total flow."""
        out = self.inverse * pressure
        for group in self.system.groups:
            own = self.inverse[group.part]
            surplus = float(group.area @ out[group.part]) / float(group.area @ own)
            out[group.part] -= surplus * own
        return out

    def apply(self, step: FloatArray) -> FloatArray:
        """Apply hole slope plus header response, then the preconditioner."""
        pressure = self.system.change(self.state, step)
        pressure += self.state.slope * step
        return self.precondition(pressure)


def _gmres_cycle(operator: _Operator, rest: FloatArray, goal: float) -> FloatArray:
    """Run one GMRES cycle from zero and return its correction."""
    size = min(VECTORS, rest.size)
    basis = np.empty((size + 1, rest.size))
    hessenberg = np.zeros((size + 1, size))
    rotation = np.zeros((2, size))
    target = np.zeros(size + 1)
    target[0] = np.linalg.norm(rest)
    if target[0] <= goal:
        return np.zeros_like(rest)
    basis[0] = rest / target[0]
    used = 0
    for k in range(size):
        new = operator.apply(basis[k])
        own = basis[: k + 1]
        for _ in range(2):
            share = own @ new
            new -= share @ own
            hessenberg[: k + 1, k] += share
        length = float(np.linalg.norm(new))
        hessenberg[k + 1, k] = length
        rotate_column(hessenberg, rotation, target, k)
        used = k + 1
        if abs(target[used]) <= goal or length == 0.0:
            break
        basis[used] = new / length
    weights = np.linalg.solve(np.triu(hessenberg[:used, :used]), target[:used])
    return np.asarray(weights @ basis[:used])
