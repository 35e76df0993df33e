from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from report.synthetic_result import build
from report.synthetic_transport import SIZES, transport, with_transport

from flowsim.report._json import json_text
from flowsim.report._kit import Picture
from flowsim.report._units import duration_text, percent, quantity_text, resolution_note
from flowsim.report.cautions import substance_cautions
from flowsim.report.clean_tables import size_rows
from flowsim.report.html import report_page
from flowsim.report.instruments import transport_readings
from flowsim.report.summary import summary_document, terminal_table
from flowsim.report.transport_tables import limit_rows, release_facts, tightest
from flowsim.simulate.result import Quantity, Result
from flowsim.simulate.transport_result import LimitCheck, ReleaseResult, Transport

HOSTILE = "<script>alert(\"x\")</script> & 'quotes' {{ 7 * 7 }}"
DANGER = LimitCheck(
    "NIOSH", "IDLH", "30 min escape", "1994", "seen", "", 50.0, 3.0, 60.0, "not shown"
)


@pytest.fixture(scope="module")
def result() -> Result:
    return with_transport(build((12, 6, 8)))


@pytest.fixture(scope="module")
def carried(result: Result) -> Transport:
    assert result.transport is not None
    return result.transport


def _words(text: str) -> str:
    return " ".join(text.split())


def _only(carried: Transport, **changes: object) -> Transport:
    return replace(carried, releases=(replace(carried.releases[1], **changes),))


def _with(result: Result, carried: Transport) -> Result:
    return replace(result, transport=carried)


@pytest.mark.parametrize(
    ("share", "text"),
    [
        (0.0, "0 %"), (0.123456, "12.3 %"), (0.0004, "0.040 %"), (3e-6, "0.00030 %"),
        (3e-8, "0.030 per million"), (3e-15, "<0.001 per million"), (0.99996, "99.996 %"),
        (0.9989, "99.9 %"), (1.0, "100 %"), (-0.0059, "-0.590 %"),
    ],
)  # fmt: skip
def test_neither_a_small_share_nor_a_small_rest_is_rounded_away(share: float, text: str) -> None:
    assert percent(share) == text


@pytest.mark.parametrize("digits", [2, 3])
def test_no_share_but_nothing_is_shown_as_nothing(digits: int) -> None:
    for power in range(1, 30):
        assert not percent(10.0**-power, digits).startswith("0 ")
        assert percent(1.0 - 10.0 ** -min(power, 7), digits) != "100 %"


@pytest.mark.parametrize(
    ("name", "value", "unit", "text"),
    [
        ("evaporation_rate", 2.5e-5, "kg/s", "25.0 mg/s"),
        ("iso_class_worst_size", 5e-7, "m", "0.500 um"),
        ("deposition_rate[mirror]", 1.0, "1/(m2 s)", "0.360 /(cm2 h)"),
        ("recovery_time", 300.0, "s", "5.00 min"),
        ("vapour_front_ppm", 7.1, "ppm", "7.10 ppm"),
        ("vapour_front_ppm", 1e-12, "ppm", "<0.000001 ppm"),
        ("iso_class", -math.inf, "-", "no particles"),
        ("lfl_share", 0.25, "-", "25.0 %"),
    ],
)
def test_figures_come_in_units_of_people(name: str, value: float, unit: str, text: str) -> None:
    assert quantity_text(name, value, unit) == text


@pytest.mark.parametrize(
    ("time", "text"), [(None, "-"), (13.1, "13.1 s"), (150.0, "2.50 min"), (9000.0, "2.50 h")]
)
def test_times_come_in_seconds_minutes_or_hours(time: float | None, text: str) -> None:
    assert duration_text(time) == text


def test_only_small_escape_shares_are_called_unresolved() -> None:
    words = "below what the model resolves (0.1 %)"
    assert resolution_note("vapour_escape_share[tray]", 9e-4) == words
    assert resolution_note("slit_escape_share", 9e-4) == words
    assert resolution_note("vapour_escape_share", 1e-3) == ""
    assert resolution_note("room_air_share", 1e-9) == ""
    assert resolution_note("vapour_escape_share", None) == ""


