"""The units people write, as factors to SI, and the words for each dimension."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = [
    "ASK",
    "ATOMS",
    "DIMENSIONS",
    "EXACT",
    "PLAIN",
    "SPECIAL",
    "TEMPERATURES",
    "TURNING",
    "Dimension",
]

Powers = tuple[int, int, int]
"""Exponents of metre, kilogram and second."""


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity.

    Parameters
    ----------
    words : str
        With its article, for messages. [-]
    powers : tuple of int
        Exponents of metre, kilogram and second. [-]
    unit : str
        The SI unit. [-]
    example : str
        A usual unit. [-]
    number : str
        A usual size in this unit. [-]
    usual : tuple of str
        Spellings listed in the JSON Schema and offered as nearest right name. [-]
    """

    words: str
    powers: Powers
    unit: str
    example: str
    number: str
    usual: tuple[str, ...]


DIMENSIONS = {
    "length": Dimension(
        "a length", (1, 0, 0), "m", "mm", "650",
        ("m", "cm", "mm", "um", "µm", "micron", "in", "in.", "inch", "inches", '"', "″",
         "ft", "foot", "feet", "'", "′"),
    ),
    "area": Dimension(
        "an area", (2, 0, 0), "m2", "cm2", "25",
        ("m2", "m²", "m^2", "cm2", "cm²", "mm2", "mm²", "in2", "in²", "sq in", "ft2", "ft²",
         "sq ft"),
    ),
    "flow": Dimension(
        "a volume flow", (3, 0, -1), "m3/s", "m3/h", "450",
        ("m3/s", "m³/s", "m3/h", "m³/h", "m^3/h", "cmh", "CMH", "m3/min", "m³/min", "L/s", "l/s",
         "L/min", "l/min", "cfm", "CFM", "ft3/min", "ft³/min"),
    ),
    "velocity": Dimension(
        "a velocity", (1, 0, -1), "m/s", "m/s", "0.45",
        ("m/s", "cm/s", "mm/s", "m/min", "km/h", "fpm", "FPM", "ft/min", "lfm", "LFM", "ft/s",
         "mph"),
    ),
    "pressure": Dimension(
        "a pressure", (-1, 1, -2), "Pa", "Pa", "110",
        ("Pa", "hPa", "kPa", "mbar", "bar", "psi", "mmH2O", "mm w.g.", "mm w.c.", "inH2O",
         "in. w.g.", "in w.g.", "in. w.c.", "in w.c.", "inWC", "inWG", "IWC", "inches of water",
         "mmHg", "inHg", "atm"),
    ),
    "temperature": Dimension(
        "a temperature", (0, 0, 0), "K", "degC", "20",
        ("degC", "°C", "C", "degF", "°F", "F", "K"),
    ),
    "density": Dimension(
        "a density", (-3, 1, 0), "kg/m3", "kg/m3", "1.2",
        ("kg/m3", "kg/m³", "kg/m^3", "g/L", "lb/ft3", "lb/ft³"),
    ),
    "frequency": Dimension(
        "a frequency", (0, 0, -1), "Hz", "Hz", "40", ("Hz", "1/s", "rpm", "1/min")
    ),
    "number density": Dimension(
        "a number of particles per volume", (-3, 0, 0), "1/m3", "per m3", "3520",
        ("per m3", "per m³", "1/m3", "/m3", "per ft3", "per ft³", "1/ft3", "/ft3", "per L"),
    ),
    "count rate": Dimension(
        "a number of particles per time", (0, 0, -1), "1/s", "per min", "600",
        ("per s", "1/s", "/s", "per min", "1/min", "/min", "per h", "1/h", "/h"),
    ),
    "time": Dimension(
        "a time", (0, 0, 1), "s", "min", "30", ("s", "min", "h", "hr", "days", "ms")
    ),
    "volume": Dimension(
        "a volume", (3, 0, 0), "m3", "m3", "60",
        ("m3", "m³", "m^3", "L", "l", "litres", "ft3", "ft³", "ft^3", "cu ft"),
    ),
    "diffusivity": Dimension(
        "a diffusivity", (2, 0, -1), "m2/s", "cm2/s", "50",
        ("m2/s", "m²/s", "m^2/s", "cm2/s", "cm²/s", "mm2/s", "mm²/s", "ft2/s", "ft²/s"),
    ),
    "mass flow": Dimension(
        "a mass per time", (0, 1, -1), "kg/s", "g/h", "20",
        ("kg/s", "kg/h", "g/s", "g/min", "g/h", "mg/s", "mg/min", "mg/h", "ug/s", "µg/s", "lb/h",
         "lb/min"),
    ),
    "particle size": Dimension(
        "a particle size", (1, 0, 0), "m", "um", "0.5",
        ("um", "µm", "micron", "microns", "nm", "mm"),
    ),
    "parts per million": Dimension(
        "a share of the air by volume", (0, 0, 0), "ppm", "ppm", "2", ("ppm", "ppmv", "ppb")
    ),
    "class number": Dimension("an ISO class number", (0, 0, 0), "", "", "5", ("",)),
    "angle": Dimension("an angle", (0, 0, 0), "rad", "deg", "90", ("deg", "°", "rad")),
    "ratio": Dimension("a ratio", (0, 0, 0), "", "%", "25", ("%", "percent", "% open")),
}  # fmt: skip

