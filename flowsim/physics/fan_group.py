"""Unequal fans one behind the other or side by side."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from flowsim.errors import RangeError
from flowsim.physics.fan_curve import FanCurve, falling_root

__all__ = ["Fan", "FansInParallel", "FansInSeries"]


class Fan(Protocol):
    """What a single fan and a group of fans have in common.

    Notes
    -----
    Valid as its members are.
    """

    @property
    def flow(self) -> tuple[float, ...]:
        """Flows of the points between which the curve is known [m3/s]."""

    @property
    def has_dip(self) -> bool:
        """Whether the pressure rises with the flow somewhere."""

    def at(self, speed_ratio: float, density_ratio: float) -> Fan:
        """Return the fan at another speed and density."""

    def pressure_at(self, flow: float) -> tuple[float, float]:
        """Return pressure and slope at a flow."""

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful at a flow."""


@dataclass(frozen=True)
class FansInSeries:
    """Unequal fans one behind the other: pressures add at the same flow.

    Parameters
    ----------
    fans : tuple of Fan
        At least two.

    Notes
    -----
    Continuity. Valid while nothing leaks between the fans and none disturbs the next.
    """

    fans: tuple[Fan, ...]

    @property
    def flow(self) -> tuple[float, ...]:
        """All flows at which one of the curves has a point [m3/s]."""
        return tuple(sorted({q for fan in self.fans for q in fan.flow}))

    @property
    def has_dip(self) -> bool:
        """Whether one of the curves has a dip."""
        return any(fan.has_dip for fan in self.fans)

    def at(self, speed_ratio: float, density_ratio: float = 1.0) -> FansInSeries:
        """Return the group at another speed and gas density.

        Parameters
        ----------
        speed_ratio : float
            Speed over the present one, 0 when all stand still. [-]
        density_ratio : float
            Gas density over the present one. [-]

        Returns
        -------
        FansInSeries
            All fans scaled alike.
        """
        return FansInSeries(tuple(fan.at(speed_ratio, density_ratio) for fan in self.fans))

    def pressure_at(self, flow: float) -> tuple[float, float]:
        """Return the pressure rise at a flow and its slope.

        Parameters
        ----------
        flow : float
            Flow through all fans. [m3/s]

        Returns
        -------
        tuple of float
            Pressure rise [Pa] and its derivative [Pa s/m3].
        """
        parts = [fan.pressure_at(flow) for fan in self.fans]
        return sum(p for p, _ in parts), sum(s for _, s in parts)

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful at a flow.

        Parameters
        ----------
        flow : float
            Flow through all fans. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt.
        """
        return _united(fan.validity(flow) for fan in self.fans)


@dataclass(frozen=True)
class FansInParallel:
    """Unequal fans side by side: flows add at the same pressure.

    Parameters
    ----------
    fans : tuple of FanCurve
        At least two, none with a dip.

    Raises
    ------
    RangeError
        If one has a dip: how such fans share the flow is not unique.

    Notes
    -----
    Each curve is inverted. Valid while all see the same inlet and outlet; the weaker fan is blown
    through backwards above its own shut-off pressure, where `validity` says so.
    """

    fans: tuple[FanCurve, ...]

    def __post_init__(self) -> None:
        """Refuse dips."""
        if any(fan.has_dip for fan in self.fans):
            raise RangeError("unequal fans with a dip cannot be put side by side: not unique")

    @property
    def flow(self) -> tuple[float, ...]:
        """Total flows at which one of the curves has a point, from zero [m3/s]."""
        pressures = {p for fan in self.fans for p in fan.pressure}
        totals = {sum(fan.flow_at(p)[0] for fan in self.fans) for p in pressures}
        return (0.0, *sorted(q for q in totals if q > 0.0))

    @property
    def has_dip(self) -> bool:
        """Whether the pressure rises with the flow somewhere: never."""
        return False

    def at(self, speed_ratio: float, density_ratio: float = 1.0) -> FansInParallel:
        """Return the group at another speed and gas density.

        Parameters
        ----------
        speed_ratio : float
            Speed over the present one, 0 when all stand still. [-]
        density_ratio : float
            Gas density over the present one. [-]

        Returns
        -------
        FansInParallel
            All fans scaled alike.
        """
        return FansInParallel(tuple(fan.at(speed_ratio, density_ratio) for fan in self.fans))

    def pressure_at(self, flow: float) -> tuple[float, float]:
        """Return the pressure rise at a total flow and its slope.

        Parameters
        ----------
        flow : float
            Total flow. [m3/s]

        Returns
        -------
        tuple of float
            Pressure rise [Pa] and its derivative [Pa s/m3].
        """
        low = min(fan.pressure[-1] for fan in self.fans)
        high = max(fan.pressure[0] for fan in self.fans)
        width = max(high - low, 1.0)
        while self._total(low)[0] < flow:
            low, width = low - width, 2.0 * width
        while self._total(high)[0] > flow:
            high, width = high + width, 2.0 * width
        pressure = falling_root(lambda p: _shifted(self._total(p), flow), low, high)
        slopes = [fan.pressure_at(fan.flow_at(pressure)[0])[1] for fan in self.fans]
        if any(slope == 0.0 for slope in slopes):
            return pressure, 0.0
        return pressure, 1.0 / sum(1.0 / slope for slope in slopes)

    def shares(self, flow: float) -> tuple[float, ...]:
        """Return the flow of each fan.

        Parameters
        ----------
        flow : float
            Total flow. [m3/s]

        Returns
        -------
        tuple of float
            Flow of each fan, negative where one is blown through backwards. [m3/s]
        """
        pressure = self.pressure_at(flow)[0]
        return tuple(fan.flow_at(pressure)[0] for fan in self.fans)

    def validity(self, flow: float) -> tuple[str, ...]:
        """Say what is doubtful at a total flow.

        Parameters
        ----------
        flow : float
            Total flow. [m3/s]

        Returns
        -------
        tuple of str
            One sentence per doubt.
        """
        pairs = zip(self.fans, self.shares(flow), strict=True)
        return _united(fan.validity(share) for fan, share in pairs)

    def _total(self, pressure: float) -> tuple[float, float]:
        parts = [fan.flow_at(pressure) for fan in self.fans]
        return sum(q for q, _ in parts), sum(s for _, s in parts)


def _united(parts: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    """Return all sentences once, in order."""
    return tuple(dict.fromkeys(text for part in parts for text in part))


def _shifted(pair: tuple[float, float], target: float) -> tuple[float, float]:
    return pair[0] - target, pair[1]