def test_answers_stand_before_the_figures(result: Result) -> None:
    text = terminal_table(result)
    short = text.split("In short\n")[1].split("\n\n")[0]
    answers = _words(short)
    assert "strip tray: less than 0.1 % of the vapour comes out into the room" in answers
    assert "rinse tray, wrongly in the open: 4.4 % of the vapour" in answers
    assert "2 of 6 published limits not met, 1.7 times the tightest" in answers
    assert "drying mirror: ISO 3" in answers
    assert "switching on: clean after 13.1 s" in answers
    assert text.index("In short") < text.index("What moves")


def test_each_release_and_workpiece_says_why(result: Result, carried: Transport) -> None:
    text = _words(terminal_table(result))
    for item in (*carried.releases, *carried.workpieces):
        assert item.why in text
    assert carried.recovery is not None
    assert carried.recovery.why in text


def test_shares_carry_three_states_and_what_half_and_double_do(result: Result) -> None:
    text = _words(terminal_table(result))
    assert "mean flow alone 0.030 %, at rest 0.40 %, in use 4.4 %" in text
    assert "eddies halved 1.9 %, doubled 10 %" in text
    assert "reversals at openings halved 4.3 %, doubled 4.6 %" in text
    assert "two schemes on this grid differ by 0.60 %" in text
    assert "in use 50 cm2/s" in text


def test_table_with_vapour_is_plain_text_without_promises(result: Result) -> None:
    text = terminal_table(result)
    assert text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 140
    assert not any(word in text.lower() for word in ("safe", "certified", "compliant"))


def test_terminal_shows_only_the_tightest_limits(result: Result) -> None:
    block = terminal_table(result).split("Where vapour goes: rinse tray")[1].split("\n\n")[0]
    assert sum(line.strip().startswith(("met", "not ")) for line in block.splitlines()) == 3
    assert "3 more in report.html and summary.json" in block


def test_the_tightest_limit_comes_first_and_each_number_once(carried: Transport) -> None:
    checks = carried.releases[1].checks
    ratios = [check.ratio for check in tightest(checks)]
    assert ratios == sorted(ratios, reverse=True)
    few = tightest(checks, 3)
    assert [check.limit for check in few] == [2.0, 5.0, 5.0]
    assert len({(check.limit, check.averaging) for check in few}) == 3


def test_concentrations_pretend_no_more_than_two_digits(carried: Transport) -> None:
    assert limit_rows((replace(DANGER, value=1334.0),))[0].value == "1300 ppm"
    piece = replace(carried.workpieces[0], concentration=np.array([8003.0, 17566.0, 0.0]))
    assert [row.concentration for row in size_rows(piece)] == ["8000/m3", "18000/m3", "0/m3"]


def test_danger_to_life_is_no_limit_to_work_at(carried: Transport) -> None:
    only = _only(carried, checks=(DANGER,)).releases[0]
    facts = dict(release_facts(only))
    assert facts["breathed"].startswith("not computed")
    assert facts["danger to life"].startswith("at worst 60 ppm of 50 ppm (NIOSH IDLH, 1994")


def test_limits_known_from_memory_are_marked(result: Result, carried: Transport) -> None:
    seen, recalled = DANGER, replace(DANGER, kind="TWA", status="from memory", year="2000")
    assert [row.from_memory for row in limit_rows((seen, recalled))] == [False, True]
    changed = _with(result, _only(carried, checks=(recalled,)))
    assert "TWA 30 min escape, 2000 [from memory]" in _words(terminal_table(changed))
    page = report_page(changed, (), "0")
    assert page.count('<span class="memory">from memory</span>') == 1


def test_a_room_that_is_not_stated_is_said(result: Result, carried: Transport) -> None:
    text = _words(terminal_table(_with(result, _only(carried, room=None, checks=()))))
    assert "needs room.volume and room.fresh_air" in text


def test_document_holds_releases_limits_and_workpieces(result: Result, carried: Transport) -> None:
    document = summary_document(result)
    assert json.loads(json_text(document)) == document
    part = document["transport"]
    tray = part["releases"][1]
    assert tray["escape"]["value"] == carried.releases[1].escape.value
    assert tray["escape"]["states"]["at rest"] == carried.releases[1].escape.at_rest
    assert set(tray["limits"][0]) >= {"publisher", "year", "limit", "value", "state", "ratio"}
    assert part["workpieces"][0]["causes"]["room air"][0] == pytest.approx(1.02e7 * 3e-8)
    assert part["recovery"]["time"] == 13.1
    assert set(part["recovery"]["shares"]) == {"drying mirror", "mirror blank at the front"}
    assert part["eddy"]["in use"] == 5e-3
    assert part["path_ends"] == ["opening front", "plate", "mirror blank at the front"]


