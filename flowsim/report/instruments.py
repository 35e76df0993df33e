"""Which instruments can show a pressure."""

from __future__ import annotations

__all__ = ["PHONE_STEP", "WATER_STEP", "reading_of"]

PHONE_STEP = 1.0  # Pa, step of the barometer in a phone
WATER_STEP = 10.0  # Pa, about 1 mm of water in a U tube


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
