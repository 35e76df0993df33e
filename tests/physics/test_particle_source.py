"""Emission of people and floors."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError, ValidityWarning
from flowsim.physics.air_cleaning import steady_concentration
from flowsim.physics.cleanroom_class import iso_limit
from flowsim.physics.particle_source import emissions, person_emission, resuspension

TABLE = rows("aerosol_emission.csv")
CLOTHES, GARMENTS = "indoor clothes", "cleanroom garments"


def test_table_is_complete() -> None:
    ours = [(item.smallest * 1e6, item.rate * 60.0) for item in emissions()]
    theirs = [(float(r["size_um"].lstrip(">=")), float(r["particles_per_min"])) for r in TABLE]
    # Whyte & Hejab 2007 read, web note weak, Austin 1966 from memory (aerosol_emission.csv)
    assert ours == [pytest.approx(pair, rel=1e-12) for pair in theirs]


@pytest.mark.parametrize("index", range(len(TABLE)))
def test_weak_rows_say_so(index: int) -> None:
    row, item = TABLE[index], emissions()[index]
    # aerosol_emission.csv, column status
    assert ("weak" in item.status) == ("weak" in row["status"])
    assert ("from memory" in item.status) == ("from memory" in row["status"])
    first = row["source"].split()[0]
    named = {"Whyte": "Whyte", "Austin": "Austin", "cleanroom": "note", "same": "note"}
    assert named[first] in item.source
    # the activity, where the row does not say "same"
    words = row["activity"].replace("own ", "").replace("/", ", ").split(", ")
    assert row["activity"] == "same" or words[0] in item.activity


def test_people_in_indoor_clothes_and_garments() -> None:
    # Whyte & Hejab 2007, per second computed (aerosol.md 4)
    assert person_emission(CLOTHES, 0.5e-6) == pytest.approx(35500.0, rel=1e-3)
    assert person_emission(CLOTHES, 5e-6) == pytest.approx(5530.0, rel=1e-3)
    assert person_emission(GARMENTS, 0.5e-6) == pytest.approx(17000.0, rel=1e-3)
    assert person_emission(GARMENTS, 5e-6) == pytest.approx(622.0, rel=1e-3)


def test_shed_dust_is_coarse() -> None:
    # same: ratios 6.4 and 27
    for clothing, ratio in ((CLOTHES, 6.4), (GARMENTS, 27.3)):
        shed = person_emission(clothing, 0.5e-6) / person_emission(clothing, 5e-6)
        assert shed == pytest.approx(ratio, rel=0.01)
        middle = person_emission(clothing, 1.5811388e-6)
        assert middle == pytest.approx(person_emission(clothing, 0.5e-6) / ratio**0.5, rel=0.01)


def test_what_a_clean_downflow_stands() -> None:
    # computed (aerosol.md 4): 0.225 m3/s, ISO 5 allows 792 /s, 2.2 % of a person
    allowed = 0.225 * (iso_limit(5.0, 0.5e-6) or 0.0)
    assert allowed == pytest.approx(792.0)
    assert steady_concentration(allowed, 0.225) == pytest.approx(3520.0)
    assert allowed / person_emission(CLOTHES, 0.5e-6) == pytest.approx(0.022, rel=0.02)


def test_walking_on_carpet() -> None:
    low, middle, high = resuspension(1e6, 2.0)
    # Qian et al. 2008 (aerosol.md 4): (1.4 +- 0.6)e-4 per hour
    assert middle * 3600.0 == pytest.approx(280.0)
    assert (low * 3600.0, high * 3600.0) == pytest.approx((160.0, 400.0))


def test_unknown_sources_are_refused() -> None:
    with pytest.raises(RangeError, match="clothing"):
        person_emission("armour", 1e-6)
    with pytest.raises(RangeError, match="diameter"):
        person_emission(CLOTHES, 0.0)
    with pytest.raises(RangeError, match="area"):
        resuspension(1.0, -1.0)


def test_other_sizes_warn() -> None:
    with pytest.warns(ValidityWarning, match="size in um 0.3"):
        person_emission(CLOTHES, 0.3e-6)
