"""Properties of the pure substances that evaporate on a bench."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.physics._lookup import find_name, through_points
from flowsim.physics._ranges import positive, warn_outside
from flowsim.physics._substance_table import ALIASES, ROWS

__all__ = [
    "AIR_MOLAR_MASS",
    "GAS_CONSTANT",
    "Substance",
    "substance",
    "substance_names",
]

GAS_CONSTANT = 8.314462618  # J/(mol K)
AIR_MOLAR_MASS = 28.96e-3  # kg/mol
TABLED = (293.15, 298.15, 303.15)  # K, where the vapour pressures stand
RECIPROCALS = tuple(-1.0 / temperature for temperature in TABLED)
COLDEST, WARMEST = 278.0, 323.2  # K, as far as the three points carry


@dataclass(frozen=True)
class Substance:
    """A pure substance.

    Parameters
    ----------
    name : str
        Name in the table.
    cas : str
        Registry number of the Chemical Abstracts Service.
    molar_mass : float
        Molar mass. [kg/mol]
    boiling_point : float
        Boiling point at 101325 Pa. [K]
    pressures : tuple of float
        Vapour pressures at 293.15, 298.15 and 303.15 K. [Pa]
    pressure_bounds : tuple of float
        Lowest and highest vapour pressure at 298.15 K among the library's methods. [Pa]
    heat_of_vaporisation : float
        Molar heat of vaporisation at 298.15 K. [J/mol]
    diffusion_volume : float
        Atomic diffusion volume of 1969. [-]
    odour_low, odour_high : float or None
        Range of published odour thresholds. [ppm]
    odour_source : str
        Where the thresholds come from, and how that is known.

    Notes
    -----
    [ChemicalsLibrary]_; diffusion volumes [Fuller1969]_, from memory. Valid near room
    temperature. The methods of the library differ by up to 5 %. Smell is no warning: some of
    these are smelt only above their limit.
    """

    name: str
    cas: str
    molar_mass: float
    boiling_point: float
    pressures: tuple[float, float, float]
    pressure_bounds: tuple[float, float]
    heat_of_vaporisation: float
    diffusion_volume: float
    odour_low: float | None
    odour_high: float | None
    odour_source: str

    def vapour_pressure(self, temperature: float) -> float:
        """Return the vapour pressure of the pure liquid.

        Parameters
        ----------
        temperature : float
            Absolute temperature. [K]

        Returns
        -------
        float
            Vapour pressure; above 101325 Pa the substance is a gas. [Pa]

        Raises
        ------
        RangeError
            If the temperature is not positive.

        Notes
        -----
        Logarithm as a parabola in 1/T through the three tabled points [ChemicalsLibrary]_. Valid
        from 293 to 303 K as the table; continued from 278 to 323 K, where it stays within 3.5 % of
        other methods of the library (5 % for isopropanol); warns outside.
        """
        positive(temperature=temperature)
        law = f"vapour pressure of {self.name}"
        warn_outside(law, "temperature in K", temperature, COLDEST, WARMEST)
        return self.continued_pressure(temperature)

    def continued_pressure(self, temperature: float) -> float:
        """Return the vapour pressure at any temperature, without check or warning.

        Parameters
        ----------
        temperature : float
            Absolute temperature. [K]

        Returns
        -------
        float
            Vapour pressure. [Pa]
        """
        logarithms = [math.log(pressure) for pressure in self.pressures]
        return math.exp(through_points(-1.0 / temperature, RECIPROCALS, logarithms))

    def saturated_density_ratio(self, temperature: float, pressure: float = 101325.0) -> float:
        """Return the density of saturated air over that of clean air.

        Parameters
        ----------
        temperature : float
            Absolute temperature. [K]
        pressure : float
            Total pressure. [Pa]

        Returns
        -------
        float
            Density ratio; of the pure gas where the liquid would boil. [-]

        Raises
        ------
        RangeError
            If an argument is not positive.
        """
        positive(pressure=pressure)
        share = min(self.vapour_pressure(temperature) / pressure, 1.0)
        return 1.0 + share * (self.molar_mass / AIR_MOLAR_MASS - 1.0)


def _read_table() -> dict[str, Substance]:
    found = {}
    for name, cas, mass, boiling, pressures, bounds, heat, volume, low, high, source in ROWS:
        found[name] = Substance(
            name, cas, mass * 1e-3, boiling + 273.15, pressures, bounds, heat * 1e3, volume,
            low, high, source,
        )  # fmt: skip
    return found


_TABLE = _read_table()
_NAMES = {
    **{name: name for name in _TABLE},
    **{item.cas: item.name for item in _TABLE.values()},
    **ALIASES,
}


def substance(name: str) -> Substance:
    """Return a pure substance by name.

    Parameters
    ----------
    name : str
        Name, usual other name, formula or registry number.

    Returns
    -------
    Substance
        Its properties.

    Raises
    ------
    RangeError
        If the table does not hold it; the message gives the nearest names.

    Notes
    -----
    Sources as `Substance`. Valid for the twelve substances of `substance_names`.
    """
    return _TABLE[find_name("substance", name, _NAMES)]


def substance_names() -> tuple[str, ...]:
    """Return the names of all substances in the table.

    Returns
    -------
    tuple of str
        Names, in the order of the table.

    Notes
    -----
    Valid names for `substance`.
    """
    return tuple(_TABLE)
