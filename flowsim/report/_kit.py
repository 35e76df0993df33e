"""What all figures share: size, style, picture bytes."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from numpy.typing import NDArray
from PIL import Image

from flowsim.case.schema import Case, Compartment, Object

__all__ = [
    "COLOURS",
    "HALO",
    "IN_COLOUR",
    "OUT_COLOUR",
    "SOLID",
    "WALL",
    "Picture",
    "Sheet",
    "add_box",
    "colour_bar",
    "drawn",
    "map_axes",
    "new_figure",
    "png_bytes",
    "png_of",
    "solid_parts",
    "style",
]

DOTS_PER_INCH = 100
WIDTH = 8.6
LEAST_WIDTH = 5.6
MOST_HEIGHT = 5.6
COLOURS = (
    "#3f90da",
    "#ffa90e",
    "#bd1f01",
    "#94a4a2",
    "#832db6",
    "#a96b59",
    "#e76300",
    "#b9ac70",
    "#717581",
    "#92dadd",
)  # the palette named petroff10, safe for colour-blind readers
OUT_COLOUR, IN_COLOUR = COLOURS[0], COLOURS[1]
SOLID: dict[str, Any] = {
    "facecolor": "#d9d9d9",
    "edgecolor": "#555555",
    "hatch": "////",
    "linewidth": 0.8,
}
WALL: dict[str, Any] = {"color": "#222222", "linewidth": 2.4, "solid_capstyle": "butt"}
HALO: dict[str, Any] = {
    "facecolor": "white",
    "edgecolor": "none",
    "alpha": 0.8,
    "boxstyle": "round,pad=0.15",
}
STYLE: Any = {
    "font.size": 9.5,
    "axes.titlesize": 10.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "grid.alpha": 0.35,
    "grid.linewidth": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 9.0,
    "image.cmap": "cividis",
    "figure.facecolor": "white",
    "hatch.linewidth": 0.6,
    "text.usetex": False,
    "text.parse_math": False,
}


@dataclass(frozen=True)
class Sheet:
    """A figure before it is drawn.

    Parameters
    ----------
    name : str
        File name without ending.
    title : str
        Question the figure answers.
    reading : str
        One sentence that says what it shows.
    figure : Figure
        The figure.
    """

    name: str
    title: str
    reading: str
    figure: Figure


@dataclass(frozen=True)
class Picture:
    """A figure as PNG.

    Parameters
    ----------
    name : str
        File name without ending.
    title : str
        Question the figure answers.
    reading : str
        One sentence that says what it shows.
    png : bytes
        The file.
    """

    name: str
    title: str
    reading: str
    png: bytes


@contextmanager
def style() -> Iterator[None]:
    """Set the look of all figures for the time of a block."""
    with mpl.rc_context(STYLE):
        yield


def new_figure(height: float, width: float = WIDTH, constrained: bool = True) -> Figure:
    """Return an empty figure on an Agg canvas, without a global state.

    Parameters
    ----------
    height, width : float
        Size. [inch]
    constrained : bool
        Whether matplotlib lays the axes out. [-]

    Returns
    -------
    Figure
        White, empty.
    """
    figure = Figure(
        figsize=(width, height),
        dpi=DOTS_PER_INCH,
        layout="constrained" if constrained else None,
    )
    FigureCanvasAgg(figure)
    return figure


def drawn(figure: Figure) -> NDArray[np.uint8]:
    """Draw a figure.

    Parameters
    ----------
    figure : Figure
        The figure. [-]

    Returns
    -------
    array, shape (height, width, 4)
        Red, green, blue and opacity of each point. [0 to 255]
    """
    canvas = FigureCanvasAgg(figure)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing", category=UserWarning)
        # not savefig: it draws twice where axes are laid out
        canvas.draw()  # type: ignore[no-untyped-call]
    return np.array(canvas.buffer_rgba())  # type: ignore[no-untyped-call]


def png_of(points: NDArray[np.uint8]) -> bytes:
    """Return a drawing as PNG.

    Parameters
    ----------
    points : array, shape (height, width, 4)
        From `drawn`. [0 to 255]

    Returns
    -------
    bytes
        The file; the same figure gives the same bytes.
    """
    stream = io.BytesIO()
    Image.fromarray(points[:, :, :3]).save(stream, "png", compress_level=2)
    return stream.getvalue()


def png_bytes(figure: Figure) -> bytes:
    """Return a figure as PNG.

    Parameters
    ----------
    figure : Figure
        The figure. [-]

    Returns
    -------
    bytes
        The file; the same figure gives the same bytes.
    """
    return png_of(drawn(figure))


def add_box(
    axes: Axes, corner: tuple[float, float], size: tuple[float, float], **look: Any
) -> Rectangle:
    """Draw a rectangle.

    Parameters
    ----------
    axes : Axes
        Where. [-]
    corner : tuple of float
        Lower left corner. [data units]
    size : tuple of float
        Width and height. [data units]
    **look : any
        Colours and lines, as matplotlib names them. [-]

    Returns
    -------
    Rectangle
        The patch.
    """
    patch = Rectangle(corner, *size, **look)
    axes.add_patch(patch)
    return patch


def map_axes(
    span: tuple[float, float], title: str, note: str, above: float = 0.0
) -> tuple[Figure, Axes, Axes]:
    """Return a figure for a map with equal scales, and a place for its colour bar.

    Parameters
    ----------
    span : tuple of float
        Size of what is shown along both axes. [m]
    title, note : str
        Question in bold, and a line below it. [text]
    above : float
        Room kept free over the axes. [inch]

    Returns
    -------
    figure : Figure
        Sized so that the map fills it.
    axes, bar : Axes
        For the map and for the colour bar.
    """
    left, right, low, high = 0.75, 1.15, 0.62, 0.62 + above
    scale = min((WIDTH - left - right) / span[0], MOST_HEIGHT / span[1])
    wide, tall = scale * span[0], scale * span[1]
    width, height = max(left + wide + right, LEAST_WIDTH), low + tall + high
    figure = new_figure(height, width, constrained=False)
    axes = figure.add_axes((left / width, low / height, wide / width, tall / height))
    at = left + wide + 0.14
    bar = figure.add_axes((at / width, low / height, 0.17 / width, tall / height))
    figure.text(0.1 / width, 1.0 - 0.19 / height, title, weight="bold", size=10.5, va="center")
    figure.text(0.1 / width, 1.0 - 0.40 / height, note, size=9.0, va="center")
    return figure, axes, bar


def solid_parts(case: Case) -> Iterator[Compartment | Object]:
    """Yield what stands or hangs in the chamber.

    Parameters
    ----------
    case : Case
        The case. [SI]

    Yields
    ------
    Compartment or Object
        Compartments first.
    """
    yield from case.compartments
    yield from case.objects


def colour_bar(bar: Axes, image: ScalarMappable, label: str) -> None:
    """Draw a colour bar.

    Parameters
    ----------
    bar : Axes
        Place for it. [-]
    image : ScalarMappable
        Image. [-]
    label : str
        Quantity with its unit. [text]
    """
    figure = bar.get_figure()
    assert isinstance(figure, Figure)
    figure.colorbar(image, cax=bar).set_label(label)
