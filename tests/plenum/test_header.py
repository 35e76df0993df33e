from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plenum_cases import (
    AIR,
    COEFFICIENT,
    QuadraticPlate,
    orifice_plate,
    spread,
    station_ratio,
)

from flowsim.errors import ConvergenceError, RangeError
from flowsim.plenum.header import Header, HeaderPort, solve_header

BENCH = Header(1.3, 0.65, 0.11, 60, 30, (HeaderPort("right", 0.125, 0.525),))
OPEN = np.ones((60, 30))
FLOW = np.array([0.25])


def test_mass_balance_closes_to_round_off():
    solution = solve_header(BENCH, orifice_plate(0.02), OPEN, FLOW, AIR)
    cell = 1.3 * 0.65 / 1800
    # conservation of mass, exact
    assert solution.mass_residual <= 1e-12
    assert solution.velocity.sum() * cell == pytest.approx(0.25, rel=1e-12)


def test_drop_equals_pressure_at_every_cell():
    plate = orifice_plate(0.02)
    solution = solve_header(BENCH, plate, OPEN, FLOW, AIR)
    drop, _ = plate.drop(solution.velocity)
    # definition of the coupling, to the solver's tolerance
    assert np.abs(drop + solution.pressure).max() <= 1.1e-10 * drop.mean()
    assert solution.momentum_residual <= 1e-10
    assert solution.mean_pressure == pytest.approx(solution.pressure.mean(), rel=1e-12)


@pytest.mark.parametrize("sign", [1.0, -1.0], ids=["drawn", "blown"])
def test_mirrored_port_gives_the_mirrored_plenum(sign):
    ports = (HeaderPort("right", 0.05, 0.45), HeaderPort("back", 0.2, 0.4))
    images = (HeaderPort("left", 0.05, 0.45), HeaderPort("back", 0.9, 1.1))
    flow = sign * np.array([0.2, 0.05])
    plain = solve_header(replace(BENCH, ports=ports), orifice_plate(0.03), OPEN, flow, AIR)
    image = solve_header(replace(BENCH, ports=images), orifice_plate(0.03), OPEN, flow, AIR)
    # law of nature: mirror images
    assert image.velocity[::-1] == pytest.approx(plain.velocity, rel=1e-8)
    assert image.port_total == pytest.approx(plain.port_total, rel=1e-8)


def test_turned_plenum_gives_the_turned_solution():
    turned = Header(0.65, 1.3, 0.11, 30, 60, (HeaderPort("back", 0.125, 0.525),))
    plain = solve_header(BENCH, orifice_plate(0.02), OPEN, FLOW, AIR)
    other = solve_header(turned, orifice_plate(0.02), OPEN.T, FLOW, AIR)
    # law of nature: x and y are alike
    assert np.allclose(other.velocity.T, plain.velocity, rtol=1e-8)
    assert np.allclose(other.velocity_y.T, plain.velocity_x, atol=1e-8)


@pytest.mark.parametrize(("port", "ratio"), [(0.65, 1.09), (0.30, 1.16)])
def test_narrow_port_draws_less_evenly_than_the_whole_wall(port, ratio):
    ports = (HeaderPort("right", 0.325 - port / 2, 0.325 + port / 2),)
    header = Header(1.3, 0.65, 0.1, 78, 39, ports, friction_factor=0.0)
    plate = orifice_plate(0.3 * 0.1 / 1.3 / COEFFICIENT)
    solution = solve_header(header, plate, np.ones((78, 39)), FLOW, AIR)
    # own solution of the full momentum equation with vorticity (numerics.md 4)
    assert station_ratio(solution) == pytest.approx(ratio, abs=0.005)


def test_evenness_of_a_supply_plenum_rises_with_its_depth():
    flow = np.array([-0.25])
    spreads = []
    for height in (0.08, 0.12, 0.2, 0.4):
        header = replace(BENCH, height=height)
        spreads.append(spread(solve_header(header, orifice_plate(0.02), OPEN, flow, AIR)))
    # published trend IMECE2015-50884 (field.md F28)
    assert spreads == sorted(spreads, reverse=True)


def test_large_plate_drop_draws_evenly():
    solution = solve_header(BENCH, orifice_plate(0.0005), OPEN, FLOW, AIR)
    # common practice, no source: plate drop much larger than the plenum's change
    assert solution.velocity.max() / solution.velocity.min() < 1.001


