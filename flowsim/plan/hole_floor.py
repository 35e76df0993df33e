"""What the person who drills finds on the floor of a chamber, from its case."""

from __future__ import annotations

from collections.abc import Iterator

from flowsim.case.schema import Case, Compartment, Object, Port, Rectangle
from flowsim.errors import RangeError
from flowsim.report.drill_result import Floor, Part
from flowsim.simulate.layout import centred, port_span

__all__ = ["check_case", "floor_of", "plenum_run"]

SIDES = ("left", "right")


def check_case(case: Case) -> None:
    """Refuse a case in which no hole pattern can be chosen.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Raises
    ------
    RangeError
        If it has no plate over a plenum with an exhaust, or no model of the plenum.
    """
    if case.work_surface is None or case.plenum is None or case.exhaust is None:
        raise RangeError(
            "there is nothing to drill: holes needs a perforated work surface over a plenum with "
            "an exhaust ([work_surface], [plenum] and [exhaust] in the case file)"
        )
    if case.numerics.fidelity == "network":
        raise RangeError(
            "fidelity network takes the plenum as one pressure and knows of no draw ratio; take "
            "fidelity stacked, section or volume"
        )
    if not case.exhaust.running:
        raise RangeError(
            "the exhaust stands still (exhaust.running = false), so that the plate draws nothing"
        )


def _part(label: str, kind: str, item: Rectangle | Compartment | Object) -> Part:
    """Return where something lies."""
    x1, y1 = item.offset_x + item.width, item.offset_y + item.depth
    return Part(label, kind, item.offset_x, x1, item.offset_y, y1)


def _parts(case: Case) -> Iterator[Part]:
    """Yield what lies or stands on the plate."""
    assert case.work_surface is not None
    for number, patch in enumerate(case.work_surface.covered, start=1):
        yield _part(f"covered patch {number}", "covered", patch)
    for box in case.compartments:
        yield _part(box.label, "piped" if box.pipe is not None else "tray", box)
    for item in case.objects:
        if item.bottom == 0.0:
            yield _part(item.label, "object", item)


def _port_words(case: Case, port: Port) -> str:
    """Return where a port is."""
    name = f"{port.label}: " if port.label else ""
    width = 1000.0 * (port.width or 0.0)
    if port.wall == "bottom":
        return f"{name}{width:.0f} x {1000.0 * (port.depth or 0.0):.0f} mm in the plenum's bottom"
    start, end = (1000.0 * value for value in port_span(case, port))
    along = "from the front" if port.wall in SIDES else "from the left"
    return (
        f"{name}{width:.0f} x {1000.0 * (port.height or 0.0):.0f} mm in the {port.wall} wall, "
        f"{start:.0f} to {end:.0f} mm {along}"
    )


def floor_of(case: Case) -> Floor:
    """Return what is drilled.

    Parameters
    ----------
    case : Case
        With plate and plenum. [SI]

    Returns
    -------
    Floor
        Zone, what lies on it, ports.
    """
    surface, plenum = case.work_surface, case.plenum
    assert surface is not None
    assert plenum is not None
    zone = case.work_zone
    edges = (zone.offset_x, zone.offset_x + zone.width, zone.offset_y, zone.offset_y + zone.depth)
    walls = tuple(
        (port.wall, *port_span(case, port)) for port in plenum.ports if port.wall != "bottom"
    )
    bottoms = tuple(
        _part(port.label or "bottom port", "port", _bottom(case, port))
        for port in plenum.ports
        if port.wall == "bottom"
    )
    return Floor(
        case.chamber.width,
        case.chamber.depth,
        surface.thickness,
        edges,
        tuple(_parts(case)),
        tuple(_port_words(case, port) for port in plenum.ports),
        walls,
        bottoms,
    )


def _bottom(case: Case, port: Port) -> Rectangle:
    """Return where a port in the bottom is."""
    width, depth = port.width or 0.0, port.depth or 0.0
    return Rectangle(
        offset_x=centred(port.offset_x, width, case.chamber.width),
        offset_y=centred(port.offset_y, depth, case.chamber.depth),
        width=width,
        depth=depth,
    )


def plenum_run(case: Case, free_area: float) -> float | None:
    """Return how far the air runs to the port at most, for the closed forms of a header.

    Parameters
    ----------
    case : Case
        With a plenum. [SI]
    free_area : float
        Area over which holes are spread. [m2]

    Returns
    -------
    float or None
        Length of a plenum that is perforated all over and as wide as this one; half of it with
        ports at both ends; None where the ports lie in no pair of end walls. [m]
    """
    assert case.plenum is not None
    walls = {port.wall for port in case.plenum.ports}
    chamber = case.chamber
    for ends, wide in ((set(SIDES), chamber.depth), ({"front", "back"}, chamber.width)):
        if walls <= ends:
            return free_area / (wide * len(walls))
    return None
