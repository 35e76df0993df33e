"""A plausible result made by hand, so that the report is tested without a simulation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from flowsim.case.schema import Case
from flowsim.chamber.boundary import FaceFlux, add_wall_flux, zero_flux
from flowsim.chamber.grid import Grid, wall_patch
from flowsim.chamber.potential import Field, solve_field
from flowsim.chamber.velocity import downward_at_height
from flowsim.simulate.result import (
    BranchState,
    Check,
    CompartmentState,
    OpeningProfile,
    PlateDraw,
    Quantity,
    Result,
    TubeDraw,
)

SUPPLY = 0.335  # m3/s
OUTFLOW = 0.045  # m3/s
COVERED = {"offset_x": 0.7, "offset_y": 0.2, "width": 0.42, "depth": 0.3}

PARTS = {
    "format": 1,
    "title": "Mirror bench, port at the right end",
    "question": "Which way does the front blow?",
    "chamber": {"width": 1.3, "depth": 0.65, "height": 0.75},
    "supply": {
        "flow": SUPPLY,
        "filter": {
            "width": 1.22,
            "depth": 0.61,
            "rated_velocity": 0.45,
            "rated_drop": 110.0,
        },
    },
    "openings": [
        {
            "label": "front",
            "wall": "front",
            "offset": 0.05,
            "bottom": 0.0,
            "width": 1.2,
            "height": 0.16,
        }
    ],
    "work_surface": {"thickness": 0.012, "hole_diameter": 0.008, "pitch": 0.03},
    "plenum": {
        "height": 0.11,
        "ports": [{"label": "right", "wall": "right", "width": 0.4, "height": 0.09}],
    },
    "exhaust": {"flow": SUPPLY - OUTFLOW, "ducts": [{"diameter": 0.2, "length": 6.0}]},
    "compartments": [
        {
            "label": "strip tray",
            **COVERED,
            "height": 0.12,
            "slit": {"side": "front", "length": 0.38, "height": 0.01},
            "floor": {"hole_diameter": 0.006, "hole_count": 60},
        }
    ],
    "limits": {"front_velocity_min": {"min": 0.15}, "draw_ratio": {"max": 1.1}},
}


def case(**changes: object) -> Case:
    """Return the case, some of its parts exchanged."""
    return Case.model_validate({**PARTS, **changes})


def _plan_share(values: np.ndarray, start: float, size: float, step: float) -> np.ndarray:
    """Return which cell centres lie inside a length, as 0 or 1."""
    del step
    return ((values > start) & (values < start + size)).astype(float)


def _plate(grid: Grid) -> PlateDraw:
    """Return a draw that rises towards the right end."""
    x, y, _ = grid.centres
    inside = np.outer(
        _plan_share(x, COVERED["offset_x"], COVERED["width"], grid.dx),
        _plan_share(y, COVERED["offset_y"], COVERED["depth"], grid.dy),
    )
    share = 1.0 - inside
    shape = 1.0 + 0.16 * (x / grid.width) ** 2
    velocity = np.outer(shape, 1.0 + 0.01 * np.cos(np.pi * y / grid.depth))
    velocity *= (SUPPLY - OUTFLOW) / (velocity * share).sum() / (grid.dx * grid.dy)
    velocity = np.where(share > 0.0, velocity, np.nan)
    along = (SUPPLY - OUTFLOW) / (0.11 * grid.depth) * np.outer(x / grid.width, np.ones_like(y))
    pressure = -30.0 - 1.2 * along**2
    station = np.nanmean(velocity, axis=1)
    return PlateDraw(
        x=x,
        y=y,
        open_share=share,
        velocity=velocity,
        pressure=pressure,
        plenum_velocity_x=along,
        plenum_velocity_y=0.0 * along,
        station_velocity=station,
        station_pressure=pressure.mean(axis=1),
    )


def _boundary(grid: Grid, plate: PlateDraw, front: np.ndarray) -> FaceFlux:
    """Return the fluxes of filter, plate and front."""
    flux = zero_flux(grid)
    supply = wall_patch(grid, "ceiling", 0.04, 1.26, 0.02, 0.63)
    add_wall_flux(flux, grid, "ceiling", SUPPLY * supply / supply.sum(), inward=True)
    draw = np.nan_to_num(plate.velocity) * plate.open_share * grid.dx * grid.dy
    add_wall_flux(flux, grid, "floor", draw, inward=False)
    opening = wall_patch(grid, "front", 0.05, 1.25, 0.0, 0.16)
    columns = opening.sum(axis=1, keepdims=True)
    share = np.divide(opening, columns, out=np.zeros_like(opening), where=columns > 0.0)
    full = np.zeros(grid.nx)
    full[columns[:, 0] > 0.0] = front
    add_wall_flux(flux, grid, "front", share * full[:, None], inward=False)
    return flux


def _profile(grid: Grid, inward_share: float, layers: int) -> OpeningProfile:
    """Return a front that weakens towards the right, part of it drawing in if wanted."""
    area = wall_patch(grid, "front", 0.05, 1.25, 0.0, 0.16)
    stations = np.flatnonzero(area.sum(axis=1) > 0.0)
    width = area.sum(axis=1)[stations] / 0.16
    centre = grid.centres[0][stations]
    slope = 1.0 + 0.3 * np.cos(np.pi * centre / 1.3)
    if inward_share > 0.0:
        slope = slope - np.quantile(slope, inward_share)
    flow = OUTFLOW * slope * width / (slope * width).sum()
    velocity = flow / (width * 0.16)
    height = (np.arange(layers) + 0.5) * 0.16 / layers
    tilt = (np.arange(layers) - 0.5 * (layers - 1)) * 0.1
    layer = velocity[:, None] + tilt[None, :]
    drive = 0.05 + 0.602 * velocity * np.abs(velocity)
    return OpeningProfile(
        label="front",
        wall="front",
        start=0.05,
        width=1.2,
        bottom=0.0,
        height=0.16,
        position=centre,
        station_width=width,
        velocity=velocity,
        outflow=np.maximum(flow, 0.0),
        inflow=np.maximum(-flow, 0.0),
        drive=drive,
        crossflow=np.full_like(drive, 0.02),
        layer_height=height,
        layer_velocity=layer,
    )


BRANCHES = (
    BranchState("supply duct", "room", "supply inlet", "duct", SUPPLY, 14.2),
    BranchState("prefilter", "supply inlet", "supply fan inlet", "filter", SUPPLY, 22.0),
    BranchState("supply fan", "supply fan inlet", "supply box", "fan", SUPPLY, -146.5),
    BranchState("supply filter", "supply box", "chamber", "filter", SUPPLY, 110.0),
    BranchState("opening front", "chamber", "room", "opening", OUTFLOW, 0.31),
    BranchState("leak gap of the window panel", "chamber", "room", "leak", 0.0003, 0.31),
    BranchState("work surface", "chamber", "plenum", "plate", 0.277, 31.2),
    BranchState("slit strip tray", "chamber", "compartment strip tray", "slit", 0.0085, 6.0),
    BranchState(
        "floor strip tray", "compartment strip tray", "gap strip tray", "plate", 0.0085, 9.0
    ),
    BranchState("edge strip tray", "chamber", "gap strip tray", "gap", 0.0042, 15.0),
    BranchState("plate under strip tray", "gap strip tray", "plenum", "plate", 0.0127, 16.2),
    BranchState("port right", "plenum", "exhaust inlet", "port", 0.2897, 19.0),
    BranchState("exhaust duct", "exhaust inlet", "exhaust duct end", "duct", 0.2897, 41.0),
    BranchState("exhaust fan", "exhaust duct end", "outlet", "fan", 0.2897, -90.9),
)
NODES = {
    "room": 0.0,
    "outdoors": 0.0,
    "outlet": 0.0,
    "supply inlet": -14.2,
    "supply fan inlet": -36.2,
    "supply box": 110.3,
    "chamber": 0.31,
    "plenum": -30.9,
    "compartment strip tray": -5.7,
    "gap strip tray": -14.7,
    "exhaust inlet": -49.9,
    "exhaust duct end": -90.9,
}


def quantities() -> dict[str, Quantity]:
    """Return key figures, one of them without a value."""
    rows = (
        ("balance_margin", 0.124, "-", "least relative drift that turns the front"),
        ("draught_margin", 0.6, "m/s", "head-on draught that turns the front"),
        ("supply_flow", SUPPLY, "m3/s", "air moved by the supply"),
        ("supply_face_velocity", 0.45, "m/s", "supply flow over the filter's area"),
        ("supply_filter_pressure_drop", 110.0, "Pa", "drop across the supply filter"),
        ("exhaust_flow", SUPPLY - OUTFLOW, "m3/s", "air drawn by the exhaust"),
        ("front_outflow", OUTFLOW, "m3/s", "net flow to the room"),
        ("front_outflow[front]", OUTFLOW, "m3/s", "net flow to the room"),
        ("front_velocity_mean", 0.234, "m/s", "net flow over the area"),
        ("front_velocity_min", 0.16, "m/s", "smallest station mean"),
        ("front_velocity_max", 0.31, "m/s", "largest station mean"),
        ("front_inflow_share", 0.0, "-", "share of the area that draws in"),
        ("chamber_pressure", 0.31, "Pa", "total pressure of the chamber over the room"),
        ("plenum_pressure_mean", -30.9, "Pa", "static pressure in the plenum"),
        ("plate_pressure_drop", 31.2, "Pa", "chamber less plenum"),
        ("draw_ratio", 1.16, "-", "largest over smallest draw"),
        ("draw_rsd", 0.05, "-", "standard deviation of the draw over its mean"),
        ("downflow_mean", 0.38, "m/s", "mean downward velocity"),
        ("downflow_min", 0.18, "m/s", "smallest downward velocity"),
        ("compartment_pressure", -6.0, "Pa", "compartment against the chamber"),
        ("slit_velocity_mean", 1.9, "m/s", "flow through the slit over its area"),
        ("bypass_share", 0.33, "-", "share that comes in round the edge"),
        ("tube_draw_ratio", None, "-", "largest over smallest inflow along the tube"),
        ("mass_balance_error", 3.1e-13, "-", "largest imbalance over the largest flow"),
    )
    return {name: Quantity(value, unit, text) for name, value, unit, text in rows}


CHECKS = (
    Check("front_velocity_min", 0.16, 0.15, 0.01, "min", "met", "limit of the case", "m/s"),
    Check("draw_ratio", 1.16, 1.1, -0.06, "max", "not met", "limit of the case", "-"),
    Check(
        "downflow_min", 0.18, 0.2, -0.02, "min", "not shown", "spread wider than the margin", "m/s"
    ),
)


def build(
    cells: tuple[int, int, int] = (24, 12, 16),
    inward_share: float = 0.0,
    layers: int = 1,
    tube: bool = False,
    **changes: object,
) -> Result:
    """Return a result of the side-port bench with a field that carries its fluxes."""
    grid = Grid(*cells, 1.3, 0.65, 0.75)
    plate = _plate(grid)
    profile = _profile(grid, inward_share, layers)
    field = solve_field(grid, _boundary(grid, plate, profile.outflow - profile.inflow), "stacked")
    where = np.linspace(0.2, 1.2, 21)
    inflow = 0.29 / where.size / 0.05 * (1.0 + 0.1 * where)
    return Result(
        case=case(**changes),
        fidelity="stacked",
        quantities=quantities(),
        checks=CHECKS,
        residuals={"mass balance": 3.1e-13, "coupling": 4e-9, "iterations": 7},
        assumptions=("The room's air stands still.",),
        warnings=("draw_ratio: the plate lies between a thin and a thick one.",),
        nodes=NODES,
        branches=BRANCHES,
        openings=(profile,),
        compartments=(CompartmentState("strip tray", -6.0, 0.0085, 1.9, 1.7, 0.33),),
        plate=plate,
        tube=TubeDraw(where, inflow, -40.0 - 3.0 * where**2) if tube else None,
        field=field,
        filter_patch=(0.04, 1.26, 0.02, 0.63),
        measure_height=0.15,
        downflow=downward_at_height(field, 0.15),
    )


def network_only() -> Result:
    """Return the same bench without fields."""
    return replace(build(), fidelity="network", plate=None, tube=None, field=None, downflow=None)


def section(full: Result, axis: int = 0) -> Result:
    """Return the result reduced to one section, its field solved anew."""
    grid_shape = list(full.field.grid.shape) if full.field else [1, 1, 1]
    grid_shape[axis] = 1
    grid = Grid(*grid_shape, 1.3, 0.65, 0.75)
    flux = zero_flux(grid)
    for wall, inward in (("ceiling", True), ("floor", False)):
        amount = np.full((grid.nx, grid.ny), SUPPLY / (grid.nx * grid.ny))
        add_wall_flux(flux, grid, wall, amount, inward=inward)
    field = solve_field(grid, flux, "section")
    return replace(full, fidelity="section", field=field, downflow=downward_at_height(field, 0.15))


__all__ = ["Field", "build", "case", "network_only", "quantities", "section"]
