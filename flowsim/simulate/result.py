"""The frozen result of one case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.chamber.potential import Field
from flowsim.simulate.transport_result import Transport

__all__ = [
    "BranchState",
    "Check",
    "CompartmentState",
    "OpeningProfile",
    "PlateDraw",
    "Quantity",
    "Result",
    "TubeDraw",
]

State = Literal["met", "not met", "not shown"]


@dataclass(frozen=True)
class Quantity:
    """One key figure.

    Parameters
    ----------
    value : float or None
        In `unit`; None where the case has no such thing or the model cannot give it.
    unit : str
        SI unit, "-" for a pure number.
    meaning : str
        One sentence.
    symbol : str
        Symbol used in figures.
    source : str
        Which part of the model gives it.
    indicative : bool
        True where a law or the physics left its range, so that only the trend counts.
    """

    value: float | None
    unit: str
    meaning: str
    symbol: str = ""
    source: str = ""
    indicative: bool = False


@dataclass(frozen=True)
class Check:
    """One verdict: a key figure against a limit of the case.

    Parameters
    ----------
    name : str
        Key figure.
    value, limit, margin : float or None
        In the figure's SI unit; the margin is positive on the met side. [any]
    kind : {"min", "max"}
        Which side is wanted.
    state : {"met", "not met", "not shown"}
        "not shown" where validity was left or the uncertainty is wider than the margin.
    basis : str
        Where limit and value come from, in words.
    unit : str
        SI unit.
    """

    name: str
    value: float | None
    limit: float
    margin: float | None
    kind: Literal["min", "max"]
    state: State
    basis: str
    unit: str


@dataclass(frozen=True)
class BranchState:
    """Flow and pressures of one branch of the network.

    Parameters
    ----------
    name, start, end : str
        The branch and the nodes it joins; flow is positive from start to end.
    kind : str
        "fan", "filter", "duct", "opening", "plate", "port", "slit", "gap", "leak", "fixed".
    flow : float
        Volume flow. [m3/s]
    drop : float
        Total pressure lost from start to end, negative where a fan raises it. [Pa]
    """

    name: str
    start: str
    end: str
    kind: str
    flow: float
    drop: float


@dataclass(frozen=True)
class OpeningProfile:
    """Velocity through one opening, station by station along its width.

    Parameters
    ----------
    label, wall : str
        Name of the opening and the wall it is in.
    start, width, bottom, height : float
        Place and size on the wall: start along the wall's horizontal axis. [m]
    position : array, shape (n,)
        Centre of each station along the wall's horizontal axis. [m]
    station_width : array, shape (n,)
        Width of the opening inside each station. [m]
    velocity : array, shape (n,)
        Net velocity, outward positive, mean over the height. [m/s]
    outflow, inflow : array, shape (n,)
        Flow out and flow in per station, both >= 0. [m3/s]
    drive : array, shape (n,)
        Total pressure of the chamber over the room's, E, at mid-height. [Pa]
    crossflow : array, shape (n,)
        Dynamic pressure of the air passing along the opening, q. [Pa]
    layer_height : array, shape (m,)
        Centre heights of the layers of a layered opening (m = 1 without buoyancy). [m]
    layer_velocity : array, shape (n, m)
        Velocity per layer, outward positive. [m/s]
    """

    label: str
    wall: str
    start: float
    width: float
    bottom: float
    height: float
    position: FloatArray
    station_width: FloatArray
    velocity: FloatArray
    outflow: FloatArray
    inflow: FloatArray
    drive: FloatArray
    crossflow: FloatArray
    layer_height: FloatArray
    layer_velocity: FloatArray


@dataclass(frozen=True)
class PlateDraw:
    """Draw of the perforated work surface and the plenum below it.

    Parameters
    ----------
    x, y : array, shape (nx,), (ny,)
        Cell centres. [m]
    open_share : array, shape (nx, ny)
        Perforated, uncovered share of each cell. [-]
    velocity : array, shape (nx, ny)
        Downward face velocity over the open part; nan where nothing is open. [m/s]
    pressure : array, shape (nx, ny)
        Static pressure in the plenum, room = 0. [Pa]
    plenum_velocity_x, plenum_velocity_y : array, shape (nx, ny)
        Depth-averaged velocity in the plenum at cell centres. [m/s]
    station_velocity, station_pressure : array, shape (nx,)
        Means along y at each x station, over open plate; nan where nothing is open. [m/s], [Pa]
    """

    x: FloatArray
    y: FloatArray
    open_share: FloatArray
    velocity: FloatArray
    pressure: FloatArray
    plenum_velocity_x: FloatArray
    plenum_velocity_y: FloatArray
    station_velocity: FloatArray
    station_pressure: FloatArray


@dataclass(frozen=True)
class TubeDraw:
    """Draw of the distributor tube along its length.

    Parameters
    ----------
    x : array, shape (n,)
        Station centres. [m]
    inflow : array, shape (n,)
        Inflow per metre of tube. [m2/s]
    pressure : array, shape (n,)
        Static pressure inside, room = 0. [Pa]
    """

    x: FloatArray
    inflow: FloatArray
    pressure: FloatArray


@dataclass(frozen=True)
class CompartmentState:
    """Pressures and flows of one tray compartment.

    Parameters
    ----------
    label : str
        Name.
    pressure : float
        Against the chamber, negative = below it. [Pa]
    flow : float
        Through the slit into the compartment. [m3/s]
    slit_velocity_mean, slit_velocity_min : float
        Through the slit, into the compartment positive. [m/s]
    bypass_share : float or None
        Share of the air of its footprint that comes in under the box; None with an own pipe. [-]
    """

    label: str
    pressure: float
    flow: float
    slit_velocity_mean: float
    slit_velocity_min: float
    bypass_share: float | None


@dataclass(frozen=True)
class Result:
    """Everything one run gives.

    Parameters
    ----------
    case : Case
        The resolved case, SI.
    fidelity : {"network", "section", "stacked", "volume"}
        Model of the chamber.
    quantities : mapping of str to Quantity
        Key figures in the order in which they are shown; ``name[label]`` for each of several.
    checks : tuple of Check
        Verdicts against the case's limits.
    residuals : mapping of str to float
        What each solver left over, and the solvers' choices by name.
    assumptions, warnings : tuple of str
        In words.
    nodes : mapping of str to float
        Total pressure of each network node, room = 0. [Pa]
    branches : tuple of BranchState
        The network.
    openings : tuple of OpeningProfile
        One per open opening.
    compartments : tuple of CompartmentState
        One per compartment.
    plate : PlateDraw or None
        None without a plenum or at fidelity "network".
    tube : TubeDraw or None
        None without a distributor tube or at fidelity "network".
    field : Field or None
        The chamber's flow; None at fidelity "network".
    filter_patch : tuple of float or None
        x0, x1, y0, y1 of the supply filter in the ceiling. [m]
    measure_height : float
        Height at which the downflow is judged. [m]
    downflow : array, shape (nx, ny), or None
        Downward velocity at the measuring height, nan inside solids. [m/s]
    transport : Transport or None
        Where vapour and dust go; None where it was not computed.
    """

    case: Case
    fidelity: str
    quantities: Mapping[str, Quantity]
    checks: tuple[Check, ...]
    residuals: Mapping[str, float]
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]
    nodes: Mapping[str, float]
    branches: tuple[BranchState, ...]
    openings: tuple[OpeningProfile, ...]
    compartments: tuple[CompartmentState, ...]
    plate: PlateDraw | None
    tube: TubeDraw | None
    field: Field | None
    filter_patch: tuple[float, float, float, float] | None
    measure_height: float
    downflow: FloatArray | None
    transport: Transport | None = None

    def __getitem__(self, name: str) -> float | None:
        """Return the value of one key figure."""
        return self.quantities[name].value
