"""Key figures of vapour and dust, how far they are trusted, and what they take for granted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Case
from flowsim.chamber.grid import Grid
from flowsim.simulate.result import Check, OpeningProfile
from flowsim.simulate.shares import RESOLVED, ShareEstimate, ShareMaps
from flowsim.simulate.transport_result import ReleaseResult, Transport, WorkpieceResult
from flowsim.simulate.verdicts import Doubt
from flowsim.transport.release import release_weights

__all__ = [
    "doubted",
    "transport_assumptions",
    "transport_doubts",
    "transport_rows",
    "transport_warnings",
]

Values = dict[str, float | None]
RECOVERY_DOUBT = 0.25  # of the recovery time: eddies halved or doubled, own estimate
AGAINST_JETS = ("room_air_share", "surface_room_air_share", "iso_class", "recovery_time")
CARRIED_FIGURES = (
    *AGAINST_JETS,
    "vapour_escape_share",
    "surface_escape_share",
    "vapour_front_ppm",
    "exposure_ratio",
    "lfl_share",
)
LARGEST_CLASSED = 5.0001e-6  # m


def _release_values(item: ReleaseResult) -> Values:
    """Return the key figures of one release."""
    return {
        "vapour_escape_share": item.escape.value,
        "vapour_front_ppm": item.front_ppm,
        "exposure_ratio": item.exposure_ratio,
        "lfl_share": item.lfl_share,
        "evaporation_rate": item.rate,
        "slit_escape_share": None if item.slit is None else item.slit.value,
    }


def _workpiece_values(item: WorkpieceResult) -> Values:
    """Return the key figures of one workpiece."""
    landing = float(item.deposition.max()) if item.deposition.size else None
    return {
        "room_air_share": item.room_air.value,
        "iso_class": item.iso_class,
        "iso_class_worst_size": item.worst_size,
        "deposition_rate": landing,
    }


def _surface_weights(case: Case, grid: Grid) -> FloatArray:
    """Return the share of each cell in the layer of air on the work surface. [-]"""
    zone = case.work_zone
    box = (zone.offset_x, zone.offset_x + zone.width, zone.offset_y, zone.offset_y + zone.depth)
    return release_weights(grid, (*box, 0.0, 0.0))


def _largest(values: FloatArray, weights: FloatArray) -> float:
    """Return the largest value where a weight stands."""
    return float(np.nanmax(values[weights > 0.0]))


def transport_rows(
    case: Case, grid: Grid, transport: Transport
) -> tuple[Values, list[tuple[str, Values]], list[tuple[str, Values]]]:
    """Return the key figures of vapour and dust.

    Parameters
    ----------
    case : Case
        The case.
    grid : Grid
        Cells of its chamber.
    transport : Transport
        What was computed.

    Returns
    -------
    tuple
        Figures of the whole chamber, of each release by label, of each workpiece by label.
    """
    weights = _surface_weights(case, grid)
    whole: Values = {
        "surface_escape_share": _largest(transport.escape.in_use, weights),
        "surface_room_air_share": _largest(transport.ingress.in_use, weights),
        "air_age_max": float(np.nanmax(transport.age)),
        "recovery_time": None if transport.recovery is None else transport.recovery.time,
    }
    releases = [(item.label, _release_values(item)) for item in transport.releases]
    workpieces = [(item.label, _workpiece_values(item)) for item in transport.workpieces]
    return whole, releases, workpieces


def _share_doubt(share: ShareEstimate, least: float = 0.0) -> Doubt:
    """Return how far a share may lie from its value, upwards at least what is not resolved. [-]"""
    return Doubt(max(share.value - share.lowest, 0.0), max(share.highest - share.value, least, 0.0))


def _at(maps: ShareMaps, weights: FloatArray) -> ShareEstimate:
    """Return the estimate where the share in use is largest."""
    place = np.nanargmax(np.where(weights > 0.0, maps.in_use, np.nan))
    single = np.zeros(weights.size)
    single[place] = 1.0
    return maps.at(single.reshape(weights.shape))


def transport_doubts(case: Case, grid: Grid, transport: Transport) -> dict[str, Doubt]:
    """Return the spread of the key figures of vapour and dust.

    Parameters
    ----------
    case : Case
        The case.
    grid : Grid
        Cells of its chamber.
    transport : Transport
        What was computed.

    Returns
    -------
    dict of str to Doubt
        By name of the figure, with the label where there are several.

    Notes
    -----
    An escape share below 0.001 is not resolved, so its doubt upwards is never less.
    """
    weights = _surface_weights(case, grid)
    doubts = {
        "surface_escape_share": _share_doubt(_at(transport.escape, weights), RESOLVED),
        "surface_room_air_share": _share_doubt(_at(transport.ingress, weights)),
    }
    for item in transport.releases:
        doubts |= _labelled(_release_doubts(item), item.label, len(transport.releases))
    for piece in transport.workpieces:
        doubts |= _labelled(_workpiece_doubts(piece), piece.label, len(transport.workpieces))
    if transport.recovery is not None and transport.recovery.time is not None:
        doubts["recovery_time"] = Doubt.even(RECOVERY_DOUBT * transport.recovery.time)
    return doubts


def _labelled(doubts: dict[str, Doubt], label: str, count: int) -> dict[str, Doubt]:
    """Return doubts under the names that the figures have."""
    return {name if count == 1 else f"{name}[{label}]": item for name, item in doubts.items()}


def _release_doubts(item: ReleaseResult) -> dict[str, Doubt]:
    """Return the doubts of one release; downwards by the share and the factor of the rate."""
    escape = _share_doubt(item.escape, RESOLVED)
    part = 1.0
    if item.escape.value > 0.0:
        part = 1.0 - item.escape.lowest / item.escape.value / item.rate_factor
    ratio = item.exposure_ratio or 0.0
    highest = max((check.highest / check.limit for check in item.checks), default=ratio)
    burning = item.lfl_share or 0.0
    slack = 1.0 - 1.0 / item.rate_factor
    return {
        "vapour_escape_share": escape,
        "vapour_front_ppm": Doubt(part * item.front_ppm, item.front_ppm_highest - item.front_ppm),
        "exposure_ratio": Doubt(part * ratio, max(highest - ratio, 0.0)),
        "lfl_share": Doubt(slack * burning, (item.lfl_share_highest or burning) - burning),
    }


def _workpiece_doubts(piece: WorkpieceResult) -> dict[str, Doubt]:
    """Return the doubts of one workpiece; a class may only be worse."""
    found = {"room_air_share": _share_doubt(piece.room_air)}
    if piece.iso_class is not None and piece.iso_class_highest is not None:
        found["iso_class"] = Doubt(0.0, piece.iso_class_highest - piece.iso_class)
    return found


def doubted(
    checks: tuple[Check, ...],
    transport: Transport,
    openings: tuple[OpeningProfile, ...],
    field: str | None = None,
) -> tuple[Check, ...]:
    """Take back verdicts that say more than the model can.

    Parameters
    ----------
    checks : tuple of Check
        Verdicts by value, limit and doubt.
    transport : Transport
        What was computed.
    openings : tuple of OpeningProfile
        Fronts.
    field : str or None
        Why the flow carries no verdict, None where it does.

    Returns
    -------
    tuple of Check
        "met" becomes "not shown" for cleanliness where a front draws in, as room air enters as a
        jet that reaches further than potential flow says, and for the exposure where a published
        limit is not shown to be met. A recovery that never ends is "not met".
    """
    inward = any(bool(np.any(item.inflow > 0.0)) for item in openings)
    hidden = any(
        check.state == "not shown" and check.kind != "IDLH"
        for item in transport.releases
        for check in item.checks
    )
    taken: dict[str, str] = {}
    if inward:
        reason = "a front draws in: room air enters as a jet, which reaches further than computed"
        taken = dict.fromkeys(AGAINST_JETS, reason)
    if hidden:
        taken["exposure_ratio"] = "a published limit is not shown to be met"
    if not openings or any(not item.escape.resolved for item in transport.releases):
        taken["vapour_front_ppm"] = "so small a share is not resolved, or no opening is open"
    sizes = [size for item in transport.workpieces for size in item.sizes]
    if max(sizes, default=0.0) > LARGEST_CLASSED:
        taken["iso_class"] = "classes are defined up to 5 um"
    if field is not None:
        taken = dict.fromkeys(CARRIED_FIGURES, field)
    never = transport.recovery is not None and transport.recovery.time is None
    return tuple(_doubt(check, taken, never) for check in checks)


def _doubt(check: Check, taken: Mapping[str, str], never: bool) -> Check:
    """Return a check with "met" taken back if there is a reason, and "never" told."""
    name = check.name.split("[", 1)[0]
    if name == "recovery_time" and never and check.kind == "max":
        reason = "the share of room air never stays below 1/100 at the worst place"
        return replace(check, state="not met", basis=f"limit set in the case; {reason}")
    if check.state != "met" or name not in taken:
        return check
    return replace(check, state="not shown", basis=f"{check.basis}; {taken[name]}")


def transport_warnings(transport: Transport, openings: tuple[OpeningProfile, ...]) -> Iterator[str]:
    """Yield what a user must know of these results.

    Parameters
    ----------
    transport : Transport
        What was computed.
    openings : tuple of OpeningProfile
        Fronts.

    Yields
    ------
    str
        One sentence each.
    """
    for item in transport.releases:
        if not item.escape.resolved:
            yield (
                f"Release {item.label}: an escape share of {item.escape.value:.1g} is below what "
                f"the model resolves ({RESOLVED:g}): arms and wakes are not in it."
            )
        if item.escape.highest > 10.0 * max(item.escape.value, RESOLVED):
            yield (
                f"Release {item.label}: the escape share rises from {item.escape.value:.1g} to "
                f"{item.escape.highest:.1g} when the assumed eddies or reversals are doubled."
            )
    if any(bool(np.any(item.inflow > 0.0)) for item in openings):
        yield (
            "Shares of room air and classes are indicative where a front draws in: the jet of room "
            "air reaches further than potential flow says."
        )


def transport_assumptions(case: Case, transport: Transport) -> Iterator[str]:
    """Yield what the results on vapour and dust take for granted.

    Parameters
    ----------
    case : Case
        The case.
    transport : Transport
        What was computed.

    Yields
    ------
    str
        One sentence each.
    """
    eddy = transport.eddy
    yield (
        f"Eddies: at rest intensity {100 * case.mixing.intensity:g} % times speed times "
        f"{1000 * case.mixing.eddy_size:g} mm (mean {eddy['at rest']:.1e} m2/s), in use "
        f"{eddy['in use']:.1e} m2/s (a person's arms make 1e-3 to 2.5e-2 m2/s, order of "
        "magnitude); assumed, no published level for such a bench was found. Each share is also "
        "given with this halved and doubled."
    )
    for name, (reversal, speed) in transport.reversal.items():
        yield (
            f"{name.capitalize()}: the velocity through it is taken to vary by S = "
            f"{reversal:.3f} m/s (0.1 of the speed along it, {100 * case.mixing.intensity:g} % of "
            "that through it, half of the draught), which lets "
            f"{speed:.1e} m/s pass against the flow; own model, good to decades, shown with S "
            "halved and doubled."
        )
    yield (
        "Arms and wakes are not in any of it: an escape share below 0.001 is not resolved, and "
        "what is breathed at worst counts at least that share."
    )
    for item in transport.releases:
        yield from (f"Release {item.label}: {text}" for text in item.assumptions)
    if transport.recovery is not None:
        yield (
            "Recovery: the chamber starts full of room air with the flow already steady; a quarter "
            "of the time either way is taken as doubt (own estimate)."
        )
