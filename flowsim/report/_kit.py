"""What all figures share: size, style, picture bytes."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.cm import ScalarMappable
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

__all__ = [
    "COLOURS",
    "IN_COLOUR",
    "OUT_COLOUR",
    "Picture",
    "Sheet",
    "add_box",
    "colour_bar",
    "new_figure",
    "png_bytes",
    "style",
]

DOTS_PER_INCH = 110
WIDTH = 8.6
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
STYLE = {
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
    stream = io.BytesIO()
    figure.savefig(
        stream,
        format="png",
        dpi=DOTS_PER_INCH,
        metadata={"Software": None},
        pil_kwargs={"compress_level": 4},
    )
    return stream.getvalue()


def add_box(
    axes: Axes, corner: tuple[float, float], size: tuple[float, float], **look: object
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
    **look : object
        Colours and lines, as matplotlib names them. [-]

    Returns
    -------
    Rectangle
        The patch.
    """
    patch = Rectangle(corner, *size, **look)  # type: ignore[arg-type]
    axes.add_patch(patch)
    return patch


def colour_bar(axes: Axes, image: ScalarMappable, label: str) -> None:
    """Add a colour bar beside the axes.

    Parameters
    ----------
    axes : Axes
        Axes of the image. [-]
    image : ScalarMappable
        Image. [-]
    label : str
        Quantity with its unit. [text]
    """
    figure = axes.get_figure()
    assert isinstance(figure, Figure)
    bar = figure.colorbar(image, ax=axes, pad=0.015, aspect=30, fraction=0.05)
    bar.set_label(label)
    bar.outline.set_visible(False)  # type: ignore[operator]
