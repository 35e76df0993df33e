"""The air of one case as a carrier of vapour and dust, in three conditions."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as with_default
from functools import cached_property
from typing import Literal

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.chamber.grid import Grid
from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import cell_velocity
from flowsim.errors import RangeError
from flowsim.physics.air import AirState
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.outlets import Outlets, exchange_faces, find_outlets
from flowsim.transport.faces import FaceArrays
from flowsim.transport.operator import TransportProblem

__all__ = ["CONDITIONS", "MOLECULAR", "Carrier", "Condition"]

Condition = Literal["mean flow", "at rest", "in use"]
CONDITIONS: tuple[Condition, ...] = ("mean flow", "at rest", "in use")
MOLECULAR = 1.5e-5
"""Molecular diffusivity of a vapour in air, small beside any eddy. [m2/s]"""


@dataclass(frozen=True, eq=False)
class Carrier:
    """What the transport problems of one case share.

    Parameters
    ----------
    state : Coupled
        Solved models, with a field.
    outlets : Outlets
        Named ways out and in.
    """

    state: Coupled
    outlets: Outlets
    _exchange: dict[float, FaceArrays] = with_default(default_factory=dict, repr=False)

    @cached_property
    def base(self) -> TransportProblem:
        """The problem of a vapour in use, kept because much of what is asked shares it."""
        return self.problem()

    @classmethod
    def of(cls, state: Coupled) -> Carrier:
        """Return the carrier of a solved case.

        Parameters
        ----------
        state : Coupled
            Solved models, with a field.

        Returns
        -------
        Carrier
            Ready to give transport problems.
        """
        return cls(state, find_outlets(state.layout))

    @property
    def case(self) -> Case:
        """The case."""
        return self.state.layout.case

    @property
    def grid(self) -> Grid:
        """Cells of the chamber."""
        return self.state.layout.grid

    @property
    def air(self) -> AirState:
        """Air of the chamber."""
        return self.state.layout.chamber_air

    @property
    def field(self) -> Field:
        """Flow of the chamber.

        Raises
        ------
        RangeError
            If the case was solved without one.
        """
        if self.state.field is None:
            raise RangeError("fidelity network has no field to carry anything")
        return self.state.field

    @cached_property
    def speed(self) -> FloatArray:
        """Speed of the air in each cell, 0 in solids, shape (nx, ny, nz). [m/s]"""
        parts = cell_velocity(self.field)
        return np.nan_to_num(np.sqrt(sum(part**2 for part in parts)))

    def eddy_diffusivity(self, condition: Condition, factor: float = 1.0) -> FloatArray | float:
        """Return the eddy diffusivity in a condition.

        Parameters
        ----------
        condition : {"mean flow", "at rest", "in use"}
            None, I |u| L of the supply's own eddies, or that of a person at work.
        factor : float
            On it. [-]

        Returns
        -------
        array, shape (nx, ny, nz), or float
            Eddy diffusivity. [m2/s]

        Notes
        -----
        Intensity, size and the value in use are assumptions of the case; no published level of
        turbulence under a filter was found.
        """
        mixing = self.case.mixing
        if condition == "mean flow":
            return 0.0
        if condition == "at rest":
            return self.speed * (factor * mixing.intensity * mixing.eddy_size)
        return factor * mixing.in_use

    def exchange(self, factor: float = 1.0) -> FaceArrays:
        """Return the exchange through the openings.

        Parameters
        ----------
        factor : float
            On the deviation S of the velocity through them. [-]

        Returns
        -------
        FaceArrays
            Flow both ways besides the mean flow. [m3/s]
        """
        if factor not in self._exchange:
            self._exchange[factor] = exchange_faces(self.state, self.field, factor)
        return self._exchange[factor]

    def problem(
        self,
        condition: Condition = "in use",
        *,
        eddy: float = 1.0,
        reversal: float = 1.0,
        settling: float = 0.0,
        molecular: float = MOLECULAR,
        deposition: FaceArrays | None = None,
        scheme: str = "linear",
    ) -> TransportProblem:
        """Return a transport problem on this air.

        Parameters
        ----------
        condition : {"mean flow", "at rest", "in use"}
            Which eddies mix; the mean flow has no exchange through the openings either.
        eddy, reversal : float
            Factors on the eddy diffusivity and on the deviation S at the openings. [-]
        settling : float
            Settling velocity. [m/s]
        molecular : float
            Molecular or Brownian diffusivity. [m2/s]
        deposition : FaceArrays or None
            Deposition velocity on closed faces. [m/s]
        scheme : {"linear", "monotone"}
            Of the advection.

        Returns
        -------
        TransportProblem
            With all named exits.
        """
        return TransportProblem(
            self.field,
            molecular + self.eddy_diffusivity(condition, eddy),
            settling=settling,
            exits=self.outlets.exits,
            exchange=None if condition == "mean flow" else self.exchange(reversal),
            deposition=deposition,
            scheme=scheme,
        )
