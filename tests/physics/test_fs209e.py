"""Classes of FS 209E and their relation to ISO 14644-1."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.cleanroom_class import cleanliness, iso_class_number
from flowsim.physics.fs209e import CUBIC_FOOT, fs209e_limit, fs209e_limits, fs209e_power_law

TABLE = rows("aerosol_fs209e.csv")
POWER_LAW = "power_law_per_ft3_Nc_(0.5/d)^2.2"


@pytest.mark.parametrize("row", TABLE)
def test_table(row: dict[str, str]) -> None:
    name, size = int(row["fs209e_class"]), float(row["size_um"]) * 1e-6
    limit = fs209e_limit(name, size)
    # FS 209E, two stored tables (aerosol_fs209e.csv)
    assert limit.per_cubic_foot == float(row["limit_per_ft3"])
    assert limit.metric_name == row["metric_name"]
    # computed (same file), six digits
    assert limit.concentration == pytest.approx(float(row["limit_per_m3"]), rel=5e-6)
    number = iso_class_number(limit.concentration, size)
    assert number == pytest.approx(float(row["equivalent_iso_N"]), abs=6e-6)
    # power law from memory, plausibility only: within 10 %
    power = fs209e_power_law(name, size)
    assert power == pytest.approx(float(row[POWER_LAW]), rel=5e-6)
    assert power == pytest.approx(limit.per_cubic_foot, rel=0.1)


def test_table_is_complete() -> None:
    assert len(fs209e_limits()) == len(TABLE)


@pytest.mark.parametrize(
    ("name", "number"), [(1, 3), (10, 4), (100, 5), (1000, 6), (10000, 7), (100000, 8)]
)
def test_scales_agree_at_half_a_micron(name: int, number: int) -> None:
    limit = fs209e_limit(name)
    # ISO 14644-1 and FS 209E (aerosol.md 1): equal at 0.5 um, exact N 0.002 above
    assert limit.iso_class == number
    assert iso_class_number(limit.concentration, 0.5e-6) == pytest.approx(number + 0.002, abs=5e-4)


def test_class_100_per_foot_and_per_metre() -> None:
    limit = fs209e_limit(100)
    # common practice, no source (field.md F36): 3531 per m3, ISO 5.00, not 100 000
    assert limit.concentration == pytest.approx(3531.0, abs=0.5)
    assert iso_class_number(limit.concentration, 0.5e-6) == pytest.approx(5.0, abs=0.005)
    assert 1e5 / limit.concentration == pytest.approx(28.3, abs=0.1)
    # exact: 3531 is above the printed 3520
    assert cleanliness({0.5e-6: limit.concentration}).label == "ISO 5.5"
    # exact conversion (aerosol.md 1)
    assert pytest.approx(0.0283168, abs=5e-8) == CUBIC_FOOT


@pytest.mark.parametrize(
    ("name", "size", "match"),
    [(50, 0.5e-6, "class_name"), (100, 0.1e-6, "limits at 0.2"), (1, 5e-6, "class 1 has limits")],
)
def test_cells_that_do_not_exist(name: int, size: float, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        fs209e_limit(name, size)


def test_power_law_beyond_its_sizes_warns() -> None:
    with pytest.warns(ValidityWarning, match="size"):
        fs209e_power_law(100.0, 10e-6)
    with pytest.raises(RangeError, match="class_name"):
        fs209e_power_law(0.0, 1e-6)
