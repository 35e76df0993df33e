"""One particle size and the air around it."""

from __future__ import annotations

import pytest
from reference_data import rows

from flowsim.errors import RangeError
from flowsim.physics.aerosol import air_of_state, particle
from flowsim.physics.air import air_state


@pytest.mark.parametrize("row", rows("aerosol_particle_mechanics.csv"))
def test_properties_of_a_size(row: dict[str, str]) -> None:
    body = particle(float(row["d_um"]) * 1e-6)
    # computed, Hinds form (aerosol_particle_mechanics.csv)
    assert body.slip == pytest.approx(float(row["slip_hinds"]), rel=5e-6, abs=0.0)
    assert body.relaxation_time == pytest.approx(float(row["tau_s"]), rel=5e-6, abs=0.0)
    assert body.diffusion == pytest.approx(float(row["D_m2_s"]), rel=5e-6, abs=0.0)
    assert body.schmidt == pytest.approx(float(row["Schmidt"]), rel=5e-6, abs=0.0)
    # same, inertia 0.9 % at 20 um
    assert body.settling_velocity == pytest.approx(float(row["v_settle_m_s"]), rel=0.0092)


def test_air_of_a_room() -> None:
    air = air_of_state(air_state(293.15))
    # Kim et al. 2005 (aerosol.md 3): 66.43 nm at 20 C
    assert air.mean_free_path == pytest.approx(66.43e-9, abs=0.005e-9)
    # base air of aerosol.md: the same within its rounding
    assert particle(1e-6, air).settling_velocity == pytest.approx(3.48e-5, rel=0.01)


def test_fine_dust_follows_clean_air() -> None:
    # computed (aerosol.md 3): settling below 0.2 % of 0.45 m/s up to 5 um
    assert particle(5e-6).settling_velocity / 0.45 < 0.002


def test_no_size_no_particle() -> None:
    with pytest.raises(RangeError, match="diameter"):
        particle(0.0)
