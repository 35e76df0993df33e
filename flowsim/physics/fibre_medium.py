"""Single-fibre theory of a filter medium: penetration by particle size.

The theory gives the shape of the curve only. Published constants of its diffusion term differ by a
factor 1.8 and real media are broader: take sizes away from the rated one as a picture, not as a
promise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.errors import RangeError
from flowsim.physics._ranges import in_range, positive, warn_outside
from flowsim.physics.particle_motion import BASE_AIR, BOLTZMANN, GRAVITY, SLIP_CONSTANTS

__all__ = ["FibreMedium", "FibreModel", "closed_worst_size", "medium_for_rating"]

FibreModel = Literal["fitted", "five terms"]

SIZES = (1e-8, 2e-6)  # m, where the worst size is sought
TYPICAL_VELOCITY = 0.025  # m/s through the medium of a pleated filter at its rated flow
THEORY = "filter curve by size: single-fibre theory, not a measurement"


@dataclass(frozen=True)
class FibreMedium:
    """An even layer of fibres as a law between particle size and penetration.

    Parameters
    ----------
    thickness : float
        Thickness of the layer. [m]
    solidity : float
        Fibre volume over total volume. [-]
    fibre_diameter : float
        Diameter of the fibres. [m]
    model : {"fitted", "five terms"}
        Constants fitted to measurements, or the sum of five theoretical terms.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``P = exp(-4 alpha E t/(pi d_f (1 - alpha)))``. Fitted: diffusion and interception of
    [LeeLiu1982]_; five terms: diffusion, interception, their interaction, impaction, settling of
    [Hinds1999]_, partly from memory. Unit density, base air. Valid for solidity 0.005 to 0.2,
    fibre Reynolds numbers below 1, no charge, near the most penetrating size.
    """

    thickness: float
    solidity: float = 0.06
    fibre_diameter: float = 0.65e-6
    model: FibreModel = "fitted"

    def __post_init__(self) -> None:
        """Check the arguments."""
        positive(thickness=self.thickness, fibre_diameter=self.fibre_diameter)
        in_range("solidity", self.solidity, 1e-4, 0.4)
        if self.model not in ("fitted", "five terms"):
            raise RangeError(f"model is {self.model!r}; expected fitted or five terms")

    def fibre_efficiency(self, diameter: float | FloatArray, velocity: float) -> FloatArray:
        """Return what one fibre catches over what flows at its width.

        Parameters
        ----------
        diameter : float or array, shape (n,)
            Particle diameters. [m]
        velocity : float
            Velocity through the medium. [m/s]

        Returns
        -------
        array, shape (n,)
            Single-fibre efficiency; above 1 where diffusion reaches beyond the fibre. [-]
        """
        size = np.asarray(diameter, dtype=float)
        law = _fitted_efficiency if self.model == "fitted" else _five_term_efficiency
        return law(self, size, velocity)

    def penetration(self, diameter: float | FloatArray, velocity: float) -> FloatArray:
        """Return the share of particles that passes, silently.

        Parameters
        ----------
        diameter : float or array, shape (n,)
            Particle diameters. [m]
        velocity : float
            Velocity through the medium. [m/s]

        Returns
        -------
        array, shape (n,)
            Penetration. [-]
        """
        return np.exp(-self._layers() * self.fibre_efficiency(diameter, velocity))

    def worst_size(self, velocity: float) -> tuple[float, float]:
        """Return the most penetrating size and the penetration there.

        Parameters
        ----------
        velocity : float
            Velocity through the medium. [m/s]

        Returns
        -------
        tuple of float
            Diameter [m] and penetration [-].
        """
        low, high = (math.log(size) for size in SIZES)
        for _ in range(6):
            sizes = np.linspace(low, high, 101)
            best = int(np.argmin(self.fibre_efficiency(np.exp(sizes), velocity)))
            low, high = float(sizes[max(best - 1, 0)]), float(sizes[min(best + 1, 100)])
        size = math.exp(0.5 * (low + high))
        return size, float(self.penetration(size, velocity))

    def validity(self, velocity: float) -> tuple[str, ...]:
        """Say what is doubtful about this law at a velocity.

        Parameters
        ----------
        velocity : float
            Velocity through the medium. [m/s]

        Returns
        -------
        tuple of str
            At least that this is theory.
        """
        doubts = [THEORY]
        if not 0.005 <= self.solidity <= 0.2:
            doubts.append(f"filter medium: solidity {self.solidity:.3g} is outside 0.005 to 0.2")
        kinematic = BASE_AIR.viscosity / BASE_AIR.density
        reynolds = velocity * self.fibre_diameter / kinematic
        if reynolds > 1.0:
            doubts.append(f"filter medium: fibre Reynolds number {reynolds:.2g} is above 1")
        return tuple(doubts)

    def _layers(self) -> float:
        solid = self.solidity / (1.0 - self.solidity)
        return 4.0 * solid * self.thickness / (math.pi * self.fibre_diameter)


def _kuwabara(solidity: float) -> float:
    return -0.5 * math.log(solidity) - 0.75 + solidity - 0.25 * solidity**2


def _slip(size: FloatArray) -> FloatArray:
    first, second, decay = SLIP_CONSTANTS["hinds"]
    knudsen = 2.0 * BASE_AIR.mean_free_path / size
    return np.asarray(1.0 + knudsen * (first + second * np.exp(-decay / knudsen)))


def _peclet(medium: FibreMedium, size: FloatArray, velocity: float) -> FloatArray:
    mobility = _slip(size) / (3.0 * math.pi * BASE_AIR.viscosity * size)
    return velocity * medium.fibre_diameter / (BOLTZMANN * BASE_AIR.temperature * mobility)


def _fitted_efficiency(medium: FibreMedium, size: FloatArray, velocity: float) -> FloatArray:
    open_share = (1.0 - medium.solidity) / _kuwabara(medium.solidity)
    ratio = size / medium.fibre_diameter
    diffusion = 1.6 * open_share ** (1.0 / 3.0) * _peclet(medium, size, velocity) ** (-2.0 / 3.0)
    return np.asarray(diffusion + 0.6 * open_share * ratio**2 / (1.0 + ratio))


def _five_term_efficiency(medium: FibreMedium, size: FloatArray, velocity: float) -> FloatArray:
    alpha, kuwabara = medium.solidity, _kuwabara(medium.solidity)
    ratio = size / medium.fibre_diameter
    peclet = _peclet(medium, size, velocity)
    time = 1000.0 * size**2 * _slip(size) / (18.0 * BASE_AIR.viscosity)
    diffusion = 2.0 * peclet ** (-2.0 / 3.0)
    interception = (1.0 - alpha) * ratio**2 / (kuwabara * (1.0 + ratio))
    interaction = 1.24 * ratio ** (2.0 / 3.0) / np.sqrt(kuwabara * peclet)
    shape = (29.6 - 28.0 * alpha**0.62) * ratio**2 - 27.5 * ratio**2.8
    shape = np.where(ratio < 0.4, shape, 2.0)
    impaction = time * velocity / medium.fibre_diameter * shape / (2.0 * kuwabara**2)
    settling = time * GRAVITY / velocity * (1.0 + ratio)
    return np.asarray(diffusion + interception + interaction + impaction + settling)


def medium_for_rating(
    penetration: float,
    velocity: float = TYPICAL_VELOCITY,
    model: FibreModel = "fitted",
    solidity: float = 0.06,
    fibre_diameter: float = 0.65e-6,
) -> FibreMedium:
    """Return the medium that passes a rated share at its most penetrating size.

    Parameters
    ----------
    penetration : float
        Rated penetration at the most penetrating size. [-]
    velocity : float
        Velocity through the medium at the rated flow. [m/s]
    model : {"fitted", "five terms"}
        As `FibreMedium`.
    solidity : float
        Fibre volume over total volume. [-]
    fibre_diameter : float
        Diameter of the fibres. [m]

    Returns
    -------
    FibreMedium
        The medium, its thickness set.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Only the thickness is fitted, so that the curve meets the class; as `FibreMedium`. Valid for
    penetrations below 0.2 and velocities of 5 to 100 mm/s; 25 mm/s is common practice, no source.
    """
    positive(penetration=penetration, velocity=velocity)
    in_range("penetration", penetration, 0.0, 0.999)
    warn_outside("filter rating", "penetration", penetration, 0.0, 0.2)
    warn_outside("filter rating", "media velocity in m/s", velocity, 0.005, 0.1)
    trial = FibreMedium(1e-4, solidity, fibre_diameter, model)
    size, _ = trial.worst_size(velocity)
    exponent = trial._layers() * float(trial.fibre_efficiency(size, velocity))
    return replace(trial, thickness=1e-4 * -math.log(penetration) / exponent)


def closed_worst_size(velocity: float, solidity: float, fibre_diameter: float) -> float:
    """Return the most penetrating size by a closed form.

    Parameters
    ----------
    velocity : float
        Velocity through the medium. [m/s]
    solidity : float
        Fibre volume over total volume. [-]
    fibre_diameter : float
        Diameter of the fibres. [m]

    Returns
    -------
    float
        Particle diameter. [m]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [LeeLiu1980]_, from memory, coefficient derived again within 1 %:
    ``0.885 [Ku/(1-alpha) sqrt(lambda) k T/mu d_f^2/U]^(2/9)``. Valid for sizes of 0.1 to 0.4 um,
    solidity 0.005 to 0.2.
    """
    positive(velocity=velocity, fibre_diameter=fibre_diameter)
    in_range("solidity", solidity, 1e-4, 0.4)
    warn_outside("most penetrating size", "solidity", solidity, 0.005, 0.2)
    thermal = math.sqrt(BASE_AIR.mean_free_path) * BOLTZMANN * BASE_AIR.temperature
    open_share = _kuwabara(solidity) / (1.0 - solidity)
    group = open_share * thermal / BASE_AIR.viscosity * fibre_diameter**2 / velocity
    return float(0.885 * group ** (2.0 / 9.0))
