"""Which instruments can show a pressure, a vapour or a cleanliness."""

from __future__ import annotations

import math

from flowsim.physics.cleanroom_class import iso_blank, iso_limit
from flowsim.physics.particle_count import sampling_time, sampling_volume, zero_count_volume
from flowsim.report._units import duration_text, number, size_text
from flowsim.simulate.transport_result import Transport, WorkpieceResult

__all__ = ["PHONE_STEP", "WATER_STEP", "reading_of", "transport_readings"]

PHONE_STEP = 1.0  # Pa, step of the barometer in a phone
WATER_STEP = 10.0  # Pa, about 1 mm of water in a U tube
PRACTICE = "common practice, no source"
STANDARD = "ISO 14644-1; sampling rule from memory"
LITRE = 1e-3  # m3
COUNT_STEP = 1.0 / (0.1 * LITRE)  # 1/m3, one count of a cheap counter in 0.1 L
COUNTS_TO_FALL = 100.0  # so that a hundredth of it is still one count
COUNTER_FLOW = 2.83 * LITRE / 60.0  # m3/s, a common clean-room counter
TABLED = (0.1e-6, 5e-6)  # m, sizes of the class table
CLEANEST, DIRTIEST = 1.0, 9.0


def reading_of(name: str, pressure: float) -> str:
    """Return in words whether a phone barometer or a manometer can show a pressure.

    Parameters
    ----------
    name : str
        Key figure; for the front the words also say how to judge it instead. [text]
    pressure : float
        Pressure difference. [Pa]

    Returns
    -------
    str
        One phrase.

    Notes
    -----
    A phone barometer resolves 1 Pa, an inclined or electronic manometer about as much, a U tube
    1 mm of water: common practice, no source.
    """
    size = abs(pressure)
    if size < PHONE_STEP:
        text = "neither phone barometer (1 Pa steps) nor common manometer"
        by_eye = name.startswith(("chamber_", "front_"))
        return f"{text}; use smoke or an anemometer" if by_eye else text
    if size < WATER_STEP:
        return "phone barometer (1 Pa steps) roughly; fine manometer yes, U tube (10 Pa/mm) no"
    return "manometer yes; phone barometer (1 Pa steps) yes"


def transport_readings(transport: Transport) -> tuple[tuple[str, str], ...]:
    """Return what instruments can show of vapour and dust.

    Parameters
    ----------
    transport : Transport
        Vapour and dust. [SI]

    Returns
    -------
    tuple of tuple of str
        One sentence and where it comes from.

    Notes
    -----
    Volumes to sample and class limits: [ISO14644-1]_, the rule of 20 counts from memory. One count
    in 0.1 L is what data sheets of cheap counters print; the rest is common practice, no source.
    """
    found = [
        (
            "Smoke along the edges of the front shows which way the air goes and how often it "
            "turns, not which share comes along.",
            PRACTICE,
        )
    ]
    names = sorted({release.substance for release in transport.releases} - {"water"})
    if names:
        found.append(
            (
                f"No pocket instrument shows ppm of {' or '.join(names)}: it takes a gas tube or a "
                "sensor made for that substance; the nose does not measure.",
                PRACTICE,
            )
        )
    if any(piece.iso_class is not None for piece in transport.workpieces):
        found.append((_cheap_counter(), "own arithmetic on ISO 14644-1"))
    found += [reading for piece in transport.workpieces for reading in _sampling(piece)]
    if transport.recovery is not None and transport.recovery.time is not None:
        found.append(
            (
                "A cheap counter can time the recovery where the room holds more than "
                f"{number(COUNTS_TO_FALL * COUNT_STEP)} particles per m3: trust the ratio, not "
                "the sizes.",
                PRACTICE,
            )
        )
    return tuple(found)


def _cheap_counter() -> str:
    """Return what a counter of 0.1 L cannot prove."""
    limit = iso_limit(5.0, 0.5e-6)
    return (
        f"One count in 0.1 L, the step of a cheap counter, is {number(COUNT_STEP)} particles per "
        f"m3; ISO 5 allows {number(limit)} of 0.5 um and larger: neither its 0 nor its 1 can show "
        "ISO 5."
    )


def _sampling(piece: WorkpieceResult) -> tuple[tuple[str, str], ...]:
    """Return how much air a counter must draw to show the class of a workpiece."""
    if piece.iso_class is None or piece.iso_class > DIRTIEST:
        return ()
    step = max(CLEANEST, math.ceil(2.0 * piece.iso_class) / 2.0) if piece.iso_class > 0 else 1.0
    size = _largest_size(piece, step)
    limit = None if size is None else iso_limit(step, size, None)
    if size is None or not limit:
        return ()
    time = duration_text(sampling_time(limit, COUNTER_FLOW))
    text = (
        f"{piece.label}: to show ISO {step:g} at {size_text(size)} and larger a counter draws "
        f"{number(sampling_volume(limit) / LITRE)} L ({time} at 2.83 L/min); "
        f"{number(zero_count_volume(limit) / LITRE)} L without a single count show it too."
    )
    return ((text, STANDARD),)


def _largest_size(piece: WorkpieceResult, step: float) -> float | None:
    """Return the largest size of a workpiece at which a class can be counted. [m]."""
    sizes = [
        float(size)
        for size in piece.sizes
        if TABLED[0] * 0.999 <= size <= TABLED[1] * 1.001 and iso_blank(step, float(size)) is None
    ]
    return max(sizes, default=None)
