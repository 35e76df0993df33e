"""Flammable limits: table, saturation over it, air to thin it."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.flammability import (
    dilution_flow,
    flammable_ranges,
    lower_flammable_limit,
    share_of_lower_limit,
)
from flowsim.physics.substances import substance
from flowsim.physics.vapour import molar_volume

ROWS = rows("vapour_flammability.csv")
ROOM = 293.15
KEYS = {"IEC 60079-20-1:2010": "IEC", "NFPA 497:2008": "NFPA", "Wikidata": "wikidata"}


def _share(text: str) -> float | None:
    return float(text) / 100.0 if text else None


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["substance"])
def test_table(row: dict[str, str]) -> None:
    found = {item.publisher: item for item in flammable_ranges(row["CAS"])}
    for publisher, key in KEYS.items():
        lower, upper = _share(row[f"LFL_{key}_percent"]), _share(row[f"UFL_{key}_percent"])
        if lower is None and upper is None:
            assert publisher not in found
            continue
        # IEC 60079-20-1:2010, NFPA 497:2008 in chemicals 1.5.2 (vapour_flammability.csv)
        assert (found[publisher].lower, found[publisher].upper) == (lower, upper)
    if row["flash_point_IEC_C"]:
        point = found["IEC 60079-20-1:2010"].flash_point
        assert point == pytest.approx(float(row["flash_point_IEC_C"]) + 273.15)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["substance"])
def test_saturation_and_dilution(row: dict[str, str]) -> None:
    item = substance(row["CAS"])
    limit = lower_flammable_limit(row["CAS"])
    saturated = min(item.vapour_pressure(ROOM) / 101325.0, 1.0)
    # own computation, 20 C (vapour_flammability.csv), four digits
    assert saturated * 100.0 == pytest.approx(float(row["saturated_vapour_percent_20C"]), rel=1e-3)
    if item.name == "ammonia":
        # its row divides the pressure over the liquid, 8.46 atm, by the limit
        over = item.vapour_pressure(ROOM) / 101325.0 / limit
    else:
        over = share_of_lower_limit(saturated * 1e6, row["CAS"])
    assert over == pytest.approx(float(row["saturated_over_lowest_LFL"]), rel=2e-3)
    volume = 0.05e-3 / item.molar_mass * molar_volume(ROOM) * 3600.0
    assert volume == pytest.approx(float(row["vapour_m3_h_for_0.05_g_s"]), rel=1e-3)
    for percent in (25, 10):
        flow = dilution_flow(0.05e-3, row["CAS"], percent / 100.0, ROOM) * 3600.0
        assert flow == pytest.approx(float(row[f"air_m3_h_to_{percent}_percent_LFL"]), rel=1e-3)


@pytest.mark.parametrize("name", ["HF", "HCl", "nitric acid", "water"])
def test_what_does_not_burn(name: str) -> None:
    assert flammable_ranges(name) == ()
    with pytest.raises(RangeError, match="no flammable limit"):
        lower_flammable_limit(name)


def test_acetone_tray_in_the_exhaust() -> None:
    # own computation (vapour.md 5.3): 741 ppm is 3.0 % of the limit
    assert share_of_lower_limit(741.0, "acetone") == pytest.approx(0.030, abs=5e-4)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: share_of_lower_limit(-1.0, "acetone"), "parts_per_million"),
        (lambda: dilution_flow(1.0, "acetone", 0.0, ROOM), "share"),
        (lambda: dilution_flow(1.0, "acetone", 25.0, ROOM), "share is 25"),
        (lambda: lower_flammable_limit("aceton"), "nearest: acetone"),
    ],
)
def test_impossible_arguments_are_refused(call, match: str) -> None:
    with pytest.raises(RangeError, match=match):
        call()
