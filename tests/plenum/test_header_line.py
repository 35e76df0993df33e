from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from plenum_cases import (
    AIR,
    COEFFICIENT,
    DENSITY,
    end_velocities,
    line_header,
    line_plate,
    orifice_plate,
    port_drive,
    solve_line,
)
from reference_data import rows

from flowsim.plenum.header import Header, HeaderPort, solve_header

MANIFOLDS = [
    row for row in rows("flow_manifold.csv") if row["kind"] == "combining" or row["F"] == "0"
]
NAMES = [f"{row['kind']}-{row['a']}-{row['F']}" for row in MANIFOLDS]
FLOW = np.array([0.25])


def line_figures(row: dict[str, str], cells: int) -> np.ndarray:
    """Return our figures of a one-dimensional plenum in the order of the table's columns."""
    sign = 1.0 if row["kind"] == "combining" else -1.0
    hole_ratio = float(row["a"])
    solution = solve_line(cells, hole_ratio, float(row["F"]), sign)
    drive = port_drive(solution)
    closed, _ = end_velocities(np.abs(solution.velocity[:, 0]))
    mean = 0.05 / (1.0 * 0.5)
    open_end = hole_ratio * math.sqrt(drive)
    return np.array([open_end * mean / closed, closed / mean, open_end, drive])


def expected_figures(row: dict[str, str]) -> np.ndarray:
    names = ("u_open_over_u_closed", "u_closed_over_mean", "u_open_over_mean")
    return np.array([float(row[k]) for k in (*names, "dp_hole_at_open_end_over_half_rho_W2")])


@pytest.mark.parametrize("row", MANIFOLDS, ids=NAMES)
def test_default_resolution_meets_the_exact_header(row):
    # own derivation, three methods (flow_manifold.csv)
    assert line_figures(row, 60) == pytest.approx(expected_figures(row), rel=0.005)


@pytest.mark.parametrize("row", MANIFOLDS, ids=NAMES)
def test_header_converges_at_second_order_to_the_exact_value(row):
    expected = expected_figures(row)
    coarse, middle, fine = (line_figures(row, n) for n in (60, 120, 240))
    # own derivation, three methods (flow_manifold.csv)
    assert (4.0 * fine - middle) / 3.0 == pytest.approx(expected, rel=1e-5)
    signal = np.abs(coarse - middle) > 1e-6 * expected
    order = np.log2(np.abs((coarse - middle) / (middle - fine)))
    # own derivation: central differences on a uniform grid are second order
    assert order[signal] == pytest.approx(2.0, abs=0.1)


def test_errors_of_the_header_fall_at_second_order():
    row = next(r for r in MANIFOLDS if r["a"] == "1.5" and r["F"] == "1")
    errors = [np.abs(line_figures(row, n) - expected_figures(row)) for n in (60, 120)]
    # own derivation, three methods (flow_manifold.csv)
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize("hole_ratio", [0.3, 0.707, 1.0, 1.4])
def test_draw_ratio_follows_the_choking_number(hole_ratio):
    solution = solve_line(120, hole_ratio)
    closed, at_port = end_velocities(solution.velocity[:, 0])
    # own derivation: M = 2 a^2, ratio cosh(sqrt M) (numerics.md 4)
    assert solution.choking_number == pytest.approx(2.0 * hole_ratio**2, rel=1e-12)
    assert at_port / closed == pytest.approx(
        math.cosh(math.sqrt(solution.choking_number)), rel=2e-4
    )


def test_half_theta_draws_as_the_closed_form_says():
    solution = solve_line(120, 1.0, momentum=0.5)
    closed, at_port = end_velocities(solution.velocity[:, 0])
    # closed form C1 with k = 1/2 (field.md, laws)
    assert at_port / closed == pytest.approx(math.cosh(1.0), rel=2e-4)


def test_blown_box_with_full_regain_follows_the_closed_form():
    solution = solve_line(120, 0.5, sign=-1.0, momentum=2.0)
    closed, at_port = end_velocities(-solution.velocity[:, 0])
    # closed form C2 with k = 1 (field.md, laws)
    assert at_port / closed == pytest.approx(math.cos(0.5 * math.sqrt(2.0)), rel=2e-4)
    assert not solution.reversed_plate


def test_ports_at_both_ends_halve_the_length():
    both = (HeaderPort("left", 0.0, 0.5), HeaderPort("right", 0.0, 0.5))
    header = replace(line_header(120), ports=both)
    solution = solve_header(header, line_plate(1.0), np.ones((120, 1)), np.array([0.03, 0.03]), AIR)
    half = replace(line_header(60), width=0.5)
    single = solve_header(half, line_plate(1.0), np.ones((60, 1)), np.array([0.03]), AIR)
    # exact: the middle is a closed end
    assert solution.velocity[60:] == pytest.approx(single.velocity, rel=1e-8)
    closed, at_port = end_velocities(solution.velocity[60:, 0])
    # closed form C1 with half the length (field.md, laws)
    assert at_port / closed == pytest.approx(math.cosh(math.sqrt(2.0) / 2.0), rel=2e-4)
    assert solution.choking_number == pytest.approx(0.5, rel=1e-12)


