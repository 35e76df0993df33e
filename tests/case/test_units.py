"""Quantities as people write them."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flowsim.case.units import example_of, in_unit, parse_quantity, pattern
from flowsim.case.units_table import DIMENSIONS

EXACT = 1e-12

# Definitions of inch, foot, pound, gallon, standard gravity: exact by agreement (field.md,
# "Units people write")
WRITTEN = [
    ("650 mm", "length", 0.65),
    ("0.65m", "length", 0.65),
    ("23 5/8 in", "length", 23.625 * 0.0254),
    ("2 1/2 in", "length", 0.0635),
    ("2-1/2 in", "length", 0.0635),
    ('1/4"', "length", 0.00635),
    ("3 1/2 inches", "length", 0.0889),
    ("3½ in", "length", 0.0889),
    ("4-inch", "length", 0.1016),
    ("2'", "length", 0.6096),
    ("2′ 6 1/2″", "length", 30.5 * 0.0254),
    ("2 ft 6 in", "length", 0.762),
    ("0.3 um", "length", 3e-7),
    ("0.3 \u00b5m", "length", 3e-7),
    ("0.3 \u03bcm", "length", 3e-7),
    ("5 microns", "length", 5e-6),
    ("5 m", "length", 5.0),
    ("1e-3 m", "length", 1e-3),
    ("100 cm²", "area", 1e-2),
    ("1 in^2", "area", 6.4516e-4),
    ("2 sq ft", "area", 2 * 0.09290304),
    ("1 cfm", "flow", 4.719474432e-4),
    ("400 CFM", "flow", 400 * 4.719474432e-4),
    ("1 ft3/min", "flow", 4.719474432e-4),
    ("1 cubic feet per minute", "flow", 4.719474432e-4),
    ("450 m3/h", "flow", 0.125),
    ("450 m³/h", "flow", 0.125),
    ("450 m^3/h", "flow", 0.125),
    ("450 m**3 / hr", "flow", 0.125),
    ("450 cmh", "flow", 0.125),
    ("6 m3/min", "flow", 0.1),
    ("125 L/s", "flow", 0.125),
    ("60 l/min", "flow", 1e-3),
    ("1 US gal/h", "flow", 3.785411784e-3 / 3600),
    ("1 imp gal/h", "flow", 4.54609e-3 / 3600),
    ("100 fpm", "velocity", 0.508),
    ("100 FPM", "velocity", 0.508),
    ("100 lfm", "velocity", 0.508),
    ("100 linear feet per minute", "velocity", 0.508),
    ("100 cfm/ft2", "velocity", 0.508),
    ("1 mph", "velocity", 0.44704),
    ("0.45 m s-1", "velocity", 0.45),
    ("0.45 m·s⁻¹", "velocity", 0.45),
    ("0,45 m/s", "velocity", 0.45),
    ("110 Pa", "pressure", 110.0),
    ("\u22123 Pa", "pressure", -3.0),
    ("-3 pa", "pressure", -3.0),
    ("1 inH2O", "pressure", 249.08891),
    ("1 inH₂O", "pressure", 249.08891),
    ("1 in. w.g.", "pressure", 249.08891),
    ("1 in w.c.", "pressure", 249.08891),
    ('1 "WC', "pressure", 249.08891),
    ("1 IWC", "pressure", 249.08891),
    ("1 inches of water", "pressure", 249.08891),
    ("1 mmH2O", "pressure", 9.80665),
    ("1 mm W.C.", "pressure", 9.80665),
    ("1 mbar", "pressure", 100.0),
    ("1 psi", "pressure", 6894.757293168),
    ("93 kPa", "pressure", 93e3),
    ("2 mPa", "pressure", 2e-3),
    ("20 degC", "temperature", 293.15),
    ("20 °C", "temperature", 293.15),
    ("68 degF", "temperature", 293.15),
    ("68F", "temperature", 293.15),
    ("293 K", "temperature", 293.0),
    ("-40 °F", "temperature", 233.15),
    ("1.204 kg/m3", "density", 1.204),
    ("40 Hz", "frequency", 40.0),
    ("1200 rpm", "frequency", 20.0),
    ("90 deg", "angle", math.pi / 2),
    ("90°", "angle", math.pi / 2),
    ("2.5 %", "ratio", 0.025),
    ("23 % open", "ratio", 0.23),
    ("1.2", "ratio", 1.2),
    ("100 per ft3", "number density", 3531.46667214886),
    ("3520 per m3", "number density", 3520.0),
    ("5 min", "time", 300.0),
    ("8 h", "time", 28800.0),
    ("60 m³", "volume", 60.0),
    ("2000 cu ft", "volume", 2000 * 0.3048**3),
    ("500 L", "volume", 0.5),
    ("50 cm²/s", "diffusivity", 5e-3),
    ("5000 mm2/s", "diffusivity", 5e-3),
    ("18 g/h", "mass flow", 5e-6),
    ("18 g per hour", "mass flow", 5e-6),
    ("5 mg/s", "mass flow", 5e-6),
    ("5 \u00b5g/s", "mass flow", 5e-9),
    ("1 lb/h", "mass flow", 0.45359237 / 3600),
    ("600 per min", "count rate", 10.0),
    ("600 1/min", "count rate", 10.0),
    ("600 particles/min", "count rate", 10.0),
    ("10 /s", "count rate", 10.0),
    ("3520 particles/m3", "number density", 3520.0),
    ("0.5 \u03bcm", "particle size", 5e-7),
    ("300 nm", "particle size", 3e-7),
    ("2 ppm", "parts per million", 2.0),
    ("2,5 PPM", "parts per million", 2.5),
    ("40 ppb", "parts per million", 0.04),
    ("0.1 %", "parts per million", 1000.0),
    ("5.5", "class number", 5.5),
]


@pytest.mark.parametrize(("text", "dimension", "value"), WRITTEN)
def test_unit_is_read(text: str, dimension: str, value: float) -> None:
    # common practice, no source (field.md "Units people write")
    assert parse_quantity(text, dimension) == pytest.approx(value, rel=EXACT)


# common practice, no source (field.md "Units people write", traps)
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("334,89 m3/h", 334.89),
        ("1.200,5 m3/h", 1200.5),
        ("1,200.5 m3/h", 1200.5),
        ("1,200,000 m3/h", 1.2e6),
        ("1.200.000 m3/h", 1.2e6),
        ("1 200 m3/h", 1200.0),
        ("1.200 m3/h", 1.2),
        ("0,450 m3/h", 0.45),
        ("1200,5 m3/h", 1200.5),
        (",45 m3/h", 0.45),
        (".45 m3/h", 0.45),
        ("1,5e2 m3/h", 150.0),
        ("3/2 m3/h", 1.5),
    ],
)
def test_decimal_and_thousands_signs(text: str, value: float) -> None:
    assert in_unit(parse_quantity(text, "flow"), "m3/h") == pytest.approx(value, rel=EXACT)


# common practice, no source (field.md "Units people write", traps)
@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("1,200 cfm", "flow", "did you mean '1.200 cfm' or '1200 cfm'?"),
        ("11/4 in", "length", "did you mean '1 1/4 in' or '2.75 in'?"),
        ("12,00.5 cfm", "flow", "mixes decimal and thousands signs"),
        ("1.2.3 cfm", "flow", "mixes decimal and thousands signs"),
        ("1,2.3,4 cfm", "flow", "mixes decimal and thousands signs"),
        ("12, cfm", "flow", "ends in a comma"),
        ("00,123 m/s", "velocity", "can be read in two ways"),
        ("2 5/4 in", "length", "which is not below 1"),
        ("1/0 in", "length", "divides by zero"),
        ("2 1/0 in", "length", "divides by zero"),
        ("5 in", "pressure", "did you mean '5 inH2O'?"),
        ("5 mm", "pressure", "did you mean '5 mmH2O'?"),
        ("24 in. w.g.", "length", "did you mean '24 in'?"),
        ("100 cfm", "velocity", "is a volume flow, not a velocity"),
        ("100 fpm", "flow", "is a velocity, not a volume flow"),
        ("24x24", "length", "is a size of two numbers"),
        ("24 in × 24 in", "length", "is a size of two numbers"),
        ("2' x 2'", "length", "is a size of two numbers"),
        ("90-100 fpm", "velocity", "is a range"),
        ("90 to 100 fpm", "velocity", "is a range"),
        ("1-inch centres", "length", "unknown unit 'inch centres'"),
        ("5 gph", "flow", "'5 US gal/h' or '5 imp gal/h'"),
        ("5 CMM", "flow", "did you mean '5 m3/min'?"),
        ("10 ACH", "flow", "needs a volume"),
        ("10x turnover", "flow", "needs a volume"),
        ("300 scfm", "flow", "standard conditions"),
        ("2 MPA", "pressure", "may mean millipascal or megapascal"),
        ("20 degrees", "temperature", "did you mean '20 degC' or '20 degF'?"),
        ("20", "length", "has no unit"),
        ("20 degC", "length", "is a temperature, not a length"),
        ("20 %", "length", "is a ratio, not a length"),
        ("20 mm", "ratio", "is a length, not a ratio"),
        ("20 mmm", "length", "did you mean '20 mm'?"),
        ("20 furlongs", "length", "unknown unit 'furlongs'"),
        ("about 5 mm", "length", "does not start with a number"),
        ("", "length", "does not start with a number"),
        ("nan mm", "length", "does not start with a number"),
        ("1e999 mm", "length", "is not a finite number"),
        ("9" * 300 + " mm", "length", "is too long"),
        ("5 mm/mm", "length", "unknown unit"),
        ("5 6 mm", "length", "holds more than one number"),
        ("30'", "time", "is a length, not a time (got '30''); expected a time such as '30 min'"),
        ("30 m", "time", "did you mean '30 min'?"),
        ('30"', "time", "did you mean '30 s'?"),
        ("5 gph", "mass flow", "did you mean '5 g/h'?"),
        ("5 g", "mass flow", "unknown unit 'g'"),
        ("5 L/h", "mass flow", "is a volume flow, not a mass per time"),
        ("5 Nm", "length", "unknown unit 'Nm'"),
        ("1200 rpm", "count rate", "is a frequency, not a number of particles per time"),
        ("5 particles", "ratio", "unknown unit 'particles'"),
        ("3 mg/m3", "parts per million", "is a mass per volume of air; give the share by volume"),
        ("2 ppm", "ratio", "is a share of the air by volume, not a ratio"),
        ("2", "parts per million", "did you mean '2 ppm'?"),
        ("5 %", "class number", "is a ratio, not an ISO class number"),
        ("60 m2", "volume", "is an area, not a volume"),
        ("5 gal", "volume", "'5 US gal' or '5 imp gal'"),
    ],
)
def test_trap_is_refused_with_words(text: str, dimension: str, words: str) -> None:
    with pytest.raises(ValueError, match=re.escape(words)):
        parse_quantity(text, dimension)


def test_message_names_what_was_found_and_expected() -> None:
    with pytest.raises(ValueError, match=r"\(got '5 s'\); expected a length such as '650 mm'"):
        parse_quantity("5 s", "length")


@pytest.mark.parametrize("dimension", sorted(DIMENSIONS))
def test_usual_units_are_read_and_stand_in_the_pattern(dimension: str) -> None:
    for unit in DIMENSIONS[dimension].usual:
        text = f"2 {unit}"
        assert re.search(pattern(dimension), text), text
        assert math.isfinite(parse_quantity(text, dimension))
    assert re.search(pattern(dimension), example_of(dimension))
    assert not re.search(pattern(dimension), "2 furlongs")


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (0.65, "mm", 650.0),
        (0.125, "m3/h", 450.0),
        (293.15, "degC", 20.0),
        (293.15, "degF", 68.0),
        (0.25, "%", 25.0),
        (math.pi, "deg", 180.0),
        (249.08891, "in. w.g.", 1.0),
    ],
)
def test_in_unit(value: float, unit: str, expected: float) -> None:
    # definitions of the units, exact (field.md "Units people write")
    assert in_unit(value, unit) == pytest.approx(expected, rel=EXACT)


def test_in_unit_refuses_an_unknown_unit() -> None:
    with pytest.raises(ValueError, match="unknown unit 'furlong'"):
        in_unit(1.0, "furlong")


@settings(deadline=None, derandomize=True, max_examples=200)
@given(
    st.floats(min_value=1e-6, max_value=1e6),
    st.sampled_from([(d, u) for d, kind in DIMENSIONS.items() for u in kind.usual]),
)
def test_value_survives_writing_and_reading(value: float, kind: tuple[str, str]) -> None:
    dimension, unit = kind
    text = f"{value!r} {unit}"
    # exact round trip up to rounding: conversion and its inverse
    assert in_unit(parse_quantity(text, dimension), unit) == pytest.approx(
        value, rel=1e-9, abs=1e-9
    )


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.text(max_size=30), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_gives_a_number_or_a_value_error(text: str, dimension: str) -> None:
    try:
        number, message = parse_quantity(text, dimension), "expected"
    except ValueError as error:
        number, message = 0.0, str(error)
    assert math.isfinite(number)
    assert "expected" in message
