"""A plausible Transport made by hand on the synthetic result, so that the report is tested alone.

`with_transport()` gives a full result: a covered tray in a compartment, a rinse tray wrongly on
the open work surface, two workpieces, three particle sizes, one front that blows out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from report.synthetic_result import COVERED, build
from scipy.special import erfc

from flowsim.chamber.grid import Grid
from flowsim.simulate.result import Result
from flowsim.simulate.shares import ShareEstimate, ShareMaps
from flowsim.simulate.transport_result import (
    LimitCheck,
    ParticlePath,
    Recovery,
    ReleaseResult,
    RoomExposure,
    Transport,
    WorkpieceResult,
)

WIDTH, DEPTH, HEIGHT = 1.3, 0.65, 0.75
TRAY_HEIGHT = 0.12
SIZES = np.array([0.3e-6, 0.5e-6, 5e-6])


def _centres(grid: Grid) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the centres of all cells, each of shape (nx, ny, nz)."""
    x, y, z = np.meshgrid(*grid.centres, indexing="ij")
    return x, y, z


def solid_cells(grid: Grid) -> np.ndarray:
    """Return the cells that the tray compartment fills."""
    x, y, z = _centres(grid)
    inside = (x > COVERED["offset_x"]) & (x < COVERED["offset_x"] + COVERED["width"])
    inside &= (y > COVERED["offset_y"]) & (y < COVERED["offset_y"] + COVERED["depth"])
    return inside & (z < TRAY_HEIGHT)


def _blank(grid: Grid, values: np.ndarray) -> np.ndarray:
    """Return values with nan in solids."""
    return np.where(solid_cells(grid), np.nan, values)


def _behind(grid: Grid) -> np.ndarray:
    """Return the distance of each cell behind the surface that divides front and plate. [m]"""
    x, y, z = _centres(grid)
    divide = (0.055 + 0.05 * np.minimum(z / 0.4, 1.0)) * (1.0 + 0.3 * np.cos(np.pi * x / WIDTH))
    return y - divide


def _escape(grid: Grid, width: float, floor: float) -> np.ndarray:
    """Return the share that leaves by the front, blurred over a width. [-]"""
    share = 0.5 * erfc(_behind(grid) / (np.sqrt(2.0) * width))
    return _blank(grid, floor + (1.0 - floor) * share - 2e-5)


def _ingress(grid: Grid, share: float, reach: float) -> np.ndarray:
    """Return the share of room air near the front. [-]"""
    _, y, z = _centres(grid)
    away = np.hypot(y, np.maximum(z - 0.16, 0.0))
    return _blank(grid, share * np.exp(-away / reach) + 1e-9)


def escape_maps(grid: Grid) -> ShareMaps:
    """Return shares that leave by the front."""
    return ShareMaps(
        mean_flow=_escape(grid, 0.006, 0.0),
        at_rest=_escape(grid, 0.015, 0.0),
        in_use=_escape(grid, 0.05, 1e-5),
        monotone=_escape(grid, 0.056, 2e-5),
        half_eddy=_escape(grid, 0.035, 1e-6),
        double_eddy=_escape(grid, 0.07, 1e-4),
        half_reversal=_escape(grid, 0.05, 5e-6),
        double_reversal=_escape(grid, 0.05, 2e-5),
    )


def ingress_maps(grid: Grid) -> ShareMaps:
    """Return shares of room air."""
    return ShareMaps(
        mean_flow=_blank(grid, np.zeros(grid.shape)),
        at_rest=_ingress(grid, 1e-4, 0.01),
        in_use=_ingress(grid, 0.02, 0.03),
        monotone=_ingress(grid, 0.022, 0.034),
        half_eddy=_ingress(grid, 0.02, 0.022),
        double_eddy=_ingress(grid, 0.02, 0.045),
        half_reversal=_ingress(grid, 0.01, 0.03),
        double_reversal=_ingress(grid, 0.04, 0.03),
    )


def age(grid: Grid) -> np.ndarray:
    """Return the mean age of the air, older in the upper corners. [s]"""
    _, y, z = _centres(grid)
    corner = np.exp(-(y**2 + (z - HEIGHT) ** 2) / 0.08**2)
    return _blank(grid, (HEIGHT - z) / 0.4 + 3.0 * corner + 0.1)


