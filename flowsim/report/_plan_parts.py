"""What stands and lies in the chamber, drawn into plans and sections with labels."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.patheffects import withStroke

from flowsim.report._kit import COLOURS, IN_COLOUR, SOLID, add_box, solid_parts
from flowsim.report._labels import Labels, Stretch, round_box, shorter
from flowsim.report._views import View, open_gaps
from flowsim.simulate.result import Result
from flowsim.simulate.transport_result import ReleaseResult, WorkpieceResult

__all__ = [
    "Item",
    "draw_openings",
    "draw_places",
    "draw_solids",
    "label_places",
    "opening_handle",
    "place_handles",
    "plan_axes",
    "plan_place",
    "solid_stretches",
]

RELEASE, WORKPIECE = COLOURS[2], COLOURS[9]
GAP = 0.008  # of the picture's width, between a box and its label
OPENING: dict[str, Any] = {"color": IN_COLOUR, "lw": 5.0, "solid_capstyle": "butt"}
EDGE = [withStroke(linewidth=4.2, foreground="#ffffffcc")]
DARK_EDGE = [withStroke(linewidth=4.2, foreground="#000000cc")]

Item = ReleaseResult | WorkpieceResult
Place = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def _look(colour: str) -> dict[str, Any]:
    """Return how the outline of a release or workpiece looks."""
    edge = EDGE if colour == RELEASE else DARK_EDGE
    return {"fill": False, "edgecolor": colour, "linewidth": 2.0, "path_effects": edge}


def _kind(item: Item) -> tuple[str, str]:
    """Return colour and name of a kind of place."""
    return (RELEASE, "release") if isinstance(item, ReleaseResult) else (WORKPIECE, "workpiece")


def _place(item: Item) -> Place:
    """Return start and end along each axis. [m]."""
    if isinstance(item, ReleaseResult):
        x0, x1, y0, y1, z0, z1 = item.place
    else:
        x0, x1, y0, y1, z0 = item.place
        z1 = z0
    return (x0, x1), (y0, y1), (z0, z1)


def opening_handle() -> Artist:
    """Return what a legend says of openings."""
    return Line2D([], [], label="opening, open", **OPENING)


def draw_openings(axes: Axes, result: Result, view: View, labels: Labels | None = None) -> None:
    """Draw the open openings at the edge of a plan.

    Parameters
    ----------
    axes : Axes
        Map in metres. [m]
    result : Result
        Result of one case. [SI]
    view : View
        What is seen. [m]
    labels : Labels or None
        Where the labels go; None leaves them out. [-]
    """
    for opening, line in open_gaps(result.case, view):
        axes.plot(line[:, 0], line[:, 1], clip_on=False, zorder=5, **OPENING)
        if labels is None:
            continue
        x, y = (tuple(sorted(line[:, axis])) for axis in (0, 1))
        labels.block(x, y)
        labels.add(shorter(opening.label), list(round_box(x, y, 2.0 * GAP * view.span[0])))


def draw_solids(axes: Axes, result: Result, view: View, labels: Labels) -> None:
    """Draw the compartments and objects that a plan's layer cuts, hatched, with their names.

    Parameters
    ----------
    axes : Axes
        Plan in metres. [m]
    result : Result
        Result of one case. [SI]
    view : View
        The plan. [m]
    labels : Labels
        Where the labels go. [-]
    """
    for item in solid_parts(result.case):
        bottom = float(getattr(item, "bottom", 0.0))
        cut = view.holds(bottom, bottom + item.height)
        look = SOLID if cut else {"fill": False, "edgecolor": "white", "linestyle": ":"}
        add_box(axes, (item.offset_x, item.offset_y), (item.width, item.depth), zorder=3, **look)
        x = (item.offset_x, item.offset_x + item.width)
        y = (item.offset_y, item.offset_y + item.depth)
        shift = 0.03 * view.span[1]
        inside = [(0.5 * (x[0] + x[1]), y[1] - shift, "center", "top"),
                  (0.5 * (x[0] + x[1]), y[0] + shift, "center", "bottom")]  # fmt: skip
        rest = "" if cut else " (above)"
        labels.add(shorter(item.label, rest), [*inside, *round_box(x, y, GAP)])


def _draw_place(axes: Axes, view: View, place: Place, colour: str) -> None:
    """Draw one release or workpiece: an outline, or a line where it is seen on edge."""
    (x0, x1), (y0, y1) = (place[axis] for axis in view.axes)
    if x1 > x0 and y1 > y0:
        add_box(axes, (x0, y0), (x1 - x0, y1 - y0), zorder=6, **_look(colour))
    else:
        edge = EDGE if colour == RELEASE else DARK_EDGE
        axes.plot([x0, x1], [y0, y1], color=colour, lw=3.0, path_effects=edge, zorder=6)


def _in_sight(view: View, items: Sequence[Item]) -> list[Item]:
    """Return what a view shows: all from above, what it cuts in a section."""
    return [item for item in items if view.across == 2 or view.holds(*_place(item)[view.across])]


def place_handles(view: View, items: Sequence[Item]) -> list[Artist]:
    """Return what a legend says of releases and workpieces.

    Parameters
    ----------
    view : View
        What is seen. [m]
    items : sequence of ReleaseResult and WorkpieceResult
        What is drawn. [-]

    Returns
    -------
    list of Artist
        At most one of each kind.
    """
    kinds = {_kind(item) for item in _in_sight(view, items)}
    return [
        Patch(facecolor="none", edgecolor=colour, lw=2.0, label=name)
        for colour, name in sorted(kinds, key=lambda kind: kind[1])
    ]


def draw_places(axes: Axes, view: View, items: Sequence[Item], labels: Labels) -> None:
    """Draw the outlines of releases and workpieces.

    Parameters
    ----------
    axes : Axes
        Map in metres. [m]
    view : View
        What is seen. [m]
    items : sequence of ReleaseResult and WorkpieceResult
        What is drawn; a section leaves out what it misses. [-]
    labels : Labels
        Which keep off them. [-]
    """
    for item in _in_sight(view, items):
        _draw_place(axes, view, _place(item), _kind(item)[0])
        x, y = (_place(item)[axis] for axis in view.axes)
        labels.block(x, y)


def label_places(
    view: View, items: Sequence[Item], labels: Labels, text: Callable[[Any], str] | None = None
) -> None:
    """Write the names of releases and workpieces beside their outlines.

    Parameters
    ----------
    view : View
        What is seen. [m]
    items : sequence of ReleaseResult and WorkpieceResult
        What is drawn. [-]
    labels : Labels
        Where the labels go. [-]
    text : callable or None
        Gives what is written behind the name of each. [-]
    """
    for item in _in_sight(view, items):
        x, y = (_place(item)[axis] for axis in view.axes)
        rest = "" if text is None else text(item)
        labels.beside(shorter(item.label, rest), (x, y), GAP * view.span[0])


def solid_stretches(result: Result) -> list[Stretch]:
    """Return what the compartments and objects of a plan cover.

    Parameters
    ----------
    result : Result
        Result of one case. [SI]

    Returns
    -------
    list of tuple
        Stretches along x and y. [m]
    """
    return [
        (
            (item.offset_x, item.offset_x + item.width),
            (item.offset_y, item.offset_y + item.depth),
        )
        for item in solid_parts(result.case)
    ]


def plan_place(view: View) -> str:
    """Return in words at which height a plan lies."""
    return f"Lowest layer of air, {1000.0 * view.place:.0f} mm above the work surface"


def plan_axes(axes: Axes, view: View) -> None:
    """Set labels and limits of a plan.

    Parameters
    ----------
    axes : Axes
        Plan in metres. [m]
    view : View
        The plan. [m]
    """
    axes.set(xlabel="front side: width from the left [m]", ylabel="depth, front at 0 [m]")
    axes.set(xlim=(0.0, view.span[0]), ylim=(0.0, view.span[1]))
