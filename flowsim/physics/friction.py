"""Darcy friction factors and the geometry they need."""

from __future__ import annotations

import math

from flowsim.physics._ranges import in_range, non_negative, positive, warn_outside

__all__ = [
    "friction_factor_churchill",
    "friction_factor_colebrook",
    "friction_factor_haaland",
    "friction_factor_laminar",
    "hydraulic_diameter",
    "rectangular_laminar_product",
]


def friction_factor_laminar(reynolds: float, laminar_product: float = 64.0) -> float:
    """Return the Darcy friction factor of laminar duct flow.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter. [-]
    laminar_product : float
        Friction factor times Reynolds number of the section, 64 for a round one. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Hagen and Poiseuille, exact for developed flow. Valid for Reynolds numbers up to 2000.
    """
    positive(reynolds=reynolds, laminar_product=laminar_product)
    warn_outside("laminar friction", "Reynolds number", reynolds, 0.0, 2000.0)
    return laminar_product / reynolds


def friction_factor_colebrook(reynolds: float, relative_roughness: float = 0.0) -> float:
    """Return the Darcy friction factor of turbulent duct flow by the implicit law.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter. [-]
    relative_roughness : float
        Roughness over hydraulic diameter. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [Colebrook1939]_: ``1/sqrt f = -2 log10(e/3.7 + 2.51/(Re sqrt f))``. Valid for Reynolds
    numbers from 4000 to 1e8 and relative roughness up to 0.05.
    """
    _check(reynolds, relative_roughness)
    warn_outside("Colebrook friction", "Reynolds number", reynolds, 4000.0, 1e8)
    rough, smooth = relative_roughness / 3.7, 2.51 / reynolds
    x = 6.0
    for _ in range(50):  # Newton on x = 1/sqrt f
        inner = rough + smooth * x
        error = x + 2.0 * math.log10(inner)
        step = error / (1.0 + 2.0 * smooth / (math.log(10.0) * inner))
        x -= step
        if abs(step) <= 1e-15 * x:
            break
    return 1.0 / x**2


def friction_factor_churchill(reynolds: float, relative_roughness: float = 0.0) -> float:
    """Return the Darcy friction factor at any Reynolds number.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter. [-]
    relative_roughness : float
        Roughness over hydraulic diameter. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [Churchill1977]_. Valid for all Reynolds numbers up to 1e8 and relative roughness up to 0.05;
    between 2000 and 4000 it joins the two regimes smoothly where no reference value exists, and
    it lies up to 1.7 % above [Colebrook1939]_ at 4000 to 5000.
    """
    _check(reynolds, relative_roughness)
    return churchill_with_slope(reynolds, relative_roughness, 64.0)[0]


def friction_factor_haaland(reynolds: float, relative_roughness: float = 0.0) -> float:
    """Return the Darcy friction factor of turbulent duct flow by an explicit law.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter. [-]
    relative_roughness : float
        Roughness over hydraulic diameter. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Raises
    ------
    RangeError
        If an argument is impossible.

    Notes
    -----
    [Haaland1983]_: ``1/sqrt f = -1.8 log10[(e/3.7)^1.11 + 6.9/Re]``. Valid for Reynolds numbers
    from 4000 to 1e8 and relative roughness up to 0.05.
    """
    _check(reynolds, relative_roughness)
    warn_outside("Haaland friction", "Reynolds number", reynolds, 4000.0, 1e8)
    inner = (relative_roughness / 3.7) ** 1.11 + 6.9 / reynolds
    return float((-1.8 * math.log10(inner)) ** -2)


def rectangular_laminar_product(aspect: float) -> float:
    """Return friction factor times Reynolds number of laminar flow in a rectangular duct.

    Parameters
    ----------
    aspect : float
        Short side over long side; the inverse gives the same, 0 means parallel plates. [-]

    Returns
    -------
    float
        Darcy friction factor times Reynolds number on the hydraulic diameter. [-]

    Raises
    ------
    RangeError
        If the ratio is negative or not finite.

    Notes
    -----
    Exact series [ShahLondon1978]_. Valid for developed laminar flow.
    """
    non_negative(aspect=aspect)
    if aspect == 0.0:
        return 96.0
    ratio = min(aspect, 1.0 / aspect)
    total = sum(math.tanh(0.5 * n * math.pi / ratio) / n**5 for n in range(1, 400, 2))
    return 96.0 / ((1.0 + ratio) ** 2 * (1.0 - 192.0 * ratio / math.pi**5 * total))


def hydraulic_diameter(area: float, perimeter: float) -> float:
    """Return the hydraulic diameter of a section.

    Parameters
    ----------
    area : float
        Open area. [m2]
    perimeter : float
        Wetted perimeter. [m]

    Returns
    -------
    float
        Four times the area over the perimeter. [m]

    Raises
    ------
    RangeError
        If an argument is not positive.

    Notes
    -----
    Definition; valid for any section. Turbulent friction on it is some 4 % low for 8:1
    rectangles (measured, [Huebscher1947]_).
    """
    positive(area=area, perimeter=perimeter)
    return 4.0 * area / perimeter


def churchill_with_slope(
    reynolds: float, relative_roughness: float, laminar_product: float
) -> tuple[float, float]:
    """Return Churchill's friction factor and its logarithmic slope, without any check.

    Parameters
    ----------
    reynolds : float
        Reynolds number, above zero. [-]
    relative_roughness : float
        Roughness over hydraulic diameter. [-]
    laminar_product : float
        Friction factor times Reynolds number in laminar flow. [-]

    Returns
    -------
    factor : float
        Darcy friction factor. [-]
    slope : float
        d ln f / d ln Re. [-]

    Notes
    -----
    [Churchill1977]_ with its laminar branch scaled to the section. Valid as
    `friction_factor_churchill`; the turbulent part is below round-off under Re 100.
    """
    if reynolds < 100.0:
        return laminar_product / reynolds, -1.0
    term = (7.0 / reynolds) ** 0.9
    inner = term + 0.27 * relative_roughness
    root = -math.log(inner)
    a = (2.457 * root) ** 16
    b = (37530.0 / reynolds) ** 16
    laminar = (0.125 * laminar_product / reynolds) ** 12
    turbulent = float((a + b) ** -1.5)
    change = -24.0 * turbulent * (a * 0.9 * term / (inner * root) - b) / (a + b)
    total = laminar + turbulent
    return float(8.0 * total ** (1.0 / 12.0)), (change - 12.0 * laminar) / (12.0 * total)


def _check(reynolds: float, relative_roughness: float) -> None:
    positive(reynolds=reynolds)
    in_range("relative_roughness", relative_roughness, 0.0, 0.2)
    warn_outside("duct friction", "relative roughness", relative_roughness, 0.0, 0.05)
