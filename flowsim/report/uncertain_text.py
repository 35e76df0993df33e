"""A case under its tolerances, as text."""

from __future__ import annotations

from collections.abc import Iterator

from flowsim.report._text import columns, wrapped
from flowsim.report._units import lone_copies, quantity_text, words
from flowsim.report.uncertainty import Chance, FigureSpread, Influence, LimitOdds, Uncertainty

__all__ = [
    "METHOD",
    "chance_text",
    "draws_text",
    "influence_text",
    "moved_text",
    "moving_figures",
    "percent_text",
    "uncertain_text",
    "wanted_text",
]

MOST_NAMED = 3
METHOD = (
    "Brackets: 95 % interval of the probability (Clopper-Pearson). It covers the number of draws "
    "alone: not how good the tolerances are, nor what the model leaves out.",
    "Not shown: in that draw the model cannot tell, as its own uncertainty is wider than the "
    "margin or a law left its range. It counts neither as met nor as not met.",
    "Moved by: rank correlation of the input with the figure, + rises with it, - falls. Inputs "
    "below what chance alone would give are not named.",
)
"""How to read it."""
FIGURES_HEAD = ("Key figures", "as stated", "5 % below", "50 % below", "95 % below")


def percent_text(share: float) -> str:
    """Return a probability in percent.

    Parameters
    ----------
    share : float
        0 to 1. [-]

    Returns
    -------
    str
        One decimal; 0 and 100 only where they are exact. [-]
    """
    if share in (0.0, 1.0):
        return f"{100.0 * share:.0f} %"
    return f"{min(max(100.0 * share, 0.1), 99.9):.1f} %"


def chance_text(chance: Chance) -> str:
    """Return a probability with its interval.

    Parameters
    ----------
    chance : Chance
        From the draws. [-]

    Returns
    -------
    str
        Such as ``97.3 % (94.4 to 98.9)``. [-]
    """
    ends = [percent_text(end).removesuffix(" %") for end in (chance.low, chance.high)]
    return f"{percent_text(chance.share)} ({ends[0]} to {ends[1]})"


def wanted_text(limit: LimitOdds) -> str:
    """Return what a limit asks for.

    Parameters
    ----------
    limit : LimitOdds
        The limit. [-]

    Returns
    -------
    str
        Such as ``at least 5 %``. [-]
    """
    parts = []
    if limit.least is not None:
        parts.append(f"at least {quantity_text(limit.name, limit.least, limit.unit)}")
    if limit.most is not None:
        parts.append(f"at most {quantity_text(limit.name, limit.most, limit.unit)}")
    return ", ".join(parts)


def influence_text(item: Influence) -> str:
    """Return an input with its rank correlation.

    Parameters
    ----------
    item : Influence
        The input. [-]

    Returns
    -------
    str
        Such as ``exhaust.fan.pressure (-0.71)``. [-]
    """
    return f"{item.key} ({item.rank:+.2f})"


def moved_text(limit: LimitOdds, most: int = MOST_NAMED) -> str:
    """Return the inputs that move a figure most, or why none is named.

    Parameters
    ----------
    limit : LimitOdds
        The figure's limit. [-]
    most : int
        Inputs to name. [-]

    Returns
    -------
    str
        The strongest first.
    """
    if limit.named:
        return ", ".join(influence_text(item) for item in limit.named[:most])
    if limit.influences:
        return f"no input more than chance would (below {limit.chance_rank:.2f})"
    return "no such figure in these draws" if limit.nominal is None else "none, it stands still"


def draws_text(found: Uncertainty) -> str:
    """Return how many draws were made and what came of them.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [-]

    Returns
    -------
    str
        One or two sentences. [-]
    """
    text = (
        f"{found.count} draws of {len(found.inputs)} tolerances, Latin hypercube, seed "
        f"{found.seed}."
    )
    if not found.unanswered:
        return text
    ways = ", ".join(f"{n} {way}" for way, n in found.statuses.items() if way != "done")
    return (
        f"{text} {found.unanswered} gave no answer ({ways}): the lower end of each interval takes "
        "them as against it, the upper end as for it."
    )


def moving_figures(found: Uncertainty) -> tuple[FigureSpread, ...]:
    """Return the key figures that the tolerances move, each once.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [-]

    Returns
    -------
    tuple of FigureSpread
        Without those of which all quantiles are equal, and without lone copies.
    """
    copies = lone_copies(item.name for item in found.figures)
    return tuple(
        item
        for item in found.figures
        if item.quantiles[0] != item.quantiles[-1]
        and item.name not in copies
        and item.name != "mass_balance_error"
    )


def uncertain_text(found: Uncertainty) -> str:
    """Return a case under its tolerances as text for a terminal.

    Parameters
    ----------
    found : Uncertainty
        Case under its tolerances. [-]

    Returns
    -------
    str
        Lines of at most about 100 letters, without a newline at the end.
    """
    return "\n".join(_lines(found))


def _lines(found: Uncertainty) -> Iterator[str]:
    """Yield all lines."""
    yield found.title
    yield from wrapped(draws_text(found))
    yield ""
    if not found.limits:
        yield "The case states no limits."
    else:
        yield from _limit_lines(found)
    moving = _shown_figures(found)
    if moving:
        yield ""
        yield from columns([FIGURES_HEAD, *map(_figure_row, moving)], "", right=(1, 2, 3, 4))
    if found.limits:
        yield ""
        for text in METHOD:
            yield from wrapped(text)


def _shown_figures(found: Uncertainty) -> list[FigureSpread]:
    """Return the key figures with a limit that move, or all that move where there is no limit."""
    limited = {limit.name for limit in found.limits}
    return [item for item in moving_figures(found) if not limited or item.name in limited]


def _limit_lines(found: Uncertainty) -> Iterator[str]:
    """Yield the limits, worst first, and what moves them."""
    rows = [("Probability that each limit is met", "", "met", "not met", "not shown")]
    for limit in sorted(found.limits, key=lambda item: item.met.share):
        shares = (percent_text(limit.not_met.share), percent_text(limit.not_shown.share))
        rows.append((words(limit.name), wanted_text(limit), chance_text(limit.met), *shares))
    if found.together:
        met, broken, hidden = found.together
        shares = (percent_text(broken.share), percent_text(hidden.share))
        rows.append(("all limits at once", "", chance_text(met), *shares))
    yield from columns(rows, "", right=(2, 3, 4))
    yield ""
    yield "Moved most by"
    for limit in sorted(found.limits, key=lambda item: item.met.share):
        first, *rest = wrapped(f"{words(limit.name)}: {moved_text(limit)}", "  ")
        yield from (first, *(f"  {line}" for line in rest))


def _figure_row(item: FigureSpread) -> tuple[str, ...]:
    """Return one key figure as a row."""
    shown = [quantity_text(item.name, value, item.unit) for value in item.quantiles]
    nominal = quantity_text(item.name, item.nominal, item.unit)
    return (words(item.name), nominal, *shown)
