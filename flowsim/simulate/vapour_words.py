"""In words: why the vapour of a release goes where it goes, and what was taken for granted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from flowsim._arrays import FloatArray
from flowsim.case.schema import Room
from flowsim.case.schema_release import Release
from flowsim.physics.flammability import flammable_ranges
from flowsim.physics.substances import AIR_MOLAR_MASS
from flowsim.physics.tray import LEAST_SPEED
from flowsim.simulate.breathing import LEAST_DRAUGHT, NEAR_RADIUS, RoomSource
from flowsim.simulate.carrier import MOLECULAR, Carrier
from flowsim.simulate.evaporating import GivenOff, Liquid
from flowsim.simulate.shares import RESOLVED, ShareEstimate, ShareMaps
from flowsim.simulate.slit_escape import SLIT_DEPTH
from flowsim.simulate.standing import Standing

__all__ = ["Account", "room_words", "taken_for_granted", "why"]

KELVIN = 273.15
MOST = 0.9  # of what escapes: as much is looked for nearest to the front
PART = 0.75  # of the depth of a tray: a longer piece is no news
HEAVY = 0.02  # of the density of air, from which saturated air is told apart
LESS_THAN = 0.001


@dataclass(frozen=True, eq=False)
class Account:
    """What there is to say of one release.

    Parameters
    ----------
    carrier : Carrier
        The air.
    release : Release
        What the case says.
    liquid : Liquid
        What it consists of.
    standing : Standing
        Where it stands.
    given : GivenOff
        How much it gives off.
    exits : mapping of str to float
        Share by exit. [-]
    escape : ShareEstimate
        Share into the room.
    slit : ShareEstimate or None
        Share out of the compartment.
    """

    carrier: Carrier
    release: Release
    liquid: Liquid
    standing: Standing
    given: GivenOff
    exits: Mapping[str, float]
    escape: ShareEstimate
    slit: ShareEstimate | None


def _percent(share: float) -> str:
    """Return a share in words."""
    if share < LESS_THAN:
        return "less than 0.1 %"
    if share > 1.0 - LESS_THAN:
        return "practically all"
    return f"{100.0 * share:.2g} %" if share < 0.99 else "more than 99 %"


def _sentence(text: str) -> str:
    """Return a text with a capital at its start."""
    return text[:1].upper() + text[1:]


def _way(exit_name: str) -> str:
    """Return how something leaves by an exit."""
    kind, _, label = exit_name.partition(" ")
    return {
        "plate": "is drawn down through the plate",
        "opening": f"leaves by the opening '{label}'",
        "cover": f"leaves round the cover of '{label}'",
        "cracks": "leaves through cracks",
        "slit": f"is drawn into the compartment '{label}'",
        "edge": f"is drawn under the edge of the compartment '{label}'",
        "compartment": f"goes straight from the compartment '{label}' to the exhaust",
    }.get(kind, "leaves elsewhere")


def why(account: Account, maps: ShareMaps) -> str:
    """Return in one sentence where the vapour of a release goes.

    Parameters
    ----------
    account : Account
        What there is to say.
    maps : ShareMaps
        Share of a release in each cell that leaves into the room.

    Returns
    -------
    str
        Only what the numbers show.
    """
    escape = account.escape.value
    if account.slit is not None:
        return _why_compartment(account, account.slit)
    name, share = max(account.exits.items(), key=lambda pair: pair[1])
    start = _sentence(f"{_percent(share)} {_way(name)}")
    if escape < RESOLVED:
        return f"{start}; what gets into the room is less than the model can tell (0.1 %)."
    if name in account.carrier.outlets.into_room and escape > MOST:
        return f"{start}: nothing holds it back."
    text = start
    if name not in account.carrier.outlets.into_room or escape - share > RESOLVED:
        text = f"{start}; {_percent(escape)} gets into the room"
    piece = _piece(account, maps)
    return f"{text}{piece}."


def _why_compartment(account: Account, slit: ShareEstimate) -> str:
    """Return where the vapour of a release under a lid goes."""
    label = account.release.compartment
    if slit.value >= 1.0:
        return (
            f"Nothing is drawn out of the compartment '{label}': all of it gets out through the "
            f"slit, and {_percent(account.escape.value)} into the room."
        )
    inside = account.exits[f"compartment {label}"]
    text = _sentence(f"{_percent(inside)} {_way(f'compartment {label}')}; ")
    if slit.value < RESOLVED:
        return f"{text}less than the model can tell (0.1 %) gets out against the slit's inflow."
    return (
        f"{text}{_percent(slit.value)} gets out against the slit's inflow and "
        f"{_percent(account.escape.value)} into the room."
    )


def _piece(account: Account, maps: ShareMaps) -> str:
    """Return from which part of the tray most of what escapes comes, where that is news."""
    chosen = np.where(account.standing.weights > 0.0, maps.in_use, 0.0)
    parts: FloatArray = (account.standing.weights * chosen).sum(axis=(0, 2))
    walls = {plan.opening.wall for plan in account.carrier.state.layout.openings}
    total = float(parts.sum())
    if walls != {"front"} or total <= 0.0 or account.standing.compartment is not None:
        return ""
    last = int(np.searchsorted(np.cumsum(parts), MOST * total))
    _, _, y0, y1, _, _ = account.standing.place
    reach = float(account.carrier.grid.edges[1][min(last + 1, parts.size)]) - y0
    if not 0.0 < reach < PART * (y1 - y0):
        return ""
    return f", nine tenths of it from the front {1000.0 * reach:.0f} mm"


def taken_for_granted(account: Account) -> tuple[str, ...]:
    """Return what was taken for granted for one release.

    Parameters
    ----------
    account : Account
        What there is to say.

    Returns
    -------
    tuple of str
        Sentences, each with the source of its numbers or the word assumed.
    """
    return (*_rate_words(account), *_slit_words(account), *_chamber_words(account))


def _rate_words(account: Account) -> Iterator[str]:
    """Yield what stands behind the rate."""
    given, liquid, vapour = account.given, account.liquid, account.liquid.vapour
    if given.law is None or vapour is None:
        yield "The rate is as stated in the case; no doubt of it is counted."
        if given.filled > 1.0:
            yield (
                f"The stated rate fills the air there to {given.filled:.2g} times what can be in "
                "it: so much cannot be given off."
            )
        return
    law = given.law
    yield (
        f"Evaporation by the laminar plate with film factor {law.film_factor:.3g} (textbook law); "
        f"other published laws differ by up to a factor {law.spread:.2g}, and 2 at least is "
        f"counted. Vapour pressure {vapour.pressure:.4g} Pa ({vapour.basis}), within a factor "
        f"{vapour.uncertainty:.3g}."
    )
    origin = "stated" if account.release.temperature is not None else "as the chamber's air"
    yield (
        f"The liquid is at {liquid.temperature - KELVIN:.1f} C ({origin}) and of full strength, "
        "neither cooling nor weakening: an upper estimate after some minutes (assumed)."
    )
    yield _speed_words(account)
    yield (
        f"The air over the liquid is {_percent(given.filled)} of saturated by its own vapour; that "
        "of other releases is not counted there."
    )


def _speed_words(account: Account) -> str:
    """Return what stands behind the speed along the liquid."""
    speed, length = account.given.speed or 0.0, account.standing.tray.length
    along = f"{speed:.3g} m/s along {1000.0 * length:.0f} mm of liquid"
    if account.standing.balance is not None:
        return (
            f"Air under the lid: {along}, the flow of the slit over the free section of the box, "
            f"at least {LEAST_SPEED:g} m/s (assumed: there is no field inside)."
        )
    return (
        f"Air over the liquid: {along}, the mean level speed of the field in the layer of cells "
        f"above it, at least {LEAST_SPEED:g} m/s (assumed)."
    )


def _slit_words(account: Account) -> Iterator[str]:
    """Yield what stands behind the share that leaves a compartment."""
    balance, item = account.standing.balance, account.standing.compartment
    if item is not None and item.lid == "off":
        yield (
            f"The compartment '{item.label}' has its lid off: what it holds counts as given off "
            "into the air over its open top (assumed)."
        )
    if balance is None or item is None:
        return
    mean = float(balance.share @ balance.reversal)
    yield (
        f"The air in the compartment '{item.label}' is well mixed (assumed); the wall of its slit "
        f"is {1000.0 * SLIT_DEPTH:g} mm thick (assumed). Against {balance.speed:.3g} m/s, where "
        f"the slit is slowest, eddies reverse it with a deviation of {mean:.2g} m/s (own model: a "
        "tenth of the speed along it, the case's intensity of the speed through it, half the "
        f"chamber's speed before it), and {balance.molecular + balance.eddy:.2g} m2/s diffuse "
        "(molecular, and eddies no larger than the slit is deep: assumed)."
    )
    if item.label not in account.carrier.outlets.slits:
        yield (
            f"The compartment '{item.label}' does not show on the grid: what leaves its slit is "
            "spread over its footprint."
        )


def _chamber_words(account: Account) -> Iterator[str]:
    """Yield what stands behind the way of the vapour through the chamber."""
    vapour, numerics = account.liquid.vapour, account.carrier.case.numerics
    yield (
        f"One molecular diffusivity of {MOLECULAR:g} m2/s serves all vapours in the chamber; it "
        "is small beside the eddies (assumed)."
    )
    if numerics.fidelity == "section":
        yield (
            "The section is the same over the whole third side, so the vapour is too: where the "
            "release is shorter than that, the true concentration near it is higher."
        )
    if vapour is not None:
        ratio = 1.0 + vapour.fraction * (account.liquid.item.molar_mass / AIR_MOLAR_MASS - 1.0)
        if abs(ratio - 1.0) > HEAVY:
            yield (
                f"Air saturated with it is {ratio:.2f} times as dense as clean air; that it sinks "
                "or rises is not in the model."
            )
    on_plate = account.carrier.state.layout.plate is not None and account.release.bottom == 0.0
    if on_plate and account.standing.compartment is None:
        yield "What stands under the liquid does not close the plate, unless the case covers it."
    yield from _fire_words(account)


def _fire_words(account: Account) -> Iterator[str]:
    """Yield what is to be said of a vapour that burns."""
    vapour, name = account.liquid.vapour, account.liquid.item.name
    lower = [one.lower for one in flammable_ranges(name) if one.lower is not None]
    if not lower:
        return
    yield (
        f"Lower flammable limit of {name} {100.0 * min(lower):.3g} %, the lowest published; in the "
        "duct the vapour is mixed with all the exhaust air."
    )
    if vapour is not None and vapour.fraction > min(lower):
        yield (
            f"Right over the liquid the air may be in the flammable range, whatever the exhaust: "
            f"saturated air holds {vapour.fraction / min(lower):.2g} times the lower limit."
        )


def room_words(room: Room, sources: Sequence[RoomSource], releases: int) -> tuple[str, ...]:
    """Return what was taken for granted of the room.

    Parameters
    ----------
    room : Room
        What the case says.
    sources : sequence of RoomSource
        All that let this substance into it.
    releases : int
        Releases of the case. [-]

    Returns
    -------
    tuple of str
        Sentences.
    """
    if room.volume is None or room.fresh_air is None:
        return (
            "State room.volume and room.fresh_air to have what a person breathes held against the "
            "published limits.",
        )
    speed = max(room.draught, LEAST_DRAUGHT)
    origin = "as stated" if room.draught > LEAST_DRAUGHT else "assumed"
    lengths = [one.duration for one in sources]
    hours = ", ".join(f"{value / 3600.0:.3g}" for value in dict.fromkeys(lengths))
    found = [
        f"The person breathes the air of half a ball of {NEAR_RADIUS:g} m round the bench's front "
        f"(Nicas 1996, from memory), which {speed:g} m/s of random air carry off ({origin}); the "
        f"rest of {room.volume:g} m3 is well mixed with {3600.0 * room.fresh_air:g} m3/h of fresh "
        f"air (stated). The release lasts {hours} h, each limit takes its worst stretch, and "
        "without an averaging time the highest moment. Danger to life (IDLH) is no limit to work "
        "at and never called met.",
    ]
    if len(sources) > 1:
        found.append(
            f"All {len(sources)} releases of this substance count together in the room; those of "
            "differing length each with their own worst stretch."
        )
    if releases > len(sources):
        found.append("Other substances are not added: limits of mixtures are not judged.")
    return tuple(found)