def test_port_along_the_back_wall_puts_the_depth_for_the_length():
    header = Header(1.3, 0.65, 0.05, 8, 120, (HeaderPort("back", 0.0, 1.3),), friction_factor=0.0)
    plate = orifice_plate(0.08)
    solution = solve_header(header, plate, np.ones((8, 120)), FLOW, AIR)
    closed, at_port = end_velocities(solution.velocity[3])
    root = math.sqrt(2.0) * COEFFICIENT * 0.08 * 0.65 / 0.05
    # closed form C1 with L = depth (numerics.md 4)
    assert at_port / closed == pytest.approx(math.cosh(root), rel=2e-4)
    assert solution.choking_number == pytest.approx(root**2, rel=1e-12)
    assert np.ptp(solution.velocity, axis=0).max() < 1e-9


def test_line_sink_along_the_middle_puts_half_the_depth_for_the_length():
    strip = HeaderPort("bottom", (0.0, 0.65 * 60 / 121), (1.3, 0.65 * 61 / 121))
    header = Header(1.3, 0.65, 0.03, 4, 121, (strip,), friction_factor=0.0)
    solution = solve_header(header, orifice_plate(0.08), np.ones((4, 121)), FLOW, AIR)
    closed, beside_sink = end_velocities(solution.velocity[2, :60])
    root = math.sqrt(2.0) * COEFFICIENT * 0.08 * 0.5 * 0.65 / 0.03
    # closed form C1 with L = depth/2 (numerics.md 4); the strip is 1/121 of the depth wide
    assert beside_sink / closed == pytest.approx(math.cosh(root), rel=0.01)
    assert solution.choking_number == pytest.approx(root**2, rel=1e-9)


@pytest.mark.parametrize(
    ("free_area", "depth", "expected"),
    [
        (0.04909, 0.0889, 1.100),
        (0.04909, 0.1524, 1.034),
        (0.227, 0.0889, 3.94),
        (0.4, 0.0889, 18.4),
    ],
)
def test_table_drawn_from_one_end(free_area, depth, expected):
    ports = (HeaderPort("right", 0.0, 0.6096),)
    header = Header(0.9144, 0.6096, depth, 240, 1, ports, friction_factor=0.0)
    plate = orifice_plate(free_area, 1.2)
    flow = np.array([0.1652])
    solution = solve_header(header, plate, np.ones((240, 1)), flow, (1.2, 1.8e-5))
    closed, at_port = end_velocities(solution.velocity[:, 0])
    # closed form C1 (field.md F25)
    assert at_port / closed == pytest.approx(expected, rel=0.01)


def test_small_holes_of_the_table_take_the_stated_drop():
    plate = orifice_plate(0.04909, 1.2)
    # orifice law with Cd 0.62 (field.md F25)
    assert float(plate.drop(0.1652 / (0.9144 * 0.6096))[0]) == pytest.approx(56.9, rel=0.003)


@pytest.mark.parametrize(
    ("depth", "expected"),
    [(0.305, 0.344), (0.457, 0.687), (0.610, 0.820), (0.762, 0.883), (0.914, 0.918)],
)
def test_supply_plenum_gives_least_at_the_blower(depth, expected):
    header = Header(6.0, 1.0, depth, 120, 1, (HeaderPort("left", 0.0, 1.0),), friction_factor=0.0)
    plate = orifice_plate(0.1, 1.2)
    solution = solve_header(header, plate, np.ones((120, 1)), -np.ones(1), (1.2, 1.8e-5))
    closed, at_port = end_velocities(-solution.velocity[::-1, 0])
    # closed form C2 with k = 1/2 (field.md F28)
    assert at_port / closed == pytest.approx(expected, abs=0.0015)


def test_shallow_supply_plenum_reports_reversal():
    header = Header(6.0, 1.0, 0.305, 120, 1, (HeaderPort("left", 0.0, 1.0),), momentum=2.0)
    plate = orifice_plate(0.1, 1.2)
    solution = solve_header(
        replace(header, friction_factor=0.0), plate, np.ones((120, 1)), -np.ones(1), (1.2, 1.8e-5)
    )
    # closed form C2 with k = 1 past a quarter wave (field.md F28): reported, not clipped
    assert solution.reversed_plate
    assert solution.velocity.sum() * 6.0 / 120 == pytest.approx(-1.0, rel=1e-12)


def test_total_pressure_in_one_dimension_is_static_plus_dynamic():
    solution = solve_line(240, 1.0)
    speed = 0.05 / (0.5 * 0.1)
    static = -2.53411904 * 0.5 * DENSITY * speed**2
    # own derivation, three methods (flow_manifold.csv): drive at the open end, a = 1, F = 0
    assert solution.port_total[0] == pytest.approx(static + 0.5 * DENSITY * speed**2, rel=1e-4)
