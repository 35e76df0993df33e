"""Cleanliness at the workpiece: filter, leaks, room air, sources, what lands."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from dusty import HANDS, MIRROR, carrier, judged, media, results
from transport_flows import even_flow

from flowsim.errors import ValidityWarning
from flowsim.physics.aerosol import particle
from flowsim.physics.leak import Gap
from flowsim.simulate.dust import dust_assumptions, workpiece_results
from flowsim.simulate.dust_parts import PERSON_SPREAD, dust_cloud
from flowsim.simulate.landing import (
    closed_deposition,
    landing_rates,
    stagnation_gradient,
    workpiece_deposition,
)
from flowsim.simulate.maps import chamber_maps
from flowsim.simulate.supply_dust import rated_flow_ratio
from flowsim.transport.faces import FaceArrays
from flowsim.transport.release import patch_weights

HALF = {"sizes": [0.5e-6]}
TOO_STRONG = {"flow": 0.32}


def test_filter_alone_does_not_turn_the_dirtiest_room_into_iso_5() -> None:
    """A filter that passes 0.03 %, with no other path, makes ISO 5.48 of an ISO 9 room."""
    found = judged(supply=media(penetration=3e-4), dust=HALF)
    # aerosol.md 1 and field.md F36: 10 560 per m3, ISO 5.48
    assert found.concentration[0] == pytest.approx(10560.0, rel=2e-3)
    assert found.iso_class == pytest.approx(5.48, abs=5e-3)
    assert found.cause == "filter"


def test_all_paths_together_may_pass_a_ten_thousandth_for_iso_5() -> None:
    """Filter and leak with 1e-4 together, and nothing else, are just ISO 5."""
    found = judged(supply=media(penetration=2e-5, leak=8e-5), dust=HALF)
    # aerosol.md 1, class arithmetic (field.md F36)
    assert found.iso_class == pytest.approx(5.0, abs=2e-3)
    assert found.cause == "leak round the filter"
    assert "passes round the filter" in found.why


def test_grade_means_what_its_class_promises() -> None:
    """H14 by name equals its overall penetration, at every size."""
    named = judged(supply=media(grade="ISO 45 H"))
    # EN 1822-1 and ISO 29463-1 (aerosol.md 2): 0.005 %
    stated = judged(supply=media(penetration=5e-5))
    np.testing.assert_allclose(named.concentration, stated.concentration, rtol=1e-12)


@pytest.mark.parametrize("exhaust", [{"flow": 0.21}, TOO_STRONG])
def test_causes_add_up_to_the_concentration(exhaust: dict[str, float]) -> None:
    """Filter, leak, room air and sources are all there is."""
    source = HANDS | {"rates": [900.0, 500.0, 5.0]}
    found = judged(
        exhaust=exhaust, supply=media(grade="H14", leak=1e-4), dust={"sources": [source]}
    )
    assert set(found.causes) == {"filter", "leak round the filter", "room air", "hands"}
    np.testing.assert_allclose(sum(found.causes.values()), found.concentration, rtol=1e-12)
    assert all((part >= 0.0).all() for part in found.causes.values())


def test_more_leak_is_never_cleaner() -> None:
    """The class number does not fall as more air passes round the filter."""
    leaks = (0.0, 1e-9, 1e-6, 1e-4, 0.01, 0.3, 1.0)
    classes = [judged(supply=media(grade="H14", leak=leak), dust=HALF).iso_class for leak in leaks]
    known = [number for number in classes if number is not None]
    assert len(known) == len(leaks)
    assert known == sorted(known)
    assert known[-1] == pytest.approx(9.0, abs=1e-3)


def test_wide_seal_gap_lets_fine_dust_through_as_a_plain_leak() -> None:
    """From a quarter of a millimetre up, 0.1 to 1 um pass as the air does, 5 um less."""
    gap = {"height": 0.25e-3, "length": 0.1, "path": 0.02}
    air = carrier(supply=media(grade="H14", seal_gap=gap), dust={"sizes": [1e-7, 1e-6, 5e-6]})
    state = air.state
    chamber = state.layout.chamber_air
    law = Gap(gap["height"], gap["path"], gap["length"], chamber.density, chamber.viscosity)
    passed = law.flow(state.solution.drops["supply filter"])[0]
    cloud = dust_cloud(air)
    assert cloud is not None
    assert cloud.passing is not None
    # experiments.md E16 (Liu & Nazaroff 2003): penetration near 1
    np.testing.assert_allclose(cloud.passing.leak[:2], passed / (passed + 0.26), rtol=1e-6)
    assert cloud.passing.leak[2] < cloud.passing.leak[1]


def test_leak_through_a_huge_gap_stays_below_all_of_the_air() -> None:
    """A gap that would carry more than the supply gives no share above 1."""
    gap = {"height": 8e-3, "length": 3.6, "path": 0.002}
    found = judged(supply=media(grade="H14", seal_gap=gap), dust=HALF)
    assert found.iso_class is not None
    assert 8.5 < found.iso_class < 9.0


def test_filter_above_its_rated_flow_passes_more_and_below_no_less() -> None:
    """A class is promised at the rated flow."""
    plain = judged(supply=media(grade="H14"), dust=HALF).concentration[0]
    for rated, more in ((0.5, False), (0.25, True)):
        air = carrier(supply=media(grade="H14", rated_velocity=rated), dust=HALF)
        assert (rated_flow_ratio(air.state) > 1.0) is more
        found = results(air)["mirror"].concentration[0]
        if more:
            assert found > 3.0 * plain
        else:
            assert found == pytest.approx(plain, rel=1e-9)


def test_loaded_filter_passes_what_a_new_one_does() -> None:
    """No credit is taken for the better filtering of a dusty layer."""
    new, loaded = (
        judged(supply=media(grade="H14", loading=loading), dust=HALF) for loading in (1.0, 2.0)
    )
    np.testing.assert_allclose(new.concentration, loaded.concentration, rtol=1e-6)


def test_unstated_filter_gives_no_class_but_the_share_of_room_air() -> None:
    """Neither grade nor penetration: what to state is said, and nothing is invented."""
    found = judged(supply=media(), exhaust=TOO_STRONG)
    assert found.iso_class is None
    assert found.sizes.size == found.concentration.size == 0
    assert "supply.filter.grade" in found.class_text
    assert found.room_air.value > 1e-3
    bound = re.search(r"no cleaner than (\d\.\d)", found.class_text)
    known = judged(exhaust=TOO_STRONG)
    assert bound is not None
    assert known.iso_class is not None
    assert float(bound.group(1)) <= known.iso_class + 0.05


def test_unstated_filter_gives_no_map_of_dust() -> None:
    """The whole chamber is as unknown as the workpiece."""
    air = carrier(supply=media())
    maps = chamber_maps(air)
    assert workpiece_results(air, maps.ingress, maps.age)[1] == {}


def test_case_without_a_word_on_dust_gets_no_class() -> None:
    """The age and the share of room air are still there."""
    found = judged(dust=None)
    assert found.iso_class is None
    assert "no statement on dust" in found.class_text
    assert 0.0 < found.age < 10.0


def test_supply_without_a_filter_brings_the_room_in() -> None:
    """Then the class is the room's."""
    air = carrier(supply={"flow": 0.26, "filter": None}, dust=HALF | {"room_class": 8.0})
    found = results(air)["mirror"]
    assert found.iso_class == pytest.approx(8.0, abs=1e-3)
    assert found.cause == "unfiltered supply"


