from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from reference_data import rows

from flowsim.errors import ConvergenceError, RangeError
from flowsim.plenum.tube import Tube, solve_tube

AIR = (1.204, 1.813e-5)
COEFFICIENT = 0.62
MANIFOLDS = rows("flow_manifold.csv")
NAMES = [f"{row['kind']}-{row['a']}-{row['F']}" for row in MANIFOLDS]


def make_tube(hole_ratio: float, friction: float, momentum: float = 1.0) -> Tube:
    """Return a tube 1 m long with a = Cd A_holes/A and F = f L/D as given."""
    holes = hole_ratio * 0.01 / COEFFICIENT
    return Tube(1.0, 0.01, 0.1, holes, COEFFICIENT, 0.1 * friction, momentum=momentum)


def reference_figures(row: dict[str, str], stations: int) -> np.ndarray:
    """Return our figures in the order of the table's columns."""
    tube = make_tube(float(row["a"]), float(row["F"]))
    solution = solve_tube(tube, 0.02, AIR, stations, row["kind"], tolerance=1e-12)
    dynamic = 0.5 * AIR[0] * solution.port_speed**2
    mean = COEFFICIENT * math.sqrt(2.0 / AIR[0]) * tube.hole_area / 0.02
    open_end = mean * math.sqrt(abs(solution.port_static))
    return np.array(
        [
            solution.end_ratio,
            open_end / solution.end_ratio,
            open_end,
            abs(solution.port_static) / dynamic,
        ]
    )


def expected_figures(row: dict[str, str]) -> np.ndarray:
    names = ("u_open_over_u_closed", "u_closed_over_mean", "u_open_over_mean")
    return np.array([float(row[k]) for k in (*names, "dp_hole_at_open_end_over_half_rho_W2")])


@pytest.mark.parametrize("row", MANIFOLDS, ids=NAMES)
def test_default_resolution_meets_the_exact_manifold(row):
    # own derivation, three methods (flow_manifold.csv)
    assert reference_figures(row, 60) == pytest.approx(expected_figures(row), rel=0.005)


@pytest.mark.parametrize("row", MANIFOLDS, ids=NAMES)
def test_manifold_converges_at_second_order_to_the_exact_value(row):
    expected = expected_figures(row)
    coarse, middle, fine = (reference_figures(row, n) for n in (40, 80, 160))
    # own derivation, three methods (flow_manifold.csv)
    assert (4.0 * fine - middle) / 3.0 == pytest.approx(expected, rel=1e-5)
    signal = np.abs(coarse - middle) > 1e-7 * expected
    order = np.log2(np.abs((coarse - middle) / (middle - fine)))
    # own derivation: midpoint rule and mean pressure of a station are second order
    assert order[signal] == pytest.approx(2.0, abs=0.1)


def test_some_manifold_row_shows_its_order():
    row = next(r for r in MANIFOLDS if r["a"] == "1" and r["F"] == "1" and r["kind"] == "combining")
    errors = [np.abs(reference_figures(row, n) - expected_figures(row)) for n in (30, 60)]
    # own derivation, three methods (flow_manifold.csv)
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.05)


def test_header_change_meets_the_exact_manifold():
    row = next(r for r in MANIFOLDS if r["a"] == "1" and r["F"] == "2" and r["kind"] == "combining")
    solution = solve_tube(make_tube(1.0, 2.0), 0.02, AIR, 240)
    head = (COEFFICIENT * make_tube(1.0, 2.0).hole_area) ** -2 * 0.5 * AIR[0]
    closed = solution.inflow[0] * 240
    dynamic = 0.5 * AIR[0] * solution.port_speed**2
    change = (abs(solution.port_static) - head * closed**2) / dynamic
    # own derivation, three methods (flow_manifold.csv)
    assert change == pytest.approx(float(row["dp_header_over_half_rho_W2"]), rel=1e-3)


@pytest.mark.parametrize(("momentum", "ratio"), [(1.0, 1.220), (0.5, 1.108)], ids=["full", "half"])
def test_two_metre_tube_draws_most_at_the_fan(momentum, ratio):
    area = math.pi * 0.055**2
    tube = Tube(2.0, area, 0.110, 40 * math.pi * 0.0075**2, 0.62, 0.0, momentum=momentum)
    solution = solve_tube(tube, 0.05, (1.2, 1.8e-5))
    # closed form C1 (field.md F22)
    assert solution.end_ratio == pytest.approx(ratio, abs=0.001)


