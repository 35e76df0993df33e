from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest
from report.synthetic_result import case, network_only

from flowsim.case.schema import Case
from flowsim.plan.compare import compare
from flowsim.report.comparison import Comparison
from flowsim.report.comparison_text import comparison_table
from flowsim.report.write_comparison import comparison_document
from flowsim.simulate.result import Quantity, Result

PLAIN = network_only()
UNITS = {"recovery_time": "s", "vapour_front_ppm": "ppm"}
Pairs = Mapping[str, tuple[float | None, float | None]]


def _runner(values: Pairs) -> Callable[[Case], Result]:
    def run(item: Case) -> Result:
        index = ["a", "b"].index(item.title)
        figures = {
            name: Quantity(pair[index], UNITS.get(name, "-"), "meaning")
            for name, pair in values.items()
        }
        return replace(PLAIN, case=item, quantities=figures)

    return run


def _compared(values: Pairs) -> Comparison:
    """Return two cases that have only some key figures."""
    return compare([(title, case(title=title)) for title in "ab"], _runner(values))


@pytest.mark.parametrize(
    ("name", "values", "line"),
    [
        ("vapour_escape_share", (0.4, 0.1), "vapour escape share % 40.0 10.0 (x 0.25)"),
        ("vapour_escape_share", (1e-6, 0.2), "vapour escape share % 0.00010 20.0"),
        ("vapour_front_ppm", (7.0, 10.5), "vapour at the front ppm 7.00 10.5 (x 1.5)"),
        ("room_air_share", (1e-6, 0.2), "room air share % 0.00010 20.0 (x 2.0e+05)"),
        ("room_air_share", (0.0, 2e-3), "room air share % 0 0.200"),
        ("exposure_ratio", (None, 0.5), "exposure ratio - 0.500"),
        ("exposure_ratio", (0.5, None), "exposure ratio 0.500 -"),
        ("recovery_time", (100.0, 150.0), "recovery time s 100 150 (+50.0)"),
        ("recovery_time", (100.0, None), "recovery time s 100 -"),
        ("iso_class", (5.5, 5.0), "ISO class 5.50 5.00 (-0.500)"),
        ("iso_class", (5.5, -math.inf), "ISO class 5.50 no particles"),
    ],
)
def test_shares_are_compared_by_ratio_and_the_rest_by_difference(
    name: str, values: tuple[float | None, float | None], line: str
) -> None:
    text = comparison_table(_compared({name: values}))
    assert line in [" ".join(item.split()) for item in text.splitlines()]


def test_the_sign_of_a_ratio_is_explained_where_it_is_used() -> None:
    words = "with x how many times as much"
    assert words in comparison_table(_compared({"room_air_share": (1e-3, 2e-3)}))
    assert words not in comparison_table(_compared({"recovery_time": (1.0, 2.0)}))


def test_no_ratio_is_shown_to_an_escape_that_is_not_resolved() -> None:
    for values in ((9e-4, 0.2), (0.2, 9e-4)):
        assert "(x " not in comparison_table(_compared({"vapour_escape_share": values}))
    assert "(x 2.0)" in comparison_table(_compared({"vapour_escape_share": (0.1, 0.2)}))


def test_round_off_in_a_share_is_no_difference() -> None:
    text = comparison_table(_compared({"vapour_escape_share": (1e-17, 3e-15)}))
    assert "Same to three digits in every case: vapour escape share." in text


def test_document_of_a_comparison_holds_ratios() -> None:
    comparison = _compared({"room_air_share": (2e-6, 1e-6), "iso_class": (None, 4.0)})
    rows = {row["name"]: row for row in comparison_document(comparison)["rows"]}
    assert rows["room_air_share"]["ratios"] == [1.0, 0.5]
    assert rows["iso_class"]["ratios"] == [None, None]
