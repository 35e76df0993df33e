"""Figure of an opening: which way it blows along its width."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from flowsim._arrays import FloatArray
from flowsim.report._kit import COLOURS, IN_COLOUR, OUT_COLOUR, Sheet, new_figure
from flowsim.report._units import number
from flowsim.simulate.result import OpeningProfile, Result

__all__ = ["front_profiles", "opening_steps"]

MOST_FIGURES = 4
ALONG = {
    "front": "width, left at 0",
    "back": "width, left at 0",
    "ceiling": "width, left at 0",
    "left": "depth, front at 0",
    "right": "depth, front at 0",
}


def opening_steps(profile: OpeningProfile, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a value per station as a line of steps.

    Parameters
    ----------
    profile : OpeningProfile
        The opening. [m]
    values : array, shape (n,)
        One value per station. [any]

    Returns
    -------
    tuple of array, each shape (2 n,)
        Place along the wall [m] and value, each station from its left to its right edge.
    """
    half = 0.5 * profile.station_width
    place = np.stack([profile.position - half, profile.position + half], axis=1).ravel()
    return place, np.repeat(values, 2)


def _mean(profile: OpeningProfile) -> float:
    """Return the mean velocity over the opening. [m/s]."""
    total = float(profile.station_width.sum())
    return float((profile.velocity * profile.station_width).sum()) / total


def _inflow_share(profile: OpeningProfile) -> float:
    """Return the share of the width that draws in on the whole. [-]."""
    inward = profile.station_width[profile.velocity < 0.0]
    return float(inward.sum() / profile.station_width.sum())


def _velocity_panel(axes: Axes, profile: OpeningProfile) -> None:
    """Draw out above zero and in below."""
    place, value = opening_steps(profile, profile.velocity)
    axes.fill_between(place, np.maximum(value, 0.0), color=OUT_COLOUR, label="out to the room")
    axes.fill_between(
        place,
        np.minimum(value, 0.0),
        color=IN_COLOUR,
        hatch="///",
        edgecolor="white",
        linewidth=0.0,
        label="in from the room",
    )
    mean = _mean(profile)
    axes.axhline(0.0, color="#222222", lw=1.0)
    axes.axhline(mean, color="#222222", ls="--", lw=1.2, label=f"mean {number(mean)} m/s")
    low, high = min(0.0, float(value.min())), max(0.0, float(value.max()))
    room = 0.12 * max(high - low, 1e-12)
    axes.set_ylim(low - 2.0 * room, high + 2.0 * room)
    axes.set_xlim(profile.start, profile.start + profile.width)
    axes.text(0.01, 0.97, "out", transform=axes.transAxes, va="top", weight="bold")
    axes.text(0.01, 0.03, "in", transform=axes.transAxes, va="bottom", weight="bold")
    axes.set_ylabel("velocity, outward\npositive [m/s]")
    axes.grid(True, axis="y")
    axes.legend(loc="lower right", ncols=3, bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)


def _drive_panel(axes: Axes, profile: OpeningProfile) -> None:
    """Draw the chamber's drive and the dynamic pressure of the passing air."""
    axes.plot(
        *opening_steps(profile, profile.drive),
        color=COLOURS[2],
        lw=1.6,
        label="E: chamber over room",
    )
    axes.plot(
        *opening_steps(profile, profile.crossflow),
        color=COLOURS[4],
        lw=1.6,
        ls="--",
        label="q: air passing along",
    )
    axes.set_ylabel("pressure [Pa]")
    axes.grid(True, axis="y")
    axes.margins(y=0.15)
    axes.legend(loc="lower right", ncols=2, bbox_to_anchor=(1.0, 1.0), borderaxespad=0.1)
    axes.set_xlabel(f"{ALONG[profile.wall]} [m]; neutral where E = q")


def _layer_panel(axes: Axes, profile: OpeningProfile) -> None:
    """Draw the velocity over the height of a layered opening."""
    weight = profile.station_width / profile.station_width.sum()
    value = weight @ profile.layer_velocity
    edges = profile.bottom + profile.height * np.linspace(0.0, 1.0, value.size + 1)
    middle = 0.5 * (profile.layer_height[1:] + profile.layer_height[:-1])
    edges[1:-1] = middle
    height, value = np.repeat(edges, 2)[1:-1], np.repeat(value, 2)
    axes.fill_betweenx(height, np.maximum(value, 0.0), color=OUT_COLOUR, lw=0.0)
    axes.fill_betweenx(
        height, np.minimum(value, 0.0), color=IN_COLOUR, hatch="///", edgecolor="white", lw=0.0
    )
    axes.axvline(0.0, color="#222222", lw=1.0)
    axes.grid(True, axis="x")
    axes.set(xlabel="in < 0 < out [m/s]", ylabel="height [m]")
    axes.set_title("over its height")


def _reading(profile: OpeningProfile) -> str:
    """Return one sentence on the opening."""
    low, high = float(profile.velocity.min()), float(profile.velocity.max())
    span = f"{number(low)} to {number(high)} m/s (outward positive)"
    share = _inflow_share(profile)
    if np.any(profile.inflow > 0.0) and np.any(profile.outflow > 0.0) and share in (0.0, 1.0):
        word = "blows both ways over its height"
    elif share == 0.0:
        word = "blows out along its whole width" if high > 0.0 else "stands still"
    elif share == 1.0:
        word = "draws in along its whole width"
    else:
        word = f"draws in along {number(100.0 * share)} % of its width and blows out elsewhere"
    return f"The opening {profile.label} {word}: {span}."


def _sheet(profile: OpeningProfile, name: str, several: bool) -> Sheet:
    """Draw one opening."""
    title = "Which way does the opening blow, and where?"
    if several:
        title = f"Which way does the opening {profile.label} blow, and where?"
    layered = profile.layer_velocity.shape[-1] > 1
    figure = new_figure(4.9)
    columns = figure.add_gridspec(
        2,
        2 if layered else 1,
        height_ratios=(2.3, 1.0),
        width_ratios=(3.0, 1.0) if layered else None,
    )
    upper = figure.add_subplot(columns[0, 0])
    lower = figure.add_subplot(columns[1, 0], sharex=upper)
    upper.tick_params(labelbottom=False)
    _velocity_panel(upper, profile)
    _drive_panel(lower, profile)
    if layered:
        _layer_panel(figure.add_subplot(columns[:, 1]), profile)
    figure.suptitle(title, x=0.01, ha="left", weight="bold", fontsize=10.5)
    return Sheet(name, title, _reading(profile), figure)


def front_profiles(result: Result) -> tuple[Sheet, ...]:
    """Draw the velocity along the width of each opening.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    tuple of Sheet
        One per open opening, four at most; none without a field, where an opening is one value.
    """
    if result.field is None:
        return ()
    profiles = [item for item in result.openings if item.velocity.size]
    several = len(profiles) > 1
    sheets = []
    for index, profile in enumerate(profiles[:MOST_FIGURES]):
        name = "front_profile" if index == 0 else f"front_profile_{index + 1}"
        sheets.append(_sheet(profile, name, several))
    return tuple(sheets)
