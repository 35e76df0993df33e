"""The shipped cases of vapour and dust tell their stories."""

from __future__ import annotations

import numpy as np
import pytest
from case_runs import (
    FILES,
    FOLDER,
    figure,
    release_of,
    result_of,
    states,
    transport_of,
    workpiece_of,
)

from flowsim.simulate.shares import RESOLVED

BENCH = "mirror_bench.toml"
OPEN = "mirror_bench_open_tray.toml"
STRONG = "mirror_bench_strong_exhaust.toml"
WEAK = "mirror_bench_weak_exhaust.toml"
HAZARD = "concentrated_acid_open_tray.toml"
SILVER = "silvering_bench.toml"
WIPE = "acetone_wipe.toml"
HOOD = "collimator_hood.toml"
WITH_RELEASES = (BENCH, OPEN, STRONG, WEAK, HAZARD, SILVER, WIPE)
WITH_DUST = (BENCH, OPEN, STRONG, WEAK, SILVER, HOOD)
DANGER = "IDLH"  # no limit to work at, so it is no verdict on a working day


@pytest.mark.parametrize("name", WITH_RELEASES)
def test_all_vapour_of_a_shipped_case_leaves_somewhere(name: str) -> None:
    """Shares over all exits add to 1, and each release says why in a sentence."""
    for item in transport_of(name).releases:
        assert sum(item.exits.values()) == pytest.approx(1.0, abs=1e-8)
        assert item.why.endswith(".")
        assert item.rate > 0.0
        assert item.filled < 1.0
        assert item.checks


@pytest.mark.parametrize("name", WITH_DUST)
def test_dust_of_a_shipped_case_is_told_by_size_and_cause(name: str) -> None:
    """Three sizes, larger ones rarer; the causes add up and the first of them is named."""
    for piece in transport_of(name).workpieces:
        assert piece.sizes.size == 3
        assert np.all(np.diff(piece.concentration) < 0.0)
        whole = np.sum(list(piece.causes.values()), axis=0)
        assert whole == pytest.approx(piece.concentration, rel=1e-6)
        assert piece.worst_size is not None
        worst = int(np.argmin(np.abs(piece.sizes - piece.worst_size)))
        first = max(piece.causes, key=lambda cause: piece.causes[cause][worst])
        assert piece.cause == first
        assert piece.iso_class is not None
        assert piece.iso_class_highest is not None
        assert piece.iso_class <= piece.iso_class_highest
        assert piece.why.endswith(".")


def test_every_case_is_among_those_with_or_without_vapour() -> None:
    """A case that is added is judged here too."""
    named = {name for name in FILES if "[[releases]]" in (FOLDER / name).read_text("utf-8")}
    assert named == set(WITH_RELEASES)
    named = {name for name in FILES if "[dust]" in (FOLDER / name).read_text("utf-8")}
    assert named == set(WITH_DUST)


def test_covered_tray_lets_nothing_out_that_could_be_told() -> None:
    """The compartment takes its vapour, whatever is assumed of the eddies."""
    bath = release_of(BENCH, "strip bath")
    assert bath.escape.highest < RESOLVED
    assert bath.exits["compartment strip tray"] > 0.999
    assert states(BENCH)["vapour_escape_share[strip bath]"] == "met"


def test_open_tray_lets_out_ten_times_what_the_compartment_lets_out() -> None:
    """The same bath without its cover."""
    covered, opened = release_of(BENCH, "strip bath"), release_of(OPEN, "strip bath")
    assert opened.escape.value > 10.0 * covered.escape.highest
    assert opened.escape.value > 10.0 * RESOLVED
    assert opened.front_ppm > 10.0 * covered.front_ppm_highest
    assert states(OPEN)["vapour_escape_share[strip bath]"] != "met"


def test_strong_exhaust_draws_the_dust_of_the_room_in() -> None:
    """More exhaust than supply means room air inside."""
    # common practice, no source
    assert figure(STRONG, "front_inflow_share") == pytest.approx(1.0)
    mirror, usual = workpiece_of(STRONG, "rinsed mirror"), workpiece_of(BENCH, "rinsed mirror")
    assert mirror.room_air.value > 0.01
    assert mirror.room_air.value > 1e3 * usual.room_air.value
    assert mirror.cause == "room air"
    assert mirror.iso_class is not None
    assert usual.iso_class is not None
    assert mirror.iso_class > usual.iso_class + 1.0
    assert states(STRONG)["iso_class[rinsed mirror]"] == "not met"


def test_strong_exhaust_spoils_what_is_nearer_to_the_front_first() -> None:
    """Room air thins out with the way from the front."""
    near, far = workpiece_of(STRONG, "rinsed mirror"), workpiece_of(STRONG, "drying blank")
    assert near.room_air.value > 10.0 * far.room_air.value


def test_strong_exhaust_never_gets_clean_but_lets_no_vapour_out() -> None:
    """What it costs and what it buys."""
    assert result_of(STRONG)["recovery_time"] is None
    assert states(STRONG)["recovery_time"] != "met"
    for item in transport_of(STRONG).releases:
        assert item.escape.highest < RESOLVED


def test_strong_exhaust_shows_no_cleanliness_as_met() -> None:
    """Room air enters as a jet, which the model does not follow."""
    judged = {key: state for key, state in states(STRONG).items() if key.startswith("iso_class")}
    judged |= {k: v for k, v in states(STRONG).items() if k.startswith("room_air_share")}
    assert len(judged) == 4
    assert "met" not in judged.values()


