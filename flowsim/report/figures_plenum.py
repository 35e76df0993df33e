"""Figures of the draw: the perforated work surface, its plenum and the distributor tube."""

from __future__ import annotations

import warnings

import numpy as np
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.case.schema import Port
from flowsim.report._kit import COLOURS, Sheet, add_box, colour_bar, map_axes, new_figure
from flowsim.report._units import number
from flowsim.simulate.result import PlateDraw, Result, TubeDraw

__all__ = ["plate_draw", "plate_map", "tube_draw"]

ARROWS = (13, 7)


def _band(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return least and most of each x station; nan where nothing is open."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        return np.nanmin(values, axis=1), np.nanmax(values, axis=1)


def centred(offset: float | None, size: float, whole: float) -> float:
    """Return an offset, or the one that centres a size in the whole.

    Parameters
    ----------
    offset : float or None
        As the case gives it. [m]
    size, whole : float
        Size of the part and of what it lies in. [m]

    Returns
    -------
    float
        Offset. [m]
    """
    return 0.5 * (whole - size) if offset is None else offset


def _ports(result: Result) -> tuple[Port, ...]:
    """Return the ports of the plenum."""
    return () if result.case.plenum is None else tuple(result.case.plenum.ports)


def _mark_ports(axes: Axes, result: Result) -> None:
    """Mark where along the width the ports are."""
    width = result.case.chamber.width
    for port in _ports(result):
        if port.wall in ("left", "right"):
            at = 0.0 if port.wall == "left" else width
            axes.axvline(at, color=COLOURS[6], lw=5.0)
            axes.annotate(
                "port",
                (at, 0.04),
                (8 if at == 0.0 else -8, 0),
                xycoords=("data", "axes fraction"),
                textcoords="offset points",
                ha="left" if at == 0.0 else "right",
                va="bottom",
                fontsize=9.0,
                weight="bold",
                color="#a34700",
            )
            continue
        size = port.width or 0.0
        given = port.offset_x if port.wall == "bottom" else port.offset
        start = centred(given, size, width)
        axes.axvspan(start, start + size, color=COLOURS[6], alpha=0.15, lw=0.0)
        axes.annotate(
            f"port ({port.wall})",
            (start + 0.5 * size, 0.04),
            xycoords=("data", "axes fraction"),
            ha="center",
            va="bottom",
            fontsize=9.0,
            weight="bold",
            color="#a34700",
        )


def _draw_reading(result: Result, plate: PlateDraw) -> str:
    """Return one sentence on the draw."""
    ratio = result.quantities.get("draw_ratio")
    value = plate.station_velocity
    high, low = int(np.nanargmax(value)), int(np.nanargmin(value))
    if float(value[high]) - float(value[low]) <= 1e-4 * abs(float(value[high])):
        return f"The plate draws evenly, {number(float(value[high]))} m/s all along the width."
    text = (
        f"The plate draws most at x = {number(1000.0 * plate.x[high])} mm "
        f"({number(float(value[high]))} m/s) and least at x = {number(1000.0 * plate.x[low])} mm "
        f"({number(float(value[low]))} m/s)"
    )
    if ratio is not None and ratio.value is not None:
        text += f": {number(100.0 * (ratio.value - 1.0))} % more at the one than at the other"
    return text + "."


def plate_draw(result: Result) -> Sheet | None:
    """Draw plate velocity and plenum pressure along the width.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no plate draw, or nothing of the plate is open.
    """
    plate = result.plate
    if plate is None or not np.any(np.isfinite(plate.station_velocity)):
        return None
    title = "How evenly does the work surface draw?"
    figure = new_figure(5.0)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(1.5, 1.0))
    upper.fill_between(
        plate.x,
        *_band(plate.velocity),
        color=COLOURS[0],
        alpha=0.3,
        lw=0.0,
        label="least to most, front to back",
    )
    upper.plot(plate.x, plate.station_velocity, color=COLOURS[0], lw=1.8, label="mean")
    upper.set_ylabel("draw of the plate,\ndownward [m/s]")
    lower.plot(
        plate.x, plate.station_pressure, color=COLOURS[2], lw=1.8, label="plenum, static, mean"
    )
    lower.set(xlabel="width, left at 0 [m]", ylabel="pressure against\nthe room [Pa]")
    lower.set_xlim(0.0, result.case.chamber.width)
    for axes in (upper, lower):
        axes.grid(True, axis="y")
        axes.margins(y=0.18)
        axes.legend(loc="lower right", ncols=2, bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)
    _mark_ports(upper, result)
    ratio = result.quantities.get("draw_ratio")
    value = "-" if ratio is None else number(ratio.value)
    figure.suptitle(f"{title} Draw ratio {value}", x=0.01, ha="left", weight="bold", fontsize=10.5)
    return Sheet("plate_draw", title, _draw_reading(result, plate), figure)


