"""Properties of pure substances, one row each, in the units of their sources.

Molar mass, boiling point, vapour pressures, their spread over the methods of the library and heat
of vaporisation: [ChemicalsLibrary]_. Diffusion volumes of 1969: [Fuller1969]_, from memory. Odour
thresholds: as named in the row. The pure liquids hydrogen fluoride, hydrogen chloride and
ammonia are not the acids and the ammonia solution of a bench.
"""

from __future__ import annotations

__all__ = ["ALIASES", "ROWS"]

Row = tuple[
    str, str, float, float, tuple[float, float, float], tuple[float, float], float, float,
    float | None, float | None, str,
]  # fmt: skip

# fmt: off
ROWS: tuple[Row, ...] = (
    # name, CAS number, molar mass g/mol, boiling point C, vapour pressure Pa at 20, 25, 30 C,
    # lowest and highest of the library's methods at 25 C, heat of vaporisation kJ/mol,
    # diffusion volume, odour threshold low and high in ppm, its source
    ("hydrogen fluoride", "7664-39-3", 20.006, 20.0, (102310.0, 121900.0, 144460.0),
     (121900.0, 128520.0), 7.702, 17.01, 0.04, 0.14, "CCOHS CHEMINFO 47 (seen)"),
    ("hydrogen chloride", "7647-01-0", 36.461, -84.98, (4227300.0, 4736800.0, 5292200.0),
     (4722200.0, 4769100.0), 8.672, 23.31, 0.77, 3.0,
     "Cal/OSHA HEAC draft assessment 2008 (seen); others 0.25 (seen)"),
    ("nitric acid", "7697-37-2", 63.013, 83.0, (6350.0, 8343.6, 10844.0), (8343.6, 8343.6), 46.47,
     25.18, 0.27, None, "AIHA 1997 as quoted in NRC 1998 (seen)"),
    ("ammonia", "7664-41-7", 17.031, -33.32, (857040.0, 1002700.0, 1166500.0),
     (994430.0, 1003300.0), 19.85, 20.7, 5.2, None, "Amoore & Hautala 1983 (from memory)"),
    ("acetic acid", "64-19-7", 60.052, 117.9, (1548.8, 2076.3, 2751.6), (2067.1, 2114.2), 23.42,
     53.26, 0.21, 1.0, "NIOSH/OSHA occupational guideline for acetic acid (seen)"),
    ("acetone", "67-64-1", 58.079, 56.07, (24662.0, 30727.0, 37960.0), (30600.0, 30813.0), 31.03,
     67.67, 3.6, 653.0, "Haz-Map (seen)"),
    ("isopropanol", "67-63-0", 60.095, 82.21, (4207.2, 5779.9, 7840.7), (5779.9, 6027.0), 45.77,
     72.29, 22.0, 50.0, "Purdue chemistry solvent table (seen)"),
    ("ethanol", "64-17-5", 46.068, 78.42, (5875.7, 7885.4, 10467.0), (7872.2, 7961.1), 42.41,
     51.77, 49.0, 716.0, "Purdue chemistry solvent table (seen); 350 also seen (OSHA)"),
    ("methanol", "67-56-1", 32.042, 64.48, (13032.0, 16981.0, 21915.0), (16826.0, 16986.0), 37.46,
     31.25, 4.0, 6000.0, "NRC Prudent Practices 1995 LCSS, mean 160 (seen)"),
    ("toluene", "108-88-3", 92.138, 110.6, (2918.9, 3799.3, 4894.4), (3789.0, 3803.9), 38.04,
     111.5, 0.17, 40.0, "county site-safety table (seen); 2.9 also seen (Purdue)"),
    ("dichloromethane", "75-09-2", 84.933, 39.8, (46848.0, 57315.0, 69604.0), (57315.0, 58411.0),
     29.22, 62.52, 160.0, 230.0, "university EHS page (seen); 250 also seen"),
    ("water", "7732-18-5", 18.015, 99.97, (2339.3, 3169.9, 4247.0), (3167.4, 3178.8), 43.99, 13.1,
     None, None, ""),
)
# fmt: on

ALIASES = {
    "hf": "hydrogen fluoride",
    "hcl": "hydrogen chloride",
    "hno3": "nitric acid",
    "nh3": "ammonia",
    "ethanoic acid": "acetic acid",
    "propanone": "acetone",
    "ipa": "isopropanol",
    "2-propanol": "isopropanol",
    "propan-2-ol": "isopropanol",
    "isopropyl alcohol": "isopropanol",
    "2-propanol (isopropanol)": "isopropanol",
    "ethyl alcohol": "ethanol",
    "methyl alcohol": "methanol",
    "methylbenzene": "toluene",
    "dcm": "dichloromethane",
    "methylene chloride": "dichloromethane",
    "h2o": "water",
}