@settings(deadline=None, max_examples=25, derandomize=True)
@given(
    free_area=st.floats(0.005, 0.05),
    shrink=st.floats(0.5, 0.98),
    start=st.floats(0.0, 0.3),
    width=st.floats(0.05, 0.3),
    wall=st.sampled_from(["left", "right", "front", "back"]),
)
def test_smaller_holes_never_draw_less_evenly(free_area, shrink, start, width, wall):
    header = Header(1.0, 0.65, 0.1, 24, 16, (HeaderPort(wall, start, start + width),))
    flow, open_share = np.array([0.2]), np.ones((24, 16))
    small, large = (
        solve_header(header, orifice_plate(area), open_share, flow, AIR)
        for area in (free_area * shrink**2, free_area)
    )
    # law of nature: same count and total flow, more drop evens the draw
    assert spread(small) <= spread(large) * (1.0 + 1e-9)
    assert station_ratio(small) <= station_ratio(large) * (1.0 + 1e-9)


def random_plenum(seed: int):
    """Return a plausible plenum with M below 4, as arguments of solve_header."""
    random = np.random.default_rng(seed)
    width, depth = random.uniform(0.5, 2.0), random.uniform(0.4, 1.0)
    cells = int(random.integers(20, 61)), int(random.integers(10, 31))
    ports, flows = [], []
    for wall in random.choice(["left", "right", "front", "back", "bottom"], random.integers(1, 4)):
        if wall == "bottom":
            corner = random.uniform(0.1, 0.4, 2) * (width, depth)
            end = corner + random.uniform(0.15, 0.5, 2) * (width, depth)
            ports.append(HeaderPort("bottom", tuple(corner), tuple(end)))
        else:
            length = depth if wall in ("left", "right") else width
            first = random.uniform(0.0, 0.5) * length
            ports.append(HeaderPort(str(wall), first, first + random.uniform(0.2, 0.5) * length))
        flows.append(random.uniform(0.02, 0.2))
    sign = 1.0 if random.random() < 0.7 else -1.0
    momentum = random.uniform(0.5, 1.35)
    header = Header(
        width, depth, random.uniform(0.05, 0.2), *cells, tuple(ports), momentum=momentum
    )
    open_share = np.where(random.random(cells) < 0.1, 0.0, random.uniform(0.3, 1.0, cells))
    flow = sign * np.array(flows)
    probe = solve_header(header, QuadraticPlate(1e9), open_share, flow, AIR)
    factor = 1e9 * probe.choking_number / random.uniform(0.01, 4.0)
    return header, QuadraticPlate(factor), open_share, flow


@pytest.mark.parametrize("seed", range(60))
def test_random_plenum_converges_from_cold(seed):
    header, plate, open_share, flow = random_plenum(seed)
    solution = solve_header(header, plate, open_share, flow, AIR)
    # definition of convergence and conservation of mass
    assert solution.choking_number < 4.0
    assert solution.momentum_residual <= 1e-10
    assert solution.mass_residual <= 1e-12


@pytest.mark.parametrize("drop", [5.0, 1.0, 0.3])
def test_choked_plenum_still_converges(drop):
    plate = QuadraticPlate(drop / (0.25 / 0.845) ** 2)
    solution = solve_header(BENCH, plate, OPEN, FLOW, AIR)
    # definition of choking (numerics.md 4)
    assert solution.choking_number > 2.0
    assert solution.momentum_residual <= 1e-10


def test_hopelessly_choked_plenum_names_the_worst_cell():
    plate = QuadraticPlate(1e-9)
    with pytest.raises(ConvergenceError, match=r"plate cell x = .* m, y = .*choked"):
        solve_header(replace(BENCH, nx=8, ny=4), plate, np.ones((8, 4)), FLOW, AIR)


def test_still_plenum_has_no_flow_and_no_pressure():
    solution = solve_header(BENCH, orifice_plate(0.02), OPEN, np.zeros(1), AIR)
    # exact
    assert not np.any(solution.velocity)
    assert not np.any(solution.pressure)
    assert solution.choking_number == 0.0


def test_covered_cells_carry_nothing():
    open_share = OPEN.copy()
    open_share[20:40, 5:20] = 0.0
    solution = solve_header(BENCH, orifice_plate(0.02), open_share, FLOW, AIR)
    # definition of a covered cell; the rest carries the flow
    assert not np.any(solution.velocity[20:40, 5:20])
    total = (solution.velocity * open_share).sum() * 1.3 * 0.65 / 1800
    assert total == pytest.approx(0.25, rel=1e-12)


def test_partly_open_cells_count_by_their_share():
    half = solve_header(BENCH, orifice_plate(0.04), 0.5 * OPEN, FLOW, AIR)
    whole = solve_header(BENCH, orifice_plate(0.02), OPEN, FLOW, AIR)
    # exact: half the plate with twice the holes
    assert half.velocity == pytest.approx(2.0 * whole.velocity, rel=1e-8)


def test_air_from_a_compartment_takes_the_place_of_plate_air():
    source = np.zeros((60, 30))
    source[10:20, 10:20] = 0.05 / 100
    solution = solve_header(BENCH, orifice_plate(0.02), OPEN, FLOW, AIR, source=source)
    # conservation of mass, exact
    total = solution.velocity.sum() * 1.3 * 0.65 / 1800
    assert total == pytest.approx(0.2, rel=1e-12)
    assert solution.mass_residual <= 1e-12


