from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from report.synthetic_result import build, network_only, quantities

from flowsim.report._json import json_text, strict
from flowsim.report._units import number, quantity_text
from flowsim.report.instruments import reading_of
from flowsim.report.summary import summary_document, terminal_table
from flowsim.simulate.result import Quantity, Result


@pytest.fixture(scope="module")
def result() -> Result:
    return build()


def test_document_has_exactly_the_agreed_parts(result: Result) -> None:
    document = summary_document(result)
    parts = ["format", "case", "quantities", "checks", "residuals", "assumptions", "warnings"]
    assert list(document) == parts
    assert document["format"] == 1
    assert all(
        set(item) == {"value", "unit", "meaning"} for item in document["quantities"].values()
    )
    wanted = {"name", "value", "limit", "margin", "state", "basis"}
    assert all(wanted <= set(item) for item in document["checks"])


def test_document_keeps_si_values_and_survives_a_round_trip(result: Result) -> None:
    document = summary_document(result)
    assert json.loads(json_text(document)) == document
    assert document["quantities"]["front_outflow"]["value"] == result["front_outflow"]
    assert document["quantities"]["front_outflow"]["unit"] == "m3/s"


def test_what_is_not_finite_becomes_null() -> None:
    document = strict({"a": float("nan"), "b": np.array([1.0, np.inf]), "c": (np.float64(2.0),)})
    assert document == {"a": None, "b": [1.0, None], "c": [2.0]}
    assert "NaN" not in json_text(document)


def test_resolved_case_in_the_document_gives_the_case_again(result: Result) -> None:
    resolved = summary_document(result)["case"]["resolved"]
    assert type(result.case).model_validate_json(json.dumps(resolved)) == result.case


def test_balance_margin_leads_and_the_headings_follow(result: Result) -> None:
    text = terminal_table(result)
    order = [
        "balance margin: 12.4 %", "What moves", "The front", "The draw of the work surface",
        "The downflow", "The compartment", "Can an instrument show it?", "Checks", "Warnings",
        "Residuals:", "Screening model",
    ]  # fmt: skip
    places = [text.index(item) for item in order]
    assert places == sorted(places)


def test_people_read_cubic_metres_per_hour_and_percent(result: Result) -> None:
    lines = [" ".join(line.split()) for line in terminal_table(result).splitlines()]
    assert "supply flow 1206 m3/h" in lines
    assert "bypass share 33.0 %" in lines
    assert "draw ratio 1.16" in lines
    assert not any(line.startswith("tube draw ratio") for line in lines)


def test_a_single_labelled_figure_is_not_shown_twice(result: Result) -> None:
    assert "front outflow [front]" not in terminal_table(result)
    two = {**quantities(), "front_outflow[side]": Quantity(0.01, "m3/s", "net flow")}
    assert "front outflow [front]" in terminal_table(replace(result, quantities=two))


def test_every_pressure_says_whether_an_instrument_can_show_it(result: Result) -> None:
    section = terminal_table(result).split("Can an instrument show it?")[1].split("Checks")[0]
    pressures = [name for name, item in result.quantities.items() if item.unit == "Pa"]
    for name in pressures:
        assert name.replace("_", " ") in section
    for name in pressures:
        meaning = summary_document(result)["quantities"][name]["meaning"]
        assert "phone barometer" in meaning


@pytest.mark.parametrize(
    ("pressure", "start"),
    [
        (0.3, "neither phone"),
        (-0.3, "neither phone"),
        (-6.0, "phone barometer"),
        (31.0, "manometer"),
    ],
)
def test_instrument_words_follow_the_size(pressure: float, start: str) -> None:
    # common practice, no source (a phone barometer resolves 1 Pa)
    assert reading_of("chamber_pressure", pressure).startswith(start)


def test_words_of_promise_never_appear(result: Result) -> None:
    text = terminal_table(result).lower()
    for word in ("safe", "certified", "compliant"):
        assert word not in text


def test_checks_use_the_three_states(result: Result) -> None:
    text = terminal_table(result)
    for state in ("met ", "not met ", "not shown "):
        assert f"\n  {state}" in text
    assert "the case states no limits" in terminal_table(replace(result, checks=()))


def test_network_alone_has_a_table_too() -> None:
    assert "network only" in terminal_table(network_only())


def test_table_is_plain_text(result: Result) -> None:
    assert terminal_table(result).isascii()
    assert max(len(line) for line in terminal_table(result).splitlines()) <= 140


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.45, "0.450"), (1206.04, "1206"), (0.0, "0"), (None, "-"), (float("nan"), "-"),
        (3.14e-13, "3.1e-13"), (-0.00031, "-0.000310"), (99.96, "100"), (1.0, "1.00"),
        (float("inf"), "unlimited"), (-12345.6, "-12346"),
    ],
)  # fmt: skip
def test_numbers_read_plainly(value: float | None, text: str) -> None:
    assert number(value) == text


def test_quantities_carry_their_unit() -> None:
    assert quantity_text("supply_flow", 0.125, "m3/s") == "450 m3/h"
    assert quantity_text("bypass_share[tray]", 0.25, "-") == "25.0 %"
    assert quantity_text("draw_ratio", 1.2, "-") == "1.20"
    assert quantity_text("draw_ratio", None, "-") == "-"
