from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flowsim.errors import ConvergenceError, RangeError
from flowsim.network.graph import Branch, Network
from flowsim.network.ladder import Ladder, LadderState, Surroundings, solve_ladder
from flowsim.network.laws import Polynomial
from flowsim.network.solve import solve_network

NO_BRANCH = np.zeros(0)
NO_NODE = np.zeros(0, dtype=np.int64)


def manifold(count: int, place: float, friction: float = 1e-9, hole_ratio: float = 1.0) -> Ladder:
    """Return a tube of section 1 m2 in still air of 2 kg/m3, its plate no hindrance."""
    tube = np.tile([[0.0], [friction / count], [2.0]], count)
    holes = np.tile([[0.0], [(count / hole_ratio) ** 2]], count)
    plate = np.tile([[0.0], [1e-9 * count**2]], count)
    return Ladder(tube, holes, plate, hole_place=place)


def still_air(pressure: float) -> Surroundings:
    """Return a suction at the tube's end and still air above the plate."""
    values = np.array([0.0, pressure])
    return Surroundings(values, NO_NODE, NO_NODE, NO_BRANCH, NO_BRANCH, NO_BRANCH, 0, 1)


def bench(seed: int, stations: int, outlet: bool = False) -> tuple[Ladder, Surroundings]:
    """Return a random bench: supply fan, filter, chamber with front, ladder, duct, exhaust fan."""
    random = np.random.default_rng(seed)
    ones = np.ones(stations)
    section, wide = 10 ** random.uniform(-2.5, -1.5), 10 ** random.uniform(-2.5, -0.5)
    hole = random.uniform(0.1, 1.5) * section / stations
    plate = random.uniform(0.5, 3.0) * section / stations
    supply, exhaust = 10 ** random.uniform(-2, 2.7, 2)
    front = 0.6 / (0.6 * random.uniform(0.02, 0.2)) ** 2
    around = Surroundings(
        np.array([0.0, np.nan, np.nan, np.nan, np.nan]),
        np.array([0, 1, 2, 3, 4]),
        np.array([1, 2, 0, 4, 0]),
        np.array([supply / 0.2, random.uniform(10, 2000), 1e-6, 10.0, exhaust / 0.1]),
        np.array([0.0, 0.0, front, 2.0 / section**2, 0.0]),
        np.array([supply, 0.0, 0.0, 0.0, exhaust]),
        above=2,
        tube_outlet=3,
        plenum_outlet=3 if outlet else None,
    )

    def link(area: float) -> np.ndarray:
        return np.array([[1e-5 / area], [0.1 / stations / area**2], [1.2 / area**2]]) * ones

    def rung(area: float) -> np.ndarray:
        return np.array([[1e-3 / area], [0.6 / area**2]]) * ones

    return Ladder(link(section), rung(hole), rung(plate), link(wide), 0.5), around


def as_network(ladder: Ladder, around: Surroundings) -> Network:
    """Return a ladder without momentum as an ordinary network."""
    n = ladder.tube.shape[1]
    names = [f"s{k}" for k in range(around.pressure.size)]
    fixed = {
        name: float(p) for name, p in zip(names, around.pressure, strict=True) if np.isfinite(p)
    }
    tube = [*(f"t{i}" for i in range(n)), names[around.tube_outlet]]
    plenum = [*(f"p{i}" for i in range(n)), names[around.plenum_outlet or 0]]
    branches = []
    for i in range(n):
        branches.append(Branch(f"tube {i}", tube[i], tube[i + 1], Polynomial(*ladder.tube[:2, i])))
        if ladder.plenum is not None and (i < n - 1 or around.plenum_outlet is not None):
            law = Polynomial(*ladder.plenum[:2, i])
            branches.append(Branch(f"plenum {i}", plenum[i], plenum[i + 1], law))
        branches.append(Branch(f"hole {i}", plenum[i], tube[i], Polynomial(*ladder.holes[:, i])))
        above = names[around.above]
        branches.append(Branch(f"plate {i}", above, plenum[i], Polynomial(*ladder.plate[:, i])))
    for j, (a, b) in enumerate(zip(around.start, around.end, strict=True)):
        law = Polynomial(float(around.linear[j]), float(around.quadratic[j]))
        source = float(around.source[j])
        branches.append(Branch(f"around {j}", names[a], names[b], law, source=source))
    return Network(fixed, tuple(branches))


@pytest.mark.parametrize(
    ("count", "expected"),
    [(10, 1.858208), (20, 2.004331), (50, 2.104874), (100, 2.140859), (1000, 2.174389)],
)
def test_discrete_holes_seen_before_their_air_joins(count: int, expected: float) -> None:
    hole = solve_ladder(manifold(count, 0.0), still_air(-1.0)).flow[2]
    # own derivation, hole by hole (flow.md 5), F = 0
    assert hole[-1] / hole[0] == pytest.approx(expected, rel=1e-6)