def test_source_spread_like_the_plate_acts_like_plate_air():
    plain = solve_header(BENCH, orifice_plate(0.001), OPEN, FLOW, AIR)
    source = plain.velocity * 0.5 * 1.3 * 0.65 / 1800
    solution = solve_header(BENCH, orifice_plate(0.0005), OPEN, FLOW, AIR, source=source)
    # exact: both arrive at rest, half the plate air through half the holes
    assert solution.velocity == pytest.approx(0.5 * plain.velocity, rel=1e-8)
    assert solution.port_total == pytest.approx(plain.port_total, rel=1e-8)


def test_flow_through_a_plenum_with_no_net_draw_converges():
    ports = (HeaderPort("left", 0.1, 0.3), HeaderPort("right", 0.2, 0.5))
    solution = solve_header(
        replace(BENCH, ports=ports), orifice_plate(0.02), OPEN, np.array([-0.2, 0.2]), AIR
    )
    # conservation of mass, exact
    assert solution.velocity.sum() == pytest.approx(0.0, abs=1e-9)
    assert solution.reversed_plate


def test_bottom_port_that_blows_brings_air_at_rest():
    floor = HeaderPort("bottom", (0.0, 0.0), (1.3, 0.65))
    ports = (floor, BENCH.ports[0])
    header = replace(BENCH, ports=ports)
    fed = solve_header(header, orifice_plate(0.01), OPEN, np.array([-0.1, 0.25]), AIR)
    source = np.full((60, 30), 0.1 / 1800)
    same = solve_header(BENCH, orifice_plate(0.01), OPEN, FLOW, AIR, source=source)
    # exact: a blowing floor is a source under the whole plate
    assert fed.velocity == pytest.approx(same.velocity, rel=1e-8)


def test_port_duct_finds_less_pressure_when_walls_rub():
    totals = [
        solve_header(
            replace(BENCH, friction_factor=factor), orifice_plate(0.02), OPEN, FLOW, AIR
        ).port_total[0]
        for factor in (0.0, 0.02, 0.05)
    ]
    # law of nature: more resistance, more suction
    assert totals == sorted(totals, reverse=True)


def test_port_speed_is_flow_over_extent_and_height():
    solution = solve_header(BENCH, orifice_plate(0.02), OPEN, FLOW, AIR)
    # definition
    assert solution.port_speed[0] == pytest.approx(0.25 / (0.4 * 0.11), rel=1e-12)


def test_warm_start_reaches_the_same_solution_in_fewer_steps():
    cold = solve_header(BENCH, orifice_plate(0.03), OPEN, FLOW, AIR)
    near = solve_header(BENCH, orifice_plate(0.03), OPEN, 1.001 * FLOW, AIR)
    warm = solve_header(BENCH, orifice_plate(0.03), OPEN, FLOW, AIR, start=near)
    # uniqueness of the drawn plenum's solution
    assert warm.velocity == pytest.approx(cold.velocity, rel=1e-8)
    assert warm.iterations < cold.iterations


def test_refined_plenum_converges():
    ratios = []
    for nx, ny in ((26, 13), (52, 26), (104, 52)):
        header = replace(BENCH, nx=nx, ny=ny)
        solution = solve_header(header, orifice_plate(0.02), np.ones((nx, ny)), FLOW, AIR)
        ratios.append(spread(solution))
    # law of nature: differences shrink under refinement (port edges keep it below order 2)
    assert abs(ratios[2] - ratios[1]) < 0.5 * abs(ratios[1] - ratios[0])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"height": 0.0}, "height must be positive"),
        ({"width": math.inf}, "width must be positive"),
        ({"nx": 0}, "at least one cell"),
        ({"momentum": -0.1}, "momentum must be"),
        ({"friction_factor": -1.0}, "friction factor"),
    ],
)
def test_impossible_plenum_is_refused(change, message):
    with pytest.raises(RangeError, match=message):
        replace(BENCH, **change)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"open_share": np.ones((3, 3))}, "must have shape"),
        ({"open_share": np.zeros((60, 30))}, "no plate is open"),
        ({"open_share": 2.0 * OPEN}, "open share must be 0 to 1"),
        ({"port_flow": np.ones(2)}, "1 port flows needed"),
        ({"port_flow": np.array([math.nan])}, "must be finite"),
        ({"air": (1.2, 0.0)}, "density and viscosity"),
    ],
)
def test_impossible_flow_is_refused_by_the_plenum(arguments, message):
    given_arguments = {"open_share": OPEN, "port_flow": FLOW, "air": AIR} | arguments
    with pytest.raises(RangeError, match=message):
        solve_header(BENCH, orifice_plate(0.02), **given_arguments)
