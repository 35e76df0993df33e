"""Ways out of the chamber and into it, as faces of its cells, with the exchange at its openings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.chamber.boundary import (
    Slit,
    add_rim_flux,
    add_slit_flux,
    wall_flux,
    zero_flux,
)
from flowsim.chamber.potential import Field
from flowsim.chamber.velocity import wall_tangential
from flowsim.physics.opening_exchange import exchange_velocity, reversal_speed
from flowsim.simulate.coupling import Coupled
from flowsim.simulate.fluxes import SIDE_WALLS, slit_on_box, spread, supply_shares
from flowsim.simulate.fronts import OpeningPlan, fluid_faces
from flowsim.simulate.layout import Footprint, Layout, solid_box
from flowsim.transport.faces import FaceArrays, wall_faces

__all__ = ["CRACKS", "PLATE", "Outlets", "exchange_faces", "find_outlets", "opening_reversals"]

PLATE, CRACKS = "plate", "cracks"


@dataclass(frozen=True, eq=False)
class Outlets:
    """Named faces through which something leaves or enters the chamber.

    Parameters
    ----------
    exits : mapping of str to FaceArrays
        1 on the faces of ``opening <label>``, ``cover <label>``, ``cracks``, ``plate``,
        ``slit <label>`` and ``edge <label>``; no face belongs to two. [-]
    into_room : tuple of str
        Exits that lead to the person: openings, covers, cracks.
    room : FaceArrays
        1 on all faces with the room behind them. [-]
    supply : FaceArrays
        1 on faces through which the supply comes in. [-]
    slits : mapping of str to FaceArrays
        Share of the slit of each compartment that shows on the grid, by label. [-]
    """

    exits: Mapping[str, FaceArrays]
    into_room: tuple[str, ...]
    room: FaceArrays
    supply: FaceArrays
    slits: Mapping[str, FaceArrays]


def find_outlets(layout: Layout) -> Outlets:
    """Return the ways out of the chamber of a case with a field.

    Parameters
    ----------
    layout : Layout
        Geometry.

    Returns
    -------
    Outlets
        Faces by name.
    """
    exits = dict(_openings(layout))
    into_room = list(exits)
    if any(leak.at == "chamber" for leak in layout.case.leaks):
        exits[CRACKS] = _cracks(layout, exits)
        into_room.append(CRACKS)
    room = _sum(layout, [exits[name] for name in into_room])
    drawn = _drawn_floor(layout)
    if drawn.any():
        exits[PLATE] = wall_faces(layout.grid, "floor", (drawn > 0.0).astype(np.float64))
    slits = {}
    for place in layout.footprints:
        if place.solid:
            label = place.compartment.label
            slits[label] = _slit(layout, place)
            exits[f"slit {label}"] = FaceArrays(
                *((part > 0.0).astype(np.float64) for part in slits[label].axes)
            )
            rim = _rim(layout, place)
            if rim is not None:
                exits[f"edge {label}"] = rim
    supply = (supply_shares(layout) > 0.0).astype(np.float64)
    return Outlets(exits, tuple(into_room), room, wall_faces(layout.grid, "ceiling", supply), slits)


def _openings(layout: Layout) -> Iterator[tuple[str, FaceArrays]]:
    """Yield the faces of open and covered openings."""
    for kind, plans in (("opening", layout.openings), ("cover", layout.covers)):
        for plan in plans:
            mask = (plan.face_area > 0.0).astype(np.float64)
            yield f"{kind} {plan.opening.label}", wall_faces(layout.grid, plan.opening.wall, mask)


def _sum(layout: Layout, parts: list[FaceArrays]) -> FaceArrays:
    """Return the sum of face arrays; zeros if there is none."""
    total = [np.zeros(axis.shape) for axis in zero_flux(layout.grid).axes]
    for part in parts:
        for values, more in zip(total, part.axes, strict=True):
            values += more
    return FaceArrays(*total)


def _cracks(layout: Layout, taken: Mapping[str, FaceArrays]) -> FaceArrays:
    """Return the faces of the side walls that belong to no opening."""
    walls = []
    for wall in SIDE_WALLS:
        free = np.broadcast_to(fluid_faces(layout.grid, wall), _wall_shape(layout, wall))
        walls.append(wall_faces(layout.grid, wall, free.astype(np.float64)))
    whole, openings = _sum(layout, walls), _sum(layout, list(taken.values()))
    return FaceArrays(
        *(
            np.where(gone > 0.0, 0.0, part)
            for part, gone in zip(whole.axes, openings.axes, strict=True)
        )
    )


def _wall_shape(layout: Layout, wall: str) -> tuple[int, int]:
    """Return how many faces a side wall has."""
    grid = layout.grid
    return (grid.nx, grid.nz) if wall in ("front", "back") else (grid.ny, grid.nz)


def _drawn_floor(layout: Layout) -> FloatArray:
    """Return what of each floor face draws: open plate, and compartments that do not show. [m2]"""
    if layout.plate is None:
        return np.zeros(layout.grid.shape[:2])
    area = layout.open_share * layout.cell_area
    for place in layout.footprints:
        if not place.solid:
            area = area + place.plan_area
    return spread(area, layout.grid.shape[:2]) * layout.grid.fluid[:, :, 0]


def _slit(layout: Layout, place: Footprint) -> FaceArrays:
    """Return the share of a compartment's slit, or of its open top, on each face. [-]"""
    flux, item = zero_flux(layout.grid), place.compartment
    if item.lid == "off":
        box = solid_box(item)
        slit = Slit(box, "top", (box.x0, box.x1), (box.y0, box.y1))
    else:
        slit = slit_on_box(item)
    add_slit_flux(flux, layout.grid, slit, 1.0)
    return FaceArrays(*(np.abs(part) for part in flux.axes))


