"""Where the published range of a law ends, to half a percent: silent inside, a warning outside."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from flowsim.errors import ValidityWarning
from flowsim.physics.air_cleaning import air_change_rate
from flowsim.physics.cleanroom_class import iso_class_number, iso_concentration
from flowsim.physics.cooling import air_conductivity
from flowsim.physics.deposition import (
    disk_mean_transfer,
    room_loss_rate,
    stagnation_deposition,
    turbulent_transfer,
)
from flowsim.physics.diffusion import fuller_diffusion, scaled_diffusion
from flowsim.physics.evaporation import (
    laminar_plate_coefficient,
    oppt_mass_transfer_coefficient,
    oppt_penetration_coefficient,
)
from flowsim.physics.fibre_medium import FibreMedium, closed_worst_size, medium_for_rating
from flowsim.physics.fs209e import fs209e_power_law
from flowsim.physics.leak import Gap
from flowsim.physics.opening_barrier import outflow_against_buoyancy
from flowsim.physics.particle_count import count_limits
from flowsim.physics.particle_motion import (
    BASE_AIR,
    mean_free_path,
    settling_velocity,
    slip_correction,
    sphere_drag_coefficient,
    stopping_distance,
)
from flowsim.physics.particle_source import person_emission
from flowsim.physics.slit_penetration import seal_gap_penetration
from flowsim.physics.substances import substance
from flowsim.physics.tray import Tray, tray_evaporation
from flowsim.physics.vapour import vapour_over

Law = Callable[[float], object]
NU = 1.5e-5
ACETONE = vapour_over("acetone", 293.15)
INSIDE, OUTSIDE = 0.998, 1.004
BASE_NU = BASE_AIR.viscosity / BASE_AIR.density

# law, its upper end, its lower end; each as its docstring states it
ENDS: dict[str, tuple[Law, float | None, float | None]] = {
    "air change": (lambda x: air_change_rate(1.0, 1.0, x), 2.0, None),
    "ISO class": (lambda x: iso_concentration(x, 1e-6), 9.0, 1.0),
    "ISO size": (lambda x: iso_class_number(1.0, x), 5e-6, 0.1e-6),
    "ISO class number": (lambda x: iso_class_number(10.0**x, 0.1e-6), 9.0, None),
    "209E size": (lambda x: fs209e_power_law(100.0, x), 5e-6, 0.1e-6),
    "air conductivity": (air_conductivity, 350.0, 220.0),
    "stagnation, Schmidt": (lambda x: stagnation_deposition(0.0, NU / x, 4.0, NU), None, 100.0),
    "disk, Schmidt": (lambda x: disk_mean_transfer(0.4, 0.1, NU / x, NU), None, 100.0),
    "turbulent, Schmidt": (lambda x: turbulent_transfer(0.1, NU / x, NU), None, 100.0),
    "room loss": (room_loss_rate, 11e-6, 0.4e-6),
    "diffusion": (lambda x: fuller_diffusion(0.058, 67.0, x), 473.0, 253.0),
    "scaled, warmer": (lambda x: scaled_diffusion(1e-5, 273.15, 273.15 + x), 100.0, None),
    "scaled, colder": (lambda x: scaled_diffusion(1e-5, 373.15, 373.15 - x), 100.0, None),
    "plate": (lambda x: laminar_plate_coefficient(x * NU, 1.0, 1e-5, NU), 5e5, 100.0),
    "slow air": (lambda x: oppt_penetration_coefficient(x, 0.1, 0.058, 293.15), 0.508, None),
    "fast air": (lambda x: oppt_mass_transfer_coefficient(x, 0.1, 0.058, 293.15), None, 0.508),
    "tray": (lambda x: tray_evaporation(Tray(1.0, 1.0), ACETONE, x * NU, NU), 5e5, None),
    "filter rating": (medium_for_rating, 0.2, None),
    "media velocity": (lambda x: medium_for_rating(5e-5, x), 0.1, 0.005),
    "worst size": (lambda x: closed_worst_size(0.025, x, 1e-6), 0.2, 0.005),
    "warmth": (lambda x: outflow_against_buoyancy(1.0, x), 10.0, None),
    "count": (lambda x: count_limits(3, x), None, 0.5),
    "free path": (mean_free_path, 373.0, 253.0),
    "slip": (slip_correction, 1e-4, 1e-8),
    "drag": (sphere_drag_coefficient, 1000.0, None),
    "stopping": (lambda x: stopping_distance(1e-4, x * BASE_NU / 1e-4), 1000.0, None),
    "person": (lambda x: person_emission("indoor clothes", x), 5e-6, 0.5e-6),
    "seal, way": (lambda x: seal_gap_penetration(1e-4, x, 4.0, 1e-6), 0.102, None),
    "vapour pressure": (substance("acetone").vapour_pressure, 323.2, 278.0),
}
UPPER = {name: (law, end) for name, (law, end, _) in ENDS.items() if end is not None}
LOWER = {name: (law, end) for name, (law, _, end) in ENDS.items() if end is not None}


@pytest.mark.parametrize("name", UPPER)
def test_upper_end(name: str) -> None:
    law, end = UPPER[name]
    law(end * INSIDE)  # a warning is an error here
    with pytest.warns(ValidityWarning):
        law(end * OUTSIDE)


@pytest.mark.parametrize("name", LOWER)
def test_lower_end(name: str) -> None:
    law, end = LOWER[name]
    law(end / INSIDE)
    with pytest.warns(ValidityWarning):
        law(end / OUTSIDE)


def test_settling_ends_at_a_reynolds_number_of_1000() -> None:
    speed = 1000.0 * BASE_AIR.viscosity / BASE_AIR.density / 1e-4
    drag = sphere_drag_coefficient(999.9) / slip_correction(1e-4) / (999.9 / 1000.0)
    weight = drag * 0.75 * BASE_AIR.density * speed**2 / (1e-4 * 9.80665)
    settling_velocity(1e-4, density=weight * 0.995)
    # docstring of the law: drag of Schiller & Naumann up to 1000
    with pytest.warns(ValidityWarning, match="settling"):
        settling_velocity(1e-4, density=weight * 1.01)


@pytest.mark.parametrize("height", [2.5e-3, 3.5e-3])
def test_seal_gap_ends_where_its_flow_turns(height: float) -> None:
    def reynolds(drop: float) -> float:
        gap = Gap(height, 0.01, 1.0, BASE_AIR.density, BASE_AIR.viscosity)
        return float(gap.reynolds(gap.flow(drop)[0]))

    low, high = 1e-3, 1e3
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reynolds(middle) < 2000.0 else (low, middle)
    seal_gap_penetration(height, 0.01, low * 0.99, 5e-6)
    # docstring of the law: to a gap Reynolds number of 2000
    with pytest.warns(ValidityWarning, match="Reynolds"):
        seal_gap_penetration(height, 0.01, high * 1.01, 5e-6)


def test_doubts_of_a_medium_begin_where_they_are_stated() -> None:
    for solidity, doubts in ((0.00501, 1), (0.00499, 2), (0.1995, 1), (0.2005, 2)):
        assert len(FibreMedium(1e-4, solidity=solidity).validity(0.025)) == doubts
    single = BASE_NU / 2e-5
    # docstring of the law: fibre Reynolds numbers below 1
    assert len(FibreMedium(1e-4, fibre_diameter=2e-5).validity(0.998 * single)) == 1
    assert len(FibreMedium(1e-4, fibre_diameter=2e-5).validity(1.002 * single)) == 2


def test_air_and_medium_that_are_taken_without_being_told() -> None:
    # base air (aerosol.md); example medium (aerosol_filter_penetration.csv)
    assert (BASE_AIR.temperature, BASE_AIR.density) == (293.15, 1.204)
    assert (BASE_AIR.viscosity, BASE_AIR.mean_free_path) == (1.81e-5, 66e-9)
    assert (FibreMedium(1e-4).solidity, FibreMedium(1e-4).fibre_diameter) == (0.06, 0.65e-6)
    assert medium_for_rating(5e-5) == medium_for_rating(5e-5, 0.025)
