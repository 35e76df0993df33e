"""Vapour in air: how much of it, in the words of the trade, and what a liquid can give off."""

from __future__ import annotations

from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._ranges import non_negative, positive
from flowsim.physics.aqueous import solution
from flowsim.physics.diffusion import fuller_diffusion
from flowsim.physics.substances import GAS_CONSTANT, Substance, substance

__all__ = [
    "Vapour",
    "diluted_ppm",
    "mass_concentration",
    "molar_volume",
    "ppm",
    "vapour_over",
]

STANDARD_PRESSURE = 101325.0  # Pa
SOLUTION_OF = {
    "hydrogen chloride": "hydrochloric acid",
    "hydrogen fluoride": "hydrofluoric acid",
    "nitric acid": "nitric acid solution",
    "ammonia": "ammonia solution",
}


def molar_volume(temperature: float, pressure: float = STANDARD_PRESSURE) -> float:
    """Return the volume of one mole of gas.

    Parameters
    ----------
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Molar volume. [m3/mol]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Ideal gas; valid for air near atmospheric pressure. Lists of limits of the United States use
    298.15 K, European ones 293.15 K.
    """
    positive(temperature=temperature, pressure=pressure)
    return GAS_CONSTANT * temperature / pressure


def mass_concentration(
    parts_per_million: float,
    molar_mass: float,
    temperature: float,
    pressure: float = STANDARD_PRESSURE,
) -> float:
    """Return the mass of vapour in a volume of air from its parts per million.

    Parameters
    ----------
    parts_per_million : float
        Volume of vapour over volume of air, times a million. [ppm]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Mass concentration. [kg/m3]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    ``ppm M / Vm``; valid for ideal gases and unassociated vapour (that of hydrogen fluoride is
    associated when concentrated).
    """
    non_negative(parts_per_million=parts_per_million)
    positive(molar_mass=molar_mass)
    return parts_per_million * 1e-6 * molar_mass / molar_volume(temperature, pressure)


def ppm(
    concentration: float,
    molar_mass: float,
    temperature: float,
    pressure: float = STANDARD_PRESSURE,
) -> float:
    """Return the parts per million of a vapour from its mass in a volume of air.

    Parameters
    ----------
    concentration : float
        Mass concentration. [kg/m3]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    temperature : float
        Absolute temperature. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Volume of vapour over volume of air, times a million. [ppm]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    Inverse of `mass_concentration`; valid as that.
    """
    non_negative(concentration=concentration)
    positive(molar_mass=molar_mass)
    return concentration * 1e6 / molar_mass * molar_volume(temperature, pressure)


def diluted_ppm(
    rate: float,
    molar_mass: float,
    flow: float,
    temperature: float,
    pressure: float = STANDARD_PRESSURE,
) -> float:
    """Return the parts per million of a vapour given off into a flow of air, fully mixed.

    Parameters
    ----------
    rate : float
        Mass of vapour given off in a time. [kg/s]
    molar_mass : float
        Molar mass of the vapour. [kg/mol]
    flow : float
        Volume flow of the air, vapour included. [m3/s]
    temperature : float
        Absolute temperature of that flow. [K]
    pressure : float
        Total pressure. [Pa]

    Returns
    -------
    float
        Volume of vapour over volume of air, times a million. [ppm]

    Raises
    ------
    RangeError
        If an argument is impossible, or the vapour alone needs more than the flow.

    Notes
    -----
    Balance of volumes; valid for steady release and full mixing.
    """
    non_negative(rate=rate)
    positive(flow=flow)
    value = ppm(rate / flow, molar_mass, temperature, pressure)
    if value > 1e6:
        raise RangeError(f"the vapour alone is {value / 1e6:.3g} times the flow of {flow:g} m3/s")
    return value


