from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from plenum_cases import AIR, COEFFICIENT, DENSITY, QuadraticPlate, end_velocities, orifice_plate
from scipy.integrate import solve_bvp

from flowsim.errors import RangeError
from flowsim.plenum.header import Header, HeaderPort, solve_header
from flowsim.plenum.tube import Tube, TubeInPlenum, solve_tube

SECTION = 0.01
FLOW = np.array([0.02])


def tube_in_plenum(sections: float, tube_ratio: float = 0.5, plate_ratio: float = 2.0):
    """Solve a tube along a 1 x 0.5 m plenum whose section is a multiple of the tube's."""
    tube = Tube(1.0, SECTION, 0.1, tube_ratio * SECTION / COEFFICIENT, COEFFICIENT, 0.0)
    port = HeaderPort("right", 0.0, 0.5)
    header = Header(1.0, 0.5, sections * SECTION / 0.5, 120, 1, (port,), friction_factor=0.0)
    plate = orifice_plate(plate_ratio * SECTION / 0.5 / COEFFICIENT)
    laid = TubeInPlenum(tube, 0, 0.25, 0.0, 1.0)
    return solve_header(header, plate, np.ones((120, 1)), FLOW, AIR, tube=laid)


def plate_ratio(solution) -> float:
    closed, at_port = end_velocities(solution.velocity[:, 0])
    return at_port / closed


@pytest.mark.parametrize(("sections", "expected"), [(0.02, 1.240), (1.0, 1.057), (9.0, 1.001)])
def test_plate_lies_between_the_limits(sections, expected):
    # own solution by solve_bvp (numerics.md 4)
    assert plate_ratio(tube_in_plenum(sections)) == pytest.approx(expected, abs=0.001)


def test_wide_plenum_leaves_the_tube_its_own_ratio_and_the_plate_even():
    solution = tube_in_plenum(1000.0)
    # own derivation: cosh(sqrt2 a_t) (numerics.md 4)
    assert solution.tube.end_ratio == pytest.approx(math.cosh(math.sqrt(2.0) * 0.5), rel=1e-4)
    assert plate_ratio(solution) == pytest.approx(1.0, abs=1e-6)


def test_shut_lengthwise_flow_makes_plate_and_tube_alike():
    solution = tube_in_plenum(0.005)
    together = 1.0 / math.sqrt(1.0 / 0.5**2 + 1.0 / 2.0**2)
    limit = math.cosh(math.sqrt(2.0) * together)
    # own derivation: holes and plate in series (numerics.md 4)
    assert limit == pytest.approx(1.2447, abs=1e-4)
    assert solution.tube.end_ratio == pytest.approx(limit, rel=1e-3)
    assert plate_ratio(solution) == pytest.approx(limit, rel=1e-3)


def line_equations(plenum: float, tube_ratio: float, plate_ratio: float):
    """Return d/dx of tube speed, tube pressure, plenum speed and pressure, all scaled.

    Unit of speed: the tube's at its open end; of pressure: rho times its square; of length: the
    tube's. Flow into the tube a_t sqrt(2 (p_p - p_t)), through the plate a_p sqrt(-2 p_p).
    """

    def slopes(_, y):
        speed, inside, along, around = y
        into_tube = tube_ratio * np.sqrt(2.0 * np.maximum(around - inside, 1e-12))
        plate = plate_ratio * np.sqrt(2.0 * np.maximum(-around, 1e-12))
        change = (plate - into_tube) / plenum
        return np.array(
            [
                into_tube,
                -2.0 * speed * into_tube,
                change,
                -along * change - plate / plenum * along,
            ]
        )

    return slopes


@pytest.mark.parametrize("sections", [0.1, 1.0])
def test_tube_in_plenum_meets_an_independent_solution(sections):
    ends = lambda a, b: np.array([a[0], a[2], b[0] - 1.0, b[2]])  # noqa: E731
    x = np.linspace(0.0, 1.0, 41)
    guess = np.array([x, -2.5 - x**2, 0.0 * x, -0.13 + 0.0 * x])
    slopes = line_equations(sections, 0.5, 2.0)
    found = solve_bvp(slopes, ends, x, guess, tol=1e-8, max_nodes=20000)
    assert found.success
    plate = math.sqrt(found.y[3, -1] / found.y[3, 0])
    drives = found.y[3] - found.y[1]
    solution = tube_in_plenum(sections)
    # same equations through scipy's collocation, an independent method
    assert plate_ratio(solution) == pytest.approx(plate, abs=5e-4)
    assert solution.tube.end_ratio == pytest.approx(math.sqrt(drives[-1] / drives[0]), abs=5e-4)


BENCH = Header(1.3, 0.65, 0.11, 60, 30, (HeaderPort("right", 0.125, 0.525),))
ROUND = Tube(1.2, math.pi * 0.05**2, 0.1, 0.6 * math.pi * 0.05**2)
PLATE = QuadraticPlate(5.0 / (0.05 / 0.845) ** 2)
OPEN = np.ones((60, 30))


def test_tube_carries_the_whole_plate_flow_to_its_port():
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    solution = solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)
    # conservation of mass, exact
    assert solution.tube.inflow.sum() == pytest.approx(0.05, rel=1e-12)
    assert solution.velocity.sum() * 0.845 / 1800 == pytest.approx(0.05, rel=1e-12)
    assert solution.mass_residual <= 1e-12
    assert solution.port_total[0] == solution.tube.port_total
    assert solution.port_speed[0] == pytest.approx(0.05 / ROUND.area, rel=1e-12)


