"""Nodes and branches of a flow network."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol, TypeAlias, runtime_checkable

from flowsim.errors import RangeError

__all__ = ["Branch", "Closed", "DropLaw", "FixedFlow", "FlowLaw", "Law", "Network"]


@runtime_checkable
class DropLaw(Protocol):
    """A law that gives the pressure drop belonging to a flow."""

    def drop(self, flow: float) -> tuple[float, float]:
        """Return total-pressure drop and its slope.

        Parameters
        ----------
        flow : float
            Volume flow from start to end. [m3/s]

        Returns
        -------
        tuple of float
            Drop [Pa] and its derivative [Pa s/m3].
        """

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what is outside the law's range at a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """


class FlowLaw(Protocol):
    """A law that gives the flow belonging to a pressure drop."""

    def flow(self, drop: float) -> tuple[float, float]:
        """Return flow and its slope.

        Parameters
        ----------
        drop : float
            Total-pressure drop from start to end. [Pa]

        Returns
        -------
        tuple of float
            Flow [m3/s] and its derivative [m3/(s Pa)].
        """

    def validity(self, flow: float) -> tuple[str, ...]:
        """Return what is outside the law's range at a flow.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """


@dataclass(frozen=True)
class FixedFlow:
    """A branch whose flow is given, whatever the pressures.

    Parameters
    ----------
    rate : float
        Volume flow from start to end. [m3/s]
    """

    rate: float

    def __post_init__(self) -> None:
        if not math.isfinite(self.rate):
            raise RangeError(f"a fixed flow must be finite (got {self.rate}); give m3/s")

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing: a given flow has no range.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return ()


@dataclass(frozen=True)
class Closed:
    """A branch that lets no air through; it is taken out of the network."""

    def validity(self, flow: float) -> tuple[str, ...]:  # noqa: ARG002 (part of every law)
        """Return nothing: a shut branch has no range.

        Parameters
        ----------
        flow : float
            Volume flow. [m3/s]
        """
        return ()


Law: TypeAlias = DropLaw | FlowLaw | FixedFlow | Closed


@dataclass(frozen=True)
class Branch:
    """One resistance, fan or opening between two nodes.

    The total pressure obeys ``P[start] - P[end] + source = drop(flow)``.

    Parameters
    ----------
    name : str
        Unique in its network.
    start, end : str
        Nodes; flow is positive from start to end.
    law : law
        Anything with ``drop(flow)`` or ``flow(drop)``, or `FixedFlow`, or `Closed`.
    kind : str
        Trade word for reports: "fan", "filter", "duct", "opening", ...
    source : float
        Pressure added along the branch, such as a column of warm air. [Pa]
    """

    name: str
    start: str
    end: str
    law: Law
    kind: str = ""
    source: float = 0.0

    def __post_init__(self) -> None:
        if self.start == self.end:
            raise RangeError(f"branch {self.name!r} starts and ends at node {self.start!r}")
        if not math.isfinite(self.source):
            raise RangeError(f"branch {self.name!r}: source must be finite (got {self.source} Pa)")


@dataclass(frozen=True)
class Network:
    """Nodes of total pressure, joined by branches.

    Free nodes are those that branches name and `fixed` does not.

    Parameters
    ----------
    fixed : mapping of str to float
        Nodes whose total pressure is given, as gauge pressure. [Pa]
    branches : tuple of Branch
        In any order.
    injections : mapping of str to float
        Air put into a free node from nowhere, negative where it is taken out. [m3/s]
    """

    fixed: Mapping[str, float]
    branches: tuple[Branch, ...]
    injections: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        seen: set[str] = set()
        for branch in self.branches:
            if branch.name in seen:
                raise RangeError(f"two branches are named {branch.name!r}; names must differ")
            seen.add(branch.name)
        for node, pressure in self.fixed.items():
            if not math.isfinite(pressure):
                raise RangeError(f"node {node!r}: fixed pressure must be finite (got {pressure})")
        self._check_injections()

    def _check_injections(self) -> None:
        free = set(self.free_nodes)
        for node, rate in self.injections.items():
            if node not in free:
                raise RangeError(
                    f"injection into {node!r}: no such free node; free nodes are "
                    + (", ".join(self.free_nodes) or "none")
                )
            if not math.isfinite(rate):
                raise RangeError(f"injection into {node!r} must be finite (got {rate} m3/s)")

    @property
    def free_nodes(self) -> tuple[str, ...]:
        """Nodes whose pressure is unknown, in the order the branches name them."""
        found: dict[str, None] = {}
        for branch in self.branches:
            for node in (branch.start, branch.end):
                if node not in self.fixed:
                    found.setdefault(node)
        return tuple(found)

    def branch(self, name: str) -> Branch:
        """Return a branch by name.

        Parameters
        ----------
        name : str
            Its name.

        Raises
        ------
        RangeError
            If there is none.
        """
        for branch in self.branches:
            if branch.name == name:
                return branch
        names = ", ".join(branch.name for branch in self.branches)
        raise RangeError(f"no branch is named {name!r}; there are {names}")

    def with_law(self, name: str, law: Law) -> Network:
        """Return the network with one branch's law replaced.

        Parameters
        ----------
        name : str
            Branch to change.
        law : law
            Its new law.

        Raises
        ------
        RangeError
            If no branch has that name.
        """
        self.branch(name)
        branches = tuple(replace(b, law=law) if b.name == name else b for b in self.branches)
        return replace(self, branches=branches)
