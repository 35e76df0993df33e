"""Transport against exact solutions, with the order at which the error falls."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from reference_data import rows
from transport_flows import absorbing, closed_box, even_flow, one_cell, orders

from flowsim._arrays import FloatArray
from flowsim.transport.adjoint import escape_shares, residence_time
from flowsim.transport.faces import FaceArrays, wall_faces
from flowsim.transport.operator import TransportProblem
from flowsim.transport.scalar import exit_flows, steady
from flowsim.transport.transient import transient

SPEED = 0.45


def slit(peclet: float, count: int, scheme: str = "linear") -> TransportProblem:
    """Return a slit of unit length and speed between swept chamber and room."""
    field = even_flow((count, 1, 1), (1.0, 1.0, 1.0), 1.0)
    both = ("left", "right")
    return TransportProblem(
        field,
        1.0 / peclet,
        exits={wall: wall_faces(field.grid, wall) for wall in both},
        exchange=absorbing(field, both, 1.0 / peclet),
        scheme=scheme,
    )


def back_flux(peclet: float, count: int, scheme: str = "linear") -> float:
    """Return J L/(D C) of the slit."""
    problem = slit(peclet, count, scheme)
    room = steady(problem, wall_faces(problem.field.grid, "right"))
    return exit_flows(problem, room)["left"] * peclet


@pytest.mark.parametrize("row", rows("aerosol_exact_back_diffusion.csv"), ids=lambda r: r["Pe"])
def test_back_diffusion_through_a_slit(row: dict[str, str]) -> None:
    peclet = float(row["Pe"])
    problem = slit(peclet, 160)
    share = escape_shares(problem, "left")[79:81, 0, 0].mean()
    time = residence_time(problem)[79:81, 0, 0].mean()
    # own derivation, two methods (aerosol_exact_back_diffusion.csv)
    assert back_flux(peclet, 160) == pytest.approx(float(row["flux_JL_over_DC_room"]), rel=4e-3)
    assert share == pytest.approx(float(row["P_hit_upstream_from_mid"]), rel=3e-3)
    assert time == pytest.approx(float(row["v*Tmean/L_from_mid"]), rel=1e-4)


@pytest.mark.parametrize("row", rows("aerosol_exact_back_diffusion.csv"), ids=lambda r: r["Pe"])
def test_room_air_far_upstream_of_a_slit(row: dict[str, str]) -> None:
    peclet = float(row["Pe"])
    field = even_flow((400, 1, 1), (2.0, 1.0, 1.0), 1.0)
    exchange = absorbing(field, ("right",), 1.0 / peclet)
    problem = TransportProblem(field, 1.0 / peclet, exchange=exchange)
    room = steady(problem, wall_faces(field.grid, "right"))[:, 0, 0]
    # own derivation, two methods (aerosol_exact_back_diffusion.csv), one length upstream
    assert 0.5 * (room[199] + room[200]) == pytest.approx(float(row["exp(-Pe)"]), rel=2e-3)


@pytest.mark.parametrize(("scheme", "least"), [("linear", 1.8), ("monotone", 0.8)])
def test_order_of_the_flux_through_a_slit(scheme: str, least: float) -> None:
    # own derivation, two methods (aerosol_exact_back_diffusion.csv), Pe 2
    exact = float(rows("aerosol_exact_back_diffusion.csv")[3]["flux_JL_over_DC_room"])
    errors = {1 / n: abs(back_flux(2.0, n, scheme) - exact) for n in (20, 40, 80, 160)}
    assert min(orders(errors)) > least


def plume(
    row: dict[str, str],
    cells: tuple[float, float],
    margins: tuple[float, float, float],
    depth: int,
) -> tuple[TransportProblem, int]:
    """Return even flow round a source in the corner of half or a quarter of a plume.

    Cell sizes along and across the flow; room upstream, downstream and across.
    """
    along, across = cells
    upstream, downstream = (round(margin / along) for margin in margins[:2])
    width = round(margins[2] / across)
    shape = (upstream + downstream, width if depth else 1, width)
    size = (shape[0] * along, width * across if depth else 1.0, width * across)
    return TransportProblem(even_flow(shape, size, SPEED), float(row["D_m2_s"])), upstream


def at_face(values: FloatArray, face: int) -> float:
    """Return the value on a face along a line that is even about its start, to third order."""
    mirrored = np.concatenate([values[1::-1], values])
    return float(mirrored[face : face + 4] @ [-1.0, 9.0, 9.0, -1.0]) / 16.0


def line_plume(row: dict[str, str], cell: float, margins: tuple[float, float, float]) -> float:
    problem, start = plume(row, (cell, cell), margins, depth=0)
    field = steady(problem, 0.0, 0.5 * one_cell(problem, (start, 0, 0)))
    station = start + round(float(row["x_m"]) / cell)
    return at_face(field[station, 0, :], round(float(row["r_lateral_m"]) / cell))


PLUMES = rows("aerosol_exact_plume.csv")
LINE = [
    (0, 0.005, (0.1, 0.55, 0.35)),
    (1, 0.005, (0.1, 0.55, 0.35)),
    (2, 0.00125, (0.03, 0.12, 0.12)),
    (3, 0.001, (0.03, 0.05, 0.08)),
    (4, 0.005, (0.25, 0.35, 0.5)),
    (5, 0.0005, (0.03, 0.03, 0.03)),
]


@pytest.mark.parametrize(("number", "cell", "margins"), LINE)
def test_line_source(number: int, cell: float, margins: tuple[float, float, float]) -> None:
    # own derivation, two methods (aerosol_exact_plume.csv)
    exact = float(PLUMES[number]["line2d_exact"])
    assert line_plume(PLUMES[number], cell, margins) == pytest.approx(exact, rel=6e-3)


def test_line_source_converges_at_second_order() -> None:
    exact = float(PLUMES[1]["line2d_exact"])
    margins = (0.1, 0.6, 0.4)
    errors = {h: abs(line_plume(PLUMES[1], h, margins) - exact) for h in (0.01, 0.005, 0.0025)}
    assert min(orders(errors)) > 1.7


POINT = [
    (0, 0.01, (0.05, 0.55, 0.25)),
    (1, 0.01, (0.05, 0.55, 0.25)),
    (2, 0.0025, (0.02, 0.11, 0.1)),
    (3, 0.002, (0.02, 0.04, 0.06)),
    (4, 0.0125, (0.2, 0.3, 0.4)),
    (5, 0.0005, (0.015, 0.008, 0.015)),
]


@pytest.mark.parametrize(("number", "cell", "margins"), POINT)
def test_point_source(number: int, cell: float, margins: tuple[float, float, float]) -> None:
    row = PLUMES[number]
    problem, start = plume(row, (cell, cell), margins, depth=1)
    field = steady(problem, 0.0, 0.25 * one_cell(problem, (start, 0, 0)))
    plane = field[start + round(float(row["x_m"]) / cell)]
    axis = np.array([at_face(line, 0) for line in plane.T])
    # own derivation, two methods (aerosol_exact_plume.csv); cells of a fifth of the plume width
    exact = float(row["point_exact"])
    assert at_face(axis, round(float(row["r_lateral_m"]) / cell)) == pytest.approx(exact, rel=0.02)


def disc(count: int, cell: float, radius: float) -> FloatArray:
    """Return the share of each face of a quarter plane that lies in a disc about its corner."""
    fine = (np.arange(16 * count) + 0.5) * cell / 16.0
    inside = fine[:, np.newaxis] ** 2 + fine**2 < radius**2
    return inside.reshape(count, 16, count, 16).mean(axis=(1, 3))


DISC = [
    (0, (0.004, 0.01), (0.05, 0.5, 0.2)),
    (1, (0.004, 0.01), (0.05, 0.5, 0.2)),
    (2, (0.0025, 0.005), (0.03, 0.1, 0.12)),
    (3, (0.01, 0.01), (0.2, 0.1, 0.3)),
    (4, (0.02, 0.02), (0.2, 0.5, 0.6)),
]


def test_every_row_of_the_plumes_is_met() -> None:
    for cases, table in (
        (LINE, PLUMES),
        (POINT, PLUMES),
        (DISC, rows("aerosol_exact_plume_fraction.csv")),
    ):
        assert [case[0] for case in cases] == list(range(len(table)))


@pytest.mark.parametrize(("number", "cells", "margins"), DISC)
def test_share_that_first_crosses_a_plane_inside_a_disc(
    number: int, cells: tuple[float, float], margins: tuple[float, float, float]
) -> None:
    row = rows("aerosol_exact_plume_fraction.csv")[number]
    base, start = plume(row, cells, margins, depth=1)
    shares = disc(base.shape[1], cells[1], float(row["R_m"]))
    problem = TransportProblem(
        base.field,
        base.diffusivity,
        exits={"disc": wall_faces(base.field.grid, "right", shares)},
        exchange=absorbing(base.field, ("right",), float(row["D_m2_s"])),
    )
    found = escape_shares(problem, "disc")
    near = 0.5 * (found[start - 1, 0, 0] + found[start, 0, 0])  # the plane lies x from a face
    # own derivation, two methods (aerosol_exact_plume_fraction.csv)
    assert near == pytest.approx(float(row["fraction_exact"]), rel=0.03)


def settled(row: dict[str, str], count: int, kind: str, step: float) -> list[float]:
    """Return the airborne share at tau 0.5 and 1."""
    mixing = 1.0 / float(row["Pe"])
    field = closed_box((1, 1, count), (1.0, 1.0, 1.0))
    floor = wall_faces(field.grid, "floor", 2.0 * mixing * count)
    problem = TransportProblem(
        field, mixing, settling=1.0, deposition=floor if kind == "absorbing_floor" else None
    )
    found = transient(problem, 1.0, [0.0, 0.5, 1.0], longest_step=step)
    return [float(state.mean()) for state in found.concentration[1:]]


@pytest.mark.parametrize("row", rows("aerosol_exact_settling.csv"), ids=lambda row: row["Pe"])
@pytest.mark.parametrize("kind", ["flux_floor", "absorbing_floor"])
def test_settling_in_a_closed_box(row: dict[str, str], kind: str) -> None:
    coarse_time = kind == "flux_floor" or float(row["Pe"]) > 1.0
    found = settled(row, 160, kind, 1 / 200 if coarse_time else 1 / 1000)
    # own derivation, two methods (aerosol_exact_settling.csv)
    exact = [float(row[f"{kind}_tau{tau}"]) for tau in ("0.5", "1")]
    assert found == pytest.approx(exact, rel=4e-3)


def test_settling_converges_at_second_order() -> None:
    row = rows("aerosol_exact_settling.csv")[2]
    exact = float(row["flux_floor_tau1"])
    errors = {1 / n: abs(settled(row, n, "flux_floor", 0.2 / n)[1] - exact) for n in (20, 40, 80)}
    assert min(orders(errors)) > 1.8


def hitting(row: dict[str, str], count: int) -> TransportProblem:
    """Return a line of air before an absorbing plate, 6 cm long."""
    drift, spread = float(row["v_m_s"]), float(row["D_m2_s"])
    field = even_flow((count, 1, 1), (0.06, 1.0, 1.0), drift)
    plate = absorbing(field, ("left",), spread)
    return TransportProblem(
        field, spread, exits={"plate": wall_faces(field.grid, "left")}, exchange=plate
    )


@pytest.mark.parametrize("row", rows("aerosol_exact_hitting.csv"), ids=lambda row: row["v_m_s"])
def test_hitting_a_plate(row: dict[str, str]) -> None:
    problem = hitting(row, 180)
    start = 0.5 * (one_cell(problem, (29, 0, 0)) + one_cell(problem, (30, 0, 0)))
    found = transient(problem, start / problem.volume, [0.0, float(row["t_s"])])
    # own derivation, two methods (aerosol_exact_hitting.csv)
    assert found.left["plate"][-1] == pytest.approx(float(row["P_hit_by_t"]), rel=2e-3)
    ever = escape_shares(problem, "plate")[29:31, 0, 0].mean()
    assert ever == pytest.approx(float(row["P_hit_ever"]), rel=2e-3)


def spread_of(concentration: FloatArray) -> float:
    """Return the variance of a cloud along x in a box of unit length."""
    x = (np.arange(concentration.size) + 0.5) / concentration.size
    weight = concentration.ravel() / concentration.sum()
    return float(weight @ x**2 - (weight @ x) ** 2)


def growth(diffusivity: Callable[[float], float], steps: int, end: float) -> float:
    """Return the growth of a cloud's variance under an even diffusivity that changes in time."""
    field = closed_box((60, 1, 1), (1.0, 1.0, 1.0))
    cloud = np.zeros((60, 1, 1))
    cloud[30] = 1.0
    before = spread_of(cloud)
    for number in range(steps):
        now = diffusivity((number + 0.5) * end / steps)
        problem = TransportProblem(field, now)
        cloud = transient(problem, cloud, [0.0, end / steps], longest_step=1.0).concentration[1]
    return spread_of(cloud) - before


@pytest.mark.parametrize("row", rows("aerosol_exact_taylor.csv"), ids=lambda row: row["theta"])
def test_spread_by_eddies_that_remember(row: dict[str, str]) -> None:
    # a cloud grows by 2 K(t); with u' = 0.01 m/s and T = 1 s, K = u'^2 T (1 - exp(-t/T))
    theta = float(row["theta"])
    remembering = growth(lambda t: 1e-4 * (1.0 - np.exp(-t)), 40, theta)
    constant = growth(lambda _: 1e-4, 40, theta)
    # Taylor 1921 (aerosol_exact_taylor.csv)
    assert remembering == pytest.approx(1e-4 * float(row["sigma2_over_u2TL2"]), rel=4e-3)
    assert constant == pytest.approx(1e-4 * float(row["long_time"]), rel=1e-8)


def test_absorbing_faces_are_zero_elsewhere() -> None:
    field = even_flow((4, 3, 2), (1.0, 1.0, 1.0), 1.0)
    found: FaceArrays = absorbing(field, ("left",), 1.0)
    assert [bool(axis.any()) for axis in found.axes] == [True, False, False]