def _rim(layout: Layout, place: Footprint) -> FaceArrays | None:
    """Return the faces round the lower edge of a compartment on spacers, without its slit."""
    floor = place.compartment.floor
    if floor is None or floor.gap == 0.0:
        return None
    flux = zero_flux(layout.grid)
    add_rim_flux(flux, layout.grid, solid_box(place.compartment), 1.0)
    slit = _slit(layout, place)
    return FaceArrays(
        *(
            ((np.abs(part) > 0.0) & (own == 0.0)).astype(np.float64)
            for part, own in zip(flux.axes, slit.axes, strict=True)
        )
    )


@dataclass(frozen=True, eq=False)
class _Passage:
    """Speeds at one opening, face by face of its wall."""

    name: str
    plan: OpeningPlan
    area: FloatArray
    through: FloatArray
    along: FloatArray


def _passages(state: Coupled, field: Field) -> Iterator[_Passage]:
    """Yield open and covered openings with the speed through and along them."""
    layout = state.layout
    for kind, plans in (("opening", layout.openings), ("cover", layout.covers)):
        for plan in plans:
            opening, area = plan.opening, plan.face_area
            if kind == "cover":
                gap = 2.0 * (opening.width + opening.height) * opening.cover_gap
                area = area * (gap / area.sum())
            flux = np.abs(wall_flux(field.flux, opening.wall))
            through = np.divide(flux, area, out=np.zeros_like(area), where=area > 0.0)
            parts = wall_tangential(field, opening.wall)
            along = np.where(area > 0.0, np.hypot(*parts), 0.0)
            yield _Passage(f"{kind} {opening.label}", plan, area, through, along)


def _reversal(state: Coupled, passage: _Passage) -> FloatArray:
    """Return the deviation S of the velocity through each face of an opening. [m/s]"""
    case = state.layout.case
    return reversal_speed(passage.through, passage.along, case.mixing.intensity, case.room.draught)


def exchange_faces(state: Coupled, field: Field, factor: float = 1.0) -> FaceArrays:
    """Return what passes each face of the openings both ways besides the mean flow.

    Parameters
    ----------
    state : Coupled
        Solved models.
    field : Field
        Their chamber.
    factor : float
        On the deviation S. [-]

    Returns
    -------
    FaceArrays
        Exchange velocity times open area. [m3/s]

    Notes
    -----
    `flowsim.physics.opening_exchange`: own model, good to decades.
    """
    parts = []
    for passage in _passages(state, field):
        reversal = factor * _reversal(state, passage)
        speed = exchange_velocity(passage.through, reversal, passage.plan.opening.sleeve)
        faces = wall_faces(state.layout.grid, passage.plan.opening.wall, speed * passage.area)
        parts.append(faces)
    return _sum(state.layout, parts)


def opening_reversals(state: Coupled, field: Field) -> dict[str, tuple[float, float]]:
    """Return mean deviation S and mean exchange velocity k of each opening.

    Parameters
    ----------
    state : Coupled
        Solved models.
    field : Field
        Their chamber.

    Returns
    -------
    dict of str to tuple of float
        By name of the exit; area means. [m/s]
    """
    found = {}
    for passage in _passages(state, field):
        reversal = _reversal(state, passage)
        speed = exchange_velocity(passage.through, reversal, passage.plan.opening.sleeve)
        whole = float(passage.area.sum())
        means = [float((values * passage.area).sum()) / whole for values in (reversal, speed)]
        found[passage.name] = (means[0], means[1])
    return found