def test_counts_of_the_room_are_taken_as_they_are() -> None:
    """Counts replace the class."""
    counts = [4e7, 1e7, 2e5]
    found = judged(supply=media(penetration=1e-3), dust={"room_counts": counts})
    np.testing.assert_allclose(found.causes["filter"], 1e-3 * np.array(counts), rtol=5e-3)


def test_mirrored_bench_has_mirrored_classes() -> None:
    """What lies left of the middle with the port right is as clean as the other way round."""
    port = {"wall": "right", "width": 0.4, "height": 0.09, "label": "port"}
    front = {"label": "front", "wall": "front", "bottom": 0.0, "width": 1.1, "height": 0.16}
    edge = {"label": "edge", "offset_x": 0.1, "offset_y": 0.03, "width": 0.2, "depth": 0.1}
    left = judged(
        plenum={"height": 0.11, "ports": [port]},
        openings=[front | {"offset": 0.02}],
        workpieces=[edge],
        exhaust=TOO_STRONG,
    )
    right = judged(
        plenum={"height": 0.11, "ports": [port | {"wall": "left"}]},
        openings=[front | {"offset": 1.3 - 0.02 - 1.1}],
        workpieces=[edge | {"offset_x": 1.3 - 0.1 - 0.2}],
        exhaust=TOO_STRONG,
    )
    assert left.room_air.value > 0.01
    assert left.iso_class == pytest.approx(right.iso_class, abs=1e-6)
    assert left.iso_class_highest == pytest.approx(right.iso_class_highest, abs=1e-6)


@pytest.mark.parametrize("exhaust", [0.1, 0.25, 0.3, 0.4])
def test_share_of_room_air_stays_between_none_and_all(exhaust: float) -> None:
    """By the monotone scheme, in every cell."""
    share = chamber_maps(carrier(exhaust={"flow": exhaust})).ingress.monotone
    # aerosol.md 5 and the maximum principle: a mix of two airs lies between them
    assert np.nanmin(share) >= -1e-10
    assert np.nanmax(share) <= 1.0 + 1e-10


