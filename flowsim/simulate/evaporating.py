"""How much vapour a release gives off: as stated, or from its liquid until the air is full."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from scipy.optimize import brentq

from flowsim.case.schema_release import Release
from flowsim.errors import RangeError
from flowsim.physics.air import AirState
from flowsim.physics.aqueous import solution
from flowsim.physics.substances import GAS_CONSTANT, Substance, substance
from flowsim.physics.tray import Tray, TrayEvaporation, tray_evaporation
from flowsim.physics.vapour import Vapour, vapour_over

__all__ = ["GivenOff", "Liquid", "evaporated", "given_off", "liquid_of"]


@dataclass(frozen=True)
class Liquid:
    """What a release consists of.

    Parameters
    ----------
    item : Substance
        What gets into the air.
    vapour : Vapour or None
        What is over the liquid; None for a stated rate of a gas or of an unknown strength.
    words : str
        What lies there, with its strength.
    temperature : float
        Of its surface. [K]
    pressure : float
        Of the air. [Pa]
    """

    item: Substance
    vapour: Vapour | None
    words: str
    temperature: float
    pressure: float

    @property
    def saturation(self) -> float:
        """Concentration in saturated air, or of the pure gas. [kg/m3]"""
        if self.vapour is not None:
            return self.vapour.saturation
        return self.item.molar_mass * self.pressure / (GAS_CONSTANT * self.temperature)

    @property
    def most_ppm(self) -> float:
        """What no air passes, the uncertainty of the vapour pressure included. [ppm]"""
        if self.vapour is None:
            return 1e6
        return 1e6 * min(1.0, self.vapour.fraction * self.vapour.uncertainty)


@dataclass(frozen=True)
class GivenOff:
    """What a release gives off, in balance with the air over it.

    Parameters
    ----------
    rate : float
        Mass in a time. [kg/s]
    factor : float
        Either way, by which it is uncertain; 1 for a stated rate. [-]
    rates : mapping of str to float
        By each published law; empty for a stated rate. [kg/s]
    filled : float
        Concentration over the liquid over that of saturation. [-]
    speed : float or None
        Of the air along the liquid; None for a stated rate. [m/s]
    law : TrayEvaporation or None
        None for a stated rate.
    """

    rate: float
    factor: float
    rates: Mapping[str, float]
    filled: float
    speed: float | None
    law: TrayEvaporation | None


def liquid_of(release: Release, air: AirState) -> Liquid:
    """Return what a release consists of.

    Parameters
    ----------
    release : Release
        What the case says.
    air : AirState
        Air of the chamber.

    Returns
    -------
    Liquid
        Substance, vapour and words.

    Raises
    ------
    RangeError
        If the substance is unknown, or nothing is known of the liquid and no rate is stated.
    """
    temperature = air.temperature if release.temperature is None else release.temperature
    name, strength = release.substance, release.strength
    try:
        vapour = vapour_over(name, temperature, strength, air.pressure)
    except RangeError as error:
        if release.rate is None:
            raise RangeError(f"release '{release.label}': {error}") from error
        item = _evaporates(release)
        return Liquid(item, None, _words(item.name, strength), temperature, air.pressure)
    liquid = vapour.substance.name if strength is None else _solution_of(name)
    return Liquid(vapour.substance, vapour, _words(liquid, strength), temperature, air.pressure)


def _evaporates(release: Release) -> Substance:
    """Return what gets into the air where nothing is known of the liquid."""
    try:
        return substance(release.substance)
    except RangeError as error:
        try:
            return substance(solution(release.substance).solute)
        except RangeError:
            raise RangeError(f"release '{release.label}': {error}") from error


def _solution_of(name: str) -> str:
    """Return the name of a solution, or of what is dissolved, as the tables have it."""
    try:
        return substance(name).name
    except RangeError:
        return solution(name).name


def _words(name: str, strength: float | None) -> str:
    """Return what lies there in words."""
    return name if strength is None else f"{name}, {100.0 * strength:.3g} %"


def evaporated(
    tray: Tray, vapour: Vapour, speed: float, viscosity: float, gain: float
) -> tuple[float, TrayEvaporation]:
    """Return what a tray gives off once the air over it holds what it has given off.

    Parameters
    ----------
    tray : Tray
        The tray.
    vapour : Vapour
        What its liquid gives off.
    speed : float
        Of the air along it. [m/s]
    viscosity : float
        Kinematic, of the air. [m2/s]
    gain : float
        Concentration over the liquid per rate; infinite where nothing carries it off. [s/m3]

    Returns
    -------
    rate : float
        In balance. [kg/s]
    law : TrayEvaporation
        The law at that concentration, with the rates of all published ones.

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    The rate falls as the concentration rises and the concentration rises with the rate, so there
    is one balance, between no rate and the smaller of that into clean air and the one that just
    saturates the air. A gain below 0 is round-off and counts as 0.
    """
    full = vapour.saturation

    def law(rate: float) -> TrayEvaporation:
        held = full if math.isinf(gain) else min(max(gain, 0.0) * rate, full)
        return tray_evaporation(tray, vapour, speed, viscosity, held)

    if math.isinf(gain):
        return 0.0, law(0.0)
    most = law(0.0).rate
    if gain > 0.0:
        most = min(most, full / gain)
    if law(most).rate >= most:
        return most, law(most)
    rate = float(brentq(lambda value: law(value).rate - value, 0.0, most, xtol=1e-14 * most))
    return rate, law(rate)


def given_off(
    release: Release, liquid: Liquid, tray: Tray, speed: float, air: AirState, gain: float
) -> GivenOff:
    """Return what a release gives off.

    Parameters
    ----------
    release : Release
        What the case says.
    liquid : Liquid
        What it consists of.
    tray : Tray
        Its surface.
    speed : float
        Of the air along it. [m/s]
    air : AirState
        Air of the chamber.
    gain : float
        Concentration over it per rate. [s/m3]

    Returns
    -------
    GivenOff
        A stated rate as it is; else evaporation in balance with the air.

    Raises
    ------
    RangeError
        If an argument is impossible.
    """
    if release.rate is not None or liquid.vapour is None:
        rate = release.rate or 0.0
        return GivenOff(rate, 1.0, {}, gain * rate / liquid.saturation, None, None)
    viscosity = air.viscosity / air.density
    rate, law = evaporated(tray, liquid.vapour, speed, viscosity, gain)
    filled = 1.0 if math.isinf(gain) else max(gain, 0.0) * rate / liquid.saturation
    return GivenOff(rate, law.total_spread, law.rates, filled, law.speed, law)
