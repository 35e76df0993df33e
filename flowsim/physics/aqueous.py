"""Partial pressure of an acid or of ammonia over its solution in water."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flowsim.errors import RangeError
from flowsim.physics._aqueous_table import ALIASES, ROWS
from flowsim.physics._lookup import find_name, through_points
from flowsim.physics._ranges import warn_outside

__all__ = ["Solution", "solution", "solution_names"]

SAME_TEMPERATURE = 0.05  # K, how near a lone temperature of a table must be met
ROUND_OFF = 1e-9  # of a bound; 30 C is 303.15 K only but for the last digit


@dataclass(frozen=True)
class Solution:
    """A substance dissolved in water, with the table of its partial pressure.

    Parameters
    ----------
    name : str
        Name in the table.
    solute : str
        Name of the pure substance that evaporates.
    temperatures : tuple of float
        Temperatures of the table. [K]
    strengths : tuple of float
        Strengths of the table, mass of solute over mass of solution. [-]
    pressures : tuple of tuple of float
        Partial pressures, one tuple per strength, one value per temperature. [Pa]
    uncertainty : float
        Factor, either way, within which the table is taken to hold. [-]
    weak_above : float
        Strength above which the table is from memory and weak. [-]
    basis : str
        Where the table comes from.

    Notes
    -----
    Hydrochloric acid: [Zeisberg1925]_, from memory, checked by an activity model and by total
    pressures. Hydrofluoric acid: own interpolation between few published points
    ([FredenhagenWellmann1932]_, [NRC1995]_). Nitric acid: activity model with the constant of
    [CleggBrimblecombe1990]_, above 40 % from memory [PerryTables]_. Ammonia: mixture equation of
    [TillnerRothFriend1998]_. Valid for fresh solutions inside their tables; an open tray of a
    strong solution loses strength within minutes. Nitrogen dioxide from nitric acid is left out.
    """

    name: str
    solute: str
    temperatures: tuple[float, ...]
    strengths: tuple[float, ...]
    pressures: tuple[tuple[float, ...], ...]
    uncertainty: float
    weak_above: float
    basis: str

    def partial_pressure(self, strength: float, temperature: float) -> float:
        """Return the partial pressure of the solute over the solution.

        Parameters
        ----------
        strength : float
            Mass of solute over mass of solution. [-]
        temperature : float
            Absolute temperature. [K]

        Returns
        -------
        float
            Partial pressure. [Pa]

        Raises
        ------
        RangeError
            If strength or temperature lies outside the table; the message names its range.

        Notes
        -----
        Logarithms, as a cubic in that of the strength and a parabola in 1/T through the tabled
        points. Valid inside the table only; warns where the table is weak.
        """
        self.check(strength, temperature)
        if strength > self.weak_above:
            law = f"partial pressure over {self.name}"
            low = self.strengths[0]
            warn_outside(law, "strength", strength, low, self.weak_above)
        columns = [
            through_points(
                math.log(strength),
                [math.log(value) for value in self.strengths],
                [math.log(row[column]) for row in self.pressures],
            )
            for column in range(len(self.temperatures))
        ]
        reciprocals = [-1.0 / value for value in self.temperatures]
        return math.exp(through_points(-1.0 / temperature, reciprocals, columns))

    def check(self, strength: float, temperature: float) -> None:
        """Raise unless strength and temperature lie inside the table.

        Parameters
        ----------
        strength : float
            Mass of solute over mass of solution. [-]
        temperature : float
            Absolute temperature. [K]

        Raises
        ------
        RangeError
            If one lies outside; the message names the range of the table.
        """
        low, high = self.strengths[0], self.strengths[-1]
        if not low * (1.0 - ROUND_OFF) <= strength <= high * (1.0 + ROUND_OFF):
            raise RangeError(
                f"strength of {self.name} is {100.0 * strength:.4g} %; the table reaches from "
                f"{100.0 * low:.4g} to {100.0 * high:.4g} % by mass"
            )
        first, last = self.temperatures[0], self.temperatures[-1]
        slack = SAME_TEMPERATURE if first == last else ROUND_OFF * last
        if not first - slack <= temperature <= last + slack:
            span = f"from {first:g} to {last:g} K" if first < last else f"{first:g} K only"
            raise RangeError(
                f"temperature of {self.name} is {temperature:.2f} K; the table holds {span} "
                "(a warmer solution gives off more)"
            )


def _read_table() -> dict[str, Solution]:
    found = {}
    for name, solute, celsius, uncertainty, weak, basis, rows in ROWS:
        found[name] = Solution(
            name,
            solute,
            tuple(value + 273.15 for value in celsius),
            tuple(percent / 100.0 for percent, _ in rows),
            tuple(pressures for _, pressures in rows),
            uncertainty,
            weak / 100.0,
            basis,
        )
    return found


_TABLE = _read_table()
_NAMES = {**{name: name for name in _TABLE}, **ALIASES}


def solution(name: str) -> Solution:
    """Return a solution in water by name.

    Parameters
    ----------
    name : str
        Name, usual other name or formula of the solution.

    Returns
    -------
    Solution
        Its table.

    Raises
    ------
    RangeError
        If there is no such table; the message gives the nearest names.

    Notes
    -----
    Sources as `Solution`. Valid for the four solutions of `solution_names`.
    """
    return _TABLE[find_name("solution", name, _NAMES)]


def solution_names() -> tuple[str, ...]:
    """Return the names of all tabled solutions.

    Returns
    -------
    tuple of str
        Names, in the order of the table.

    Notes
    -----
    Valid names for `solution`.
    """
    return tuple(_TABLE)
