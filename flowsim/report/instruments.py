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
        if name.startswith(("chamber_", "front_")):
            return (
                "not by a phone barometer (steps of 1 Pa) nor a common manometer: "
                "judge the front by smoke or an anemometer"
            )
        return "not by a phone barometer (steps of 1 Pa) nor a common manometer"
    if size < WATER_STEP:
        return "phone barometer (steps of 1 Pa) roughly; fine manometer yes, U tube no (10 Pa/mm)"
    return "manometer yes; phone barometer (steps of 1 Pa) yes"