def _limits(near: float, highest: float) -> tuple[LimitCheck, ...]:
    """Return the published limits of hydrogen chloride against what is breathed."""
    rows = (
        ("OSHA PEL 29 CFR 1910.1000 Z-1", "ceiling", "instant", "1971", 5.0),
        ("NIOSH REL", "ceiling", "instant", "1992", 5.0),
        ("NIOSH", "IDLH", "30 min escape", "1994", 50.0),
        ("ACGIH TLV", "ceiling", "instant", "2003 (year from memory)", 2.0),
        ("Ontario", "ceiling", "instant", "library copy", 2.0),
        ("EU IOELV 2000/39/EC", "TWA", "8 h", "2000", 5.0),
        ("EU IOELV 2000/39/EC", "STEL", "15 min", "2000", 10.0),
    )
    checks = []
    for publisher, kind, averaging, year, limit in rows:
        value = near * (0.8 if averaging == "8 h" else 1.0)
        most = highest * (0.8 if averaging == "8 h" else 1.0)
        state = "not met" if value > limit else "not shown" if most > limit else "met"
        checks.append(
            LimitCheck(publisher, kind, averaging, year, "seen", "", limit, value, most, state)
        )
    return tuple(checks)


def _room(near: float, highest: float, end: float = 4.0 * 3600.0) -> RoomExposure:
    """Return a rise while the release lasts and a fall after it."""
    times = np.concatenate([np.linspace(0.0, end, 80), np.linspace(end, 2.0 * end, 81)[1:]])
    slow = np.where(times < end, 1.0 - np.exp(-times / 1500.0), np.exp(-(times - end) / 1500.0))
    fast = np.where(times < end, 1.0 - np.exp(-times / 60.0), np.exp(-(times - end) / 60.0))
    far = 0.4 * near * slow
    shape = (0.6 * near * fast + far) / near
    return RoomExposure(times, shape * near, far, shape * highest)


def releases() -> tuple[ReleaseResult, ...]:
    """Return a tray in the compartment and one on the open work surface."""
    covered = ReleaseResult(
        label="strip tray",
        substance="hydrogen chloride",
        liquid="hydrochloric acid, 20 %",
        place=(0.75, 1.07, 0.25, 0.45, 0.0, 0.05),
        compartment="strip tray",
        rate=2.1e-8,
        rate_factor=2.0,
        rates={"film theory": 2.1e-8, "plate in a stream": 3.4e-8},
        air_speed=0.05,
        filled=0.31,
        exits={"opening front": 4e-6, "plate": 1e-3, "slit strip tray": 0.998996},
        escape=ShareEstimate(4e-6, 1e-7, 0.0, 2e-6, (2e-6, 3e-5), (2e-6, 8e-6)),
        slit=ShareEstimate(1.1e-3, 2e-4, 0.0, 1e-4, (6e-4, 4e-3), (1.1e-3, 1.1e-3)),
        front_ppm=1.2e-4,
        front_ppm_highest=9e-4,
        duct_ppm=0.05,
        lfl_share=None,
        lfl_share_highest=None,
        room=_room(2e-4, 1.5e-3),
        checks=_limits(2e-4, 1.5e-3),
        concentration=None,
        why="The slit draws air in at 1.7 m/s, faster than eddies carry vapour out.",
    )
    open_tray = ReleaseResult(
        label="rinse tray, wrongly in the open",
        substance="hydrogen chloride",
        liquid="hydrochloric acid, 36 %",
        place=(0.15, 0.45, 0.10, 0.30, 0.0, 0.0),
        compartment=None,
        rate=6.1e-5,
        rate_factor=2.5,
        rates={"film theory": 6.1e-5, "plate in a stream": 1.1e-4},
        air_speed=0.21,
        filled=0.12,
        exits={"opening front": 0.043, "plate": 0.956, "cracks": 0.001},
        escape=ShareEstimate(0.044, 0.004, 3e-4, 0.006, (0.019, 0.10), (0.043, 0.046)),
        slit=None,
        front_ppm=7.1,
        front_ppm_highest=24.0,
        duct_ppm=140.0,
        lfl_share=None,
        lfl_share_highest=None,
        room=_room(3.4, 16.0),
        checks=_limits(3.4, 16.0),
        concentration=None,
        why="The tray reaches to 100 mm from the front, within one eddy of the dividing line.",
    )
    return covered, open_tray