def test_document_holds_no_long_arrays(result: Result, carried: Transport) -> None:
    room = carried.releases[1].room
    assert room is not None
    shown = summary_document(result)["transport"]["releases"][1]["room"]
    assert len(shown["times"]) < 70
    assert max(shown["near"]) == room.near.max()
    assert max(shown["near_highest"]) == room.near_highest.max()


def test_document_without_vapour_keeps_its_parts() -> None:
    assert "transport" not in summary_document(build((12, 6, 8)))


def test_no_particles_at_all_is_no_number_in_the_document(
    result: Result, carried: Transport
) -> None:
    piece = replace(carried.workpieces[0], iso_class=-math.inf, iso_class_highest=-math.inf)
    changed = _with(result, replace(carried, workpieces=(piece,)))
    assert summary_document(changed)["transport"]["workpieces"][0]["iso_class"] is None
    assert "class as a number no particles" in _words(terminal_table(changed))


def test_workpiece_without_dust_still_has_its_share_of_room_air(
    result: Result, carried: Transport
) -> None:
    empty = SIZES[:0]
    piece = replace(
        carried.workpieces[1], sizes=empty, concentration=empty, concentration_highest=empty,
        deposition=empty, causes={}, iso_class=None, iso_class_highest=None, worst_size=None,
        class_text="", cause="",
    )  # fmt: skip
    text = _words(terminal_table(_with(result, replace(carried, workpieces=(piece,)))))
    assert "not computed: the case says nothing on dust" in text
    assert "mirror blank at the front: 0.020 % room air" in text


def test_recovery_that_never_comes_is_said(result: Result, carried: Transport) -> None:
    assert carried.recovery is not None
    never = replace(carried, recovery=replace(carried.recovery, time=None))
    text = _words(terminal_table(_with(result, never)))
    assert "switching on: never down to 1/100" in text
    assert "never stays below a hundredth of the room's air" in text


def test_page_has_both_sections_before_the_key_figures(result: Result) -> None:
    page = report_page(result, (), "0")
    order = ["Where does vapour go?", "How clean is it?", "After switching on",
             "What these shares rest on", "Key figures"]  # fmt: skip
    places = [page.index(f">{word}") for word in order]
    assert places == sorted(places)


def test_page_shows_every_limit_with_publisher_and_year(result: Result, carried: Transport) -> None:
    page = report_page(_with(result, _only(carried)), (), "0")
    for check in carried.releases[1].checks:
        assert check.publisher in page
        assert check.year in page


def test_page_repeats_no_table_of_the_same_substance(result: Result, carried: Transport) -> None:
    twin = replace(carried.releases[1], label="second tray")
    page = report_page(
        _with(result, replace(carried, releases=(carried.releases[1], twin))), (), "0"
    )
    assert page.count("<th>Publisher</th>") == 1
    assert "the same table as for rinse tray, wrongly in the open" in page


def test_page_escapes_text_of_releases_and_workpieces(result: Result, carried: Transport) -> None:
    release = replace(
        carried.releases[1], label=HOSTILE, liquid=HOSTILE, why=HOSTILE, assumptions=(HOSTILE,),
        exits={HOSTILE: 1.0}, rates={HOSTILE: 1e-6},
        checks=(replace(DANGER, publisher=HOSTILE, note=HOSTILE, kind=HOSTILE),),
    )  # fmt: skip
    piece = replace(
        carried.workpieces[0], label=HOSTILE, why=HOSTILE, class_text=HOSTILE, cause=HOSTILE
    )
    changed = replace(
        carried, releases=(release,), workpieces=(piece,), tracked={HOSTILE: (1.0, 0.0)}
    )
    page = report_page(_with(result, changed), (), "0")
    assert "<script" not in page
    assert "{{ 7 * 7 }}" in page


def test_pictures_stand_in_their_section(result: Result) -> None:
    names = ("side_section", "escape_plan", "ingress_section")
    pictures = [Picture(name, name, f"reading of {name}", b"") for name in names]
    page = report_page(result, pictures, "0")
    places = [page.index(f"<figcaption>reading of {name}") for name in names]
    clean, figures = page.index("How clean is it?"), page.index("<h2>Pictures</h2>")
    assert places[1] < clean < places[2] < figures < places[0]


