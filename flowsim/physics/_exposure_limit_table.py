"""Exposure limits as their publishers give them: a design aid, not the limit in force.

United States: [OSHA1910]_, [NIOSHGuide]_, [ACGIH]_, [CalOSHA]_, [EPATSCA]_; Ontario as held by
[ChemicalsLibrary]_; European indicative values: [EUIOELV]_. Each row says how it is known.
"""

from __future__ import annotations

__all__ = ["LIMITS"]

LIBRARY = "seen in library data (chemicals 1.5.2, Ontario table)"
MEMORY_AS_LIBRARY = "from memory; equals the Ontario value in the library"
IDLH_PAGE = "seen (in NIOSH IDLH page)"
SEEN = "seen"
MEMORY = "from memory"
MEMORY_LISTED = "from memory; that the directive lists acetic acid: seen"
MEMORY_RULE = "rule seen (89 FR 39254); number from memory"

Row = tuple[str, str, str, float | None, float | None, str, str, str]

# fmt: off
# publisher and list, kind, averaging time, ppm, mg/m3 as printed, year, note, how known
LIMITS: dict[str, tuple[Row, ...]] = {
    "hydrogen fluoride": (
        ("OSHA PEL 29 CFR 1910.1000 Z-2", "TWA", "8 h", 3.0, 2.0, "1971",
         "as F in Z-2; 2 mg/m3 as printed on the archived OSHA page",
         "seen (OSHA page archived 2009)"),
        ("NIOSH REL", "TWA", "10 h", 3.0, 2.5, "1976/1992", "", SEEN),
        ("NIOSH REL", "ceiling", "15 min", 6.0, 5.0, "1976/1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 30.0, None, "1994", "", SEEN),
        ("ACGIH TLV", "ceiling", "instant", 3.0, 2.3, "before 2005", "SUPERSEDED; as F",
         "seen (OSHA page archived 2009)"),
        ("ACGIH TLV", "TWA", "8 h", 0.5, None, "2005", "as F; skin", MEMORY_AS_LIBRARY),
        ("ACGIH TLV", "ceiling", "instant", 2.0, None, "2005", "as F", MEMORY_AS_LIBRARY),
        ("Ontario", "TWA", "8 h", 0.5, None, "library copy", "skin", LIBRARY),
        ("Ontario", "ceiling", "instant", 2.0, None, "library copy", "", LIBRARY),
        ("EU IOELV 2000/39/EC", "TWA", "8 h", 1.8, 1.5, "2000", "", MEMORY),
        ("EU IOELV 2000/39/EC", "STEL", "15 min", 3.0, 2.5, "2000", "", MEMORY),
        ("Cal/OSHA PEL (proposal)", "TWA", "8 h", 0.4, None, "2009", "proposal only when written",
         "seen (article 2009)"),
        ("Cal/OSHA PEL (proposal)", "STEL", "15 min", 1.0, None, "2009",
         "proposal only when written", "seen (article 2009)"),
    ),
    "hydrogen chloride": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "ceiling", "instant", 5.0, 7.0, "1971", "", SEEN),
        ("NIOSH REL", "ceiling", "instant", 5.0, 7.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 50.0, None, "1994", "", SEEN),
        ("ACGIH TLV", "ceiling", "instant", 2.0, 3.0, "2003 (year from memory)", "", SEEN),
        ("Ontario", "ceiling", "instant", 2.0, None, "library copy", "", LIBRARY),
        ("EU IOELV 2000/39/EC", "TWA", "8 h", 5.0, 8.0, "2000", "", MEMORY),
        ("EU IOELV 2000/39/EC", "STEL", "15 min", 10.0, 15.0, "2000", "", MEMORY),
    ),
    "nitric acid": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 2.0, 5.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 2.0, 5.0, "1992", "", SEEN),
        ("NIOSH REL", "STEL", "15 min", 4.0, 10.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 25.0, None, "1994", "", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 2.0, 5.2, "1993-94 list", "check the current list",
         IDLH_PAGE),
        ("ACGIH TLV", "STEL", "15 min", 4.0, 10.0, "1993-94 list", "check the current list",
         IDLH_PAGE),
        ("Ontario", "TWA", "8 h", 2.0, None, "library copy", "", LIBRARY),
        ("Ontario", "STEL", "15 min", 4.0, None, "library copy", "", LIBRARY),
        ("EU IOELV 2006/15/EC", "STEL", "15 min", 1.0, 2.6, "2006", "no TWA", MEMORY),
    ),
    "ammonia": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 50.0, 35.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 25.0, 18.0, "1992", "", SEEN),
        ("NIOSH REL", "STEL", "15 min", 35.0, 27.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 300.0, None, "1994", "", "seen (secondary page)"),
        ("ACGIH TLV", "TWA", "8 h", 25.0, 17.0, "1993-94 list", "", IDLH_PAGE),
        ("ACGIH TLV", "STEL", "15 min", 35.0, 24.0, "1993-94 list", "", IDLH_PAGE),
        ("Ontario", "TWA", "8 h", 25.0, None, "library copy", "", LIBRARY),
        ("Ontario", "STEL", "15 min", 35.0, None, "library copy", "", LIBRARY),
        ("EU IOELV 2000/39/EC", "TWA", "8 h", 20.0, 14.0, "2000", "",
         "20 ppm seen in a third-party table (2026); mg/m3 from memory"),
        ("EU IOELV 2000/39/EC", "STEL", "15 min", 50.0, 36.0, "2000", "", MEMORY),
    ),
    "acetic acid": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 10.0, 25.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 10.0, 25.0, "1992", "", SEEN),
        ("NIOSH REL", "STEL", "15 min", 15.0, 37.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 50.0, None, "1994", "",
         "from memory (page seen, revised value not in the excerpt)"),
        ("ACGIH TLV", "TWA", "8 h", 10.0, 25.0, "1993-94 list", "", IDLH_PAGE),
        ("ACGIH TLV", "STEL", "15 min", 15.0, 37.0, "1993-94 list", "", IDLH_PAGE),
        ("Ontario", "TWA", "8 h", 10.0, None, "library copy", "", LIBRARY),
        ("Ontario", "STEL", "15 min", 15.0, None, "library copy", "", LIBRARY),
        ("EU IOELV 2017/164", "TWA", "8 h", 10.0, 25.0, "2017", "", MEMORY_LISTED),
        ("EU IOELV 2017/164", "STEL", "15 min", 20.0, 50.0, "2017", "", MEMORY_LISTED),
    ),
    "acetone": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 1000.0, 2400.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 250.0, 590.0, "1978/1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 2500.0, None, "1994", "set at 10 % of LEL", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 500.0, 1187.0, "before 2015", "SUPERSEDED",
         "seen (OSHA page archived 2008)"),
        ("ACGIH TLV", "STEL", "15 min", 750.0, 1780.0, "before 2015", "SUPERSEDED",
         "seen (OSHA page archived 2008)"),
        ("ACGIH TLV", "TWA", "8 h", 250.0, None, "2015 (year from memory)", "", "seen (Haz-Map)"),
        ("ACGIH TLV", "STEL", "15 min", 500.0, None, "2015 (year from memory)", "",
         "seen (Haz-Map)"),
        ("Ontario", "TWA", "8 h", 500.0, None, "library copy", "older than ACGIH 2015", LIBRARY),
        ("Ontario", "STEL", "15 min", 750.0, None, "library copy", "older than ACGIH 2015",
         LIBRARY),
        ("EU IOELV 2000/39/EC", "TWA", "8 h", 500.0, 1210.0, "2000", "",
         "500 ppm seen in a third-party table (2026); mg/m3 from memory"),
    ),
    "isopropanol": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 400.0, 980.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 400.0, 980.0, "1992", "", SEEN),
        ("NIOSH REL", "STEL", "15 min", 500.0, 1225.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 2000.0, None, "1994", "set at 10 % of LEL", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 400.0, 983.0, "1993-94 list", "SUPERSEDED", IDLH_PAGE),
        ("ACGIH TLV", "STEL", "15 min", 500.0, 1230.0, "1993-94 list", "SUPERSEDED", IDLH_PAGE),
        ("ACGIH TLV", "TWA", "8 h", 200.0, None, "2003", "", MEMORY_AS_LIBRARY),
        ("ACGIH TLV", "STEL", "15 min", 400.0, None, "2003", "", MEMORY_AS_LIBRARY),
        ("Ontario", "TWA", "8 h", 200.0, None, "library copy", "", LIBRARY),
        ("Ontario", "STEL", "15 min", 400.0, None, "library copy", "", LIBRARY),
        ("EU IOELV", "none", "", None, None, "", "no EU indicative value known", MEMORY),
    ),
    "ethanol": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 1000.0, 1900.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 1000.0, 1900.0, "1992", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 3300.0, None, "1994", "set at 10 % of LEL", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 1000.0, 1880.0, "1993-94 list", "SUPERSEDED", IDLH_PAGE),
        ("ACGIH TLV", "STEL", "15 min", 1000.0, None, "2009", "", MEMORY_AS_LIBRARY),
        ("Ontario", "STEL", "15 min", 1000.0, None, "library copy", "", LIBRARY),
        ("EU IOELV", "none", "", None, None, "", "no EU indicative value known", MEMORY),
    ),
    "methanol": (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "TWA", "8 h", 200.0, 260.0, "1971", "", SEEN),
        ("NIOSH REL", "TWA", "10 h", 200.0, 260.0, "1992", "skin", SEEN),
        ("NIOSH REL", "STEL", "15 min", 250.0, 325.0, "1992", "skin", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 6000.0, None, "1994", "", "seen (Haz-Map)"),
        ("ACGIH TLV", "TWA", "8 h", 200.0, 262.0, "1993-94 list, still listed by Haz-Map", "skin",
         SEEN),
        ("ACGIH TLV", "STEL", "15 min", 250.0, 328.0, "1993-94 list, still listed by Haz-Map",
         "skin", SEEN),
        ("Ontario", "TWA", "8 h", 200.0, None, "library copy", "skin", LIBRARY),
        ("Ontario", "STEL", "15 min", 250.0, None, "library copy", "skin", LIBRARY),
        ("EU IOELV 2006/15/EC", "TWA", "8 h", 200.0, 260.0, "2006", "skin", MEMORY),
    ),
    "toluene": (
        ("OSHA PEL 29 CFR 1910.1000 Z-2", "TWA", "8 h", 200.0, None, "1971", "", SEEN),
        ("OSHA PEL 29 CFR 1910.1000 Z-2", "ceiling", "instant", 300.0, None, "1971", "", SEEN),
        ("OSHA PEL 29 CFR 1910.1000 Z-2", "peak", "10 min once per 8 h", 500.0, None, "1971", "",
         SEEN),
        ("NIOSH REL", "TWA", "10 h", 100.0, 375.0, "1973", "", SEEN),
        ("NIOSH REL", "STEL", "15 min", 150.0, 560.0, "1973", "", SEEN),
        ("NIOSH", "IDLH", "30 min escape", 500.0, None, "1994", "", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 50.0, 188.0, "before 2007", "SUPERSEDED; skin",
         "seen (OSHA page archived 2009)"),
        ("ACGIH TLV", "TWA", "8 h", 20.0, None, "2007", "", MEMORY_AS_LIBRARY),
        ("Ontario", "TWA", "8 h", 20.0, None, "library copy", "", LIBRARY),
        ("Cal/OSHA PEL", "TWA", "8 h", 10.0, 37.0, "2012", "skin", SEEN),
        ("Cal/OSHA PEL", "STEL", "15 min", 150.0, 560.0, "2012", "skin", SEEN),
        ("Cal/OSHA PEL", "ceiling", "instant", 500.0, None, "2012", "skin", SEEN),
        ("EU IOELV 2006/15/EC", "TWA", "8 h", 50.0, 192.0, "2006", "skin", MEMORY),
        ("EU IOELV 2006/15/EC", "STEL", "15 min", 100.0, 384.0, "2006", "skin", MEMORY),
    ),
    "dichloromethane": (
        ("OSHA PEL 29 CFR 1910.1052", "TWA", "8 h", 25.0, None, "1997", "action level 12.5 ppm",
         "seen (university EHS page)"),
        ("OSHA PEL 29 CFR 1910.1052", "STEL", "15 min", 125.0, None, "1997", "",
         "seen (university EHS page)"),
        ("OSHA PEL (old)", "TWA", "8 h", 500.0, None, "1971",
         "SUPERSEDED 1997; with ceiling 1000, 5 min peak 2000", "seen (NIOSH IDLH page)"),
        ("NIOSH REL", "none", "", None, None, "1994", "potential occupational carcinogen, no REL",
         SEEN),
        ("NIOSH", "IDLH", "30 min escape", 2300.0, None, "1994", "carcinogen note", SEEN),
        ("ACGIH TLV", "TWA", "8 h", 50.0, 174.0, "1993-94 list", "", IDLH_PAGE),
        ("Ontario", "TWA", "8 h", 50.0, None, "library copy", "", LIBRARY),
        ("EPA TSCA 40 CFR 751 (ECEL)", "TWA", "8 h", 2.0, None, "2024",
         "most uses also prohibited; consumer sale ended", MEMORY_RULE),
        ("EPA TSCA 40 CFR 751 (ECEL)", "STEL", "15 min", 16.0, None, "2024", "", MEMORY_RULE),
        ("EU IOELV 2017/164", "TWA", "8 h", 100.0, 353.0, "2017", "skin", MEMORY),
        ("EU IOELV 2017/164", "STEL", "15 min", 200.0, 706.0, "2017", "skin", MEMORY),
    ),
}
# fmt: on
