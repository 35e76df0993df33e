"""Sweeps made by hand, so that their pictures and words are tested without a simulation."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.stats import qmc

from flowsim._arrays import FloatArray
from flowsim.report.sweep_table import Column, Ranking, SweepTable

KEYS = ("supply.fan.frequency", "openings.front.height", "plenum.height", "exhaust.fan.speed")
SHOWN = ("Hz", "mm", "mm", "%")
UNITS = ("Hz", "m", "m", "-")
LOW = np.array([30.0, 0.12, 0.06, 0.6])
HIGH = np.array([50.0, 0.24, 0.16, 1.0])
LIMITS = {
    "balance_margin": (0.05, None),
    "front_velocity_max": (None, 0.45),
    "draw_ratio": (None, 1.25),
}


def bench(inputs: FloatArray) -> dict[str, FloatArray]:
    """Return figures of an invented bench from its four inputs, shape (n, 4)."""
    frequency, height, plenum, speed = inputs.T
    supply = 0.0088 * frequency
    outflow = supply - 0.36 * speed
    velocity = outflow / (1.2 * height)
    return {
        "balance_margin": outflow / supply - 0.4 * (height - 0.12),
        "front_velocity_max": 1.3 * velocity,
        "draw_ratio": 1.0 + 0.0025 * (speed / plenum) ** 1.5 * 10.0**0.5,
        "chamber_pressure": 0.6 * velocity * np.abs(velocity),
    }


def table(inputs: FloatArray, keys: int = 4, failed: int = 0) -> SweepTable:
    """Return a table of points, the first `keys` of four inputs varied, some of them failed."""
    count = len(inputs)
    figures = bench(inputs)
    status = np.full(count, "done", dtype="U16")
    places = np.random.default_rng(5).permutation(count)[:failed]
    status[places] = "not converged"
    gone = status != "done"
    states = {}
    for name, values in figures.items():
        values[gone] = np.nan
        low, high = LIMITS.get(name, (None, None))
        if name in LIMITS:
            margin = values - low if low is not None else np.asarray(high) - values
            words = np.where(margin >= 0.0, "met", "not met")
            states[name] = np.where(gone, "", np.where(np.abs(margin) < 2e-3, "not shown", words))
    columns: tuple[Column, ...] = tuple(inputs[:, place].copy() for place in range(keys))
    return SweepTable(
        title="Balance map",
        question="Which speeds and which opening keep the front blowing out evenly?",
        keys=KEYS[:keys],
        labels=KEYS[:keys],
        units=UNITS[:keys],
        shown=SHOWN[:keys],
        values=columns,
        numbers=np.arange(1, count + 1),
        status=status,
        errors=tuple("residual 0.3 of plenum cell 4" if item else "" for item in gone),
        figures=figures,
        states=states,
        limits=LIMITS,
        ranking=Ranking("balance_margin", True, 10),
        planned=count,
    )


def grid(sizes: tuple[int, ...] = (9, 8), failed: int = 0) -> SweepTable:
    """Return a full grid over the first axes, the others held."""
    lines = [np.linspace(LOW[i], HIGH[i], size) for i, size in enumerate(sizes)]
    places = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, len(sizes))
    held = np.tile([40.0, 0.16, 0.11, 0.84], (len(places), 1))
    held[:, : len(sizes)] = places
    return table(held, len(sizes), failed)


def draws(count: int = 256, failed: int = 0, keys: int = 4) -> SweepTable:
    """Return a Latin hypercube over all axes."""
    share = qmc.LatinHypercube(4, rng=1).random(count)
    inputs = LOW + share * (HIGH - LOW)
    inputs[:, keys:] = np.array([40.0, 0.16, 0.11, 0.84])[keys:]
    return table(inputs, keys, failed)


def with_words(sizes: tuple[int, ...] = (7, 2)) -> SweepTable:
    """Return a grid whose second axis holds words."""
    plain = grid(sizes)
    words = np.array(["left", "right"])[(plain.values[1] > LOW[1]).astype(int)]
    return replace(
        plain,
        keys=(KEYS[0], "plenum.ports[0].wall"),
        labels=(KEYS[0], "port"),
        units=("Hz", ""),
        shown=("Hz", ""),
        values=(plain.values[0], words),
    )
