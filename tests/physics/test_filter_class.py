"""Filter classes against the table of the standards."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.filter_class import filter_class, filter_classes

TABLE = rows("aerosol_filter_classes.csv")


@pytest.mark.parametrize("row", TABLE)
def test_class_table(row: dict[str, str]) -> None:
    for name in filter(None, (row["en1822"], row["iso29463"])):
        found = filter_class(name)
        # EN 1822-1, ISO 29463-1, secondary tables (aerosol_filter_classes.csv)
        assert (found.european, found.international) == (row["en1822"], row["iso29463"])
        assert found.penetration == pytest.approx(float(row["integral_pen_pct"]) / 100.0, rel=1e-9)
        assert 1.0 - found.penetration == pytest.approx(
            float(row["integral_eff_pct"]) / 100.0, rel=1e-12
        )
        if row["local_pen_pct"]:
            assert found.local_penetration == pytest.approx(
                float(row["local_pen_pct"]) / 100.0, rel=1e-9
            )
            assert found.local_penetration / found.penetration == pytest.approx(
                float(row["local_over_integral_pen"]), rel=1e-9
            )
            assert 1.0 - found.local_penetration == pytest.approx(
                float(row["local_eff_pct"]) / 100.0, rel=1e-12
            )
        else:
            assert found.local_penetration is None


def test_table_is_complete_and_in_order() -> None:
    shares = [item.penetration for item in filter_classes()]
    # EN 1822-1, ISO 29463-1 (aerosol_filter_classes.csv)
    assert len(shares) == len(TABLE)
    assert shares == sorted(shares, reverse=True)


def test_five_of_a_million() -> None:
    # common practice, no source: rated 99.9995 %, five of a million pass at the rated size
    assert filter_class("U15").penetration * 1e6 == pytest.approx(5.0, rel=1e-12)


@pytest.mark.parametrize("name", ["h14", "ISO 45 H", "iso45h", "45H", " 45 h "])
def test_spellings(name: str) -> None:
    assert filter_class(name).european == "H14"


def test_unknown_class_gives_the_nearest() -> None:
    with pytest.raises(RangeError, match=r"filter class 'H15'.*nearest.*H1"):
        filter_class("H15")
