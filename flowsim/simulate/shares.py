"""A share between 0 and 1, in one place or in every cell, with what it depends on."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.transport.adjoint import numerical_spread

__all__ = ["RESOLVED", "ShareEstimate", "ShareMaps"]

RESOLVED = 1e-3
"""Smallest escape share that the model can tell: no arms and no wakes are in it. [-]"""


@dataclass(frozen=True)
class ShareEstimate:
    """A share between 0 and 1 with what it depends on.

    Parameters
    ----------
    value : float
        In use. [-]
    at_rest, mean_flow : float
        With the eddies of the supply alone, and without any. [-]
    numerical : float
        Difference of the two schemes, in use, the largest among neighbouring cells. [-]
    eddy : tuple of float
        In use, with the eddy diffusivity halved and doubled. [-]
    reversal : tuple of float
        In use, with the reversals of the openings (S) halved and doubled. [-]
    """

    value: float
    at_rest: float
    mean_flow: float
    numerical: float
    eddy: tuple[float, float]
    reversal: tuple[float, float]

    @property
    def highest(self) -> float:
        """Largest share that the assumptions allow, numerical uncertainty included. [-]"""
        return min(1.0, max(self.value, *self.eddy, *self.reversal) + self.numerical)

    @property
    def lowest(self) -> float:
        """Smallest share that the assumptions allow, numerical uncertainty included. [-]

        The difference of the schemes is taken to shrink with the share.
        """
        least = min(self.value, *self.eddy, *self.reversal)
        if self.value <= 0.0 or least <= 0.0:
            return 0.0
        return least * max(0.0, 1.0 - self.numerical / self.value)

    @property
    def resolved(self) -> bool:
        """Whether the share is large enough for the model to tell."""
        return self.value >= RESOLVED


@dataclass(frozen=True, eq=False)
class ShareMaps:
    """A share in every cell of the chamber, in three states, with its sensitivities.

    Parameters
    ----------
    mean_flow, at_rest, in_use : array, shape (nx, ny, nz)
        By the linear scheme; nan in solids; may pass 0 and 1 slightly. [-]
    monotone : array, shape (nx, ny, nz)
        In use, by the first-order scheme. [-]
    half_eddy, double_eddy : array, shape (nx, ny, nz)
        In use, eddy diffusivity halved and doubled. [-]
    half_reversal, double_reversal : array, shape (nx, ny, nz)
        In use, reversals of the openings halved and doubled. [-]
    """

    mean_flow: FloatArray
    at_rest: FloatArray
    in_use: FloatArray
    monotone: FloatArray
    half_eddy: FloatArray
    double_eddy: FloatArray
    half_reversal: FloatArray
    double_reversal: FloatArray

    @cached_property
    def spread(self) -> FloatArray:
        """Numerical uncertainty in use by the two schemes, shape (nx, ny, nz). [-]"""
        return numerical_spread(self.in_use, self.monotone)

    def at(self, weights: FloatArray) -> ShareEstimate:
        """Return the share of what is spread over cells by weights that sum to 1.

        Parameters
        ----------
        weights : array, shape (nx, ny, nz)
            0 in solids. [-]

        Returns
        -------
        ShareEstimate
            Weighted means.
        """
        chosen = np.nonzero(weights)
        part = weights[chosen]

        def mean(values: FloatArray) -> float:
            return float(part @ values[chosen])

        return ShareEstimate(
            mean(self.in_use),
            mean(self.at_rest),
            mean(self.mean_flow),
            mean(self.spread),
            (mean(self.half_eddy), mean(self.double_eddy)),
            (mean(self.half_reversal), mean(self.double_reversal)),
        )
