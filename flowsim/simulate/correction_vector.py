"""The corrections of a coupling as one vector, element by element."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.simulate.assemble import Corrections, port_names
from flowsim.simulate.layout import Layout
from flowsim.simulate.trays import TraySources

__all__ = ["element_name", "fits", "pack", "scales", "unpack"]

TRAY_PARTS = ("floor", "edge", "plate")
LEAST_PRESSURE = 1e-9  # Pa, below which nothing in a bench is felt


def pack(corrections: Corrections) -> FloatArray:
    """Return corrections as one vector.

    Parameters
    ----------
    corrections : Corrections
        What the fields add. [Pa]

    Returns
    -------
    array, shape (n,)
        Passing air of all openings first, then filter, plate, ports, trays. [Pa]
    """
    lumped = [corrections.supply_filter, corrections.plate]
    lumped += corrections.ports
    for tray in corrections.trays:
        lumped += [tray.floor, tray.edge, tray.plate]
    return np.concatenate([*corrections.crossflow, np.array(lumped)])


def unpack(vector: FloatArray, like: Corrections) -> Corrections:
    """Return a vector as corrections; dynamic pressures do not fall below zero.

    Parameters
    ----------
    vector : array, shape (n,)
        As `pack` returns it. [Pa]
    like : Corrections
        Of the same case.

    Returns
    -------
    Corrections
        What the fields add. [Pa]
    """
    crossflow, place = [], 0
    for old in like.crossflow:
        crossflow.append(np.maximum(vector[place : place + old.size], 0.0))
        place += old.size
    rest = vector[place:].tolist()
    ports = 2 + len(like.ports)
    trays = tuple(TraySources(*rest[at : at + 3]) for at in range(ports, len(rest), 3))
    return Corrections(tuple(crossflow), rest[0], rest[1], tuple(rest[2:ports]), trays)


def fits(corrections: Corrections, like: Corrections) -> bool:
    """Return whether corrections belong to a case of the same openings, ports and trays.

    Parameters
    ----------
    corrections, like : Corrections
        To be compared; their values do not matter. [Pa]
    """
    shapes = [
        ([part.size for part in one.crossflow], len(one.ports), len(one.trays))
        for one in (corrections, like)
    ]
    return shapes[0] == shapes[1]


def scales(drive: float, drops: Mapping[str, float], new: Corrections) -> FloatArray:
    """Return the drive against which each correction is judged.

    Parameters
    ----------
    drive : float
        Total pressure of the chamber over the room's. [Pa]
    drops : mapping of str to float
        Of the branches of the network. [Pa]
    new : Corrections
        As the fields give them. [Pa]

    Returns
    -------
    array, shape (n,)
        In the order of `pack`. [Pa]
    """
    parts = [np.maximum(np.maximum(abs(drive), q), LEAST_PRESSURE) for q in new.crossflow]
    floor = LEAST_PRESSURE
    plate = max(abs(drops.get("work surface", 0.0)), floor)
    box = max(abs(drops.get("supply filter", 0.0)), floor)
    lumped = [box, plate] + [plate] * (len(new.ports) + 3 * len(new.trays))
    return np.concatenate([*parts, np.array(lumped)])


def element_name(layout: Layout, like: Corrections, number: int) -> str:
    """Return in words which correction stands at a place of the vector.

    Parameters
    ----------
    layout : Layout
        Geometry.
    like : Corrections
        Of this case.
    number : int
        Place. [-]

    Returns
    -------
    str
        For a message.
    """
    for plan, values in zip(layout.openings, like.crossflow, strict=True):
        if number < values.size:
            where = plan.position[number]
            return f"the air passing opening {plan.opening.label} at {where:.3f} m"
        number -= values.size
    names = ["the supply filter's box", "the plate over the plenum"]
    if layout.case.plenum is not None:
        names += [f"{name} of the plenum" for name in port_names(layout)]
    for place in layout.footprints:
        names += [f"the {part} of compartment {place.compartment.label}" for part in TRAY_PARTS]
    return names[number]
