from __future__ import annotations

import pytest

from flowsim.errors import RangeError
from flowsim.network.graph import Branch, Closed, FixedFlow, Network
from flowsim.network.laws import Polynomial

LAW = Polynomial(1.0)


def test_free_nodes_are_those_not_fixed_in_order_of_naming() -> None:
    network = Network(
        {"room": 0.0}, (Branch("a", "room", "box", LAW), Branch("b", "box", "duct", LAW))
    )
    assert network.free_nodes == ("box", "duct")


def test_with_law_changes_one_branch_only() -> None:
    network = Network(
        {"room": 0.0}, (Branch("a", "room", "box", LAW), Branch("b", "box", "room", LAW))
    )
    changed = network.with_law("a", Closed())
    assert isinstance(changed.branch("a").law, Closed)
    assert changed.branch("b") is network.branch("b")
    assert network.branch("a").law is LAW


@pytest.mark.parametrize(
    ("message", "build"),
    [
        ("starts and ends at node 'x'", lambda: Branch("a", "x", "x", LAW)),
        ("source must be finite", lambda: Branch("a", "x", "y", LAW, source=float("nan"))),
        ("a fixed flow must be finite", lambda: FixedFlow(float("inf"))),
        (
            "two branches are named 'a'",
            lambda: Network({"x": 0.0}, (Branch("a", "x", "y", LAW), Branch("a", "y", "z", LAW))),
        ),
        (
            "no such free node; free nodes are y",
            lambda: Network({"x": 0.0}, (Branch("a", "x", "y", LAW),), {"x": 0.1}),
        ),
        (
            "injection into 'y' must be finite",
            lambda: Network({"x": 0.0}, (Branch("a", "x", "y", LAW),), {"y": float("nan")}),
        ),
        (
            "fixed pressure must be finite",
            lambda: Network({"x": float("nan")}, (Branch("a", "x", "y", LAW),)),
        ),
        (
            "no branch is named 'b'; there are a",
            lambda: Network({"x": 0.0}, (Branch("a", "x", "y", LAW),)).branch("b"),
        ),
    ],
)
def test_impossible_networks_are_refused_by_name(message: str, build: object) -> None:
    with pytest.raises(RangeError, match=message):
        build()  # type: ignore[operator]
