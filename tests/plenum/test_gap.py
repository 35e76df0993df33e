from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from flowsim.errors import ConvergenceError, RangeError
from flowsim.physics.perforated_plate import PerforatedPlate
from flowsim.plenum.gap import GapSolution, GapUnder, solve_gap

RHO, MU = 1.204, 1.813e-5
PLATE = PerforatedPlate(0.2, 2e-3, 4e-3, RHO, MU)
FLOOR = PerforatedPlate(0.05, 3e-3, 4e-3, RHO, MU)
GAP = GapUnder(0.3, 0.2, 2e-3, PLATE, FLOOR, RHO, MU)
# (pressure in the box, pressure in the plenum)
DRIVES = [(-1.0, -8.0), (3.0, 10.0), (-9.0, -8.0), (0.0, -5.0), (5.0, 0.0), (-50.0, -100.0)]
HEIGHTS = np.geomspace(2e-4, 2e-2, 9)


@dataclass(frozen=True)
class Linear:
    """A plate whose face velocity is a share of the drop."""

    conductance: float
    hole_diameter: float = 1e-9

    def drop(self, velocity):
        return velocity / self.conductance, np.full_like(velocity, 1.0 / self.conductance)

    def velocity(self, drop):
        return drop * self.conductance, np.full_like(drop, self.conductance)


class NotALaw(Linear):
    """A plate whose drop is no number."""

    def drop(self, velocity):
        return velocity * math.nan, velocity * math.nan


def flows(solution: GapSolution) -> np.ndarray:
    return np.array([solution.edge_flow, solution.floor_flow, solution.plate_flow])


def bvp_flows(gap: GapUnder, tray: float, plenum: float) -> np.ndarray:
    """Return edge, floor and plate flow and mean pressure by collocation.

    Unknowns are the inward flow, the pressure, the plate flow and the integral of the pressure.
    """
    perimeter = 2.0 * (gap.width + gap.depth)
    share, curtain = gap.plate_share, gap.curtain_factor

    def slopes(s, y):
        rim = perimeter - 8.0 * s
        plate = share * gap.plate.velocity(y[1] - plenum)[0]
        floor = curtain * gap.floor.velocity(tray - y[1])[0]
        section = gap.height * rim
        speed = y[0] / section
        change = rim * (floor - plate)
        joining = rim * (np.maximum(floor, 0.0) + np.maximum(-plate, 0.0))
        speed_change = change / section + 8.0 * gap.height * y[0] / section**2
        inertia = speed * speed_change + speed * joining / section
        fall = 12.0 * gap.viscosity / gap.height**2 * speed + gap.momentum * RHO * inertia
        return np.array([change, -fall, rim * plate, rim * y[1]])

    def ends(rim, middle):
        speed = rim[0] / (gap.height * perimeter)
        loss = gap.rim_loss if speed > 0.0 else gap.rim_loss * (gap.momentum - 1.0)
        return np.array([rim[1] + 0.5 * loss * RHO * speed**2, middle[0], rim[2], rim[3]])

    s = np.linspace(0.0, gap.reach, 401)
    guess = solve_gap(replace(gap, cells=20), tray, plenum)
    start = np.zeros((4, s.size))
    start[0] = guess.edge_flow * (1.0 - s / gap.reach)
    start[1] = np.interp(s, guess.distance, guess.pressure)
    result = solve_bvp(slopes, ends, s, start, tol=1e-7, max_nodes=50000)
    assert result.success, result.message
    edge, plate = result.y[0, 0], result.y[2, -1]
    return np.array([edge, plate - edge, plate, result.y[3, -1] / (gap.width * gap.depth)])


def with_mean(solution: GapSolution) -> np.ndarray:
    return np.append(flows(solution), solution.mean_pressure)


@pytest.mark.parametrize("momentum", [0.0, 1.0])
@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
@pytest.mark.parametrize("height", [5e-4, 2e-3, 8e-3])
@pytest.mark.parametrize("size", [(0.3, 0.2), (0.2, 0.2), (1.0, 0.1)])
def test_air_is_conserved(size, height, tray, plenum, momentum):
    gap = replace(GAP, width=size[0], depth=size[1], height=height, momentum=momentum)
    solution = solve_gap(gap, tray, plenum)
    edge, floor, plate = flows(solution)
    # own derivation: conservation of mass, exact
    assert abs(edge + floor - plate) <= 1e-12 * max(abs(edge), abs(floor), abs(plate))
    assert solution.residual <= 1e-12
    assert edge == pytest.approx(solution.rim_speed * 2.0 * sum(size) * height, rel=1e-14)


