"""Shipped cases, each run once for all tests that judge it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from flowsim.case.read import read_case
from flowsim.simulate.result import Result
from flowsim.simulate.run import run_case
from flowsim.simulate.transport_result import ReleaseResult, Transport, WorkpieceResult

FOLDER = Path(__file__).parent.parent / "cases"
FILES = sorted(path.name for path in FOLDER.glob("*.toml"))


@cache
def result_of(name: str) -> Result:
    """Run a shipped case once."""
    return run_case(read_case(FOLDER / name))


def figure(name: str, quantity: str) -> float:
    """Return a key figure that the case must give."""
    value = result_of(name)[quantity]
    assert value is not None
    return value


def states(name: str) -> dict[str, str]:
    """Return the verdicts of a case by the name of the figure; the worse of two sides."""
    order = ("not met", "not shown", "met")
    found: dict[str, str] = {}
    for check in result_of(name).checks:
        found[check.name] = min(found.get(check.name, "met"), check.state, key=order.index)
    return found


def transport_of(name: str) -> Transport:
    """Return what a case says of vapour and dust."""
    found = result_of(name).transport
    assert found is not None
    return found


def release_of(name: str, label: str) -> ReleaseResult:
    """Return one release of a case."""
    return next(item for item in transport_of(name).releases if item.label == label)


def workpiece_of(name: str, label: str) -> WorkpieceResult:
    """Return one workpiece of a case."""
    return next(item for item in transport_of(name).workpieces if item.label == label)
