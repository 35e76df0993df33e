"""Values of practice for hoods and cabinets."""

from __future__ import annotations

from reference_data import rows

from flowsim.physics.hood_practice import practice_values


def test_table() -> None:
    found = [
        (value.item, value.value, value.unit, value.metric, value.source, value.status)
        for value in practice_values()
    ]
    # standards and handbooks named in each row (vapour_hood_numbers.csv)
    assert found == [tuple(row.values()) for row in rows("vapour_hood_numbers.csv")]


def test_values_are_found_by_a_word() -> None:
    assert {value.unit for value in practice_values("CAPTURE velocity")} == {"m/s", "ft/min"}
    assert practice_values("no such thing") == ()