PLAIN = ("ratio", "class number")
"""Dimensions of numbers that stand in a file without quotes and unit."""

INCH, FOOT, POUND, WATER = 0.0254, 0.3048, 0.45359237, 9.80665
_LENGTH: Powers = (1, 0, 0)
_VOLUME: Powers = (3, 0, 0)
_TIME: Powers = (0, 0, 1)
_MASS: Powers = (0, 1, 0)
_FLOW: Powers = (3, 0, -1)
_SPEED: Powers = (1, 0, -1)
_PRESSURE: Powers = (-1, 1, -2)

EXACT: dict[str, tuple[float, Powers]] = {
    "nm": (1e-9, _LENGTH),
    "Mg": (1e3, _MASS),
    "mPa": (1e-3, _PRESSURE),
    "MPa": (1e6, _PRESSURE),
}
"""Units whose letters change their meaning with their case."""


def _named(factor: float, powers: Powers, names: str) -> dict[str, tuple[float, Powers]]:
    """Return one entry per name."""
    return dict.fromkeys(names.split(), (factor, powers))


def _water(factor: float, prefixes: str) -> dict[str, tuple[float, Powers]]:
    """Return the spellings of a water column; every prefix may be followed by "of"."""
    bodies = "h2o wc wg water watergauge watercolumn h2ogauge"
    names = [
        p + of + body for p in prefixes.split() for of in ("", "of") for body in bodies.split()
    ]
    return _named(factor, _PRESSURE, " ".join(names))


ATOMS: dict[str, tuple[float, Powers]] = {
    "1": (1.0, (0, 0, 0)),
    **_named(1.0, _LENGTH, "m metre metres meter meters"),
    **_named(1e-1, _LENGTH, "dm"),
    **_named(1e-2, _LENGTH, "cm centimetre centimetres centimeter centimeters"),
    **_named(1e-3, _LENGTH, "mm millimetre millimetres millimeter millimeters"),
    **_named(1e-6, _LENGTH, "um micron microns micrometre micrometres micrometer micrometers"),
    **_named(1e3, _LENGTH, "km"),
    **_named(INCH, _LENGTH, "in inch inches"),
    **_named(FOOT, _LENGTH, "ft foot feet"),
    **_named(1609.344, _LENGTH, "mile miles"),
    **_named(1e-3, _VOLUME, "l litre litres liter liters"),
    **_named(3.785411784e-3, _VOLUME, "usgal usgallon usgallons"),
    **_named(4.54609e-3, _VOLUME, "impgal impgallon impgallons ukgal"),
    **_named(1.0, _TIME, "s sec secs second seconds"),
    **_named(1e-3, _TIME, "ms"),
    **_named(60.0, _TIME, "min mins minute minutes"),
    **_named(3600.0, _TIME, "h hr hrs hour hours"),
    **_named(86400.0, _TIME, "d day days"),
    **_named(1.0, _MASS, "kg kilogram kilograms"),
    **_named(1e-3, _MASS, "g gram grams"),
    **_named(1e-6, _MASS, "mg milligram milligrams"),
    **_named(1e-9, _MASS, "ug microgram micrograms"),
    **_named(POUND, _MASS, "lb lbs pound pounds"),
    **_named(1.0, (1, 1, -2), "n newton newtons"),
    **_named(1.0, (0, 0, -1), "hz hertz"),
    **_named(1.0 / 60.0, (0, 0, -1), "rpm"),
    **_named(1.0, (0, 0, 0), "particle particles count counts #"),
    **_named(FOOT**3 / 60.0, _FLOW, "cfm acfm"),
    **_named(1.0 / 3600.0, _FLOW, "cmh"),
    **_named(1e-3, _FLOW, "lps"),
    **_named(1e-3 / 60.0, _FLOW, "lpm"),
    **_named(FOOT / 60.0, _SPEED, "fpm lfm lfpm"),
    **_named(0.44704, _SPEED, "mph"),
    **_named(1.0 / 3.6, _SPEED, "kmh kph"),
    **_named(1.0, _PRESSURE, "pa pascal pascals"),
    **_named(1e2, _PRESSURE, "hpa mbar millibar"),
    **_named(1e3, _PRESSURE, "kpa"),
    **_named(1e5, _PRESSURE, "bar"),
    **_named(6894.757293168361, _PRESSURE, "psi"),
    **_named(101325.0, _PRESSURE, "atm"),
    **_named(133.322387415, _PRESSURE, "mmhg torr"),
    **_named(3386.38864, _PRESSURE, "inhg"),
    **_water(249.08891, "in inch inches i"),
    **_water(WATER, "mm millimetres millimeters"),
    **_water(100.0 * WATER, "cm centimetres centimeters"),
    **_named(WATER, _PRESSURE, "mmws mmwk"),
}
"""Lower case, without dots, spaces and hyphens -> factor to SI and exponents."""