def test_two_metre_tube_costs_the_stated_suction():
    area = math.pi * 0.055**2
    tube = Tube(2.0, area, 0.110, 40 * math.pi * 0.0075**2, 0.62, 0.0)
    solution = solve_tube(tube, 0.05, (1.2, 1.8e-5))
    largest = solution.end_ratio * (2 * solution.hole_velocity[0] - solution.hole_velocity[1])
    # closed form C1 (field.md F22)
    assert -solution.port_static == pytest.approx(101.1, rel=0.002)
    assert largest * tube.hole_area / 0.05 == pytest.approx(1.138, rel=0.005)
    # own arithmetic on the stated hole diameters (field.md F22)
    assert tube.hole_ratio / 0.62 == pytest.approx(0.744, abs=0.001)


def test_friction_of_the_two_metre_tube_stays_within_the_accepted_band():
    area = math.pi * 0.055**2
    tube = Tube(2.0, area, 0.110, 40 * math.pi * 0.0075**2, 0.62, 0.02)
    solution = solve_tube(tube, 0.05, (1.2, 1.8e-5))
    # own hole-by-hole solution, accepted band (field.md F22)
    assert 1.17 < solution.end_ratio < 1.25
    assert 100.0 < -solution.port_static < 104.0


def test_fewer_holes_even_the_two_metre_tube_for_twice_the_suction():
    area = math.pi * 0.055**2
    tube = Tube(2.0, area, 0.110, 26 * math.pi * 0.0075**2, 0.62, 0.0)
    solution = solve_tube(tube, 0.05, (1.2, 1.8e-5))
    # closed form C1 (field.md F22)
    assert solution.end_ratio == pytest.approx(1.091, abs=0.001)
    assert -solution.port_static == pytest.approx(207.4, rel=0.002)


@pytest.mark.parametrize(
    ("area_ratio", "momentum", "expected"),
    [
        (1.0, 2.0, 0.640),
        (1.0, 1.0, 0.814),
        (0.5, 2.0, 0.905),
        (0.5, 1.0, 0.952),
        (0.3, 2.0, 0.966),
        (0.3, 1.0, 0.983),
    ],
)
def test_blown_bar_gives_least_at_its_inlet(area_ratio, momentum, expected):
    area = math.pi * 0.01588**2
    tube = Tube(0.5, area, 0.03175, area_ratio * area, 0.62, 0.0, momentum=momentum)
    solution = solve_tube(tube, 0.005, (1.2, 1.8e-5), kind="dividing")
    # closed form C2 (field.md F23)
    assert solution.end_ratio == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize(
    ("depth", "full", "half"),
    [
        (0.457, 0.407, 0.687),
        (0.610, 0.651, 0.820),
        (0.762, 0.771, 0.883),
        (0.914, 0.839, 0.918),
        (0.305, None, 0.344),
    ],
)
def test_shallow_supply_run_starves_the_outlets_at_the_blower(depth, full, half):
    results = []
    for momentum in (2.0, 1.0):
        tube = Tube(6.0, depth, 2.0 * depth, 0.6, 0.62, 0.0, momentum=momentum)
        results.append(solve_tube(tube, 1.0, (1.2, 1.8e-5), kind="dividing"))
    # closed form C2 (field.md F28)
    assert results[1].end_ratio == pytest.approx(half, abs=0.0015)
    if full is None:
        # closed form C2 past a quarter wave: reversal reported, not clipped (field.md F28)
        assert results[0].reversed_holes
        assert results[0].draw_ratio == math.inf
    else:
        assert results[0].end_ratio == pytest.approx(full, abs=0.0015)
        assert not results[0].reversed_holes


def uniformity(hole_ratio: float, momentum: float) -> float:
    tube = Tube(7.3, 0.173, 0.389, hole_ratio * 0.173, 0.65, 0.048, momentum=momentum)
    inflow = solve_tube(tube, 0.5, (1.2, 1.8e-5), kind="dividing").inflow
    return float(1.0 - np.mean(np.abs(inflow / inflow.mean() - 1.0)))


def test_perforated_duct_is_as_even_as_measured():
    # El Moueddeb, Barrington & Barthakur 1997 (experiments.md E14), strength B: 3 points
    assert uniformity(1.0, 2.0) == pytest.approx(0.9028, abs=0.03)


@pytest.mark.parametrize(
    ("hole_ratio", "momentum", "expected"),
    [(0.5, 2.0, 0.9785), (0.5, 1.0, 0.9915), (1.0, 2.0, 0.9095), (1.0, 1.0, 0.9655)],
)
def test_perforated_duct_evenness_meets_the_recomputed_figures(hole_ratio, momentum, expected):
    # own hole-by-hole solution, Cd 0.65, F 0.90-1.05 (experiments.md E14): holes are discrete there
    assert uniformity(hole_ratio, momentum) == pytest.approx(expected, abs=0.01)