@pytest.mark.parametrize("exhaust", [0.21, 0.27, 0.32])
def test_highest_is_never_cleaner_than_the_value(exhaust: float) -> None:
    """Everything uncertain at its worst only adds."""
    source = HANDS | {"rates": [10.0]}
    found = judged(exhaust={"flow": exhaust}, dust=HALF | {"sources": [source]})
    assert (found.concentration_highest >= found.concentration).all()
    assert found.iso_class is not None
    assert found.iso_class_highest is not None
    assert found.iso_class_highest >= found.iso_class


def test_room_air_named_as_the_cause_where_the_front_draws() -> None:
    """The sentence names the way in and its share."""
    found = judged(exhaust=TOO_STRONG)
    assert found.cause == "room air"
    assert re.fullmatch(
        r"Class \d\.\d at 0\.3 um: \d+ % of it is room air that comes in by the front\.", found.why
    )


def test_source_counts_by_its_rate_and_a_person_may_shed_more() -> None:
    """Twice the share of a person makes twice the part, and the doubt is that of people."""
    one, two = (
        judged(dust=HALF | {"sources": [HANDS | {"person": "cleanroom garments", "share": share}]})
        for share in (0.01, 0.02)
    )
    stated = judged(dust=HALF | {"sources": [HANDS | {"rates": [170.0]}]})
    assert two.causes["hands"][0] == pytest.approx(2.0 * one.causes["hands"][0], rel=1e-9)
    # Whyte & Hejab 2007 (aerosol.md 4): 17 000 per second from 0.5 um up
    assert one.causes["hands"][0] == pytest.approx(stated.causes["hands"][0], rel=1e-9)
    doubts = [item.concentration_highest[0] / item.concentration[0] for item in (one, stated)]
    assert doubts[0] > doubts[1]
    assert one.concentration_highest[0] > PERSON_SPREAD * one.causes["hands"][0]


def test_person_below_half_a_micron_is_said_to_be_extrapolated() -> None:
    """The published means begin at 0.5 um."""
    source = HANDS | {"person": "indoor clothes", "share": 0.01}
    with pytest.warns(ValidityWarning, match="emission of a person"):
        judged(dust={"sources": [source]})


def test_source_called_like_a_cause_stays_a_cause_of_its_own() -> None:
    """A source labelled filter is not taken for the filter."""
    found = judged(dust=HALF | {"sources": [HANDS | {"label": "filter", "rates": [1e5]}]})
    assert found.cause == "source filter"
    assert found.causes["filter"][0] < found.causes["source filter"][0]


def test_steady_field_of_dust_matches_the_workpiece() -> None:
    """The map over the chamber and the mean over the workpiece are the same numbers."""
    air = carrier(exhaust=TOO_STRONG)
    maps = chamber_maps(air)
    (found,), fields = workpiece_results(air, maps.ingress, maps.age)
    assert list(fields) == ["0.3", "0.5", "5"]
    weights = patch_weights(air.grid, 0.5, 0.7, 0.3, 0.5, 0.0)
    means = [float((weights * values).sum()) for values in fields.values()]
    np.testing.assert_allclose(means, found.concentration, rtol=1e-9)


def test_workpiece_on_an_object_is_judged_on_its_top() -> None:
    """The air right above the object counts, not that beside it."""
    block = {
        "label": "block",
        "offset_x": 0.45,
        "offset_y": 0.25,
        "width": 0.3,
        "depth": 0.3,
        "height": 0.2,
    }
    air = carrier(
        objects=[block],
        workpieces=[MIRROR | {"bottom": 0.2}],
        numerics={"cells": [26, 13, 16], "fidelity": "volume"},
    )
    found = results(air)["mirror"]
    assert found.place == (0.5, 0.7, 0.3, 0.5, 0.2)
    assert found.iso_class == pytest.approx(9.0 + math.log10(5e-5), abs=5e-3)
    maps = workpiece_results(air, chamber_maps(air).ingress, chamber_maps(air).age)[1]
    assert all(np.isnan(values[air.grid.solid]).all() for values in maps.values())


def test_air_that_comes_back_from_below_counts_as_room_air() -> None:
    """An exhaust that blows into the plenum is no clean supply."""
    found = judged(exhaust={"flow": None, "suction": 0.001, "outlet_pressure": 30.0})
    assert found.cause == "air from below"
    assert found.iso_class is not None
    assert found.iso_class > 8.5
    assert "counts as room air" in found.class_text
    np.testing.assert_allclose(sum(found.causes.values()), found.concentration, rtol=1e-12)


def test_class_below_what_the_model_sees_says_so() -> None:
    """Behind an outward front the arms that are not in the model are mentioned."""
    assert "arms and wakes" in judged().class_text


