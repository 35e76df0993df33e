"""Which parts of a run its key figures need."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from flowsim.case.schema import Case, Limits
from flowsim.errors import RangeError
from flowsim.simulate.registry import FIGURES
from flowsim.simulate.result import Quantity

__all__ = [
    "ALL",
    "CARRIED",
    "CLASSES",
    "DRAW",
    "ESCAPE",
    "INGRESS",
    "RELEASES",
    "WORKPIECES",
    "Needs",
    "needs_of",
]

DRAW = frozenset({"draw_ratio", "draw_rsd"})
RELEASES = frozenset(
    {
        "vapour_escape_share",
        "slit_escape_share",
        "evaporation_rate",
        "vapour_front_ppm",
        "exposure_ratio",
        "lfl_share",
    }
)
CLASSES = frozenset({"iso_class", "iso_class_worst_size", "deposition_rate"})
WORKPIECES = CLASSES | {"room_air_share"}
ESCAPE = RELEASES | {"surface_escape_share"}
INGRESS = WORKPIECES | {"surface_room_air_share"}
CARRIED = ESCAPE | INGRESS | {"recovery_time", "air_age_max"}


@dataclass(frozen=True)
class Needs:
    """The key figures that are wanted, and those of them that are judged.

    Parameters
    ----------
    wanted : frozenset of str or None
        Plain names, those with a limit among them; None for all. [-]
    limited : frozenset of str
        Plain names of the figures that the case sets a limit to. [-]
    """

    wanted: frozenset[str] | None
    limited: frozenset[str]

    @property
    def everything(self) -> bool:
        """Whether nothing may be left out."""
        return self.wanted is None

    def any(self, names: Collection[str]) -> bool:
        """Return whether one of some figures is wanted.

        Parameters
        ----------
        names : collection of str
            Plain names. [-]
        """
        return self.wanted is None or not self.wanted.isdisjoint(names)

    def judged(self, names: Collection[str]) -> bool:
        """Return whether how far one of some figures may be trusted is wanted.

        Parameters
        ----------
        names : collection of str
            Plain names. [-]
        """
        return self.wanted is None or not self.limited.isdisjoint(names)

    def shown(self, figures: Mapping[str, Quantity]) -> dict[str, Quantity]:
        """Return key figures, those that nobody wants without their value.

        Parameters
        ----------
        figures : mapping of str to Quantity
            By full name.

        Returns
        -------
        dict of str to Quantity
            In the same order.
        """
        if self.wanted is None:
            return dict(figures)
        return {
            name: item if name.split("[", 1)[0] in self.wanted else replace(item, value=None)
            for name, item in figures.items()
        }


ALL = Needs(None, frozenset())
"""Everything that a case gives."""


def needs_of(case: Case, wanted: Collection[str] | None) -> Needs:
    """Return what a run must give.

    Parameters
    ----------
    case : Case
        Its limits.
    wanted : collection of str or None
        Names of key figures, plain or with a label in brackets; None for all. [-]

    Returns
    -------
    Needs
        The wanted ones and those with a limit.

    Raises
    ------
    RangeError
        If there is no key figure of a name.
    """
    limited = frozenset(
        name
        for name in Limits.model_fields
        if name != "measure_height" and getattr(case.limits, name) is not None
    )
    if wanted is None:
        return Needs(None, limited)
    plain = {name.split("[", 1)[0] for name in wanted}
    for name in sorted(plain - FIGURES.keys()):
        close = difflib.get_close_matches(name, FIGURES, 1, 0.6)
        guess = f"; did you mean '{close[0]}'?" if close else ""
        raise RangeError(f"there is no key figure '{name}'{guess}")
    return Needs(frozenset(plain) | limited, limited)
