"""Velocities and test figures of hoods and cabinets, as handbooks and standards quote them."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PracticeValue", "practice_values"]


@dataclass(frozen=True)
class PracticeValue:
    """One value of practice.

    Parameters
    ----------
    item : str
        What it is for.
    value : str
        Value or range as quoted.
    unit : str
        Its unit, empty where it has none.
    metric : str
        The same in SI, or a note.
    source : str
        Standard or handbook that gives it.
    status : str
        How it is known.

    Notes
    -----
    [IndustrialVentilation]_ and the standards named in each. Valid as orientation, not as proof
    of containment: different tests are not to be compared with each other.
    """

    item: str
    value: str
    unit: str
    metric: str
    source: str
    status: str


# fmt: off
ROWS: tuple[tuple[str, str, str, str, str, str], ...] = (
    ("hood face velocity, usual range", "60-100", "ft/min", "0.30-0.51",
     "ACGIH Industrial Ventilation 2001 and Prudent Practices, as quoted in a "
     "laboratory-furniture guide",
     "seen (secondary)"),
    ("hood face velocity, ANSI Z9.5 range", "80-120", "ft/min", "0.41-0.61",
     "ANSI Z9.5, as quoted in a 1997 professional mailing list; no point below 25 % under the mean",
     "seen (secondary)"),
    ("hood face velocity, recommended", "0.5", "m/s", "0.5 (+-15 % over the face)",
     "British working party guide to fume cupboards (abstract in stored record; title and year "
     "not shown)",
     "seen (abstract)"),
    ("hood face velocity where no transient escape is allowed", "0.76", "m/s", "0.76",
     "same British guide; total enclosure preferred", "seen (abstract)"),
    ("hood face velocity, NRC 1981 plan in 29 CFR 1910.1450 App. A",
     "100 mean, 70 minimum at any point", "ft/min", "0.51, 0.36", "trade article 1993",
     "seen (secondary)"),
    ("same, carcinogens", "150 mean, 125 minimum", "ft/min", "0.76, 0.64", "trade article 1993",
     "seen (secondary)"),
    ("hood face velocity, 1910.1450 App. A as first printed", "60-110", "ft/min", "0.30-0.56",
     "29 CFR 1910.1450 App. A (1990)", "from memory"),
    ("hood for infectious or radioactive material", "90-110", "ft/min", "0.45-0.56",
     "a US building code text", "seen"),
    ("spray booth, open face", "100 minimum", "ft/min", "0.51",
     "29 CFR 1910.94(c), 1910.107, as tabulated in a site manual", "seen (secondary)"),
    ("capture velocity: no velocity, quiet air (evaporation from tanks, degreasing)", "0.25-0.5",
     "m/s", "0.25-0.5", "ACGIH Industrial Ventilation (2009 edition quoted)", "seen (secondary)"),
    ("capture velocity: low velocity, moderately still air (plating, pickling, welding)",
     "0.5-1.0", "m/s", "0.5-1.0", "same", "seen (secondary)"),
    ("capture velocity: active generation, rapid air motion", "1.0-2.5", "m/s", "1.0-2.5", "same",
     "seen (secondary)"),
    ("capture velocity: high initial velocity, very rapid air motion", "2.5-10", "m/s", "2.5-10",
     "same", "seen (secondary)"),
    ("capture velocity 1945: no significant velocity / low / considerable / high",
     "100 / 100-200 / 200-500 / 500-2000", "ft/min", "0.51 / 0.51-1.0 / 1.0-2.5 / 2.5-10",
     "Heating and Ventilating 42(5) 1945, reproduced in a guidance document", "seen (secondary)"),
    ("cross-draught at the face", "below 50 % of face velocity; 30 ft/min target", "", "0.15",
     "ANSI/AIHA Z9.5 (older editions) and Caplan & Knutson work", "from memory"),
    ("supply jets near a hood", "below 30-50 % of face velocity", "", "",
     "ASHRAE Handbook, HVAC Applications, Laboratories", "from memory"),
    ("ASHRAE 110 tracer release", "4.0", "L/min", "6.7e-5 m3/s", "ANSI/ASHRAE 110",
     "seen (Lawrence Berkeley design guide)"),
    ("ASHRAE 110 notation", "4.0 AM/AI/AU yyy", "L/min, ppm", "",
     "AM as manufactured, AI as installed, AU as used; yyy = mean ppm at mannequin",
     "seen (same guide)"),
    ("control level AM", "0.05", "ppm", "", "ACGIH and ANSI Z9.5-1992 via Saunders 1993",
     "seen (same guide)"),
    ("control level AI", "0.10", "ppm", "", "Knutson 1987", "seen (same guide)"),
    ("control level AU", "0.10", "ppm", "", "ANSI Z9.5-1992 via Saunders 1993",
     "seen (same guide)"),
    ("ASHRAE 110 pass/fail", "none in the standard", "", "", "the standard gives the method only",
     "seen"),
    ("ASHRAE 110 sampling point and time",
     "5 min mean, mannequin mouth about 0.56 m above work top, 0.23 m (1995) or 0.076 m in front",
     "", "", "ANSI/ASHRAE 110-1995/2016", "from memory"),
    ("EN 14175-3 robustness", "plate 0.4 x 1.9 m, 1 m/s, 6 passes, sash open", "", "",
     "EN 14175-3:2003", "seen (secondary)"),
    ("EN 14175-3 inner plane",
     "grid of sampling probes in the sash plane, tracer inside; result ppm mean and max", "", "",
     "EN 14175-3", "grid seen (secondary); details from memory"),
    ("EN 14175-3 outer plane", "second grid outside the sash, ppm, sash working and moving", "",
     "", "EN 14175-3", "seen (secondary); details from memory"),
    ("EN 14175-3 tracer",
     "10 % SF6 in N2, 2 L/min inner plane, 4.5 L/min outer plane, 500 mm sash", "", "",
     "EN 14175-3:2003", "from memory"),
    ("class I cabinet inflow", "0.7-1.0", "m/s", "0.7-1.0", "EN 12469:2000", "seen (secondary)"),
    ("class II cabinet inflow", "0.40 minimum", "m/s", "0.40",
     "EN 12469:2000 (informative annex)", "from memory"),
    ("class II cabinet downflow", "0.25-0.50", "m/s", "0.25-0.50",
     "EN 12469:2000 (informative annex)", "from memory"),
    ("class II cabinet uniformity of downflow", "each point within 20 % of mean", "", "",
     "EN 12469:2000", "from memory"),
    ("NSF/ANSI 49 inflow type A1", "75", "ft/min", "0.38", "NSF/ANSI 49 via university table",
     "seen (secondary)"),
    ("NSF/ANSI 49 inflow types A2, B1, B2", "100", "ft/min", "0.51",
     "NSF/ANSI 49 via university table", "seen (secondary)"),
    ("NSF/ANSI 49 tolerance on inflow and downflow", "+-5", "ft/min", "+-0.025",
     "NSF/ANSI 49 via university course", "seen (secondary)"),
    ("class III glove port with glove off", "100", "ft/min", "0.51",
     "university table; cabinet at -0.5 in. w.g. (-125 Pa)", "seen (secondary)"),
    ("operator protection factor required", "1e5 (per measurement, KI method)", "", "",
     "EN 12469, BS 5726", "from memory"),
    ("flammable vapour limit in enclosed processing areas", "25", "% of LFL", "",
     "NFPA 30-1990 5-3.3 quoted in OSHA letter 2 Dec 1991; NFPA 30-2008 17.11.6", "seen"),
    ("hazardous atmosphere threshold", "10", "% of LFL", "", "OSHA confined-space definition",
     "seen"),
)
# fmt: on

_VALUES = tuple(PracticeValue(*row) for row in ROWS)


def practice_values(word: str = "") -> tuple[PracticeValue, ...]:
    """Return the values of practice whose item holds a word.

    Parameters
    ----------
    word : str
        Part of the item, in any case; empty for all.

    Returns
    -------
    tuple of PracticeValue
        In the order of the table; empty where none fits.

    Notes
    -----
    Sources as `PracticeValue`; valid as that.
    """
    return tuple(value for value in _VALUES if word.lower() in value.item.lower())
