"""Fans, filters and ducts of a case as laws."""

from __future__ import annotations

from math import pi

from flowsim.case.schema import Duct, Fan, Filter, Fitting
from flowsim.physics.air import AirState
from flowsim.physics.duct import DuctRun, hydraulic_diameter, rectangular_laminar_product
from flowsim.physics.fan import FanCurve, fan_from_two_points, parallel, series
from flowsim.physics.fan_group import Fan as FanModel
from flowsim.physics.filter_media import FilterMedium, filter_from_rating, filter_from_table
from flowsim.physics.fittings import (
    bend_rounded,
    damper,
    entrance_rounded,
    entrance_sharp,
    exit_loss,
    mitre,
    sudden_contraction,
    sudden_expansion,
)

__all__ = ["duct_run", "duct_section", "fan_curve", "filter_medium", "fitting_loss"]


def duct_section(duct: Duct) -> tuple[float, float, float]:
    """Return area [m2], hydraulic diameter [m] and laminar f Re [-] of one pipe of a duct."""
    if duct.diameter is not None:
        return 0.25 * pi * duct.diameter**2, duct.diameter, 64.0
    assert duct.width is not None
    assert duct.height is not None
    area = duct.width * duct.height
    short, long = sorted((duct.width, duct.height))
    diameter = hydraulic_diameter(area, 2.0 * (duct.width + duct.height))
    return area, diameter, rectangular_laminar_product(short / long)


def _turning_loss(fitting: Fitting) -> float:
    """Return the loss coefficient of a bend, mitre or damper blade. [-]"""
    angle = 0.5 * pi if fitting.angle is None else fitting.angle
    if fitting.kind == "bend":
        return bend_rounded(angle, fitting.radius_ratio or 1.0)
    return mitre(angle) if fitting.kind == "mitre" else damper(angle)


def fitting_loss(fitting: Fitting) -> float:
    """Return the loss coefficient of one fitting on the velocity in its duct. [-]"""
    kind = fitting.kind
    if fitting.loss is not None:
        return fitting.loss
    if kind == "sharp entrance":
        return entrance_sharp()
    if kind == "rounded entrance":
        return entrance_rounded(fitting.radius_ratio or 0.0)
    if kind == "flush exit":
        return exit_loss()
    if kind in ("bend", "mitre", "damper"):
        return _turning_loss(fitting)
    assert fitting.area_ratio is not None
    if kind == "expansion":
        return sudden_expansion(fitting.area_ratio)
    return sudden_contraction(fitting.area_ratio)


def duct_run(duct: Duct, air: AirState, damper_loss: float) -> DuctRun:
    """Return one pipe of a duct with its fittings and a damper.

    Parameters
    ----------
    duct : Duct
        What the case says.
    air : AirState
        Air in it.
    damper_loss : float
        Further loss on the duct's velocity. [-]

    Returns
    -------
    DuctRun
        One pipe; a duct of several pipes side by side is that many in parallel.
    """
    area, diameter, laminar = duct_section(duct)
    loss = damper_loss + sum(item.count * fitting_loss(item) for item in duct.fittings)
    return DuctRun(
        area,
        diameter,
        duct.length,
        duct.roughness,
        loss,
        air.density,
        air.viscosity,
        duct.friction_factor,
        laminar,
    )


def fan_curve(fan: Fan, air: AirState, running: bool = True) -> FanModel:
    """Return the curve of a fan, or of several, at its speed and in this air.

    Parameters
    ----------
    fan : Fan
        What the case says.
    air : AirState
        Air at the fan.
    running : bool
        A stopped fan is left as a resistance.

    Returns
    -------
    FanCurve or group of fans
        Pressure [Pa] over flow [m3/s].
    """
    if fan.shut_off_pressure is not None and fan.free_flow is not None:
        one = fan_from_two_points(fan.shut_off_pressure, fan.free_flow)
    else:
        assert fan.flow is not None
        assert fan.pressure is not None
        one = FanCurve(fan.flow, fan.pressure, fan.interpolation == "smooth")
    one = one.at(fan.speed_ratio if running else 0.0, air.density / fan.rated_density)
    if fan.count == 1:
        return one
    combine = parallel if fan.arrangement == "parallel" else series
    return combine([one] * fan.count)


def filter_medium(media: Filter) -> FilterMedium:
    """Return the law of a filter on its face velocity.

    Parameters
    ----------
    media : Filter
        What the case says.

    Returns
    -------
    FilterMedium
        Drop [Pa] over face velocity [m/s], loading included.
    """
    area = media.width * media.depth
    if media.drop is not None and media.flow is not None:
        speeds = [flow / area for flow in media.flow]
        return filter_from_table(speeds, media.drop, media.loading)
    speed = media.rated_velocity
    if speed is None:
        assert media.rated_flow is not None
        speed = media.rated_flow / area
    assert media.rated_drop is not None
    return filter_from_rating(speed, media.rated_drop, media.inertial_share, media.loading)