def test_evenness_does_not_depend_on_the_flow_at_constant_coefficients():
    tube = make_tube(1.0, 1.0)
    ratios = [solve_tube(tube, flow, AIR).end_ratio for flow in (1e-6, 1e-3, 1.0)]
    # similarity of the equations at constant coefficients, exact
    assert ratios == pytest.approx([ratios[0]] * 3, rel=1e-8)


def test_friction_always_worsens_a_combining_tube():
    ratios = [solve_tube(make_tube(0.7, f), 0.02, AIR).end_ratio for f in (0.0, 0.5, 1.0, 2.0)]
    # abstract of a header study after Bajura 1971 (flow.md 5), strength B
    assert ratios == sorted(ratios)


def test_friction_of_a_smooth_tube_follows_the_reynolds_number():
    tube = replace(make_tube(0.5, 0.0), friction_factor=None)
    computed = solve_tube(tube, 0.02, AIR).end_ratio
    bounds = [solve_tube(make_tube(0.5, 10.0 * f), 0.02, AIR).end_ratio for f in (0.015, 0.06)]
    # common practice, no source: smooth-wall factor 0.015 to 0.06 at Re 2e3 to 1.3e4
    assert bounds[0] < computed < bounds[1]


def test_tube_carries_all_the_air_its_holes_draw():
    solution = solve_tube(make_tube(1.0, 1.0), 0.02, AIR)
    # conservation of mass, exact
    assert solution.inflow.sum() == pytest.approx(0.02, rel=1e-12)
    assert solution.port_speed == pytest.approx(0.02 / 0.01, rel=1e-12)


def test_still_tube_draws_nothing():
    solution = solve_tube(make_tube(1.0, 1.0), 0.0, AIR)
    # exact
    assert not np.any(solution.inflow)
    assert solution.draw_ratio == 1.0
    assert solution.port_total == 0.0


def test_pressure_outside_shifts_the_draw_towards_it():
    outside = np.linspace(0.0, 20.0, 60)
    even = solve_tube(make_tube(0.2, 0.0), 0.005, AIR)
    pushed = solve_tube(make_tube(0.2, 0.0), 0.005, AIR, outside=outside)
    # plausibility: more pressure outside the open end draws more there
    assert pushed.end_ratio > even.end_ratio


def test_uniform_pressure_outside_only_lifts_the_level():
    plain = solve_tube(make_tube(0.7, 1.0), 0.02, AIR)
    lifted = solve_tube(make_tube(0.7, 1.0), 0.02, AIR, outside=7.0)
    # exact: only differences of pressure act
    assert lifted.port_total == pytest.approx(plain.port_total + 7.0, abs=1e-6)
    assert lifted.inflow == pytest.approx(plain.inflow, rel=1e-8)


def test_still_tube_between_unequal_pressures_reverses_and_says_so():
    outside = np.linspace(-5.0, 5.0, 60)
    solution = solve_tube(make_tube(0.5, 1.0), 0.0, AIR, outside=outside)
    # conservation of mass, exact; air passes from high to low pressure
    assert solution.inflow.sum() == pytest.approx(0.0, abs=1e-12)
    assert solution.inflow[0] < 0.0 < solution.inflow[-1]
    assert solution.draw_ratio == math.inf


def test_blown_tube_far_past_its_quarter_wave_is_never_clipped():
    solution = solve_tube(make_tube(3.0, 0.5), 0.02, AIR, kind="dividing")
    # conservation of mass, exact
    assert solution.inflow.sum() == pytest.approx(-0.02, rel=1e-12)
    assert solution.momentum_residual <= 1e-10


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"area": 0.0}, "area must be positive"),
        ({"length": -1.0}, "length must be positive"),
        ({"hole_area": math.nan}, "hole_area must be positive"),
        ({"friction_factor": -0.1}, "friction factor"),
        ({"roughness": -1e-4}, "roughness"),
        ({"momentum": 5.0}, "momentum must be 0 to 3"),
    ],
)
def test_impossible_tube_is_refused(change, message):
    with pytest.raises(RangeError, match=message):
        replace(make_tube(1.0, 0.0), **change)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((0.02, AIR, 1), "stations >= 2"),
        ((-0.02, AIR), "flow >= 0"),
        ((0.02, AIR, 60, "mixing"), "kind must be"),
        ((0.02, (0.0, 1.8e-5)), "density and viscosity"),
    ],
)
def test_impossible_flow_is_refused(arguments, message):
    with pytest.raises(RangeError, match=message):
        solve_tube(make_tube(1.0, 0.0), *arguments)


def test_unreachable_tolerance_names_the_worst_station():
    with pytest.raises(ConvergenceError, match=r"station .* closed end"):
        solve_tube(make_tube(1.5, 1.0), 0.02, AIR, tolerance=1e-25)
