"""What a result says about releases, as rows of words for page and terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flowsim.report._units import BELOW, number, percent, quantity_text
from flowsim.simulate.shares import ShareEstimate
from flowsim.simulate.transport_result import LimitCheck, ReleaseResult

__all__ = [
    "DIGITS",
    "SMALLEST_SHOWN",
    "STATES",
    "Fact",
    "LimitRow",
    "limit_rows",
    "release_facts",
    "release_title",
    "share_detail",
    "share_line",
    "short_percent",
    "tightest",
    "times_tightest",
    "two_digits",
    "working_limits",
]

DIGITS = 2  # such shares and concentrations are good to decades
SMALLEST_SHOWN = 5e-7  # share of an exit or a cause that is still named
LEAST_RATIO = 1e-3  # below it, only that
DANGER = "IDLH"
STATES = ("not met", "not shown", "met")  # the worst first
NO_ROOM = (
    "not computed: what a person breathes needs room.volume and room.fresh_air in the case, "
    "and a published limit"
)
Fact = tuple[str, str]


@dataclass(frozen=True)
class LimitRow:
    """One published limit in words.

    Parameters
    ----------
    state, who, kind, limit, value, highest, year, status, note : str
        Verdict; publisher; kind and averaging time; limit; what is breathed; the same at its
        worst; year; how the number is known; note.
    from_memory : bool
        Whether limit or year could not be read up.
    """

    state: str
    who: str
    kind: str
    limit: str
    value: str
    highest: str
    year: str
    status: str
    note: str
    from_memory: bool


def _ppm(value: float | None) -> str:
    """Return parts per million."""
    rounded = None if value is None else two_digits(value)
    return quantity_text("vapour_front_ppm", rounded, "ppm", DIGITS)


def two_digits(value: float) -> float:
    """Return a number rounded to two digits, large ones too.

    Parameters
    ----------
    value : float
        Any number. [any]

    Returns
    -------
    float
        For example 8000 for 8003.
    """
    return float(f"{value:.{DIGITS - 1}e}")


def short_percent(value: float) -> str:
    """Return a share in percent, with as many digits as such shares are good for.

    Parameters
    ----------
    value : float
        Share. [-]

    Returns
    -------
    str
        Two digits.
    """
    return percent(value, DIGITS)


def share_line(share: ShareEstimate, resolvable: bool) -> str:
    """Return a share in use with its range.

    Parameters
    ----------
    share : ShareEstimate
        The share. [-]
    resolvable : bool
        Whether to say when it is too small for the model.

    Returns
    -------
    str
        One phrase.
    """
    low, high = short_percent(share.lowest), short_percent(share.highest)
    text = f"{short_percent(share.value)}, between {low} and {high}"
    return f"{text}; {BELOW}" if resolvable and not share.resolved else text


def share_detail(share: ShareEstimate) -> str:
    """Return what a share depends on.

    Parameters
    ----------
    share : ShareEstimate
        The share. [-]

    Returns
    -------
    str
        The three states, half and double of what is assumed, difference of the schemes.
    """
    parts = (share.mean_flow, share.at_rest, share.value, *share.eddy, *share.reversal)
    negative = "; below 0 is numerical" if min(parts) < -SMALLEST_SHOWN else ""
    return (
        f"mean flow alone {short_percent(share.mean_flow)}, "
        f"at rest {short_percent(share.at_rest)}, "
        f"in use {short_percent(share.value)}; eddies halved {short_percent(share.eddy[0])}, "
        f"doubled {short_percent(share.eddy[1])}; reversals at openings halved "
        f"{short_percent(share.reversal[0])}, doubled {short_percent(share.reversal[1])}; "
        f"two schemes on this grid differ by {short_percent(share.numerical)}{negative}"
    )


def release_title(release: ReleaseResult) -> str:
    """Return what lies where.

    Parameters
    ----------
    release : ReleaseResult
        The release. [SI]

    Returns
    -------
    str
        Its label, liquid and place.
    """
    place = (
        "in the open chamber"
        if release.compartment is None
        else f"in compartment '{release.compartment}'"
    )
    return f"{release.label} ({release.liquid}, {place})"


def _rate(release: ReleaseResult) -> str:
    """Return how much is given off."""
    text = quantity_text("evaporation_rate", release.rate, "kg/s", DIGITS)
    parts = [f"{text} of {release.substance}"]
    if release.rate_factor > 1.0:
        parts.append(f"right within a factor of {number(release.rate_factor, 2)} either way")
    if release.air_speed is not None:
        parts.append(f"air along the liquid {number(release.air_speed, 2)} m/s")
    if release.filled > 0.0:
        parts.append(f"the air over it holds {short_percent(release.filled)} of saturation")
    return "; ".join(parts)


def _exits(release: ReleaseResult) -> str:
    """Return by which exits the vapour leaves, the largest share first."""
    ordered = sorted(release.exits.items(), key=lambda item: -item[1])
    return ", ".join(
        f"{name} {short_percent(part)}" for name, part in ordered if part >= SMALLEST_SHOWN
    )


def _duct(release: ReleaseResult) -> str:
    """Return what the exhaust duct carries."""
    if release.duct_ppm is None:
        return "no exhaust"
    parts = [_ppm(release.duct_ppm)]
    if release.lfl_share is not None:
        worst = release.lfl_share_highest
        at_worst = "" if worst is None else f" (at worst {short_percent(worst)})"
        parts.append(f"{short_percent(release.lfl_share)} of the lower flammable limit{at_worst}")
    return ", ".join(parts)


def working_limits(release: ReleaseResult) -> list[LimitCheck]:
    """Return the published limits to work at, the tightest first.

    Parameters
    ----------
    release : ReleaseResult
        The release. [SI]

    Returns
    -------
    list of LimitCheck
        Without danger to life, which is no limit to work at.
    """
    return tightest([check for check in release.checks if check.kind != DANGER])


def times_tightest(check: LimitCheck) -> str:
    """Return what is breathed against the tightest limit.

    Parameters
    ----------
    check : LimitCheck
        That limit. [ppm]

    Returns
    -------
    str
        One phrase.
    """
    if check.ratio < LEAST_RATIO:
        return f"less than {LEAST_RATIO:g} of the tightest"
    text = number(check.ratio, DIGITS)
    return f"{text} times the tightest" if check.ratio >= 1.0 else f"{text} of the tightest"


def _verdict(release: ReleaseResult) -> str:
    """Return the tightest published limit in one phrase."""
    checks = working_limits(release)
    if not checks:
        return NO_ROOM
    states = [item.state for item in checks]
    counted = ", ".join(f"{states.count(state)} {state}" for state in STATES if state in states)
    first = checks[0]
    return (
        f"of {len(states)} published limits {counted}, all releases of {release.substance} "
        f"together; {times_tightest(first)} ({first.publisher} {first.kind}, {first.limit:g} ppm)"
    )


def _danger(release: ReleaseResult) -> list[Fact]:
    """Return what is breathed against danger to life, nothing where none is published."""
    return [
        (
            "danger to life",
            f"at worst {_ppm(check.highest)} of {check.limit:g} ppm ({check.publisher} "
            f"{check.kind}, {check.year}; no limit to work at)",
        )
        for check in release.checks
        if check.kind == DANGER
    ]


def release_facts(release: ReleaseResult) -> list[Fact]:
    """Return where the vapour of one release goes.

    Parameters
    ----------
    release : ReleaseResult
        The release. [SI]

    Returns
    -------
    list of tuple of str
        What and how much, the answer first.
    """
    facts = [("out into the room", share_line(release.escape, resolvable=True))]
    if release.slit is not None:
        facts.append(("out of the compartment", share_line(release.slit, resolvable=True)))
    facts += [
        ("breathed", _verdict(release)),
        *_danger(release),
        ("air at the front", f"{_ppm(release.front_ppm)}, at worst "
         f"{_ppm(release.front_ppm_highest)}"),
        ("given off", _rate(release)),
        ("leaves by", _exits(release)),
        ("exhaust duct", _duct(release)),
        ("which rests on", share_detail(release.escape)),
    ]  # fmt: skip
    return facts


def tightest(checks: Sequence[LimitCheck], most: int | None = None) -> list[LimitCheck]:
    """Return published limits, the tightest first.

    Parameters
    ----------
    checks : sequence of LimitCheck
        Limits of one release. [ppm]
    most : int or None
        How many, each number once; None for all. [-]

    Returns
    -------
    list of LimitCheck
        By falling ratio of value to limit.
    """
    ordered = sorted(checks, key=lambda check: -check.ratio)
    if most is None:
        return ordered
    once = {(check.limit, check.averaging): check for check in reversed(ordered)}
    return [check for check in ordered if once[check.limit, check.averaging] is check][:most]


def limit_rows(checks: Sequence[LimitCheck]) -> list[LimitRow]:
    """Return published limits in words.

    Parameters
    ----------
    checks : sequence of LimitCheck
        Limits of one release. [ppm]

    Returns
    -------
    list of LimitRow
        In the same order.
    """
    rows = []
    for check in checks:
        averaging = f" {check.averaging}" if check.averaging else ""
        memory = "memory" in f"{check.status} {check.year}"
        rows.append(
            LimitRow(
                state=check.state,
                who=check.publisher,
                kind=f"{check.kind}{averaging}",
                limit=f"{check.limit:g} ppm",
                value=_ppm(check.value),
                highest=_ppm(check.highest),
                year=check.year,
                status=check.status,
                note=check.note,
                from_memory=memory,
            )
        )
    return rows
