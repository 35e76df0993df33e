"""Classes of ISO 14644-1: every cell, the empty ones too."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.cleanroom_class import (
    BLANK_REASONS,
    allowed_share,
    cleanliness,
    iso_blank,
    iso_class_number,
    iso_concentration,
    iso_limit,
)

TABLE = rows("aerosol_iso14644_1.csv")
HALVES = rows("aerosol_iso_intermediate.csv")
SIZES_UM = ("0.1", "0.2", "0.3", "0.5", "1", "5")


def _ids(table: list[dict[str, str]]) -> list[str]:
    return ["-".join(list(row.values())[:2]) for row in table]


PRINTED = [row for row in TABLE if row["limit_2015"]]


@pytest.mark.parametrize("row", TABLE, ids=_ids(TABLE))
def test_every_cell(row: dict[str, str]) -> None:
    number, size = int(row["iso_class"]), float(row["size_um"]) * 1e-6
    limits = {2015: row["limit_2015"], 1999: row["limit_1999"]}
    for edition, printed in limits.items():
        # ISO 14644-1:2015 and 1999, table 1 (aerosol_iso14644_1.csv)
        assert iso_limit(number, size, edition) == (float(printed) if printed else None)
        assert (iso_blank(number, size, edition) is None) == bool(printed)
    # same: the formula, six digits and rounded
    assert iso_concentration(number, size) == pytest.approx(float(row["formula_exact"]), rel=5e-6)
    assert iso_limit(number, size, None) == float(row["formula_rounded_3sf"])


@pytest.mark.parametrize("row", TABLE, ids=_ids(TABLE))
def test_every_blank_has_its_reason(row: dict[str, str]) -> None:
    blank = iso_blank(int(row["iso_class"]), float(row["size_um"]) * 1e-6)
    # ISO 14644-1:2015, note letters of table 1 (aerosol_iso14644_1.csv)
    assert (blank.letters if blank else "") == row["blank_2015"]
    if blank:
        assert blank.reasons == tuple(BLANK_REASONS[x] for x in row["blank_2015"].split())


@pytest.mark.parametrize("row", HALVES, ids=[row["iso_class"] for row in HALVES])
def test_intermediate_classes(row: dict[str, str]) -> None:
    for size in SIZES_UM:
        # computed, rounded (aerosol_iso_intermediate.csv)
        limit = iso_limit(float(row["iso_class"]), float(size) * 1e-6)
        assert limit == float(row[f"ge_{size}um"])


@settings(deadline=None, max_examples=80, derandomize=True)
@given(number=st.floats(1.0, 9.0), size=st.floats(0.1e-6, 5e-6))
def test_class_number_inverts_the_limit(number: float, size: float) -> None:
    # definition
    value = iso_class_number(iso_concentration(number, size), size)
    assert value == pytest.approx(min(number, 9.0), abs=1e-9)


def test_grade_a() -> None:
    # EU medicines guide, quoted as 4.8 (aerosol.md 1): 20 /m3 at 5 um is 4.83
    assert iso_class_number(20.0, 5e-6) == pytest.approx(4.83, abs=0.005)


def test_worst_size_decides() -> None:
    air = cleanliness({0.5e-6: 3000.0, 1e-6: 900.0, 0.2e-6: 10.0})
    # ISO 14644-1: 900 above 832 at 1 um, below 2630
    assert air.worst_size == 1e-6
    assert air.label == "ISO 5.5"
    assert air.number == pytest.approx(iso_class_number(900.0, 1e-6))
    assert air.doubts == ()


@pytest.mark.parametrize("row", PRINTED, ids=_ids(PRINTED))
def test_printed_limit_meets_its_class(row: dict[str, str]) -> None:
    size, limit = float(row["size_um"]) * 1e-6, float(row["limit_2015"])
    # ISO 14644-1: a limit is allowed, one particle more is not
    assert cleanliness({size: limit}).label == f"ISO {row['iso_class']}"
    above = cleanliness({size: limit * 1.002 + 1.0}).label
    step = f"ISO {int(row['iso_class']) + 0.5:g}"
    assert above == (step if row["iso_class"] != "9" else "beyond ISO 9")


def test_doubts_are_told() -> None:
    # ISO 14644-1:2015: class 5 has no limit at 5 um
    assert "no limit at 5 um" in cleanliness({5e-6: 25.0}).doubts[0]
    assert "macro-particle" in cleanliness({5e-6: 25.0}).doubts[0]
    assert "outside 0.1 to 5 um" in cleanliness({10e-6: 25.0}).doubts[0]
    assert "beyond" in cleanliness({0.5e-6: 1e9}).doubts[0]
    nothing = cleanliness({0.5e-6: 0.0})
    assert nothing.number == -math.inf
    assert nothing.label == "ISO 1"


def test_share_of_room_air() -> None:
    # own derivation (aerosol.md 1): ISO 5 in ISO 9 air 1e-4, in ISO 8 air 1e-3
    assert allowed_share(5.0, 9.0) == pytest.approx(1e-4)
    assert allowed_share(5.0, 8.0) == pytest.approx(1e-3)
    assert allowed_share(9.0, 5.0) == 1.0
    # own: for every size
    for size in (0.1e-6, 0.5e-6, 5e-6):
        assert iso_concentration(9.0, size) * allowed_share(5.0, 9.0) == pytest.approx(
            iso_concentration(5.0, size)
        )


def test_room_air_against_the_cleanest_class() -> None:
    # common practice, no source: about a million
    ratio = (iso_limit(9.0, 0.5e-6) or 0.0) / (iso_limit(3.0, 0.5e-6) or 1.0)
    assert ratio == pytest.approx(1e6, rel=0.01)
    # same, the other way round: how little of it may come in
    assert allowed_share(3.0, 9.0) == pytest.approx(1e-6)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: iso_limit(0.5, 1e-6), "class_number"),
        (lambda: iso_limit(10.0, 1e-6), "class_number is 10"),
        (lambda: iso_limit(5.0, 10e-6), "diameter is 1"),
        (lambda: iso_limit(5.0, 1e-6, 2020), "edition is 2020"),
        (lambda: iso_blank(5.0, 1e-6, 2020), "edition"),
        (lambda: iso_concentration(5.0, 0.0), "diameter"),
        (lambda: iso_concentration(math.nan, 1e-6), "class_number is nan"),
        (lambda: iso_class_number(-1.0, 1e-6), "concentration"),
        (lambda: iso_class_number(1.0, -1e-6), "diameter is -"),
        (lambda: cleanliness({}), "empty"),
        (lambda: cleanliness({0.0: 1.0}), "size"),
        (lambda: cleanliness({1e-6: math.nan}), "concentration is nan"),
        (lambda: allowed_share(math.inf, 5.0), "target"),
    ],
)
def test_impossible_classes_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: iso_concentration(5.0, 10e-6), "size"),
        (lambda: iso_concentration(9.5, 1e-6), "class"),
        (lambda: iso_class_number(1.0, 0.05e-6), "size in um 0.05"),
        (lambda: iso_class_number(1e9, 1e-6), "class 11"),
    ],
)
def test_extrapolation_warns(call, match: str) -> None:
    with pytest.warns(ValidityWarning, match=match):
        call()