def test_assumptions_name_the_filter_and_the_room() -> None:
    """Every figure taken for granted is said, and none without dust."""
    text = " ".join(dust_assumptions(carrier(supply=media(grade="H14", loading=2.0))))
    assert "rating" in text
    assert "ISO 9" in text
    assert dust_assumptions(carrier(dust=None)) == ()


# what lands


def test_one_size_lands_at_its_own_velocity() -> None:
    """ISO 5 at 0.5 um puts 126 particles on a square metre in an hour by settling."""
    fall = particle(0.5e-6).settling_velocity
    landed = landing_rates(np.array([0.5e-6]), np.array([3520.0]), np.array([fall]))
    # aerosol.md 3: 126 per m2 and hour
    assert 3600.0 * landed[0] == pytest.approx(126.0, rel=5e-3)


def test_larger_ones_among_the_counted_land_faster() -> None:
    """Between two sizes power laws are integrated: against a sum over 20 000 slices."""
    sizes, slope, rise = np.array([0.5e-6, 5e-6]), 2.08, 1.9
    counts = 1e6 * (sizes / sizes[0]) ** -slope
    speeds = 1e-5 * (sizes / sizes[0]) ** rise
    edges = np.geomspace(sizes[0], sizes[1], 20001)
    middle = np.sqrt(edges[1:] * edges[:-1])
    slices = 1e6 * -np.diff((edges / sizes[0]) ** -slope)
    summed = float(slices @ (1e-5 * (middle / sizes[0]) ** rise)) + counts[1] * speeds[1]
    landed = landing_rates(sizes, counts, speeds)
    assert landed[0] == pytest.approx(summed, rel=1e-6)
    assert landed[0] > 3.0 * counts[0] * speeds[0]


@pytest.mark.parametrize("rise", [2.08, 2.0800001, 2.0799999])
def test_landing_is_smooth_where_both_laws_fall_alike(rise: float) -> None:
    """Equal exponents are no gap in the formula."""
    sizes = np.array([1e-6, 3e-6])
    landed = landing_rates(sizes, np.array([1.0, 3.0**-2.08]), np.array([1.0, 3.0**rise]))
    expected = 2.08 * math.log(3.0) + 1.0
    assert landed[0] == pytest.approx(expected, rel=1e-6)


def test_no_larger_ones_land_at_the_velocity_of_the_size() -> None:
    """Nothing from the larger size up, or as much of it as of the smaller."""
    sizes, speeds = np.array([1e-6, 3e-6]), np.array([1.0, 9.0])
    assert landing_rates(sizes, np.array([5.0, 0.0]), speeds)[0] == 5.0
    assert landing_rates(sizes, np.array([5.0, 5.0]), speeds)[0] == 45.0


def test_workpiece_under_even_downflow_meets_it_as_a_disk_does() -> None:
    """Where the surface below draws as well, the workpiece itself turns the air aside."""
    field = even_flow((8, 8, 8), (0.4, 0.4, 0.4), -0.45, axis=2)
    area = math.pi / 4.0 * 0.15**2
    gradient = stagnation_gradient(field, patch_weights(field.grid, 0.1, 0.3, 0.1, 0.3, 0.0), area)
    # aerosol.md 3 and aerosol_deposition_velocity.csv: disk 0.15 m, 0.45 m/s
    assert workpiece_deposition(particle(0.3e-6), gradient) == pytest.approx(5.51e-6, rel=0.01)


def test_air_that_rises_lets_particles_settle_only() -> None:
    """No downflow, no stagnation."""
    field = even_flow((4, 4, 4), (0.4, 0.4, 0.4), 0.2, axis=2)
    weights = patch_weights(field.grid, 0.1, 0.3, 0.1, 0.3, 0.0)
    body = particle(0.5e-6)
    assert workpiece_deposition(body, stagnation_gradient(field, weights, 0.04)) == (
        body.settling_velocity
    )


def test_closed_faces_collect_and_open_ones_do_not() -> None:
    """Walls take what diffuses, the floor of a solid block what settles as well."""
    air = carrier()
    body = particle(5e-6)
    taken = FaceArrays(*(np.zeros(axis.shape) for axis in air.field.flux.axes))
    found = closed_deposition(air.field, taken, body, 0.3)
    for speed, flux in zip(found.axes, air.field.flux.axes, strict=True):
        assert (speed[flux != 0.0] == 0.0).all()
    assert 0.0 < found.x[0].max() < 1e-2 * body.settling_velocity
    covered = even_flow((4, 4, 4), (0.4, 0.4, 0.4), 0.2, axis=0)
    taken = FaceArrays(*(np.zeros(axis.shape) for axis in covered.flux.axes))
    levels = closed_deposition(covered, taken, body, 0.3).z
    assert levels[:, :, 0].min() >= body.settling_velocity
    assert levels[:, :, -1].max() < 1e-6 * body.settling_velocity