def workpieces() -> tuple[WorkpieceResult, ...]:
    """Return one workpiece in clean air, and one near the front."""
    room = np.array([1.02e7, 3.52e6, 2.93e4])
    found = []
    for label, place, share in (
        ("drying mirror", (0.85, 1.10, 0.52, 0.62, 0.0), 3e-8),
        ("mirror blank at the front", (0.50, 0.66, 0.05, 0.17, 0.0), 2e-4),
    ):
        causes = {
            "through the filter": room * np.array([2e-8, 1e-8, 1e-10]),
            "round the filter": room * 4e-8,
            "room air": room * share,
            "person": np.array([3.0, 1.0, 0.2]) * (1.0 + 2e5 * share),
        }
        total = np.sum(list(causes.values()), axis=0)
        number = np.log10(total) + 2.08 * np.log10(SIZES / 1e-7)
        worst = int(np.argmax(number))
        cause = max(causes, key=lambda name: causes[name][worst])
        found.append(
            WorkpieceResult(
                label=label,
                place=place,
                room_air=ShareEstimate(share, 0.1 * share, 0.0, 0.2 * share,
                                       (0.5 * share, 3.0 * share), (0.5 * share, 2.0 * share)),
                age=1.9,
                sizes=SIZES,
                concentration=total,
                concentration_highest=4.0 * total,
                causes=causes,
                iso_class=float(number[worst]),
                iso_class_highest=float(number[worst] + np.log10(4.0)),
                worst_size=float(SIZES[worst]),
                class_text=f"ISO {np.ceil(2.0 * number[worst]) / 2.0:g}",
                deposition=total * np.array([3e-5, 4e-5, 9e-4]),
                cause=cause,
                why=f"Most comes from: {cause}.",
            )
        )  # fmt: skip
    return tuple(found)


def recovery() -> Recovery:
    """Return a fall of room air after switching on."""
    times = np.linspace(0.0, 60.0, 40)
    shares = np.stack([np.minimum(1.0, np.exp(-(times - delay) / 2.2)) for delay in (1.5, 3.0)], 1)
    return Recovery(times, np.maximum(shares, 2e-4), ("drying mirror", "mirror blank at the front"),
                    13.1, 8.7, 1.9, "Down to a hundredth of room air after 13.1 s.")  # fmt: skip


def _way(start: tuple[float, float, float], out: bool, seed: int) -> np.ndarray:
    """Return a walk that ends at the front or on the work surface. [m]"""
    steps = np.linspace(0.0, 1.0, 60)[:, None]
    end = np.array([start[0] + 0.03, 0.0 if out else start[1] - 0.05, 0.05 if out else 0.0])
    middle = np.array([start[0], 0.5 * (start[1] + end[1]), 0.5 * (start[2] + end[2]) + 0.05])
    way = (1 - steps) ** 2 * np.array(start) + 2 * steps * (1 - steps) * middle + steps**2 * end
    rough = np.random.default_rng(seed).normal(0.0, 0.006, way.shape).cumsum(axis=0)
    way = way + (rough - steps * rough[-1]) * np.minimum(1.0, 4.0 * steps)
    return np.clip(way, 0.0, [WIDTH, DEPTH, HEIGHT])


def paths() -> tuple[ParticlePath, ...]:
    """Return 24 ways from the open tray and the front."""
    found = []
    for index in range(24):
        x = 0.16 + 0.28 * index / 23.0
        out = index % 6 == 0
        start = (x, 0.12 + 0.007 * index, 0.01)
        end = "opening front" if out else "plate"
        found.append(ParticlePath(_way(start, out, index), end, "rinse tray, wrongly in the open"))
    for index in range(8):
        start = (0.45 + 0.03 * index, 0.0, 0.10)
        end = "mirror blank at the front" if index == 3 else "plate"
        found.append(ParticlePath(_way(start, False, 100 + index), end, "opening front"))
    return tuple(found)


def transport(grid: Grid, **changes: object) -> Transport:
    """Return vapour and dust in the synthetic bench, some parts exchanged."""
    maps = escape_maps(grid)
    room = np.array([1.02e7, 3.52e6, 2.93e4])
    share = ingress_maps(grid).in_use
    made = Transport(
        escape=maps,
        ingress=ingress_maps(grid),
        age=age(grid),
        particle_escape={0.5e-6: maps.in_use, 5e-6: 0.995 * maps.in_use},
        eddy={"mean flow": 0.0, "at rest": 3.8e-4, "in use": 5e-3},
        reversal={"front": (0.052, 1.1e-3)},
        releases=releases(),
        workpieces=workpieces(),
        recovery=recovery(),
        dust={f"{1e6 * size:g}": n * share for size, n in zip(SIZES, room, strict=True)},
        paths=paths(),
        tracked={
            "opening front": (0.046, 0.002),
            "plate": (0.948, 0.0022),
            "mirror blank at the front": (0.006, 0.0008),
        },
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def with_transport(result: Result | None = None, **changes: object) -> Result:
    """Return a result that holds vapour and dust; the synthetic bench where none is given."""
    full = build() if result is None else result
    assert full.field is not None
    return replace(full, transport=transport(full.field.grid, **changes))
