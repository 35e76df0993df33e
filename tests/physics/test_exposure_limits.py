"""Exposure limits: complete, cited, and the right ones chosen."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.exposure_limits import applicable_limits, published_limits
from flowsim.physics.substances import substance

ROWS = rows("vapour_limits.csv")
SUBSTANCES = sorted({row["CAS"] for row in ROWS})


def _number(text: str) -> float | None:
    return float(text) if text else None


@pytest.mark.parametrize("cas", SUBSTANCES)
def test_table(cas: str) -> None:
    expected = [row for row in ROWS if row["CAS"] == cas]
    found = published_limits(cas)
    assert len(found) == len(expected)
    for limit, row in zip(found, expected, strict=True):
        # publisher, year and status in each row (vapour_limits.csv)
        assert (limit.publisher, limit.kind) == (row["publisher_and_list"], row["kind"])
        assert limit.averaging_text == row["averaging_time"]
        assert limit.ppm == _number(row["ppm"])
        printed = None if limit.printed is None else limit.printed * 1e6
        assert printed == pytest.approx(_number(row["mg_m3_as_published"]))
        assert (limit.year, limit.note, limit.status) == (row["year"], row["note"], row["status"])
        if limit.ppm is not None:
            own = limit.mass_concentration(298.15)
            # computed at 25 C (vapour_limits.csv), three digits
            assert own is not None
            assert own * 1e6 == pytest.approx(float(row["mg_m3_computed_25C"]), rel=6e-3)


def test_all_rows_are_there() -> None:
    assert sum(len(published_limits(cas)) for cas in SUBSTANCES) == len(ROWS) == 111


@pytest.mark.parametrize("cas", SUBSTANCES)
def test_every_row_is_cited(cas: str) -> None:
    for limit in published_limits(cas):
        assert limit.publisher
        assert limit.kind
        assert limit.status.startswith(
            ("seen", "from memory", "rule seen", "20 ppm seen", "500 ppm")
        )
        # a row without a limit may say "none known" without a year, and then says so
        assert limit.year or (limit.ppm is None and limit.note)


def test_limits_stand_in_the_sources_of_the_law() -> None:
    publishers = {limit.publisher for cas in SUBSTANCES for limit in published_limits(cas)}
    known = ("OSHA", "NIOSH", "ACGIH", "EU IOELV", "Cal/OSHA", "EPA TSCA", "Ontario")
    # the publishers that the docstring of ExposureLimit names with a label each
    assert all(name.startswith(known) for name in publishers)
    assert {name for name in known if any(x.startswith(name) for x in publishers)} == set(known)


def test_averaging_time_of_a_long_shift() -> None:
    found = {(limit.publisher, limit.kind): limit for limit in applicable_limits("acetone")}
    # NIOSH, recommended limits are means of up to 10 h (vapour_limits.csv)
    assert found["NIOSH REL", "TWA"].averaging_time == 36000.0


@pytest.mark.parametrize("cas", SUBSTANCES)
def test_every_applicable_limit_has_publisher_kind_and_number(cas: str) -> None:
    found = applicable_limits(cas)
    assert found
    for limit in found:
        assert limit.publisher
        assert limit.year
        assert limit.kind in {"TWA", "STEL", "ceiling", "peak", "IDLH"}
        assert limit.ppm is not None
        assert "SUPERSEDED" not in limit.note
    assert [limit.ppm for limit in found] == sorted(limit.ppm or 0.0 for limit in found)


def test_replaced_and_proposed_limits_do_not_apply() -> None:
    all_of, used = published_limits("HF"), applicable_limits("HF")
    # vapour_limits.csv: one ceiling replaced, two proposals
    assert len(all_of) - len(used) == 3
    assert used[0].ppm == 0.5
    assert not any("proposal" in limit.publisher for limit in used)


def test_averaging_times() -> None:
    found = {(limit.publisher[:4], limit.kind): limit for limit in applicable_limits("toluene")}
    # 29 CFR 1910.1000 and others (vapour_limits.csv)
    assert found["OSHA", "TWA"].averaging_time == 8 * 3600.0
    assert found["OSHA", "ceiling"].averaging_time == 0.0
    assert found["OSHA", "peak"].averaging_time == 600.0
    assert found["NIOS", "STEL"].averaging_time == 900.0
    assert found["NIOS", "IDLH"].averaging_time == 0.0


def test_european_lists_use_another_temperature() -> None:
    found = {limit.publisher: limit for limit in applicable_limits("acetone")}
    european, american = found["EU IOELV 2000/39/EC"], found["OSHA PEL 29 CFR 1910.1000 Z-1"]
    assert (european.reference_temperature, american.reference_temperature) == (293.15, 298.15)
    mass = european.mass_concentration()
    # 2000/39/EC prints 1210 mg/m3 (vapour_limits.csv, from memory), 20 C (vapour.md 2)
    assert mass is not None
    assert mass * 1e6 == pytest.approx(1210.0, rel=3e-3)


def test_no_limit_is_not_zero() -> None:
    none = [limit for limit in published_limits("DCM") if limit.kind == "none"]
    assert [limit.publisher for limit in none] == ["NIOSH REL"]
    assert none[0].mass_concentration() is None
    assert not none[0].applies
    assert published_limits("water") == ()


def test_unknown_substance_gets_the_nearest() -> None:
    with pytest.raises(RangeError, match=f"nearest: .*{substance('toluene').name}"):
        applicable_limits("tolune")