def test_weak_exhaust_brings_vapour_to_the_person() -> None:
    """What stands open on the plate comes out; nothing was changed but the fan."""
    drip = release_of(WEAK, "wet mirror")
    assert drip.escape.value > 0.05
    assert drip.escape.value > 100.0 * release_of(BENCH, "wet mirror").escape.value
    assert states(WEAK)["vapour_escape_share[wet mirror]"] == "not met"
    assert states(WEAK)["front_velocity_max"] == "not met"


def test_weak_exhaust_loosens_even_the_covered_tray() -> None:
    """Less suction, slower inflow at the slit, more that gets out against it."""
    assert states(WEAK)["compartment_pressure"] == "not met"
    weak, usual = release_of(WEAK, "strip bath"), release_of(BENCH, "strip bath")
    assert weak.slit is not None
    assert usual.slit is not None
    assert weak.slit.value > 10.0 * usual.slit.value
    assert weak.escape.value < 0.1 * release_of(WEAK, "wet mirror").escape.value


def test_weak_exhaust_keeps_the_mirrors_clean() -> None:
    """A front that blows out harder lets less room air in."""
    for label in ("rinsed mirror", "drying blank"):
        weak, usual = workpiece_of(WEAK, label), workpiece_of(BENCH, label)
        assert weak.room_air.value < usual.room_air.value
        assert weak.iso_class is not None
        assert usual.iso_class is not None
        assert weak.iso_class <= usual.iso_class + 1e-3
        assert states(WEAK)[f"iso_class[{label}]"] == "met"


def test_no_verdict_of_the_hazard_demonstration_is_met() -> None:
    """Neither a limit of the case nor a published one."""
    judged = states(HAZARD)
    assert {"vapour_escape_share", "vapour_front_ppm", "exposure_ratio"} <= set(judged)
    assert "met" not in judged.values()
    assert "not met" in judged.values()
    acid = release_of(HAZARD, "strip bath")
    assert "met" not in {check.state for check in acid.checks}
    assert acid.exposure_ratio is not None
    assert acid.exposure_ratio > 10.0


def test_strong_acid_gives_off_thousands_of_times_what_dilute_acid_does() -> None:
    """Partial pressure of the fuming acid against that of the bath."""
    # common practice, no source: 36 % acid fumes, 10 % acid does not
    dilute, fuming = release_of(OPEN, "strip bath"), release_of(HAZARD, "strip bath")
    assert fuming.rate > 1e3 * dilute.rate


def test_hazard_demonstration_warns_where_it_is_read() -> None:
    """In the file's head and in its note, which goes into every report."""
    text = (FOLDER / HAZARD).read_text(encoding="utf-8")
    head = " ".join(text.split("format = 1")[0].replace("#", " ").split())
    for words in ("never to be tried", "fume cupboard", "Never alone", "bleach", "cover the dish"):
        assert words in head
    note = result_of(HAZARD).case.note.lower()
    assert "never do this" in note
    assert "fume cupboard" in note


def test_silvering_bath_in_its_hood_sends_its_ammonia_to_the_exhaust() -> None:
    """Own pipe, so it does not even pass the plate."""
    bath = release_of(SILVER, "silvering bath")
    assert bath.substance == "ammonia"
    assert bath.exits["compartment silvering hood"] > 0.999
    assert bath.escape.highest < RESOLVED
    judged = [check for check in bath.checks if check.kind != DANGER]
    assert {check.state for check in judged} == {"met"}
    assert {"explosive"} <= set((FOLDER / SILVER).read_text(encoding="utf-8").split())


def test_acetone_wipe_stays_far_below_burning_in_the_duct_only() -> None:
    """The exhaust dilutes it; right over the cloth the air may burn all the same."""
    wipe = release_of(WIPE, "wipe")
    assert wipe.rate_factor == 1.0
    assert not wipe.rates
    assert wipe.lfl_share is not None
    assert wipe.lfl_share_highest is not None
    assert 0.001 < wipe.lfl_share <= wipe.lfl_share_highest < 0.1
    assert states(WIPE)["lfl_share"] == "met"
    assert "burn whatever the exhaust" in (FOLDER / WIPE).read_text(encoding="utf-8")


def test_hood_without_exhaust_lets_everything_out_by_the_front() -> None:
    """No exhaust means that vapour comes out of the front."""
    # common practice, no source
    escape = transport_of(HOOD).escape.in_use
    assert np.nanmin(escape) == pytest.approx(1.0, abs=1e-6)
    assert np.nanmax(escape) == pytest.approx(1.0, abs=1e-6)
    assert figure(HOOD, "surface_escape_share") == pytest.approx(1.0, abs=1e-6)


def test_hood_is_cleaner_on_the_collimator_than_beside_the_arms() -> None:
    """The lens sees filtered air, the flat mirror what the arms give off."""
    lens, flat = workpiece_of(HOOD, "lens"), workpiece_of(HOOD, "flat mirror")
    assert (lens.cause, flat.cause) == ("filter", "forearms")
    assert np.all(flat.concentration > lens.concentration)
    assert lens.iso_class is not None
    assert flat.iso_class is not None
    assert flat.iso_class > lens.iso_class