def test_plate_drops_add_to_the_tube_pressures():
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.0, 1.3)
    solution = solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)
    beside = 0.5 * (solution.pressure[::1, 14] + solution.pressure[::1, 15])
    speed = solution.tube.hole_velocity / ROUND.discharge_coefficient
    drop = 0.5 * DENSITY * speed**2
    # definition of the coupling: hole drop equals plenum less tube pressure
    assert beside - solution.tube.pressure == pytest.approx(drop, rel=1e-8)


def test_tube_at_the_other_wall_is_the_mirror_image():
    left = replace(BENCH, ports=(HeaderPort("left", 0.125, 0.525),))
    flow = np.array([0.05])
    one = TubeInPlenum(ROUND, 0, 0.2, 0.05, 1.15)
    two = TubeInPlenum(ROUND, 0, 0.2, 0.15, 1.25)
    plain = solve_header(BENCH, PLATE, OPEN, flow, AIR, tube=one)
    image = solve_header(left, PLATE, OPEN, flow, AIR, tube=two)
    # law of nature: mirror images
    assert image.velocity[::-1] == pytest.approx(plain.velocity, rel=1e-8)
    assert image.tube.inflow == pytest.approx(plain.tube.inflow, rel=1e-8)
    assert image.tube.x == pytest.approx(1.3 - plain.tube.x, rel=1e-9)


def test_tube_in_the_middle_leaves_front_and_back_alike():
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    solution = solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)
    # law of nature: mirror images, axis between two rows of cells
    assert solution.velocity[:, ::-1] == pytest.approx(solution.velocity, rel=1e-8)


def test_tube_draws_more_evenly_than_its_bare_port():
    plate = QuadraticPlate(5.0 / (0.1 / 0.845) ** 2)
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    flow = np.array([0.1])
    with_tube = solve_header(BENCH, plate, OPEN, flow, AIR, tube=laid)
    bare = solve_header(BENCH, plate, OPEN, flow, AIR)
    # common practice, no source: that is what the tube is for, and it costs suction
    assert np.std(with_tube.velocity) < np.std(bare.velocity)
    assert with_tube.port_total[0] < bare.port_total[0]


def test_tube_and_bare_port_share_the_plenum():
    ports = (HeaderPort("left", 0.125, 0.525), HeaderPort("right", 0.125, 0.525))
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    header = replace(BENCH, ports=ports)
    solution = solve_header(header, PLATE, OPEN, np.array([0.03, 0.02]), AIR, tube=laid)
    # conservation of mass, exact
    assert solution.tube.inflow.sum() == pytest.approx(0.03, rel=1e-12)
    assert solution.velocity.sum() * 0.845 / 1800 == pytest.approx(0.05, rel=1e-12)
    assert solution.mass_residual <= 1e-12


def test_shut_tube_only_levels_the_plenum():
    ports = (HeaderPort("left", 0.125, 0.525), HeaderPort("right", 0.125, 0.525))
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    header = replace(BENCH, ports=ports)
    solution = solve_header(header, PLATE, OPEN, np.array([0.0, 0.1]), AIR, tube=laid)
    # conservation of mass; air enters where the plenum's pressure is higher
    assert solution.tube.inflow.sum() == pytest.approx(0.0, abs=1e-12)
    assert solution.tube.reversed_holes
    assert solution.tube.inflow[0] < 0.0 < solution.tube.inflow[-1]


def test_blown_tube_feeds_the_plenum():
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    solution = solve_header(BENCH, PLATE, OPEN, np.array([-0.05]), AIR, tube=laid)
    alone = solve_tube(ROUND, 0.05, AIR, kind="dividing")
    # plausibility: a wide plenum changes little, so the tube acts as if alone
    assert np.all(solution.velocity < 0.0)
    assert solution.tube.end_ratio == pytest.approx(alone.end_ratio, abs=0.02)


def test_warm_start_carries_the_tube_along():
    laid = TubeInPlenum(ROUND, 0, 0.325, 0.05, 1.25)
    cold = solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)
    again = solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid, start=cold)
    # the same solution again
    assert again.iterations == 0
    assert again.tube.inflow == pytest.approx(cold.tube.inflow, rel=1e-12)


@pytest.mark.parametrize(
    ("laid", "message"),
    [
        (TubeInPlenum(ROUND, 0, 0.325, 0.5, 1.5), "must lie within"),
        (TubeInPlenum(ROUND, 0, 0.7, 0.1, 1.2), "row 0.7 m"),
        (TubeInPlenum(ROUND, 3, 0.3, 0.1, 1.2), "no port 3"),
        (TubeInPlenum(ROUND, -1, 0.3, 0.1, 1.2), "no port -1"),
    ],
)
def test_misplaced_tube_is_refused(laid, message):
    with pytest.raises(RangeError, match=message):
        solve_header(BENCH, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)


def test_tube_needs_a_port_at_its_end():
    header = replace(BENCH, ports=(HeaderPort("back", 0.1, 0.5),))
    laid = TubeInPlenum(ROUND, 0, 0.3, 0.1, 1.2)
    with pytest.raises(RangeError, match="left or right wall"):
        solve_header(header, PLATE, OPEN, np.array([0.05]), AIR, tube=laid)
