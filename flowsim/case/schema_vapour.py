"""Checks of what evaporates: known substances, strengths and temperatures inside their tables."""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from functools import lru_cache

from flowsim.case.schema_case import CaseParts
from flowsim.case.schema_problem import Path, Problem, did_you_mean
from flowsim.case.schema_release import Release
from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics._aqueous_table import ALIASES as SOLUTION_ALIASES
from flowsim.physics._substance_table import ALIASES as SUBSTANCE_ALIASES
from flowsim.physics.aqueous import Solution, solution, solution_names
from flowsim.physics.substances import COLDEST, WARMEST, Substance, substance, substance_names
from flowsim.physics.vapour import SOLUTION_OF

__all__ = ["vapour_problems"]

_AIR: tuple[Path, ...] = (("room", "temperature"), ("chamber", "temperature"))


def vapour_problems(case: CaseParts) -> Iterator[Problem]:
    """Find releases of which nobody can say what they give off.

    Parameters
    ----------
    case : CaseParts
        Parts valid by themselves; a nan never gives a problem. [SI]

    Yields
    ------
    Problem
        One per contradiction. [-]
    """
    for index, release in enumerate(case.releases):
        path: Path = ("releases", index)
        yield from _rate_or_liquid(release, path)
        if isinstance(release.substance, str):
            yield from _liquid(case, release, path)


def _rate_or_liquid(release: Release, path: Path) -> Iterator[Problem]:
    """Check that a stated rate and evaporation are not mixed."""
    if release.rate is None:
        if release.height > 0.0:
            message = "has no meaning without rate; a liquid gives off vapour at its surface"
            yield Problem((*path, "height"), message)
        return
    if release.rim > 0.0:
        message = "has no meaning beside rate; expected a stated rate or a liquid below a rim"
        yield Problem((*path, "rim"), message)
    if release.temperature is not None:
        message = "has no meaning beside rate; expected a stated rate or a liquid that is as warm"
        yield Problem((*path, "temperature"), message)


def _liquid(case: CaseParts, release: Release, path: Path) -> Iterator[Problem]:
    """Check the substance, and its strength and temperature where it evaporates."""
    pure, dissolved = _pure(release.substance), _dissolved(release.substance)
    if pure is None and dissolved is None:
        yield Problem((*path, "substance"), _unknown(release.substance))
    elif dissolved is None and release.strength is not None:
        message = f"has no meaning for {release.substance}, a pure liquid; expected no strength "
        message += f"(tables of solutions: {', '.join(solution_names())})"
        yield Problem((*path, "strength"), message)
    elif release.rate is not None:
        return
    elif dissolved is not None and release.strength is not None:
        yield from _solution(case, release, dissolved, path)
    elif pure is not None:
        yield from _pure_liquid(case, release, pure, path)
    elif dissolved is not None:
        message = f"is missing for {dissolved.name}, a solution in water; expected its strength, "
        yield Problem((*path, "strength"), message + _strengths(dissolved), absence=True)


@lru_cache(maxsize=64)
def _pure(name: str) -> Substance | None:
    """Return the pure substance with a name, if there is one."""
    try:
        return substance(name)
    except RangeError:
        return None


@lru_cache(maxsize=64)
def _dissolved(name: str) -> Solution | None:
    """Return the solution with a name, or of the substance with that name, if there is one."""
    pure = _pure(name)
    try:
        return solution(name if pure is None else SOLUTION_OF.get(pure.name, name))
    except RangeError:
        return None


def _unknown(name: str) -> str:
    """Return the message for a substance that no table holds."""
    names = (*substance_names(), *solution_names())
    spellings = {**{known: known for known in names}, **SUBSTANCE_ALIASES, **SOLUTION_ALIASES}
    written = " ".join(name.split())[:60]
    message = f"is not in the table (got '{written}'); expected one of {', '.join(names)}"
    return message + did_you_mean(written.lower(), spellings)