def _arrows(axes: Axes, plate: PlateDraw) -> None:
    """Draw the plenum's flow below the plate with few arrows."""
    every = [max(1, n // want) for n, want in zip(plate.velocity.shape, ARROWS, strict=True)]
    pick = np.s_[every[0] // 2 :: every[0], every[1] // 2 :: every[1]]
    x, y = np.meshgrid(plate.x, plate.y, indexing="ij")
    along, across = plate.plenum_velocity_x[pick], plate.plenum_velocity_y[pick]
    fastest = float(np.hypot(along, across).max())
    if fastest > 0.0:
        step = min(every[0] * (plate.x[1] - plate.x[0]), every[1] * (plate.y[1] - plate.y[0]))
        axes.quiver(
            x[pick],
            y[pick],
            along,
            across,
            color="white",
            width=0.0030,
            pivot="mid",
            angles="xy",
            scale_units="xy",
            scale=fastest / (0.95 * float(step)),
        )


def _map_ports(axes: Axes, result: Result) -> None:
    """Draw the ports on the walls of the plan."""
    chamber = result.case.chamber
    for port in _ports(result):
        size = port.width or 0.0
        if port.wall == "bottom":
            deep = port.depth or 0.0
            corner = (
                centred(port.offset_x, size, chamber.width),
                centred(port.offset_y, deep, chamber.depth),
            )
            add_box(axes, corner, (size, deep), fill=False, edgecolor=COLOURS[1], linewidth=2.5)
            continue
        upright = port.wall in ("left", "right")
        start = centred(port.offset, size, chamber.depth if upright else chamber.width)
        at = {"front": 0.0, "left": 0.0, "back": chamber.depth, "right": chamber.width}[port.wall]
        along, across = [start, start + size], [at, at]
        x, y = (across, along) if upright else (along, across)
        axes.plot(x, y, color=COLOURS[1], lw=6.0, solid_capstyle="butt", clip_on=False, zorder=4)


def plate_map(result: Result) -> Sheet | None:
    """Draw the plate's draw from above, with the flow in the plenum below it.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no plate draw, or the grid is a single section.
    """
    plate = result.plate
    if plate is None or min(plate.velocity.shape) == 1 or not np.any(np.isfinite(plate.velocity)):
        return None
    chamber = result.case.chamber
    title = "Where does the work surface draw most?"
    note = "arrows: air in the plenum below; grey: covered or not perforated; orange: port"
    figure, axes, bar = map_axes((chamber.width, chamber.depth), title, note)
    axes.set_facecolor("#b8b8b8")
    image = axes.imshow(
        plate.velocity.T,
        origin="lower",
        extent=(0.0, chamber.width, 0.0, chamber.depth),
        interpolation="nearest",
    )
    _arrows(axes, plate)
    _map_ports(axes, result)
    colour_bar(bar, image, "draw of the plate, downward [m/s]")
    axes.set(xlabel="front side: width from the left [m]", ylabel="depth, front at 0 [m]")
    axes.set(xlim=(0.0, chamber.width), ylim=(0.0, chamber.depth))
    speed = float(np.nanmax(np.hypot(plate.plenum_velocity_x, plate.plenum_velocity_y)))
    reading = (
        f"Cell by cell the plate draws {number(float(np.nanmin(plate.velocity)))} to "
        f"{number(float(np.nanmax(plate.velocity)))} m/s; in the plenum below the air moves at up "
        f"to {number(speed)} m/s."
    )
    return Sheet("plate_map", title, reading, figure)


def _tube_reading(result: Result, tube: TubeDraw) -> str:
    """Return one sentence on the tube."""
    ratio = result.quantities.get("tube_draw_ratio")
    high = int(np.argmax(tube.inflow))
    text = f"The tube takes most air at x = {number(1000.0 * tube.x[high])} mm"
    if ratio is not None and ratio.value is not None:
        text += f", {number(ratio.value)} times as much per metre as where it takes least"
    return text + "."


def tube_draw(result: Result) -> Sheet | None:
    """Draw inflow and pressure along the distributor tube.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    Sheet or None
        None where the result has no tube.
    """
    tube = result.tube
    if tube is None:
        return None
    title = "How evenly does the distributor tube draw along its length?"
    figure = new_figure(4.6)
    upper, lower = figure.subplots(2, 1, sharex=True)
    upper.plot(tube.x, 3600.0 * tube.inflow, color=COLOURS[0], lw=1.8, label="into the tube")
    upper.set_ylabel("inflow per metre\n[m3/h per m]")
    lower.plot(tube.x, tube.pressure, color=COLOURS[2], lw=1.8, label="inside the tube, static")
    lower.set(xlabel="width, left at 0 [m]", ylabel="pressure against\nthe room [Pa]")
    lower.set_xlim(0.0, result.case.chamber.width)
    for axes in (upper, lower):
        axes.grid(True, axis="y")
        axes.margins(y=0.18)
        axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)
    _mark_ports(upper, result)
    figure.suptitle(title, x=0.01, ha="left", weight="bold", fontsize=10.5)
    return Sheet("tube_draw", title, _tube_reading(result, tube), figure)
