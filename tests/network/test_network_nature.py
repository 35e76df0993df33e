"""Laws of nature on random networks."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from network_parts import DENSITY, VISCOSITY, opening, straight_fan

from flowsim.network.graph import Branch, Closed, DropLaw, FlowLaw, Network
from flowsim.network.laws import CrackLaw, GapLaw, LayeredOpening, Polynomial, Scaled, Series
from flowsim.network.solve import solve_network

Random = np.random.Generator


def random_law(random: Random) -> DropLaw | FlowLaw:
    """Return a law of random kind and size."""
    size = float(10 ** random.uniform(-1, 1))
    kind = int(random.integers(0, 8))
    if kind == 7:
        return random_opening(random)
    laws: tuple[DropLaw, ...] = (
        Polynomial(300.0 * size),
        Polynomial(0.0, 3000.0 * size**2),
        opening(0.03 * size, 0.6),
        CrackLaw(1e-3 * size, float(random.uniform(0.5, 1.0))),
        GapLaw(2e-3 * size, 0.01, 1.0, DENSITY, VISCOSITY),
        straight_fan(150.0 * size, 0.1 / size),
        Series((Polynomial(100.0), opening(0.01 * size, 0.6))),
    )
    return laws[kind]


def random_opening(random: Random) -> LayeredOpening:
    """Return an opening of random size under random crossflow and buoyancy."""
    n, m = int(random.integers(1, 12)), int(random.integers(1, 4))
    return LayeredOpening(
        random.uniform(1e-3, 1e-2, (n, m)),
        random.uniform(0.0, 0.1, (n, 1)),
        np.linspace(0.0, float(random.uniform(-0.05, 0.05)), m),
        0.6,
        1.15,
        1.2,
        1.2,
    )


def random_network(seed: int) -> Network:
    """Return a connected network of 3 to 12 nodes with loops, fans and an injection."""
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 12))
    nodes = ["room", *(f"n{k}" for k in range(count))]
    pairs = [(int(random.integers(0, k)), k) for k in range(1, count + 1)]
    pairs += [
        (int(a), int(b))
        for a, b in (random.choice(count + 1, 2, replace=False) for _ in range(count))
    ]
    branches = tuple(
        Branch(f"b{k}", nodes[a], nodes[b], random_law(random), source=float(random.normal()))
        for k, (a, b) in enumerate(pairs)
    )
    return Network({"room": 0.0}, branches, {nodes[1]: 0.02 * float(random.normal())})


@pytest.mark.parametrize("block", range(4))
def test_200_random_networks_converge_from_cold_and_balance(block: int) -> None:
    for seed in range(50 * block, 50 * block + 50):
        network = random_network(seed)
        solution = solve_network(network)
        largest = max(abs(q) for q in solution.flows.values())
        # conservation of mass, law of nature
        assert solution.mass_residual <= 1e-10
        for node in network.free_nodes:
            gain = sum(q for b, q in flows_into(network, solution.flows, node))
            assert abs(gain + network.injections.get(node, 0.0)) <= 1e-10 * largest
        assert solution.iterations <= 40


def flows_into(network: Network, flows: dict[str, float], node: str) -> list[tuple[Branch, float]]:
    """Return the branches at a node with their flow into it."""
    ends = [(b, flows[b.name]) for b in network.branches if b.end == node]
    return ends + [(b, -flows[b.name]) for b in network.branches if b.start == node]


def test_every_law_holds_at_the_solution() -> None:
    for seed in range(30):
        network = random_network(seed)
        solution = solve_network(network)
        for branch in network.branches:
            flow, drop = solution.flows[branch.name], solution.drops[branch.name]
            law = branch.law
            if isinstance(law, LayeredOpening):
                assert law.flow(drop)[0] == pytest.approx(flow, rel=1e-9, abs=1e-11)
            else:
                assert law.drop(flow)[0] == pytest.approx(drop, rel=1e-9, abs=1e-9)


@settings(deadline=None, max_examples=60, derandomize=True)
@given(seed=st.integers(0, 10**6), which=st.integers(0, 100), factor=st.floats(1.01, 30.0))
def test_more_resistance_never_gives_more_flow(seed: int, which: int, factor: float) -> None:
    network = random_network(seed)
    branch = network.branches[which % len(network.branches)]
    if isinstance(branch.law, LayeredOpening):
        return
    before = solve_network(network).flows[branch.name]
    extra = Polynomial(50.0 * factor, 500.0 * factor)
    throttled = network.with_law(branch.name, Series((branch.law, extra)))  # type: ignore[arg-type]
    after = solve_network(throttled).flows[branch.name]
    # more resistance in a branch never gives more flow through it, law of nature
    assert abs(after) <= abs(before) * (1 + 1e-9) + 1e-12
    assert after * before >= -1e-20


@settings(deadline=None, max_examples=30, derandomize=True)
@given(seed=st.integers(0, 10**6), which=st.integers(0, 100))
def test_closing_is_the_limit_of_throttling(seed: int, which: int) -> None:
    network = random_network(seed)
    branch = network.branches[which % len(network.branches)]
    throttled = solve_network(network.with_law(branch.name, Polynomial(1e13)))
    closed = solve_network(network.with_law(branch.name, Closed()))
    assert abs(throttled.flows[branch.name]) <= 1e-8
    if closed.isolated:
        return
    largest = max(abs(q) for q in closed.flows.values())
    for name, flow in closed.flows.items():
        assert throttled.flows[name] == pytest.approx(flow, abs=1e-6 * largest)


@settings(deadline=None, max_examples=30, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_turning_every_branch_round_turns_its_flow(seed: int) -> None:
    network = random_network(seed)
    turned = Network(
        network.fixed,
        tuple(
            Branch(b.name, b.end, b.start, Turned(b.law), source=-b.source)
            for b in network.branches
        ),
        network.injections,
    )
    forward, back = solve_network(network), solve_network(turned)
    largest = max(abs(q) for q in forward.flows.values())
    for name, flow in forward.flows.items():
        assert back.flows[name] == pytest.approx(-flow, abs=1e-9 * largest)


class Turned:
    """A law seen from its other end."""

    def __init__(self, law: object) -> None:
        self.law = law

    def drop(self, flow: float) -> tuple[float, float]:
        """Return the law's drop, turned."""
        if isinstance(self.law, LayeredOpening):
            drop = self.law.drop_at(-flow)
            return -drop, 1.0 / self.law.flow(drop)[1]
        drop, slope = self.law.drop(-flow)  # type: ignore[attr-defined]
        return -drop, slope

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing."""
        return ()


def test_scaled_laws_conserve_in_a_network() -> None:
    hot = Scaled(opening(0.02, 0.6), 1.2)
    solution = solve_network(
        Network(
            {"room": 0.0},
            (
                Branch("fan", "room", "box", straight_fan(100.0, 0.1)),
                Branch("vent", "box", "room", hot),
            ),
        )
    )
    flow = solution.flows["vent"]
    assert solution.flows["fan"] == pytest.approx(flow, rel=1e-13)
    # orifice law on the actual volume flow, common practice, no source
    expected = 0.6 * (1.2 * flow / (0.6 * 0.02)) ** 2
    assert solution.pressures["box"] == pytest.approx(expected, rel=1e-4)
