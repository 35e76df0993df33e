from __future__ import annotations

from dataclasses import replace

import fluids.friction
import numpy as np
import pytest
from plenum_cases import AIR, orifice_plate

from flowsim.plenum._kernels import churchill
from flowsim.plenum.field import PlenumSystem
from flowsim.plenum.header import Header, HeaderPort, solve_header
from flowsim.plenum.laws import LAMINAR_GAP, wall_data
from flowsim.plenum.newton import Group
from flowsim.plenum.poisson import neumann_solver
from flowsim.plenum.ports import map_ports, port_velocities
from flowsim.plenum.row import lay_tube
from flowsim.plenum.tube import Tube, TubeInPlenum

SHAPE = (10, 6)
SPACING = (0.1, 0.1, 0.08)


def small_system(friction: float | None) -> PlenumSystem:
    """Return a plenum 1 x 0.6 m with a port, a covered cell and a tube."""
    ports = map_ports(
        (HeaderPort("left", 0.1, 0.5), HeaderPort("right", 0.0, 0.4)), (1.0, 0.6, 0.08), SHAPE
    )
    net, arriving, walls = port_velocities(ports, np.array([0.0, 0.1]), SPACING)
    is_open = np.ones(SHAPE, dtype=bool)
    is_open[3, 2] = False
    share = np.linspace(0.3, 0.9, 59)
    tube = Tube(0.8, 0.005, 0.08, 0.003, 0.62, friction)
    row = lay_tube(TubeInPlenum(tube, 0, 0.27, 0.05, 0.9), ports.walls, (1.0, 0.6), SHAPE, AIR)
    count = 59 + row.x.size
    groups = (Group(slice(0, 59), 0.01 * share, 0.12), Group(slice(59, count), row.hole_area, 0.02))
    return PlenumSystem(
        spacing=SPACING,
        poisson=neumann_solver(*SHAPE, 0.1, 0.1),
        plate=orifice_plate(0.02),
        is_open=is_open,
        open_share=share,
        fixed=(net, arriving),
        walls=walls,
        drag=wall_data(AIR, 0.16, friction, 1e-4, LAMINAR_GAP),
        momentum=1.2,
        row=row,
        groups=groups,
    )


@pytest.mark.parametrize("friction", [0.0, 0.03, None], ids=["none", "constant", "churchill"])
def test_linearised_pressure_is_the_derivative(friction):
    system = small_system(friction)
    random = np.random.default_rng(3)
    count = system.groups[1].part.stop
    velocity = random.uniform(0.1, 0.4, count)
    velocity[:5] *= -1.0
    velocity[59:] *= 20.0
    velocity[60] *= -1.0
    step = random.normal(size=count)
    for group in system.groups:
        step[group.part] -= (group.area @ step[group.part]) / group.area.sum()
    state = system.evaluate(velocity, 0.7)
    tiny = 1e-6
    ahead, behind = (system.evaluate(velocity + s * tiny * step, 0.7) for s in (1, -1))
    numeric = (ahead.residual - behind.residual) / (2.0 * tiny)
    exact = system.change(state, step) + state.slope * step
    for group in system.groups:
        difference = (numeric - exact)[group.part]
        # differential calculus: central difference, up to the group's constant
        assert np.abs(difference - difference.mean()).max() < 1e-6 * np.abs(numeric).max()


@pytest.mark.parametrize("reynolds", [20.0, 500.0, 1999.0, 3000.0, 1e4, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-3, 0.02])
def test_wall_factor_is_churchills(reynolds, roughness):
    factor, power = churchill(reynolds, roughness, 64.0)
    ahead, _ = churchill(reynolds * 1.0001, roughness, 64.0)
    # Churchill 1977, explicit form for all Re, through the library fluids
    expected = fluids.friction.Churchill_1977(Re=reynolds, eD=roughness)
    assert factor == pytest.approx(expected, rel=1e-6)
    # differential calculus
    assert power == pytest.approx(np.log(ahead / factor) / np.log(1.0001), abs=1e-3)


def test_still_air_feels_laminar_drag():
    # exact laminar law f Re = 96 between plates (flow.md 2)
    assert churchill(1.0, 0.0, LAMINAR_GAP) == (96.0, -1.0)


def laminar_line(cells: int) -> float:
    """Return the suction at the port of a thin gap over the closed form without inertia."""
    height, length, flow = 0.002, 1.0, 2e-6
    header = Header(length, 0.5, height, cells, 1, (HeaderPort("right", 0.0, 0.5),))
    stiff = orifice_plate(2e-7)
    solution = solve_header(
        replace(header, momentum=0.0), stiff, np.ones((cells, 1)), np.array([flow]), AIR
    )
    change = solution.pressure[0, 0] - solution.port_total[0]
    mean_speed = flow / (0.5 * height)
    return change / (12.0 * AIR[1] * mean_speed * length / (2.0 * height**2))


def test_creeping_flow_between_plates_takes_the_exact_drop():
    # exact: dp/dx = -12 mu U/h^2 with U rising linearly from the closed end
    assert laminar_line(200) == pytest.approx(1.0, rel=1e-3)


def test_places_are_named():
    system = small_system(0.0)
    # definition: row-major order, the covered cell is passed over
    assert system.place(19) == "plate cell x = 0.350 m, y = 0.150 m"
    assert system.place(20) == "plate cell x = 0.350 m, y = 0.350 m"
    assert system.place(60) == "tube station 1, counted from its closed end"