@pytest.mark.parametrize("momentum", [0.0, 1.0])
@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
def test_solution_meets_an_independent_boundary_value_solver(tray, plenum, momentum):
    gap = replace(GAP, momentum=momentum)
    expected = bvp_flows(gap, tray, plenum)
    scale = np.array([*[np.max(np.abs(expected[:3]))] * 3, abs(expected[3])])
    standard = with_mean(solve_gap(gap, tray, plenum))
    fine = with_mean(solve_gap(replace(gap, cells=480), tray, plenum))
    # own derivation, collocation by scipy.integrate.solve_bvp
    assert np.max(np.abs(standard - expected) / scale) < 1e-3
    # own derivation, collocation by scipy.integrate.solve_bvp; second order: 64 times less
    assert np.max(np.abs(fine - expected) / scale) < 2e-5


@pytest.mark.parametrize("height", [1e-3, 2e-3, 4e-3])
def test_long_strip_with_linear_plate_meets_the_fin_solution(height):
    plate = Linear(0.05)
    gap = GapUnder(2e8, 0.2, height, plate, None, RHO, MU, rim_loss=0.0, momentum=0.0)
    rate = math.sqrt(12.0 * MU * plate.conductance / height**3)
    mean_share = math.tanh(rate * gap.reach) / (rate * gap.reach)

    def deviation(cells):
        solution = solve_gap(replace(gap, cells=cells), 0.0, -7.0)
        inner = rate * (gap.reach - solution.distance)
        exact = 7.0 * (np.cosh(inner) / math.cosh(rate * gap.reach) - 1.0)
        flow = plate.conductance * 7.0 * mean_share * gap.width * gap.depth
        pressure = np.sqrt(np.mean((solution.pressure - exact) ** 2))
        return pressure, abs(solution.edge_flow / flow - 1.0)

    # own derivation: fin equation p'' = rate^2 (p - p_plenum), cosh solution
    assert deviation(60)[0] < 7.0 * 1e-3
    # own derivation: tanh flow of the same fin
    assert deviation(480)[1] < 2e-5
    # own derivation: second order of the discretisation
    assert np.log2(deviation(240)[0] / deviation(480)[0]) == pytest.approx(2.0, abs=0.1)


def test_flow_from_the_box_in_a_sealed_linear_gap_is_two_resistances_in_series():
    # a gap so narrow that the rim passes nothing: floor and plate in series everywhere
    gap = GapUnder(0.3, 0.2, 1e-7, Linear(0.05), Linear(0.02, 1e-12), RHO, MU)
    solution = solve_gap(gap, 4.0, -6.0)
    # own derivation: resistances in series
    assert solution.plate_flow == pytest.approx(10.0 * 0.06 / (1 / 0.05 + 1 / 0.02), rel=1e-5)
    assert abs(solution.edge_flow) < 1e-5 * solution.plate_flow


@pytest.mark.parametrize("momentum", [0.0, 1.0])
@pytest.mark.parametrize(("tray", "plenum"), [(-1.0, -8.0), (-9.0, -8.0), (0.0, -5.0)])
def test_scheme_is_second_order(tray, plenum, momentum):
    gap = replace(GAP, momentum=momentum)
    coarse, middle, fine = (
        with_mean(solve_gap(replace(gap, cells=n), tray, plenum)) for n in (120, 240, 480)
    )
    scale = np.array([*[np.max(np.abs(fine[:3]))] * 3, abs(fine[3])])
    before, after = (np.linalg.norm(d / scale) for d in (coarse - middle, middle - fine))
    # own derivation: second order of the discretisation
    assert np.log2(before / after) == pytest.approx(2.0, abs=0.15)


@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
def test_wide_gap_stands_at_the_chamber_pressure(tray, plenum):
    solution = solve_gap(replace(GAP, height=3.0), tray, plenum)
    area = GAP.width * GAP.depth
    scale = max(abs(tray), abs(plenum))
    # own derivation: no resistance, so both plates see the chamber's pressure
    assert np.max(np.abs(solution.pressure)) < 1e-4 * scale
    assert solution.plate_flow == pytest.approx(area * PLATE.velocity(-plenum)[0], abs=1e-5)
    assert solution.floor_flow == pytest.approx(area * FLOOR.velocity(tray)[0], abs=1e-5)


@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
def test_bypass_vanishes_with_the_gap(tray, plenum):
    solution = solve_gap(replace(GAP, height=1e-6), tray, plenum)
    free = GAP.width * GAP.depth * abs(PLATE.velocity(tray - plenum)[0]) + 1e-4
    # own derivation: the flow between plates goes with the cube of the height
    assert abs(solution.edge_flow) < 1e-3 * free


