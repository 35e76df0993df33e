"""What one run says about vapour and dust: maps, releases, workpieces, recovery."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from flowsim._arrays import FloatArray
from flowsim.simulate.shares import ShareEstimate, ShareMaps

__all__ = [
    "LimitCheck",
    "ParticlePath",
    "Recovery",
    "ReleaseResult",
    "RoomExposure",
    "Transport",
    "WorkpieceResult",
]

State = Literal["met", "not met", "not shown"]


@dataclass(frozen=True)
class LimitCheck:
    """What a person breathes against one published limit.

    Parameters
    ----------
    publisher, kind, averaging, year, status, note : str
        Who set it, TWA, STEL, ceiling, peak or IDLH, averaging time as printed, year, how the
        number is known, note of the publisher. [text]
    limit : float
        The limit. [ppm]
    value : float
        In the near zone, averaged as the limit wants, worst window. [ppm]
    highest : float
        The same with everything that is uncertain at its worst. [ppm]
    state : {"met", "not met", "not shown"}
        Verdict.
    """

    publisher: str
    kind: str
    averaging: str
    year: str
    status: str
    note: str
    limit: float
    value: float
    highest: float
    state: State

    @property
    def ratio(self) -> float:
        """Value over limit. [-]"""
        return self.value / self.limit


@dataclass(frozen=True, eq=False)
class RoomExposure:
    """Concentration in the room over time.

    Parameters
    ----------
    times : array, shape (nt,)
        Since the release began. [s]
    near, far : array, shape (nt,)
        Round the person, and in the rest of the room. [ppm]
    near_highest : array, shape (nt,)
        Round the person, with everything that is uncertain at its worst. [ppm]
    """

    times: FloatArray
    near: FloatArray
    far: FloatArray
    near_highest: FloatArray


@dataclass(frozen=True, eq=False)
class ReleaseResult:
    """Where the vapour of one release goes.

    Parameters
    ----------
    label : str
        Name of the release.
    substance, liquid : str
        What is breathed; what lies in the tray, with its strength.
    place : tuple of float
        x0, x1, y0, y1, z0, z1. [m]
    compartment : str or None
        In which it stands.
    rate : float
        Given off in a time. [kg/s]
    rate_factor : float
        Factor, either way, by which the rate is uncertain; 1 for a stated rate. [-]
    rates : mapping of str to float
        By each published law; empty for a stated rate. [kg/s]
    air_speed : float or None
        Along the liquid, as used. [m/s]
    filled : float
        Concentration over the liquid over that of saturation. [-]
    exits : mapping of str to float
        Share that leaves by each exit, in use; they sum to 1. [-]
    escape : ShareEstimate
        Share that leaves into the room.
    slit : ShareEstimate or None
        Share that gets out of the compartment into the chamber.
    front_ppm : float
        In the air at the front, largest mean of a station. [ppm]
    front_ppm_highest : float
        The same with everything that is uncertain at its worst. [ppm]
    duct_ppm : float or None
        In the exhaust duct; None without exhaust. [ppm]
    lfl_share : float or None
        Of the lower flammable limit in the exhaust duct; None where the vapour does not burn. [-]
    lfl_share_highest : float or None
        The same with the rate at its worst. [-]
    room : RoomExposure or None
        None where the case does not state the room.
    checks : tuple of LimitCheck
        Every published limit that applies.
    concentration : array, shape (nx, ny, nz), or None
        In the chamber, steady, in use; nan in solids. [ppm]
    why : str
        One sentence.
    assumptions : tuple of str
        What was taken for granted for this release.
    """

    label: str
    substance: str
    liquid: str
    place: tuple[float, float, float, float, float, float]
    compartment: str | None
    rate: float
    rate_factor: float
    rates: Mapping[str, float]
    air_speed: float | None
    filled: float
    exits: Mapping[str, float]
    escape: ShareEstimate
    slit: ShareEstimate | None
    front_ppm: float
    front_ppm_highest: float
    duct_ppm: float | None
    lfl_share: float | None
    lfl_share_highest: float | None
    room: RoomExposure | None
    checks: tuple[LimitCheck, ...]
    concentration: FloatArray | None
    why: str
    assumptions: tuple[str, ...] = ()

    @property
    def exposure_ratio(self) -> float | None:
        """Largest value over its limit, None where no limit is known or no room stated. [-]"""
        return max((check.ratio for check in self.checks), default=None)


@dataclass(frozen=True, eq=False)
class WorkpieceResult:
    """How clean the air is at one workpiece.

    Parameters
    ----------
    label : str
        Name.
    place : tuple of float
        x0, x1, y0, y1 and height of its surface. [m]
    room_air : ShareEstimate
        Share of room air over it.
    age : float
        Mean age of the air over it. [s]
    sizes : array, shape (n,)
        Particle sizes. [m]
    concentration, concentration_highest : array, shape (n,)
        Particles of these sizes and larger, and with everything uncertain at its worst. [1/m3]
    causes : mapping of str to array, shape (n,)
        What of it comes through the filter, round it, by room air, from each source. [1/m3]
    iso_class, iso_class_highest : float or None
        ISO 14644-1 number by the worst size; None without a statement on dust. [-]
    worst_size : float or None
        The size that decides. [m]
    class_text : str
        Class in half steps, with what speaks against it.
    deposition : array, shape (n,)
        What lands, of these sizes and larger. [1/(m2 s)]
    cause : str
        The largest part at the worst size.
    why : str
        One sentence.
    """

    label: str
    place: tuple[float, float, float, float, float]
    room_air: ShareEstimate
    age: float
    sizes: FloatArray
    concentration: FloatArray
    concentration_highest: FloatArray
    causes: Mapping[str, FloatArray]
    iso_class: float | None
    iso_class_highest: float | None
    worst_size: float | None
    class_text: str
    deposition: FloatArray
    cause: str
    why: str


@dataclass(frozen=True, eq=False)
class Recovery:
    """How the air gets clean after switching on, the chamber full of room air.

    Parameters
    ----------
    times : array, shape (nt,)
        Since switching on. [s]
    shares : array, shape (nt, number of places)
        Room air over each place. [-]
    places : tuple of str
        Workpieces, or the work surface where there is none.
    time : float or None
        Until the worst place stays below 1/100; None if it never does. [s]
    mixed_time, piston_time : float or None
        If the air were fully mixed, and if it moved as a piston. [s]
    why : str
        One sentence.
    """

    times: FloatArray
    shares: FloatArray
    places: tuple[str, ...]
    time: float | None
    mixed_time: float | None
    piston_time: float | None
    why: str


@dataclass(frozen=True, eq=False)
class ParticlePath:
    """The way of one particle.

    Parameters
    ----------
    points : array, shape (n, 3)
        From its start to its end. [m]
    end : str
        Name of the exit or workpiece at which it ends.
    start : str
        What it came from: a release, a source, or an opening.
    """

    points: FloatArray
    end: str
    start: str


@dataclass(frozen=True, eq=False)
class Transport:
    """All that one run says about vapour and dust.

    Parameters
    ----------
    escape : ShareMaps
        Share of what is released in each cell that leaves into the room.
    ingress : ShareMaps
        Share of room air in each cell.
    age : array, shape (nx, ny, nz)
        Mean age of the air; nan in solids. [s]
    particle_escape : mapping of float to array, shape (nx, ny, nz)
        Escape share in use of particles by size in m, settling included. [-]
    eddy : mapping of str to float
        Mean eddy diffusivity of the states "mean flow", "at rest", "in use". [m2/s]
    reversal : mapping of str to tuple of float
        Mean reversal S and exchange velocity k of each opening, in use. [m/s]
    releases, workpieces : tuple
        One per release and workpiece of the case.
    recovery : Recovery or None
        None where there is no supply.
    dust : mapping of str to array
        Concentration of particles by "size in um", e.g. "0.5"; nan in solids. [1/m3]
    paths : tuple of ParticlePath
        Some ways of particles, in use.
    tracked : mapping of str to tuple of float
        Share of particles by exit and its standard error, for those of the paths. [-]
    """

    escape: ShareMaps
    ingress: ShareMaps
    age: FloatArray
    particle_escape: Mapping[float, FloatArray]
    eddy: Mapping[str, float]
    reversal: Mapping[str, tuple[float, float]]
    releases: tuple[ReleaseResult, ...]
    workpieces: tuple[WorkpieceResult, ...]
    recovery: Recovery | None
    dust: Mapping[str, FloatArray]
    paths: tuple[ParticlePath, ...]
    tracked: Mapping[str, tuple[float, float]]