def _strengths(table: Solution) -> str:
    """Return the strengths a table holds."""
    low, high = (100.0 * table.strengths[k] for k in (0, -1))
    return f"{low:.4g} to {high:.4g} % by mass, such as '{_middle(low, high):.4g} %'"


def _middle(low: float, high: float) -> float:
    """Return a round number between two."""
    return math.floor((low + high) / 20.0) * 10.0


def _warmth(case: CaseParts, release: Release) -> float:
    """Return the temperature of a liquid [K]."""
    if release.temperature is not None:
        return release.temperature
    inside = case.chamber.temperature
    return case.room.temperature if inside is None else inside


def _celsius(temperature: float) -> str:
    """Return a temperature for a message."""
    return f"{temperature - 273.15:.4g} degC"


def _temperature_problem(case: CaseParts, release: Release, path: Path, wanted: str) -> Problem:
    """Return the problem of a liquid too warm or too cold for its table."""
    shown = _celsius(_warmth(case, release))
    where = (*path, "temperature")
    wanted += " (a warmer liquid gives off more), or a stated rate"
    if release.temperature is not None:
        return Problem(where, f"lies outside the table (got {shown}); expected {wanted}")
    message = f"is left out, so the liquid is as warm as the air ({shown}), which lies outside "
    return Problem(where, f"{message}the table; expected {wanted}", absence=True, rests_on=_AIR)


def _solution(case: CaseParts, release: Release, table: Solution, path: Path) -> Iterator[Problem]:
    """Check strength and temperature of a solution against its table."""
    strength, temperature = release.strength, _warmth(case, release)
    if strength is None or math.isnan(strength):
        return
    if not _holds(table, strength, table.temperatures[0]):
        message = f"lies outside the table of {table.name} (got {100.0 * strength:.4g} %); "
        message += f"expected {_strengths(table)}, or a stated rate"
        yield Problem((*path, "strength"), message)
    elif math.isnan(temperature):
        return
    elif not _holds(table, table.strengths[0], temperature):
        low, high = table.temperatures[0], table.temperatures[-1]
        span = f"{low - 273.15:.4g} to {_celsius(high)}" if low < high else _celsius(low)
        yield _temperature_problem(case, release, path, f"{span} for {table.name}")
    else:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ValidityWarning)
            pressure = table.partial_pressure(strength, temperature)
        yield from _boiling(case, release, table.name, pressure, path)


def _holds(table: Solution, strength: float, temperature: float) -> bool:
    """Say whether strength and temperature lie inside a table."""
    try:
        table.check(strength, temperature)
    except RangeError:
        return False
    return True


def _pure_liquid(
    case: CaseParts, release: Release, item: Substance, path: Path
) -> Iterator[Problem]:
    """Check that a pure liquid is one, at a temperature whose vapour pressure is known."""
    temperature = _warmth(case, release)
    if math.isnan(temperature):
        return
    if not COLDEST <= temperature <= WARMEST:
        wanted = f"{COLDEST - 273.15:.0f} to {WARMEST - 273.15:.0f} degC for {item.name}"
        yield _temperature_problem(case, release, path, wanted)
        return
    pressure = item.continued_pressure(temperature)
    yield from _boiling(case, release, item.name, pressure, path)


def _boiling(
    case: CaseParts, release: Release, name: str, pressure: float, path: Path
) -> Iterator[Problem]:
    """Check that a liquid does not boil."""
    if not pressure >= case.room.pressure:
        return
    message = f"boils at {_celsius(_warmth(case, release))}: {name} has {pressure / 1e3:.4g} kPa "
    message += f"under {case.room.pressure / 1e3:.4g} kPa of air; expected "
    table = _dissolved(release.substance)
    if release.strength is None and table is not None:
        message += f"the strength of its solution in water, {_strengths(table)}, or "
    rests_on = (("room", "pressure"), *_AIR)
    yield Problem((*path, "substance"), message + "a stated rate", rests_on=rests_on)