@pytest.mark.parametrize("momentum", [0.0, 1.0])
def test_wider_gap_lets_more_air_in_at_the_rim(momentum):
    gap = replace(GAP, momentum=momentum, floor=replace(FLOOR, hole_diameter=1e-4))
    found = [solve_gap(replace(gap, height=h), -1.0, -8.0) for h in HEIGHTS]
    # own derivation: a smaller resistance at the rim raises the pressure in the gap
    assert np.all(np.diff([s.edge_flow for s in found]) > 0.0)
    assert np.all(np.diff([s.mean_pressure for s in found]) > 0.0)
    assert np.all(np.diff([s.floor_flow for s in found]) < 0.0)


def test_floor_flow_first_rises_with_the_curtain():
    narrow, wide = (solve_gap(replace(GAP, height=h), -1.0, -8.0) for h in (1e-4, 1e-3))
    # own derivation: below g = d/4 the curtain under the holes is smaller than they are
    assert narrow.floor_flow < wide.floor_flow


def test_curtain_factor_has_both_limits():
    # own derivation: hole and curtain in series, c/sqrt(1 + c^2)
    assert replace(GAP, height=1e-3).curtain_factor == pytest.approx(math.sqrt(0.5))
    assert replace(GAP, height=1e-6).curtain_factor == pytest.approx(1e-3, rel=1e-5)
    assert replace(GAP, height=1.0).curtain_factor == pytest.approx(1.0, abs=1e-6)
    assert replace(GAP, floor=None, height=1e-6).curtain_factor == 1.0


@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
def test_reversed_pressures_reverse_the_flow_without_inertia(tray, plenum):
    gap = replace(GAP, momentum=0.0)
    ahead, back = solve_gap(gap, tray, plenum), solve_gap(gap, -tray, -plenum)
    # own derivation: all laws are odd without inertia
    assert flows(back) == pytest.approx(-flows(ahead), rel=1e-9, abs=1e-15)
    assert back.pressure == pytest.approx(-ahead.pressure, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("tray", "plenum"), DRIVES)
def test_reversed_pressures_reverse_the_signs_with_inertia(tray, plenum):
    ahead, back = solve_gap(GAP, tray, plenum), solve_gap(GAP, -tray, -plenum)
    # own derivation: inertia changes the size, not the direction
    assert np.all(flows(ahead) * flows(back) <= 0.0)


@pytest.mark.parametrize("floor", [None, FLOOR])
def test_still_air_stays_still(floor):
    solution = solve_gap(replace(GAP, floor=floor), 0.0, 0.0)
    # own derivation: no drive, no flow
    assert np.all(flows(solution) == 0.0)
    assert np.all(solution.pressure == 0.0)
    assert solution.iterations == 0


def test_pressure_in_a_box_without_holes_is_without_effect():
    gap = replace(GAP, floor=None)
    one, other = solve_gap(gap, 100.0, -8.0), solve_gap(gap, 0.0, -8.0)
    # own derivation: nothing joins box and gap
    assert flows(one) == pytest.approx(flows(other), rel=1e-14)
    assert one.floor_flow == 0.0


def test_solid_plate_sends_all_air_to_the_rim():
    solution = solve_gap(replace(GAP, plate_share=0.0), 5.0, -8.0)
    # own derivation: conservation of mass
    assert solution.plate_flow == 0.0
    assert solution.edge_flow == pytest.approx(-solution.floor_flow, rel=1e-12)
    assert solution.floor_flow > 0.0


@pytest.mark.parametrize(
    "change",
    [
        {"width": 0.0},
        {"height": -1e-3},
        {"density": 0.0},
        {"plate_share": 1.1},
        {"rim_loss": -0.1},
        {"momentum": 2.0},
        {"cells": 1},
        {"floor": Linear(1.0, 0.0)},
    ],
)
def test_impossible_gap_is_refused(change):
    with pytest.raises(RangeError, match=r"gap|expected"):
        replace(GAP, **change)


def test_pressure_that_is_no_number_is_refused():
    with pytest.raises(RangeError, match="finite pressures"):
        solve_gap(GAP, math.nan, -8.0)


def test_law_that_gives_no_number_is_reported():
    with pytest.raises(ConvergenceError, match="gap under a box"):
        solve_gap(replace(GAP, plate=NotALaw(1.0)), -1.0, -8.0)


def test_doubts_are_stated():
    assert GAP.validity(1.0) == ()
    assert "Reynolds" in GAP.validity(30.0)[0]
    assert "wider" in replace(GAP, height=0.03).validity(0.01)[0]


@pytest.mark.parametrize("floor", [None, FLOOR])
def test_plenum_below_a_solid_plate_moves_nothing(floor):
    solution = solve_gap(replace(GAP, floor=floor, plate_share=0.0), 0.0, -8.0)
    # own derivation: no way between gap and plenum, no drive
    assert np.all(flows(solution) == 0.0)
    assert np.max(np.abs(solution.pressure)) < 1e-12