def test_page_of_vapour_without_releases_still_stands(result: Result, carried: Transport) -> None:
    bare = replace(carried, releases=(), workpieces=(), recovery=None, paths=(), tracked={})
    page = report_page(_with(result, bare), (), "0")
    assert "Where does vapour go?" not in page
    assert "What these shares rest on" in page
    assert "In short" not in terminal_table(_with(result, bare))


def _release(carried: Transport, substance: str) -> ReleaseResult:
    return replace(carried.releases[1], substance=substance, checks=(DANGER,))


@pytest.mark.parametrize(
    ("substance", "word"),
    [
        ("hydrogen fluoride", "calcium gluconate"), ("hydrogen chloride", "wet scrubber"),
        ("nitric acid", "organic"), ("ammonia", "silvering"), ("acetone", "ignition"),
        ("dichloromethane", "smell is no warning"), ("acetic acid", "hypochlorite"),
        ("toluene", "IDLH"),
    ],
)  # fmt: skip
def test_each_substance_brings_its_caution(
    result: Result, carried: Transport, substance: str, word: str
) -> None:
    only = replace(carried, releases=(_release(carried, substance),))
    assert word in report_page(_with(result, only), (), "0")
    assert "Mind the substances" in terminal_table(_with(result, only))


def test_cautions_stay_away_from_what_they_do_not_concern(carried: Transport) -> None:
    texts = " ".join(item.full for item in substance_cautions((_release(carried, "acetone"),)))
    for word in ("Hydrofluoric", "Strong acid", "silvering", "Dichloromethane", "Nitric"):
        assert word not in texts
    assert substance_cautions((_release(carried, "water"),)) == ()


def test_nitric_acid_beside_a_solvent_is_named_first(carried: Transport) -> None:
    both = (_release(carried, "nitric acid"), _release(carried, "acetone"))
    assert "nitric acid and acetone: separate them" in substance_cautions(both)[0].short
    assert "separate" not in substance_cautions(both[:1])[0].short


def test_a_cheap_counter_cannot_show_iso_5(carried: Transport) -> None:
    # ISO 14644-1: class 5 allows 3520 of 0.5 um and larger; 1/(0.1 L) = 10 000 per m3
    text = " ".join(text for text, _ in transport_readings(carried))
    assert "10000 particles per m3; ISO 5 allows 3520" in text


def test_air_to_sample_follows_the_class_at_the_workpiece(carried: Transport) -> None:
    # ISO 14644-1, rule of 20 counts from memory: class 5 at 0.5 um 5.68 L, class 3 571 L;
    # Poisson, 95 %: 3.00 expected counts, so 0.851 L without a count
    text = " ".join(text for text, _ in transport_readings(carried))
    assert "ISO 5 at 0.5 um and larger a counter draws 5.68 L" in text
    assert "ISO 3 at 0.5 um and larger a counter draws 571 L" in text
    assert "0.851 L without a single count" in text


def test_every_reading_says_where_it_comes_from(carried: Transport) -> None:
    readings = transport_readings(carried)
    assert len(readings) > 4
    assert all("no source" in source or "ISO 14644-1" in source for _, source in readings)


def test_governing_figures_of_vapour_lead_and_copies_stay_in_the_blocks(result: Result) -> None:
    more = {
        "vapour_escape_share": Quantity(4e-4, "-", "share"),
        "vapour_escape_share[a]": Quantity(4e-4, "-", "share"),
        "vapour_escape_share[b]": Quantity(4e-6, "-", "share"),
        "slit_escape_share": Quantity(2e-3, "-", "share"),
        "room_air_share": Quantity(2e-5, "-", "share"),
    }
    changed = replace(result, quantities={**result.quantities, **more})
    lines = [_words(line) for line in terminal_table(changed).splitlines()]
    assert "vapour escape share 0.040 % below what the model resolves (0.1 %)" in lines
    assert not any(line.startswith("vapour escape share [") for line in lines)
    where, clean = lines.index("Where vapour goes"), lines.index("How clean it is")
    assert where < lines.index("escape share, slit 0.200 %") < clean
    assert lines.index("room air share 0.0020 %") > clean
    meaning = summary_document(changed)["quantities"]["vapour_escape_share"]["meaning"]
    assert meaning.endswith("below what the model resolves (0.1 %)")


def test_synthetic_transport_fits_its_grid(result: Result, carried: Transport) -> None:
    assert result.field is not None
    assert transport(result.field.grid).age.shape == carried.age.shape