TEMPERATURES: dict[str, tuple[float, float]] = {
    **dict.fromkeys(
        ["c", "degc", "°c", "celsius", "degcelsius", "degreescelsius", "degreesc", "℃"],
        (1.0, 273.15),
    ),
    **dict.fromkeys(
        ["f", "degf", "°f", "fahrenheit", "degfahrenheit", "degreesfahrenheit", "degreesf", "℉"],
        (5.0 / 9.0, 273.15 - 32.0 * 5.0 / 9.0),
    ),
    **dict.fromkeys(["k", "kelvin", "degk", "°k"], (1.0, 0.0)),
}
"""Lower case, without dots and spaces -> factor and offset to kelvin."""

_RATIO = {"": 1.0, "%": 0.01, "percent": 0.01, "%open": 0.01, "percentopen": 0.01}
_PARTS = {
    **dict.fromkeys(["ppm", "ppmv", "partspermillion"], 1.0),
    **dict.fromkeys(["ppb", "ppbv", "partsperbillion"], 1e-3),
    **dict.fromkeys(["%", "percent", "%v/v", "vol%", "%vol"], 1e4),
}
_ANGLE = {
    **dict.fromkeys(["deg", "°", "degree", "degrees"], math.pi / 180.0),
    **dict.fromkeys(["rad", "radian", "radians"], 1.0),
}

TURNING = ("hz", "hertz", "rpm")
"""Units of a frequency that count no particles."""
SPECIAL: dict[str, dict[str, float]] = {
    "ratio": _RATIO,
    "angle": _ANGLE,
    "parts per million": _PARTS,
    "class number": {"": 1.0},
}
"""Units without any metre, kilogram and second."""

_GALLON = "does not say which gallon"
_STANDARD = "is a flow at standard conditions; give the flow at the actual air density"
_VOLUME_WANTED = "needs a volume; give the flow itself"
ASK: dict[str, tuple[str, tuple[str, ...]]] = {
    "cmm": ("may mean cubic metres per minute", ("m3/min",)),
    "gph": (_GALLON, ("US gal/h", "imp gal/h")),
    "gpm": (_GALLON, ("US gal/min", "imp gal/min")),
    "gal": (_GALLON, ("US gal", "imp gal")),
    "gal/h": (_GALLON, ("US gal/h", "imp gal/h")),
    "gal/min": (_GALLON, ("US gal/min", "imp gal/min")),
    "mpa": ("may mean millipascal or megapascal", ("mPa", "MPa")),
    "scfm": (_STANDARD, ("cfm",)),
    "nm3/h": (_STANDARD, ("m3/h",)),
    "slpm": (_STANDARD, ("L/min",)),
    "ach": (_VOLUME_WANTED, ()),
    "xturnover": (_VOLUME_WANTED, ()),
    "airchanges/h": (_VOLUME_WANTED, ()),
    "airchanges/hour": (_VOLUME_WANTED, ()),
    "deg": ("does not say which scale", ("degC", "degF")),
    "degrees": ("does not say which scale", ("degC", "degF")),
    "°": ("does not say which scale", ("degC", "degF")),
}
"""Units that can be read in two ways, or that need more than the number."""