def test_mean_hole_pressure_is_second_order() -> None:
    # own closed form cosh(sqrt2) at the ends, here at the first and last half cells (flow.md 5)
    errors = []
    for count in (20, 40, 80):
        hole = solve_ladder(manifold(count, 0.5), still_air(-1.0)).flow[2]
        half = np.sqrt(2.0) / (2 * count)
        errors.append(hole[-1] / hole[0] - np.cosh(np.sqrt(2.0) - half) / np.cosh(half))
    orders = np.log2(np.abs(np.array(errors[:-1]) / np.array(errors[1:])))
    assert orders == pytest.approx([2.0, 2.0], abs=0.15)


def test_friction_worsens_a_combining_tube() -> None:
    hole = solve_ladder(manifold(400, 0.5, friction=2.0), still_air(-1.0)).flow[2]
    # own derivation, three methods (flow_manifold.csv: combining, a = 1, F = 2), strength A
    assert hole[-1] / hole[0] == pytest.approx(2.501643689, rel=5e-3)


@pytest.mark.parametrize("outlet", [False, True])
def test_without_momentum_it_is_the_ordinary_network(outlet: bool) -> None:
    ladder, around = bench(3, 12, outlet)
    assert ladder.plenum is not None
    plain = np.array([[1.0], [1.0], [0.0]])
    ladder = replace(ladder, tube=ladder.tube * plain, plenum=ladder.plenum * plain)
    found = solve_ladder(ladder, around)
    solution = solve_network(as_network(ladder, around))
    flows = [solution.flows[f"hole {i}"] for i in range(12)]
    # two solvers of one problem
    assert found.flow[2] == pytest.approx(flows, rel=1e-9)
    assert found.pressure[0, 4] == pytest.approx(solution.pressures["t4"], rel=1e-9)
    assert found.pressure[1, 7] == pytest.approx(solution.pressures["p7"], rel=1e-9)
    around_flows = [solution.flows[f"around {j}"] for j in range(5)]
    assert found.branch_flow == pytest.approx(around_flows, rel=1e-9)


def test_shut_plenum_is_the_limit_of_a_narrow_one() -> None:
    ladder, around = bench(5, 40)
    assert ladder.plenum is not None
    narrow = replace(ladder, plenum=ladder.plenum * np.array([[1e9], [1e9], [1.0]]))
    shut = solve_ladder(replace(ladder, plenum=None), around)
    # limit approached (law of nature)
    assert solve_ladder(narrow, around).flow[2] == pytest.approx(shut.flow[2], rel=1e-4)
    assert (shut.flow[1] == 0).all()


def balances(found: LadderState) -> np.ndarray:
    """Return the imbalance of each tube and plenum station."""
    tube, plenum, hole, plate = found.flow
    zero = np.zeros(1)
    return np.concatenate(
        [np.diff(tube, prepend=zero) - hole, np.diff(plenum, prepend=zero) + hole - plate]
    )


def test_200_random_benches_of_1864_nodes_converge_from_cold() -> None:
    steps = []
    for seed in range(200):
        found = solve_ladder(*bench(seed, 930))
        largest = np.abs(found.branch_flow).max()
        # conservation of mass, law of nature
        assert found.mass_residual <= 1e-10
        assert np.abs(balances(found)).max() <= 1e-10 * largest
        steps.append(found.iterations)
    assert np.median(steps) <= 10


def test_all_off_is_at_rest() -> None:
    ladder, around = bench(1, 50)
    found = solve_ladder(ladder, replace(around, source=np.zeros(5)))
    assert np.abs(found.flow).max() <= 1e-12
    assert np.abs(found.node_pressure).max() <= 1e-12


def test_unsolved_names_the_worst_element() -> None:
    ladder, around = bench(1, 50)
    with pytest.raises(ConvergenceError, match=r"worst element: .* (station|branch|node) \d+"):
        solve_ladder(ladder, around, linear_solver=lambda problem, _: np.zeros(problem.size))


@pytest.mark.parametrize(
    ("message", "change"),
    [
        (r"holes: expected shape \(2, 20\)", {"holes": np.ones((3, 20))}),
        ("plate: coefficients must be finite", {"plate": -np.ones((2, 20))}),
        ("tube: every link and rung needs some resistance", {"tube": np.zeros((3, 20))}),
        ("hole_place lies between 0 and 1", {"hole_place": 2.0}),
    ],
)
def test_impossible_ladders_are_refused(message: str, change: dict[str, object]) -> None:
    with pytest.raises(RangeError, match=message):
        replace(manifold(20, 0.5), **change)  # type: ignore[arg-type]