@dataclass(frozen=True)
class Vapour:
    """What a liquid gives off at one temperature.

    Parameters
    ----------
    substance : Substance
        The substance that evaporates.
    pressure : float
        Its partial pressure over the liquid. [Pa]
    temperature : float
        Absolute temperature of the liquid's surface and the air. [K]
    total_pressure : float
        Pressure of the air. [Pa]
    uncertainty : float
        Factor, either way, within which the partial pressure is taken to hold. [-]
    basis : str
        Where the partial pressure comes from.

    Raises
    ------
    RangeError
        If the partial pressure reaches the total pressure: the liquid would boil.

    Notes
    -----
    Valid for fresh liquid at the temperature of the air; `vapour_over` makes it.
    """

    substance: Substance
    pressure: float
    temperature: float
    total_pressure: float
    uncertainty: float
    basis: str

    def __post_init__(self) -> None:
        """Refuse a liquid that boils."""
        positive(pressure=self.pressure, temperature=self.temperature)
        positive(total_pressure=self.total_pressure, uncertainty=self.uncertainty)
        if self.pressure >= self.total_pressure:
            raise RangeError(
                f"{self.substance.name} has {self.pressure:.4g} Pa at {self.temperature:.2f} K and "
                f"boils under {self.total_pressure:.4g} Pa; give the rate of release instead, "
                "or the strength if it is dissolved in water"
            )

    @property
    def fraction(self) -> float:
        """Share of the saturated air that is vapour. [-]"""
        return self.pressure / self.total_pressure

    @property
    def saturation(self) -> float:
        """Mass concentration in saturated air. [kg/m3]"""
        return self.substance.molar_mass * self.pressure / (GAS_CONSTANT * self.temperature)

    @property
    def diffusion(self) -> float:
        """Diffusion coefficient in air. [m2/s]"""
        item = self.substance
        return fuller_diffusion(
            item.molar_mass, item.diffusion_volume, self.temperature, self.total_pressure
        )


def vapour_over(
    liquid: str,
    temperature: float,
    strength: float | None = None,
    total_pressure: float = STANDARD_PRESSURE,
) -> Vapour:
    """Return what a liquid gives off: a pure liquid, or a solution in water with its strength.

    Parameters
    ----------
    liquid : str
        Name of a pure liquid, of a solution, or of the substance dissolved.
    temperature : float
        Absolute temperature of the liquid's surface and the air. [K]
    strength : float or None
        Mass of solute over mass of solution; none for a pure liquid. [-]
    total_pressure : float
        Pressure of the air. [Pa]

    Returns
    -------
    Vapour
        Substance, partial pressure and what follows from them.

    Raises
    ------
    RangeError
        If the liquid is unknown, a solution has no strength, strength or temperature lie outside
        the table, or the liquid boils.

    Notes
    -----
    `flowsim.physics.aqueous.Solution` and `flowsim.physics.substances.Substance`; valid as those.
    """
    if strength is None:
        return _over_pure(liquid, temperature, total_pressure)
    table = solution(_solution_name(liquid))
    pressure = table.partial_pressure(strength, temperature)
    solute = substance(table.solute)
    return Vapour(solute, pressure, temperature, total_pressure, table.uncertainty, table.basis)


def _over_pure(liquid: str, temperature: float, total_pressure: float) -> Vapour:
    try:
        item = substance(liquid)
    except RangeError as fault:
        try:
            table = solution(liquid)
        except RangeError:
            raise fault from None
        low, high = (100.0 * table.strengths[i] for i in (0, -1))
        raise RangeError(
            f"{table.name} is a solution; give its strength, {low:.4g} to {high:.4g} % by mass"
        ) from None
    low, high = item.pressure_bounds
    uncertainty = max(1.01, high / low)
    pressure = item.vapour_pressure(temperature)
    basis = "methods of an open library at 20 to 30 C"
    return Vapour(item, pressure, temperature, total_pressure, uncertainty, basis)


def _solution_name(liquid: str) -> str:
    """Return the name of a solution, also from that of the substance dissolved."""
    try:
        return SOLUTION_OF.get(substance(liquid).name, liquid)
    except RangeError:
        return liquid
